package commands_test

import (
	"context"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// completing is what a person is offered for a half-typed option of a command.
func (w *world) completing(who, command, option, partial string, options map[string]string) []string {
	w.t.Helper()
	var offered []string
	for _, c := range w.desk.Complete(context.Background(),
		commands.Completion{Shop: w.shop, Actor: actor(who), Name: command,
			Option: option, Partial: partial, Options: options, Now: w.now}) {
		offered = append(offered, c.Value)
	}
	return offered
}

// Machines are offered by how near something on them is to being due: late, due, then
// by the time that is left.
func TestMachinesAreOfferedByWhatIsDue(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.bring("dust-collector", "Cyclone", quantity.Metric)
	world.bring("dust-collector", "Whirl", quantity.Metric)
	// Nothing is due: the collectors' first Saturday comes before Marble's inspections.
	if got := world.completing("ada", "hours", "machine", "", nil); !slices.Equal(got,
		[]string{"Cyclone", "Whirl", "Marble"}) {
		t.Errorf("by the time that is left: %q", got)
	}
	world.must(world.as("wren", "hours", "machine=Whirl", "hours=13", "sure=yes")) // its bearing
	if got := world.completing("ada", "hours", "machine", "", nil); !slices.Equal(got,
		[]string{"Whirl", "Cyclone", "Marble"}) {
		t.Errorf("one due: %q", got)
	}
	world.now = world.now.Add(24 * time.Hour)
	world.must(world.as("wren", "hours", "machine=Marble", "hours=13", "sure=yes")) // its bushings, four hours late
	if got := world.completing("ada", "hours", "machine", "", nil); !slices.Equal(got,
		[]string{"Marble", "Whirl", "Cyclone"}) {
		t.Errorf("one late, one due: %q", got)
	}
	world.must(world.as("ada", "hours", "machine=Cyclone", "hours=1", "sure=yes"))
	if got := world.completing("ada", "hours", "machine", "", nil); !slices.Equal(got,
		[]string{"Cyclone", "Marble", "Whirl"}) {
		t.Errorf("one used, one late, one due: %q", got)
	}
	if got := world.completing("bo", "hours", "machine", "", nil); got[0] != "Marble" {
		t.Errorf("to somebody who used none of them: %q", got)
	}
}

// A machine on which nothing falls due by itself comes after all that have a date.
func TestMachinesWithoutADateAreOfferedLast(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	job := func(every string) string {
		return benchWith("{id: job, name: job, class: routine, every: {" + every + "}}")
	}
	world.plain("Anvil", "bench", job("hours: 50 h"))
	world.plain("Bench", "bench", job("days: 300"))
	if got := world.completing("ada", "hours", "machine", "", nil); !slices.Equal(got, []string{"Bench", "Anvil"}) {
		t.Errorf("offered %q", got)
	}
}

// What is offered of a machine: what this person used last on it, then what is due,
// then in the profile's order; what is done with stands last.
func TestPartsAreOfferedByUseAndWhatIsDue(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.addInUse("wren", "Slate", "with=knives=4")
	marble, slate := map[string]string{"machine": "Marble"}, map[string]string{"machine": "Slate"}
	first := func(command, option string, options map[string]string, n int) []string {
		all := world.completing("ada", command, option, "", options)
		return all[:min(n, len(all))]
	}
	for _, test := range []struct {
		name            string
		before          func()
		command, option string
		want            []string // the first
	}{
		{"checks in the profile's order", func() {}, "reading", "check",
			[]string{"table to cutterhead", "knife width"}},
		{"inspections that are due", func() { world.now = world.now.AddDate(0, 0, 8) }, "reading", "check",
			[]string{"anti-kickback fingers", "guards, covers and hood", "table to cutterhead"}},
		{"used on another machine", func() {
			world.must(world.as("ada", "reading", "machine=Slate", "check=outfeed",
				"values=left 20 thou, right 20 thou"))
		}, "reading", "check", []string{"anti-kickback fingers"}},
		{"an inspection and a reading, the last first", func() {
			world.must(world.as("ada", "reading", "machine=Marble", "check=full-turn", "values=pass"))
			world.must(world.as("ada", "reading", "machine=Marble", "check=outfeed",
				"values=left 20 thou, right 20 thou"))
		}, "reading", "check", []string{"outfeed roller", "full turn by hand", "anti-kickback fingers"}},
		{"an assumed gauge is not one that was used", func() {}, "reading", "gauge", []string{"caliper"}},
		{"a gauge that was named", func() {
			world.must(world.as("wren", "gauge set", "name=zoom dial", "resolution=0.01 mm", "uncertainty=0.02 mm"))
			world.must(world.as("ada", "reading", "machine=Marble", "check=outfeed", "gauge=zoom dial",
				"values=left 20 thou, right 20 thou"))
		}, "reading", "gauge", []string{"zoom dial"}},
		{"events by use", func() { world.must(world.as("ada", "event", "machine=Marble", "event=belts changed")) },
			"event", "event", []string{"belts changed"}},
		{"problems by use", func() { world.must(world.as("ada", "problem", "machine=Marble", "what=tapered board")) },
			"problem", "what", []string{"tapered board"}},
		{"services by use", func() { world.must(world.as("ada", "service", "machine=Marble", "service=columns")) },
			"service", "service", []string{"clean and oil the table columns"}},
	} {
		test.before()
		if got := first(test.command, test.option, marble, len(test.want)); !slices.Equal(got, test.want) {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
	// On Slate nothing is confirmed yet; what is confirmed goes behind what is not.
	items := world.completing("wren", "shop confirm", "what", "roller", slate)
	world.must(world.as("wren", "shop confirm", "machine=Slate", "what="+items[0]))
	if got := world.completing("wren", "shop confirm", "what", "roller", slate); len(got) != len(items) ||
		!slices.Equal(got, append(slices.Clone(items[1:]), items[0])) {
		t.Errorf("after %q was confirmed: %q", items[0], got)
	}
}

// What belongs to the shop is offered too: gauges, kinds of gauges, and what lies on
// the shelf before what only a profile names.
func TestWhatTheShopHasIsOffered(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("wren", "gauge set", "name=zoom dial", "resolution=0.01 mm", "uncertainty=0.02 mm"))
	world.must(world.as("wren", "gauge set", "name=air gauge", "resolution=0.01 mm", "uncertainty=0.02 mm"))
	world.must(world.as("wren", "stock", "item=Multi-purpose grease", "left=2"))
	world.must(world.as("wren", "stock", "item=rags", "left=9"))
	if got := world.completing("ada", "gauge repeat", "gauge", "", nil); !slices.Equal(got,
		[]string{"air gauge", "zoom dial"}) {
		t.Errorf("own gauges: %q", got)
	}
	if got := world.completing("ada", "gauge set", "kind", "caliper", nil); len(got) == 0 ||
		slices.Contains(got, "micrometer") {
		t.Errorf("kinds of gauges: %q", got)
	}
	shelf := world.completing("ada", "stock", "item", "", nil)
	if len(shelf) < 5 || !slices.Equal(shelf[:2], []string{"Multi-purpose grease", "rags"}) {
		t.Errorf("the shelf: %q", shelf)
	}
	seen := map[string]bool{}
	for _, s := range shelf {
		if seen[s] || s == "multi-purpose grease" {
			t.Errorf("%q is offered twice", s)
		}
		seen[s] = true
	}
	if got := world.completing("ada", "stock", "item", "SAE", nil); !slices.Equal(got, []string{"SAE 30 oil"}) {
		t.Errorf("what is not counted yet: %q", got)
	}
}

// For each way in which members say a symptom, the one that is meant is among the first
// five that are offered in 95 of 100, and what was typed is offered too. Every second
// phrasing of a symptom was kept from whoever chose words and weights.
func TestSymptomsAreOfferedByTheirWords(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	prof, err := profile.Load("planer", text, nil)
	if err != nil {
		t.Fatal(err)
	}
	text, err = os.ReadFile("../testdata/phrasings/thickness-planer.txt")
	if err != nil {
		t.Fatal(err)
	}
	counts, all, among := map[string]int{}, [2]int{}, [2]int{}
	for line := range strings.Lines(string(text)) {
		id, said, ok := strings.Cut(strings.TrimSpace(line), "\t")
		if !ok {
			continue
		}
		half := counts[id] % 2
		counts[id]++
		all[half]++
		offered := world.completing("ada", "problem", "what", said, map[string]string{"machine": "Marble"})
		if slices.Contains(offered[:min(5, len(offered))], prof.Symptom(id).Name) {
			among[half]++
		} else if half == 0 {
			t.Logf("%s: %q is offered %q", id, said, offered)
		}
		if !slices.Contains(offered, said) && !slices.ContainsFunc(offered, func(name string) bool {
			return strings.EqualFold(name, said)
		}) {
			t.Errorf("%q is not offered in these words, but %q", said, offered)
		}
	}
	t.Logf("chosen by: %d of %d among the first five; kept: %d of %d", among[0], all[0], among[1], all[1])
	if all[0]+all[1] < 166 || 100*(among[0]+among[1]) < 95*(all[0]+all[1]) {
		t.Errorf("%d of %d are among the first five", among[0]+among[1], all[0]+all[1])
	}
}
