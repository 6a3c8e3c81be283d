package commands_test

import (
	"testing"
	"time"
)

// Each story is played by people of the demo shop and compared, word for word,
// with its golden file.

func TestStoryReadings(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm")
	w.as("ada", "reading", "machine=marble", "check=infeed", "values=46 41 thou")
	w.press("ada", "Why?")
	w.as("ada", "reading", "machine=marble", "check=infeed", "values=46 41 thou")
	w.press("ada", "I turned it")
	w.notices()
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=1.02 1.03")
	w.press("bo", "left 1.02 mm, right 1.03 mm")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller")
	w.fill("bo", "left=0.86", "right=34 thou")
	w.as("bo", "reading", "machine=Marble", "check=knife projection")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 0.52 mm, right 1.02 mm")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.02 mm, right 1.02 mm", "when=yesterday 17:30")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.14 mm, right 1.02 mm", "gauge=feelers")
	w.as("bo", "reading", "machine=Marble", "check=infeed roller", "values=left 1.7 mm, right 1.02 mm")
	w.notices()
	w.as("bo", "machine", "machine=Marble")
	w.golden("readings")
}

func TestStoryHours(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.sweep(2 * time.Hour)
	w.as("ada", "hours", "machine=Marble", "hours=7")
	w.as("bo", "hours", "machine=Marble", "hours=1h30")
	w.notices()
	w.as("bo", "due")
	w.as("wren", "why", "machine=Marble", "service=bushings")
	w.as("wren", "service", "machine=Marble", "service=bushings", "note=two drops each")
	w.notices()
	w.as("bo", "due", "machine=Marble")
	w.golden("hours")
}
