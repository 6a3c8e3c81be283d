package domain

import (
	"slices"
	"time"
)

// How many tags, and how many dangers, of one person may stand on one machine before
// more of them join the last; and how many of everybody before those that somebody
// reports in another's name do. Our own choice.
const (
	MostOwn   = 20
	MostOfAll = 60
)

// How many reports of one person are taken in a minute and in a day; a log sheet of 40
// lines, or a machine's set-up confirmed value by value, is far from either. Our own
// choice.
const (
	MostInMinute = 100
	MostInDay    = 1000
)

// TakenAlways reports whether an entry is taken however much its person has reported: it
// stops a machine, or may have to. What it brought about is its outcome.
func TakenAlways(entry Entry, outcome Outcome) bool {
	switch body := entry.Body.(type) {
	case TagOut, TestEnded:
		return true
	case Problem:
		// What may be dangerous is asked about once.
		before := outcome.Before.Problem(body.Key())
		return body.Danger || body.Doubt && (before == nil || !before.Doubt)
	}
	return entry.By == "" || len(outcome.Hung) > 0
}

// Joined is what a tag or a danger adds nothing to: it is taken, and nothing is stored.
type Joined struct {
	Fact FactNo // the report that stands for it
	Full bool   // its words are not kept: there were MostOwn or MostOfAll of them
}

// JoinsWithin is how long a report of danger stands for the same one told again: what is
// told later is told of what goes on. Our own choice.
const JoinsWithin = 10 * time.Minute

// Joins finds what stands for a tag-out, or a report of danger, on a machine that is
// out of service and does not run under test: the same person's for the same reason, told
// by themselves, or their last where as many stand as may. A danger told before something
// was checked, or longer ago than JoinsWithin, stands for none that is told now. ok is
// false where the report says something new. Neither is ever refused, so this is what
// keeps one person from filling the books.
func Joins(before Status, entry Entry) (joined Joined, ok bool) {
	if !before.TaggedOut() || before.Test != nil {
		return Joined{}, false
	}
	var stands standing
	switch body := entry.Body.(type) {
	case TagOut:
		if body.Reason.Code == LockOn {
			return joinsLock(before, entry)
		}
		for _, tag := range before.Tags {
			if tag.Cause == "" && !tag.ReportWithdrawn && tag.Reason.Code != LockOn {
				stands.add(tag.Fact, tag.By == entry.For, entry.By == entry.For &&
					tag.Reason.Code == body.Reason.Code && tag.Reason.Name == body.Reason.Name &&
					tag.Reason.Text == body.Reason.Text && tag.Paper == body.Paper && body.Photo == nil)
			}
		}
	case Problem:
		if !body.Danger || movesAnything(before, body.Surfaces) {
			return Joined{}, false
		}
		for _, danger := range before.Dangers {
			said := danger.Problem
			stands.add(danger.Fact, danger.By == entry.For, said.Key() == body.Key() && said.Name == body.Name &&
				said.Note == body.Note && body.Photo == nil && entry.At.Sub(danger.At) < JoinsWithin &&
				!checkedSince(before, danger))
		}
	}
	return stands.joins(entry.For != entry.By)
}

// checkedSince reports whether a check was made after a danger was reported.
func checkedSince(before Status, danger Danger) bool {
	return slices.ContainsFunc(before.Checks, func(cs CheckStatus) bool { return cs.Latest.Fact > danger.Fact })
}

// joinsLock finds a person's lock that is on already. One that somebody has begun to take
// off by the procedure stands for no other.
func joinsLock(before Status, entry Entry) (Joined, bool) {
	for _, tag := range before.Locks() {
		if tag.By == entry.For && !tag.Lock.Asked.Done() {
			return Joined{Fact: tag.Fact}, true
		}
	}
	return Joined{}, false
}

// movesAnything reports whether surfaces that are said to have moved were to be relied
// on until now.
func movesAnything(before Status, surfaces []string) bool {
	return slices.ContainsFunc(surfaces, func(id string) bool {
		check := before.Check(id)
		return check != nil && (check.Freshness == Fresh || check.Freshness == Stale && check.StaleFrom != id)
	})
}

// standing is what stands already of what a report says.
type standing struct {
	same, last FactNo // the person's own: for the same reason, and the last
	any        FactNo // the last of all
	own, all   int
}

// add adds one that stands: whether it is the person's own, and says the same.
func (s *standing) add(no FactNo, own, same bool) {
	s.all, s.any = s.all+1, no
	if !own {
		return
	}
	s.own, s.last = s.own+1, no
	if same {
		s.same = no
	}
}

// joins is what stands for one more, which may be reported in another's name.
func (s *standing) joins(named bool) (Joined, bool) {
	switch {
	case s.same != 0:
		return Joined{Fact: s.same}, true
	case s.own >= MostOwn:
		return Joined{Fact: s.last, Full: true}, true
	case named && s.all >= MostOfAll:
		return Joined{Fact: s.any, Full: true}, true
	}
	return Joined{}, false
}
