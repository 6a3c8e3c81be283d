package commands_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/domain/quantity"
)

// A lock is on while its owner works in the machine. Nobody else lifts it by a press: it
// comes off by its owner, and a release answers for what is left.
func TestStoryLock(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "tagout", "machine=Marble", "reason=changing the knives @everyone", "lock=yes")
	hung := world.reported()
	world.as("ada", "tagout", "machine=Marble", "reason=and the belts", "lock=yes")
	world.as("ada", "tagout", "machine=Marble", "lock=yes", "for=bo")
	world.as("chidi", "tagout", "machine=Marble", "lock=yes")
	world.notices()
	world.as("bo", "lock", "machine=Marble")
	world.as("bo", "machine", "machine=Marble")
	world.as("wren", "release", "machine=Marble")
	world.as("wren", "undo", report(hung))
	world.as("wren", "release", "machine=Marble")
	world.as("wren", "shop retire", "machine=Marble")
	world.press("wren", "Retire")
	world.as("ada", "lock", "machine=Marble")
	world.press("bo", "My lock is off")
	world.press("wren", "My lock is off")
	world.press("ada", "My lock is off")
	off := world.reported()
	world.press("ada", "My lock is off")
	world.as("wren", "release", "machine=Marble")
	world.as("chidi", "lock", "machine=Marble")
	world.press("chidi", "My lock is off")
	world.as("chidi", "lock", "machine=Marble")
	world.notices()
	// It is put on again by whoever said that it is off, and ends what runs under test.
	world.as("wren", "release", "machine=Marble")
	world.press("wren", "Seen to: next")
	world.press("wren", "All done: run")
	world.as("ada", "undo", report(off))
	world.as("wren", "release", "machine=Marble")
	world.as("ada", "lock", "machine=Marble")
	world.press("ada", "My lock is off")
	world.as("ada", "why", report(off))
	world.as("ada", "why", report(world.reported()))
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.putRight("wren")
	world.as("wren", "release", "machine=Marble")
	world.press("wren", "It runs well")
	world.notices()
	world.golden("lock")
}

// Another's lock comes off by the written procedure: its owner is asked and waited for,
// what was done is noted, and a second person confirms it.
func TestStoryLockProcedure(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "tagout", "machine=Marble", "reason=changing the knives", "lock=yes")
	world.as("wren", "lock", "machine=Marble")
	world.press("bo", "Ask its owner")
	world.press("wren", "Ask its owner")
	asked := world.reported()
	world.press("ishaan", "Ask its owner")
	world.notices()
	world.as("wren", "lock", "machine=Marble")
	world.as("bo", "lock", "machine=Marble")
	// She answers: it stays on, and all begins from the start.
	world.as("ada", "lock", "machine=Marble")
	kept := world.last
	world.press("wren", "My lock stays on")
	world.pressOn(kept, "ada", "My lock stays on")
	world.as("wren", "why", report(asked))
	world.as("wren", "why", report(world.reported()))
	world.notices()
	world.as("wren", "shop settings", "lock=5 min")
	world.as("wren", "shop settings", "lock=45 min")
	world.as("wren", "lock", "machine=Marble")
	world.press("wren", "Ask its owner")
	early := world.last
	world.now = world.now.Add(31 * time.Minute)
	world.as("wren", "lock", "machine=Marble")
	world.now = world.now.Add(15 * time.Minute)
	world.as("wren", "lock", "machine=Marble")
	note := world.last
	world.press("bo", "Note what was done")
	world.pressOn(note, "wren", "Note what was done")
	world.fill("wren", "note=")
	world.pressOn(note, "wren", "Note what was done")
	world.fill("wren", "note="+strings.Repeat("looked inside, ", 21))
	world.pressOn(note, "wren", "Note what was done")
	world.fill("wren", "note=covers open, nobody inside; called twice; left at 8")
	noted := world.reported()
	world.notices()
	world.as("wren", "lock", "machine=Marble")
	world.as("wren", "release", "machine=Marble")
	world.as("bo", "lock", "machine=Marble")
	confirm := world.last
	world.pressOn(confirm, "wren", "I looked")
	world.pressOn(confirm, "ada", "I looked")
	// What was noted is taken back: the button of it is of no use, and it is noted again.
	world.as("wren", "undo", report(noted))
	world.pressOn(confirm, "bo", "I looked")
	world.notices()
	world.as("wren", "lock", "machine=Marble")
	world.press("wren", "Note what was done")
	world.fill("wren", "note=covers open, nobody inside; called twice")
	world.as("bo", "lock", "machine=Marble")
	world.press("bo", "I looked")
	off := world.reported()
	world.pressOn(confirm, "bo", "I looked")
	world.as("ada", "lock", "machine=Marble")
	world.as("bo", "why", report(off))
	world.as("bo", "why", report(off-1))
	world.as("bo", "machine", "machine=Marble")
	world.notices()
	world.as("wren", "release", "machine=Marble")
	world.intoTest("wren")
	world.as("ishaan", "undo", report(off))
	world.as("ada", "lock", "machine=Marble")
	world.pressOn(note, "wren", "Note what was done")
	world.as("wren", "lock", "machine=Marble")
	world.press("wren", "Ask its owner")
	world.pressOn(note, "wren", "Note what was done")
	world.notices()
	if early.Refused {
		t.Error("its owner was not asked")
	}
	world.golden("lock-procedure")
}

// Where there is no second person the procedure waits for a day.
func TestStoryLockAlone(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "tagout", "machine=Marble", "lock=yes")
	world.as("bo", "tagout", "machine=Marble", "reason=belts", "lock=yes")
	world.as("wren", "lock", "machine=Marble")
	both := world.last
	world.press("wren", "Ask its owner")
	world.now = world.now.Add(time.Hour)
	world.as("wren", "lock", "machine=Marble")
	world.press("wren", "Note what was done")
	world.fill("wren", "note=covers open, nobody inside")
	world.now = world.now.Add(23*time.Hour + 59*time.Minute)
	world.as("wren", "lock", "machine=Marble")
	world.now = world.now.Add(time.Minute)
	world.as("wren", "lock", "machine=Marble")
	world.press("wren", "24 hours are over")
	world.pressOn(both, "wren", "Ask its owner")
	world.notices()
	world.golden("lock-alone")
}

// Nobody can be asked in a channel that is not there.
func TestLockNeedsAChannel(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.bring("levelled-table", "Flint", quantity.Metric)
	w.must(w.as("ada", "tagout", "machine=Flint", "lock=yes"))
	w.as("owner", "lock", "machine=Flint")
	if r := w.press("owner", "Ask its owner"); !r.Refused || !slices.Contains(w.keys, "lock.nochannel") {
		t.Errorf("asked without a channel: %+v", r)
	}
}
