package domain_test

import (
	"testing"

	. "setscrew/domain"
)

// An inspection passes or fails by what people write of it; what is doubtful is neither.
func TestInspectionSaid(t *testing.T) {
	for in, want := range map[string]struct {
		said SaidOf
		note string
	}{
		"pass": {SaidPasses, ""}, "PASSED.": {SaidPasses, ""}, "ok": {SaidPasses, ""}, "all good": {SaidPasses, ""},
		"good 👍": {SaidPasses, ""}, "👍": {SaidPasses, ""}, "✅": {SaidPasses, ""}, "good good good": {SaidPasses, ""},
		"passed, all swinging free": {SaidPasses, "all swinging free"}, "pass: report 7": {SaidPasses, "report 7"},
		"no issues": {SaidPasses, ""}, "nothing wrong": {SaidPasses, ""}, "tested ok": {SaidPasses, ""},
		"i.O.": {SaidPasses, ""}, "en ordre": {SaidPasses, ""}, "all bolts tight": {SaidPasses, ""},
		"fail": {SaidFails, ""}, "not ok": {SaidFails, ""}, "not good, two are stuck": {SaidFails, "two are stuck"},
		"❌": {SaidFails, ""}, "👎": {SaidFails, ""}, "doesn't work": {SaidFails, ""}, "doesnt work": {SaidFails, ""},
		"Kaputt!": {SaidFails, ""}, "n.i.O.": {SaidFails, ""}, "cracked": {SaidFails, ""},
		"fail: two fingers stick": {SaidFails, "two fingers stick"}, "bad (left one)": {SaidFails, "left one"},
		"pass: ok, but one sticks?": {SaidPasses, "ok, but one sticks?"}, "fail: not bad": {SaidFails, "not bad"},
		"": {}, "yes": {}, "ok?": {}, "not bad": {}, "meh": {}, ".045": {}, "ok except one sticking": {},
		"ok, but one sticks": {}, "passed, one was loose": {}, "stops but takes ages": {}, "didn't test it": {},
		"not": {}, "no": {}, "pass fail": {}, "ok not ok": {}, "ok 👎": {}, "works not": {}, "almost ok": {},
		"good, I think": {}, "not passed or failed": {}, "passable": {}, "no pass": {},
	} {
		said, note := InspectionSaid(in)
		if said != want.said || note != want.note {
			t.Errorf("%q: %d %q, want %d %q", in, said, note, want.said, want.note)
		}
	}
}
