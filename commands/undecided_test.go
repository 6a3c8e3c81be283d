package commands_test

import (
	"testing"
	"time"
)

// A safety value that is too near a stop limit to tell: what would prove it is said at
// once, and what becomes of the machine when nobody does.
func TestStoryUndecided(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	width := func(values string, more ...string) {
		world.as("ada", "reading", append([]string{"machine=Marble", "check=knife width", "values=" + values},
			more...)...)
	}
	world.as("ada", "reading", "machine=Marble", "check=knives", "values=go/no-go: no entry")
	width("go/no-go: perhaps")
	width("go/no-go: no entry", "when=5 s ago")
	width("19.06 mm 25.4 25.4 25.4")
	near := world.last
	world.as("ada", "machine", "machine=Marble")
	world.sweep(20 * time.Hour)
	width("19.06 mm 25.4 25.4 25.4", "gauge=feelers")
	world.pressOn(near, "ada", "No entry: proved")
	world.notices()
	world.press("ada", "No entry: proved")
	world.as("ada", "why", report(world.reported()-1))
	world.sweep(3 * 24 * time.Hour)
	world.notices()
	// Not proved in time.
	world.as("wren", "shop settings", "hours=18:00-22:00")
	width("19.06 mm 25.4 25.4 25.4")
	world.sweep(50 * time.Hour)
	world.notices()
	world.as("wren", "release", "machine=Marble")
	width("19.06 mm 25.4 25.4 25.4")
	world.press("ada", "It enters")
	world.as("wren", "why", "machine=Marble")
	width("19.1 mm 25.4 25.4 25.4", "gauge=feelers")
	width("25.4 mm 25.4 25.4 25.4")
	world.as("wren", "why", "machine=Marble")
	// Limits of the shop's own are not proved by it.
	world.as("wren", "shop confirm", "machine=Marble", "what=knife width", "stop=at least 20 mm")
	width("go/no-go: no entry")
	// Never read.
	world.must(world.as("wren", "shop add", "name=Slate", "kind=thickness-planer"))
	world.as("wren", "reading", "machine=Slate", "check=knife width", "values=go/no-go: does not enter")
	world.as("wren", "reading", "machine=Slate", "check=knife width", "values=go/no-go: enters")
	world.as("wren", "why", "machine=Slate", "check=knife width")
	// After what moved it.
	world.as("wren", "event", "machine=Marble", "event=new knives")
	world.as("wren", "reading", "machine=Marble", "check=knife width", "values=go/no-go: no entry")
	world.must(world.as("wren", "shop confirm", "machine=Marble", "what=knife width", "stop=at least 19 mm",
		"why=as new"))
	world.must(world.as("ishaan", "shop loosen", "machine=Marble", "note=seen"))
	world.as("wren", "reading", "machine=Marble", "check=knife width", "values=go/no-go: no entry")
	world.golden("undecided")
}
