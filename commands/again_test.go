package commands_test

import (
	"testing"
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
