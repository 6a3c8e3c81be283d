package domain

import (
	"time"

	"setscrew/domain/upkeep"
)

// OpenHours is from when until when a shop is open on its open days, on its clocks:
// past midnight where Until is before From. The zero value is not set.
type OpenHours struct {
	From  upkeep.TimeOfDay `json:"from,omitempty"`
	Until upkeep.TimeOfDay `json:"until,omitempty"`
}

// UsualHours are the hours of a shop that has not set its own. Common practice, no
// source.
var UsualHours = OpenHours{From: upkeep.Clock(8, 0), Until: upkeep.Clock(22, 0)}

// BeforeOpening is how long before the shop opens a machine is taken out of service
// for what is overdue. A shop opens at BeforeOpening past midnight at the earliest, so
// that this is never the day before. Our own choice.
const BeforeOpening = 30 * time.Minute

// Good reports whether a shop can have these hours: not round the clock, and not from
// before BeforeOpening past midnight.
func (h OpenHours) Good() bool {
	return h.From != h.Until && time.Duration(h.From)*time.Minute >= BeforeOpening
}

// hours are the shop's, or the usual ones.
func (s Shop) hours() OpenHours {
	if s.Hours == (OpenHours{}) {
		return UsualHours
	}
	return s.Hours
}

// opening is one time for which a shop is open.
type opening struct{ from, until time.Time }

// opening is that which begins on the day of a moment, or days later; ok is false
// where the shop is closed on that day.
func (s Shop) opening(at time.Time, later int) (open opening, ok bool) {
	if !s.Calendar().IsOpen(s.on(upkeep.Clock(12, 0), at, later)) {
		return opening{}, false
	}
	hours := s.hours()
	end := later
	if hours.Until <= hours.From {
		end++
	}
	return opening{s.on(hours.From, at, later), s.on(hours.Until, at, end)}, true
}

// OpenAt reports whether the shop is open at a moment: from when it opens until just
// before it closes.
func (s Shop) OpenAt(t time.Time) bool {
	for _, day := range []int{-1, 0} {
		if o, ok := s.opening(t, day); ok && !t.Before(o.from) && t.Before(o.until) {
			return true
		}
	}
	return false
}

// NextClosing is when a shop closes on the next open day after a moment: the first whose
// opening begins after it. A shop that has not said its hours is open all day, until
// midnight. It is zero for a shop that does not open again within 400 days.
func (s Shop) NextClosing(from time.Time) time.Time {
	for day := range farthestOpening {
		open, ok := s.opening(from, day)
		if !ok {
			continue
		}
		if s.Hours == (OpenHours{}) {
			days := s.Calendar()
			open = opening{days.Midnight(open.from, 0), days.Midnight(open.from, 1)}
		}
		if from.Before(open.from) {
			return open.until
		}
	}
	return time.Time{}
}

// farthestOpening is how many days ahead an open day is looked for.
const farthestOpening = 400

// NextTagging is when a machine that is overdue from a moment on is taken out of
// service, and when the shop then opens: BeforeOpening before the first opening that
// the moment is not in or after, though never before the shop has closed the evening
// before, nor on an earlier day, which may lie in a closure. Both are zero for a shop
// that does not open again within 400 days.
func (s Shop) NextTagging(from time.Time) (tagging, opens time.Time) {
	for day := range farthestOpening {
		open, ok := s.opening(from, day)
		if !ok || !from.Before(open.from) {
			continue
		}
		tagging = open.from.Add(-BeforeOpening)
		if midnight := s.Calendar().Midnight(open.from, 0); tagging.Before(midnight) {
			tagging = midnight
		}
		before, ok := s.opening(open.from, -1)
		if ok && tagging.Before(before.until) && before.until.Before(open.from) {
			tagging = before.until
		}
		return tagging, open.from
	}
	return time.Time{}, time.Time{}
}
