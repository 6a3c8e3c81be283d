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
	w := newWorld(t)
	w.marble()
	w.must(w.as("ada", "hours", "machine=Marble", "hours=6"))
	w.must(w.as("wren", "service", "machine=Marble", "service=dust"))
	w.now = w.now.Add(24 * time.Hour)
	w.must(w.as("ada", "hours", "machine=Marble", "hours=6"))
	w.notices()
	w.out.Reset()
	w.must(w.as("ada", "problem", "machine=Marble", "what=chater marks all over"))
	w.press("ada", "No")
	w.must(w.as("bo", "problem", "machine=Marble", "what=ripples across the board"))
	w.must(w.as("chidi", "problem", "machine=Marble", "what=marks", "note=on oak"))
	w.press("chidi", "Can't tell")
	w.as("wren", "why", "machine=Marble", "problem=fine marks across the board")
	w.must(w.as("wren", "cause", "machine=Marble", "problem=fine marks across the board"))
	w.press("wren", "Not this: dull knives")
	w.press("wren", "It was this: pitch")
	w.press("wren", "Show the steps")
	w.must(w.as("wren", "cause", "machine=Marble", "problem=fine marks across the board"))
	w.must(w.as("wren", "service", "machine=Marble", "service=wax"))
	w.notices()
	w.as("wren", "cause", "machine=Marble", "problem=fine marks across the board")
	w.must(w.as("ada", "hours", "machine=Marble", "hours=2", "sure=yes"))
	w.must(w.as("bo", "problem", "machine=Marble", "what=marks"))
	w.press("bo", "Yes")
	w.press("bo", "No")
	w.press("bo", "It was this: a cut too light")
	w.notices()
	w.golden("cause")
}

// A ridge leads to a nicked knife: a nail was hit, and the same place on every board
// shows it. Vibration stops the machine before anything is asked; somebody hurt is
// not asked at all.
func TestStoryRidge(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.must(w.as("ada", "event", "machine=Marble", "event=struck metal"))
	w.out.Reset()
	w.must(w.as("ada", "problem", "machine=Marble", "what=theres a thin bead along the whole board"))
	w.press("ada", "Yes")
	w.must(w.as("wren", "cause", "machine=Marble", "problem=ridge along the board"))
	w.press("ada", "It was this: a nick")
	w.press("wren", "It was this: a nick")
	w.must(w.as("wren", "event", "machine=Marble", "event=knives changed or reset"))
	w.as("ada", "problem", "machine=Marble", "what=it makes a mess with lines")
	w.press("ada", "Ridge")
	w.must(w.as("ada", "problem", "machine=Marble", "what=its shaking like crazy, vibration"))
	w.must(w.as("wren", "cause", "machine=Marble", "problem=unusual vibration or knocking"))
	w.press("wren", "It was this: a knife not clamped")
	w.must(w.as("ada", "problem", "machine=Marble", "what=someone is hurt"))
	w.as("wren", "cause", "machine=Marble", "problem=somebody hurt")
	w.as("wren", "why", "machine=Marble", "problem=somebody hurt")
	w.golden("ridge")
}

// Why says every fact that moved a cause: what was read, failed, missed or gone
// stale, answers, and the machine's own problems.
func TestStoryWhyCause(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	ridge := "ridge along the board"
	why := func(problem string) { w.must(w.as("wren", "why", "machine=Marble", "problem="+problem)) }
	w.out.Reset()
	// A ridge that was a nick, then one that was a chip and comes back.
	w.must(w.as("ada", "problem", "machine=Marble", "what=ridge"))
	w.press("ada", "Yes")
	yes := w.reported()
	w.must(w.as("wren", "cause", "machine=Marble", "problem="+ridge))
	w.press("wren", "Can't tell: a chip")
	w.press("wren", "It was this: a nick")
	why(ridge)
	w.must(w.as("wren", "mended", "machine=Marble", "problem="+ridge))
	w.must(w.as("ada", "problem", "machine=Marble", "what=ridge"))
	w.press("ada", "No")
	w.must(w.as("wren", "cause", "machine=Marble", "problem="+ridge))
	w.press("wren", "Not this: a nick")
	notThis := w.reported()
	w.press("wren", "It was this: a chip")
	why(ridge)
	w.must(w.as("wren", "service", "machine=Marble", "service=dust"))
	w.must(w.as("ada", "problem", "machine=Marble", "what=ridge"))
	why(ridge)
	// A table out of true, then moved.
	w.must(w.as("wren", "reading", "machine=Marble", "check=table", "values=0.30 mm"))
	w.must(w.as("ada", "problem", "machine=Marble", "what=one edge thicker"))
	why("tapered board")
	w.must(w.as("wren", "event", "machine=Marble", "event=machine moved"))
	why("tapered board")
	// Caps too low, and what to set them to.
	w.must(w.as("wren", "reading", "machine=Marble", "check=infeed-caps", "values=left 1.2, right 1.2 mm"))
	w.must(w.as("ada", "problem", "machine=Marble", "what=marks"))
	w.press("ada", "No")
	w.press("ada", "No")
	w.press("ada", "It was this: infeed spring caps too tight")
	// A clamping that failed.
	w.must(w.as("wren", "reading", "machine=Marble", "check=clamping", "values=fail"))
	w.must(w.as("ada", "problem", "machine=Marble", "what=vibration"))
	why("unusual vibration or knocking")
	for no := yes + 1; no <= notThis; no++ {
		w.as("wren", "why", report(no))
	}
	// Nothing was ever read of a new one.
	w.addInUse("wren", "Slate")
	w.must(w.as("ada", "problem", "machine=Slate", "what=one edge thicker"))
	w.must(w.as("wren", "why", "machine=Slate", "problem=tapered board"))
	w.must(w.as("wren", "cause", "machine=Slate", "problem=tapered board"))
	w.press("wren", "No")
	w.press("wren", "It was this: a board")
	w.now = w.now.Add(20 * time.Hour)
	w.must(w.as("ada", "hours", "machine=Slate", "hours=9"))
	w.must(w.as("ada", "problem", "machine=Slate", "what=one edge thicker"))
	w.must(w.as("wren", "why", "machine=Slate", "problem=tapered board"))
	w.golden("why-cause")
}
