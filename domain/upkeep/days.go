package upkeep

import (
	"slices"
	"time"
)

// Days is a shop's calendar: its time zone, the days of the week on which it is
// open (every day if there are none), and the days on which it is closed besides.
type Days struct {
	Loc    *time.Location
	Open   []time.Weekday
	Closed []Closure
}

// Closure is days in a row, the first and the last among them, as dates of ISO
// 8601: 2026-12-24.
type Closure struct {
	First string `json:"first"`
	Last  string `json:"last"`
}

// IsOpen reports whether the shop is open on the day of a moment.
func (d Days) IsOpen(t time.Time) bool {
	t = t.In(d.Loc)
	date := t.Format(time.DateOnly)
	return (len(d.Open) == 0 || slices.Contains(d.Open, t.Weekday())) &&
		!slices.ContainsFunc(d.Closed, func(c Closure) bool { return c.First <= date && date <= c.Last })
}

// Midnight is the first moment of the day that is a number of days after that of a
// moment.
func (d Days) Midnight(of time.Time, later int) time.Time {
	year, month, day := of.In(d.Loc).Date()
	return LocalTime(year, month, day+later, 0, 0, d.Loc)
}

// farthest is how many days in a row a shop may be closed and a day still be
// found.
const farthest = 400

// Next is the first moment of the first open day from that of a moment on; the
// day itself where none is open for more than a year.
func (d Days) Next(moment time.Time) time.Time {
	for n := range farthest {
		if at := d.Midnight(moment, n); d.IsOpen(at) {
			return at
		}
	}
	return d.Midnight(moment, 0)
}
