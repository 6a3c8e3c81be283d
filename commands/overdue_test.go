package commands_test

import (
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// saw brings Anvil, the demo's table saw, read and in service, into a shop that is open
// from Tuesday to Saturday in the evening.
func (w *world) saw() {
	w.t.Helper()
	w.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric", "notices=shop-notices",
		"stewards=stewards", "open=tue-sat", "hours=17:00-22:00")
	w.bring("table-saw", "Anvil", quantity.Metric)
	w.must(w.as("ada", "reading", "machine=Anvil", "check=gap of the riving knife", "values=5.0 mm"))
	for _, check := range []string{"blade guard", "cable and plug", "brake"} {
		w.must(w.as("ada", "reading", "machine=Anvil", "check="+check, "values=pass"))
	}
	w.notices()
	w.out.Reset()
}

// An inspection that nobody makes is warned of, extended once, and takes the machine
// out of service shortly before the shop opens; not at midnight, and not while it is
// closed for days.
func TestStoryOverdue(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.saw()
	w.as("ada", "machine", "machine=Anvil")
	w.must(w.as("ada", "reading", "machine=Anvil", "check=push stick at hand", "values=pass"))
	w.as("wren", "shop interval", "machine=Anvil", "what=push stick at hand", "every=7 days")
	w.sweep(33 * 24 * time.Hour)
	w.notices()
	w.sweep(5 * 24 * time.Hour)
	w.notices()
	w.as("ada", "machine", "machine=Anvil")
	// A steward extends it, once and by a week at most.
	w.as("ada", "extend", "machine=Anvil", "check=blade guard", "days=3", "why=wren is ill until Friday")
	w.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=8", "why=wren is ill until Friday")
	w.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=soon", "why=x")
	w.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=3", "why= ")
	w.as("wren", "extend", "machine=Anvil", "check=cable and plug", "days=3", "why=x")
	w.as("wren", "extend", "machine=Anvil", "check=push stick at hand", "days=3", "why=x")
	w.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=3", "why=wren is ill until Friday")
	extended := w.reported()
	w.notices()
	w.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=1", "why=x")
	w.as("wren", "why", report(extended))
	// The shop is closed when that runs out, and the machine goes out before it opens again.
	w.as("owner", "shop settings", "closed=2026-04-14 to 2026-04-18")
	w.as("wren", "shop settings", "hours=0:00-24:00")
	w.sweep(12*24*time.Hour + 8*time.Hour)
	w.notices()
	w.as("ada", "machine", "machine=Anvil")
	w.must(w.as("ada", "reading", "machine=Anvil", "check=blade guard", "values=fail: cracked"))
	w.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=1", "why=x")
	w.golden("overdue")
}

// What is done takes itself from the warning; when nothing is left it says so.
func TestStoryWarned(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.bring("dust-collector", "Cyclone", quantity.Metric)
	w.out.Reset()
	w.sweep(8 * 24 * time.Hour)
	w.notices()
	w.must(w.as("ada", "reading", "machine=Marble", "check=fingers", "values=pass"))
	w.notices()
	w.must(w.as("ada", "reading", "machine=Marble", "check=guards", "values=pass"))
	for _, n := range w.notices() {
		if n.Topic == domain.TopicTagOut {
			t.Errorf("%+v", n)
		}
	}
	w.sweep(16 * 24 * time.Hour)
	w.notices()
	w.golden("warned")
}

// A test ends by itself unless it is said to go on; hours of somebody else's are told;
// what was read before it does not count; and an old button does nothing to another's
// test. One of a machine that runs unattended is asked about instead.
func TestStoryTestRuns(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.saw()
	w.must(w.as("ada", "reading", "machine=Anvil", "check=push stick at hand", "values=pass"))
	w.as("ada", "tagout", "machine=Anvil", "reason=the blade was changed")
	w.sweep(time.Minute)
	w.as("bo", "reading", "machine=Anvil", "check=brake", "values=pass")
	w.as("ada", "machine", "machine=Anvil")
	w.as("wren", "release", "machine=Anvil")
	old := w.intoTest("wren")
	w.notices()
	w.as("bo", "hours", "machine=Anvil", "hours=0.25")
	w.as("wren", "hours", "machine=Anvil", "hours=0.25", "sure=yes")
	w.sweep(20 * time.Minute)
	w.press("wren", "Still testing")
	renewed := w.reported()
	w.sweep(20 * time.Minute)
	w.notices()
	w.sweep(20 * time.Minute)
	w.notices()
	w.as("wren", "why", report(renewed))
	w.pressOn(old, "wren", "It runs well")
	// Another steward begins a test of their own.
	w.as("ishaan", "release", "machine=Anvil")
	w.intoTest("ishaan")
	w.notices()
	w.pressOn(old, "wren", "It runs well")
	w.pressOn(old, "wren", "Still testing")
	w.pressOn(old, "wren", "Stop the test")
	w.send("wren", "press a button of an earlier version", "s1:release:1", nil)
	w.press("ishaan", "It runs well")
	w.must(w.as("ishaan", "reading", "machine=Anvil", "check=brake", "values=pass"))
	w.press("ishaan", "It runs well")
	w.notices()
	// A printer runs unattended.
	w.bring("four-knob-printer", "Pip", quantity.Metric)
	w.must(w.as("ada", "reading", "machine=Pip", "check=bed level", "values=0 0 0 0 0 mm"))
	w.must(w.as("wren", "tagout", "machine=Pip", "reason=new nozzle"))
	w.as("wren", "release", "machine=Pip")
	w.intoTest("wren")
	w.notices()
	w.sweep(130 * time.Minute)
	w.notices()
	w.golden("test-runs")
}
