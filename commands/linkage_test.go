package commands_test

import (
	"context"
	"strings"
	"testing"

	"setscrew/cmd/setscrew/rehearse/demo"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// bring adds a machine of one of the demo's small kinds and confirms everything.
func (w *world) bring(kind, name string, units quantity.System) {
	w.t.Helper()
	ctx := context.Background()
	books := w.db.Shop(w.shop)
	text, err := demo.Kind(kind)
	if err != nil {
		w.t.Fatal(err)
	}
	hash, err := books.KeepProfile(ctx, kind, text)
	if err != nil {
		w.t.Fatal(err)
	}
	outcome, err := books.Report(ctx, domain.Entry{Key: "bring " + name, At: w.now, Recorded: w.now, By: "wren",
		For:  "wren",
		Body: domain.MachineAdded{Name: name, Units: units, Setup: domain.Setup{Kind: kind, Hash: hash, Rev: 1}}})
	if err != nil {
		w.t.Fatal(err)
	}
	setup := outcome.After.Machine.Setup
	for _, item := range outcome.After.Starting {
		rev := setup.Rev
		setup = setup.With(item, "wren", w.now, nil)
		if _, err := books.Report(ctx,
			domain.Entry{Key: "confirm " + name + item.String(), Machine: outcome.After.Machine.ID, SetupRev: rev,
				At: w.now, Recorded: w.now, By: "wren", For: "wren",
				Body: domain.SetupChanged{Item: item, Setup: setup}}); err != nil {
			w.t.Fatal(err)
		}
	}
}

// A try at each kind of linkage, in metric and in inch: the reading's moves, why,
// the moves made, and what the next reading teaches.
func TestStoryLinkages(t *testing.T) {
	t.Parallel()
	for kind, tries := range map[string][][2]string{
		"three-knob-printer": {{"bed level", "0.31 0.12 -0.20 -0.25 0.00 mm"},
			{"bed level", "0.05 0.06 -0.02 -0.09 0.00 mm"}},
		"four-knob-printer": {{"bed level", "0.30 -0.10 -0.30 0.20 0.02 mm"},
			{"bed level", "0.05 0.02 0.11 0.01 0.02 mm"}},
		"tilting-mill": {{"tram", "left 0.50 mm, right 0.86 mm"}, {"tram", "left 0.73 mm, right 0.61 mm"}},
		"centre-lathe": {{"taper", "20.000 mm 20.160 mm"}, {"taper", "19.900 mm 19.930 mm"}},
		"belt-drive": {{"belt tone", "120.5 Hz"}, {"belt tone", "48 Hz"}, {"belt tone", "58 Hz"},
			{"belt tone", "70 Hz"}, {"belt force", "9 N"}},
		"eccentric-roller": {{"roller", "left 0.20 mm, right 0.90 mm"}, {"roller", "left 0.45 mm, right 0.62 mm"},
			{"roller", "left 0.49 mm, right 0.52 mm"}, {"roller", "left 2.9 mm, right 0.52 mm"}, {"guide", "20.6 mm"}},
		"levelled-table": {{"level", "0.05 -0.62 0.81 mm"}, {"level", "0.06 -0.02 0.03 mm"}},
		"shimmed-motor": {{"height", "near -0.60 mm, far -0.31 mm"}, {"guide", "top 2.2 mm, bottom 1.0 mm"},
			{"end stops", "98 102.5 97 104 mm"}, {"end stops", "98 100 102.5 100 mm"}},
	} {
		for _, units := range []quantity.System{quantity.Metric, quantity.Imperial} {
			t.Run(kind+" "+units.String(), func(t *testing.T) {
				t.Parallel()
				world := newWorld(t)
				world.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units="+units.String(),
					"notices=shop-notices", "stewards=stewards", "shims=none")
				world.bring(kind, "Flint", units)
				world.out.Reset()
				for _, pair := range tries {
					world.as("ada", "reading", "machine=Flint", "check="+pair[0], "values="+pair[1])
					for _, b := range world.last.Buttons {
						if strings.HasPrefix(b.Label, "I meant") {
							world.press("ada", "I meant")
							break
						}
					}
					reply := world.last
					world.as("ada", "why", "machine=Flint", "check="+pair[0])
					for _, b := range reply.Buttons {
						if strings.HasPrefix(b.Label, "I turned it") || strings.HasPrefix(b.Label, "I moved it") {
							world.pressOn(reply, "ada", b.Label)
							break
						}
					}
				}
				world.as("ada", "setup", "machine=Flint")
				world.golden("linkage-" + kind + "-" + units.String())
			})
		}
	}
}

// Moves that try the wrong way are asked about, and nothing is learned from them
// before somebody says how they were made; a withdrawn report un-learns.
func TestStoryWrongWay(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=50 41 thou")
	world.press("ada", "I turned it")
	turned := world.reported()
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=59 41 thou")
	asked := world.last
	world.as("ada", "machine", "machine=Marble")
	world.pressOn(asked, "ada", "I turned it the other way")
	other := world.reported()
	world.as("wren", "why", report(other))
	world.as("ada", "why", "machine=Marble", "check=infeed")
	world.as("wren", "undo", report(other))
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=59 41 thou")
	world.press("ada", "I turned it as said")
	world.as("ada", "why", "machine=Marble", "check=infeed")
	world.as("wren", "undo", report(turned))
	world.as("ada", "why", "machine=Marble", "check=infeed")
	world.as("ada", "reading", "machine=Marble", "check=bed rollers", "values=8 1 8 1 thou")
	world.press("ada", "I turned it")
	world.as("ada", "reading", "machine=Marble", "check=chip deflector gap", "values=3/32 in 1/4 in")
	world.golden("wrong-way")
}

// Marks and stutters bound the height of spring caps from both sides.
func TestStoryCaps(t *testing.T) {
	t.Parallel()
	for _, units := range []string{"metric", "inch"} {
		t.Run(units, func(t *testing.T) {
			t.Parallel()
			storyCaps(t, units)
		})
	}
}

func storyCaps(t *testing.T, units string) {
	world := newWorld(t)
	world.marble()
	world.as("owner", "shop settings", "units="+units)
	caps := func(height string) {
		world.as("ada", "reading", "machine=Marble", "check=infeed-caps", "values="+height+", "+height)
	}
	world.as("ada", "problem", "machine=Marble", "what=marks")
	caps("5/32 in")
	world.as("ada", "problem", "machine=Marble", "what=stutters")
	caps("9/64 in")
	world.as("ada", "why", "machine=Marble", "check=infeed-caps")
	world.as("ada", "problem", "machine=Marble", "what=stutters")
	world.as("ada", "problem", "machine=Marble", "what=marks")
	world.as("ada", "event", "machine=Marble", "event=infeed-replaced")
	world.as("ada", "problem", "machine=Marble", "what=stutters")
	world.golden("linkage-caps-" + units)
}

// A screw for each position, in inch as in metric (TestStoryWrongWay).
func TestStoryScrewsInInch(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("owner", "shop settings", "units=inch")
	world.out.Reset()
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=46 thou 33 thou")
	world.press("ada", "I turned it")
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=41 39 thou")
	world.as("ada", "reading", "machine=Marble", "check=pressure bar", "values=0.45 mm 0.05 mm")
	world.as("ada", "why", "machine=Marble", "check=pressure bar")
	world.golden("linkage-screws-inch")
}

// The whole set-up in order, from nothing read to all done.
func TestStorySetup(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.as("owner", "shop settings", "name=Tin Lane", "zone=CET", "units=inch", "notices=shop-notices",
		"stewards=stewards", "shims=2 5 10 thou")
	world.as("owner", "shop settings", "shims=plenty")
	world.as("owner", "shop settings", "shims=none")
	world.as("wren", "shop add", "name=Basalt", "kind=thickness-planer", "state=new")
	world.as("ada", "setup", "machine=Basalt")
	world.as("ada", "reading", "machine=Basalt", "check=table", "values=1 thou")
	world.as("ada", "setup", "machine=Basalt")
	world.as("ada", "reading", "machine=Basalt", "check=table", "values=9 thou")
	world.as("ada", "setup", "machine=Basalt")
	world.golden("whole-set-up-new")
}

// And of one that is read and well, as things go wrong.
func TestStorySetupGoesOn(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "setup", "machine=Marble")
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=44.5 40 thou")
	world.as("ada", "setup", "machine=Marble")
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=46 40 thou")
	world.as("ada", "setup", "machine=Marble")
	world.as("ada", "reading", "machine=Marble", "check=infeed", "values=61 40 thou", "gauge=feelers")
	world.as("ada", "setup", "machine=Marble")
	world.as("wren", "shop second", "machine=Marble", "check=knife clamping", "wanted=yes")
	world.as("ada", "reading", "machine=Marble", "check=clamping", "values=pass")
	world.as("ada", "reading", "machine=Marble", "check=outfeed roller", "values=27 20 thou")
	world.as("ada", "reading", "machine=Marble", "check=chip breaker", "values=61 40 thou", "gauge=feelers")
	world.as("ada", "setup", "machine=Marble")
	for _, check := range []string{"infeed", "chip breaker", "outfeed"} {
		value := "40"
		if check == "outfeed" {
			value = "20"
		}
		world.must(world.as("ada", "reading", "machine=Marble", "check="+check, "values="+value+" "+value+" thou"))
	}
	world.as("ada", "setup", "machine=Marble")
	world.as("ada", "event", "machine=Marble", "event=knives-changed")
	world.as("ada", "reading", "machine=Marble", "check=clamping", "values=pass")
	world.as("ada", "setup", "machine=Marble")
	world.as("ada", "reading", "machine=Marble", "check=knife width", "values=25.4 25.4 25.4 25.4 mm")
	world.as("ada", "reading", "machine=Marble", "check=knife projection",
		"values=1.59 1.59 1.59 1.59 1.59 1.59 1.59 1.59 mm")
	world.as("ada", "setup", "machine=Marble")
	world.golden("whole-set-up")
}
