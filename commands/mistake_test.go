package commands_test

import (
	"testing"
	"time"
)

// A stop without words is taken back within two minutes by who pressed it, where nothing
// else was reported; both stay on record.
func TestStoryMistake(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "tagout", "machine=Marble")
	stopped := w.reported()
	w.press("bo", "Pressed by mistake")
	w.press("wren", "Pressed by mistake")
	w.notices()
	w.press("ada", "Pressed by mistake")
	back := w.reported()
	w.press("ada", "Pressed by mistake")
	w.notices()
	w.as("ada", "why", report(stopped))
	w.as("ada", "why", report(back))
	w.as("ada", "undo", report(back))
	w.as("bo", "machine", "machine=Marble")
	w.as("bo", "logbook", "machine=Marble")
	// A button's press after a report has no words of its own either.
	w.as("ada", "problem", "machine=Marble", "what=creaks")
	w.press("bo", "Tag out Marble")
	w.press("bo", "Pressed by mistake")
	w.notices()
	// Words, time, and what came since, are for a steward.
	w.as("ada", "tagout", "machine=Marble", "reason=smells")
	if _, ok := button(w.last, "Pressed by mistake"); ok {
		t.Error("a stop with words is taken back")
	}
	w.as("bo", "tagout", "machine=Marble")
	w.now = w.now.Add(2 * time.Minute)
	w.press("bo", "Pressed by mistake")
	w.as("chidi", "tagout", "machine=Marble")
	w.as("bo", "hours", "machine=Marble", "hours=5 min")
	w.press("chidi", "Pressed by mistake")
	w.as("wren", "tagout", "machine=Marble")
	w.press("wren", "Pressed by mistake")
	w.now = w.now.Add(10 * time.Minute)
	for _, more := range []string{"paper=4", "for=ada", "when=5 min ago"} {
		w.as("ishaan", "tagout", "machine=Marble", more)
		if _, ok := button(w.last, "Pressed by mistake"); ok {
			t.Errorf("a stop with %s is taken back", more)
		}
	}
	w.notices()
	w.golden("mistake")
}
