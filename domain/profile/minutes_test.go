package profile_test

import (
	"strings"
	"testing"

	. "setscrew/domain/profile"
)

// What a profile says of how long things take stands; what it leaves out has
// starting values.
func TestMinutes(t *testing.T) {
	t.Parallel()
	text, err := BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	load := func(more, service string) (*Profile, error) {
		s := strings.Replace(string(text), "  - id: bushings\n", "  - id: bushings\n"+service, 1)
		return Load("thickness-planer.yaml", []byte(s+more), nil)
	}
	prof, err := load("minutes: {cover: 7, service: 12}\n", "    minutes: 25\n")
	if err != nil {
		t.Fatal(err)
	}
	if m := prof.Minutes; m.Cover != 7 || m.Service != 12 || m.Isolation != 10 || m.Material != 3 || m.Gauge != 5 ||
		m.Check != 5 {
		t.Errorf("minutes %+v", m)
	}
	if b, w, c := prof.Service("bushings").Minutes, prof.Service("wax").Minutes,
		prof.Check("infeed").Minutes; b != 25 ||
		w != 12 ||
		c != 5 {
		t.Errorf("bushings %d, wax %d, infeed %d minutes", b, w, c)
	}
	for _, bad := range []string{"minutes: {cover: 0}\n", "minutes: {covers: 3}\n", "minutes: {gauge: 601}\n"} {
		if _, err := load(bad, ""); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
	if _, err := load("", "    minutes: soon\n"); err == nil {
		t.Error("minutes: soon is taken")
	}
}
