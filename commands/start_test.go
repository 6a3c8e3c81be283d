package commands_test

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// A machine added as new, in an inch shop, is out of service quietly until its first
// release: nothing of it is told to the channel but that it was used all the same, and
// once a week that it is being set up; nothing that is said of it says that it may run.
func TestStoryNew(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.must(w.as("owner", "shop settings", "name=Tin Lane", "zone=CET", "units=inch", "notices=shop-notices",
		"stewards=stewards"))
	w.as("wren", "shop add", "name=Marble", "kind=thickness-planer", "with=knives=2")
	w.must(w.press("wren", "New, moved or unknown"))
	if posted := w.notices(); len(posted) != 0 {
		t.Errorf("the channel is told of %+v", posted)
	}
	w.must(w.as("ada", "hours", "machine=Marble", "hours=1"))
	w.must(w.as("ada", "reading", "machine=Marble", "check=infeed", "values=70 70 thou"))
	w.must(w.as("ada", "due", "machine=Marble"))
	w.must(w.as("ada", "ready", "before=saturday"))
	w.must(w.as("wren", "shop start", "machine=Marble"))
	w.as("wren", "shop start", "machine=Marble", "state=in-use")
	w.as("ada", "shop start", "machine=Marble")
	w.send("wren", "press a forged tick", "s1:tick:1.stops", nil)
	w.as("wren", "release", "machine=Marble")
	w.notices()
	w.sweep(21 * 24 * time.Hour)
	for _, notice := range w.notices() {
		if notice.Topic != domain.TopicDigest || notice.Args.Pings {
			t.Errorf("in three weeks the channel is told %s", notice.Key)
		}
	}
	said := w.out.String()
	w.readAll() // but what is read while it runs, which a test comes before
	w.must(w.as("wren", "release", "machine=Marble"))
	w.must(w.press("wren", "All done"))
	w.putRight("wren")
	w.notices()
	w.out.Reset()
	w.out.WriteString(said)
	w.must(w.as("wren", "release", "machine=Marble"))
	w.must(w.press("wren", "It runs well"))
	w.notices()
	w.must(w.as("wren", "shop start", "machine=Marble"))
	w.must(w.as("wren", "undo"))
	w.notices()
	w.neverSays(said, "fit", "may run", "in service.")
	w.golden("start-new")
}

// neverSays holds what was said against words that must not be.
func (w *world) neverSays(said string, words ...string) {
	w.t.Helper()
	for _, line := range strings.Split(said, "\n") {
		for _, word := range words {
			if slices.Contains(strings.Fields(strings.ToLower(line)), word) || strings.Contains(word, " ") &&
				strings.Contains(line, word) {
				w.t.Errorf("it is said: %s", line)
			}
		}
	}
}

// A machine that is in use already, in a metric shop, runs once all its ticks are made,
// each on record; a tick taken back, or that it was moved, takes it out again, and that
// is told. What was never made on it falls due one after another.
func TestStoryInUse(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.must(w.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices=shop-notices", "stewards=stewards"))
	w.as("wren", "shop add", "name=Marble", "kind=thickness-planer")
	w.must(w.press("wren", "In use already"))
	asked := w.last
	for _, seen := range []string{"guards", "cord", "knives", "anti-kickback", "nothing"} {
		w.must(w.pressOn(asked, "ishaan", "Seen: "+seen))
	}
	w.pressOn(asked, "wren", "Seen: guards")
	w.as("ada", "hours", "machine=Marble", "hours=1")
	w.must(w.as("wren", "shop start", "machine=Marble"))
	w.neverSays(w.out.String(), "fit", "may run", "in service.")
	w.must(w.press("wren", "Seen: stops"))
	last := w.reported()
	w.notices()
	w.must(w.as("ada", "machine", "machine=Marble"))
	w.must(w.as("ada", "due", "machine=Marble"))
	w.must(w.as("ada", "why", "machine=Marble", "check=guards"))
	w.must(w.as("ada", "why", "machine=Marble", "check=infeed"))
	w.must(w.as("ada", "hours", "machine=Marble", "hours=1", "sure=yes"))
	// One tick is withdrawn, and made again.
	w.must(w.as("wren", "undo", fmt.Sprint("report=", last)))
	w.notices()
	w.must(w.as("wren", "shop start", "machine=Marble", "state=in-use"))
	w.must(w.press("wren", "Seen: stops"))
	w.notices()
	w.must(w.as("wren", "shop start", "machine=Marble"))
	// Something else keeps it out when the last tick is made.
	w.must(w.as("wren", "undo"))
	w.must(w.as("ada", "tagout", "machine=Marble", "reason=hums"))
	w.must(w.as("wren", "shop start", "machine=Marble"))
	w.must(w.press("wren", "Seen: stops"))
	w.notices()
	// It is moved.
	w.must(w.as("wren", "shop start", "machine=Marble", "state=new"))
	w.notices()
	w.golden("start-in-use")
}

// The first checks of a machine in use are told of by the one that is next, to the last;
// what is measured is recorded by its values.
func TestFirstChecks(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.must(w.as("owner", "shop settings", "zone=CET", "units=metric", "notices=shop-notices", "stewards=stewards"))
	w.addInUse("wren", "Marble")
	measured := 0
	for range 54 {
		w.sweep(24 * time.Hour)
		for _, notice := range w.notices() {
			if notice.Topic == domain.TopicDue && notice.Args.Measured {
				measured++
			}
		}
	}
	said := words.Expand(w.out.String(), plainMedium{})
	if measured != 13 || !strings.Contains(said, "/reading machine:Marble check:\"table to cutterhead\"\n") {
		t.Errorf("%d notices of what is measured; the table's is worded: %v", measured,
			strings.Contains(said, "table to cutterhead"))
	}
	w.must(w.as("ada", "due", "machine=Marble"))
	if !slices.Contains(w.keys, "first.checks") {
		t.Errorf("the last check: %q", w.last.Lines)
	}
}

// unask makes a machine one that was on the books before it was asked how it starts.
func (w *world) unask(name string) {
	w.t.Helper()
	if err := w.db.Close(); err != nil {
		w.t.Fatal(err)
	}
	file, err := sql.Open("sqlite3", "file:"+w.path)
	if err != nil {
		w.t.Fatal(err)
	}
	if _, err := file.Exec(`UPDATE machine SET unasked = 1, wake = 0 WHERE name = ?`, name); err != nil {
		w.t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		w.t.Fatal(err)
	}
	w.open()
}

// dialled is a small kind with one check, which has five common ticks.
const dialled = `setscrew-profile: 1
kind: press
name: press
revision: 1
gauges:
  - {id: dial, kind: dial}
checks:
  - id: table
    name: table
    class: quality
    measured: up is positive.
    every: {days: 7}
    target: 1.5 mm
    adjust: 1.4 mm to 1.6 mm
    stop: 1 mm to 2 mm
    gauge: dial
    entry: {metric: mm, inch: thou}
    decimals: {metric: 2, inch: 0}
    source: common practice, no source
cautions:
  - {id: fingers, text: Fingers out of it.}
return: [guards on]
`

// A machine from before keeps its state and gets one notice; until a steward ticks it
// nobody says that it may run, and it runs on.
func TestStoryFromBefore(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.must(w.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices=shop-notices", "stewards=stewards"))
	w.plain("Marble", "press", dialled)
	w.must(w.as("ada", "hours", "machine=Marble", "hours=2"))
	w.must(w.as("ada", "reading", "machine=Marble", "check=table", "values=1.5 mm"))
	w.notices()
	w.unask("Marble")
	w.out.Reset()
	w.sweep(time.Hour)
	if posted := w.notices(); len(posted) != 1 || posted[0].Topic != domain.TopicUnproved {
		t.Errorf("the channel is told of %+v", posted)
	}
	w.must(w.as("ada", "machine", "machine=Marble"))
	w.must(w.as("ada", "ready", "before=wednesday"))
	w.must(w.as("ada", "ready", "before=in 20 days"))
	w.must(w.as("ada", "reading", "machine=Marble", "check=table", "values=1.7 mm"))
	w.notices()
	w.must(w.as("ada", "reading", "machine=Marble", "check=table", "values=1.5 mm"))
	w.sweep(24 * time.Hour)
	w.must(w.as("wren", "shop start", "machine=Marble"))
	for range 4 {
		w.must(w.press("wren", "Seen: "))
	}
	w.neverSays(w.out.String(), "fit", "may run", "in service.")
	w.must(w.press("wren", "Seen: "))
	w.must(w.as("ada", "machine", "machine=Marble"))
	if posted := w.notices(); len(posted) != 0 {
		t.Errorf("the channel is told of %+v", posted)
	}
	w.golden("start-before")
}

// A kind without checks is released on guards and stop button; one without a serious
// hazard has nothing to tick.
func TestStoryWithoutChecks(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.must(w.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices=shop-notices", "stewards=stewards"))
	const bare = "setscrew-profile: 1\nkind: fan\nname: fan\nrevision: 1\n" +
		"cautions:\n  - {id: fingers, text: Fingers out of it.}\nreturn: [grille on]\n"
	ctx, books := context.Background(), w.db.Shop(w.shop)
	hash, err := books.KeepProfile(ctx, "fan", []byte(bare))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := books.Report(ctx, domain.Entry{Key: "new", At: w.now, Recorded: w.now, By: "wren", For: "wren",
		Body: domain.MachineAdded{Name: "Marble", Units: quantity.Metric, Setup: domain.Setup{Kind: "fan", Hash: hash,
			Start: domain.Start{State: domain.StartNew}, Rev: 1}}}); err != nil {
		t.Fatal(err)
	}
	w.plain("Long Meg", "lamp", strings.NewReplacer("kind: fan", "kind: lamp", "return", "hazard: none\nreturn").
		Replace(bare))
	w.must(w.as("wren", "shop start", "machine=Long Meg"))
	w.must(w.as("wren", "machine", "machine=Marble"))
	w.must(w.as("wren", "release", "machine=Marble"))
	w.must(w.press("wren", "All done"))
	w.must(w.press("wren", "It runs well"))
	w.notices()
	w.golden("start-without-checks")
}
