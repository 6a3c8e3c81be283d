package domain

import (
	"slices"
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Shown is what a safety check's reading shows of its stop limits.
type Shown uint8

// Undecided: neither proved within them nor read outside; within: proved so at every
// position; outside: read so at some position.
const (
	ShownUndecided Shown = iota
	ShownWithin
	ShownOutside
)

// Shows is what a reading of a check shows of its stop limits.
func Shows(check *profile.Check, reading *Reading) Shown {
	cs := CheckStatus{Check: check.In(reading.Mode)}
	judge(&cs, reading)
	switch {
	case outsideStop(cs):
		return ShownOutside
	case cs.Grade == metrology.MaybeStop:
		return ShownUndecided
	}
	return ShownWithin
}

// goNoGo takes into account a check's go/no-go check that was made since its last
// reading: one that fails stops the machine; one that passes proves what is read.
func goNoGo(snap Snapshot, cs *CheckStatus) {
	made, ok := snap.GoNoGo[cs.Check.ID]
	if !ok || made.Inspection == nil || made.At.Before(cs.Latest.At) ||
		made.At.Equal(cs.Latest.At) && made.Fact < cs.Latest.Fact {
		return
	}
	cs.GoNoGo = &made
	switch {
	case !made.Inspection.Pass:
		cs.Advice = AdviceStop
	case cs.Advice == AdviceMeasureToday && cs.Check.ProvesByPiece():
		cs.Advice = AdvicePlan
		if !slices.ContainsFunc(cs.At, func(p PositionVerdict) bool { return !p.Verdict.InsideAdjust }) {
			cs.Advice = AdviceNone
		}
	}
}

// Proved reports whether a go/no-go check proved the last reading.
func (c CheckStatus) Proved() bool {
	return c.GoNoGo != nil && c.GoNoGo.Inspection.Pass && c.Check.ProvesByPiece()
}

// noGo reports whether a go/no-go check failed since the last reading.
func (c CheckStatus) noGo() bool { return c.GoNoGo != nil && !c.GoNoGo.Inspection.Pass }

// shownBy is the report that a check's state rests on.
func (c CheckStatus) shownBy() FactNo {
	if c.noGo() {
		return c.GoNoGo.Fact
	}
	return c.Latest.Fact
}

// proveBy is when a machine is taken out of service for a safety value that reads within
// its stop limits and is not proved, counted from the first of the readings in a row that
// prove nothing; zero for none. That what it is measured from moved since proves nothing
// either; where its own surface moved it must be read before the machine runs at all.
func proveBy(snap Snapshot, cs *CheckStatus) time.Time {
	if cs.Check.Class != profile.Safety || cs.Check.Inspection || cs.Freshness == Unread || cs.Proved() ||
		cs.Grade != metrology.MaybeStop || outsideStop(*cs) || cs.Freshness == Stale && cs.StaleFrom == cs.Check.ID {
		return time.Time{}
	}
	since := cs.Latest.At
	if first, ok := snap.Undecided[cs.Check.ID]; ok && first.Before(since) {
		since = first
	}
	return snap.Shop.NextClosing(since)
}

// Deciding lists which of some gauges would prove, by one reading at each position that
// reads the same, that a check's last reading lies within its stop limits.
func Deciding(cs CheckStatus, gauges []metrology.Gauge) []int {
	var decide []int
	for i, gauge := range gauges {
		budget := metrology.Evaluate(gauge, 1, 0, Level)
		proves := func(y, u quantity.Value, stop metrology.Limits) bool {
			return metrology.Judge(y, u, stop) == metrology.Proved
		}
		all := true
		for _, at := range cs.At {
			all = all && proves(at.Verdict.Value, budget.U(), at.Verdict.Stop)
		}
		if cs.Alike != nil {
			both, _ := metrology.Difference(budget, budget)
			all = all && proves(cs.Alike.Verdict.Value, both.U(), cs.Alike.Verdict.Stop)
		}
		if all {
			decide = append(decide, i)
		}
	}
	return decide
}
