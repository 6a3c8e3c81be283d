package commands_test

import (
	"cmp"
	"strings"
	"testing"
	"time"

	"setscrew/domain/danger"
	"setscrew/domain/quantity"
)

// Every kind of danger that is common to all machines stops one, says what to do about
// just that, what the kind of machine asks for where it does, and sends nobody to a
// switch that may be live, burning or useless.
func TestEveryHazard(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		kind                      danger.Kind
		said, name, says, planers string
		clear                     bool // nobody is sent to the switch
	}{
		{danger.Hurt, "it nearly took my thumb", "somebody hurt, or nearly", "Get help first", "", true},
		{danger.Shock, "bare wire hanging out of the plug", "electric shock or a bare wire", "Touch neither", "", true},
		{danger.Fire, "flames in the dust bin", "fire, smoke or sparks", "Cut the power if you can",
			"Leave the covers shut", true},
		{danger.Fumes, "strong smell of gas", "fumes or gas", "Everyone out", "", true},
		{danger.StopButton, "the e-stop is jammed", "the stop button does not work", "must not run without", "", true},
		{danger.Runaway, "it wont turn off", "it will not stop", "at the isolator or the breaker", "", true},
		{danger.SelfStart, "it started by itself", "it starts by itself", "Hands off", "", false},
		{danger.Guard, "the guard is missing", "a guard or interlock is missing, broken or bypassed",
			"It must not run like this", "", false},
		{danger.Thrown, "an offcut flew past my head", "something was thrown", "in line with it",
			"Leave the fingers", false},
		{danger.Cutter, "a blade is cracked right through", "a cutter is loose, cracked, broken or wobbles",
			"Nobody touches it before", "cut at rest", false},
		{danger.Bearing, "the bearing is red hot", "a hot or screaming bearing", "until it is cold", "", false},
		{danger.Unsafe, "it is unsafe", "it is said to be unsafe", "found out why", "", false},
	} {
		world := newWorld(t)
		world.marble()
		world.bring("tilting-mill", "Flint", quantity.Metric)
		for machine, says := range map[string]string{"Marble": cmp.Or(test.planers, test.says), "Flint": test.says} {
			if test.kind == danger.Hurt && machine == "Marble" {
				continue // the planer has a symptom for it
			}
			world.must(world.as("ada", "problem", "machine="+machine, "what="+test.said))
			st := world.statusOf(machine)
			if len(st.Dangers) != 1 || !st.TaggedOut() {
				t.Fatalf("%q: %+v, tagged out %v", test.said, st.Dangers, st.TaggedOut())
			}
			problem := st.Dangers[0].Problem
			if problem.Hazard != test.kind || problem.Name != test.name || problem.Note != test.said ||
				problem.Symptom != "" {
				t.Errorf("%q: %+v", test.said, problem)
			}
			lines := strings.Join(world.last.Lines, "\n")
			if !strings.Contains(lines, says) || strings.Contains(lines, "Switch it off") == test.clear {
				t.Errorf("%s, %q: %q", machine, test.said, lines)
			}
			// Somebody else who says it in other words reports the same thing.
			world.must(world.as("bo", "problem", "machine="+machine, "what="+test.said+", it is still so"))
			if st := world.statusOf(machine); len(st.Dangers) != 2 || st.Dangers[1].Problem.Key() != problem.Key() {
				t.Errorf("%q twice: %+v", test.said, st.Dangers)
			}
		}
	}
}

// A steward takes back another's report of danger with a note, which stands in the
// logbook; the machine stays out of service, and what the danger promised is asked for.
func TestStoryDangerTakenBack(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "problem", "machine=Marble", "what=bare wire hanging out of the plug"))
	shock := report(world.statusOf("Marble").Dangers[0].Fact)
	if reply := world.as("wren", "undo", shock); !reply.Refused {
		t.Errorf("without a note: %q", reply.Headline)
	}
	world.must(world.as("wren", "undo", shock, "note=it was a lamp beside it"))
	st := world.statusOf("Marble")
	if len(st.Dangers) != 0 || !st.TaggedOut() {
		t.Errorf("taken back: %+v, tagged out %v", st.Dangers, st.TaggedOut())
	}
	world.must(world.as("wren", "why", shock))
	world.notices()
	world.as("wren", "release", "machine=Marble")
	world.golden("danger-taken-back")
}

// A danger told in a note counts, as does one that somebody says outright; what was
// surely heard is not talked down.
func TestDangerHowever(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name    string
		options []string
		hazard  danger.Kind
		out     bool
		doubts  int
	}{
		{"in the note", []string{"what=snipe", "note=and there is a fire in the bin"}, danger.Fire, true, 0},
		{"outright", []string{"what=the bench rocks", "danger=yes"}, "", true, 0},
		{"talked down", []string{"what=flames everywhere", "danger=no"}, danger.Fire, true, 0},
		{"likely, asked", []string{"what=the guard feels a bit loose"}, "", false, 1},
		{"likely, answered at once", []string{"what=the guard feels a bit loose", "danger=no"}, "", false, 0},
		{"likely, answered with yes", []string{"what=the guard feels a bit loose", "danger=yes"}, danger.Guard, true,
			0},
		{"likely, but never waited for", []string{"what=a slight tingle from the table i think"}, danger.Shock,
			true, 0},
	} {
		w := newWorld(t)
		w.marble()
		w.must(w.as("ada", "problem", append([]string{"machine=Marble"}, test.options...)...))
		st := w.status()
		var hazard danger.Kind
		if len(st.Dangers) > 0 {
			hazard = st.Dangers[0].Problem.Hazard
		}
		if st.TaggedOut() != test.out || hazard != test.hazard || len(st.Doubts()) != test.doubts {
			t.Errorf("%s: out %v, hazard %q, %d doubts; want %v, %q, %d", test.name, st.TaggedOut(), hazard,
				len(st.Doubts()), test.out, test.hazard, test.doubts)
		}
	}
}

// What may be dangerous is asked about on a machine that is out of service too, and
// nobody releases it before somebody has said.
func TestDoubtWhileTagged(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	world.must(world.as("ada", "tagout", "machine=Marble", "reason=belt off"))
	world.must(world.as("bo", "problem", "machine=Marble", "what=the guard feels a bit loose"))
	asked := world.last
	if _, ok := button(asked, "Stop it"); !ok {
		t.Fatalf("nothing was asked: %q %q", asked.Headline, asked.Lines)
	}
	world.as("wren", "release", "machine=Marble", "note=looked at")
	world.must(world.intoTest("wren"))
	if world.last = world.press("wren", "It runs well"); !strings.Contains(strings.Join(world.last.Lines, " "),
		"may be dangerous, and nobody has said") || !world.status().TaggedOut() {
		t.Errorf("released: %q %q", world.last.Headline, world.last.Lines)
	}
	world.must(world.pressOn(asked, "bo", "It is not dangerous"))
	if n := len(world.status().Blockers); n != 0 {
		t.Errorf("still blocked by %d", n)
	}
}

// A stop whose time cannot be read counts from now, and says so.
func TestStopCountsFromNow(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.marble()
	w.must(w.as("bo", "problem", "machine=Marble", "what=smoke from the motor", "when=when it rained"))
	if lines := strings.Join(w.last.Lines, "\n"); !strings.Contains(lines, "when it rained") ||
		!strings.Contains(lines, "stop counts from now") {
		t.Errorf("%q", lines)
	}
}

// A sheet with a line that cannot be taken still stops the machine for what is dangerous
// in it, once, and gives the other lines back.
func TestTypedInDanger(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name, lines, left string
		dangers, doubts   int
		headline          string
	}{
		{"beside one that cannot be read", "3 Mar 18:00, 1 h; nonsense; 3 Mar 18:30, seen smoke from the motor",
			"3 Mar 18:00, 1 h; nonsense", 1, 0, "tagged out"},
		{"without a time", "3 Mar 18:00, 1 h; smoke from the motor", "3 Mar 18:00, 1 h", 1, 0, "tagged out"},
		{"perhaps", "nonsense; 3 Mar 18:30, seen the guard feels a bit loose", "nonsense", 0, 1, "is it dangerous"},
		{"no danger at all", "nonsense; 3 Mar 18:30, seen snipe", "nonsense; 3 Mar 18:30, seen snipe", 0, 0,
			"nothing is stored"},
	} {
		world := newWorld(t)
		world.marble()
		world.sweep(48 * time.Hour)
		world.as("bo", "typein", "machine=Marble", "lines="+test.lines)
		refused := world.last
		st := world.status()
		if len(st.Dangers) != test.dangers || len(st.Doubts()) != test.doubts || st.TaggedOut() != (test.dangers > 0) {
			t.Errorf("%s: %d dangers, %d doubts, out %v", test.name, len(st.Dangers), len(st.Doubts()), st.TaggedOut())
		}
		if !refused.Refused || !strings.Contains(refused.Headline, test.headline) {
			t.Errorf("%s: %q", test.name, refused.Headline)
		}
		if !strings.Contains(strings.Join(refused.Lines, "\n"), "nonsense") && strings.Contains(test.lines,
			"nonsense") {
			t.Errorf("%s: the line that could not be taken is not named: %q", test.name, refused.Lines)
		}
		form := world.pressOn(refused, "bo", "Mend")
		if form.Form == nil {
			t.Fatalf("%s: no form: %q", test.name, form.Headline)
		}
		var got []string
		split := func(r rune) bool { return r == ';' || r == '\n' }
		for line := range strings.FieldsFuncSeq(form.Form.Fields[0].Value, split) {
			got = append(got, strings.TrimSpace(line))
		}
		if left := strings.Join(got, "; "); left != test.left {
			t.Errorf("%s: given back %q, want %q", test.name, left, test.left)
		}
	}
}

// A danger in the note of work that was done is heard: stopped for at once where it
// never waits, asked about otherwise.
func TestDangerInANote(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name            string
		command         []string
		dangers, doubts int
		says            string
	}{
		{"fire", []string{"service", "service=bushings", "note=there is smoke from the motor"}, 1, 0, "Done on"},
		{"a guard", []string{"service", "service=bushings", "note=the guard is missing"}, 0, 1, "Done on"},
		{"of an event", []string{"event", "event=belts changed", "note=flames in the bin"}, 1, 0, "belts changed"},
		{"of a set", []string{"blades", "set=A", "where=spare", "note=a knife is cracked"}, 0, 1, "noted"},
		{"nothing", []string{"service", "service=bushings", "note=two drops each"}, 0, 0, "Done on"},
		{"put right", []string{"service", "service=bushings", "note=replaced the cracked guard"}, 0, 0, "Done on"},
	} {
		world := newWorld(t)
		world.marble()
		world.must(world.as("ada", test.command[0], append([]string{"machine=Marble"}, test.command[1:]...)...))
		st := world.status()
		if len(st.Dangers) != test.dangers || len(st.Doubts()) != test.doubts {
			t.Errorf("%s: %d dangers, %d doubts", test.name, len(st.Dangers), len(st.Doubts()))
		}
		if _, ok := button(world.last, "Stop it"); ok != (test.doubts > 0) {
			t.Errorf("%s: asked %v", test.name, ok)
		}
		if !strings.Contains(world.last.Headline+strings.Join(world.last.Lines, " "), test.says) {
			t.Errorf("%s: the work itself is not confirmed: %q %q", test.name, world.last.Headline, world.last.Lines)
		}
	}
}

// A tag hung for a danger is a danger reported: it has the advice, and is called about.
func TestTagOutForADanger(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		options []string
		dangers int
		tags    int
	}{
		{[]string{"reason=smoke from the motor"}, 1, 1},
		{[]string{"reason=smoke from the motor", "paper=4"}, 1, 2},
		{[]string{"reason=smoke from the motor", "lock=yes"}, 1, 2},
		{[]string{"reason=belt off"}, 0, 1},
		{[]string{"reason=the guard feels a bit loose"}, 0, 1},
		{nil, 0, 1},
	} {
		world := newWorld(t)
		world.marble()
		world.must(world.as("bo", "tagout", append([]string{"machine=Marble"}, test.options...)...))
		st := world.status()
		if len(st.Dangers) != test.dangers || len(st.Tags) != test.tags || len(st.Alarms) != test.dangers {
			t.Errorf("%q: %d dangers, %d tags, %d alarms", test.options, len(st.Dangers), len(st.Tags), len(st.Alarms))
		}
		if got := strings.Contains(strings.Join(world.last.Lines, " "), "call for help"); got != (test.dangers > 0) {
			t.Errorf("%q: %q", test.options, world.last.Lines)
		}
	}
}

// Who tells of a danger on a machine whose name is misspelt is told what to do first.
func TestDangerOnAnUnknownMachine(t *testing.T) {
	t.Parallel()
	world := newWorld(t)
	world.marble()
	for _, test := range []struct {
		command string
		options []string
		stop    bool
	}{
		{"problem", []string{"machine=Marbel", "what=smoke from the motor"}, true},
		{"problem", []string{"machine=the big one", "what=smoke from the motor"}, true},
		{"tagout", []string{"machine=Marbel"}, true},
		{"problem", []string{"machine=Marbel", "what=snipe"}, false},
		{"hours", []string{"machine=Marbel", "hours=1"}, false},
	} {
		world.as("bo", test.command, test.options...)
		if got := strings.HasPrefix(world.last.Headline, "Stop."); got != test.stop || !world.last.Refused {
			t.Errorf("%s %q: %q", test.command, test.options, world.last.Headline)
		}
		if said := world.last.Headline + strings.Join(world.last.Lines, " "); !strings.Contains(said,
			"There is no machine") {
			t.Errorf("%s %q: %q", test.command, test.options, said)
		}
	}
	world.as("bo", "problem", "machine=Marbel", "what=smoke from the motor")
	if world.must(world.press("bo", "Use Marble")); !world.status().TaggedOut() {
		t.Error("the name that was meant does not stop it")
	}
}

// A danger that is told where something else was asked for is heard; what was asked for is
// asked for still.
func TestDangerInAWrongPlace(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		options         []string
		dangers, doubts int
		says            string
	}{
		{[]string{"hours", "hours=it is on fire"}, 1, 0, "has no number"},
		{[]string{"reading", "check=infeed", "values=flames everywhere"}, 1, 0, "none of the positions"},
		{[]string{"event", "event=it hit me and I am bleeding"}, 1, 0, "There is no event"},
		{[]string{"service", "service=motor on fire"}, 1, 0, "There is no service"},
		{[]string{"event", "event=the guard is missing"}, 0, 1, "There is no event"},
		{[]string{"hours", "hours=most of the day"}, 0, 0, "has no number"},
		{[]string{"service", "service=replace the lamp"}, 0, 0, "There is no service"},
	} {
		world := newWorld(t)
		world.marble()
		world.as("bo", test.options[0], append([]string{"machine=Marble"}, test.options[1:]...)...)
		st := world.status()
		if len(st.Dangers) != test.dangers || len(st.Doubts()) != test.doubts ||
			st.TaggedOut() != (test.dangers > 0) {
			t.Errorf("%q: %d dangers, %d doubts", test.options, len(st.Dangers), len(st.Doubts()))
		}
		if refused := test.dangers+test.doubts == 0; world.last.Refused != refused {
			t.Errorf("%q: refused %v", test.options, world.last.Refused)
		}
		if said := world.last.Headline + strings.Join(world.last.Lines, " "); !strings.Contains(said, test.says) {
			t.Errorf("%q: what was wrong is not said: %q", test.options, said)
		}
	}
}
