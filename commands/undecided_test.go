package commands_test

import (
	"testing"
	"time"
)

// A safety value that is too near a stop limit to tell: what would prove it is said at
// once, and what becomes of the machine when nobody does.
func TestStoryUndecided(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	width := func(values string, more ...string) {
		w.as("ada", "reading", append([]string{"machine=Marble", "check=knife width", "values=" + values}, more...)...)
	}
	w.as("ada", "reading", "machine=Marble", "check=knives", "values=go/no-go: no entry")
	width("go/no-go: perhaps")
	width("go/no-go: no entry", "when=5 s ago")
	width("19.06 mm 25.4 25.4 25.4")
	near := w.last
	w.as("ada", "machine", "machine=Marble")
	w.sweep(20 * time.Hour)
	width("19.06 mm 25.4 25.4 25.4", "gauge=feelers")
	w.pressOn(near, "ada", "No entry: proved")
	w.notices()
	w.press("ada", "No entry: proved")
	w.as("ada", "why", report(w.reported()-1))
	w.sweep(3 * 24 * time.Hour)
	w.notices()
	// Not proved in time.
	w.as("wren", "shop settings", "hours=18:00-22:00")
	width("19.06 mm 25.4 25.4 25.4")
	w.sweep(50 * time.Hour)
	w.notices()
	w.as("wren", "release", "machine=Marble")
	width("19.06 mm 25.4 25.4 25.4")
	w.press("ada", "It enters")
	w.as("wren", "why", "machine=Marble")
	width("19.1 mm 25.4 25.4 25.4", "gauge=feelers")
	width("25.4 mm 25.4 25.4 25.4")
	w.as("wren", "why", "machine=Marble")
	// Limits of the shop's own are not proved by it.
	w.as("wren", "shop confirm", "machine=Marble", "what=knife width", "stop=at least 20 mm")
	width("go/no-go: no entry")
	// Never read.
	w.must(w.as("wren", "shop add", "name=Slate", "kind=thickness-planer"))
	w.as("wren", "reading", "machine=Slate", "check=knife width", "values=go/no-go: does not enter")
	w.as("wren", "reading", "machine=Slate", "check=knife width", "values=go/no-go: enters")
	w.as("wren", "why", "machine=Slate", "check=knife width")
	// After what moved it.
	w.as("wren", "event", "machine=Marble", "event=new knives")
	w.as("wren", "reading", "machine=Marble", "check=knife width", "values=go/no-go: no entry")
	w.must(w.as("wren", "shop confirm", "machine=Marble", "what=knife width", "stop=at least 19 mm", "why=as new"))
	w.must(w.as("ishaan", "shop loosen", "machine=Marble", "note=seen"))
	w.as("wren", "reading", "machine=Marble", "check=knife width", "values=go/no-go: no entry")
	w.golden("undecided")
}
