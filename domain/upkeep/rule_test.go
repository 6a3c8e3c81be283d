package upkeep_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"setscrew/domain/quantity"
	. "setscrew/domain/upkeep"
	"setscrew/testdata"
)

// The days of RFC 5545's examples, on clocks that change between them.
func TestPublishedCalendars(t *testing.T) {
	loc := zone(t, "America/New_York")
	for _, row := range testdata.Published(t, "upkeep_rfc5545.csv") {
		t.Run(row["id"], func(t *testing.T) {
			from, err := time.ParseInLocation(time.DateOnly, row["from"], loc)
			if err != nil {
				t.Fatal(err)
			}
			rule := Rule{Calendar: row["rule"]}
			if err := rule.Check(); err != nil {
				t.Fatal(err)
			}
			want := strings.Fields(row["dates"])
			var got []string
			for _, p := range Points(rule, from.Add(9*time.Hour), len(want), loc) {
				got = append(got, p.Format(time.DateOnly))
				if h, m, s := p.Clock(); h != 0 || m != 0 || s != 0 {
					t.Errorf("%v is not the day's first moment", p)
				}
			}
			if strings.Join(got, " ") != strings.Join(want, " ") {
				t.Errorf("%v, want %v", got, want)
			}
		})
	}
}

func date(text string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", text+" 12:00")
	if err != nil {
		panic(err)
	}
	return t
}

// Month ends clamp to the last day of a shorter month and come back; from when it
// was done a short month's day stays.
func TestMonths(t *testing.T) {
	for _, test := range []struct {
		rule       Rule
		from, want string
	}{
		{Rule{Months: 1, FromDue: true}, "2026-01-31", "2026-02-28 2026-03-31 2026-04-30 2026-05-31"},
		{Rule{Months: 1, FromDue: true}, "2028-01-30", "2028-02-29 2028-03-30"},
		{Rule{Months: 1}, "2026-01-31", "2026-02-28 2026-03-28 2026-04-28"},
		{Rule{Months: 12, FromDue: true}, "2028-02-29", "2029-02-28 2030-02-28 2031-02-28 2032-02-29"},
		{Rule{Months: 3}, "2025-11-30", "2026-02-28 2026-05-28"},
		{Rule{Days: 14}, "2028-02-20", "2028-03-05 2028-03-19"},
		{Rule{Months: 1, Days: 30, FromDue: true}, "2026-01-01", "2026-01-31 2026-03-01 2026-04-01"},
		// whichever comes first
		{Rule{Calendar: "FREQ=YEARLY;BYMONTH=3,10;BYMONTHDAY=1"}, "2026-03-02", "2026-10-01 2027-03-01"},
	} {
		var got []string
		want := strings.Fields(test.want)
		for _, p := range Points(test.rule, date(test.from), len(want), time.UTC) {
			got = append(got, p.Format(time.DateOnly))
		}
		if strings.Join(got, " ") != test.want {
			t.Errorf("%+v from %s: %v, want %s", test.rule, test.from, got, test.want)
		}
	}
	for _, bad := range []string{"often", "FREQ=HOURLY", "FREQ=DAILY;COUNT=3", "FREQ=DAILY;UNTIL=20270101T000000Z",
		"FREQ=DAILY;BYHOUR=9", "FREQ=MONTHLY;BYDAY=1XX"} {
		if (Rule{Calendar: bad}).Check() == nil {
			t.Errorf("%q is taken", bad)
		}
	}
}

// Done in its early window it counts; before that it does not, and what was due
// stays due. From when it was due the next one comes no later for being late.
func TestWindows(t *testing.T) {
	from := Done{At: date("2026-03-02"), Since: h(30)}
	done := func(on string, since int64) Done { return Done{At: date(on), Since: h(since)} }
	for _, test := range []struct {
		name    string
		rule    Rule
		done    []Done
		now     string
		on      string
		left    int64
		counted int
		state   State
		open    bool
	}{
		{"too early by days", Rule{Days: 30, EarlyDays: 5}, []Done{done("2026-03-10", 0)}, "2026-03-11",
			"2026-04-01", 0, -1, NotDue, false},
		{"in the window", Rule{Days: 30, EarlyDays: 5}, []Done{done("2026-03-28", 0)}, "2026-03-29", "2026-04-27",
			0, 0, NotDue, false},
		{"the window is open", Rule{Days: 30, EarlyDays: 5}, nil, "2026-03-28", "2026-04-01", 0, -1, NotDue, true},
		{"early and from due", Rule{Days: 30, EarlyDays: 5, FromDue: true}, []Done{done("2026-03-28", 0)},
			"2026-03-29", "2026-05-01", 0, 0, NotDue, false},
		{"late and from due", Rule{Days: 30, FromDue: true}, []Done{done("2026-04-20", 0)}, "2026-04-21",
			"2026-05-01", 0, 0, NotDue, false},
		{"before it is due, without a window", Rule{Days: 30, FromDue: true}, []Done{done("2026-03-20", 0)},
			"2026-04-02", "2026-04-01", 0, -1, DueNow, true},
		{"too early by hours", Rule{Hours: h(40), EarlyHours: h(5)}, []Done{done("2026-03-10", 25)}, "2026-03-11",
			"", 10, -1, NotDue, false},
		{"early by hours", Rule{Hours: h(40), EarlyHours: h(15)}, []Done{done("2026-03-10", 4)}, "2026-03-11", "",
			36, 0, NotDue, false},
		{"hours from due", Rule{Hours: h(8), FromDue: true}, []Done{done("2026-03-10", 5)}, "2026-03-11", "", 2, 0,
			NotDue, false}, // done at 25 h, so 24 is reached; 6 used since
		{"hours or days, early by days", Rule{Hours: h(40), Days: 30, EarlyDays: 5, EarlyHours: h(1)},
			[]Done{done("2026-03-28", 10)}, "2026-03-29", "2026-04-27", 30, 0, NotDue, false},
		{"on a calendar's day", Rule{Calendar: "FREQ=MONTHLY;BYDAY=1SA"}, []Done{done("2026-03-07", 0)},
			"2026-03-08", "2026-04-04", 0, 0, NotDue, false},
		{"two days before it", Rule{Calendar: "FREQ=MONTHLY;BYDAY=1SA", EarlyDays: 3},
			[]Done{done("2026-03-05", 0)}, "2026-03-08", "2026-04-04", 0, 0, NotDue, false},
		{"a week before it", Rule{Calendar: "FREQ=MONTHLY;BYDAY=1SA", EarlyDays: 3}, []Done{done("2026-03-02", 0)},
			"2026-03-08", "2026-03-07", 0, -1, DueNow, true},
	} {
		due := When(test.rule, Use{From: from, Done: test.done}, date(test.now), In(time.UTC))
		on := ""
		if !due.On.IsZero() {
			on = due.On.Format(time.DateOnly)
		}
		if on != test.on || due.Left.Valid() && !due.Left.Equal(h(test.left)) || due.Counted != test.counted ||
			due.State != test.state ||
			due.Open != test.open {
			t.Errorf(
				"%s: on %s, left %v, counted %d, state %d, open %v", test.name, on, due.Left, due.Counted, due.State,
				due.Open,
			)
		}
	}
}

// Over random histories a rule stands where walking through them day by day,
// knowing nothing but the words of the rule, brings it.
func TestAgainstWalk(t *testing.T) {
	t.Parallel()
	loc := zone(t, "Europe/Berlin")
	rapid.Check(t, func(rt *rapid.T) {
		rule := Rule{FromDue: rapid.Bool().Draw(rt, "from due")}
		kind := rapid.IntRange(0, 3).Draw(rt, "kind")
		if kind != 1 && !(rule.FromDue && kind == 2) {
			rule.Hours = h(int64(rapid.IntRange(3, 20).Draw(rt, "hours")))
		}
		switch kind {
		case 1, 2:
			rule.Days = rapid.IntRange(2, 40).Draw(rt, "days")
		case 3:
			rule.Hours, rule.Months = quantity.Value{}, rapid.IntRange(1, 4).Draw(rt, "months")
		}
		if rapid.Bool().Draw(rt, "early") {
			rule.EarlyDays = rapid.IntRange(1, 3).Draw(rt, "early days")
			if rule.Hours.Valid() {
				rule.EarlyHours = h(int64(rapid.IntRange(1, 2).Draw(rt, "early hours")))
			}
		}
		year, month, day := 2026, time.January, rapid.IntRange(1, 31).Draw(rt, "day")
		noon := func(n int) time.Time { return time.Date(year, month, day+n, 12, 0, 0, 0, loc) }
		days := rapid.IntRange(1, 120).Draw(rt, "for")
		used := make([]int64, days+1) // hours on each day, before it was done there
		did := make([]bool, days+1)
		total := int64(0)
		for i := 1; i <= days; i++ {
			used[i] = int64(rapid.IntRange(0, 3).Draw(rt, "used"))
			did[i] = rapid.IntRange(0, 6).Draw(rt, "did") == 0
			total += used[i]
		}
		// The walk.
		type state struct {
			hours int64 // since the point that hours are counted from
			day   int   // that days are counted from
			k     int   // of a rule from when it was due: points passed
		}
		at := state{}
		first := func(n int) time.Time { return time.Date(year, month, day+n, 0, 0, 0, 0, loc) }
		point := func() time.Time {
			base := at.day
			count := 1
			if rule.FromDue {
				base, count = 0, at.k+1
			}
			switch {
			case rule.Days > 0:
				return first(base + count*rule.Days)
			case rule.Months > 0:
				b := first(base)
				t := time.Date(b.Year(), b.Month()+time.Month(count*rule.Months), b.Day(), 0, 0, 0, 0, loc)
				for t.Day() != b.Day() && t.Day() < 4 {
					t = t.AddDate(0, 0, -1)
				}
				return t
			}
			return time.Time{}
		}
		every, early := int64(0), int64(0)
		if rule.Hours.Valid() {
			every = int64(rule.Hours.Float(quantity.Hour))
		}
		if rule.EarlyHours.Valid() {
			early = int64(rule.EarlyHours.Float(quantity.Hour))
		}
		counted, last := -1, -1
		use := Use{From: Done{At: noon(0), Since: h(total)}}
		left := total
		for i := 1; i <= days; i++ {
			at.hours += used[i]
			left -= used[i]
			if !did[i] {
				continue
			}
			last++
			use.Done = append(use.Done, Done{At: noon(i), Since: h(left)})
			p := point()
			byHours := every > 0 && at.hours >= every-early
			byDay := !p.IsZero() && !first(i+rule.EarlyDays).Before(p)
			if rule.CountsAll() && !byHours && !byDay {
				continue
			}
			counted = last
			switch {
			case rule.FromDue && byHours:
				for at.hours+early >= every {
					at.hours -= every
				}
			default:
				at.hours = 0
			}
			at.day = i
			for rule.FromDue && (rule.Days > 0 || rule.Months > 0) && !point().After(first(i+rule.EarlyDays)) {
				at.k++
			}
		}
		got := When(rule, use, noon(days), In(loc))
		if got.Counted != counted {
			rt.Fatalf("%+v: counted %d, the walk %d", rule, got.Counted, counted)
		}
		if every > 0 && !got.Left.Equal(h(every-at.hours)) {
			rt.Fatalf("%+v: left %v, the walk %d", rule, got.Left, every-at.hours)
		}
		if p := point(); !got.On.Equal(p) {
			rt.Fatalf("%+v: on %v, the walk %v", rule, got.On, p)
		}
	})
}

// The shortest time between two due days: of several parts the shortest, of a
// calendar's days the two that are nearest, none by use alone.
func TestShortestDays(t *testing.T) {
	for _, test := range []struct {
		rule Rule
		want int
	}{
		{Rule{Hours: quantity.New(8, 1, quantity.Hour)}, 0}, {Rule{}, 0}, {Rule{Days: 7, LateDays: 3}, 7},
		{Rule{Months: 1}, 30}, {Rule{Months: 12}, 365}, {Rule{Days: 40, Months: 1}, 30}, {Rule{Days: 10, Months: 1},
			10},
		{Rule{Calendar: "FREQ=WEEKLY;BYDAY=MO"}, 7}, {Rule{Calendar: "FREQ=WEEKLY;BYDAY=MO,WE"}, 2},
		{Rule{Calendar: "FREQ=MONTHLY;BYDAY=1SA"}, 28}, {Rule{Calendar: "odd", Days: 5}, 5},
	} {
		if got := test.rule.ShortestDays(); got != test.want {
			t.Errorf("%+v: %d days, want %d", test.rule, got, test.want)
		}
	}
}
