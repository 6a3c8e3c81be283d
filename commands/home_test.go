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
	w := newWorld(t)
	w.marble()
	w.notices()
	w.out.Reset()
	heading := func(what string) { fmt.Fprintf(&w.out, "== %s\n\n", what) }
	refused := func(r commands.Reply) {
		t.Helper()
		if !r.Refused {
			t.Errorf("taken: %q", r.Headline)
		}
	}

	heading("nobody is named")
	w.must(w.as("wren", "shop settings"))
	w.must(w.as("ada", "problem", "machine=Marble", "what=smoke"))
	w.notices()
	refused(w.press("chidi", "I see to it"))
	w.pass(14 * time.Minute)
	w.pass(time.Minute)
	w.pass(time.Hour)
	w.must(w.press("wren", "I see to it"))
	seen := w.reported()
	w.notices()
	refused(w.press("ishaan", "I see to it"))
	w.must(w.as("wren", "undo", fmt.Sprint("report=", seen)))
	w.pass(time.Hour)

	heading("a steward's work shows it")
	w.must(w.as("wren", "service", "machine=Marble", "service=wax"))
	w.notices()
	w.must(w.as("wren", "logbook", "machine=Marble"))
	w.putRight("wren")
	w.must(w.as("wren", "release", "machine=Marble", "note=belt replaced"))
	w.press("wren", "All done")
	w.putRight("wren")
	w.must(w.as("wren", "release", "machine=Marble"))
	w.must(w.press("wren", "It runs well"))
	w.notices()
	for _, reply := range w.replies {
		if _, ok := button(reply, "I see to it"); ok {
			refused(w.pressOn(reply, "wren", "I see to it"))
			break
		}
	}

	heading("away")
	for _, options := range [][]string{{}, {"from=soon", "deputy=bo"},
		{"from=2026-03-20", "deputy=bo", "until=2026-03-19"},
		{"from=2026-03-01", "deputy=bo"}, {"from=2026-03-20", "until=2027-03-21", "deputy=bo"}, {"from=2026-03-20"},
		{"from=2026-03-20", "deputy=wren"}} {
		if r := w.as("wren", "shop away", options...); r.Refused == (len(options) == 0) {
			t.Errorf("%v: %q", options, r.Headline)
		}
	}
	refused(w.as("ada", "shop away", "from=2026-03-20", "deputy=bo"))
	today := w.now.Format(time.DateOnly)
	w.must(w.as("wren", "shop away", "from="+today, "until=2026-03-20", "deputy=bo"))
	away := w.reported()
	w.must(w.as("ishaan", "shop away", "from=2026-04-01", "until=2026-04-02", "deputy=wren"))
	w.must(w.as("ishaan", "shop away"))
	w.must(w.as("ishaan", "shop away", "from=none"))
	w.must(w.as("ishaan", "why", fmt.Sprint("report=", away)))
	w.must(w.as("wren", "shop settings", "call=ada"))
	for n := range domain.MostAway - 1 {
		w.must(w.as("wren", "shop away", fmt.Sprintf("from=2026-05-%02d", n+1), "deputy=bo"))
	}
	refused(w.as("wren", "shop away", "from=2026-06-01", "deputy=bo"))

	heading("somebody is named, and somebody stands in")
	w.must(w.as("chidi", "problem", "machine=Marble", "what=smoke", "photo=motor.jpg"))
	w.notices()
	w.pass(15 * time.Minute)
	refused(w.press("chidi", "I see to it"))
	w.must(w.press("bo", "I see to it"))
	w.notices()
	w.must(w.as("ada", "problem", "machine=Marble", "what=it won't turn off"))
	w.notices()
	w.must(w.as("chidi", "tagout", "machine=Marble", "reason=sparks too", "photo=sparks.jpg"))
	w.must(w.as("chidi", "reading", "machine=Marble", "check=fingers", "values=pass", "photo=fingers.jpg"))
	w.must(w.as("chidi", "reading", "machine=Marble", "check=infeed", "values=40 40 thou", "photo=dial.jpg"))
	w.notices()
	w.golden("home")
}

// What may be dangerous is seen to as well; the question stays open.
func TestStoryDoubtSeenTo(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.notices()
	w.out.Reset()
	w.must(w.as("wren", "shop settings", "call=ada"))
	w.must(w.as("bo", "problem", "machine=Marble", "what=the guard feels a bit loose", "photo=guard.jpg"))
	w.pass(2 * time.Minute)
	w.pass(13 * time.Minute)
	w.must(w.press("ada", "I see to it"))
	w.notices()
	w.must(w.press("bo", "Stop it"))
	w.notices()
	w.golden("home-doubt")
}

// Whoever presses a button that was shown before another danger came up sees to the first
// alone: the other waits still.
func TestSeenToBeforeAnotherDanger(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.must(w.as("ada", "problem", "machine=Marble", "what=smoke"))
	w.notices()
	shown := w.replies[len(w.replies)-1]
	w.must(w.as("bo", "problem", "machine=Marble", "what=it won't turn off"))
	w.must(w.pressOn(shown, "wren", "I see to it"))
	if st := w.status(); len(st.Alarms) != 1 || st.Alarms[0].Name != "it will not stop" || st.Seen == nil {
		t.Errorf("%+v wait, seen to by %+v", st.Alarms, st.Seen)
	}
	w.notices()
	w.must(w.press("ishaan", "I see to it"))
	if st := w.status(); len(st.Alarms) != 0 || st.Seen.By != "ishaan" {
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
