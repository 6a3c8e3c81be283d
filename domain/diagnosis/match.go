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
		thing := thing{stems: map[string]bool{}}
		for _, n := range all {
			stems := Stems(n)
			thing.phrases = append(thing.phrases, stems)
			for _, s := range stems {
				thing.stems[s] = true
			}
		}
		// any order: counts
		for s := range thing.stems {
			count[s]++
		}
		matcher.things = append(matcher.things, thing)
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
	// Words that tell things apart weigh more.
	words := Stems(said)
	var all []Match
	total := 0.0
	known := make([]float64, len(words)) // the weight of each word
	for i, word := range words {
		known[i] = 1 // a word that nothing has says a little
		if best, _ := m.nearest(word); best != "" {
			known[i] = m.weight[best]
		}
		total += known[i]
	}
	if total == 0 {
		return nil
	}
	for i, thing := range m.things {
		// How much of what was said the thing accounts for.
		share := 0.0
		for k, word := range words {
			fit := 0.0
			// any order: the best fit of them all
			for stem := range thing.stems {
				fit = max(fit, alike(word, stem))
			}
			share += fit * known[k]
		}
		share /= total
		// How completely one of its names was said; twice the weight, since names are short.
		phrase := 0.0
		for _, stems := range thing.phrases {
			had, all := 0.0, 0.0
			for _, stem := range stems {
				fit := 0.0
				for _, word := range words {
					fit = max(fit, alike(word, stem))
				}
				had, all = had+fit*m.weight[stem], all+m.weight[stem]
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
func alike(one, other string) float64 {
	if one == other {
		return 1
	}
	shorter := min(len([]rune(one)), len([]rune(other)))
	if shorter < 4 {
		return 0
	}
	switch d := Slips(one, other); {
	case d == 1:
		return 0.8
	case d == 2 && shorter >= 8:
		return 0.6
	}
	return 0
}

// Slips is how many letters must be left out, put in, changed or swapped with their
// neighbour to make one word of another (the optimal string alignment distance).
func Slips(a, b string) int {
	from, to := []rune(a), []rune(b)
	rows := [3][]int{make([]int, len(to)+1), make([]int, len(to)+1), make([]int, len(to)+1)}
	for j := range rows[1] {
		rows[1][j] = j
	}
	for i := range from {
		before, last, row := rows[0], rows[1], rows[2]
		row[0] = i + 1
		for j := range to {
			cost := 1
			if from[i] == to[j] {
				cost = 0
			}
			row[j+1] = min(last[j]+cost, last[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && from[i] == to[j-1] && from[i-1] == to[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		rows[0], rows[1], rows[2] = last, row, before
	}
	return rows[1][len(to)]
}

// Stems are the words of a text that say something, without their endings.
func Stems(text string) []string {
	var all []string
	for _, word := range strings.FieldsFunc(strings.ToLower(text),
		func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' && r != '’' }) {
		word = strings.NewReplacer("'", "", "’", "").Replace(word)
		if word == "" || saysNothing[word] {
			continue
		}
		all = append(all, stem(word))
	}
	return all
}

// saysNothing are words too common to tell things apart. "not", "no" and their like
// are not among them: "does not stop" is more than "stop".
var saysNothing = map[string]bool{}

func init() {
	for _, word := range strings.Fields(`a an the is are was were be been am its it this that these those
		there here i we you he she they my our your his her their of in on at to from for with by and or but so
		as if when while then than some any very really just again also too still quite bit little like kind sort
		has have had do did done get got gets getting seems seem looks look looked looking think thinks please
		help hi hey machine planer thing something someone after before during every each all time times now
		today yesterday one what how why which who me us them up out`) {
		saysNothing[word] = true
	}
}

// negations are how people say that something does not happen.
var negations = map[string]string{
	"wont": "not", "doesnt": "not", "dont": "not", "didnt": "not", "cant": "not", "cannot": "not",
	"isnt": "not", "no": "not", "never": "not", "without": "not",
}

// stem takes the usual endings off an English word.
func stem(word string) string {
	if negation, ok := negations[word]; ok {
		return negation
	}
	if word == "does" || word == "will" {
		return "do"
	}
	for _, cut := range []struct{ ending, instead string }{{"ies", "y"}, {"sses", "ss"}, {"ches", "ch"},
		{"shes", "sh"}, {"iness", "y"}, {"ness", ""}, {"ings", ""}, {"ing", ""}, {"edly", ""}, {"ied", "y"},
		{"ed", ""}, {"ly", ""}, {"ers", ""}, {"er", ""}, {"es", "e"}, {"s", ""}} {
		rest, ok := strings.CutSuffix(word, cut.ending)
		if !ok || len([]rune(rest)) < 3 || strings.HasSuffix(word, "ss") && cut.ending == "s" {
			continue
		}
		word = rest + cut.instead
		break
	}
	if n := len(word); n > 3 && word[n-1] == word[n-2] && !strings.ContainsRune("lsz", rune(word[n-1])) {
		word = word[:n-1] // stopped, stopping
	}
	if strings.HasSuffix(word, "e") && len(word) > 4 {
		word = word[:len(word)-1] // vibrate, vibrating
	}
	return word
}
