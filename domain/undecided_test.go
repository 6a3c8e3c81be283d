package domain_test

import (
	"math"
	"slices"
	"testing"
	"time"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// When a shop closes on the next open day. The second of March 2026 is a Monday.
func TestNextClosing(t *testing.T) {
	weekdays := []time.Weekday{1, 2, 3, 4, 5}
	days, late := hoursFrom(upkeep.Clock(9, 0), upkeep.Clock(21, 0)), hoursFrom(upkeep.Clock(18, 0), upkeep.Clock(2, 0))
	for _, test := range []struct {
		name string
		shop Shop
		at   time.Time
		want time.Time
	}{
		{"no hours: the end of the next day", Shop{}, clock(2, 10, 0), clock(4, 0, 0)},
		{"no hours, at midnight", Shop{}, clock(3, 0, 0), clock(5, 0, 0)},
		{"no hours, over a weekend", Shop{Open: weekdays}, clock(6, 10, 0), clock(10, 0, 0)},
		{"while it is open", Shop{Hours: days}, clock(2, 10, 0), clock(3, 21, 0)},
		{"as it opens", Shop{Hours: days}, clock(2, 9, 0), clock(3, 21, 0)},
		{"before it opens", Shop{Hours: days}, clock(2, 9, 0).Add(-1), clock(2, 21, 0)},
		{"after it closed", Shop{Hours: days}, clock(2, 22, 0), clock(3, 21, 0)},
		{"past midnight, still open", Shop{Hours: late}, clock(3, 1, 0), clock(4, 2, 0)},
		{"through a closure", Shop{Hours: days, Closed: []upkeep.Closure{{First: "2026-03-03", Last: "2026-03-09"}}},
			clock(2, 12, 0), clock(10, 21, 0)},
		{"never again", Shop{Closed: []upkeep.Closure{{First: "2026-01-01", Last: "2099-01-01"}}}, clock(2, 12, 0),
			time.Time{}},
		{"no hours, a day of 23 hours", Shop{Zone: "Europe/Berlin"}, clock(28, 12, 0), clock(29, 22, 0)},
	} {
		if got := test.shop.NextClosing(test.at); !got.Equal(test.want) {
			t.Errorf("%s: %v, want %v", test.name, got.UTC(), test.want)
		}
	}
}

// A safety value that reads within its stop limits and is not proved takes the machine
// out of service at the close of the next open day, counted from the first.
func TestProveBy(t *testing.T) {
	day := func(n int) time.Time { return added.AddDate(0, 0, n) }
	end := func(n int) time.Time { return time.Date(2026, 3, 2+n, 0, 0, 0, 0, time.UTC) }
	made := func(no FactNo, at time.Time, pass bool) map[string]Latest {
		return map[string]Latest{"knife-width": {Fact: no, At: at, Check: "knife-width",
			Inspection: &Inspection{Check: "knife-width", Pass: pass}}}
	}
	width := func(n int64, more ...func(*Snapshot)) func(*Snapshot) {
		return func(s *Snapshot) {
			read(s, "knife-width", 50, day(1), thou(n))
			for _, f := range more {
				f(s)
			}
		}
	}
	for _, test := range []struct {
		name    string
		change  func(*Snapshot)
		by      time.Time
		advice  Advice
		demands []string // once that has passed
	}{
		{"proved", width(800), time.Time{}, AdvicePlan, nil},
		{"proved by a little", width(752), time.Time{}, AdvicePlan, nil},
		{"at the limit", width(750), end(3), AdviceMeasureToday, []string{"not-proved:check:knife-width not-proved"}},
		{"outside", width(749), time.Time{}, AdviceStop, []string{"check:knife-width maybe-stop"}},
		{"quality", func(s *Snapshot) { read(s, "infeed", 50, day(1), thou(60)) }, time.Time{}, AdviceNone, nil},
		{"not the first", width(750, func(s *Snapshot) { s.Undecided = map[string]time.Time{"knife-width": day(0)} }),
			end(2), AdviceMeasureToday, []string{"not-proved:check:knife-width not-proved"}},
		{"a first that came after it", width(750, func(s *Snapshot) {
			s.Undecided = map[string]time.Time{"knife-width": day(2)}
		}), end(3), AdviceMeasureToday, []string{"not-proved:check:knife-width not-proved"}},
		{"its surface moved", width(750, func(s *Snapshot) {
			s.Moved["knife-width"] = Moved{At: day(1).Add(1), Fact: 51}
		}), time.Time{}, AdviceNone, []string{"moved:51 moved"}},
		{"no go", width(750, func(s *Snapshot) { s.GoNoGo = made(51, day(1), false) }), end(3), AdviceStop,
			[]string{"check:knife-width no-go", "not-proved:check:knife-width not-proved"}},
		{"no go, though it reads well", width(1000, func(s *Snapshot) { s.GoNoGo = made(51, day(1), false) }),
			time.Time{}, AdviceStop, []string{"check:knife-width no-go"}},
		{"go", width(750, func(s *Snapshot) { s.GoNoGo = made(51, day(1), true) }), time.Time{}, AdvicePlan, nil},
		{"go, before it was read", width(750, func(s *Snapshot) { s.GoNoGo = made(49, day(1), true) }), end(3),
			AdviceMeasureToday, []string{"not-proved:check:knife-width not-proved"}},
		{"go, the day before", width(750, func(s *Snapshot) { s.GoNoGo = made(60, day(0), true) }), end(3),
			AdviceMeasureToday, []string{"not-proved:check:knife-width not-proved"}},
		{"go, of what reads outside", width(749, func(s *Snapshot) { s.GoNoGo = made(51, day(1), true) }), time.Time{},
			AdviceStop, []string{"check:knife-width maybe-stop"}},
		{"go, against limits of the shop's own", width(760, func(s *Snapshot) {
			s.Machine.Profile.Check("knife-width").Stop.Low = thou(760)
			s.GoNoGo = made(51, day(1), true)
		}), end(3), AdviceMeasureToday, []string{"not-proved:check:knife-width not-proved"}},
		{"no go, and never read", func(s *Snapshot) {
			delete(s.Latest, "knife-width")
			s.GoNoGo = made(51, day(1), false)
		}, time.Time{}, AdviceStop, []string{"check:knife-width no-go"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			snap := ready(t)
			test.change(&snap)
			st := Assess(snap, day(1).Add(time.Minute))
			cs := st.Check("knife-width")
			if !cs.ProveBy.Equal(test.by) || cs.Advice != test.advice {
				t.Errorf("by %v, want %v; advice %d, want %d", cs.ProveBy, test.by, cs.Advice, test.advice)
			}
			if test.by.IsZero() {
				test.by = end(3)
			} else if st.Wake.IsZero() || st.Wake.After(test.by) {
				t.Errorf("it wakes at %v, not by %v", st.Wake, test.by)
			}
			before, then := causes(Assess(snap, test.by.Add(-1))), causes(Assess(snap, test.by))
			if len(test.demands) > 0 && test.demands[len(test.demands)-1][:3] == "not" && slices.Equal(before, then) {
				t.Errorf("tagged before its time: %q", before)
			}
			if got := causes(Assess(snap, test.by)); !slices.Equal(got, test.demands) {
				t.Errorf("demands %q, want %q", got, test.demands)
			}
		})
	}
}

// Where its tag stands, nothing demands another; the tag's report is the one that reads so.
func TestNotProvedIsTaggedOnce(t *testing.T) {
	snap := ready(t)
	read(&snap, "knives", 50, added, thou(82))
	later := added.AddDate(0, 0, 3)
	st := Assess(snap, later)
	if len(st.MustTag) != 1 || st.MustTag[0].Because != 50 || st.MustTag[0].Reason.Name != "knife projection" {
		t.Fatalf("demands %+v", st.MustTag)
	}
	snap.Tags = []Tag{{Fact: 51, Cause: st.MustTag[0].Key}}
	if st = Assess(snap, later); len(st.MustTag) != 0 {
		t.Errorf("demands %+v again", st.MustTag)
	}
	if got := blockers(st); !slices.Contains(got, "knives undecided") {
		t.Errorf("a release needs %q", got)
	}
	// What it is measured from moved: that proves nothing.
	snap.Tags, snap.Moved["knives"] = nil, Moved{}
	snap.Machine.Profile.Check("knives").From = []string{"table"}
	snap.Moved["table"] = Moved{At: added.Add(1), Fact: 52}
	if got := causes(Assess(snap, later)); !slices.Contains(got, "not-proved:check:knives not-proved") {
		t.Errorf("demands %q after its datum moved", got)
	}
}

// A gauge decides where one reading with it proves every position, and their difference.
func TestDeciding(t *testing.T) {
	gauge := func(u float64) metrology.Gauge {
		return metrology.Gauge{Uncertainty: quantity.FromFloat(u, quantity.Thou),
			Coverage: metrology.Coverage(Level, math.Inf(1))}
	}
	gauges := []metrology.Gauge{gauge(2), gauge(0.6), gauge(0.4), gauge(0.1)}
	for _, test := range []struct {
		name   string
		values []quantity.Value
		want   []int
	}{
		{"half a thou from the limit", []quantity.Value{thou(82)}, []int{2, 3}},
		{"one position nearer", []quantity.Value{thou(82), quantity.New(823, 10, quantity.Thou)}, []int{3}},
		{"at the limit", []quantity.Value{quantity.New(165, 2, quantity.Thou)}, nil},
		{"positions that differ by almost too much", []quantity.Value{thou(55), quantity.New(647, 10, quantity.Thou)},
			[]int{3}},
	} {
		s := ready(t)
		read(&s, "knives", 50, added, test.values...)
		if got := Deciding(*Assess(s, added).Check("knives"), gauges); !slices.Equal(got, test.want) {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
}

// What a reading shows of its stop limits.
func TestShows(t *testing.T) {
	for reading, want := range map[int64]Shown{70: ShownWithin, 81: ShownWithin, 82: ShownUndecided, 83: ShownOutside,
		90: ShownOutside} {
		s := ready(t)
		read(&s, "knives", 50, added, thou(reading))
		if got := Shows(s.Machine.Profile.Check("knives"), s.Latest["knives"].Reading); got != want {
			t.Errorf("%d thou show %d, want %d", reading, got, want)
		}
	}
}
