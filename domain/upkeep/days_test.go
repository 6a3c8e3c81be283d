package upkeep_test

import (
	"testing"
	"time"

	. "setscrew/domain/upkeep"
)

// What falls due on a closed day does so on the next open one, and is late its
// late days after that; what was done is counted as if the shop were always open.
func TestClosedDays(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	days := Days{
		Loc:    berlin,
		Open:   []time.Weekday{time.Tuesday, time.Thursday, time.Saturday},
		Closed: []Closure{{"2026-12-22", "2027-01-02"}},
	}
	at := func(s string) time.Time {
		v, err := time.ParseInLocation("2006-01-02", s, berlin)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, test := range []struct{ from, on, late string }{
		{"2026-11-24", "2026-12-01", "2026-12-03"}, // a Tuesday
		{"2026-11-25", "2026-12-03", "2026-12-05"}, // a Wednesday
		{"2026-11-28", "2026-12-05", "2026-12-08"}, // late on a Monday
		{"2026-12-14", "2027-01-05", "2027-01-07"}, // within the holidays
		{"2026-12-12", "2026-12-19", "2027-01-05"}, // late within them
	} {
		rule := Rule{Days: 7, LateDays: 2}
		d := When(rule, Use{From: Done{At: at(test.from)}}, at(test.from), days)
		if !d.On.Equal(at(test.on)) || d.State != NotDue {
			t.Errorf("from %s: due %v, want %s", test.from, d.On, test.on)
		}
		for _, moment := range []struct {
			now   time.Time
			state State
			next  time.Time
		}{{at(test.on).Add(-time.Second), NotDue, at(test.on)}, {at(test.on), DueNow, at(test.late)},
			{at(test.late).Add(-time.Second), DueNow, at(test.late)}, {at(test.late), Late, time.Time{}}} {
			if d := When(rule, Use{From: Done{At: at(test.from)}}, moment.now, days); d.State != moment.state ||
				!d.Next.Equal(moment.next) {
				t.Errorf("from %s at %v: %v, next %v", test.from, moment.now, d.State, d.Next)
			}
		}
	}
	r := Rule{Days: 7, FromDue: true}
	first := Use{From: Done{At: at("2026-11-25")}, Done: []Done{{At: at("2026-12-03")}}}
	if d := When(r, first, at("2026-12-04"), days); !d.On.Equal(at("2026-12-10")) {
		t.Errorf("from when it was due, a Wednesday: %v", d.On)
	}
	never := Days{Loc: berlin, Closed: []Closure{{"2020-01-01", "2040-01-01"}}}
	if d := When(Rule{Days: 7}, Use{From: Done{At: at("2026-11-25")}}, at("2026-11-25"), never); !d.On.Equal(
		at("2026-12-02"),
	) {
		t.Errorf("never open: %v", d.On)
	}
}

// A day's first moment is that of the clocks: an hour later where a change skips midnight.
func TestMidnight(t *testing.T) {
	for _, test := range []struct {
		zone, of string
		later    int
		want     string
	}{
		{"UTC", "2026-03-01T23:30:00Z", 0, "2026-03-01T00:00:00Z"},
		{"UTC", "2026-03-01T00:00:00Z", 0, "2026-03-01T00:00:00Z"},
		{"UTC", "2026-02-28T12:00:00Z", 1, "2026-03-01T00:00:00Z"},
		{"UTC", "2026-03-01T12:00:00Z", -1, "2026-02-28T00:00:00Z"},
		{"America/New_York", "2026-03-02T03:00:00Z", 0, "2026-03-01T05:00:00Z"},
		{"America/New_York", "2026-03-08T12:00:00Z", 1, "2026-03-09T04:00:00Z"},
		{"America/Santiago", "2026-09-05T12:00:00Z", 1, "2026-09-06T04:00:00Z"},
	} {
		loc, err := time.LoadLocation(test.zone)
		if err != nil {
			t.Fatal(err)
		}
		of, _ := time.Parse(time.RFC3339, test.of)
		if got := In(loc).Midnight(of, test.later).UTC().Format(time.RFC3339); got != test.want {
			t.Errorf("%s, %d days after %s: %s, want %s", test.zone, test.later, test.of, got, test.want)
		}
	}
}
