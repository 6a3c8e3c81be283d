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
		got, err := ParseWhen(typed, now, loc)
		if err != nil || got.After(then) || got.In(loc).Format("2006-01-02 15:04") != typed {
			t.Fatalf("ParseWhen(%q) = %v, %v; want %v", typed, got, err, then)
		}
	})
}

func TestParseWhen(t *testing.T) {
	loc := zone(t, "Europe/Berlin")
	now := time.Date(2026, 3, 4, 10, 15, 30, 0, loc) // a Wednesday
	at := func(d, hh, mm int) time.Time { return time.Date(2026, 3, d, hh, mm, 0, 0, loc) }
	for _, test := range []struct {
		in   string
		want time.Time
	}{
		{"", now}, {"now", now},
		{"40 min ago", now.Add(-40 * time.Minute)}, {"2h30 ago", now.Add(-150 * time.Minute)},
		{"3 days ago", now.Add(-72 * time.Hour)},
		{"9:15", at(4, 9, 15)}, {"09.15", at(4, 9, 15)}, {"at 9:15", at(4, 9, 15)},
		{"today 9:15", at(4, 9, 15)}, {"Yesterday 17:30", at(3, 17, 30)}, {"yesterday", at(3, 12, 0)},
		{"today", now}, {"monday 10:00", at(2, 10, 0)}, {"wed 9:00", at(4, 9, 0)},
		{"wednesday 11:00", time.Date(2026, 2, 25, 11, 0, 0, 0, loc)},
		{"2026-03-02 09:00", at(2, 9, 0)}, {"2026-03-02", at(2, 12, 0)}, {"  2026-03-02   9:00 ", at(2, 9, 0)},
		{"2 Mar 9:00", at(2, 9, 0)}, {"2. March, 09:00", at(2, 9, 0)}, {"4 mar", now},
		{"5 Mar 09:00", time.Date(2025, 3, 5, 9, 0, 0, 0, loc)},
		{"29 Feb 8:00", time.Date(2024, 2, 29, 8, 0, 0, 0, loc)},
		{"2026-03-02T09:00", at(2, 9, 0)}, {"2026-02-28 23:59", time.Date(2026, 2, 28, 23, 59, 0, 0, loc)},
	} {
		got, err := ParseWhen(test.in, now, loc)
		if err != nil || !got.Equal(test.want) {
			t.Errorf("ParseWhen(%q) = %v, %v; want %v", test.in, got, err, test.want)
		}
	}
	for in, code := range map[string]WhenCode{
		"tomorrow": Unreadable, "soon": Unreadable, "25:00": Unreadable, "9:75": Unreadable, "40 ago": Unreadable,
		"-3 h ago":         Unreadable,
		"2026-02-30 10:00": Unreadable, "2026-13-01": Unreadable, "200 years ago": Unreadable,
		"6000 wk ago": Unreadable, "9999999999 wk ago": Unreadable, "2h30": Unreadable, "30 Feb": Unreadable,
		"0 Mar": Unreadable, "2 Foo": Unreadable, "2 Mar 25:00": Unreadable, "2026-03-02tt09:00": Unreadable,
		"11:00": Future, "2026-03-04 10:16": Future, "2027-01-01": Future,
	} {
		_, err := ParseWhen(in, now, loc)
		var wrong *WhenError
		if !errors.As(err, &wrong) || wrong.Code != code {
			t.Errorf("ParseWhen(%q): %v, want %s", in, err, code)
			continue
		}
		if _, err := ParseWhen(wrong.Example, now, loc); err != nil {
			t.Errorf("ParseWhen(%q): its example %q: %v", in, wrong.Example, err)
		}
	}
}

// Every day of the week is known by its name and by three letters of it, on the last and
// on the next such day; every month likewise.
func TestNamesOfDaysAndMonths(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 15, 0, 0, time.UTC) // a Wednesday
	for back := range 7 {
		day := now.AddDate(0, 0, -back)
		for _, format := range []string{"Monday", "Mon", "Mon 15:04"} {
			got, err := ParseWhen(day.Format(format), now, time.UTC)
			if err != nil || got.Format(time.DateOnly) != day.Format(time.DateOnly) {
				t.Errorf("%s: %v, %v; want %s", day.Format(format), got, err, day.Format(time.DateOnly))
			}
		}
		ahead := now.AddDate(0, 0, 7-back)
		for _, format := range []string{"Monday", "Mon"} {
			got, ok := ParseUntil(ahead.Format(format), now, time.UTC)
			if !ok || got.Format(time.DateOnly) != ahead.Format(time.DateOnly) {
				t.Errorf("until %s: %v, %v; want %s", ahead.Format(format), got, ok, ahead.Format(time.DateOnly))
			}
		}
	}
	for back := range 12 {
		then := time.Date(2026, 3, 1, 9, 30, 0, 0, time.UTC).AddDate(0, -back, 0)
		for _, format := range []string{"2 Jan 15:04", "2 January 15:04", "2. Jan., 15:04"} {
			if got, err := ParseWhen(then.Format(format), now, time.UTC); err != nil || !got.Equal(then) {
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
		got, err := ParseWhen(text, now, loc)
		var w *WhenError
		switch {
		case err == nil && got.After(now):
			t.Fatalf("ParseWhen(%q) = %v, after %v", text, got, now)
		case err != nil && !errors.As(err, &w):
			t.Fatalf("ParseWhen(%q): %v", text, err)
		}
	})
}
