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

// ShortestDays is the shortest time from one due day to the next, in days: a month
// counts a twelfth of 365 days; of a calendar's days the nearest of a dozen in a row
// from the year 2000 on. It is 0 for a rule by use alone.
func (r Rule) ShortestDays() int {
	shortest := 0
	take := func(days int) {
		if days > 0 && (shortest == 0 || days < shortest) {
			shortest = days
		}
	}
	take(r.Days)
	take(r.Months * 365 / 12)
	if r.Calendar == "" {
		return shortest
	}
	days, err := series(r.Calendar, time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))
	if err != nil {
		return shortest // the profile's linter refuses it
	}
	before := days.After(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC), true)
	for range 12 {
		next := days.After(before, false)
		take(int(next.Sub(before).Hours() / 24))
		before = next
	}
	return shortest
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
func When(rule Rule, use Use, now time.Time, days Days) Due {
	course := course{
		rule:     rule,
		days:     days,
		loc:      days.Loc,
		hours:    since(use.From),
		began:    use.From.At,
		lastDone: use.From.At,
		cover:    use.From.At,
	}
	due := Due{Counted: -1}
	for i, done := range use.Done {
		if course.take(done) {
			due.Counted = i
		}
	}
	return course.due(due, now)
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
func (c *course) take(done Done) bool {
	rule := c.rule
	early := rule.EarlyHours
	if !early.Valid() {
		early = quantity.Zero(quantity.Duration)
	}
	// Work counts if it reaches the point that is due, by hours or by days, or was asked for.
	used := c.hours.Sub(since(done)) // from the base until then
	window := LocalTime(c.day(done.At, rule.EarlyDays))
	byHours := rule.Hours.Valid() && used.Add(early).Cmp(rule.Hours) >= 0
	point := c.point()
	byDay := !point.IsZero() && !window.Before(point)
	if !byHours && !byDay && rule.CountsAll() && !done.Asked {
		return false
	}
	// Hours begin again at the point reached, or at the work itself.
	switch {
	case rule.FromDue && byHours: // on to the last point reached
		points := new(big.Int)
		quotient := used.Add(early).Per(rule.Hours)
		points.Quo(quotient.Num(), quotient.Denom())
		c.hours = c.hours.Sub(rule.Hours.Mul(new(big.Rat).SetInt(points)))
	default:
		c.hours = since(done)
	}
	c.lastDone = done.At
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
	rule := c.rule
	switch {
	case rule.Calendar != "":
		year, month, day := c.began.In(c.loc).Date()
		rRule, err := series(rule.Calendar, time.Date(year, month, day, 0, 0, 0, 0, time.UTC))
		if err != nil {
			return time.Time{} // the profile's linter refuses it
		}
		year, month, day = c.cover.In(c.loc).Date()
		next := rRule.After(time.Date(year, month, day, 0, 0, 0, 0, time.UTC), false)
		if next.IsZero() {
			return next
		}
		return LocalTime(next.Year(), next.Month(), next.Day(), 0, 0, c.loc)
	case !rule.dated():
		return time.Time{}
	case !rule.FromDue:
		return c.after(c.lastDone, 1)
	}
	count := 1
	for !c.after(c.began, count).After(c.cover) {
		count++
	}
	return c.after(c.began, count)
}

// after is the day a number of intervals after that of a moment, the shorter of days
// and months where a rule has both.
func (c *course) after(t time.Time, intervals int) time.Time {
	year, month, day := t.In(c.loc).Date()
	var on time.Time
	if c.rule.Days > 0 {
		on = LocalTime(year, month, day+intervals*c.rule.Days, 0, 0, c.loc)
	}
	if c.rule.Months > 0 {
		last := time.Date(year, month+time.Month(intervals*c.rule.Months)+1, 0, 0, 0, 0, 0, time.UTC) // of that month
		if by := LocalTime(last.Year(), last.Month(), min(day, last.Day()), 0, 0, c.loc); on.IsZero() || by.Before(on) {
			on = by
		}
	}
	return on
}

// due says where the rule stands at a moment.
func (c *course) due(due Due, now time.Time) Due {
	rule := c.rule
	// By hours of use.
	if rule.Hours.Valid() {
		due.Left = rule.Hours.Sub(c.hours)
		if due.Left.Sign() <= 0 {
			due.State = DueNow
			if rule.LateHours.Valid() && due.Left.Cmp(rule.LateHours.Neg()) <= 0 {
				due.State = Late
			}
		}
		due.Open = rule.EarlyHours.Valid() && due.Left.Cmp(rule.EarlyHours) <= 0
	}
	// By the calendar; the graver of the two states stands.
	if due.On = c.point(); !due.On.IsZero() {
		due.On = c.days.Next(due.On)
		if !now.Before(due.On) {
			due.State = max(due.State, DueNow)
		} else if due.State < DueNow {
			due.Next = due.On
		}
		if rule.LateDays > 0 {
			due.LateOn = c.days.Next(LocalTime(c.day(due.On, rule.LateDays)))
			if !now.Before(due.LateOn) {
				due.State = Late
			} else if due.State == DueNow {
				due.Next = due.LateOn
			}
		}
		if rule.EarlyDays > 0 && !now.Before(LocalTime(c.day(due.On, -rule.EarlyDays))) {
			due.Open = true
		}
	}
	due.Open = due.Open || due.State != NotDue || rule.Recurs() && !rule.CountsAll()
	return due
}

// series is a calendar's days, from one on, as midnights in UTC.
func series(rule string, from time.Time) (*rrule.RRule, error) {
	options, err := rrule.StrToROption(rule)
	if err != nil {
		return nil, fmt.Errorf("upkeep: calendar %q: %w", rule, err)
	}
	if options.Freq > rrule.DAILY || len(options.Byhour)+len(options.Byminute)+len(options.Bysecond) > 0 ||
		options.Count > 0 || !options.Until.IsZero() {
		return nil, fmt.Errorf("upkeep: calendar %q: days without end, such as FREQ=MONTHLY;BYDAY=1FR", rule)
	}
	options.Dtstart = from
	days, err := rrule.NewRRule(*options)
	if err != nil {
		return nil, fmt.Errorf("upkeep: calendar %q: %w", rule, err)
	}
	return days, nil
}

// LocalTime is the moment at which the clocks of loc show that date and time; a
// day outside its month counts on. A time that a change of the clocks skips is
// taken as far after the change as it stands after the start of the gap; of one
// that comes twice, the first counts.
func LocalTime(y int, m time.Month, d, hh, mm int, loc *time.Location) time.Time {
	guess := time.Date(y, m, d, hh, mm, 0, 0, loc)
	// What the clocks are to show, written as if in UTC.
	wall := time.Date(y, m, d, hh, mm, 0, 0, time.UTC)
	shown := func(t time.Time) time.Time {
		_, off := t.Zone()
		return t.Add(time.Duration(off) * time.Second).UTC()
	}
	// Offsets in force around the moment; each gives one candidate.
	_, before := guess.Add(-24 * time.Hour).Zone()
	_, after := guess.Add(24 * time.Hour).Zone()
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
