package danger

import (
	"embed"
	"fmt"
	"path"
	"slices"
	"strings"
	"unicode"

	"github.com/goccy/go-yaml"
	"golang.org/x/text/unicode/norm"

	"setscrew/domain/diagnosis"
)

//go:embed words/*.yaml
var files embed.FS

// language is one language's words.
type language struct {
	name    string
	fold    *strings.Replacer
	small   map[string]bool    // words by which the language is known
	breaks  map[string]bool    // words that begin a clause: but
	joins   map[string]bool    // words that join two things: and
	names   map[string]bool    // the ideas that it has words for
	phrases map[rune][]meaning // of all ideas, by the letter that they begin with
	silent  map[rune][]meaning // figures of speech, likewise
	known   map[string]bool    // words that are no misspelling of others
	stems   map[string]bool    // beginnings of such words
}

// meaning is a phrase and the idea that it names.
type meaning struct {
	idea   string
	phrase phrase
}

// phrase is places in a row.
type phrase []place

// place is one word of a phrase, or a gap that stands for up to three words.
type place struct {
	words    []word // any of which it may be
	optional bool
	gap      bool
}

// word is one word that a place of a phrase may be.
type word struct {
	text   string
	prefix bool // whatever its ending
	suffix bool // whatever stands before it, or nothing: Spindellager
}

// rule says which ideas together are a danger.
type rule struct {
	Kind    Kind   `yaml:"kind"`
	Sure    string `yaml:"sure"`   // the ideas, separated by spaces; alternatives by |
	Likely  string `yaml:"likely"` // likewise
	Without string `yaml:"without"`
	Within  int    `yaml:"within"`  // words between two of them at the most; 6 if none is given
	Ordered bool   `yaml:"ordered"` // they come in this order
	Anyway  bool   `yaml:"anyway"`  // denials and times do not count: it is one itself

	certainty Certainty
	ideas     [][]string
	without   []string
}

var (
	rules     []rule
	languages []*language
)

func init() {
	if err := load(); err != nil {
		panic(err)
	}
}

// load reads the files that are built in.
func load() error {
	text, err := files.ReadFile("words/rules.yaml")
	if err != nil {
		return fmt.Errorf("danger: read the rules: %w", err)
	}
	var sheet struct {
		Ideas string `yaml:"ideas"`
		Rules []rule `yaml:"rules"`
	}
	if err := yaml.UnmarshalWithOptions(text, &sheet, yaml.Strict()); err != nil {
		return fmt.Errorf("danger: the rules: %w", err)
	}
	ideas := strings.Fields(sheet.Ideas)
	rules = nil
	for i, r := range sheet.Rules {
		r.certainty = Likely
		if r.Sure != "" {
			r.certainty = Sure
		}
		if r.Within == 0 {
			r.Within = 6
		}
		for _, names := range strings.Fields(r.Sure + r.Likely) {
			r.ideas = append(r.ideas, strings.Split(names, "|"))
		}
		r.without = strings.Fields(r.Without)
		if len(r.ideas) == 0 || (r.Sure == "") == (r.Likely == "") || !slices.Contains(Kinds(), r.Kind) {
			return fmt.Errorf("danger: rule %d (%s): a kind, and ideas that are sure or likely", i+1, r.Kind)
		}
		for _, name := range append(slices.Concat(r.ideas...), r.without...) {
			if !slices.Contains(ideas, name) {
				return fmt.Errorf("danger: rule %d (%s): no idea %q", i+1, r.Kind, name)
			}
		}
		rules = append(rules, r)
	}
	languages = nil
	for _, name := range []string{"en", "de", "fr", "es"} {
		l, err := loadLanguage(name, ideas)
		if err != nil {
			return err
		}
		languages = append(languages, l)
	}
	return nil
}

// loadLanguage reads one language's file. An idea's words stand after its name,
// separated by commas: flame*, *lager, on fire, turn … off, in|into my|his? eye.
func loadLanguage(name string, ideas []string) (*language, error) {
	text, err := files.ReadFile(path.Join("words", name+".yaml"))
	if err != nil {
		return nil, fmt.Errorf("danger: read the words of %s: %w", name, err)
	}
	var sheet struct {
		Fold   []string          `yaml:"fold"`   // spellings that are read as one, in pairs
		Small  string            `yaml:"small"`  // words by which the language is known
		Breaks string            `yaml:"breaks"` // words that begin a clause: but
		Joins  string            `yaml:"joins"`  // words that join two things: and
		Known  string            `yaml:"known"`  // words that are no misspelling of an idea's
		Silent string            `yaml:"silent"` // figures of speech and harmless names
		Ideas  map[string]string `yaml:"ideas"`
	}
	if err := yaml.UnmarshalWithOptions(text, &sheet, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("danger: the words of %s: %w", name, err)
	}
	l := &language{name: name, fold: strings.NewReplacer(sheet.Fold...),
		small: map[string]bool{}, breaks: map[string]bool{}, joins: map[string]bool{}, names: map[string]bool{},
		known: map[string]bool{}, stems: map[string]bool{},
		phrases: map[rune][]meaning{}, silent: map[rune][]meaning{}}
	for _, w := range strings.Fields(sheet.Small) {
		l.small[bare(w)] = true
	}
	for _, w := range strings.Fields(sheet.Breaks) {
		l.breaks[l.folded(w)] = true
	}
	for _, w := range strings.Fields(sheet.Joins) {
		l.joins[l.folded(w)] = true
	}
	for _, w := range strings.Fields(sheet.Known + " " + sheet.Small) {
		l.known[l.folded(w)] = true
	}
	if err := l.read(l.silent, "", sheet.Silent); err != nil {
		return nil, err
	}
	// any order: each idea has its own words
	for idea, list := range sheet.Ideas {
		if !slices.Contains(ideas, idea) {
			return nil, fmt.Errorf("danger: the words of %s: no rule knows the idea %q", name, idea)
		}
		l.names[idea] = true
		if err := l.read(l.phrases, idea, list); err != nil {
			return nil, err
		}
	}
	return l, nil
}

// read reads the phrases of an idea. Of a place several words may stand, joined by |;
// one that ends with ? may be left out, unless the phrase begins or ends with it.
func (l *language) read(into map[rune][]meaning, idea, list string) error {
	for _, text := range strings.Split(list, ",") {
		var p phrase
		for _, typed := range strings.Fields(text) {
			one := place{optional: strings.HasSuffix(typed, "?"), gap: typed == "…"}
			for _, w := range strings.Split(strings.TrimSuffix(typed, "?"), "|") {
				if one.gap {
					break
				}
				prefix, suffix := strings.HasSuffix(w, "*"), strings.HasPrefix(w, "*")
				w = l.folded(w)
				if w == "" {
					return fmt.Errorf("danger: the words of %s: %s: no word in %q", l.name, idea, text)
				}
				one.words = append(one.words, word{w, prefix, suffix})
				switch {
				case suffix:
				case prefix:
					l.stems[w] = true
				default:
					l.known[w] = true
				}
			}
			p = append(p, one)
		}
		if len(p) == 0 {
			continue
		}
		if last := p[len(p)-1]; p[0].gap || p[0].optional || last.gap || last.optional {
			return fmt.Errorf("danger: the words of %s: %s: %q begins or ends with what may be left out",
				l.name, idea, text)
		}
		var letters []rune
		for _, w := range p[0].words {
			letter := initial(w.text)
			if w.suffix {
				letter = anyLetter
			}
			if !slices.Contains(letters, letter) {
				letters = append(letters, letter)
				into[letter] = append(into[letter], meaning{idea, p})
			}
		}
	}
	return nil
}

// anyLetter stands for each letter that a phrase may begin with.
const anyLetter rune = 0

// beginning are the phrases that may begin with a word.
func beginning(phrases map[rune][]meaning, w string) [2][]meaning {
	return [2][]meaning{phrases[initial(w)], phrases[anyLetter]}
}

// initial is a word's first letter.
func initial(w string) rune {
	for _, r := range w {
		return r
	}
	return anyLetter
}

// folded is a word in small letters, without accents, apostrophes and hyphens, and
// with the language's own spellings made one.
func (l *language) folded(w string) string { return bare(l.fold.Replace(strings.ToLower(w))) }

// bare is a word in small letters, without accents, apostrophes and hyphens.
func bare(w string) string {
	var b strings.Builder
	for _, r := range norm.NFD.String(strings.ToLower(w)) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// token is one word that was typed.
type token struct {
	text   string
	typed  string // without the language's own spellings made one
	asked  bool   // its clause ends with a question mark
	clause int
	first  bool // of its clause
	silent bool
}

// split cuts what was typed into words and clauses. Letters repeated three times and
// more count once.
func (l *language) split(said string) (all []token) {
	clause, first := 0, true
	var run []rune
	end := func() {
		if w := l.folded(string(run)); w != "" {
			if l.breaks[w] && !first {
				clause, first = clause+1, true
			}
			all = append(all, token{text: w, typed: bare(string(run)), clause: clause, first: first})
			first = false
		}
		run = nil
	}
	runes := []rune(said)
	for i, r := range runes {
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.Is(unicode.Mn, r):
			if i > 0 && runes[i-1] == r && i+1 < len(runes) && runes[i+1] == r && unicode.IsLetter(r) {
				continue // the middle of three and more
			}
			if n := len(run); i > 1 && n > 0 && runes[i-1] == r && runes[i-2] == r && unicode.IsLetter(r) {
				continue // the last of them
			}
			run = append(run, r)
		case (r == '\'' || r == '’' || r == '`' || r == '´') && l.name != "fr":
		case r == '-' && len(run) == 1: // e-stop
		case strings.ContainsRune(",.;:!?()\n–—", r):
			end()
			if r == '?' {
				for k := len(all) - 1; k >= 0 && all[k].clause == clause; k-- {
					all[k].asked = true
				}
			}
			if !(r == '.' || r == ',') || i+1 >= len(runes) || !unicode.IsDigit(runes[i+1]) {
				if !first {
					clause, first = clause+1, true
				}
			}
		default:
			end()
		}
	}
	end()
	return all
}

// at is where a phrase ends that begins at a token, or -1: at the farthest of its
// several ends.
func (l *language) at(p phrase, tokens []token, from int) int {
	if len(p) == 0 {
		return from
	}
	end := -1
	if p[0].gap {
		for skip := 0; skip <= 3; skip++ {
			if end = l.at(p[1:], tokens, from+skip); end > 0 {
				return end
			}
		}
		return -1
	}
	if from < len(tokens) && !tokens[from].silent &&
		slices.ContainsFunc(p[0].words, func(w word) bool { return l.means(tokens[from].text, w) }) {
		end = l.at(p[1:], tokens, from+1)
	}
	if p[0].optional {
		end = max(end, l.at(p[1:], tokens, from))
	}
	return end
}

// means reports whether a word that was typed is one of a phrase, or its misspelling.
func (l *language) means(typed string, w word) bool {
	switch {
	case typed == w.text:
		return true
	case w.prefix && strings.HasPrefix(typed, w.text):
		return true
	case w.suffix:
		return strings.HasSuffix(typed, w.text) && len(typed) > len(w.text)+1
	case l.knows(typed):
		return false
	}
	return misspelt(typed, w)
}

// knows reports whether a word that was typed is a word of the language's: it may be a
// known one with another ending.
func (l *language) knows(typed string) bool {
	if l.known[typed] {
		return true
	}
	for end := max(4, len(typed)-4); end <= len(typed); end++ {
		if l.stems[typed[:end]] {
			return true
		}
	}
	return false
}

// misspelt reports whether a word is another with slips: one in a word of five letters,
// two in one of eight, its first letter being right. Of a word with any ending its
// beginning is looked at, which must be a letter longer.
func misspelt(typed string, w word) bool {
	size := len(w.text)
	if w.prefix {
		size--
	}
	slips := 0
	switch {
	case size >= 8:
		slips = 2
	case size >= 5:
		slips = 1
	}
	if slips == 0 || typed == "" || typed[0] != w.text[0] {
		return false
	}
	if !w.prefix {
		return max(len(typed)-len(w.text), len(w.text)-len(typed)) <= slips && diagnosis.Slips(typed, w.text) <= slips
	}
	for end := len(w.text) - slips; end <= min(len(w.text)+slips, len(typed)); end++ {
		if diagnosis.Slips(typed[:end], w.text) <= slips {
			return true
		}
	}
	return false
}

// silence marks figures of speech, so that nothing in them is heard.
func (l *language) silence(tokens []token) {
	var marked []int
	for i := range tokens {
		for _, some := range beginning(l.silent, tokens[i].text) {
			for _, m := range some {
				for k := i; k < l.at(m.phrase, tokens, i); k++ {
					marked = append(marked, k)
				}
			}
		}
	}
	for _, i := range marked {
		tokens[i].silent = true
	}
}

// ideas finds every idea in words, each at the longest phrase that begins at a place.
func (l *language) ideas(tokens []token) map[string][]occurrence {
	found := map[string][]occurrence{}
	for i := range tokens {
		for _, some := range beginning(l.phrases, tokens[i].text) {
			for _, m := range some {
				end := l.at(m.phrase, tokens, i)
				if end <= i {
					continue
				}
				at := found[m.idea]
				if n := len(at); n > 0 && at[n-1].from == i {
					at[n-1].to = max(at[n-1].to, end)
				} else {
					found[m.idea] = append(at, occurrence{i, end})
				}
			}
		}
	}
	return found
}
