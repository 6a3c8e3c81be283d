package domain

import (
	"testing"
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// usedAt is a machine of a shop in Berlin, added on a Monday, and runs of two hours
// on each Saturday for twelve weeks.
func usedAt(t *testing.T) (Status, []Run, time.Time) {
	t.Helper()
	shop := NewShop("s")
	shop.Zone = "Europe/Berlin"
	added := time.Date(2026, 3, 2, 9, 0, 0, 0, shop.Location())
	st := Status{Shop: shop, Machine: Machine{ID: 1, Name: "Marble", Added: added,
		Profile: &profile.Profile{Typical: profile.Typical{Sessions: 0.5, Hours: quantity.New(1, 1, quantity.Hour)}}}}
	var runs []Run
	for w := range 12 {
		runs = append(runs, Run{Fact: FactNo(w + 1), For: "ada", Until: added.AddDate(0, 0, 5+7*w).Add(6 * time.Hour),
			Used: 2 * time.Hour})
	}
	return st, runs, added.AddDate(0, 0, 12*7).Add(time.Hour)
}

// Use at weekends brings what needs an hour on a Saturday, and what needs many after
// that many of them; closed days move it; a counter that shows more brings it sooner;
// a chance grows with the days.
func TestUsage(t *testing.T) {
	st, runs, now := usedAt(t)
	hrs := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }
	usage := NewUsage(st, runs, Busyness{}, now)
	if usage.Sessions != 12 || usage.Hours != 24 || usage.Days != 84 {
		t.Errorf("%d sessions, %v h in %d days", usage.Sessions, usage.Hours, usage.Days)
	}
	near, far := usage.When(hrs(1)), usage.When(hrs(10))
	saturday := time.Date(2026, 5, 30, 0, 0, 0, 0, st.Shop.Location())
	if p := usage.Before(hrs(1), saturday.AddDate(0, 0, 1)) - usage.Before(hrs(1), saturday); p < 0.3 ||
		!near.Median.Before(now.AddDate(0, 0, 14)) {
		t.Errorf("an hour by %v, on the Saturday with a chance of %v", near.Median, p)
	}
	if !far.First.After(near.First) || far.Median.Before(now.AddDate(0, 0, 21)) ||
		far.Median.After(now.AddDate(0, 0, 70)) {
		t.Errorf("ten hours: %v", far)
	}
	last := 0.0
	for d := range 60 {
		p := usage.Before(hrs(4), now.AddDate(0, 0, d))
		if p < last || p > 1 {
			t.Fatalf("before day %d: %v after %v", d, p, last)
		}
		last = p
	}
	if last < 0.5 {
		t.Errorf("four hours within sixty days: %v", last)
	}
	more := st
	more.Reporting = &Reporting{}
	more.Reporting.Ratio = 2
	if sooner := NewUsage(more, runs, Busyness{}, now).When(hrs(10)); !sooner.Median.Before(far.Median) {
		t.Errorf("twice as much as reported: %v, not before %v", sooner.Median, far.Median)
	}
	shut := st
	shut.Shop.Open = []time.Weekday{time.Saturday}
	if on := NewUsage(shut, runs, Busyness{}, now).When(hrs(1)); on.First.Weekday() != time.Saturday {
		t.Errorf("open on Saturdays alone: from %v", on.First)
	}
}

// A reading that rises is followed to its upper limits, one that falls to its lower
// ones, and one that stays to none; readings of another mode do not count.
func TestDrifts(t *testing.T) {
	mm := func(thousandths int64) quantity.Value {
		return quantity.New(thousandths, 1000, quantity.Millimetre)
	}
	check := &profile.Check{ID: "gap", Of: quantity.Length, Positions: []string{"left", "right"}, Target: mm(1000),
		Mode:   "a",
		Adjust: metrology.Limits{Low: mm(900), High: mm(1100)}, Stop: metrology.Limits{High: mm(1500)}}
	gauge := GaugeUsed{Name: "dial", Gauge: metrology.Gauge{Resolution: mm(1), Uncertainty: mm(4), Coverage: 2}}
	var read []ReadAt
	for i := range int64(8) {
		read = append(read, ReadAt{Hours: float64(10 * i), Reading: Reading{Check: "gap", Mode: "a", Gauge: gauge,
			Values: []quantity.At{{Position: "left", Repeats: []quantity.Value{mm(1000 + 10*i)}},
				{Position: "right", Repeats: []quantity.Value{mm(1000 - 5*i)}}}}})
	}
	odd := read[3]
	odd.Mode, odd.Values = "b", []quantity.At{{Position: "left", Repeats: []quantity.Value{mm(9000)}},
		{Position: "right", Repeats: []quantity.Value{mm(9000)}}}
	all := Drifts(check, append(read, odd))
	if len(all) != 2 {
		t.Fatalf("%+v", all)
	}
	left, right := all[0], all[1]
	if !left.Drift.Proved || left.Adjust == nil || !left.Adjust.Limit.Equal(mm(1100)) || left.Stop == nil ||
		!left.Stop.Limit.Equal(mm(1500)) {
		t.Errorf("left: %+v", left)
	}
	if got := left.Adjust.Middle.Float(quantity.Hour); got != 30 {
		t.Errorf("left is out after %v h, want 30", got)
	}
	if !right.Drift.Proved || right.Adjust == nil || !right.Adjust.Limit.Equal(mm(900)) || right.Stop != nil {
		t.Errorf("right: %+v", right)
	}
	if got := right.Adjust.Middle.Float(quantity.Hour); got != 130 {
		t.Errorf("right is out after %v h, want 130", got)
	}
	if few := Drifts(check, read[:2]); few[0].Drift.Proved || few[0].Adjust != nil || few[0].Drift.More != 2 {
		t.Errorf("two readings: %+v", few[0])
	}
	check.Target = quantity.Value{}
	if Drifts(check, read) != nil {
		t.Error("a check without a target drifts")
	}
}

// A machine without a history is expected to be used as the shop's others are,
// against what their profiles expect; one with its own hardly cares.
func TestBusyness(t *testing.T) {
	st, runs, now := usedAt(t)
	other := Machine{ID: 2, Added: st.Machine.Added, Profile: st.Machine.Profile}
	ten := quantity.New(10, 1, quantity.Hour)
	if r := (Busyness{}).Ratio(); r != 1 {
		t.Errorf("a shop of one machine: %v", r)
	}
	// 84 days at half a session: 42 are expected.
	busy, idle := Busyness{}.With(other, 166, now), Busyness{}.With(other, 0, now)
	if b, i := busy.Ratio(), idle.Ratio(); b < 2.9 || b > 3.1 || i < 0.31 || i > 0.33 {
		t.Errorf("busy %v, idle %v", b, i)
	}
	fresh := st
	fresh.Machine.Added = now.AddDate(0, 0, -1)
	soon, late := NewUsage(fresh, nil, busy, now).When(ten).Median, NewUsage(fresh, nil, idle, now).When(ten).Median
	if soon.IsZero() || !late.IsZero() && !soon.AddDate(0, 0, 14).Before(late) {
		t.Errorf("without a history %v in a busy shop, %v in an idle one", soon, late)
	}
	a, b := NewUsage(st, runs, busy, now).When(ten).Median, NewUsage(st, runs, idle, now).When(ten).Median
	if b.Sub(a).Abs() > 10*24*time.Hour {
		t.Errorf("with a history %v and %v", a, b)
	}
}
