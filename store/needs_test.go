package store_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// A machine's snapshot shows the machines that it needs and whether they are tagged out,
// and those that need it, by name: as they are now. One that it needs is shown
// though it is retired; one that is retired needs nothing.
func TestNeededMachines(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	setup := snapshot(t, shop, planer).Machine.Setup
	at := time.Hour
	tell := func(m domain.MachineID, b domain.Body) domain.Outcome {
		t.Helper()
		at += time.Hour
		return report(t, shop, entry(fmt.Sprint("needs ", at), at, m, b))
	}
	add := func(name string) domain.MachineID {
		t.Helper()
		return tell(0, domain.MachineAdded{Name: name, Setup: setup}).Fact.Machine
	}
	// Their names are in another order than their numbers.
	slate, granite, chalk := add("Slate"), add("granite"), add("Chalk")
	needs := func(of domain.MachineID, others ...domain.MachineID) {
		t.Helper()
		changed := snapshot(t, shop, of).Machine.Setup
		changed.Needs, changed.Rev = others, changed.Rev+1
		tell(of, domain.SetupChanged{Setup: changed})
	}
	shows := func(when string, of domain.MachineID, want []domain.Need, by ...string) {
		t.Helper()
		for _, how := range []string{"", ", derived again"} {
			snap := snapshot(t, shop, of)
			if d := cmp.Diff(want, snap.Needs); d != "" {
				t.Errorf("%s%s: needs (-want +got):\n%s", when, how, d)
			}
			if !slices.Equal(by, snap.NeededBy) {
				t.Errorf("%s%s: needed by %v, want %v", when, how, snap.NeededBy, by)
			}
			if err := shop.Rebuild(ctx); err != nil {
				t.Fatal(err)
			}
		}
	}
	shows("at first", planer, nil)
	needs(planer, slate, granite, slate)
	needs(slate, granite)
	needs(chalk, granite, planer)
	need := func(m domain.MachineID, name string, out bool) domain.Need {
		return domain.Need{Machine: m, Name: name, Out: out}
	}
	shows("marble", planer, []domain.Need{need(granite, "granite", false), need(slate, "Slate", false)}, "Chalk")
	shows("granite", granite, nil, "Chalk", "Marble", "Slate")
	for _, check := range slices.Backward(snapshot(t, shop, slate).Machine.Profile.Checks) {
		if check.OnDemand {
			continue
		}
		var b domain.Body = domain.Inspection{Check: check.ID, Pass: true}
		if !check.Inspection {
			b = reading(&check, check.Example)
		}
		tell(slate, b)
	}
	tell(slate, hangsTag)
	shows("one tagged out", planer, []domain.Need{need(granite, "granite", false), need(slate, "Slate", true)}, "Chalk")
	tell(slate, answersAll(t, shop, slate))
	tell(slate, domain.Release{Owner: domain.OwnerAsked, Note: "seen to"})
	shows("released", planer, []domain.Need{need(granite, "granite", false), need(slate, "Slate", false)}, "Chalk")
	tell(slate, domain.MachineRetired{})
	tell(chalk, domain.MachineRetired{})
	gone := need(slate, "Slate", false)
	gone.Retired = true
	shows("two retired", planer, []domain.Need{need(granite, "granite", false), gone})
	shows("granite, two retired", granite, nil, "Marble")
	// That it needs them no more takes two.
	item := domain.Item{Kind: domain.NeedsItem}
	changed := snapshot(t, shop, planer).Machine.Setup
	changed.Needs, changed.Rev = nil, changed.Rev+1
	asked := tell(planer, domain.LooseningAsked{Item: item, Setup: changed, Why: "both are gone"})
	shows("asked for", planer, []domain.Need{need(granite, "granite", false), gone})
	force := entry("in force", at+time.Hour, planer, domain.SetupChanged{Item: item, Setup: changed,
		Loosens: asked.Fact.No})
	force.By, force.For, force.Steward = "wren", "wren", true
	report(t, shop, force)
	shows("needs nothing", planer, nil)
	shows("granite, needed by nobody", granite, nil)
}

// A machine without a counter borrows the ratio of reported to counted hours of another,
// as that is now, with its name; one with a counter of its own uses that.
func TestHoursLikeAnotherMachines(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	setup := snapshot(t, shop, planer).Machine.Setup
	at := time.Hour
	tell := func(m domain.MachineID, b domain.Body) domain.Outcome {
		t.Helper()
		at += time.Hour
		e := entry(fmt.Sprint("like ", at), at, m, b)
		e.Sure = true
		return report(t, shop, e)
	}
	slate := tell(0, domain.MachineAdded{Name: "Slate", Setup: setup}).Fact.Machine
	setup.Like, setup.Rev = slate, setup.Rev+1
	tell(planer, domain.SetupChanged{Setup: setup})
	counted := func(when, like string, want ...string) {
		t.Helper()
		snap := snapshot(t, shop, planer)
		var got []string
		for _, span := range snap.Counted {
			got = append(got, fmt.Sprint(span.Until.Sub(start), " ", span.Counted, " of which ", span.Logged))
		}
		if snap.Like != like || !slices.Equal(got, want) {
			t.Errorf("%s: like %q: %q, want %q: %q", when, snap.Like, got, like, want)
		}
	}
	counted("before its counter was read", "Slate")
	tell(slate, domain.CounterRead{Seconds: 0})
	counted("read once", "Slate")
	tell(slate, domain.Hours{Seconds: 3600})
	tell(slate, domain.CounterRead{Seconds: 4 * 3600})
	counted("read twice", "Slate", "6h0m0s 4 of which 1")
	tell(slate, domain.CounterRead{Seconds: 4 * 3600})
	counted("it stood still", "Slate", "6h0m0s 4 of which 1")
	tell(slate, domain.CounterRead{Seconds: 3600, New: true})
	counted("it was changed", "Slate", "6h0m0s 4 of which 1")
	tell(slate, domain.CounterRead{Seconds: 2 * 3600})
	counted("read again", "Slate", "6h0m0s 4 of which 1", "9h0m0s 1 of which 0")
	tell(planer, domain.CounterRead{Seconds: 0})
	tell(planer, domain.CounterRead{Seconds: 3 * 3600})
	counted("read its own", "", "11h0m0s 3 of which 0")
	for i := range 14 {
		tell(planer, domain.CounterRead{Seconds: int64(i+4) * 3600})
	}
	if spans := snapshot(t, shop, planer).Counted; len(spans) != 12 || !spans[11].Until.Equal(start.Add(at)) {
		t.Errorf("after many readings %d spans, until %v", len(spans), spans[len(spans)-1].Until.Sub(start))
	}
}

// What is said of units at adding a machine stays with it.
func TestAMachinesOwnUnits(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	setup := snapshot(t, shop, planer).Machine.Setup
	o := report(t, shop, entry("slate", time.Hour, 0,
		domain.MachineAdded{Name: "Slate", Units: quantity.Imperial, Setup: setup}))
	if slate := snapshot(t, shop, o.Fact.Machine).Machine; slate.Units != quantity.Imperial || slate.Name != "Slate" {
		t.Errorf("added %+v", slate)
	}
	if units := snapshot(t, shop, planer).Machine.Units; units != 0 {
		t.Errorf("the other's units are %v", units)
	}
}
