package commands_test

import (
	"testing"
	"time"
)

// Three members report marks: it is one problem; two answers lead to the cause, its
// service mends it, and those who reported it are told. It comes back, and what was
// mended is no longer the likeliest.
func TestStoryCause(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "hours", "machine=Marble", "hours=6"))
	world.must(world.as("wren", "service", "machine=Marble", "service=dust"))
	world.now = world.now.Add(24 * time.Hour)
	world.must(world.as("ada", "hours", "machine=Marble", "hours=6"))
	world.notices()
	world.out.Reset()
	world.must(world.as("ada", "problem", "machine=Marble", "what=chater marks all over"))
	world.press("ada", "No")
	world.must(world.as("bo", "problem", "machine=Marble", "what=ripples across the board"))
	world.must(world.as("chidi", "problem", "machine=Marble", "what=marks", "note=on oak"))
	world.press("chidi", "Can't tell")
	world.as("wren", "why", "machine=Marble", "problem=fine marks across the board")
	world.must(world.as("wren", "cause", "machine=Marble", "problem=fine marks across the board"))
	world.press("wren", "Not this: dull knives")
	world.press("wren", "It was this: pitch")
	world.press("wren", "Show the steps")
	world.must(world.as("wren", "cause", "machine=Marble", "problem=fine marks across the board"))
	world.must(world.as("wren", "service", "machine=Marble", "service=wax"))
	world.notices()
	world.as("wren", "cause", "machine=Marble", "problem=fine marks across the board")
	world.must(world.as("ada", "hours", "machine=Marble", "hours=2", "sure=yes"))
	world.must(world.as("bo", "problem", "machine=Marble", "what=marks"))
	world.press("bo", "Yes")
	world.press("bo", "No")
	world.press("bo", "It was this: a cut too light")
	world.notices()
	world.golden("cause")
}

// A ridge leads to a nicked knife: a nail was hit, and the same place on every board
// shows it. Vibration stops the machine before anything is asked; somebody hurt is
// not asked at all.
func TestStoryRidge(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "event", "machine=Marble", "event=struck metal"))
	world.out.Reset()
	world.must(world.as("ada", "problem", "machine=Marble", "what=theres a thin bead along the whole board"))
	world.press("ada", "Yes")
	world.must(world.as("wren", "cause", "machine=Marble", "problem=ridge along the board"))
	world.press("ada", "It was this: a nick")
	world.press("wren", "It was this: a nick")
	world.must(world.as("wren", "event", "machine=Marble", "event=knives changed or reset"))
	world.as("ada", "problem", "machine=Marble", "what=it makes a mess with lines")
	world.press("ada", "Ridge")
	world.must(world.as("ada", "problem", "machine=Marble", "what=its shaking like crazy, vibration"))
	world.must(world.as("wren", "cause", "machine=Marble", "problem=unusual vibration or knocking"))
	world.press("wren", "It was this: a knife not clamped")
	world.must(world.as("ada", "problem", "machine=Marble", "what=someone is hurt"))
	world.as("wren", "cause", "machine=Marble", "problem=somebody hurt")
	world.as("wren", "why", "machine=Marble", "problem=somebody hurt")
	world.golden("ridge")
}

// Why says every fact that moved a cause: what was read, failed, missed or gone
// stale, answers, and the machine's own problems.
func TestStoryWhyCause(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	ridge := "ridge along the board"
	why := func(problem string) { world.must(world.as("wren", "why", "machine=Marble", "problem="+problem)) }
	world.out.Reset()
	// A ridge that was a nick, then one that was a chip and comes back.
	world.must(world.as("ada", "problem", "machine=Marble", "what=ridge"))
	world.press("ada", "Yes")
	yes := world.reported()
	world.must(world.as("wren", "cause", "machine=Marble", "problem="+ridge))
	world.press("wren", "Can't tell: a chip")
	world.press("wren", "It was this: a nick")
	why(ridge)
	world.must(world.as("wren", "mended", "machine=Marble", "problem="+ridge))
	world.must(world.as("ada", "problem", "machine=Marble", "what=ridge"))
	world.press("ada", "No")
	world.must(world.as("wren", "cause", "machine=Marble", "problem="+ridge))
	world.press("wren", "Not this: a nick")
	notThis := world.reported()
	world.press("wren", "It was this: a chip")
	why(ridge)
	world.must(world.as("wren", "service", "machine=Marble", "service=dust"))
	world.must(world.as("ada", "problem", "machine=Marble", "what=ridge"))
	why(ridge)
	// A table out of true, then moved.
	world.must(world.as("wren", "reading", "machine=Marble", "check=table", "values=0.30 mm"))
	world.must(world.as("ada", "problem", "machine=Marble", "what=one edge thicker"))
	why("tapered board")
	world.must(world.as("wren", "event", "machine=Marble", "event=machine moved"))
	why("tapered board")
	// Caps too low, and what to set them to.
	world.must(world.as("wren", "reading", "machine=Marble", "check=infeed-caps", "values=left 1.2, right 1.2 mm"))
	world.must(world.as("ada", "problem", "machine=Marble", "what=marks"))
	world.press("ada", "No")
	world.press("ada", "No")
	world.press("ada", "It was this: infeed spring caps too tight")
	// A clamping that failed.
	world.must(world.as("wren", "reading", "machine=Marble", "check=clamping", "values=fail"))
	world.must(world.as("ada", "problem", "machine=Marble", "what=vibration"))
	why("unusual vibration or knocking")
	for no := yes + 1; no <= notThis; no++ {
		world.as("wren", "why", report(no))
	}
	// Nothing was ever read of a new one.
	world.addInUse("wren", "Slate")
	world.must(world.as("ada", "problem", "machine=Slate", "what=one edge thicker"))
	world.must(world.as("wren", "why", "machine=Slate", "problem=tapered board"))
	world.must(world.as("wren", "cause", "machine=Slate", "problem=tapered board"))
	world.press("wren", "No")
	world.press("wren", "It was this: a board")
	world.now = world.now.Add(20 * time.Hour)
	world.must(world.as("ada", "hours", "machine=Slate", "hours=9"))
	world.must(world.as("ada", "problem", "machine=Slate", "what=one edge thicker"))
	world.must(world.as("wren", "why", "machine=Slate", "problem=tapered board"))
	world.golden("why-cause")
}
