package domain_test

import (
	"os"
	"strings"
	"testing"

	. "setscrew/domain"
	"setscrew/domain/profile"
)

// phrasings is what members may say of the planer: for choosing words, and for the
// test alone.
func phrasings(t *testing.T) (chosen, kept [][2]string) {
	t.Helper()
	text, err := os.ReadFile("../testdata/phrasings/thickness-planer.txt")
	if err != nil {
		t.Fatal(err)
	}
	counts := map[string]int{}
	for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		id, said, ok := strings.Cut(line, "\t")
		if !ok {
			t.Fatalf("line %q", line)
		}
		if counts[id]++; counts[id]%2 == 1 {
			chosen = append(chosen, [2]string{id, said})
		} else {
			kept = append(kept, [2]string{id, said})
		}
	}
	return chosen, kept
}

func thePlaner(t *testing.T) *profile.Profile {
	t.Helper()
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	p, err := Compile(text, Setup{Kind: "thickness-planer"})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Of what members say, in their own spelling, the symptom meant is among the first
// three in 90 % of the phrasings that no word or weight was chosen by; and of those
// that are taken without asking, it is the first in 95 %.
func TestPhrasings(t *testing.T) {
	t.Parallel()
	prof := thePlaner(t)
	chosen, kept := phrasings(t)
	if len(chosen)+len(kept) < 150 {
		t.Fatalf("only %d phrasings", len(chosen)+len(kept))
	}
	for _, half := range []struct {
		name string
		all  [][2]string
		show bool
	}{{"chosen by", chosen, true}, {"kept", kept, false}} {
		in, first, sure, sureRight := 0, 0, 0, 0
		for _, said := range half.all {
			near, certain := MatchSymptoms(prof, said[1])
			hit := false
			for i, s := range near {
				if s.ID == said[0] {
					hit = true
					if i == 0 {
						first++
					}
				}
			}
			if hit {
				in++
			} else if half.show {
				t.Logf("%s: %q is not found", said[0], said[1])
			}
			if certain {
				sure++
				if near[0].ID == said[0] {
					sureRight++
				} else if half.show {
					t.Logf("%s: %q is taken for %s", said[0], said[1], near[0].ID)
				}
			}
		}
		count := len(half.all)
		t.Logf("%s: %d phrasings, %d (%.0f %%) in the first three, %d the first; %d taken without asking, %d rightly",
			half.name, count, in, 100*float64(in)/float64(count), first, sure, sureRight)
		if half.show {
			continue
		}
		if float64(in) < 0.9*float64(count) {
			t.Errorf("%d of %d in the first three", in, count)
		}
		if float64(sureRight) < 0.95*float64(sure) || sure < count/3 {
			t.Errorf("%d taken without asking, %d rightly", sure, sureRight)
		}
	}
}

// What people say of a danger stops the machine, however they say it; what is
// no danger does not.
func TestMatchSymptom(t *testing.T) {
	prof := thePlaner(t)
	for said, want := range map[string]string{
		"snipe": "snipe", "Snipe at both ends": "snipe", "smoke": "smoke", "There's SMOKE from the motor!": "smoke",
		"it kicked back, a board": "thrown-back",
		"finger stuck":            "finger-broken", "someone is hurt": "hurt", "washboard on the board": "marks",
		"hums a tune": "", "": "", "smokey bacon": "", "snipe and washboard": "",
		"snipe, and a knocking": "vibration", "will-not-stop": "will-not-stop",
	} {
		got := ""
		if near, sure := MatchSymptoms(prof, said); sure {
			got = near[0].ID
		}
		if got != want {
			t.Errorf("%q: %q, want %q", said, got, want)
		}
	}
}
