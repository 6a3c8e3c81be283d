package upkeep_test

import (
	"errors"
	"strconv"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"setscrew/domain/quantity"
	. "setscrew/domain/upkeep"
	"setscrew/testdata"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// On each published day of a change of the clocks, local times around it fall
// where the published offsets put them: a time in the gap shifts forward by the
// gap, of one that comes twice the first counts.
func TestPublishedClockChanges(t *testing.T) {
	for _, row := range testdata.Published(t, "tz_transitions.csv") {
		t.Run("T04-T05-"+row["zone"]+"-"+row["instant_utc"], func(t *testing.T) {
			loc := zone(t, row["zone"])
			unix, err := strconv.ParseInt(row["unix"], 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			at := time.Unix(unix, 0)
			if want := row["instant_utc"]; at.UTC().Format(time.RFC3339) != want {
				t.Fatalf("row contradicts itself: %s, %s", at.UTC(), want)
			}
			before, after := offset(t, row["offset_before"]), offset(t, row["offset_after"])
			wall := func(t time.Time, off time.Duration) time.Time { return t.Add(off).UTC() }
			local := func(w time.Time) time.Time { return LocalTime(w.Year(), w.Month(), w.Day(), w.Hour(), w.Minute(), loc) }
			// A minute before and after the change, each by its own offset.
			if w := wall(at.Add(-61*time.Minute), before); !local(w).Equal(at.Add(-61 * time.Minute)) {
				t.Errorf("%v is at %v, want %v", w, local(w).UTC(), at.Add(-61*time.Minute).UTC())
			}
			if w := wall(at.Add(61*time.Minute), after); !local(w).Equal(at.Add(61 * time.Minute)) {
				t.Errorf("%v is at %v, want %v", w, local(w).UTC(), at.Add(61*time.Minute).UTC())
			}
			// Half an hour into the gap, or into the hour that comes twice.
			w := wall(at.Add(30*time.Minute), min(before, after))
			want := at.Add(30 * time.Minute)
			if after > before {
				w = wall(at.Add(30*time.Minute), before) // no clock shows it
			} else {
				want = at.Add(-30 * time.Minute) // the first of the two
			}
			if !local(w).Equal(want) {
				t.Errorf("%v is at %v, want %v", w, local(w).UTC(), want.UTC())
			}
		})
	}
}

func offset(t *testing.T, s string) time.Duration {
	t.Helper()
	x, err := time.Parse("-07:00", s)
	if err != nil {
		t.Fatal(err)
	}
	_, sec := x.Zone()
	return time.Duration(sec) * time.Second
}

func h(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }

func TestByHours(t *testing.T) {
	r := Rule{Hours: h(8), LateHours: h(4)}
	for _, c := range []struct {
		since int64
		want  State
		left  int64
	}{{0, NotDue, 8}, {7, NotDue, 1}, {8, DueNow, 0}, {11, DueNow, -3}, {12, Late, -4}, {20, Late, -12}} {
		d := When(r, Use{Since: h(c.since)}, time.Unix(0, 0), time.UTC)
		if d.State != c.want || !d.Left.Equal(h(c.left)) || !d.Next.IsZero() {
			t.Errorf("after %d h: %+v, want state %d, %d h left", c.since, d, c.want, c.left)
		}
	}
	if d := When(Rule{Hours: h(8)}, Use{Since: h(1000)}, time.Unix(0, 0), time.UTC); d.State != DueNow {
		t.Errorf("without a late limit: %+v", d)
	}
	if d := When(Rule{}, Use{Since: h(1000)}, time.Unix(0, 0), time.UTC); d != (Due{}) {
		t.Errorf("without a rule: %+v", d)
	}
}

func TestByDays(t *testing.T) {
	loc := zone(t, "Europe/Berlin")
	// Done on the evening before the clocks change: seven days count calendar
	// days, not 168 hours.
	last := time.Date(2026, 3, 28, 23, 30, 0, 0, loc)
	due := time.Date(2026, 4, 4, 0, 0, 0, 0, loc)
	late := time.Date(2026, 4, 7, 0, 0, 0, 0, loc)
	r := Rule{Days: 7, LateDays: 3}
	for _, c := range []struct {
		now  time.Time
		want State
		next time.Time
	}{
		{last, NotDue, due}, {due.Add(-time.Second), NotDue, due}, {due, DueNow, late}, {late.Add(-time.Second), DueNow, late}, {late, Late, time.Time{}},
	} {
		d := When(r, Use{Last: last}, c.now, loc)
		if d.State != c.want || !d.Next.Equal(c.next) || !d.On.Equal(due) || !d.LateOn.Equal(late) {
			t.Errorf("at %v: %+v, want state %d, next %v", c.now, d, c.want, c.next)
		}
	}
}

// Whichever comes first.
func TestByHoursAndDays(t *testing.T) {
	r := Rule{Hours: h(8), Days: 30}
	last := time.Date(2026, 1, 1, 12, 0, 0, 0, time.UTC)
	if d := When(r, Use{h(9), last}, last.AddDate(0, 0, 1), time.UTC); d.State != DueNow {
		t.Errorf("by hours: %+v", d)
	}
	if d := When(r, Use{h(1), last}, last.AddDate(0, 0, 31), time.UTC); d.State != DueNow {
		t.Errorf("by days: %+v", d)
	}
	if d := When(r, Use{h(1), last}, last.AddDate(0, 0, 1), time.UTC); d.State != NotDue {
		t.Errorf("by neither: %+v", d)
	}
}

// Next lies after now, and stepping through it sees every state that waiting
// second by second would see.
func TestNextSeesEveryState(t *testing.T) {
	t.Parallel()
	names := []string{"UTC", "Europe/Berlin", "America/New_York", "Pacific/Auckland"}
	rapid.Check(t, func(t *rapid.T) {
		loc, err := time.LoadLocation(rapid.SampledFrom(names).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		last := time.Unix(1767225600+rapid.Int64Range(0, 366*24*3600).Draw(t, "last"), 0)
		r := Rule{Days: rapid.IntRange(1, 40).Draw(t, "days"), LateDays: rapid.IntRange(0, 10).Draw(t, "late")}
		now, seen := last, []State{}
		for {
			d := When(r, Use{Last: last}, now, loc)
			seen = append(seen, d.State)
			if d.Next.IsZero() {
				break
			}
			if !d.Next.After(now) {
				t.Fatalf("next %v is not after %v", d.Next, now)
			}
			if b := When(r, Use{Last: last}, d.Next.Add(-time.Second), loc); b.State != d.State {
				t.Fatalf("state changes before next: %v, then %v", d.State, b.State)
			}
			now = d.Next
		}
		want := 2
		if r.LateDays > 0 {
			want = 3
		}
		if len(seen) != want || seen[0] != NotDue {
			t.Fatalf("saw %v", seen)
		}
	})
}

func TestParseWhen(t *testing.T) {
	loc := zone(t, "Europe/Berlin")
	now := time.Date(2026, 3, 4, 10, 15, 30, 0, loc) // a Wednesday
	at := func(d, hh, mm int) time.Time { return time.Date(2026, 3, d, hh, mm, 0, 0, loc) }
	for _, c := range []struct {
		in   string
		want time.Time
	}{
		{"", now}, {"now", now},
		{"40 min ago", now.Add(-40 * time.Minute)}, {"2h30 ago", now.Add(-150 * time.Minute)}, {"3 days ago", now.Add(-72 * time.Hour)},
		{"9:15", at(4, 9, 15)}, {"09.15", at(4, 9, 15)}, {"at 9:15", at(4, 9, 15)},
		{"today 9:15", at(4, 9, 15)}, {"Yesterday 17:30", at(3, 17, 30)}, {"yesterday", at(3, 12, 0)},
		{"today", now}, {"monday 10:00", at(2, 10, 0)}, {"wed 9:00", at(4, 9, 0)}, {"wednesday 11:00", time.Date(2026, 2, 25, 11, 0, 0, 0, loc)},
		{"2026-03-02 09:00", at(2, 9, 0)}, {"2026-03-02", at(2, 12, 0)}, {"  2026-03-02   9:00 ", at(2, 9, 0)},
		{"2026-02-28 23:59", time.Date(2026, 2, 28, 23, 59, 0, 0, loc)},
	} {
		got, err := ParseWhen(c.in, now, loc)
		if err != nil || !got.Equal(c.want) {
			t.Errorf("ParseWhen(%q) = %v, %v; want %v", c.in, got, err, c.want)
		}
	}
	for in, code := range map[string]WhenCode{
		"tomorrow": Unreadable, "soon": Unreadable, "25:00": Unreadable, "9:75": Unreadable, "40 ago": Unreadable, "-3 h ago": Unreadable,
		"2026-02-30 10:00": Unreadable, "2026-13-01": Unreadable, "200 years ago": Unreadable,
		"11:00": Future, "2026-03-04 10:16": Future, "2027-01-01": Future,
	} {
		_, err := ParseWhen(in, now, loc)
		var w *WhenError
		if !errors.As(err, &w) || w.Code != code {
			t.Errorf("ParseWhen(%q): %v, want %s", in, err, code)
			continue
		}
		if _, err := ParseWhen(w.Example, now, loc); err != nil {
			t.Errorf("ParseWhen(%q): its example %q: %v", in, w.Example, err)
		}
	}
}

func FuzzParseWhen(f *testing.F) {
	for _, s := range []string{"", "now", "40 min ago", "yesterday 17:30", "monday 10:00", "2026-03-29 02:30", "99:99", "9999999 wk ago"} {
		f.Add(s, int64(1774800000))
	}
	loc := zone(f, "Europe/Berlin")
	f.Fuzz(func(t *testing.T, s string, unix int64) {
		now := time.Unix(unix%4e9, 0)
		got, err := ParseWhen(s, now, loc)
		var w *WhenError
		switch {
		case err == nil && got.After(now):
			t.Fatalf("ParseWhen(%q) = %v, after %v", s, got, now)
		case err != nil && !errors.As(err, &w):
			t.Fatalf("ParseWhen(%q): %v", s, err)
		}
	})
}
