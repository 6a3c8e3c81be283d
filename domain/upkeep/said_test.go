package upkeep_test

import (
	"errors"
	"testing"
	"time"

	"pgregory.net/rapid"

	. "setscrew/domain/upkeep"
)

// What has happened is read back from how it is written, to the minute.
func TestParseWhenReadsWhatIsWritten(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		loc := drawZone(t)
		now := drawTime(t, "now")
		then := now.Add(
			-time.Duration(rapid.Int64Range(0, 1e8).Draw(t, "ago")) * time.Second,
		).In(
			loc,
		).Truncate(
			time.Minute,
		)
		typed := then.Format("2006-01-02 15:04")
		got, err := ParseWhen(typed, Clocks{Now: now, Loc: loc})
		if err != nil || got.After(then) || got.In(loc).Format("2006-01-02 15:04") != typed {
			t.Fatalf("ParseWhen(%q) = %v, %v; want %v", typed, got, err, then)
		}
	})
}

// Every day of the week is known by its name and by three letters of it, on the last and
// on the next such day; every month likewise.
func TestNamesOfDaysAndMonths(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 15, 0, 0, time.UTC) // a Wednesday
	for back := range 7 {
		if back == 0 {
			continue // today's own name is asked about
		}
		day := now.AddDate(0, 0, -back)
		for _, format := range []string{"Monday", "Mon", "Mon 15:04"} {
			got, err := ParseWhen(day.Format(format), Clocks{Now: now, Loc: time.UTC})
			if err != nil || got.Format(time.DateOnly) != day.Format(time.DateOnly) {
				t.Errorf("%s: %v, %v; want %s", day.Format(format), got, err, day.Format(time.DateOnly))
			}
		}
		ahead := now.AddDate(0, 0, 7-back)
		for _, format := range []string{"Monday", "Mon"} {
			got, err := ParseUntil(ahead.Format(format), Clocks{Now: now, Loc: time.UTC})
			if err != nil || got.Format(time.DateOnly) != ahead.Format(time.DateOnly) {
				t.Errorf("until %s: %v, %v; want %s", ahead.Format(format), got, err, ahead.Format(time.DateOnly))
			}
		}
	}
	for back := range 9 { // what is less than three months away is rather meant to come
		then := time.Date(2026, 3, 1, 9, 30, 0, 0, time.UTC).AddDate(0, -back, 0)
		for _, format := range []string{"2 Jan 15:04", "2 January 15:04", "2. Jan., 15:04"} {
			got, err := ParseWhen(then.Format(format), Clocks{Now: now, Loc: time.UTC})
			if err != nil || !got.Equal(then) {
				t.Errorf("%s: %v, %v; want %v", then.Format(format), got, err, then)
			}
		}
	}
}

func FuzzParseWhen(f *testing.F) {
	for _, s := range []string{"", "now", "40 min ago", "yesterday 17:30", "monday 10:00", "2026-03-29 02:30",
		"99:99", "9999999 wk ago"} {
		f.Add(s, int64(1774800000))
	}
	loc := zone(f, "Europe/Berlin")
	f.Fuzz(func(t *testing.T, text string, unix int64) {
		now := time.Unix(unix%4e9, 0)
		got, err := ParseWhen(text, Clocks{Now: now, Loc: loc})
		var w *WhenError
		switch {
		case err == nil && got.After(now):
			t.Fatalf("ParseWhen(%q) = %v, after %v", text, got, now)
		case err != nil && !errors.As(err, &w):
			t.Fatalf("ParseWhen(%q): %v", text, err)
		}
	})
}
