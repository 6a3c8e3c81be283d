package domain_test

import (
	"slices"
	"testing"

	. "setscrew/domain"
	"setscrew/domain/danger"
	"setscrew/domain/profile"
)

// What members say of a planer stops it, is asked about, or is left as it is.
func TestHear(t *testing.T) {
	t.Parallel()
	prof := thePlaner(t)
	for _, test := range []struct {
		said, symptom string
		hazard        danger.Kind
		certainty     danger.Certainty
	}{
		// Danger in plain words.
		{"fire", "", danger.Fire, danger.Sure},
		{"its on fire!!!", "", danger.Fire, danger.Sure},
		{"emergency stop button is stuck", "", danger.StopButton, danger.Sure},
		{"e-stop doesnt work", "", danger.StopButton, danger.Sure},
		{"wont turn off", "", danger.Runaway, danger.Sure},
		{"guard missing", "", danger.Guard, danger.Sure},
		{"someone took the guard off", "", danger.Guard, danger.Sure},
		{"exposed wire", "", danger.Shock, danger.Sure},
		{"interlock bypassed", "", danger.Guard, danger.Sure},
		{"cutter head wobbles", "", danger.Cutter, danger.Sure},
		{"wood shot out", "", danger.Thrown, danger.Sure},
		{"almost lost a finger", "hurt", danger.Hurt, danger.Sure},
		{"a knife broke", "", danger.Cutter, danger.Sure},
		{"bearing screams", "", danger.Bearing, danger.Sure},
		// The profile's own dangers, by their words; somebody hurt before them all.
		{"smoke from the motor", "smoke", "", danger.Sure},
		{"smoke", "smoke", "", danger.Sure},
		{"will-not-stop", "will-not-stop", "", danger.Sure},
		{"finger stuck", "finger-broken", "", danger.Sure},
		{"it kicked back and cut his hand, blood everywhere", "hurt", "", danger.Sure},
		// No danger.
		{"it's broken", "", "", danger.None},
		{"No smoke, but slow", "", "", danger.None},
		{"smoking hot deal", "", "", danger.None},
		{"burn marks on the board", "", "", danger.None},
		{"snipe at both ends", "snipe", "", danger.None},
		{"", "", "", danger.None},
	} {
		heard := Hear(prof, test.said)
		id := ""
		if heard.Symptom != nil {
			id = heard.Symptom.ID
		}
		if id != test.symptom || heard.Hazard != test.hazard || heard.Danger != test.certainty {
			t.Errorf("%q: symptom %q, hazard %q, certainty %d; want %q, %q, %d", test.said, id, heard.Hazard,
				heard.Danger,
				test.symptom, test.hazard, test.certainty)
		}
	}
}

// What words deny is not offered as what may be meant.
func TestDeniedIsNotOffered(t *testing.T) {
	t.Parallel()
	prof := thePlaner(t)
	for _, test := range []struct {
		said  string
		offer bool
	}{{"smoke, but slow", true}, {"No smoke, but slow", false}, {"slow", false}} {
		h := Hear(prof, test.said)
		offers := slices.ContainsFunc(h.Near, func(s *profile.Symptom) bool { return s.ID == "smoke" })
		if offers != test.offer {
			t.Errorf("%q: smoke is offered: %v, want %v", test.said, offers, test.offer)
		}
	}
}

// What a kind calls a symptom that is no danger is that symptom, whatever plain words stand
// around it; a danger that is told beside it is heard.
func TestNamedSymptomsAreNoDanger(t *testing.T) {
	t.Parallel()
	heard := 0
	for _, kind := range profile.Builtin() {
		text, err := profile.BuiltinText(kind)
		if err != nil {
			t.Fatal(err)
		}
		prof, err := profile.Load(kind, text, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i := range prof.Symptoms {
			symptom := &prof.Symptoms[i]
			if symptom.Danger {
				continue
			}
			for _, name := range append([]string{symptom.Name}, symptom.Words...) {
				for _, before := range []string{"", "it has ", "some ", "again "} {
					heard++
					if got := Hear(prof, before+name); got.Danger != danger.None {
						t.Errorf("%s: %q is heard as %q, %v", kind, before+name, got.Hazard, got.Danger)
					}
				}
			}
		}
	}
	if heard < 200 {
		t.Errorf("%d heard: too few to tell", heard)
	}
	for _, said := range []string{"fuzzy surface, and there is smoke", "belt squeals and the guard is missing"} {
		if got := Hear(thePlaner(t), said); got.Danger != danger.Sure {
			t.Errorf("%q: %v", said, got.Danger)
		}
	}
}
