package upkeep

import (
	"fmt"
	"time"
)

// TimeOfDay is a time that clocks show every day: in minutes since midnight, from
// 0 (00:00) to 1439 (23:59). It is stored as that number.
type TimeOfDay int

// Clock is the time of day at an hour from 0 to 23 and a minute from 0 to 59.
func Clock(hour, minute int) TimeOfDay { return TimeOfDay(60*hour + minute) }

// ParseTimeOfDay reads hours and minutes with a colon between, "18:00" or "9:05".
// An error says what else was typed; 24:00 is none, since the day ends before it.
func ParseTimeOfDay(text string) (TimeOfDay, error) {
	t, err := time.Parse("15:04", text)
	if err != nil {
		return 0, fmt.Errorf("upkeep: time of day %q: hours and minutes, such as 18:00: %w", text, err)
	}
	return Clock(t.Hour(), t.Minute()), nil
}

// String is the time as it is typed, with two digits each: "09:05".
func (t TimeOfDay) String() string { return fmt.Sprintf("%02d:%02d", t/60, t%60) }

// Later is the time of day that many minutes later, past midnight on the next day's
// clocks.
func (t TimeOfDay) Later(minutes int) TimeOfDay {
	const day = 24 * 60
	return TimeOfDay(((int(t)+minutes)%day + day) % day)
}

// On is the moment at which the clocks of loc show the time on a date; a day
// outside its month counts on. See LocalTime for a time that a change of the clocks
// skips, or brings twice.
func (t TimeOfDay) On(y int, m time.Month, d int, loc *time.Location) time.Time {
	return LocalTime(y, m, d, int(t)/60, int(t)%60, loc)
}
