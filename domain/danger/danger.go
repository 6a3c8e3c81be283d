// Package danger hears in plain words whether somebody may be hurt by a machine:
// fire, shock, a guard taken off, a saw that will not stop. It is common to all kinds
// of machine, in English, German, French and Spanish, and is asked before a kind's
// own symptoms.
//
// A language's file names ideas (a flame, a guard, what is missing) by the words that
// people use for them; rules.yaml, which is common to all languages, says which ideas
// together are a danger. Beside them stand weights learned from sentences, which hear
// what no rule names and doubt what sounds harmless. Whoever is misheard adds a word or a
// sentence to a file, no code.
package danger

import (
	"cmp"
	"slices"
)

// Kind is a kind of danger.
type Kind string

// The kinds of danger, the gravest first: of two that are heard as surely the first
// counts.
const (
	Hurt       Kind = "hurt"       // somebody is hurt, or nearly was
	Shock      Kind = "shock"      // an electric shock, or a bare wire
	Fire       Kind = "fire"       // fire, smoke, sparks
	Fumes      Kind = "fumes"      // fumes, or a leak of gas
	StopButton Kind = "stopbutton" // the emergency stop does not work
	Runaway    Kind = "runaway"    // it will not stop
	SelfStart  Kind = "selfstart"  // it starts by itself
	Guard      Kind = "guard"      // a guard or interlock is missing, broken or bypassed
	Thrown     Kind = "thrown"     // something was thrown
	Cutter     Kind = "cutter"     // a cutter is loose, cracked, broken, or wobbles
	Bearing    Kind = "bearing"    // a hot or screaming bearing
	Unsafe     Kind = "unsafe"     // said to be unsafe, nobody says how
)

// Kinds lists the kinds of danger, the gravest first.
func Kinds() []Kind {
	return []Kind{Hurt, Shock, Fire, Fumes, StopButton, Runaway, SelfStart, Guard, Thrown, Cutter, Bearing, Unsafe}
}

// Waits reports whether a danger of the kind that is likely, not sure, may wait for an
// answer: fire, shock, somebody hurt and what will not stop never do.
func (k Kind) Waits() bool { return !slices.Contains([]Kind{Hurt, Shock, Fire, Runaway}, k) }

// Certainty is how surely a danger was heard.
type Certainty int8

// The certainties.
const (
	None   Certainty = iota // no danger
	Likely                  // worth a question
	Sure                    // stop at once
)

// Heard is what words say of danger.
type Heard struct {
	Kind      Kind // empty for none
	Certainty Certainty
	Words     []string // those by which a rule heard it, as they were typed but for capitals
	Unclear   bool     // what is likely is that danger is meant at all: a question first, whatever the kind

	doubted bool // by words such as perhaps
}

// Hear finds the gravest danger that words speak of: by rules, which know ideas and how
// they are denied, and by weights, which know what was said of other machines.
func Hear(said string) Heard {
	return learnedWeights().weighed(said, read(said))
}

// byRules finds the gravest danger that words speak of, in whichever of the languages it
// is heard most surely. Words that deny it ("no smoke"), that tell of what is mended,
// or that are figures of speech do not count; words of doubt make it likely.
func byRules(readings []reading) Heard {
	heard := Heard{}
	for _, one := range readings {
		h := one.hear()
		if h.Certainty > heard.Certainty || h.Certainty == heard.Certainty && graver(h.Kind, heard.Kind) {
			heard = h
		}
	}
	return heard
}

// graver reports whether one kind of danger goes before another.
func graver(a, b Kind) bool {
	return cmp.Less(slices.Index(Kinds(), a), slices.Index(Kinds(), b)) && a != "" && b != ""
}

// spoken are the languages that words may be in: those that know at least five sixths as
// many of the words as any; their small words count three times, unless they are one
// letter (the s of "the blade's bent" is no French). Words that none knows are heard in all.
func spoken(said string) []*language {
	counts := make([]int, len(languages))
	most := 0
	for i, l := range languages {
		for _, t := range l.split(said) {
			switch {
			case l.small[t.typed] && len(t.typed) > 1:
				counts[i] += 3
			case l.knows(t.text):
				counts[i]++
			}
		}
		most = max(most, counts[i])
	}
	var all []*language
	for i, l := range languages {
		if 6*counts[i] >= 5*most {
			all = append(all, l)
		}
	}
	return all
}

// occurrence is an idea met at tokens from (with) to (without).
type occurrence struct{ from, to int }

// match is a rule that is met, at one place of each of its ideas.
type match struct {
	rule *rule
	at   []occurrence
}

// reading is what was said, read in one language.
type reading struct {
	language *language
	tokens   []token
	found    map[string][]occurrence // where each idea is met
	hits     []hit
}

// hit is a rule that is met, and how surely: not at all where it is denied.
type hit struct {
	match
	certainty Certainty
}

// read reads what was said in each language that it may be in.
func read(said string) (all []reading) {
	for _, l := range spoken(said) {
		one := reading{language: l, tokens: l.split(said)}
		l.silence(one.tokens)
		one.found = l.ideas(one.tokens)
		for i := range rules {
			for _, m := range rules[i].matches(one.found) {
				one.hits = append(one.hits, hit{m, one.weigh(m)})
			}
		}
		all = append(all, one)
	}
	return all
}

// hear finds the gravest danger in one language.
func (r reading) hear() Heard {
	heard := Heard{}
	for _, h := range r.hits {
		if h.certainty > heard.Certainty || h.certainty == heard.Certainty && h.certainty > None &&
			graver(h.rule.Kind, heard.Kind) {
			heard = Heard{Kind: h.rule.Kind, Certainty: h.certainty, doubted: h.certainty < h.rule.certainty}
			for _, at := range h.at {
				for _, t := range r.tokens[at.from:at.to] {
					heard.Words = append(heard.Words, t.text)
				}
			}
		}
	}
	return heard
}

// weigh is how sure a match leaves one: less where its ideas are denied, told as past,
// asked about, or doubted.
func (r reading) weigh(m match) Certainty {
	l, tokens, found := r.language, r.tokens, r.found
	first, last := len(tokens), 0
	for _, at := range m.at {
		first, last = min(first, at.from), max(last, at.to)
	}
	own := func(o occurrence) bool { // part of the match itself
		return slices.ContainsFunc(m.at, func(at occurrence) bool { return o.from < at.to && at.from < o.to })
	}
	near := func(idea string, holds func(o occurrence) bool) bool {
		return slices.ContainsFunc(found[idea], func(o occurrence) bool { return !own(o) && holds(o) })
	}
	clause := func(i int) int { return tokens[i].clause }
	if !m.rule.Anyway {
		// Denied: a "no" shortly before one of its ideas, in the same clause and not joined
		// to it by "and"; in some languages only certain ones deny what comes after them.
		no := "not"
		if l.names["not-before"] {
			no = "not-before"
		}
		for _, at := range m.at {
			if near(no, func(o occurrence) bool {
				return o.to <= at.from && at.from-o.to <= 2 && clause(o.from) == clause(at.from) &&
					!slices.ContainsFunc(tokens[o.to:at.from], func(t token) bool { return l.joins[t.text] })
			}) || near("not-after", func(o occurrence) bool {
				return o.from >= at.to && o.from-at.to <= 1 && clause(o.from) == clause(at.from)
			}) {
				return None
			}
		}
		// Told as mended or past: in its own clauses or just after it, unless it goes on.
		if near("mended", func(o occurrence) bool {
			return clause(o.from) >= clause(first) && clause(o.from) <= clause(last-1)+1 ||
				o.to <= first && clause(first) == clause(o.from)
		}) && !near("still", func(o occurrence) bool { return o.to <= first+1 && clause(o.from) >= clause(first)-1 }) {
			return None
		}
	}
	// Asked about in general: the clause begins as a question, in words that nothing
	// else begins with, or with a mark at its end.
	if near("asks", func(o occurrence) bool {
		return o.from <= first && clause(o.from) == clause(first) && tokens[o.from].first
	}) || near("asks-mark", func(o occurrence) bool {
		return o.from <= first && clause(o.from) == clause(first) && tokens[o.from].first && tokens[first].asked
	}) {
		return None
	}
	if m.rule.certainty == Sure && (tokens[first].asked || near("perhaps", func(o occurrence) bool {
		return clause(o.from) >= clause(first)-1 && clause(o.from) <= clause(last-1)+1
	})) {
		return Likely
	}
	return m.rule.certainty
}

// matches are the places at which a rule is met: every one of its ideas, none of them
// at the same words, no farther from each other than its ideas may stand.
func (r *rule) matches(found map[string][]occurrence) []match {
	var all []match
	var try func(at []occurrence)
	try = func(at []occurrence) {
		if len(all) >= 32 {
			return
		}
		if len(at) == len(r.ideas) {
			all = append(all, match{r, slices.Clone(at)})
			return
		}
		for _, name := range r.ideas[len(at)] {
			for _, o := range found[name] {
				fits := true
				for i, other := range at {
					gap := max(o.from-other.to, other.from-o.to)
					if gap < 0 || gap > r.Within || r.Ordered && i == len(at)-1 && o.from < other.to {
						fits = false
					}
				}
				if fits {
					try(append(at, o))
				}
			}
		}
	}
	try(nil)
	for _, name := range r.without {
		if len(found[name]) > 0 {
			return nil
		}
	}
	return all
}

// Stops reports whether what was heard stops a machine at once.
func (h Heard) Stops() bool {
	return h.Certainty == Sure || h.Certainty == Likely && !h.Kind.Waits() && !h.Unclear
}

// Says is how surely words speak of something that find finds in them: not at all
// where it is denied, mended, a figure of speech or asked about; likely where it is
// doubted; in every language that the words may be in. find is given the words in
// small letters, figures of speech left empty, and returns the places from (with) and
// to (without) which they name it.
func Says(said string, find func(words []string) [][2]int) Certainty {
	least := Sure
	pseudo := rule{certainty: Sure}
	for _, r := range read(said) {
		words := make([]string, len(r.tokens))
		for i, t := range r.tokens {
			if !t.silent {
				words[i] = t.text
			}
		}
		most := None
		for _, at := range find(words) {
			most = max(most, r.weigh(match{&pseudo, []occurrence{{at[0], at[1]}}}))
		}
		least = min(least, most)
	}
	return least
}
