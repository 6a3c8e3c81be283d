package danger

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"flag"
	"fmt"
	"io"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/optimize"
)

var fifths = flag.Int("fifths", 1, "how many fifths of the sentences TestStudyWeights leaves out by turns")

var update = flag.Bool("update", false, "learn the weights again from the sentences given")

// How weights are learned: pieces met less often are left out, and large weights cost
// (the ridge), so that no single sentence decides.
const (
	leastMet   = 3
	ridge      = 0.01
	learnSteps = 160
)

// learn fits weights to sentences: the multinomial logistic regression of chances, by the
// greatest likelihood less the ridge.
func learn(t testing.TB, all []phrasing) weights {
	t.Helper()
	// What is weighed.
	met := map[string]int{}
	split := make([][]string, len(all))
	for i, p := range all {
		split[i] = pieces(p.said, read(p.said))
		if p.ruled {
			// Rules look better on the sentences that they were made by than they are.
			split[i] = slices.DeleteFunc(split[i], func(piece string) bool {
				return piece[0] == '!' || piece[0] == '?'
			})
		}
		for _, piece := range split[i] {
			met[piece]++
		}
	}
	column := map[string]int{}
	for _, one := range split {
		for _, piece := range one {
			if _, ok := column[piece]; !ok && met[piece] >= leastMet {
				column[piece] = len(column)
			}
		}
	}
	kinds := len(Kinds()) + 1
	rows, truth := make([][]int, len(all)), make([]int, len(all))
	scale := make([]float64, len(all))
	for i, p := range all {
		for _, piece := range split[i] {
			if c, ok := column[piece]; ok {
				rows[i] = append(rows[i], c*kinds)
			}
		}
		truth[i] = slices.Index(Kinds(), p.kind) + 1
		scale[i] = 1 / math.Sqrt(float64(len(split[i])+1))
	}
	base := len(column) * kinds
	// The loss and its gradient, both at once: the search asks for one after the other.
	var at, slope []float64
	sum := 0.0
	look := func(x []float64) {
		if at != nil && slices.Equal(at, x) {
			return
		}
		at, slope = append(at[:0], x...), append(slope[:0], x...)
		floats.Scale(2*ridge, slope)
		sum = ridge * floats.Dot(x, x)
		of := make([]float64, kinds)
		for i, row := range rows {
			copy(of, x[base:])
			for _, c := range row {
				floats.AddScaled(of, scale[i], x[c:c+kinds])
			}
			all := floats.LogSumExp(of)
			sum += all - of[truth[i]]
			for k := range of {
				of[k] = math.Exp(of[k] - all)
			}
			of[truth[i]]--
			floats.Add(slope[base:], of)
			for _, c := range row {
				floats.AddScaled(slope[c:c+kinds], scale[i], of)
			}
		}
	}
	found, err := optimize.Minimize(optimize.Problem{
		Func: func(x []float64) float64 { look(x); return sum },
		Grad: func(gradient, x []float64) { look(x); copy(gradient, slope) },
	}, make([]float64, base+kinds), &optimize.Settings{MajorIterations: learnSteps}, &optimize.LBFGS{})
	if found == nil {
		t.Fatal(err)
	}
	w := weights{bias: found.X[base:], pieces: map[string][]float64{}}
	// any order: each has a place of its own
	for piece, c := range column {
		w.pieces[piece] = found.X[c*kinds : (c+1)*kinds]
	}
	return w
}

// sumOf tells sentences, and what of them is weighed, from others.
func sumOf(all []phrasing) string {
	sum := sha256.New()
	for _, p := range all {
		fmt.Fprintln(sum, p.kind, p.grade, pieces(p.said, read(p.said)))
	}
	return fmt.Sprintf("%x", sum.Sum(nil))
}

// packed is the file that weights are kept in. Pieces that weigh next to nothing are left out.
func packed(t testing.TB, w weights) []byte {
	t.Helper()
	var text strings.Builder
	fmt.Fprintln(&text, w.learned)
	line := func(piece string, row []float64) {
		steps, weighs := "", false
		for _, weight := range row {
			n := int(math.Round(weight / weightStep))
			steps += fmt.Sprintf("\t%d", n)
			weighs = weighs || n != 0
		}
		if weighs || piece == biasPiece {
			fmt.Fprintln(&text, piece+steps)
		}
	}
	line(biasPiece, w.bias)
	for _, piece := range slices.Sorted(maps.Keys(w.pieces)) {
		line(piece, w.pieces[piece])
	}
	var file bytes.Buffer
	out, err := gzip.NewWriterLevel(&file, gzip.BestCompression)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(out, text.String()); err != nil {
		t.Fatal(err)
	}
	if err := out.Close(); err != nil {
		t.Fatal(err)
	}
	return file.Bytes()
}

// sentences are all of a set, by language.
func sentences(t testing.TB, set string) (all []phrasing) {
	t.Helper()
	for _, l := range languages {
		all = append(all, phrasings(t, filepath.Join(phrasingsDir, set, l.name+".tsv"))...)
	}
	for i := range all {
		all[i].ruled = set == "given"
	}
	return all
}

// material are the sentences that weights are learned from: those that rules were made by,
// and those that they were not.
func material(t testing.TB) []phrasing {
	t.Helper()
	return append(sentences(t, "given"), sentences(t, "learned")...)
}

// The weights that are built in are those learned from the sentences at hand.
func TestWeightsAreLearned(t *testing.T) {
	t.Parallel()
	all := material(t)
	if *update {
		w := learn(t, all)
		w.learned = sumOf(all)
		if err := os.WriteFile("words/weights.gz", packed(t, w), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if w := learnedWeights(); w.learned != sumOf(all) {
		t.Error("the sentences, or what is weighed, have changed since the weights were learned: " +
			"go test ./domain/danger -update, and build again")
	}
}

// Sentences that rules were not made by are heard by weights learned from the others: a
// fifth of them, or all by turns with -fifths 5. From what is logged (-v) the chances at
// which words stop a machine and are asked about were chosen.
func TestStudyWeights(t *testing.T) {
	t.Parallel()
	if raceEnabled {
		t.Skip("learning is arithmetic of one thread, and slow under the race detector")
	}
	given, fresh := sentences(t, "given"), sentences(t, "learned")
	order := rand.New(rand.NewPCG(1, 2)).Perm(len(fresh))
	var heard, ruled heardOf
	chances := map[string][]float64{} // of a danger, by grade
	for fifth := range *fifths {
		from := slices.Clone(given)
		var unseen []phrasing
		for i, at := range order {
			if i%5 == fifth {
				unseen = append(unseen, fresh[at])
			} else {
				from = append(from, fresh[at])
			}
		}
		w := learn(t, from)
		for _, p := range unseen {
			readings := read(p.said)
			heard.add(p, w.weighed(p.said, readings))
			ruled.add(p, byRules(readings))
			chances[p.grade] = append(chances[p.grade], 1-w.chances(p.said, readings)[0])
		}
	}
	above := func(grade string, limit float64) float64 {
		n := 0
		for _, chance := range chances[grade] {
			if chance >= limit {
				n++
			}
		}
		return share(n, len(chances[grade]))
	}
	for _, limit := range []float64{0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9} {
		t.Logf("from %.2f: %5.1f %% of certain dangers, %5.1f %% of likely ones, %5.1f %% of the harmless", limit,
			above("certain", limit), above("likely", limit), above("harmless", limit))
	}
	t.Log("by rules alone: ", ruled)
	t.Log("with weights:   ", heard)
	if share(heard.stopped, heard.certain) < 86 || share(heard.noticed, heard.certain) < 94 ||
		share(heard.harmlessStopped, heard.harmless) > 17 || share(heard.annoyed, heard.harmless) > 20 {
		t.Errorf("worse than was reached: %s", heard)
	}
}
