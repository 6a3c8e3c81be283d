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
	o, err := books.Report(ctx, domain.Entry{Key: "bring " + name, At: w.now, Recorded: w.now, By: "wren", For: "wren",
		Body: domain.MachineAdded{Name: name, Units: units, Setup: domain.Setup{Kind: kind, Hash: hash, Rev: 1}}})
	if err != nil {
		w.t.Fatal(err)
	}
	setup := o.After.Machine.Setup
	for _, item := range o.After.Starting {
		rev := setup.Rev
		setup = setup.With(item, "wren", w.now, nil)
		if _, err := books.Report(ctx,
			domain.Entry{Key: "confirm " + name + item.String(), Machine: o.After.Machine.ID, SetupRev: rev,
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
				w := newWorld(t)
				w.as("owner", "shop settings", "name=Quarry Street Commons", "zone=CET", "units="+units.String(),
					"notices=shop-notices", "stewards=stewards", "shims=none")
				w.bring(kind, "Flint", units)
				w.out.Reset()
				for _, g := range tries {
					w.as("ada", "reading", "machine=Flint", "check="+g[0], "values="+g[1])
					for _, b := range w.last.Buttons {
						if strings.HasPrefix(b.Label, "I meant") {
							w.press("ada", "I meant")
							break
						}
					}
					reply := w.last
					w.as("ada", "why", "machine=Flint", "check="+g[0])
					for _, b := range reply.Buttons {
						if strings.HasPrefix(b.Label, "I turned it") || strings.HasPrefix(b.Label, "I moved it") {
							w.pressOn(reply, "ada", b.Label)
							break
						}
					}
				}
				w.as("ada", "setup", "machine=Flint")
				w.golden("linkage-" + kind + "-" + units.String())
			})
		}
	}
}

// Moves that try the wrong way are asked about, and nothing is learned from them
// before somebody says how they were made; a withdrawn report un-learns.
func TestStoryWrongWay(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=50 41 thou")
	w.press("ada", "I turned it")
	turned := w.reported()
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=59 41 thou")
	asked := w.last
	w.as("ada", "machine", "machine=Marble")
	w.pressOn(asked, "ada", "I turned it the other way")
	other := w.reported()
	w.as("wren", "why", report(other))
	w.as("ada", "why", "machine=Marble", "check=infeed")
	w.as("wren", "undo", report(other))
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=59 41 thou")
	w.press("ada", "I turned it as said")
	w.as("ada", "why", "machine=Marble", "check=infeed")
	w.as("wren", "undo", report(turned))
	w.as("ada", "why", "machine=Marble", "check=infeed")
	w.as("ada", "reading", "machine=Marble", "check=bed rollers", "values=8 1 8 1 thou")
	w.press("ada", "I turned it")
	w.as("ada", "reading", "machine=Marble", "check=chip deflector gap", "values=3/32 in 1/4 in")
	w.golden("wrong-way")
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
	w := newWorld(t)
	w.marble()
	w.as("owner", "shop settings", "units="+units)
	caps := func(height string) {
		w.as("ada", "reading", "machine=Marble", "check=infeed-caps", "values="+height+", "+height)
	}
	w.as("ada", "problem", "machine=Marble", "what=marks")
	caps("5/32 in")
	w.as("ada", "problem", "machine=Marble", "what=stutters")
	caps("9/64 in")
	w.as("ada", "why", "machine=Marble", "check=infeed-caps")
	w.as("ada", "problem", "machine=Marble", "what=stutters")
	w.as("ada", "problem", "machine=Marble", "what=marks")
	w.as("ada", "event", "machine=Marble", "event=infeed-replaced")
	w.as("ada", "problem", "machine=Marble", "what=stutters")
	w.golden("linkage-caps-" + units)
}

// A screw for each position, in inch as in metric (TestStoryWrongWay).
func TestStoryScrewsInInch(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("owner", "shop settings", "units=inch")
	w.out.Reset()
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=46 thou 33 thou")
	w.press("ada", "I turned it")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=41 39 thou")
	w.as("ada", "reading", "machine=Marble", "check=pressure bar", "values=0.45 mm 0.05 mm")
	w.as("ada", "why", "machine=Marble", "check=pressure bar")
	w.golden("linkage-screws-inch")
}

// The whole set-up in order, from nothing read to all done.
func TestStorySetup(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.as("owner", "shop settings", "name=Tin Lane", "zone=CET", "units=inch", "notices=shop-notices",
		"stewards=stewards", "shims=2 5 10 thou")
	w.as("owner", "shop settings", "shims=plenty")
	w.as("owner", "shop settings", "shims=none")
	w.as("wren", "shop add", "name=Basalt", "kind=thickness-planer", "state=new")
	w.as("ada", "setup", "machine=Basalt")
	w.as("ada", "reading", "machine=Basalt", "check=table", "values=1 thou")
	w.as("ada", "setup", "machine=Basalt")
	w.as("ada", "reading", "machine=Basalt", "check=table", "values=9 thou")
	w.as("ada", "setup", "machine=Basalt")
	w.golden("whole-set-up-new")
}

// And of one that is read and well, as things go wrong.
func TestStorySetupGoesOn(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.as("ada", "setup", "machine=Marble")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=44.5 40 thou")
	w.as("ada", "setup", "machine=Marble")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=46 40 thou")
	w.as("ada", "setup", "machine=Marble")
	w.as("ada", "reading", "machine=Marble", "check=infeed", "values=61 40 thou", "gauge=feelers")
	w.as("ada", "setup", "machine=Marble")
	w.as("wren", "shop second", "machine=Marble", "check=knife clamping", "wanted=yes")
	w.as("ada", "reading", "machine=Marble", "check=clamping", "values=pass")
	w.as("ada", "reading", "machine=Marble", "check=outfeed roller", "values=27 20 thou")
	w.as("ada", "reading", "machine=Marble", "check=chip breaker", "values=61 40 thou", "gauge=feelers")
	w.as("ada", "setup", "machine=Marble")
	for _, check := range []string{"infeed", "chip breaker", "outfeed"} {
		value := "40"
		if check == "outfeed" {
			value = "20"
		}
		w.must(w.as("ada", "reading", "machine=Marble", "check="+check, "values="+value+" "+value+" thou"))
	}
	w.as("ada", "setup", "machine=Marble")
	w.as("ada", "event", "machine=Marble", "event=knives-changed")
	w.as("ada", "reading", "machine=Marble", "check=clamping", "values=pass")
	w.as("ada", "setup", "machine=Marble")
	w.as("ada", "reading", "machine=Marble", "check=knife width", "values=25.4 25.4 25.4 25.4 mm")
	w.as("ada", "reading", "machine=Marble", "check=knife projection",
		"values=1.59 1.59 1.59 1.59 1.59 1.59 1.59 1.59 mm")
	w.as("ada", "setup", "machine=Marble")
	w.golden("whole-set-up")
}
