package commands_test

import (
	"testing"
	"time"
)

// A stop without words is taken back within two minutes by who pressed it, where nothing
// else was reported; both stay on record.
func TestStoryMistake(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "tagout", "machine=Marble")
	stopped := world.reported()
	world.press("bo", "Pressed by mistake")
	world.press("wren", "Pressed by mistake")
	world.notices()
	world.press("ada", "Pressed by mistake")
	back := world.reported()
	world.press("ada", "Pressed by mistake")
	world.notices()
	world.as("ada", "why", report(stopped))
	world.as("ada", "why", report(back))
	world.as("ada", "undo", report(back))
	world.as("bo", "machine", "machine=Marble")
	world.as("bo", "logbook", "machine=Marble")
	// A button's press after a report has no words of its own either.
	world.as("ada", "problem", "machine=Marble", "what=creaks")
	world.press("bo", "Tag out Marble")
	world.press("bo", "Pressed by mistake")
	world.notices()
	// Words, time, and what came since, are for a steward.
	world.as("ada", "tagout", "machine=Marble", "reason=smells")
	if _, ok := button(world.last, "Pressed by mistake"); ok {
		t.Error("a stop with words is taken back")
	}
	world.as("bo", "tagout", "machine=Marble")
	world.now = world.now.Add(2 * time.Minute)
	world.press("bo", "Pressed by mistake")
	world.as("chidi", "tagout", "machine=Marble")
	world.as("bo", "hours", "machine=Marble", "hours=5 min")
	world.press("chidi", "Pressed by mistake")
	world.as("wren", "tagout", "machine=Marble")
	world.press("wren", "Pressed by mistake")
	world.now = world.now.Add(10 * time.Minute)
	for _, more := range []string{"paper=4", "for=ada", "when=5 min ago"} {
		world.as("ishaan", "tagout", "machine=Marble", more)
		if _, ok := button(world.last, "Pressed by mistake"); ok {
			t.Errorf("a stop with %s is taken back", more)
		}
	}
	world.notices()
	world.golden("mistake")
}
