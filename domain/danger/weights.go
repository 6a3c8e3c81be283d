package danger

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"gonum.org/v1/gonum/floats"
)

// Rules know what they were told. Beside them stand weights that were learned from
// sentences: how much each word, pair of words and piece of a word speaks for each kind
// of danger, and for none (a multinomial logistic regression). They find a danger in
// words that no rule names, and doubt what a rule hears in words that sound harmless.

// weightsFile is a gzipped text: the sum of the sentences that were learned from, then a
// piece a line with its weights for none and for each of Kinds, in steps of weightStep.
//
//go:embed words/weights.gz
var weightsFile []byte

// weightStep is the step in which weights are kept.
const weightStep = 1.0 / 8

// weights are those of each piece of a sentence, for none and for each kind of danger.
type weights struct {
	learned string // the sum of the sentences that they were learned from
	bias    []float64
	pieces  map[string][]float64
}

// biasPiece is the name under which what speaks for a kind before any word is kept.
const biasPiece = "*"

// learnedWeights are those that are built in.
var learnedWeights = sync.OnceValue(func() weights {
	w, err := readWeights(weightsFile)
	if err != nil {
		panic(err)
	}
	return w
})

// readWeights reads weights as they are kept.
func readWeights(file []byte) (w weights, err error) {
	packed, err := gzip.NewReader(bytes.NewReader(file))
	if err != nil {
		return w, fmt.Errorf("danger: open the weights: %w", err)
	}
	text, err := io.ReadAll(packed)
	if err != nil {
		return w, fmt.Errorf("danger: read the weights: %w", err)
	}
	w.pieces = map[string][]float64{}
	var lines string
	w.learned, lines, _ = strings.Cut(string(text), "\n")
	for i, line := range strings.Split(strings.TrimSuffix(lines, "\n"), "\n") {
		fields := strings.Split(line, "\t")
		if len(fields) != len(Kinds())+2 {
			return w, fmt.Errorf("danger: line %d of the weights: %q", i+2, line)
		}
		row := make([]float64, len(fields)-1)
		for k, field := range fields[1:] {
			steps, err := strconv.Atoi(field)
			if err != nil {
				return w, fmt.Errorf("danger: line %d of the weights: %w", i+2, err)
			}
			row[k] = float64(steps) * weightStep
		}
		if fields[0] == biasPiece {
			w.bias = row
		} else {
			w.pieces[fields[0]] = row
		}
	}
	if w.bias == nil {
		return w, fmt.Errorf("danger: the weights have no line %q", biasPiece)
	}
	return w, nil
}

// pieces are what of a sentence is weighed, each once: its words, pairs of words next to
// each other or one apart, and three to five letters in a row of a word, whose ends are
// marked (what is misspelt shares most of these); the ideas that are met in it, by
// themselves and two together; and what rules hear.
func pieces(said string, readings []reading) []string {
	var all []string
	seen := map[string]bool{}
	add := func(piece string) {
		if !seen[piece] {
			seen[piece] = true
			all = append(all, piece)
		}
	}
	// Its words.
	words := strings.FieldsFunc(said, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.Is(unicode.Mn, r) &&
			!strings.ContainsRune("'’`´", r)
	})
	for i := range words {
		words[i] = bare(words[i])
	}
	for i, word := range words {
		add(word)
		if i >= 1 {
			add(words[i-1] + " " + word)
		}
		if i >= 2 {
			add(words[i-2] + " … " + word)
		}
		letters := []rune("^" + word + "$")
		for n := 3; n <= 5; n++ {
			for from := 0; from+n <= len(letters); from++ {
				add("~" + string(letters[from:from+n]))
			}
		}
	}
	// Its ideas, and what rules make of them.
	for _, r := range readings {
		met := slices.Sorted(maps.Keys(r.found))
		for _, idea := range met {
			add("#" + idea)
			for _, other := range met {
				for _, a := range r.found[idea] {
					for _, b := range r.found[other] {
						if gap := b.from - a.to; gap >= 0 && gap <= nearIdeas {
							add("#" + idea + " " + other)
						}
					}
				}
				if idea < other {
					add("#" + idea + "+" + other)
				}
			}
		}
		for _, h := range r.hits {
			mark := [...]string{None: "?", Likely: "!", Sure: "!!"}[h.certainty]
			add(mark)
			add(mark + string(h.rule.Kind))
			add(mark + string(h.rule.Kind) + " " + h.rule.Sure + h.rule.Likely)
		}
	}
	return all
}

// nearIdeas is how many words may stand between two ideas that follow each other.
const nearIdeas = 3

// From which chance of a danger words are asked about, and stop a machine. Chosen by what
// TestStudyWeights shows.
const (
	asksFrom   = 0.15
	stopsFrom  = 0.50
	neverWaits = 0.30 // where a rule is sure, of a kind that never waits for a question
	surelyFrom = 0.80 // what a rule calls likely
)

// weighed is how surely words speak of danger, by what rules and weights make of them
// together. The kind is the rules', where they hear one. What is doubted in words is
// likely at most; what weights doubt is asked about, whatever the kind.
func (w weights) weighed(said string, readings []reading) Heard {
	of := w.chances(said, readings)
	chance, heard := 1-of[0], byRules(readings)
	stops := stopsFrom
	switch {
	case heard.Kind == "" && chance >= asksFrom:
		heard.Kind, heard.Certainty = Kinds()[floats.MaxIdx(of[1:])], Sure
	case heard.Certainty == Sure && !heard.Kind.Waits():
		stops = neverWaits
	}
	switch {
	case heard.Kind != "" && chance < stops:
		heard.Certainty, heard.Unclear = Likely, true
	case heard.Certainty == Likely && !heard.doubted && chance >= surelyFrom:
		heard.Certainty = Sure
	}
	return heard
}

// chances are how likely words speak of no danger and of each of Kinds, in that order, by
// the weights of their pieces:
//
//	p_k = exp(z_k) / Σ exp(z_j),  z_k = b_k + Σ w_ik / √(n+1)
//
// where n is how many pieces there are (multinomial logistic regression; the root keeps
// long sentences from being surer than short ones).
func (w weights) chances(said string, readings []reading) (of []float64) {
	all := pieces(said, readings)
	of = make([]float64, len(w.bias))
	scale := 1 / math.Sqrt(float64(len(all)+1))
	for _, piece := range all {
		for k, weight := range w.pieces[piece] {
			of[k] += weight * scale
		}
	}
	sum := 0.0
	for k := range of {
		of[k] = math.Exp(of[k] + w.bias[k])
		sum += of[k]
	}
	for k := range of {
		of[k] /= sum
	}
	return of
}
