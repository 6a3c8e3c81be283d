package domain_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
	"setscrew/domain/profile"
)

// A test ends by itself after the kind's minutes, counted again from when it was said to
// go on; on a machine that runs unattended whoever tests it is asked instead, again and
// again.
func TestTestsEnd(t *testing.T) {
	for _, test := range []struct {
		name    string
		run     profile.TestRun
		renewed *Renewal
		after   time.Duration // since it began
		runs    bool
		next    time.Duration // when it ends, or is asked about
	}{
		{"just begun", profile.TestRun{}, nil, 0, true, 30 * time.Minute},
		{"a moment before", profile.TestRun{}, nil, 30*time.Minute - 1, true, 30 * time.Minute},
		{"over", profile.TestRun{}, nil, 30 * time.Minute, false, 0},
		{"by the kind", profile.TestRun{Minutes: 45}, nil, 44 * time.Minute, true, 45 * time.Minute},
		{"by the kind, over", profile.TestRun{Minutes: 20}, nil, 20 * time.Minute, false, 0},
		{"said to go on", profile.TestRun{}, &Renewal{At: added.Add(20 * time.Minute), Test: 20},
			49 * time.Minute, true,
			50 * time.Minute},
		{"said to go on, and over", profile.TestRun{}, &Renewal{At: added.Add(20 * time.Minute), Test: 20},
			50 * time.Minute, false, 0},
		{"another was said to go on", profile.TestRun{}, &Renewal{At: added.Add(20 * time.Minute), Test: 19},
			40 * time.Minute, false, 0},
		{"unattended", profile.TestRun{Minutes: 60, Unattended: true}, nil, 59 * time.Minute, true, time.Hour},
		{"unattended, asked twice", profile.TestRun{Minutes: 60, Unattended: true}, nil, 2 * time.Hour,
			true, 3 * time.Hour},
	} {
		snap := bench()
		snap.Machine.Profile.TestRun = test.run
		snap.Tags = []Tag{{Fact: 9, At: added}}
		snap.Test, snap.Renewed = &Test{Fact: 20, By: "wren", At: added}, test.renewed
		st := Assess(snap, added.Add(test.after))
		if (st.Test != nil) != test.runs || (st.TestOver != nil) == test.runs {
			t.Errorf("%s: runs %v, over %v", test.name, st.Test, st.TestOver)
		}
		if next := st.TestAsks(); test.runs && (!next.Equal(added.Add(test.next)) || !st.Wake.Equal(next)) {
			t.Errorf("%s: ends or is asked at %v, wakes at %v", test.name, next, st.Wake)
		}
		if snap.Test.Renewed != (time.Time{}) {
			t.Errorf("%s: the snapshot changed", test.name)
		}
	}
}

// A button of one test does nothing to another, and none outlives its own.
func TestButtonsOfAnotherTest(t *testing.T) {
	snap := bench()
	snap.Tags = []Tag{{Fact: 9, At: added}}
	snap.Test = &Test{Fact: 20, By: "wren", At: added}
	for _, test := range []struct {
		now  time.Time
		body Body
		want Code
	}{
		{added, Release{Test: 19}, OtherTest}, {added, Release{Test: 20}, ""}, {added, Release{}, ""},
		{added, TestEnded{Test: 19}, OtherTest}, {added, TestEnded{Test: 20}, ""}, {added, TestEnded{}, ""},
		{added, TestRenewed{Test: 19}, OtherTest}, {added, TestRenewed{Test: 20}, ""},
		{added.Add(time.Hour), Release{Test: 20}, NotTested}, {added.Add(time.Hour), TestEnded{Test: 20}, NoTest},
		{added.Add(time.Hour), TestRenewed{Test: 20}, NoTest},
	} {
		var got Code
		if r := Admit(Assess(snap, test.now), Entry{By: "wren", Body: test.body}); r != nil {
			got = r.Code
		}
		if got != test.want {
			t.Errorf("%T %+v at %v: %q, want %q", test.body, test.body, test.now, got, test.want)
		}
	}
}

// What is read while the machine runs does not count where no test had begun.
func TestRunningChecksBeforeATest(t *testing.T) {
	minutes := func(n int) time.Time { return added.Add(time.Duration(n) * time.Minute) }
	untested := []Blocker{{Code: BlockUntested, ID: "sound", Name: "the sound", Running: true}}
	for _, test := range []struct {
		name string
		out  int // when it was taken out of service, -1 for not
		test int // when the test began, -1 for none
		read int
		want []Blocker
	}{
		{"in service", -1, -1, 5, nil},
		{"read before it was taken out of service", 5, -1, 4, nil},
		{"at that moment", 5, -1, 5, nil},
		{"after it, and no test", 5, -1, 6, untested},
		{"after it, before the test", 5, 8, 6, untested},
		{"as the test began", 5, 8, 8, nil},
		{"in the test", 5, 8, 9, nil},
	} {
		snap := bench()
		inspect(&snap, "sound", 20, minutes(test.read), true)
		if test.out >= 0 {
			snap.Tags = []Tag{{Fact: 9, At: minutes(test.out)}, {Fact: 10, At: minutes(test.out + 4)}}
		}
		if test.test >= 0 {
			snap.Test = &Test{Fact: 21, At: minutes(test.test)}
		}
		st := Assess(snap, minutes(10))
		if d := cmp.Diff(test.want, st.Blockers); d != "" || st.Check("sound").Untested != (test.want != nil) {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	// What does not run is read at any time.
	s := bench()
	s.Tags = []Tag{{Fact: 9, At: added}}
	inspect(&s, "guard", 20, minutes(5), true)
	if st := Assess(s, minutes(10)); len(st.Blockers) != 0 {
		t.Errorf("the guard: %v", st.Blockers)
	}
}
