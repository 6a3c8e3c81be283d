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
	w := newWorld(t)
	w.marble()
	w.bring("dust-collector", "Cyclone", quantity.Metric)
	for range 8 {
		for _, after := range []int{2, 2, 3} {
			w.now = w.now.Add(time.Duration(after) * 24 * time.Hour)
			w.must(w.as("ada", "hours", "machine=Marble", "hours=1.5"))
		}
		for _, k := range []string{"fingers", "guards", "emergency-stop"} {
			w.must(w.as("wren", "reading", "machine=Marble", "check="+k, "values=pass"))
		}
	}
	for _, s := range []string{"wax", "dust", "gearbox-oil", "height-chain"} {
		w.must(w.as("wren", "service", "machine=Marble", "service="+s))
	}
	w.must(w.as("wren", "stock", "item=SAE 30 oil", "left=1", "buy=1"))
	w.notices()
	w.out.Reset()
	w.as("wren", "visits")
	w.as("wren", "visits", "visit=1")
	w.as("wren", "shop settings", "evenings=thursday")
	w.must(w.as("wren", "shop settings", "evenings=thu 18:00-21:00"))
	w.must(w.as("wren", "visits"))
	w.press("ada", "Take it")
	w.as("wren", "visits")
	w.press("wren", "Take it")
	plan := w.reported()
	sheet := w.press("ada", "Sheet of visit 2")
	if sheet.File == nil || !strings.HasPrefix(string(sheet.File.Data), "%PDF") {
		t.Error("a sheet brings no page to print")
	}
	w.must(w.last)
	w.press("wren", "Done: oil the feed-roller bushings")
	w.press("wren", "Passes: anti-kickback fingers")
	w.must(w.last)
	w.send("ada", "press an old button", fmt.Sprintf("s1:visit-done:%d.2.1", plan), nil)
	w.send("ada", "press what is none", "s1:visit-done:1.1.1", nil)
	w.must(w.as("ada", "visits"))
	w.as("ada", "visits", "visit=99")
	due := w.as("ada", "due", "calendar=yes")
	for _, line := range []string{"SUMMARY:Marble: visit\\, 7 jobs", "DTSTART:20260430T160000Z",
		"DTEND:20260430T173800Z", "UID:m1-visit-1@"} {
		if due.File == nil || !strings.Contains(string(due.File.Data), line) {
			t.Errorf("the calendar file lacks %q", line)
		}
	}
	w.sweep(50 * time.Hour)
	w.notices()
	w.sweep(24 * time.Hour)
	w.notices()
	w.as("wren", "undo")
	w.golden("visits")
}

// Evenings that are too short are said, and so is how good a plan is known to be.
func TestVisitsInFullEvenings(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.must(w.as("owner", "shop settings", "zone=CET", "units=metric", "stewards=stewards"))
	for _, name := range []string{"Basalt", "Granite", "Slate", "Gneiss", "Chert", "Flint", "Marl", "Tuff"} {
		w.addInUse("wren", name)
	}
	for _, e := range []string{"thu 18:00-18:20", "thu 14:00-23:00", "all 18:00-21:00"} {
		w.must(w.as("wren", "shop settings", "evenings="+e))
		w.must(w.as("wren", "visits", "new=yes"))
	}
	w.press("wren", "Take it")
	w.must(w.as("wren", "undo"))
	w.golden("visits-full")
}

// What is read in a visit is told with its values; a visit all done, and one to a
// machine that is gone, are said; without open evenings, or anything to do, there is
// no plan.
func TestVisitsToCome(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.must(w.as("owner", "shop settings", "zone=CET", "units=metric", "stewards=stewards", "evenings=thu 18:00-21:00"))
	w.as("wren", "visits")
	w.bring("levelled-table", "Slab", quantity.Metric)
	w.as("wren", "visits")
	w.must(w.as("wren", "shop retire", "machine=Slab"))
	w.press("wren", "Retire")
	w.marble()
	w.bring("dust-collector", "Cyclone", quantity.Metric)
	w.must(w.as("wren", "shop interval", "machine=Marble", "what=infeed roller", "every=30 days"))
	w.must(w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.17 mm, right 1.02 mm"))
	w.must(w.as("wren", "shop settings", "closed=2026-01-01 to 2027-01-01"))
	w.as("wren", "visits")
	w.must(w.as("wren", "shop settings", "closed=none"))
	w.must(w.as("wren", "visits"))
	w.press("wren", "Take it")
	w.must(w.as("wren", "shop retire", "machine=Cyclone"))
	w.press("wren", "Retire")
	said := w.out.String()
	for n := range 5 {
		if r := w.as("wren", "visits", fmt.Sprint("visit=", n+1)); strings.Contains(r.Headline, "Marble") &&
			len(r.Buttons) > 0 {
			for len(w.last.Buttons) > 0 {
				w.press("wren", w.last.Buttons[0].Label)
			}
			break
		}
	}
	w.must(w.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.02 mm, right 1.02 mm"))
	w.out.Reset()
	w.out.WriteString(said)
	w.as("wren", "visits")
	w.must(w.as("wren", "visits", "visit=4"))
	w.golden("visits-to-come")
}

// A visit of a machine that was retired since is refused: its sheet, and each job of it.
func TestVisitOfARetiredMachine(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	bench := w.plain("Bench", "bench", benchWith("{id: job, name: job, class: routine, every: {days: 5}}"))
	tell := func(m domain.MachineID, body domain.Body) domain.FactNo {
		t.Helper()
		o, err := w.db.Shop(w.shop).Report(context.Background(), domain.Entry{Key: fmt.Sprintf("%T", body),
			Machine: m, At: w.now, Recorded: w.now, By: "wren", For: "wren", Body: body})
		if err != nil {
			t.Fatal(err)
		}
		return o.Fact.No
	}
	plan := tell(0, domain.VisitsPlanned{Visits: []domain.Visit{{Machine: bench, Name: "Bench", Minutes: 30,
		At: w.now.Add(24 * time.Hour), Items: []domain.Item{domain.ServiceItem.Of("job")}}}})
	w.must(w.as("wren", "visits", "visit=1"))
	tell(bench, domain.MachineRetired{})
	sheet := w.as("wren", "visits", "visit=1")
	done := w.send("wren", "press an old button", fmt.Sprintf("s1:visit-done:%d.1.1", plan), nil)
	for _, r := range []commands.Reply{sheet, done} {
		if !r.Refused || !strings.Contains(r.Headline, "retired") {
			t.Errorf("%q, refused: %v", r.Headline, r.Refused)
		}
	}
}
