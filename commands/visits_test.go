package commands_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Five jobs of one machine share a visit, with the covers off once: proposed, taken,
// ticked off; in the calendar file and on paper.
func TestStoryVisits(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.bring("dust-collector", "Cyclone", quantity.Metric)
	for range 8 {
		for _, after := range []int{2, 2, 3} {
			world.now = world.now.Add(time.Duration(after) * 24 * time.Hour)
			world.must(world.as("ada", "hours", "machine=Marble", "hours=1.5"))
		}
		for _, k := range []string{"fingers", "guards", "emergency-stop"} {
			world.must(world.as("wren", "reading", "machine=Marble", "check="+k, "values=pass"))
		}
	}
	for _, s := range []string{"wax", "dust", "gearbox-oil", "height-chain"} {
		world.must(world.as("wren", "service", "machine=Marble", "service="+s))
	}
	world.must(world.as("wren", "stock", "item=SAE 30 oil", "left=1", "buy=1"))
	world.notices()
	world.out.Reset()
	world.as("wren", "visits")
	world.as("wren", "visits", "visit=1")
	world.as("wren", "shop settings", "evenings=thursday")
	world.must(world.as("wren", "shop settings", "evenings=thu 18:00-21:00"))
	world.must(world.as("wren", "visits"))
	world.press("ada", "Take it")
	world.as("wren", "visits")
	world.press("wren", "Take it")
	plan := world.reported()
	sheet := world.press("ada", "Sheet of visit 2")
	if sheet.File == nil || !strings.HasPrefix(string(sheet.File.Data), "%PDF") {
		t.Error("a sheet brings no page to print")
	}
	world.must(world.last)
	world.press("wren", "Done: oil the feed-roller bushings")
	world.press("wren", "Passes: anti-kickback fingers")
	world.must(world.last)
	world.send("ada", "press an old button", fmt.Sprintf("s1:visit-done:%d.2.1", plan), nil)
	world.send("ada", "press what is none", "s1:visit-done:1.1.1", nil)
	world.must(world.as("ada", "visits"))
	world.as("ada", "visits", "visit=99")
	due := world.as("ada", "due", "calendar=yes")
	for _, line := range []string{"SUMMARY:Marble: visit\\, 7 jobs", "DTSTART:20260430T160000Z",
		"DTEND:20260430T173800Z", "UID:m1-visit-1@"} {
		if due.File == nil || !strings.Contains(string(due.File.Data), line) {
			t.Errorf("the calendar file lacks %q", line)
		}
	}
	world.sweep(50 * time.Hour)
	world.notices()
	world.sweep(24 * time.Hour)
	world.notices()
	world.as("wren", "undo")
	world.golden("visits")
}

// Evenings that are too short are said, and so is how good a plan is known to be.
func TestVisitsInFullEvenings(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.must(world.as("owner", "shop settings", "zone=CET", "units=metric", "stewards=stewards"))
	for _, name := range []string{"Basalt", "Granite", "Slate", "Gneiss", "Chert", "Flint", "Marl", "Tuff"} {
		world.addInUse("wren", name)
	}
	for _, e := range []string{"thu 18:00-18:20", "thu 14:00-23:00", "all 18:00-21:00"} {
		world.must(world.as("wren", "shop settings", "evenings="+e))
		world.must(world.as("wren", "visits", "new=yes"))
	}
	world.press("wren", "Take it")
	world.must(world.as("wren", "undo"))
	world.golden("visits-full")
}

// What is read in a visit is told with its values; a visit all done, and one to a
// machine that is gone, are said; without open evenings, or anything to do, there is
// no plan.
func TestVisitsToCome(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.must(world.as("owner", "shop settings", "zone=CET", "units=metric", "stewards=stewards",
		"evenings=thu 18:00-21:00"))
	world.as("wren", "visits")
	world.bring("levelled-table", "Slab", quantity.Metric)
	world.as("wren", "visits")
	world.must(world.as("wren", "shop retire", "machine=Slab"))
	world.press("wren", "Retire")
	world.marble()
	world.bring("dust-collector", "Cyclone", quantity.Metric)
	world.must(world.as("wren", "shop interval", "machine=Marble", "what=infeed roller", "every=30 days"))
	world.must(world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.17 mm, right 1.02 mm"))
	world.must(world.as("wren", "shop settings", "closed=2026-01-01 to 2027-01-01"))
	world.as("wren", "visits")
	world.must(world.as("wren", "shop settings", "closed=none"))
	world.must(world.as("wren", "visits"))
	world.press("wren", "Take it")
	world.must(world.as("wren", "shop retire", "machine=Cyclone"))
	world.press("wren", "Retire")
	said := world.out.String()
	for n := range 5 {
		if r := world.as("wren", "visits", fmt.Sprint("visit=", n+1)); strings.Contains(r.Headline, "Marble") &&
			len(r.Buttons) > 0 {
			for len(world.last.Buttons) > 0 {
				world.press("wren", world.last.Buttons[0].Label)
			}
			break
		}
	}
	world.must(world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.02 mm, right 1.02 mm"))
	world.out.Reset()
	world.out.WriteString(said)
	world.as("wren", "visits")
	world.must(world.as("wren", "visits", "visit=4"))
	world.golden("visits-to-come")
}

// A visit of a machine that was retired since is refused: its sheet, and each job of it.
func TestVisitOfARetiredMachine(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	bench := world.plain("Bench", "bench", benchWith("{id: job, name: job, class: routine, every: {days: 5}}"))
	tell := func(m domain.MachineID, body domain.Body) domain.FactNo {
		t.Helper()
		outcome, err := world.db.Shop(world.shop).Report(context.Background(), domain.Entry{Key: fmt.Sprintf("%T",
			body),
			Machine: m, At: world.now, Recorded: world.now, By: "wren", For: "wren", Body: body})
		if err != nil {
			t.Fatal(err)
		}
		return outcome.Fact.No
	}
	plan := tell(0, domain.VisitsPlanned{Visits: []domain.Visit{{Machine: bench, Name: "Bench", Minutes: 30,
		At: world.now.Add(24 * time.Hour), Items: []domain.Item{domain.ServiceItem.Of("job")}}}})
	world.must(world.as("wren", "visits", "visit=1"))
	tell(bench, domain.MachineRetired{})
	sheet := world.as("wren", "visits", "visit=1")
	done := world.send("wren", "press an old button", fmt.Sprintf("s1:visit-done:%d.1.1", plan), nil)
	for _, r := range []commands.Reply{sheet, done} {
		if !r.Refused || !strings.Contains(r.Headline, "retired") {
			t.Errorf("%q, refused: %v", r.Headline, r.Refused)
		}
	}
}
