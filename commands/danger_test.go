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
	for _, c := range []struct {
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
		w := newWorld(t)
		w.marble()
		w.bring("tilting-mill", "Flint", quantity.Metric)
		for machine, says := range map[string]string{"Marble": cmp.Or(c.planers, c.says), "Flint": c.says} {
			if c.kind == danger.Hurt && machine == "Marble" {
				continue // the planer has a symptom for it
			}
			w.must(w.as("ada", "problem", "machine="+machine, "what="+c.said))
			st := w.statusOf(machine)
			if len(st.Dangers) != 1 || !st.TaggedOut() {
				t.Fatalf("%q: %+v, tagged out %v", c.said, st.Dangers, st.TaggedOut())
			}
			p := st.Dangers[0].Problem
			if p.Hazard != c.kind || p.Name != c.name || p.Note != c.said || p.Symptom != "" {
				t.Errorf("%q: %+v", c.said, p)
			}
			lines := strings.Join(w.last.Lines, "\n")
			if !strings.Contains(lines, says) || strings.Contains(lines, "Switch it off") == c.clear {
				t.Errorf("%s, %q: %q", machine, c.said, lines)
			}
			// Somebody else who says it in other words reports the same thing.
			w.must(w.as("bo", "problem", "machine="+machine, "what="+c.said+", it is still so"))
			if st := w.statusOf(machine); len(st.Dangers) != 2 || st.Dangers[1].Problem.Key() != p.Key() {
				t.Errorf("%q twice: %+v", c.said, st.Dangers)
			}
		}
	}
}

// A danger told in a note counts, as does one that somebody says outright; what was
// surely heard is not talked down.
func TestDangerHowever(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
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
		w.must(w.as("ada", "problem", append([]string{"machine=Marble"}, c.options...)...))
		st := w.status()
		var hazard danger.Kind
		if len(st.Dangers) > 0 {
			hazard = st.Dangers[0].Problem.Hazard
		}
		if st.TaggedOut() != c.out || hazard != c.hazard || len(st.Doubts()) != c.doubts {
			t.Errorf("%s: out %v, hazard %q, %d doubts; want %v, %q, %d", c.name, st.TaggedOut(), hazard,
				len(st.Doubts()), c.out, c.hazard, c.doubts)
		}
	}
}
