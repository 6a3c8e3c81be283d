package upkeep_test

import (
	"fmt"
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
		t.Run(row["id"], func(t *testing.T) {
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
			local := func(w time.Time) time.Time {
				return LocalTime(w.Year(), w.Month(), w.Day(), w.Hour(),
					w.Minute(), loc)
			}
			// A minute before and after the change, each by its own offset.
			if w := wall(at.Add(-61*time.Minute), before); !local(w).Equal(at.Add(-61 * time.Minute)) {
				t.Errorf("%v is at %v, want %v", w, local(w).UTC(), at.Add(-61*time.Minute).UTC())
			}
			if w := wall(at.Add(61*time.Minute), after); !local(w).Equal(at.Add(61 * time.Minute)) {
				t.Errorf("%v is at %v, want %v", w, local(w).UTC(), at.Add(61*time.Minute).UTC())
			}
			// Half an hour into the gap, or into the hour that comes twice.
			atWall := wall(at.Add(30*time.Minute), min(before, after))
			want := at.Add(30 * time.Minute)
			if after > before {
				atWall = wall(at.Add(30*time.Minute), before) // no clock shows it
			} else {
				want = at.Add(-30 * time.Minute) // the first of the two
			}
			if !local(atWall).Equal(want) {
				t.Errorf("%v is at %v, want %v", atWall, local(atWall).UTC(), want.UTC())
			}
			typed := atWall.Format("2006-01-02 15:04")
			got, err := ParseWhen(typed, Clocks{Now: at.Add(48 * time.Hour), Loc: loc})
			if err != nil || !got.Equal(want) {
				t.Errorf("ParseWhen(%q) = %v, %v; want %v", typed, got.UTC(), err, want.UTC())
			}
		})
	}
}

// Published week dates: the day counted from the year's first Monday, and the
// weekday as people say it.
func TestPublishedWeekDates(t *testing.T) {
	names := []string{"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}
	loc := zone(t, "Pacific/Auckland")
	for _, row := range testdata.Published(t, "upkeep_iso_weeks.csv") {
		t.Run(row["id"], func(t *testing.T) {
			var year, week, day int
			if _, err := fmt.Sscanf(row["iso"], "%d-W%d-%d", &year, &week, &day); err != nil {
				t.Fatal(err)
			}
			// 4 January lies in week 1 (ISO 8601), so that week begins on a Monday
			// of 29 December to 4 January.
			fourth := LocalTime(year, time.January, 4, 12, 0, loc)
			monday := 4 - (int(fourth.Weekday())+6)%7
			noon := LocalTime(year, time.January, monday+7*(week-1)+day-1, 12, 0, loc)
			if got := noon.Format(time.DateOnly); got != row["date"] {
				t.Errorf("%s is %s, want %s", row["iso"], got, row["date"])
			}
			for later := 1; later < 7; later++ { // on each of the six evenings after
				now := noon.AddDate(0, 0, later).Add(6 * time.Hour)
				if got, err := ParseWhen(names[day-1], Clocks{Now: now, Loc: loc}); err != nil || !got.Equal(noon) {
					t.Errorf("%s, said %d days later: %v, %v; want %v", names[day-1], later, got, err, noon)
				}
			}
			// Due after a week: the same weekday of the next week, at its start.
			due := When(Rule{Days: 7}, Use{From: Done{At: noon}}, noon, In(loc)).On
			if want := time.Date(noon.Year(), noon.Month(), noon.Day()+7, 0, 0, 0, 0, loc); !due.Equal(want) {
				t.Errorf("due %v, want %v", due, want)
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
	rule := Rule{Hours: h(8), LateHours: h(4)}
	for _, test := range []struct {
		since int64
		want  State
		left  int64
	}{{0, NotDue, 8}, {7, NotDue, 1}, {8, DueNow, 0}, {11, DueNow, -3}, {12, Late, -4}, {20, Late, -12}} {
		d := When(rule, Use{From: Done{Since: h(test.since)}}, time.Unix(0, 0), In(time.UTC))
		if d.State != test.want || !d.Left.Equal(h(test.left)) || !d.Next.IsZero() {
			t.Errorf("after %d h: %+v, want state %d, %d h left", test.since, d, test.want, test.left)
		}
	}
	if d := When(Rule{Hours: h(8)}, Use{From: Done{Since: h(1000)}}, time.Unix(0, 0),
		In(time.UTC)); d.State != DueNow {
		t.Errorf("without a late limit: %+v", d)
	}
	if d := When(Rule{}, Use{From: Done{Since: h(1000)}}, time.Unix(0, 0), In(time.UTC)); d != (Due{Counted: -1}) {
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
	rule := Rule{Days: 7, LateDays: 3}
	for _, test := range []struct {
		now  time.Time
		want State
		next time.Time
	}{
		{last, NotDue, due}, {due.Add(-time.Second), NotDue, due}, {due, DueNow, late},
		{late.Add(-time.Second), DueNow, late}, {late, Late, time.Time{}},
	} {
		d := When(rule, Use{From: Done{At: last}}, test.now, In(loc))
		if d.State != test.want || !d.Next.Equal(test.next) || !d.On.Equal(due) || !d.LateOn.Equal(late) {
			t.Errorf("at %v: %+v, want state %d, next %v", test.now, d, test.want, test.next)
		}
	}
}

// Whichever comes first.
func TestByHoursAndDays(t *testing.T) {
	rule := Rule{Hours: h(8), Days: 30}
	last := time.Date(2026, 1, 1, 12, 0, 0, 0, time.UTC)
	if d := When(rule, Use{From: Done{At: last, Since: h(9)}}, last.AddDate(0, 0, 1), In(time.UTC)); d.State != DueNow {
		t.Errorf("by hours: %+v", d)
	}
	if d := When(rule, Use{From: Done{At: last, Since: h(1)}}, last.AddDate(0, 0, 31),
		In(time.UTC)); d.State != DueNow {
		t.Errorf("by days: %+v", d)
	}
	if d := When(rule, Use{From: Done{At: last, Since: h(1)}}, last.AddDate(0, 0, 1), In(time.UTC)); d.State != NotDue {
		t.Errorf("by neither: %+v", d)
	}
	// Due by hours already, it does not change on the day; it may still become
	// late by the calendar, and once late nothing comes after.
	now := last.AddDate(0, 0, 1)
	if d := When(rule, Use{From: Done{At: last, Since: h(9)}}, now, In(time.UTC)); !d.Next.IsZero() {
		t.Errorf("due by hours, never late: next %v, want none", d.Next)
	}
	rule.LateHours, rule.LateDays = h(2), 5
	if d := When(rule, Use{From: Done{At: last, Since: h(9)}}, now, In(time.UTC)); !d.Next.Equal(d.LateOn) ||
		d.LateOn.IsZero() {
		t.Errorf("due by hours: next %v, want %v", d.Next, d.LateOn)
	}
	if d := When(rule, Use{From: Done{At: last, Since: h(10)}}, now, In(time.UTC)); d.State != Late ||
		!d.Next.IsZero() {
		t.Errorf("late by hours: %+v, want state %d and no next", d, Late)
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
		rule := Rule{Days: rapid.IntRange(1, 40).Draw(t, "days"), LateDays: rapid.IntRange(0, 10).Draw(t, "late")}
		now, seen := last, []State{}
		for {
			due := When(rule, Use{From: Done{At: last}}, now, In(loc))
			seen = append(seen, due.State)
			if due.Next.IsZero() {
				break
			}
			if !due.Next.After(now) {
				t.Fatalf("next %v is not after %v", due.Next, now)
			}
			if b := When(rule, Use{From: Done{At: last}}, due.Next.Add(-time.Second), In(loc)); b.State != due.State {
				t.Fatalf("state changes before next: %v, then %v", due.State, b.State)
			}
			now = due.Next
		}
		want := 2
		if rule.LateDays > 0 {
			want = 3
		}
		if len(seen) != want || seen[0] != NotDue {
			t.Fatalf("saw %v", seen)
		}
	})
}

// What is done later, or every more days, is not due sooner; what is due later
// is not late sooner; and as time goes by a state only gets worse.
func TestDuePointsAreMonotone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		loc := drawZone(t)
		last := drawTime(t, "last")
		use := func(t time.Time) Use { return Use{From: Done{At: t, Since: h(0)}} }
		rule := Rule{Days: rapid.IntRange(1, 400).Draw(t, "days"), LateDays: rapid.IntRange(1, 60).Draw(t, "late")}
		due := When(rule, use(last), last, In(loc))
		if !due.On.After(last) || !due.LateOn.After(due.On) {
			t.Fatalf("done %v, due %v, late %v", last, due.On, due.LateOn)
		}
		after := When(
			rule,
			use(last.Add(time.Duration(rapid.Int64Range(0, 1e6).Draw(t, "later"))*time.Second)),
			last,
			In(loc),
		)
		if after.On.Before(due.On) || after.LateOn.Before(due.LateOn) {
			t.Fatalf("done later, due %v before %v, or late %v before %v", after.On, due.On, after.LateOn, due.LateOn)
		}
		rule.Days++
		if longer := When(rule, use(last), last, In(loc)); !longer.On.After(due.On) ||
			!longer.LateOn.After(due.LateOn) {
			t.Fatalf("a day more, due %v and %v", due.On, longer.On)
		}
		rule.Hours, rule.LateHours = h(8), h(2)
		now, since := last, h(0)
		for state := NotDue; now.Before(due.LateOn.AddDate(0, 0, 5)); {
			is := When(rule, Use{From: Done{At: last, Since: since}}, now, In(loc)).State
			if is < state {
				t.Fatalf("at %v after %v: state %d, after %d", now, since, is, state)
			}
			state = is
			now = now.Add(time.Duration(rapid.Int64Range(1, 40*24*3600).Draw(t, "wait")) * time.Second)
			since = since.Add(quantity.New(rapid.Int64Range(0, 120).Draw(t, "used"), 60, quantity.Hour))
		}
	})
}

// The zones of the properties: with half an hour's change, changes at midnight,
// a day that was skipped, and negative daylight saving.
func drawZone(t *rapid.T) *time.Location {
	loc, err := time.LoadLocation(
		rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "Europe/Dublin", "America/New_York", "Australia/Lord_Howe",
			"America/Havana", "Africa/Cairo", "Asia/Beirut", "America/Sao_Paulo", "Africa/Casablanca",
			"Pacific/Apia", "Antarctica/Troll"}).Draw(t, "zone"),
	)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// drawTime is a second of the years 2000 to 2037.
func drawTime(t *rapid.T, label string) time.Time {
	return time.Unix(rapid.Int64Range(946684800, 2145916800).Draw(t, label), 0)
}

// Changes wider than an hour, and one at midnight. The rules of these zones are
// the IANA time zone database's; the moments are derived from them.
func TestLocalTimeAtWideChanges(t *testing.T) {
	for _, test := range []struct{ zone, local, want string }{
		{"Antarctica/Troll", "2026-03-29 00:59", "2026-03-29T00:59:00Z"},
		{"Antarctica/Troll", "2026-03-29 01:00", "2026-03-29T01:00:00Z"}, // two hours are skipped
		{"Antarctica/Troll", "2026-03-29 02:30", "2026-03-29T02:30:00Z"},
		{"Antarctica/Troll", "2026-03-29 03:00", "2026-03-29T01:00:00Z"},
		{"Antarctica/Troll", "2026-10-25 02:45", "2026-10-25T00:45:00Z"}, // two hours come twice
		{"Antarctica/Troll", "2026-10-25 03:00", "2026-10-25T03:00:00Z"},
		{"Pacific/Apia", "2011-12-29 23:59", "2011-12-30T09:59:00Z"},
		{"Pacific/Apia", "2011-12-30 12:00", "2011-12-30T22:00:00Z"}, // a day is skipped
		{"Pacific/Apia", "2011-12-31 00:00", "2011-12-30T10:00:00Z"},
		{"Africa/Cairo", "2026-04-24 00:00", "2026-04-23T22:00:00Z"}, // the day begins at 1:00
		{"Africa/Cairo", "2026-04-24 01:00", "2026-04-23T22:00:00Z"},
	} {
		w, err := time.Parse("2006-01-02 15:04", test.local)
		if err != nil {
			t.Fatal(err)
		}
		got := LocalTime(w.Year(), w.Month(), w.Day(), w.Hour(), w.Minute(), zone(t, test.zone))
		if got := got.UTC().Format(time.RFC3339); got != test.want {
			t.Errorf("%s in %s is %s, want %s", test.local, test.zone, got, test.want)
		}
	}
}

// A local time is the first moment at which the clocks show it. Where no moment
// does, the clocks are ahead of it by the width of the gap.
func TestLocalTimeIsWhatTheClocksShow(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		loc := drawZone(t)
		// Half of the draws lie about a change, where one comes within the year.
		at := drawTime(t, "at").Truncate(time.Minute)
		if _, end := at.In(loc).ZoneBounds(); !end.IsZero() && rapid.Bool().Draw(t, "at a change") {
			at = end.Add(
				time.Duration(rapid.IntRange(-180, 180).Draw(t, "minutes")) * time.Minute,
			).Truncate(
				time.Minute,
			)
		}
		clock := at.UTC() // read as what the clocks show, after adding the offset
		_, off := at.In(loc).Zone()
		clock = clock.Add(
			time.Duration(off)*time.Second + time.Duration(rapid.IntRange(-60, 60).Draw(t, "shift"))*time.Minute,
		)
		got := LocalTime(clock.Year(), clock.Month(), clock.Day(), clock.Hour(), clock.Minute(), loc)
		const layout = "2006-01-02 15:04:05"
		typed := clock.Format(layout)
		var first time.Time // by going through every minute of two days
		for m := got.Add(-24 * time.Hour); m.Before(got.Add(24 * time.Hour)); m = m.Add(time.Minute) {
			if m.In(loc).Format(layout) == typed {
				first = m
				break
			}
		}
		if !first.IsZero() {
			if !got.Equal(first) {
				t.Fatalf("%s is %v, want %v", typed, got, first)
			}
			return
		}
		change, _ := got.ZoneBounds()
		_, before := change.Add(-time.Second).Zone()
		_, after := change.Zone()
		gap := time.Duration(after-before) * time.Second
		shown, err := time.Parse(layout, got.Format(layout))
		if err != nil {
			t.Fatal(err)
		}
		if ahead := shown.Sub(clock); gap <= 0 || ahead != gap {
			t.Fatalf("no clock shows %s; taken as %v, ahead by %v, want the gap of %v", typed, got, ahead, gap)
		}
	})
}
