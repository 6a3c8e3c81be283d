// Package match finds what somebody means by a typed name among things that have
// names: whole, by its beginning, or by words in any order and of either form. What
// could be two things is never taken for one of them.
package match

import (
	"cmp"
	"slices"
	"strings"

	"setscrew/domain/diagnosis"
)

// Name is what one thing is called.
type Name struct {
	ID    string   // "" for none
	Name  string   // as it is shown
	Words []string // what else people say for it
	// Every says that no word of it is too common to tell it from others: of a machine's
	// name and kind each counts.
	Every bool
}

// likeness is how well words must fit a thing for it to be offered, of 1.
const likeness = 0.25

// Fold is a name as it is compared: without case, and without space around it.
func Fold(name string) string { return strings.ToLower(strings.TrimSpace(name)) }

// Exact is the thing that has the typed name or id, without regard to case; -1 for none.
func Exact(typed string, among []Name) int {
	text := Fold(typed)
	return slices.IndexFunc(among, func(name Name) bool {
		return Fold(name.Name) == text || name.ID != "" && Fold(name.ID) == text
	})
}

// Find is the thing that is surely meant: the exact one, the only one that has those
// other words, the only one whose name begins so, or the only one of which one name has
// every word that was typed; -1 for none.
func Find(typed string, among []Name) int {
	if exact := Exact(typed, among); exact >= 0 {
		return exact
	}
	text := Fold(typed)
	if text == "" {
		return -1
	}
	if other := only(among, func(name Name) bool {
		return slices.ContainsFunc(name.Words, func(word string) bool { return Fold(word) == text })
	}); other >= 0 {
		return other
	}
	if begins := only(among, func(n Name) bool { return strings.HasPrefix(Fold(n.Name), text) }); begins >= 0 {
		return begins
	}
	if !tells(typed) {
		return -1
	}
	return only(among, having(typed))
}

// tells reports whether a word of three letters or more was typed: a number or a letter
// alone ("machine 2") may be part of any name.
func tells(typed string) bool {
	words := stemsOf(typed)
	if len(words) == 0 {
		words = plain(typed)
	}
	return slices.ContainsFunc(words, func(word string) bool {
		return len([]rune(word)) >= 3 && !strings.ContainsAny(word, "0123456789")
	})
}

// Near ranks the things that may be meant, best first: by slips of spelling in the whole
// name, then by words.
func Near(typed string, among []Name) []int {
	text := Fold(typed)
	if text == "" {
		return nil
	}
	type scored struct{ thing, slips int }
	var scores []scored
	for i, candidate := range among {
		name := Fold(candidate.Name)
		slips := diagnosis.Slips(text, name)
		if candidate.ID != "" {
			slips = min(slips, diagnosis.Slips(text, Fold(candidate.ID)))
		}
		if strings.Contains(name, text) {
			slips = min(slips, 2)
		}
		if slips <= max(2, len([]rune(text))/2) {
			scores = append(scores, scored{i, slips})
		}
	}
	slices.SortStableFunc(scores, func(a, b scored) int { return cmp.Compare(a.slips, b.slips) })
	var near []int
	for _, score := range scores {
		near = append(near, score.thing)
	}
	for _, thing := range ByWords(typed, among) {
		if !slices.Contains(near, thing) {
			near = append(near, thing)
		}
	}
	return near
}

// ByWords ranks the things that the words typed fit, best first, by all that each is
// called.
func ByWords(typed string, among []Name) []int {
	called := make([][]string, len(among))
	for i, name := range among {
		called[i] = name.all()
	}
	var things []int
	if len(diagnosis.Stems(typed)) == 0 {
		has := having(typed)
		for i, name := range among {
			if has(name) {
				things = append(things, i)
			}
		}
		return things
	}
	for _, found := range diagnosis.NewMatcher(called).Find(typed) {
		if found.Score >= likeness {
			things = append(things, found.Thing)
		}
	}
	return things
}

// all is everything that a thing is called.
func (n Name) all() []string { return append([]string{n.Name}, n.Words...) }

// only is the one thing of which something holds, -1 where it holds of none or several.
func only(among []Name, holds func(Name) bool) int {
	found := -1
	for i, name := range among {
		switch {
		case !holds(name):
		case found >= 0:
			return -1
		default:
			found = i
		}
	}
	return found
}

// having tells whether one of a thing's names has every word that was typed, of either
// form. Words that are too common to tell things apart count where nothing else was typed.
func having(typed string) func(Name) bool {
	stems := stemsOf
	words := stems(typed)
	if len(words) == 0 {
		stems = plain
		words = plain(typed)
	}
	return func(name Name) bool {
		if name.Every { // "planer oak" is no lathe of that name
			has := plain(strings.Join(name.all(), " "))
			all := plain(typed)
			return len(all) > 0 &&
				!slices.ContainsFunc(all, func(word string) bool { return !slices.Contains(has, word) })
		}
		return len(words) > 0 && slices.ContainsFunc(name.all(), func(called string) bool {
			has := stems(called)
			return !slices.ContainsFunc(words, func(word string) bool { return !slices.Contains(has, word) })
		})
	}
}

// stemsOf are the words that tell names apart, without their endings.
func stemsOf(text string) []string {
	words := diagnosis.Stems(text)
	for i, word := range words {
		if word == "kniv" {
			words[i] = "knif" // knives, knife
		}
	}
	return words
}

// plain are all words of a text but articles.
func plain(text string) []string {
	return slices.DeleteFunc(strings.Fields(strings.ReplaceAll(Fold(text), "-", " ")), func(word string) bool {
		return slices.Contains([]string{"the", "a", "an", "our", "my"}, word)
	})
}
