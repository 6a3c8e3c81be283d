package commands_test

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

// labels are what a reply's buttons say.
func labels(r commands.Reply) []string {
	var all []string
	for _, b := range r.Buttons {
		all = append(all, b.Label)
	}
	return all
}

// at is when a report says that it happened.
func (w *world) at(no domain.FactNo) time.Time {
	w.t.Helper()
	f, err := w.db.Shop(w.shop).Fact(context.Background(), no)
	if err != nil {
		w.t.Fatal(err)
	}
	return f.At
}

// plain adds a machine whose kind is given as text, and is its number.
func (w *world) plain(name, kind, text string) domain.MachineID {
	w.t.Helper()
	ctx, books := context.Background(), w.db.Shop(w.shop)
	hash, err := books.KeepProfile(ctx, kind, []byte(text))
	if err != nil {
		w.t.Fatal(err)
	}
	out, err := books.Report(ctx, domain.Entry{Key: "plain " + name, At: w.now, Recorded: w.now, By: "wren",
		For: "wren", Body: domain.MachineAdded{Name: name, Units: quantity.Metric,
			Setup: domain.Setup{Kind: kind, Hash: hash, Rev: 1}}})
	if err != nil {
		w.t.Fatal(err)
	}
	return out.After.Machine.ID
}

// A whole day is taken and no more; only a number without a unit may have been meant
// in minutes, and only where those are a day at most.
func TestHoursOfADay(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		hours   string
		refused bool
		buttons []string
	}{
		{"24", false, nil},
		{"24 h", false, nil},
		{"24 h 1 min", true, nil},
		{"90", true, []string{"I meant 1 h 30 min"}},
		{"90 h", true, nil},
		{"1440", true, []string{"I meant 24 h"}},
		{"1441", true, nil},
		{"0.0001", true, nil}, // less than half a second is nothing
		{"0.0002", false, nil},
	} {
		w := newWorld(t)
		w.marble()
		w.now = w.now.Add(48 * time.Hour)
		r := w.as("ada", "hours", "machine=Marble", "hours="+test.hours)
		if r.Refused != test.refused || !slices.Equal(labels(r), test.buttons) {
			t.Errorf("%s: %q, buttons %q", test.hours, r.Headline, labels(r))
		}
	}
}

// A counter shows from nothing to a million hours.
func TestCounterShows(t *testing.T) {
	t.Parallel()
	for counter, refused := range map[string]bool{
		"0": false, "1000000": false, "-0.1": true, "1000000.1": true,
	} {
		w := newWorld(t)
		w.marble()
		if r := w.as("ada", "hours", "machine=Marble", "counter="+counter); r.Refused != refused ||
			refused != slices.Contains(w.keys, "hours.counter") {
			t.Errorf("%s: %q", counter, r.Headline)
		}
	}
}

// The shelf holds from nothing to a hundred thousand whole pieces of one thing.
func TestShelfHolds(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	for _, option := range []string{"left", "buy"} {
		for number, refused := range map[string]bool{
			"0": false, " 7 ": false, "100000": false, "100001": true, "-1": true, "1.5": true,
		} {
			options := []string{"item=rags", "left=1", "buy=1"}
			if option == "left" {
				options[1] = "left=" + number
			} else {
				options[2] = "buy=" + number
			}
			if r := world.as("ada", "stock", options...); r.Refused != refused ||
				refused != slices.Contains(world.keys, "stock.number") {
				t.Errorf("%s=%q: %q", option, number, r.Headline)
			}
		}
	}
}

// Hours in a test count as the test's, even those that end it because a safety service
// falls due by them.
func TestHoursThatEndATest(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.as("owner", "shop settings", "notices=notices", "stewards=stewards")
	world.plain("Anvil", "press", press+"test-run: {minutes: 30, unattended: true}\n")
	for _, what := range []string{"table", "fence", "oil in the sump", "left screw", "wax the table",
		"check the belt"} {
		world.must(world.as("wren", "shop confirm", "machine=Anvil", "what="+what))
	}
	world.must(world.as("ada", "reading", "machine=Anvil", "check=table", "values=left 10 mm, right 10 mm"))
	world.must(world.as("ada", "reading", "machine=Anvil", "check=fence", "values=5 mm"))
	world.must(world.as("ada", "reading", "machine=Anvil", "check=oil", "values=2 L"))
	world.must(world.as("ada", "tagout", "machine=Anvil", "reason=it rattles"))
	world.must(world.as("wren", "release", "machine=Anvil"))
	world.must(world.intoTest("wren"))
	world.now = world.now.Add(24 * time.Hour)
	r := world.as("wren", "hours", "machine=Anvil", "hours=13")
	world.must(r)
	if !slices.Contains(world.keys, "hours.test") || slices.Contains(world.keys, "hours.tagged") {
		t.Errorf("%q %q", r.Headline, r.Lines)
	}
}

// Nine repeats are too few, ten are enough.
func TestTenRepeats(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.as("owner", "shop settings", "stewards=stewards")
	world.must(world.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.02 mm"))
	nine := strings.Repeat("1.02 1.03 1.01 ", 3)
	for values, refused := range map[string]bool{nine + "mm": true, nine + "1.02 mm": false} {
		reply := world.as("wren", "gauge repeat", "gauge=long dial", "values="+values)
		if reply.Refused != refused || refused != slices.Contains(world.keys, "study.ten") {
			t.Errorf("%s: %q", values, reply.Headline)
		}
		if !refused && !slices.Equal(labels(reply), []string{"Use this repeatability"}) {
			t.Errorf("%s: buttons %q", values, labels(reply))
		}
	}
}

// A form has five fields at most; a check with more positions is typed.
func TestFormOfFiveFields(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.bring("three-knob-printer", "Flint", quantity.Metric)
	if r := world.as("ada", "reading", "machine=Flint", "check=bed level"); r.Form == nil || len(r.Form.Fields) != 5 {
		t.Errorf("five positions: %q, form %+v", r.Headline, r.Form)
	}
	world.must(world.as("owner", "shop add", "name=Slate", "kind=thickness-planer", "state=new", "with=knives=3"))
	if r := world.as("ada", "reading", "machine=Slate", "check=knife projection"); r.Form != nil ||
		!slices.Contains(world.keys, "reading.type") {
		t.Errorf("six positions: %q, form %+v", r.Headline, r.Form)
	}
}

// A reading that is delivered twice is asked about once: the buttons of the first
// answer stand.
func TestUnlikelyReadingTwice(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	give := func() commands.Reply {
		return world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 40 mm, right 40 mm")
	}
	if r := give(); !slices.Contains(labels(r), "It is right as typed") {
		t.Errorf("asked %q", labels(r))
	}
	world.n--
	if r := give(); r.Refused || len(r.Buttons) != 0 {
		t.Errorf("delivered again: %q, buttons %q", r.Headline, labels(r))
	}
}

// A form's values were read when the command said, however often it is asked again
// in between what they are of.
func TestFormKeepsItsTime(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.now = world.now.Add(48 * time.Hour)
	want := time.Date(2026, 3, 3, 16, 30, 0, 0, time.UTC) // on the shop's clocks 17:30
	world.must(world.as("ada", "reading", "machine=Mar", "check=infeed", "when=3 Mar 17:30"))
	form := world.last
	world.must(world.fill("ada", "left=1.02 mm", "right=1.02 mm"))
	if got := world.at(world.reported()); !got.Equal(want) {
		t.Errorf("read at %v", got)
	}
	world.must(world.as("ada", "reading", "machine=Mar", "check=infeed", "when=3 Mar 17:30"))
	form = world.last
	world.must(world.as("wren", "shop add", "name=Marl", "kind=thickness-planer", "state=new"))
	asked := world.send("ada", "fill", form.Form.Custom, map[string]string{"left": "1.03 mm", "right": "1.03 mm"})
	if !asked.Refused {
		t.Fatalf("two machines begin so: %q", asked.Headline)
	}
	world.must(world.press("ada", "Use Marble"))
	world.must(world.fill("ada", "left=1.03 mm", "right=1.03 mm"))
	if got := world.at(world.reported()); !got.Equal(want) {
		t.Errorf("read, after the machine was asked for, at %v", got)
	}
}

// A plan is made as it was said only while no reading is newer than the one it is for.
func TestTurnedAfterANewerReading(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	first := world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 46 thou, right 40 thou")
	world.must(world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 40 thou, right 47 thou"))
	no := world.reported()
	r := world.pressOn(first, "ada", "I turned it")
	if !r.Refused || !strings.Contains(r.Headline, "something newer") || world.reported() != no {
		t.Errorf("%q", r.Headline)
	}
	world.must(world.press("ada", "I turned it")) // of the newer one
}

// Forty lines are read at one go, a forty-first is too much; empty ones do not count.
func TestFortyLines(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	for _, test := range []struct {
		lines int
		want  string
	}{
		{40, "40 lines for Marble cannot be taken"},
		{41, "That is too much at once: at most 40 lines."},
	} {
		world.must(world.as("ada", "typein", "machine=Marble"))
		r := world.fill("ada", "lines="+strings.Repeat("hello\n\n", test.lines))
		if got := words.Expand(r.Headline, plainMedium{}); !r.Refused || !strings.HasPrefix(got, test.want) {
			t.Errorf("%d lines: %q", test.lines, got)
		}
	}
}

// A line that has a clock time alone is of the day of the line above as the shop's
// clocks tell it, the first one of today.
func TestLinesWithoutADay(t *testing.T) {
	t.Parallel()
	utc := func(day, hour, minute int) time.Time { return time.Date(2026, 3, day, hour, minute, 0, 0, time.UTC) }
	for _, test := range []struct {
		now   time.Time
		lines string
		want  []time.Time
	}{
		{utc(5, 8, 0), "4 Mar 00:30, 10 min; 01:30, 5 min", []time.Time{utc(3, 23, 30), utc(4, 0, 30)}},
		{utc(5, 8, 0), "07:30, 10 min; 08:15, 5 min", []time.Time{utc(5, 6, 30), utc(5, 7, 15)}},
		{utc(5, 8, 0), "tuesday 10:00, 10 min; 4 Mar 9:00, 5 min; 10:00, 5 min",
			[]time.Time{utc(3, 9, 0), utc(4, 8, 0), utc(4, 9, 0)}},
		// It is past midnight in the shop already.
		{utc(4, 23, 29), "1 min ago, 10 min; 00:05, 5 min", []time.Time{utc(4, 23, 28), utc(4, 23, 5)}},
	} {
		world := newWorld(t)
		world.marble()
		world.now = test.now
		world.must(world.as("ada", "typein", "machine=Marble", "lines="+test.lines))
		last := world.reported()
		for i, at := range test.want {
			if got := world.at(last - domain.FactNo(len(test.want)-1-i)); !got.Truncate(time.Minute).Equal(at) {
				t.Errorf("%s: line %d happened at %v, want %v", test.lines, i+1, got, at)
			}
		}
	}
}

// A form of lines is taken once: sent again, all of it is refused.
func TestTypedInOnce(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.now = world.now.Add(72 * time.Hour)
	before := world.reported()
	world.must(world.as("ada", "typein", "machine=Marble"))
	lines := "lines=4 Mar 10:00, event belts changed\n11:00, seen snipe"
	world.must(world.fill("ada", lines))
	r := world.fill("ada", lines)
	if n := world.reported() - before; !r.Refused || !strings.Contains(r.Headline, "used already") || n != 2 {
		t.Errorf("sent again: %q, %d reports", r.Headline, n)
	}
}

// benchWith is a kind with one check and services, each without its steps and source.
func benchWith(services ...string) string {
	kind := `setscrew-profile: 1
kind: bench
name: bench
revision: 1
gauges: [{id: can, name: can, of: volume, resolution: 10 mL, error: 20 mL}]
checks:
  - {id: oil, name: oil, class: quality, of: volume, measured: "by the can.", target: 2 L, adjust: 1.5 L to 2.5 L,
     gauge: can, entry: {metric: L, inch: US gal}, decimals: {metric: 2, inch: 2}, source: common practice}
cautions: [{id: isolate, text: Isolate it.}]
return: [guards on]
services:
`
	for _, s := range services {
		kind += "  - " + strings.TrimSuffix(s, "}") + ", steps: [do it], source: common practice}\n"
	}
	return kind
}

// Ten visits of a plan are listed, then how many more there are, if any; once it is
// taken, each of the first five has a button for its sheet.
func TestPlansOfManyVisits(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		visits int
		more   string // the line about those that are not listed
	}{{9, ""}, {10, ""}, {11, "And one more, on "}, {12, "And 2 more, until "}} {
		world := newWorld(t)
		world.must(world.as("owner", "shop settings", "stewards=stewards", "evenings=all 18:00-21:00"))
		for i := range test.visits {
			world.plain("Bench "+string(rune('A'+i)), "bench",
				benchWith("{id: job, name: job, class: routine, every: {days: 60}}"))
		}
		lists := func(what string, r commands.Reply) {
			t.Helper()
			text := words.Expand(strings.Join(r.Lines, "\n"), plainMedium{})
			if n := strings.Count(text, ". Bench "); n != min(test.visits, 10) {
				t.Errorf("%s of %d visits lists %d", what, test.visits, n)
			}
			if test.more == "" && strings.Contains(text, "And ") || !strings.Contains(text, test.more) {
				t.Errorf("%s of %d visits: want %q in %s", what, test.visits, test.more, text)
			}
		}
		lists("a proposal", world.as("wren", "visits"))
		world.must(world.press("wren", "Take it"))
		taken := world.as("wren", "visits")
		lists("the shop's plan", taken)
		if len(taken.Buttons) != 5 || !strings.HasPrefix(taken.Buttons[4].Label, "Sheet of visit 5") {
			t.Errorf("%d visits: buttons %q", test.visits, labels(taken))
		}
	}
}

// A sheet has a button for each of twenty jobs; what is beyond is done by a command.
func TestButtonsOfALongVisit(t *testing.T) {
	t.Parallel()
	var items []domain.Item
	var services []string
	for i := range 21 {
		id := "job-" + string(rune('a'+i))
		services = append(services, fmt.Sprintf("{id: %s, name: %s, class: routine, every: {days: 5}}", id, id))
		items = append(items, domain.ServiceItem.Of(id))
	}
	for jobs, buttons := range map[int]int{19: 19, 20: 20, 21: 20} {
		world := newWorld(t)
		bench := world.plain("Bench", "bench", benchWith(services...))
		if _, err := world.db.Shop(world.shop).Report(context.Background(), domain.Entry{Key: "plan", At: world.now,
			Recorded: world.now, By: "wren", For: "wren",
			Body: domain.VisitsPlanned{Visits: []domain.Visit{{Machine: bench, Name: "Bench", Minutes: 30,
				At: world.now.Add(24 * time.Hour), Items: items[:jobs]}}}}); err != nil {
			t.Fatal(err)
		}
		if r := world.as("wren", "visits", "visit=1"); r.Refused || len(r.Buttons) != buttons {
			t.Errorf("%d jobs: %q with %d buttons", jobs, r.Headline, len(r.Buttons))
		}
	}
}

// A chat shows 45 characters of a form's title and of a field's label, 80 of a button and
// 100 of a completion: what is as long stays whole, what is longer ends in an ellipsis.
func TestAsLongAsAChatShows(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.must(world.as("owner", "shop settings", "stewards=stewards"))
	whole, long := strings.Repeat("a", 45), strings.Repeat("b", 46)
	world.plain("Bench", "bench", `setscrew-profile: 1
kind: bench
name: bench
revision: 1
gauges: [{id: dial, name: dial, resolution: 0.01 mm, uncertainty: 0.1 mm, k: 2}]
checks:
  - {id: k, name: `+strings.Repeat("c", 38)+`, class: quality, measured: "from the base, positive up.", positions: [`+
		whole+`, `+long+`], target: 10 mm, adjust: at least 9 mm, gauge: dial, source: common practice,
     entry: {metric: mm, inch: thou}, decimals: {metric: 1, inch: 0}}
  - {id: m, name: `+strings.Repeat("d", 39)+`, class: quality, measured: "from the base, positive up.", target: 10 mm,
     adjust: at least 9 mm, gauge: dial, source: common practice,
     entry: {metric: mm, inch: thou}, decimals: {metric: 1, inch: 0}}
services: [{id: job, name: job, class: routine, every: {days: 5}, steps: [do it], source: common practice}]
cautions: [{id: isolate, text: Isolate it.}]
return: [guards on]
`)
	short := world.as("ada", "reading", "machine=Bench", "check=k").Form
	if got, want := short.Title, "Bench, "+strings.Repeat("c", 38); got != want {
		t.Errorf("a title of 45 characters: %q", got)
	}
	if got, want := short.Fields[0].Label, whole; got != want {
		t.Errorf("a label of 45 characters: %q", got)
	}
	if got, want := short.Fields[1].Label, long[:44]+"…"; got != want {
		t.Errorf("a label of 46 characters: %q", got)
	}
	single := world.as("ada", "reading", "machine=Bench", "check=m").Form
	if got, want := single.Title, "Bench, "+strings.Repeat("d", 37)+"…"; got != want {
		t.Errorf("a title of 46 characters: %q", got)
	}
	if got, want := single.Fields[0].Label, strings.Repeat("d", 39); got != want {
		t.Errorf("the label of the only position: %q", got)
	}
	world.must(world.as("wren", "shop add", "name=Slate", "kind=thickness-planer", "state=new", "with=knives=4"))
	r := world.as("ada", "reading", "machine=Slate", "check=knife projection",
		"values=62.5 62.5 62.5 62.5 62.5 62.5 62.5 62.5")
	if got := labels(r)[0]; utf8.RuneCountInString(got) != 80 || !strings.HasPrefix(got, "I meant knife 1 left ") {
		t.Errorf("a button: %q", got)
	}
	for _, problem := range []string{strings.Repeat("xyzzy", 20), strings.Repeat("zyxxy", 20) + "z"} {
		world.must(world.as("ada", "problem", "machine=Slate", "what="+problem))
		got := world.desk.Complete(context.Background(), commands.Completion{Shop: world.shop, Actor: actor("ada"),
			Name: "mended", Option: "problem", Partial: problem[:5], Options: map[string]string{"machine": "Slate"},
			Now: world.now})
		want := problem
		if len(problem) > 100 {
			want = problem[:99] + "…"
		}
		if len(got) != 1 || got[0].Label != want {
			t.Fatalf("a completion of %d characters: %+v", len(problem), got)
		}
		if utf8.RuneCountInString(got[0].Value) > 100 {
			t.Errorf("a completion of %d characters stands for %d", len(problem), len(got[0].Value))
		}
		world.must(world.as("wren", "mended", "machine=Slate", "problem="+got[0].Value))
	}
}

// A gauge is calibrated at least every ten years or so, at most every day.
func TestGaugeIntervals(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.as("owner", "shop settings", "stewards=stewards")
	for interval, refused := range map[string]bool{"1 day": false, "0 days": true, "3660 days": false,
		"3661 days": true, "10 years": false, "11 years": true, "100 years": true, "1 Year": false, "0 years": true,
		"12 h": true, "26 weeks": false} {
		if r := world.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.02 mm",
			"calibrated=2026-01-10", "interval="+interval); r.Refused != refused ||
			refused != slices.Contains(world.keys, "gauge.interval") {
			t.Errorf("%s: %q", interval, r.Headline)
		}
	}
}

// What somebody else read of a part counts as theirs: whoever types it in may read as
// often themselves.
func TestMeasuredForAnother(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.02 mm"))
	world.must(world.as("wren", "gauge study", "gauge=long dial", "machine=Marble", "check=infeed", "parts=2",
		"trials=2"))
	study := fmt.Sprintf("study=%d", world.reported())
	for _, test := range []struct{ who, part, person, says string }{
		{"ada", "1", "bo", "study.measured"},
		{"ada", "1", "ada", "study.measured"},
		{"ada", "1", "bo", "study.full"},
		{"bo", "1", "bo", "study.full"},
		{"wren", "2", "bo", "study.complete"},
		{"ada", "2", "ada", "study.complete"},
	} {
		world.as(test.who, "gauge measure", study, "part="+test.part, "values=1.02 1.03 mm", "for="+test.person)
		if !slices.Contains(world.keys, test.says) {
			t.Errorf("%s for %s, part %s: %q", test.who, test.person, test.part, world.last.Headline)
		}
	}
}

// What waits behind one button is not done by another.
func TestButtonsThatAreNone(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 40 mm, right 40 mm"))
	no := world.reported()
	believe, ok := button(world.last, "It is right")
	if !ok {
		t.Fatalf("%q", labels(world.last))
	}
	r := world.send("ada", "press", strings.Replace(believe.Custom, ":believe:", ":withdraw:", 1), nil)
	if !r.Refused || !slices.Contains(world.keys, "no-such-button") || world.reported() != no {
		t.Errorf("another button's: %q", r.Headline)
	}
	world.must(world.press("ada", "It is right"))
}

// Where no check of a machine is for a second person, the refusal's example works all the
// same.
func TestSecondPersonWhereNoneIsFor(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.plain("Anvil", "press", press)
	refused := world.as("owner", "shop second", "machine=Anvil", "check=table", "wanted=yes")
	if !refused.Refused || !slices.Contains(world.keys, "second.none") || len(refused.Lines) != 1 ||
		!strings.Contains(refused.Lines[0], "/machine machine:") {
		t.Errorf("%q %q", refused.Headline, refused.Lines)
	}
	if shown := world.as("owner", "machine", "machine=Anvil"); shown.Refused {
		t.Errorf("its example: %q", shown.Headline)
	}
}

// A role that one person has will do, and days away may end today.
func TestTheLeastThatWillDo(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	chat := fineChat()
	chat.holders["wardens"] = 1
	world.desk.Chat = chat
	if r := world.as("owner", "shop settings", "stewards=wardens"); r.Refused {
		t.Errorf("a role of one: %q", r.Headline)
	}
	world.must(world.as("owner", "shop settings", "stewards=stewards"))
	today := world.now.Format(time.DateOnly)
	if r := world.as("wren", "shop away", "from="+today, "until="+today, "deputy=bo"); r.Refused {
		t.Errorf("away today: %q", r.Headline)
	}
	for days, refused := range map[string]bool{"3660": false, "3661": true} {
		world.as("wren", "extend", "machine=Marble", "check=emergency stop", "days="+days, "why=ill")
		if refused != slices.Contains(world.keys, "extend.days") {
			t.Errorf("extended by %s days: %q", days, world.last.Headline)
		}
	}
	for factor, refused := range map[string]bool{"1": false, "0.9": true, "5": false, "5.1": true} {
		world.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.02 mm", "k="+factor)
		if refused != slices.Contains(world.keys, "gauge.k") {
			t.Errorf("k %s: %q", factor, world.last.Headline)
		}
	}
	world.must(world.as("wren", "gauge set", "name=long dial", "resolution=0.01 mm", "uncertainty=0.02 mm"))
	if own, err := world.db.Shop(world.shop).Gauges(context.Background()); err != nil || own[0].Coverage != 2 {
		t.Errorf("without k: %+v, %v", own, err)
	}
}

// A set fitted on another visit than the one on which knives were changed last asks for the
// event of its own, before it as after it.
func TestFittedOnAnotherVisit(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.now = world.now.AddDate(0, 0, 3)
	world.must(world.as("ada", "event", "machine=Marble", "event=knives changed or reset"))
	for when, asks := range map[string]bool{"yesterday 17:30": true, "1 min ago": false} {
		world.must(world.as("ada", "blades", "machine=Marble", "set=A", "where=fitted", "when="+when))
		if slices.Contains(world.keys, "blades.event") != asks {
			t.Errorf("%s: %q", when, world.last.Lines)
		}
	}
}

// Whose button it is counts for more than that a shop has named no stewards.
func TestButtonOfAnotherWithoutStewards(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.plain("Anvil", "press", press)
	world.as("ada", "hours", "machine=Anvil")
	if world.press("bo", "15 min"); !slices.Contains(world.keys, "forbidden.asker") {
		t.Errorf("%q", world.last.Headline)
	}
	world.must(world.press("ada", "15 min"))
}

// A danger is released, not mended, and so is not offered; and nothing is offered of a
// machine that is not there.
func TestWhatIsNotOffered(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "problem", "machine=Marble", "what=smoke from the motor"))
	world.must(world.as("ada", "problem", "machine=Marble", "what=snipe"))
	marble := map[string]string{"machine": "Marble"}
	if got := world.completing("wren", "mended", "problem", "", marble); !slices.Equal(got, []string{"snipe"}) {
		t.Errorf("to mend: %q", got)
	}
	nobody := map[string]string{"machine": "Nobody"}
	if got := world.completing("ada", "reading", "check", "", nobody); len(got) != 0 {
		t.Errorf("of no machine: %q", got)
	}
}

// Examples name the demo shop's machine where the shop has it, else one that it has.
func TestExamplesOfAShop(t *testing.T) {
	t.Parallel()
	for _, marble := range []bool{true, false} {
		world := newWorld(t)
		name := "Anvil"
		if marble {
			world.marble()
			name = "Marble"
		}
		world.plain("Anvil", "press", press)
		refused := world.as("ada", "reading")
		if text := words.Expand(strings.Join(refused.Lines, " "), plainMedium{}); !strings.Contains(text,
			"machine:"+name+" ") {
			t.Errorf("Marble there, %v: %q", marble, text)
		}
	}
}

// Hours of whoever tests a machine count as the test's, whoever types them in.
func TestHoursOfATestForAnother(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "tagout", "machine=Marble", "reason=it hums"))
	world.must(world.as("wren", "release", "machine=Marble"))
	world.intoTest("wren")
	for _, test := range []struct {
		who, person string
		tests       bool
	}{{"ada", "wren", true}, {"wren", "ada", false}} {
		world.as(test.who, "hours", "machine=Marble", "hours=0.1", "sure=yes", "for="+test.person)
		if slices.Contains(world.keys, "hours.test") != test.tests {
			t.Errorf("%s for %s: %q", test.who, test.person, world.last.Lines)
		}
	}
}

// Buttons are shown for eight locks.
func TestNineLocks(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	for n := range 9 {
		world.must(world.as(fmt.Sprint("member", n), "tagout", "machine=Marble", "reason=knives", "lock=yes"))
	}
	shown := world.desk.Run(context.Background(), commands.Request{ID: "nine", Shop: world.shop, Actor: actor("wren"),
		Name: "lock", Options: map[string]string{"machine": "Marble"}, Now: world.now})
	if len(shown.Buttons) != 8 {
		t.Errorf("%d buttons: %q", len(shown.Buttons), labels(shown))
	}
}

// What loosens a check is asked for when it is pressed, however long ago it was typed.
func TestLooseningAskedLater(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("wren", "shop second", "machine=Marble", "check=knife clamping", "wanted=yes"))
	world.as("wren", "shop second", "machine=Marble", "check=knife clampng", "wanted=no", "why=a small shop")
	world.now = world.now.Add(2 * time.Hour)
	world.must(world.press("wren", world.last.Buttons[0].Label))
	if at := world.at(world.reported()); world.now.Sub(at) > time.Minute {
		t.Errorf("asked for at %s, now %s", at, world.now)
	}
}

// A button that gives a command again has its time already: nothing shows the words for it.
func TestWhenIsNotAskedAgain(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.as("ada", "hours", "machine=Marbel", "hours=48", "when=1 min ago")
	refused := world.press("ada", world.last.Buttons[0].Label)
	if text := strings.Join(refused.Lines, " "); !refused.Refused || !strings.Contains(text, "hours:") ||
		strings.Contains(text, "when:") {
		t.Errorf("%q %q", refused.Headline, text)
	}
}

// A test that waits with more answers than tags is none of ours.
func TestMoreAnswersThanTags(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "tagout", "machine=Marble", "reason=it hums"))
	tag := world.reported()
	args, err := json.Marshal(map[string]any{"machine": world.status().Machine.ID, "tags": []domain.FactNo{tag},
		"seen": []domain.TagAnswer{{Tag: tag}, {Tag: tag}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := world.db.Shop(world.shop).Keep(context.Background(), domain.Pending{ID: "forged", Action: "test",
		Args: args, Asked: "wren", Made: world.now, Expires: world.now.Add(time.Hour)}); err != nil {
		t.Fatal(err)
	}
	if world.send("wren", "press", "s1:test:forged", nil); !slices.Contains(world.keys, "no-such-button") {
		t.Errorf("%q", world.last.Headline)
	}
}

// Where positions were read a different number of times, each has a budget of its own.
func TestBudgetsThatDiffer(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	for values, want := range map[string]int{"left 1.00 1.05 1.02, right 1.03 mm": 2, "left 1.00, right 1.03 mm": 1} {
		world.must(world.as("ada", "reading", "machine=Marble", "check=infeed", "values="+values))
		world.as("ada", "why", "machine=Marble", "check=infeed")
		budgets := len(slices.DeleteFunc(slices.Clone(world.keys),
			func(key string) bool { return key != "why.budget" }))
		if budgets != want {
			t.Errorf("%s: %d budgets, want %d", values, budgets, want)
		}
	}
}

// As many hours as of a machine of which nothing is known are no help, and that is said.
func TestReportingLikeOneThatIsNotKnown(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.plain("Anvil", "press", press)
	world.must(world.as("wren", "shop reporting", "machine=Marble", "other=Anvil", "wanted=yes"))
	if !slices.Contains(world.keys, "reporting.unknown") {
		t.Errorf("%q", world.last.Lines)
	}
}

// A danger that waits for the books is stored though the machine's set-up changes meanwhile.
func TestUnbookedOverASetUp(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	books, _ := world.breakable()
	world.as("bo", "due")
	books.set(nil, full)
	world.as("ada", "tagout", "machine=Marble", "reason=loose")
	books.set(nil, nil)
	world.must(world.as("wren", "shop second", "machine=Marble", "check=knife clamping", "wanted=yes"))
	if left := world.desk.Book(context.Background(), world.now); left != 0 || !world.status().TaggedOut() {
		t.Errorf("%d wait, out: %v", left, world.status().TaggedOut())
	}
}

// What reads near a limit counts as done in a set-up.
func TestNearIsSetUp(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	done := func() string {
		return words.Expand(world.as("ada", "setup", "machine=Marble").Headline, plainMedium{})
	}
	world.must(world.as("ada", "event", "machine=Marble", "event=knives changed or reset"))
	before := done()
	world.must(world.as("ada", "reading", "machine=Marble", "check=infeed", "values=left 1.14 mm, right 1.14 mm"))
	if st := world.status(); st.Check("infeed").Grade != metrology.Near {
		t.Fatalf("not near: %v", st.Check("infeed").Grade)
	}
	if after := done(); after == before {
		t.Errorf("%q before and after it was read near a limit", before)
	}
}

// Who noted how a lock was made sure of, and is no steward any more, cannot confirm it alone.
func TestLockAloneByNoSteward(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "tagout", "machine=Marble", "reason=knives", "lock=yes"))
	world.as("wren", "lock", "machine=Marble")
	world.must(world.press("wren", "Ask its owner"))
	world.now = world.now.Add(domain.MostLockWait)
	world.as("wren", "lock", "machine=Marble")
	world.press("wren", "Note what was done")
	world.must(world.fill("wren", "note=covers open, nobody inside"))
	world.now = world.now.Add(domain.LockAlone)
	if shown := world.as("wren", "lock", "machine=Marble"); len(shown.Buttons) != 1 {
		t.Errorf("a steward: %q", labels(shown))
	}
	world.must(world.as("owner", "shop settings", "stewards=wardens"))
	if shown := world.as("wren", "lock", "machine=Marble"); len(shown.Buttons) != 0 ||
		!slices.Contains(world.keys, "lock.step.alone") {
		t.Errorf("no steward: %q", labels(shown))
	}
}
