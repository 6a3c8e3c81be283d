package diagnosis

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"unicode"
)

// Matcher finds what people's own words mean among things that each have names: by
// the stems of words, weighed by how few things have them, with room for slips of
// spelling.
type Matcher struct {
	things []thing
	weight map[string]float64 // of a stem: log(1 + things / things that have it)
}

type thing struct {
	phrases [][]string // stems
	stems   map[string]bool
}

// Match is how well words fit one thing, between 0 and 1.
type Match struct {
	Thing int
	Score float64
}

// NewMatcher is a matcher of things with these names, in their order.
func NewMatcher(names [][]string) *Matcher {
	matcher := &Matcher{weight: map[string]float64{}}
	count := map[string]int{}
	for _, all := range names {
		t := thing{stems: map[string]bool{}}
		for _, n := range all {
			stems := Stems(n)
			t.phrases = append(t.phrases, stems)
			for _, s := range stems {
				t.stems[s] = true
			}
		}
		// any order: counts
		for s := range t.stems {
			count[s]++
		}
		matcher.things = append(matcher.things, t)
	}
	// any order: each stem's weight is its own
	for s, n := range count {
		matcher.weight[s] = math.Log(1 + float64(len(names))/float64(n))
	}
	return matcher
}

// Find ranks the things that words fit at all, best first. A thing's score is made of
// how much of the words' weight it has, and of the phrase of its that they fit best:
//
//	(share of the words + 2 * share of that phrase) / 3
//
// each share with words that nearly fit counted for less.
func (m *Matcher) Find(said string) []Match {
	words := Stems(said)
	var all []Match
	total := 0.0
	known := make([]float64, len(words)) // the weight of each word
	for i, w := range words {
		known[i] = 1 // a word that nothing has says a little
		if best, _ := m.nearest(w); best != "" {
			known[i] = m.weight[best]
		}
		total += known[i]
	}
	if total == 0 {
		return nil
	}
	for i, t := range m.things {
		share := 0.0
		for k, w := range words {
			fit := 0.0
			// any order: the best fit of them all
			for s := range t.stems {
				fit = max(fit, alike(w, s))
			}
			share += fit * known[k]
		}
		share /= total
		phrase := 0.0
		for _, p := range t.phrases {
			had, all := 0.0, 0.0
			for _, s := range p {
				fit := 0.0
				for _, w := range words {
					fit = max(fit, alike(w, s))
				}
				had, all = had+fit*m.weight[s], all+m.weight[s]
			}
			if all > 0 {
				phrase = max(phrase, had/all)
			}
		}
		if score := (share + 2*phrase) / 3; score > 0 {
			all = append(all, Match{i, score})
		}
	}
	slices.SortStableFunc(all, func(a, b Match) int { return cmp.Compare(b.Score, a.Score) })
	return all
}

// nearest is the known stem that a word is most alike.
func (m *Matcher) nearest(w string) (best string, fit float64) {
	// any order: of equal ones the first by name
	for s := range m.weight {
		if a := alike(w, s); a > fit || a == fit && a > 0 && s < best {
			best, fit = s, a
		}
	}
	return best, fit
}

// alike is how much two stems are one word: 1 for the same, less for one slip in a
// word of four letters and more, or two in one of eight, 0 otherwise.
func alike(a, b string) float64 {
	if a == b {
		return 1
	}
	n := min(len([]rune(a)), len([]rune(b)))
	if n < 4 {
		return 0
	}
	switch d := Slips(a, b); {
	case d == 1:
		return 0.8
	case d == 2 && n >= 8:
		return 0.6
	}
	return 0
}

// Slips is how many letters must be left out, put in, changed or swapped with their
// neighbour to make one word of another (the optimal string alignment distance).
func Slips(a, b string) int {
	x, y := []rune(a), []rune(b)
	rows := [3][]int{make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)}
	for j := range rows[1] {
		rows[1][j] = j
	}
	for i := range x {
		before, last, row := rows[0], rows[1], rows[2]
		row[0] = i + 1
		for j := range y {
			cost := 1
			if x[i] == y[j] {
				cost = 0
			}
			row[j+1] = min(last[j]+cost, last[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && x[i] == y[j-1] && x[i-1] == y[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		rows[0], rows[1], rows[2] = last, row, before
	}
	return rows[1][len(y)]
}

// Stems are the words of a text that say something, without their endings.
func Stems(text string) []string {
	var all []string
	for _, w := range strings.FieldsFunc(strings.ToLower(text),
		func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' && r != '’' }) {
		w = strings.NewReplacer("'", "", "’", "").Replace(w)
		if w == "" || saysNothing[w] {
			continue
		}
		all = append(all, stem(w))
	}
	return all
}

// saysNothing are words too common to tell things apart. "not", "no" and their like
// are not among them: "does not stop" is more than "stop".
var saysNothing = map[string]bool{}

func init() {
	for _, w := range strings.Fields(`a an the is are was were be been am its it this that these those
		there here i we you he she they my our your his her their of in on at to from for with by and or but so
		as if when while then than some any very really just again also too still quite bit little like kind sort
		has have had do did done get got gets getting seems seem looks look looked looking think thinks please
		help hi hey machine planer thing something someone after before during every each all time times now
		today yesterday one what how why which who me us them up out`) {
		saysNothing[w] = true
	}
}

// negations are how people say that something does not happen.
var negations = map[string]string{
	"wont": "not", "doesnt": "not", "dont": "not", "didnt": "not", "cant": "not", "cannot": "not",
	"isnt": "not", "no": "not", "never": "not", "without": "not",
}

// stem takes the usual endings off an English word.
func stem(w string) string {
	if s, ok := negations[w]; ok {
		return s
	}
	if w == "does" || w == "will" {
		return "do"
	}
	for _, e := range []struct{ ending, instead string }{{"ies", "y"}, {"sses", "ss"}, {"ches", "ch"},
		{"shes", "sh"}, {"iness", "y"}, {"ness", ""}, {"ings", ""}, {"ing", ""}, {"edly", ""}, {"ied", "y"},
		{"ed", ""}, {"ly", ""}, {"ers", ""}, {"er", ""}, {"es", "e"}, {"s", ""}} {
		rest, ok := strings.CutSuffix(w, e.ending)
		if !ok || len([]rune(rest)) < 3 || strings.HasSuffix(w, "ss") && e.ending == "s" {
			continue
		}
		w = rest + e.instead
		break
	}
	if n := len(w); n > 3 && w[n-1] == w[n-2] && !strings.ContainsRune("lsz", rune(w[n-1])) {
		w = w[:n-1] // stopped, stopping
	}
	if strings.HasSuffix(w, "e") && len(w) > 4 {
		w = w[:len(w)-1] // vibrate, vibrating
	}
	return w
}
