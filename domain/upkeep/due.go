// Package upkeep says when recurring work falls due, and when what people
// report happened.
package upkeep

import (
	"fmt"
	"math/big"
	"time"

	"github.com/teambition/rrule-go"

	"setscrew/domain/quantity"
)

// Rule is how often work is done: every number of hours of use, of days or of
// months, on days that a calendar names, or whichever of them comes first. An
// absent part (Hours not Valid, Days and Months 0, Calendar "") does not count.
type Rule struct {
	Hours    quantity.Value
	Days     int    // a week is seven
	Months   int    // a year is twelve
	Calendar string // an RRULE of RFC 5545, by days: FREQ=MONTHLY;BYDAY=1FR
	Named    string // the days of Calendar in words: "first Friday of each month"

	// The early window: how long before it falls due the work may be done so that
	// it counts. Where both are absent it counts however early it is done, but for
	// a rule from when it was due, or on a calendar's days: these count from the
	// day on.
	EarlyHours quantity.Value
	EarlyDays  int
	// The late limit is how far past its due point work may be put off. One that is
	// absent means that the work is never late by it.
	LateHours quantity.Value
	LateDays  int
	// FromDue counts from when the work was due and not from when it was done.
	FromDue bool
}

// Recurs reports whether the work ever falls due by itself.
func (r Rule) Recurs() bool { return r.Hours.Valid() || r.dated() }

// dated reports whether it falls due by the calendar.
func (r Rule) dated() bool { return r.Days > 0 || r.Months > 0 || r.Calendar != "" }

// CountsAll reports whether every time that the work was done since counting began
// matters, and not the last time only.
func (r Rule) CountsAll() bool {
	return r.FromDue || r.Calendar != "" || r.EarlyHours.Valid() || r.EarlyDays > 0
}

// Check refuses a rule that cannot be reckoned with, with the reason.
func (r Rule) Check() error {
	if r.Calendar == "" {
		return nil
	}
	if _, err := series(r.Calendar, time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)); err != nil {
		return err
	}
	return nil
}

// Done is one time that work was done, or the moment at which counting began.
type Done struct {
	At    time.Time
	Since quantity.Value // hours of use between it and now; may be absent for a rule without hours
	Asked bool           // something asked for it then, so that it counts however early it was
}

// Use is what a rule is counted from: when counting began, and every time that
// the work was done after that, oldest first. For a rule that does not count all
// of them (CountsAll) the last time alone, as From, is the same.
type Use struct {
	From Done
	Done []Done
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
	State   State
	Left    quantity.Value // hours of use left, negative when over; absent for a rule without hours
	On      time.Time      // the day it falls due, at its first moment; zero for a rule without days
	LateOn  time.Time      // the moment its late limit passes, zero likewise
	Next    time.Time      // the next moment after now at which time alone changes State; zero if none
	Open    bool           // it may be done now and counts: due, or within its early window
	Counted int            // which time it was done counts, as an index of Use.Done; -1 for none
}

// When applies a rule. By use:
//
//	left = every - since,  due if left ≤ 0, late if left ≤ -late hours
//
// By the shop's calendar: due from the first moment of the day that is Days
// after the day of the last time, or of the same day Months later
// (the month's last where it has no such day; counted from when it was due it
// comes back to the day itself), or of the next of the calendar's days; late from
// the first moment of the day LateDays after that. Either that falls on a day on
// which the shop is closed is put off to the next open one; later points are
// counted from the day itself.
//
// What was done before the early window of the point then due does not count. A
// rule from when it was due goes on from the last point that what was done
// reaches, its early window included.
func When(r Rule, u Use, now time.Time, days Days) Due {
	c := course{
		rule:     r,
		days:     days,
		loc:      days.Loc,
		hours:    since(u.From),
		began:    u.From.At,
		lastDone: u.From.At,
		cover:    u.From.At,
	}
	d := Due{Counted: -1}
	for i, x := range u.Done {
		if c.take(x) {
			d.Counted = i
		}
	}
	return c.due(d, now)
}

// course is how far what was done has brought a rule.
type course struct {
	rule     Rule
	days     Days
	loc      *time.Location
	hours    quantity.Value // of use since the point that hours are counted from, until now
	began    time.Time      // when counting began
	lastDone time.Time      // the last time that counts
	cover    time.Time      // up to where points of the calendar are done
}

func since(d Done) quantity.Value {
	if d.Since.Valid() {
		return d.Since
	}
	return quantity.Zero(quantity.Duration)
}

// take goes on by one time that the work was done, and reports whether it counts.
func (c *course) take(x Done) bool {
	r := c.rule
	early := r.EarlyHours
	if !early.Valid() {
		early = quantity.Zero(quantity.Duration)
	}
	used := c.hours.Sub(since(x)) // from the base until then
	window := LocalTime(c.day(x.At, r.EarlyDays))
	byHours := r.Hours.Valid() && used.Add(early).Cmp(r.Hours) >= 0
	point := c.point()
	byDay := !point.IsZero() && !window.Before(point)
	if !byHours && !byDay && r.CountsAll() && !x.Asked {
		return false
	}
	switch {
	case r.FromDue && byHours: // on to the last point reached
		n := new(big.Int)
		q := used.Add(early).Per(r.Hours)
		n.Quo(q.Num(), q.Denom())
		c.hours = c.hours.Sub(r.Hours.Mul(new(big.Rat).SetInt(n)))
	default:
		c.hours = since(x)
	}
	c.lastDone = x.At
	if window.After(c.cover) {
		c.cover = window
	}
	return true
}

// day is the day that is a number of days after that of a moment, as LocalTime takes it.
func (c *course) day(t time.Time, days int) (y int, m time.Month, d, hh, mm int, loc *time.Location) {
	y, m, d = t.In(c.loc).Date()
	return y, m, d + days, 0, 0, c.loc
}

// point is the first moment of the day on which it falls due next; zero for a
// rule without days.
func (c *course) point() time.Time {
	r := c.rule
	switch {
	case r.Calendar != "":
		y, m, d := c.began.In(c.loc).Date()
		s, err := series(r.Calendar, time.Date(y, m, d, 0, 0, 0, 0, time.UTC))
		if err != nil {
			return time.Time{} // the profile's linter refuses it
		}
		y, m, d = c.cover.In(c.loc).Date()
		next := s.After(time.Date(y, m, d, 0, 0, 0, 0, time.UTC), false)
		if next.IsZero() {
			return next
		}
		return LocalTime(next.Year(), next.Month(), next.Day(), 0, 0, c.loc)
	case !r.dated():
		return time.Time{}
	case !r.FromDue:
		return c.after(c.lastDone, 1)
	}
	n := 1
	for !c.after(c.began, n).After(c.cover) {
		n++
	}
	return c.after(c.began, n)
}

// after is the day n intervals after that of a moment, the shorter of days
// and months where a rule has both.
func (c *course) after(t time.Time, n int) time.Time {
	y, m, d := t.In(c.loc).Date()
	var on time.Time
	if c.rule.Days > 0 {
		on = LocalTime(y, m, d+n*c.rule.Days, 0, 0, c.loc)
	}
	if c.rule.Months > 0 {
		last := time.Date(y, m+time.Month(n*c.rule.Months)+1, 0, 0, 0, 0, 0, time.UTC) // of that month
		if by := LocalTime(last.Year(), last.Month(), min(d, last.Day()), 0, 0, c.loc); on.IsZero() || by.Before(on) {
			on = by
		}
	}
	return on
}

// due says where the rule stands at a moment.
func (c *course) due(d Due, now time.Time) Due {
	rule := c.rule
	if rule.Hours.Valid() {
		d.Left = rule.Hours.Sub(c.hours)
		if d.Left.Sign() <= 0 {
			d.State = DueNow
			if rule.LateHours.Valid() && d.Left.Cmp(rule.LateHours.Neg()) <= 0 {
				d.State = Late
			}
		}
		d.Open = rule.EarlyHours.Valid() && d.Left.Cmp(rule.EarlyHours) <= 0
	}
	if d.On = c.point(); !d.On.IsZero() {
		d.On = c.days.Next(d.On)
		if !now.Before(d.On) {
			d.State = max(d.State, DueNow)
		} else if d.State < DueNow {
			d.Next = d.On
		}
		if rule.LateDays > 0 {
			d.LateOn = c.days.Next(LocalTime(c.day(d.On, rule.LateDays)))
			if !now.Before(d.LateOn) {
				d.State = Late
			} else if d.State == DueNow {
				d.Next = d.LateOn
			}
		}
		if rule.EarlyDays > 0 && !now.Before(LocalTime(c.day(d.On, -rule.EarlyDays))) {
			d.Open = true
		}
	}
	d.Open = d.Open || d.State != NotDue || rule.Recurs() && !rule.CountsAll()
	return d
}

// series is a calendar's days, from one on, as midnights in UTC.
func series(rule string, from time.Time) (*rrule.RRule, error) {
	o, err := rrule.StrToROption(rule)
	if err != nil {
		return nil, fmt.Errorf("upkeep: calendar %q: %w", rule, err)
	}
	if o.Freq > rrule.DAILY || len(o.Byhour)+len(o.Byminute)+len(o.Bysecond) > 0 || o.Count > 0 || !o.Until.IsZero() {
		return nil, fmt.Errorf("upkeep: calendar %q: days without end, such as FREQ=MONTHLY;BYDAY=1FR", rule)
	}
	o.Dtstart = from
	r, err := rrule.NewRRule(*o)
	if err != nil {
		return nil, fmt.Errorf("upkeep: calendar %q: %w", rule, err)
	}
	return r, nil
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
