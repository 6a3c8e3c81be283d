package upkeep

import (
	"time"

	"setscrew/domain/quantity"
)

// In is the calendar of a zone, open every day.
func In(loc *time.Location) Days { return Days{Loc: loc} }

// Points lists the first n days on which a rule falls due, at their first
// moments, if the work is done each time when it is due, from the day that
// counting began. Of a calendar that day itself may be one.
func Points(rule Rule, from time.Time, count int, loc *time.Location) []time.Time {
	var all []time.Time
	walk := course{
		rule:     rule,
		days:     In(loc),
		loc:      loc,
		hours:    quantity.Zero(quantity.Duration),
		began:    from,
		lastDone: from,
		cover:    from,
	}
	if rule.Calendar != "" {
		walk.cover = LocalTime(walk.day(from, -1)) // the day itself counts
	}
	for range count {
		at := walk.point()
		if at.IsZero() {
			break
		}
		all = append(all, at)
		walk.lastDone, walk.cover = at, at
	}
	return all
}

// TimeOfDayAt is what the clocks of loc show at a moment, to the minute begun.
func TimeOfDayAt(t time.Time, loc *time.Location) TimeOfDay {
	t = t.In(loc)
	return Clock(t.Hour(), t.Minute())
}
