package domain

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"setscrew/domain/quantity"
)

func TestDoubtRun(t *testing.T) {
	shop := NewShop("s")
	shop.Zone = "CET"
	at := func(s string) time.Time {
		v, err := time.Parse("2006-01-02 15:04", s)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	run := func(no FactNo, who PersonID, until, used string) Run {
		d, err := time.ParseDuration(used)
		if err != nil {
			t.Fatal(err)
		}
		return Run{no, who, at(until), d}
	}
	evening := run(1, "ada", "2026-03-02 18:00", "2h")
	for _, test := range []struct {
		name   string
		new    Run
		before []Run
		code   Code
		fact   FactNo
		hours  int64
	}{
		{"the first", evening, nil, "", 0, 0},
		{"after it", run(2, "ada", "2026-03-02 20:00", "2h"), []Run{evening}, "", 0, 0},
		{"typed a little late", run(2, "bo", "2026-03-02 19:50", "2h"), []Run{evening}, "", 0, 0},
		{"a near-copy", run(2, "ada", "2026-03-02 18:05", "2h5m"), []Run{evening}, HoursTwice, 1, 2},
		{"as long, by another", run(2, "bo", "2026-03-02 18:05", "2h"), []Run{evening}, HoursOverlap, 1, 1},
		{"longer", run(2, "ada", "2026-03-02 18:05", "4h"), []Run{evening}, HoursOverlap, 1, 2},
		{"within it", run(2, "bo", "2026-03-02 17:00", "30m"), []Run{evening}, HoursOverlap, 1, 0},
		{"a day's total", run(2, "bo", "2026-03-02 22:30", "20h"), []Run{run(1, "ada", "2026-03-01 23:30", "5h")},
			HoursOverDay, 0, 25},
		{"on the day before, by the shop's clock", run(2, "bo", "2026-03-02 22:30", "20h"),
			[]Run{run(1, "ada", "2026-03-01 22:30", "5h")}, "", 0, 0},
	} {
		refusal := CheckRun(shop, "Marble", test.new, test.before)
		switch {
		case test.code == "" && refusal != nil, test.code != "" && refusal == nil:
			t.Errorf("%s: %v", test.name, refusal)
		case refusal != nil && (refusal.Code != test.code || refusal.Fact != test.fact ||
			int64(refusal.Used.Float(quantity.Hour)) != test.hours):
			t.Errorf("%s: %v, %v", test.name, refusal, refusal.Used)
		}
	}
}

// Runs one after the other, none above Slack into another, are never doubted
// while a day holds them; the order in which they were told does not matter.
func TestRunsInARowAreNotDoubted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
		var all []Run
		for i := range rapid.IntRange(1, 12).Draw(t, "runs") {
			used := time.Duration(rapid.IntRange(11, 110).Draw(t, "minutes")) * time.Minute
			at = at.Add(used)
			all = append(all, Run{FactNo(i + 1), "ada",
				at.Add(time.Duration(rapid.IntRange(0, 9).Draw(t, "late")) * time.Minute), used})
		}
		told := rapid.Permutation(all).Draw(t, "told")
		for i, r := range told {
			if no := CheckRun(NewShop("s"), "Marble", r, told[:i]); no != nil && no.Code != HoursTwice {
				t.Fatalf("%v of %v: %v", r, told[:i], no)
			}
		}
	})
}
