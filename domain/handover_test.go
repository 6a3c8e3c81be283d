package domain_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
)

// While something that was left apart waits to be taken over, a handover that says that
// nothing is apart does not take its place.
func TestAdmitHandover(t *testing.T) {
	left := func(apart string) *HandoverBy {
		return &HandoverBy{Fact: 15, At: added, By: "ada", Handover: Handover{Apart: apart, Next: "fit it"}}
	}
	waits := &Refusal{Code: HandoverWaits, Name: "Slate", Fact: 15}
	for _, test := range []struct {
		name   string
		before *HandoverBy
		apart  string
		want   *Refusal
	}{
		{"the first", nil, "nothing", nil},
		{"nothing apart, one with something waits", left("hood off"), "nothing", waits},
		{"said otherwise", left("hood off"), " Nothing apart. ", waits},
		{"none", left("hood off"), "None", waits},
		{"no word of it", left("hood off"), "", waits},
		{"something else apart", left("hood off"), "hood off, two knives out", nil},
		{"nothing but something", left("hood off"), "nothing but the hood", nil},
		{"nothing apart, nor was before", left("nothing"), "nothing", nil},
		{"nothing apart, before there was no word", left(""), "nothing", nil},
	} {
		s := bench()
		s.Handover = test.before
		got := Admit(Assess(s, added), Entry{By: "bo", At: added, Body: Handover{Apart: test.apart, Next: "sweep"}})
		if d := cmp.Diff(test.want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}
