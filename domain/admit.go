package domain

import (
	"math/big"
	"slices"

	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Admit says whether a machine's status allows an entry, or why not. Today only
// a release can be refused: it needs a tag to lift, nothing that blocks, a word
// on every danger reported, and an answer about a tag that someone else hung.
func Admit(before Status, e Entry) *Refusal {
	r, ok := e.Body.(Release)
	if !ok {
		return nil
	}
	switch {
	case !before.TaggedOut():
		return &Refusal{Code: NotTagged, Name: before.Machine.Name}
	case len(before.Blockers) > 0:
		return &Refusal{Code: Blocked, Name: before.Machine.Name, Blockers: before.Blockers}
	case len(before.Dangers) > 0 && r.Note == "":
		return &Refusal{Code: NoteNeeded, Name: before.Machine.Name, Fact: before.Dangers[0].Fact}
	case OthersHung(before.Tags, e.By) && r.Owner == "":
		return &Refusal{Code: OwnerNotAsked, Name: before.Machine.Name}
	}
	return nil
}

// OthersHung reports whether a person other than p hung one of the tags.
func OthersHung(tags []Tag, p PersonID) bool {
	return slices.ContainsFunc(tags, func(t Tag) bool { return t.By != "" && t.By != p })
}

// Unlikely reports whether a value at any position is ten times the target or
// more, or a tenth of it or less: more likely a slip of the unit or the decimal
// point than the machine. A check whose target is zero or absent has no such
// values.
func Unlikely(c *profile.Check, values []quantity.At) bool {
	if !c.Target.Valid() || c.Target.Sign() == 0 {
		return false
	}
	ten := big.NewRat(10, 1)
	t := c.Target.Abs()
	return slices.ContainsFunc(values, func(at quantity.At) bool {
		return slices.ContainsFunc(at.Repeats, func(v quantity.Value) bool {
			v = v.Abs()
			return v.Cmp(t.Mul(ten)) >= 0 || v.Mul(ten).Cmp(t) <= 0
		})
	})
}
