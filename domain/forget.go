package domain

import (
	"slices"
	"strings"
	"time"
)

// formerMark is what the id begins with that stands for a person who was forgotten. No chat
// gives an account such an id.
const formerMark = "former-"

// FormerID is the id that stands for a person who was forgotten, by a code that tells them
// from others who were, and from which nobody learns who it was.
func FormerID(code string) PersonID { return PersonID(formerMark + code) }

// Former reports whether an id stands for a person who was forgotten.
func (p PersonID) Former() bool { return strings.HasPrefix(string(p), formerMark) }

// FormerMember is what stands in a text in place of the mention of a person who was
// forgotten.
const FormerMember = "a former member"

// KeptFor says why a report stays under a person's name although they are forgotten.
type KeptFor string

// The reasons. Each ends by itself: with another lock, inspection, settings …
const (
	KeptLock       KeptFor = "lock"       // their personal lock is on
	KeptProcedure  KeptFor = "procedure"  // what they noted of another's lock waits for a second person
	KeptLoosening  KeptFor = "loosening"  // what they asked for loosens a safety check, and waits for another steward
	KeptSecond     KeptFor = "second"     // a second person is still to confirm their inspection
	KeptInspection KeptFor = "inspection" // the last that a law or an authority asks for: who made it must be known
	KeptTest       KeptFor = "test"       // a machine runs under test by them
	KeptHandover   KeptFor = "handover"   // what they left apart waits to be taken over
	KeptCalled     KeptFor = "called"     // the settings name them for when nobody sees to a danger
	KeptSteward    KeptFor = "steward"    // they acted as a steward within StewardKept: what takes two counts on it
	KeptAway       KeptFor = "away"       // days on which they are away, or stand in for somebody, are not over
)

// ForgetAgain is how long after a person was forgotten they may be again: all of the books is
// gone through each time. Our own choice.
const ForgetAgain = 24 * time.Hour

// StewardKept is how long it stays known that somebody acted as a steward: where no other is
// known, one may do after a day what else takes two. Our own choice.
const StewardKept = 30 * 24 * time.Hour

// Kept is a report that stays under a person's name until something takes its place.
type Kept struct {
	For     KeptFor `json:"for"`
	Machine string  `json:"machine,omitempty"` // its name
	Fact    FactNo  `json:"fact,omitempty"`
	Name    string  `json:"name,omitempty"` // of the check
}

// Forgetting is what is, or would be, taken out of the books about a person, and what stays.
type Forgetting struct {
	Reports int // that they typed, or that are about them; once it is done, without those that stay
	Kept    []Kept
}

// KeptOf lists what must stay under a person's name of a machine.
func (s Status) KeptOf(p PersonID) (all []Kept) {
	add := func(why KeptFor, no FactNo, name string) {
		all = append(all, Kept{why, s.Machine.Name, no, name})
	}
	for _, tag := range s.Locks() {
		if tag.By == p {
			add(KeptLock, tag.Fact, "")
		}
		if tag.Lock.Noted.Done() && tag.Lock.Noted.By == p {
			add(KeptProcedure, tag.Lock.Noted.Fact, "")
		}
	}
	if s.Loosening != nil && s.Loosening.By == p {
		add(KeptLoosening, s.Loosening.Fact, "")
	}
	for _, check := range s.Checks {
		if check.Latest.By != p || check.Latest.Inspection == nil {
			continue
		}
		switch {
		case check.Check.Qualified || check.Check.Authority:
			add(KeptInspection, check.Latest.Fact, check.Check.Name)
		case check.Unseconded:
			add(KeptSecond, check.Latest.Fact, check.Check.Name)
		}
	}
	if s.Test != nil && s.Test.By == p {
		add(KeptTest, s.Test.Fact, "")
	}
	if s.Handover != nil && s.Handover.By == p {
		add(KeptHandover, s.Handover.Fact, "")
	}
	return all
}

// KeptOf lists what must stay under a person's name of the shop's settings at a moment.
func (s Shop) KeptOf(p PersonID, now time.Time) (all []Kept) {
	if s.Call == p {
		all = append(all, Kept{For: KeptCalled})
	}
	if slices.ContainsFunc(s.WithAway(Away{}, now).Away, func(a Away) bool {
		return a.Person == p || a.Deputy == p
	}) {
		all = append(all, Kept{For: KeptAway})
	}
	return all
}
