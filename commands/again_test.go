package commands_test

import (
	"testing"

	"setscrew/domain/quantity"
)

// A machine that is out of service does not come back into it by being retired and added
// again.
func TestStoryAddedAgain(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.out.Reset()
	world.as("wren", "tagout", "machine=Marble", "reason=hums")
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.as("wren", "shop retire", "machine=Marble")
	world.press("wren", "Retire")
	world.as("wren", "release", "machine=Marble")
	world.press("wren", "Stop the test")
	world.as("wren", "shop retire", "machine=Marble")
	world.press("wren", "Retire")
	world.as("wren", "shop add", "name=marble", "kind=thickness-planer", "state=in-use", "with=knives=2")
	world.as("wren", "shop add", "name=marble", "kind=thickness-planer", "state=new", "with=knives=2")
	world.golden("added-again")
}

// What needs a machine that was retired must not run until it is said that it needs it no
// more.
func TestStoryNeedsARetired(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.bring("dust-collector", "Cyclone", quantity.Metric)
	world.must(world.as("wren", "shop needs", "machine=Marble", "other=Cyclone", "wanted=yes"))
	world.out.Reset()
	world.as("wren", "tagout", "machine=Cyclone", "reason=bag torn")
	world.as("ada", "hours", "machine=Marble", "hours=1")
	world.as("wren", "shop retire", "machine=Cyclone")
	world.press("wren", "Retire")
	world.as("ada", "hours", "machine=Marble", "hours=0.5", "sure=yes")
	world.as("ada", "machine", "machine=Marble")
	world.as("ada", "shop needs", "machine=Marble", "other=cyclone", "wanted=no")
	world.as("wren", "shop needs", "machine=Marble", "other=cyclone", "wanted=yes")
	world.as("ishaan", "due")
	world.as("wren", "shop needs", "machine=Marble", "other=cyclone", "wanted=no")
	world.as("wren", "shop needs", "machine=Marble", "other=cyclone", "wanted=no", "why=it was sold")
	world.as("ishaan", "shop loosen", "machine=Marble")
	world.press("ishaan", "Put it in force")
	world.as("wren", "shop needs", "machine=Marble", "other=cyclone", "wanted=no")
	world.as("ada", "hours", "machine=Marble", "hours=0.5", "sure=yes")
	world.golden("needs-a-retired")
}

// What one left apart is taken over before another says that nothing is.
func TestStoryHandedOnTwice(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.out.Reset()
	world.as("ada", "handover", "machine=Marble", "apart=two knives out", "next=set the knives", "moved=nothing")
	world.as("bo", "handover", "machine=Marble", "apart=nothing", "next=sweep", "moved=nothing")
	world.as("bo", "handover", "machine=Marble")
	world.press("bo", "I take it over")
	world.as("bo", "handover", "machine=Marble", "apart=nothing", "next=sweep", "moved=nothing")
	world.golden("handed-on-twice")
}

// That a lock is off is not taken back once its machine was released.
func TestStoryLockOffUndoneLate(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "tagout", "machine=Marble", "lock=yes")
	world.as("ada", "lock", "machine=Marble")
	world.press("ada", "My lock is off")
	off := world.reported()
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.press("wren", "It runs well")
	world.out.Reset()
	world.as("ada", "undo", report(off))
	world.as("ada", "tagout", "machine=Marble", "lock=yes")
	world.golden("lock-off-undone-late")
}
