package upkeep

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"setscrew/domain/quantity"
)

// WhenCode names why a time could not be taken.
type WhenCode string

// The codes: it cannot be read, or it has not come yet.
const (
	Unreadable WhenCode = "unreadable"
	Future     WhenCode = "future"
)

// WhenError is a time that cannot be taken, with one that can.
type WhenError struct {
	Input   string
	Code    WhenCode
	Example string
}

// Error says what was wrong, for logs.
func (e *WhenError) Error() string {
	return fmt.Sprintf("time %q: %s; such as %q", e.Input, e.Code, e.Example)
}

var (
	isoTime   = regexp.MustCompile(`^(\d{4})-(\d{1,2})-(\d{1,2})(?:[ t](\d{1,2})[:.](\d{2}))?$`)
	clockTime = regexp.MustCompile(`^(?:at )?(\d{1,2})[:.](\d{2})$`)
	dateTime  = regexp.MustCompile(`^(\d{1,2})\.? ([a-z]{3})[a-z]*\.?(?:,? (?:at )?(\d{1,2})[:.](\d{2}))?$`)
	dayTime   = regexp.MustCompile(`^([a-z]+)(?:,? (?:at )?(\d{1,2})[:.](\d{2}))?$`)
)

var weekdays = map[string]time.Weekday{
	"sunday": 0, "sun": 0, "monday": 1, "mon": 1, "tuesday": 2, "tue": 2, "wednesday": 3, "wed": 3,
	"thursday": 4, "thu": 4, "friday": 5, "fri": 5, "saturday": 6, "sat": 6,
}

// ParseWhen reads when something happened, as people write it, on the clocks of
// loc: "" or "now", "40 min ago", "2h30 ago", "17:30" (today), "today 9:15",
// "yesterday 17:30", "monday 10:00" (the last one), "2 Mar 18:00" (the last one), "2026-03-02 09:00". A day
// without a time is taken at noon, or now if that is earlier. What has not
// happened yet, and what cannot be read, is a *WhenError.
func ParseWhen(text string, now time.Time, loc *time.Location) (time.Time, error) {
	words := strings.Join(strings.Fields(strings.ToLower(text)), " ")
	if words == "" || words == "now" {
		return now, nil
	}
	when, ok := readWhen(words, now, loc)
	if !ok {
		return time.Time{}, &WhenError{text, Unreadable, "40 min ago"}
	}
	if when.After(now) {
		return time.Time{}, &WhenError{text, Future, "40 min ago"}
	}
	return when, nil
}

func readWhen(text string, now time.Time, loc *time.Location) (time.Time, bool) {
	// A time ago; a bare number would leave the unit to be guessed.
	if span, ok := strings.CutSuffix(text, " ago"); ok {
		ago, err := quantity.Parse(span, quantity.Context{Kind: quantity.Duration})
		if err != nil || ago.Bare || ago.Value.Sign() < 0 {
			return time.Time{}, false
		}
		seconds := ago.Value.Float(quantity.Second)
		if seconds > 100*365*24*3600 {
			return time.Time{}, false
		}
		return now.Add(-time.Duration(seconds * float64(time.Second))).Truncate(time.Second), true
	}
	// Written as a date, a time of day, or a day and month.
	year, thisMonth, today := now.In(loc).Date()
	if found := isoTime.FindStringSubmatch(text); found != nil {
		month, day := number(found[2]), number(found[3])
		if month < 1 || month > 12 || day < 1 ||
			day > time.Date(number(found[1]), time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day() {
			return time.Time{}, false
		}
		return onDay(number(found[1]), time.Month(month), day, found[4], found[5], now, loc)
	}
	if found := clockTime.FindStringSubmatch(text); found != nil {
		return onDay(year, thisMonth, today, found[1], found[2], now, loc)
	}
	if found := dateTime.FindStringSubmatch(text); found != nil {
		return lastDate(found, now, loc)
	}
	// A day by its name: today, yesterday, or the last weekday so called.
	found := dayTime.FindStringSubmatch(text)
	if found == nil {
		return time.Time{}, false
	}
	switch found[1] {
	case "today":
		return onDay(year, thisMonth, today, found[2], found[3], now, loc)
	case "yesterday":
		return onDay(year, thisMonth, today-1, found[2], found[3], now, loc)
	}
	wd, ok := weekdays[found[1]]
	if !ok {
		return time.Time{}, false
	}
	back := (int(now.In(loc).Weekday()) - int(wd) + 7) % 7
	when, ok := onDay(year, thisMonth, today-back, found[2], found[3], now, loc)
	if ok && when.After(now) { // the same weekday, later today: the one a week ago
		when, ok = onDay(year, thisMonth, today-back-7, found[2], found[3], now, loc)
	}
	return when, ok
}

// IsClock reports whether a text is a time of day alone.
func IsClock(s string) bool { return clockTime.MatchString(strings.ToLower(strings.TrimSpace(s))) }

var months = []string{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"}

// lastDate is the last time that a day and month, in the order of dateTime, came.
func lastDate(found []string, now time.Time, loc *time.Location) (time.Time, bool) {
	day, i := number(found[1]), slices.Index(months, found[2])
	if i < 0 || day < 1 {
		return time.Time{}, false
	}
	year, month := now.In(loc).Year(), time.Month(i+1)
	for y := year; y > year-9; y-- { // a leap day is at most eight years back
		if day > time.Date(y, month+1, 0, 0, 0, 0, 0, time.UTC).Day() {
			continue
		}
		if t, ok := onDay(y, month, day, found[3], found[4], now, loc); !ok || !t.After(now) {
			return t, ok
		}
	}
	return time.Time{}, false
}

// onDay is a time of that day, or noon (now, if that is earlier) without one.
func onDay(year int, month time.Month, day int, hours, minutes string, now time.Time, loc *time.Location) (time.Time,
	bool) {
	if hours == "" {
		moment := LocalTime(year, month, day, 12, 0, loc)
		if ny, nm, nd := now.In(loc).Date(); moment.After(now) &&
			LocalTime(year, month, day, 0, 0, loc).Equal(LocalTime(ny, nm, nd, 0, 0, loc)) {
			moment = now
		}
		return moment, true
	}
	at, err := ParseTimeOfDay(hours + ":" + minutes)
	if err != nil {
		return time.Time{}, false
	}
	return at.On(year, month, day, loc), true
}

// number reads digits that a pattern has let through.
func number(digits string) int {
	n, _ := strconv.Atoi(digits)
	return n
}

var inTime = regexp.MustCompile(`^(?:in )?(\d{1,3}) (day|week|month)s?$`)

// ParseUntil reads a day to come, as people write it, on the clocks of loc:
// "tomorrow", "friday" (the next one), "in 3 days", "2 weeks", "2026-03-20". It is
// the first moment of that day, after now and at most a year on; ok is false for
// anything else.
func ParseUntil(text string, now time.Time, loc *time.Location) (until time.Time, ok bool) {
	words := strings.TrimPrefix(strings.Join(strings.Fields(strings.ToLower(text)), " "), "until ")
	year, month, today := now.In(loc).Date()
	switch {
	case words == "tomorrow":
		until = LocalTime(year, month, today+1, 0, 0, loc)
	case isoTime.MatchString(words) && !strings.Contains(words, ":"):
		day, err := time.ParseInLocation(time.DateOnly, words, time.UTC)
		if err != nil {
			return until, false
		}
		until = LocalTime(day.Year(), day.Month(), day.Day(), 0, 0, loc)
	default:
		if weekday, named := weekdays[words]; named {
			ahead := (int(weekday)-int(now.In(loc).Weekday())+6)%7 + 1
			until = LocalTime(year, month, today+ahead, 0, 0, loc)
			break
		}
		span := inTime.FindStringSubmatch(words)
		if span == nil {
			return until, false
		}
		count, _ := strconv.Atoi(span[1])
		switch span[2] {
		case "week":
			until = LocalTime(year, month, today+7*count, 0, 0, loc)
		case "month":
			until = LocalTime(year, month+time.Month(count), today, 0, 0, loc)
		default:
			until = LocalTime(year, month, today+count, 0, 0, loc)
		}
	}
	return until, until.After(now) && !until.After(now.AddDate(1, 0, 1))
}
