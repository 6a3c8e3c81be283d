package profile_test

import (
	"strings"
	"testing"

	. "setscrew/domain/profile"
)

// What a kind asks for before a machine that is in use already runs on: the common ticks
// unless it lists its own, nothing where it says that it has no serious hazard.
func TestStart(t *testing.T) {
	ids := func(p *Profile) string {
		var all []string
		for _, tick := range p.Start {
			if tick.Name == "" || tick.Says == "" {
				t.Errorf("tick %+v says nothing", tick)
			}
			all = append(all, tick.ID)
		}
		return strings.Join(all, " ")
	}
	for _, test := range []struct {
		more, want string
		harmless   bool
	}{
		{"", "guards cord cutter loose stops", false},
		{"start: [stops]", "stops", false},
		{"start: [{id: lamp, name: lamp, says: The lamp is lit.}, guards]", "lamp guards", false},
		{"hazard: none", "", true},
	} {
		prof, err := Load("press.yaml", []byte(small+test.more+"\n"), nil)
		if err != nil {
			t.Errorf("%q: %v", test.more, err)
			continue
		}
		if got := ids(prof); got != test.want || prof.Harmless != test.harmless {
			t.Errorf("%q asks for %q, harmless %v; want %q, %v", test.more, got, prof.Harmless, test.want,
				test.harmless)
		}
		if prof.Tick("lamp") != nil != strings.Contains(test.want, "lamp") {
			t.Errorf("%q: its lamp is %+v", test.more, prof.Tick("lamp"))
		}
	}
}

// A kind that has no serious hazard is refused what says otherwise, each by itself; a
// list of ticks names ticks, once each, and not more than have a button.
func TestStartMistakes(t *testing.T) {
	many := "start: ["
	for i := range 11 {
		many += "{id: t" + string(rune('a'+i)) + ", name: x, says: y}, "
	}
	for _, test := range []struct{ old, new, want string }{
		{"return:", "hazard: some\nreturn:", "one of none"},
		{"return:", "hazard: none\nstart: [guards]\nreturn:", "none with start"},
		{"class: quality", "class: safety\n    #", "none with a safety check"},
		{"class: routine", "class: safety", "none with a safety service"},
		{"return:", "symptoms: [{id: smoke, name: smoke, danger: true, advice: stop}]\nreturn:",
			"none with a danger among its symptoms"},
		{"return:", "start: []\nreturn:", "one tick or more"},
		{"return:", "start: [brakes]\nreturn:", "a common tick"},
		{"return:", "start: [guards, guards]\nreturn:", "each id once"},
		{"return:", "start: [{id: guards, name: x, says: y}, guards]\nreturn:", "each id once"},
		{"return:", "start: [{id: lamp, name: x}]\nreturn:", "says: a text"},
		{"return:", "start: [{id: guards, check: table}]\nreturn:", "the id of an inspection"},
		{"return:", "start: [{id: guards, check: gone}]\nreturn:", "the id of an inspection"},
		{"return:", "start: [{id: guards, name: x}]\nreturn:", "says: a text"},
		{"return:", many + "]\nreturn:", "at most 10"},
	} {
		text := strings.Replace(small, test.old, test.new, 1)
		if strings.HasPrefix(test.want, "none with") && !strings.Contains(text, "hazard") {
			text += "hazard: none\n"
		}
		if _, err := Load("press.yaml", []byte(text), nil); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: %v, want %s", test.new, err, test.want)
		}
	}
}

// A kind may have no checks at all, and then needs no gauges.
func TestNoChecks(t *testing.T) {
	p, err := Load("fan.yaml", []byte("setscrew-profile: 1\nkind: fan\nname: fan\nrevision: 1\n"+
		"cautions:\n  - {id: fingers, text: Fingers out of it.}\nreturn: [grille on]\n"), nil)
	if err != nil || len(p.Checks) != 0 || len(p.Start) != 5 {
		t.Errorf("a kind without checks: %+v, %v", p, err)
	}
}
