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
	s := strings.Join(strings.Fields(strings.ToLower(text)), " ")
	if s == "" || s == "now" {
		return now, nil
	}
	t, ok := readWhen(s, now, loc)
	if !ok {
		return time.Time{}, &WhenError{text, Unreadable, "40 min ago"}
	}
	if t.After(now) {
		return time.Time{}, &WhenError{text, Future, "40 min ago"}
	}
	return t, nil
}

func readWhen(s string, now time.Time, loc *time.Location) (time.Time, bool) {
	if span, ok := strings.CutSuffix(s, " ago"); ok {
		p, err := quantity.Parse(span, quantity.Context{Kind: quantity.Duration})
		if err != nil || p.Bare || p.Value.Sign() < 0 {
			return time.Time{}, false
		}
		seconds := p.Value.Float(quantity.Second)
		if seconds > 100*365*24*3600 {
			return time.Time{}, false
		}
		return now.Add(-time.Duration(seconds * float64(time.Second))).Truncate(time.Second), true
	}
	y, m, d := now.In(loc).Date()
	if f := isoTime.FindStringSubmatch(s); f != nil {
		month, day := number(f[2]), number(f[3])
		if month < 1 || month > 12 || day < 1 ||
			day > time.Date(number(f[1]), time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day() {
			return time.Time{}, false
		}
		return onDay(number(f[1]), time.Month(month), day, f[4], f[5], now, loc)
	}
	if f := clockTime.FindStringSubmatch(s); f != nil {
		return onDay(y, m, d, f[1], f[2], now, loc)
	}
	if f := dateTime.FindStringSubmatch(s); f != nil {
		return lastDate(f, now, loc)
	}
	f := dayTime.FindStringSubmatch(s)
	if f == nil {
		return time.Time{}, false
	}
	switch f[1] {
	case "today":
		return onDay(y, m, d, f[2], f[3], now, loc)
	case "yesterday":
		return onDay(y, m, d-1, f[2], f[3], now, loc)
	}
	wd, ok := weekdays[f[1]]
	if !ok {
		return time.Time{}, false
	}
	back := (int(now.In(loc).Weekday()) - int(wd) + 7) % 7
	t, ok := onDay(y, m, d-back, f[2], f[3], now, loc)
	if ok && t.After(now) { // the same weekday, later today: the one a week ago
		t, ok = onDay(y, m, d-back-7, f[2], f[3], now, loc)
	}
	return t, ok
}

// IsClock reports whether a text is a time of day alone.
func IsClock(s string) bool { return clockTime.MatchString(strings.ToLower(strings.TrimSpace(s))) }

var months = []string{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"}

// lastDate is the last time that a day and month, in the order of dateTime, came.
func lastDate(f []string, now time.Time, loc *time.Location) (time.Time, bool) {
	day, i := number(f[1]), slices.Index(months, f[2])
	if i < 0 || day < 1 {
		return time.Time{}, false
	}
	year, m := now.In(loc).Year(), time.Month(i+1)
	for y := year; y > year-9; y-- { // a leap day is at most eight years back
		if day > time.Date(y, m+1, 0, 0, 0, 0, 0, time.UTC).Day() {
			continue
		}
		if t, ok := onDay(y, m, day, f[3], f[4], now, loc); !ok || !t.After(now) {
			return t, ok
		}
	}
	return time.Time{}, false
}

// onDay is a time of that day, or noon (now, if that is earlier) without one.
func onDay(y int, m time.Month, d int, hours, minutes string, now time.Time, loc *time.Location) (time.Time, bool) {
	if hours == "" {
		t := LocalTime(y, m, d, 12, 0, loc)
		if ny, nm, nd := now.In(loc).Date(); t.After(now) &&
			LocalTime(y, m, d, 0, 0, loc).Equal(LocalTime(ny, nm, nd, 0, 0, loc)) {
			t = now
		}
		return t, true
	}
	at, err := ParseTimeOfDay(hours + ":" + minutes)
	if err != nil {
		return time.Time{}, false
	}
	return at.On(y, m, d, loc), true
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
func ParseUntil(text string, now time.Time, loc *time.Location) (t time.Time, ok bool) {
	s := strings.TrimPrefix(strings.Join(strings.Fields(strings.ToLower(text)), " "), "until ")
	y, m, d := now.In(loc).Date()
	switch {
	case s == "tomorrow":
		t = LocalTime(y, m, d+1, 0, 0, loc)
	case isoTime.MatchString(s) && !strings.Contains(s, ":"):
		day, err := time.ParseInLocation(time.DateOnly, s, time.UTC)
		if err != nil {
			return t, false
		}
		t = LocalTime(day.Year(), day.Month(), day.Day(), 0, 0, loc)
	default:
		if w, named := weekdays[s]; named {
			ahead := (int(w)-int(now.In(loc).Weekday())+6)%7 + 1
			t = LocalTime(y, m, d+ahead, 0, 0, loc)
			break
		}
		p := inTime.FindStringSubmatch(s)
		if p == nil {
			return t, false
		}
		n, _ := strconv.Atoi(p[1])
		switch p[2] {
		case "week":
			t = LocalTime(y, m, d+7*n, 0, 0, loc)
		case "month":
			t = LocalTime(y, m+time.Month(n), d, 0, 0, loc)
		default:
			t = LocalTime(y, m, d+n, 0, 0, loc)
		}
	}
	return t, t.After(now) && !t.After(now.AddDate(1, 0, 1))
}
