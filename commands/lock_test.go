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
	w := newWorld(t)
	w.marble()
	w.as("ada", "tagout", "machine=Marble", "reason=changing the knives @everyone", "lock=yes")
	hung := w.reported()
	w.as("ada", "tagout", "machine=Marble", "reason=and the belts", "lock=yes")
	w.as("ada", "tagout", "machine=Marble", "lock=yes", "for=bo")
	w.as("chidi", "tagout", "machine=Marble", "lock=yes")
	w.notices()
	w.as("bo", "lock", "machine=Marble")
	w.as("bo", "machine", "machine=Marble")
	w.as("wren", "release", "machine=Marble")
	w.as("wren", "undo", report(hung))
	w.as("wren", "release", "machine=Marble")
	w.as("wren", "shop retire", "machine=Marble")
	w.press("wren", "Retire")
	w.as("ada", "lock", "machine=Marble")
	w.press("bo", "My lock is off")
	w.press("wren", "My lock is off")
	w.press("ada", "My lock is off")
	off := w.reported()
	w.press("ada", "My lock is off")
	w.as("wren", "release", "machine=Marble")
	w.as("chidi", "lock", "machine=Marble")
	w.press("chidi", "My lock is off")
	w.as("chidi", "lock", "machine=Marble")
	w.notices()
	// It is put on again by whoever said that it is off, and ends what runs under test.
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "Seen to: next")
	w.press("wren", "All done: run")
	w.as("ada", "undo", report(off))
	w.as("wren", "release", "machine=Marble")
	w.as("ada", "lock", "machine=Marble")
	w.press("ada", "My lock is off")
	w.as("ada", "why", report(off))
	w.as("ada", "why", report(w.reported()))
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.putRight("wren")
	w.as("wren", "release", "machine=Marble")
	w.press("wren", "It runs well")
	w.notices()
	w.golden("lock")
}

// Another's lock comes off by the written procedure: its owner is asked and waited for,
// what was done is noted, and a second person confirms it.
func TestStoryLockProcedure(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "tagout", "machine=Marble", "reason=changing the knives", "lock=yes")
	w.as("wren", "lock", "machine=Marble")
	w.press("bo", "Ask its owner")
	w.press("wren", "Ask its owner")
	asked := w.reported()
	w.press("ishaan", "Ask its owner")
	w.notices()
	w.as("wren", "lock", "machine=Marble")
	w.as("bo", "lock", "machine=Marble")
	// She answers: it stays on, and all begins from the start.
	w.as("ada", "lock", "machine=Marble")
	kept := w.last
	w.press("wren", "My lock stays on")
	w.pressOn(kept, "ada", "My lock stays on")
	w.as("wren", "why", report(asked))
	w.as("wren", "why", report(w.reported()))
	w.notices()
	w.as("wren", "shop settings", "lock=5 min")
	w.as("wren", "shop settings", "lock=45 min")
	w.as("wren", "lock", "machine=Marble")
	w.press("wren", "Ask its owner")
	early := w.last
	w.now = w.now.Add(31 * time.Minute)
	w.as("wren", "lock", "machine=Marble")
	w.now = w.now.Add(15 * time.Minute)
	w.as("wren", "lock", "machine=Marble")
	note := w.last
	w.press("bo", "Note what was done")
	w.pressOn(note, "wren", "Note what was done")
	w.fill("wren", "note=")
	w.pressOn(note, "wren", "Note what was done")
	w.fill("wren", "note="+strings.Repeat("looked inside, ", 21))
	w.pressOn(note, "wren", "Note what was done")
	w.fill("wren", "note=covers open, nobody inside; called twice; left at 8")
	noted := w.reported()
	w.notices()
	w.as("wren", "lock", "machine=Marble")
	w.as("wren", "release", "machine=Marble")
	w.as("bo", "lock", "machine=Marble")
	confirm := w.last
	w.pressOn(confirm, "wren", "I looked")
	w.pressOn(confirm, "ada", "I looked")
	// What was noted is taken back: the button of it is of no use, and it is noted again.
	w.as("wren", "undo", report(noted))
	w.pressOn(confirm, "bo", "I looked")
	w.notices()
	w.as("wren", "lock", "machine=Marble")
	w.press("wren", "Note what was done")
	w.fill("wren", "note=covers open, nobody inside; called twice")
	w.as("bo", "lock", "machine=Marble")
	w.press("bo", "I looked")
	off := w.reported()
	w.pressOn(confirm, "bo", "I looked")
	w.as("ada", "lock", "machine=Marble")
	w.as("bo", "why", report(off))
	w.as("bo", "why", report(off-1))
	w.as("bo", "machine", "machine=Marble")
	w.notices()
	w.as("wren", "release", "machine=Marble")
	w.intoTest("wren")
	w.as("ishaan", "undo", report(off))
	w.as("ada", "lock", "machine=Marble")
	w.pressOn(note, "wren", "Note what was done")
	w.as("wren", "lock", "machine=Marble")
	w.press("wren", "Ask its owner")
	w.pressOn(note, "wren", "Note what was done")
	w.notices()
	if early.Refused {
		t.Error("its owner was not asked")
	}
	w.golden("lock-procedure")
}

// Where there is no second person the procedure waits for a day.
func TestStoryLockAlone(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "tagout", "machine=Marble", "lock=yes")
	w.as("bo", "tagout", "machine=Marble", "reason=belts", "lock=yes")
	w.as("wren", "lock", "machine=Marble")
	both := w.last
	w.press("wren", "Ask its owner")
	w.now = w.now.Add(time.Hour)
	w.as("wren", "lock", "machine=Marble")
	w.press("wren", "Note what was done")
	w.fill("wren", "note=covers open, nobody inside")
	w.now = w.now.Add(23*time.Hour + 59*time.Minute)
	w.as("wren", "lock", "machine=Marble")
	w.now = w.now.Add(time.Minute)
	w.as("wren", "lock", "machine=Marble")
	w.press("wren", "24 hours are over")
	w.pressOn(both, "wren", "Ask its owner")
	w.notices()
	w.golden("lock-alone")
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
