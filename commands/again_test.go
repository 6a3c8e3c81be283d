package commands_test

import (
	"testing"

	"setscrew/domain/quantity"
)

// A machine that is out of service does not come back into it by being retired and added
// again.
func TestStoryAddedAgain(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.out.Reset()
	w.as("wren", "tagout", "machine=Marble", "reason=hums")
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.as("wren", "shop retire", "machine=Marble")
	w.press("wren", "Retire")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "Stop the test")
	w.as("wren", "shop retire", "machine=Marble")
	w.press("wren", "Retire")
	w.as("wren", "shop add", "name=marble", "kind=thickness-planer", "state=in-use", "with=knives=2")
	w.as("wren", "shop add", "name=marble", "kind=thickness-planer", "state=new", "with=knives=2")
	w.golden("added-again")
}

// What needs a machine that was retired must not run until it is said that it needs it no
// more.
func TestStoryNeedsARetired(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.bring("dust-collector", "Cyclone", quantity.Metric)
	w.must(w.as("wren", "shop needs", "machine=Marble", "other=Cyclone", "wanted=yes"))
	w.out.Reset()
	w.as("wren", "tagout", "machine=Cyclone", "reason=bag torn")
	w.as("ada", "hours", "machine=Marble", "hours=1")
	w.as("wren", "shop retire", "machine=Cyclone")
	w.press("wren", "Retire")
	w.as("ada", "hours", "machine=Marble", "hours=0.5", "sure=yes")
	w.as("ada", "machine", "machine=Marble")
	w.as("ada", "shop needs", "machine=Marble", "other=cyclone", "wanted=no")
	w.as("wren", "shop needs", "machine=Marble", "other=cyclone", "wanted=yes")
	w.as("wren", "shop needs", "machine=Marble", "other=cyclone", "wanted=no")
	w.as("wren", "shop needs", "machine=Marble", "other=cyclone", "wanted=no")
	w.as("ada", "hours", "machine=Marble", "hours=0.5", "sure=yes")
	w.golden("needs-a-retired")
}

// What one left apart is taken over before another says that nothing is.
func TestStoryHandedOnTwice(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.out.Reset()
	w.as("ada", "handover", "machine=Marble", "apart=two knives out", "next=set the knives", "moved=nothing")
	w.as("bo", "handover", "machine=Marble", "apart=nothing", "next=sweep", "moved=nothing")
	w.as("bo", "handover", "machine=Marble")
	w.press("bo", "I take it over")
	w.as("bo", "handover", "machine=Marble", "apart=nothing", "next=sweep", "moved=nothing")
	w.golden("handed-on-twice")
}

// That a lock is off is not taken back once its machine was released.
func TestStoryLockOffUndoneLate(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "tagout", "machine=Marble", "lock=yes")
	w.as("ada", "lock", "machine=Marble")
	w.press("ada", "My lock is off")
	off := w.reported()
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.press("wren", "It runs well")
	w.out.Reset()
	w.as("ada", "undo", report(off))
	w.as("ada", "tagout", "machine=Marble", "lock=yes")
	w.golden("lock-off-undone-late")
}
