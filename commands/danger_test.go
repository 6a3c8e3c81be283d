package commands_test

import (
	"cmp"
	"strings"
	"testing"

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
