package domain

import (
	"cmp"
	"slices"
	"time"
)

// Away is days on which a steward is away, the first and the last among them, as dates
// of ISO 8601 in the shop's time; and who stands in for them.
type Away struct {
	Person PersonID `json:"person"`
	From   string   `json:"from,omitempty"` // "" for none at all
	Until  string   `json:"until,omitempty"`
	Deputy PersonID `json:"deputy,omitempty"`
}

// MostAway is how many times one steward may be away that are not over yet. Our own
// choice.
const MostAway = 10

// LongestAway is for how many days at once a steward may be away. Our own choice.
const LongestAway = 366

// on reports whether a date is one of the days.
func (a Away) on(date string) bool { return a.From != "" && a.From <= date && date <= a.Until }

// WithAway is s with days on which a steward is away: they take the place of those of
// the same steward that they overlap, or of all of them where there are none. What is
// over is left out. s itself is unchanged.
func (s Shop) WithAway(away Away, now time.Time) Shop {
	today := s.Date(now)
	s.Away = slices.DeleteFunc(slices.Clone(s.Away), func(a Away) bool {
		mine := a.Person == away.Person
		return a.Until < today || mine && (away.From == "" || a.From <= away.Until && away.From <= a.Until)
	})
	if away.From != "" && away.Until >= today {
		s.Away = append(s.Away, away)
	}
	slices.SortStableFunc(s.Away, func(a, b Away) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.Person, b.Person))
	})
	if len(s.Away) == 0 {
		s.Away = nil
	}
	return s
}

// AwayOf lists the days on which a person is away that are not over at a moment, soonest
// first.
func (s Shop) AwayOf(p PersonID, now time.Time) (all []Away) {
	for _, a := range s.Away {
		if a.Person == p && a.Until >= s.Date(now) {
			all = append(all, a)
		}
	}
	return all
}

// StandsIn is who is turned to in place of a person at a moment: the person, or while
// they are away their deputy, or that one's. Where all of them are away it is the first
// deputy.
func (s Shop) StandsIn(p PersonID, now time.Time) PersonID {
	date := s.Date(now)
	person, seen := p, []PersonID{p}
	for {
		i := slices.IndexFunc(s.Away, func(a Away) bool { return a.Person == person && a.on(date) })
		switch {
		case i < 0:
			return person
		case slices.Contains(seen, s.Away[i].Deputy):
			return seen[min(1, len(seen)-1)]
		}
		person = s.Away[i].Deputy
		seen = append(seen, person)
	}
}

// Deputies lists, each once, who stands in at a moment for those who are away.
func (s Shop) Deputies(now time.Time) (all []PersonID) {
	for _, a := range s.Away {
		if !a.on(s.Date(now)) {
			continue
		}
		if deputy := s.StandsIn(a.Person, now); !slices.Contains(all, deputy) {
			all = append(all, deputy)
		}
	}
	return all
}

// OnCall reports whether a person is called about dangers at a moment without being a
// steward: named by the shop, or named as deputy by somebody who is away.
func (s Shop) OnCall(p PersonID, now time.Time) bool {
	if s.Call != "" && (p == s.Call || p == s.StandsIn(s.Call, now)) {
		return true
	}
	return slices.ContainsFunc(s.Away, func(a Away) bool { return a.Deputy == p && a.on(s.Date(now)) })
}

// CalledLast lists, each once, who is called at a moment about a danger that nobody has
// said they see to: the person whom the shop named, and the deputies of those away. It
// is empty where nobody is named: the stewards are called once more.
func (s Shop) CalledLast(now time.Time) []PersonID {
	if s.Call == "" {
		return nil
	}
	named := s.StandsIn(s.Call, now)
	return append([]PersonID{named},
		slices.DeleteFunc(s.Deputies(now), func(p PersonID) bool { return p == named })...)
}
