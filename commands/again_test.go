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
