package commands_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/domain"
)

// pass lets time go by, then judges what is due and posts what is owed.
func (w *world) pass(d time.Duration) {
	w.t.Helper()
	w.now = w.now.Add(d)
	if err := w.desk.Sweep(context.Background(), w.now); err != nil {
		w.t.Fatal(err)
	}
	w.notices()
}

// A danger waits a quarter of an hour for somebody to press "I see to it"; then the
// stewards are called once more, or the person whom the shop named and the deputies of
// those who are away. Only they may press it, and who did stands in the notices.
func TestStoryNobodyHome(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.notices()
	world.out.Reset()
	heading := func(what string) { fmt.Fprintf(&world.out, "== %s\n\n", what) }
	refused := func(r commands.Reply) {
		t.Helper()
		if !r.Refused {
			t.Errorf("taken: %q", r.Headline)
		}
	}

	heading("nobody is named")
	world.must(world.as("wren", "shop settings"))
	world.must(world.as("ada", "problem", "machine=Marble", "what=smoke"))
	world.notices()
	refused(world.press("chidi", "I see to it"))
	world.pass(14 * time.Minute)
	world.pass(time.Minute)
	world.pass(time.Hour)
	world.must(world.press("wren", "I see to it"))
	seen := world.reported()
	world.notices()
	refused(world.press("ishaan", "I see to it"))
	world.must(world.as("wren", "undo", fmt.Sprint("report=", seen)))
	world.pass(time.Hour)

	heading("a steward's work shows it")
	world.must(world.as("wren", "service", "machine=Marble", "service=wax"))
	world.notices()
	world.must(world.as("wren", "logbook", "machine=Marble"))
	world.putRight("wren")
	world.must(world.as("wren", "release", "machine=Marble", "note=belt replaced"))
	world.press("wren", "All done")
	world.putRight("wren")
	world.must(world.as("wren", "release", "machine=Marble"))
	world.must(world.press("wren", "It runs well"))
	world.notices()
	for _, reply := range world.replies {
		if _, ok := button(reply, "I see to it"); ok {
			refused(world.pressOn(reply, "wren", "I see to it"))
			break
		}
	}

	heading("away")
	for _, options := range [][]string{{}, {"from=soon", "deputy=bo"},
		{"from=2026-03-20", "deputy=bo", "until=2026-03-19"},
		{"from=2026-03-01", "deputy=bo"}, {"from=2026-03-20", "until=2027-03-21", "deputy=bo"}, {"from=2026-03-20"},
		{"from=2026-03-20", "deputy=wren"}} {
		if r := world.as("wren", "shop away", options...); r.Refused == (len(options) == 0) {
			t.Errorf("%v: %q", options, r.Headline)
		}
	}
	refused(world.as("ada", "shop away", "from=2026-03-20", "deputy=bo"))
	today := world.now.Format(time.DateOnly)
	world.must(world.as("wren", "shop away", "from="+today, "until=2026-03-20", "deputy=bo"))
	away := world.reported()
	world.must(world.as("ishaan", "shop away", "from=2026-04-01", "until=2026-04-02", "deputy=wren"))
	world.must(world.as("ishaan", "shop away"))
	world.must(world.as("ishaan", "shop away", "from=none"))
	world.must(world.as("ishaan", "why", fmt.Sprint("report=", away)))
	world.must(world.as("wren", "shop settings", "call=ada"))
	for n := range domain.MostAway - 1 {
		world.must(world.as("wren", "shop away", fmt.Sprintf("from=2026-05-%02d", n+1), "deputy=bo"))
	}
	refused(world.as("wren", "shop away", "from=2026-06-01", "deputy=bo"))

	heading("somebody is named, and somebody stands in")
	world.must(world.as("chidi", "problem", "machine=Marble", "what=smoke", "photo=motor.jpg"))
	world.notices()
	world.pass(15 * time.Minute)
	refused(world.press("chidi", "I see to it"))
	world.must(world.press("bo", "I see to it"))
	world.notices()
	world.must(world.as("ada", "problem", "machine=Marble", "what=it won't turn off"))
	world.notices()
	world.must(world.as("chidi", "tagout", "machine=Marble", "reason=belt off", "photo=sparks.jpg"))
	world.must(world.as("chidi", "reading", "machine=Marble", "check=fingers", "values=pass", "photo=fingers.jpg"))
	world.must(world.as("chidi", "reading", "machine=Marble", "check=infeed", "values=40 40 thou", "photo=dial.jpg"))
	world.notices()
	world.golden("home")
}

// What may be dangerous is seen to as well; the question stays open.
func TestStoryDoubtSeenTo(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.notices()
	world.out.Reset()
	world.must(world.as("wren", "shop settings", "call=ada"))
	world.must(world.as("bo", "problem", "machine=Marble", "what=the guard feels a bit loose", "photo=guard.jpg"))
	world.pass(2 * time.Minute)
	world.pass(13 * time.Minute)
	world.must(world.press("ada", "I see to it"))
	world.notices()
	world.must(world.press("bo", "Stop it"))
	world.notices()
	world.golden("home-doubt")
}

// Whoever presses a button that was shown before another danger came up sees to the first
// alone: the other waits still.
func TestSeenToBeforeAnotherDanger(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "problem", "machine=Marble", "what=smoke"))
	world.notices()
	shown := world.replies[len(world.replies)-1]
	world.must(world.as("bo", "problem", "machine=Marble", "what=it won't turn off"))
	world.must(world.pressOn(shown, "wren", "I see to it"))
	if st := world.status(); len(st.Alarms) != 1 || st.Alarms[0].Name != "it will not stop" || st.Seen == nil {
		t.Errorf("%+v wait, seen to by %+v", st.Alarms, st.Seen)
	}
	world.notices()
	world.must(world.press("ishaan", "I see to it"))
	if st := world.status(); len(st.Alarms) != 0 || st.Seen.By != "ishaan" {
		t.Errorf("%+v wait, seen to by %+v", st.Alarms, st.Seen)
	}
}

// A picture whose name and address are very long keeps no danger from being taken.
func TestLongPhotoNames(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	name := strings.Repeat("x", 900)
	photo := `photo={"id":"1","name":"` + name + `","url":"https://cdn.discordapp.com/` + name + `"}`
	if r := w.as("ada", "tagout", "machine=Marble", "reason=guard off", photo); r.Refused {
		t.Errorf("refused: %q", r.Headline)
	}
}
