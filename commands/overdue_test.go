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
	world := newWorld(t)
	world.saw()
	world.as("ada", "machine", "machine=Anvil")
	world.must(world.as("ada", "reading", "machine=Anvil", "check=push stick at hand", "values=pass"))
	world.as("wren", "shop interval", "machine=Anvil", "what=push stick at hand", "every=7 days")
	world.sweep(33 * 24 * time.Hour)
	world.notices()
	world.sweep(5 * 24 * time.Hour)
	world.notices()
	world.as("ada", "machine", "machine=Anvil")
	// A steward extends it, once and by a week at most.
	world.as("ada", "extend", "machine=Anvil", "check=blade guard", "days=3", "why=wren is ill until Friday")
	world.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=8", "why=wren is ill until Friday")
	world.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=soon", "why=x")
	world.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=3", "why= ")
	world.as("wren", "extend", "machine=Anvil", "check=cable and plug", "days=3", "why=x")
	world.as("wren", "extend", "machine=Anvil", "check=push stick at hand", "days=3", "why=x")
	world.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=3", "why=wren is ill until Friday")
	extended := world.reported()
	world.notices()
	world.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=1", "why=x")
	world.as("wren", "why", report(extended))
	// The shop is closed when that runs out, and the machine goes out before it opens again.
	world.as("owner", "shop settings", "closed=2026-04-14 to 2026-04-18")
	world.as("wren", "shop settings", "hours=0:00-24:00")
	world.sweep(12*24*time.Hour + 8*time.Hour)
	world.notices()
	world.as("ada", "machine", "machine=Anvil")
	world.must(world.as("ada", "reading", "machine=Anvil", "check=blade guard", "values=fail: cracked"))
	world.as("wren", "extend", "machine=Anvil", "check=blade guard", "days=1", "why=x")
	world.golden("overdue")
}

// What is done takes itself from the warning; when nothing is left it says so.
func TestStoryWarned(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.bring("dust-collector", "Cyclone", quantity.Metric)
	world.out.Reset()
	world.sweep(8 * 24 * time.Hour)
	world.notices()
	world.must(world.as("ada", "reading", "machine=Marble", "check=fingers", "values=pass"))
	world.notices()
	world.must(world.as("ada", "reading", "machine=Marble", "check=guards", "values=pass"))
	for _, n := range world.notices() {
		if n.Topic == domain.TopicTagOut {
			t.Errorf("%+v", n)
		}
	}
	world.sweep(16 * 24 * time.Hour)
	world.notices()
	world.golden("warned")
}

// A test ends by itself unless it is said to go on; hours of somebody else's are told;
// what was read before it does not count; and an old button does nothing to another's
// test. One of a machine that runs unattended is asked about instead.
func TestStoryTestRuns(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.saw()
	world.must(world.as("ada", "reading", "machine=Anvil", "check=push stick at hand", "values=pass"))
	world.as("ada", "tagout", "machine=Anvil", "reason=the blade was changed")
	world.sweep(time.Minute)
	world.as("bo", "reading", "machine=Anvil", "check=brake", "values=pass")
	world.as("ada", "machine", "machine=Anvil")
	world.as("wren", "release", "machine=Anvil")
	old := world.intoTest("wren")
	world.notices()
	world.as("bo", "hours", "machine=Anvil", "hours=0.25")
	world.as("wren", "hours", "machine=Anvil", "hours=0.25", "sure=yes")
	world.sweep(20 * time.Minute)
	world.press("wren", "Still testing")
	renewed := world.reported()
	world.sweep(20 * time.Minute)
	world.notices()
	world.sweep(20 * time.Minute)
	world.notices()
	world.as("wren", "why", report(renewed))
	world.pressOn(old, "wren", "It runs well")
	// Another steward begins a test of their own.
	world.as("ishaan", "release", "machine=Anvil")
	world.intoTest("ishaan")
	world.notices()
	world.pressOn(old, "wren", "It runs well")
	world.pressOn(old, "wren", "Still testing")
	world.pressOn(old, "wren", "Stop the test")
	world.send("wren", "press a button of an earlier version", "s1:release:1", nil)
	world.press("ishaan", "It runs well")
	world.must(world.as("ishaan", "reading", "machine=Anvil", "check=brake", "values=pass"))
	world.press("ishaan", "It runs well")
	world.notices()
	// A printer runs unattended.
	world.bring("four-knob-printer", "Pip", quantity.Metric)
	world.must(world.as("ada", "reading", "machine=Pip", "check=bed level", "values=0 0 0 0 0 mm"))
	world.must(world.as("wren", "tagout", "machine=Pip", "reason=new nozzle"))
	world.as("wren", "release", "machine=Pip")
	world.intoTest("wren")
	world.notices()
	world.sweep(130 * time.Minute)
	world.notices()
	world.golden("test-runs")
}
