package domain_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
)

// While something that was left apart waits to be taken over, a handover that says that
// nothing is apart does not take its place, nor does what somebody else left apart.
func TestAdmitHandover(t *testing.T) {
	left := func(apart string) *HandoverBy {
		return &HandoverBy{Fact: 15, At: added, By: "ada", Handover: Handover{Apart: apart, Next: "fit it"}}
	}
	waits := &Refusal{Code: HandoverWaits, Name: "Slate", Fact: 15}
	for _, test := range []struct {
		name   string
		before *HandoverBy
		apart  string
		who    PersonID
		want   *Refusal
	}{
		{"the first", nil, "nothing", "bo", nil},
		{"nothing apart, one with something waits", left("hood off"), "nothing", "ada", waits},
		{"said otherwise", left("hood off"), " Nothing apart. ", "bo", waits},
		{"none", left("hood off"), "None", "bo", waits},
		{"no word of it", left("hood off"), "", "ada", waits},
		{"more apart", left("hood off"), "hood off, two knives out", "ada", nil},
		{"more apart, by another", left("hood off"), "two knives out", "bo", waits},
		{"nothing but something", left("hood off"), "nothing but the hood", "ada", nil},
		{"something apart, after nothing", left("nothing"), "two knives out", "bo", nil},
		{"nothing apart, nor was before", left("nothing"), "nothing", "bo", nil},
		{"nothing apart, before there was no word", left(""), "nothing", "bo", nil},
	} {
		s := bench()
		s.Handover = test.before
		got := Admit(Assess(s, added), Entry{By: test.who, For: test.who, At: added,
			Body: Handover{Apart: test.apart, Next: "sweep"}})
		if d := cmp.Diff(test.want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// What is handed on apart tags out and is taken over before a release; a word that nothing
// is apart does neither.
func TestHandedOnWhole(t *testing.T) {
	for apart, tags := range map[string]bool{"hood off": true, "nothing": false, "": false} {
		s := bench()
		s.Handover = &HandoverBy{Fact: 15, At: added, By: "ada", Handover: Handover{Apart: apart, Next: "sweep"}}
		st := Assess(s, added)
		blocked := slices.Contains(st.Blockers, Blocker{Code: BlockHandover, Name: apart})
		if tagged := slices.Contains(causes(st), "apart:15 apart"); blocked != tags || tagged != tags {
			t.Errorf("%q: blocks %v, tags %v %v", apart, blocked, tagged, causes(st))
		}
	}
}
