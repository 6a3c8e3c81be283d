// Package upkeep says when recurring work falls due, and when what people
// report happened.
package upkeep

import (
	"time"

	"setscrew/domain/quantity"
)

// Rule is how often work is done: every so many hours of use, every so many
// days, or whichever comes first. An absent part (Hours not Valid, Days 0) does
// not count. The late limit is how far past its due point work may be put off.
type Rule struct {
	Hours     quantity.Value
	Days      int
	LateHours quantity.Value
	LateDays  int
}

// Use is what a rule is counted from.
type Use struct {
	Since quantity.Value // hours of use since Last; may be absent for a rule without hours
	Last  time.Time      // when the work was last done, or when counting began
}

// State is how far work is due.
type State uint8

// The states. Late: past the late limit.
const (
	NotDue State = iota
	DueNow
	Late
)

// Due is when work falls due.
type Due struct {
	State  State
	Left   quantity.Value // hours of use left, negative when over; absent for a rule without hours
	On     time.Time      // the day it falls due, at its first moment; zero for a rule without days
	LateOn time.Time      // the moment its late limit passes, zero likewise
	Next   time.Time      // the next moment after now at which time alone changes State; zero if none
}

// When applies a rule. By use:
//
//	left = every - since,  due if left ≤ 0, late if left ≤ -late hours
//
// By the calendar of loc: due from the first moment of the day that is Days
// after the day of Last, late from the first moment of the day LateDays after
// that. A late part that is absent means that the work is never late by it.
func When(r Rule, u Use, now time.Time, loc *time.Location) Due {
	var d Due
	if r.Hours.Valid() {
		since := u.Since
		if !since.Valid() {
			since = quantity.Zero(quantity.Duration)
		}
		d.Left = r.Hours.Sub(since)
		if d.Left.Sign() <= 0 {
			d.State = DueNow
			if r.LateHours.Valid() && d.Left.Cmp(r.LateHours.Neg()) <= 0 {
				d.State = Late
			}
		}
	}
	if r.Days > 0 {
		y, m, day := u.Last.In(loc).Date()
		d.On = LocalTime(y, m, day+r.Days, 0, 0, loc)
		if !now.Before(d.On) {
			d.State = max(d.State, DueNow)
		} else if d.State < DueNow {
			d.Next = d.On
		}
		if r.LateDays > 0 {
			d.LateOn = LocalTime(y, m, day+r.Days+r.LateDays, 0, 0, loc)
			if !now.Before(d.LateOn) {
				d.State = Late
			} else if d.State == DueNow {
				d.Next = d.LateOn
			}
		}
	}
	return d
}

// LocalTime is the moment at which the clocks of loc show that date and time; a
// day outside its month counts on. A time that a change of the clocks skips is
// taken as far after the change as it stands after the start of the gap; of one
// that comes twice, the first counts.
func LocalTime(y int, m time.Month, d, hh, mm int, loc *time.Location) time.Time {
	t := time.Date(y, m, d, hh, mm, 0, 0, loc)
	// What the clocks are to show, written as if in UTC.
	wall := time.Date(y, m, d, hh, mm, 0, 0, time.UTC)
	shown := func(t time.Time) time.Time {
		_, off := t.Zone()
		return t.Add(time.Duration(off) * time.Second).UTC()
	}
	// Offsets in force around the moment; each gives one candidate.
	_, before := t.Add(-24 * time.Hour).Zone()
	_, after := t.Add(24 * time.Hour).Zone()
	first := wall.Add(-time.Duration(before) * time.Second).In(loc)
	second := wall.Add(-time.Duration(after) * time.Second).In(loc)
	switch {
	case shown(first).Equal(wall) && shown(second).Equal(wall):
		if second.Before(first) {
			return second
		}
		return first
	case shown(first).Equal(wall):
		return first
	case shown(second).Equal(wall):
		return second
	}
	return first // in the gap: counted with the offset before the change
}
