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
	world := newWorld(t)
	world.must(world.as("owner", "shop settings", "name=Tin Lane", "zone=CET", "units=inch", "notices=shop-notices",
		"stewards=stewards"))
	world.as("wren", "shop add", "name=Marble", "kind=thickness-planer", "with=knives=2")
	world.must(world.press("wren", "New, moved or unknown"))
	if posted := world.notices(); len(posted) != 0 {
		t.Errorf("the channel is told of %+v", posted)
	}
	world.must(world.as("ada", "hours", "machine=Marble", "hours=1"))
	world.must(world.as("ada", "reading", "machine=Marble", "check=infeed", "values=70 70 thou"))
	world.must(world.as("ada", "due", "machine=Marble"))
	world.must(world.as("ada", "ready", "before=saturday"))
	world.must(world.as("wren", "shop start", "machine=Marble"))
	world.as("wren", "shop start", "machine=Marble", "state=in-use")
	world.as("ada", "shop start", "machine=Marble")
	world.send("wren", "press a forged tick", "s1:tick:1.stops", nil)
	world.as("wren", "release", "machine=Marble")
	world.notices()
	world.sweep(21 * 24 * time.Hour)
	for _, notice := range world.notices() {
		if notice.Topic != domain.TopicDigest || notice.Args.Pings {
			t.Errorf("in three weeks the channel is told %s", notice.Key)
		}
	}
	said := world.out.String()
	world.readAll() // but what is read while it runs, which a test comes before
	world.must(world.as("wren", "release", "machine=Marble"))
	world.must(world.press("wren", "All done"))
	world.putRight("wren")
	world.notices()
	world.out.Reset()
	world.out.WriteString(said)
	world.must(world.as("wren", "release", "machine=Marble"))
	world.must(world.press("wren", "It runs well"))
	world.notices()
	world.must(world.as("wren", "shop start", "machine=Marble"))
	world.must(world.as("wren", "undo"))
	world.notices()
	world.neverSays(said, "fit", "may run", "in service.")
	world.golden("start-new")
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
	world := newWorld(t)
	world.must(world.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices=shop-notices", "stewards=stewards"))
	world.as("wren", "shop add", "name=Marble", "kind=thickness-planer")
	world.must(world.press("wren", "In use already"))
	asked := world.last
	for _, seen := range []string{"guards", "cord", "knives", "anti-kickback", "nothing"} {
		world.must(world.pressOn(asked, "ishaan", "Seen: "+seen))
	}
	world.pressOn(asked, "wren", "Seen: guards")
	world.as("ada", "hours", "machine=Marble", "hours=1")
	world.must(world.as("wren", "shop start", "machine=Marble"))
	world.neverSays(world.out.String(), "fit", "may run", "in service.")
	world.must(world.press("wren", "Seen: stops"))
	last := world.reported()
	world.notices()
	world.must(world.as("ada", "machine", "machine=Marble"))
	world.must(world.as("ada", "due", "machine=Marble"))
	world.must(world.as("ada", "why", "machine=Marble", "check=guards"))
	world.must(world.as("ada", "why", "machine=Marble", "check=infeed"))
	world.must(world.as("ada", "hours", "machine=Marble", "hours=1", "sure=yes"))
	// One tick is withdrawn, and made again.
	world.must(world.as("wren", "undo", fmt.Sprint("report=", last)))
	world.notices()
	world.must(world.as("wren", "shop start", "machine=Marble", "state=in-use"))
	world.must(world.press("wren", "Seen: stops"))
	world.notices()
	world.must(world.as("wren", "shop start", "machine=Marble"))
	// Something else keeps it out when the last tick is made.
	world.must(world.as("wren", "undo"))
	world.must(world.as("ada", "tagout", "machine=Marble", "reason=hums"))
	world.must(world.as("wren", "shop start", "machine=Marble"))
	world.must(world.press("wren", "Seen: stops"))
	world.notices()
	// It is moved.
	world.must(world.as("wren", "shop start", "machine=Marble", "state=new"))
	world.notices()
	world.golden("start-in-use")
}

// The first checks of a machine in use are told of by the one that is next, to the last;
// what is measured is recorded by its values.
func TestFirstChecks(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.must(world.as("owner", "shop settings", "zone=CET", "units=metric", "notices=shop-notices",
		"stewards=stewards"))
	world.addInUse("wren", "Marble")
	measured := 0
	for range 54 {
		world.sweep(24 * time.Hour)
		for _, notice := range world.notices() {
			if notice.Topic == domain.TopicDue && notice.Args.Measured {
				measured++
			}
		}
	}
	said := words.Expand(world.out.String(), plainMedium{})
	if measured != 13 || !strings.Contains(said, "/reading machine:Marble check:\"table to cutterhead\"\n") {
		t.Errorf("%d notices of what is measured; the table's is worded: %v", measured,
			strings.Contains(said, "table to cutterhead"))
	}
	world.must(world.as("ada", "due", "machine=Marble"))
	if !slices.Contains(world.keys, "first.checks") {
		t.Errorf("the last check: %q", world.last.Lines)
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
	world := newWorld(t)
	world.must(world.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices=shop-notices", "stewards=stewards"))
	world.plain("Marble", "press", dialled)
	world.must(world.as("ada", "hours", "machine=Marble", "hours=2"))
	world.must(world.as("ada", "reading", "machine=Marble", "check=table", "values=1.5 mm"))
	world.notices()
	world.unask("Marble")
	world.out.Reset()
	world.sweep(time.Hour)
	if posted := world.notices(); len(posted) != 1 || posted[0].Topic != domain.TopicUnproved {
		t.Errorf("the channel is told of %+v", posted)
	}
	world.must(world.as("ada", "machine", "machine=Marble"))
	world.must(world.as("ada", "ready", "before=wednesday"))
	world.must(world.as("ada", "ready", "before=in 20 days"))
	world.must(world.as("ada", "reading", "machine=Marble", "check=table", "values=1.7 mm"))
	world.notices()
	world.must(world.as("ada", "reading", "machine=Marble", "check=table", "values=1.5 mm"))
	world.sweep(24 * time.Hour)
	world.must(world.as("wren", "shop start", "machine=Marble"))
	for range 4 {
		world.must(world.press("wren", "Seen: "))
	}
	world.neverSays(world.out.String(), "fit", "may run", "in service.")
	world.must(world.press("wren", "Seen: "))
	world.must(world.as("ada", "machine", "machine=Marble"))
	if posted := world.notices(); len(posted) != 0 {
		t.Errorf("the channel is told of %+v", posted)
	}
	world.golden("start-before")
}

// A kind without checks is released on guards and stop button; one without a serious
// hazard has nothing to tick.
func TestStoryWithoutChecks(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.must(world.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units=metric",
		"notices=shop-notices", "stewards=stewards"))
	const bare = "setscrew-profile: 1\nkind: fan\nname: fan\nrevision: 1\n" +
		"cautions:\n  - {id: fingers, text: Fingers out of it.}\nreturn: [grille on]\n"
	ctx, books := context.Background(), world.db.Shop(world.shop)
	hash, err := books.KeepProfile(ctx, "fan", []byte(bare))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := books.Report(ctx, domain.Entry{Key: "new", At: world.now, Recorded: world.now, By: "wren", For: "wren",
		Body: domain.MachineAdded{Name: "Marble", Units: quantity.Metric, Setup: domain.Setup{Kind: "fan", Hash: hash,
			Start: domain.Start{State: domain.StartNew}, Rev: 1}}}); err != nil {
		t.Fatal(err)
	}
	world.plain("Long Meg", "lamp", strings.NewReplacer("kind: fan", "kind: lamp", "return", "hazard: none\nreturn").
		Replace(bare))
	world.must(world.as("wren", "shop start", "machine=Long Meg"))
	world.must(world.as("wren", "machine", "machine=Marble"))
	world.must(world.as("wren", "release", "machine=Marble"))
	world.must(world.press("wren", "All done"))
	world.must(world.press("wren", "It runs well"))
	world.notices()
	world.golden("start-without-checks")
}
