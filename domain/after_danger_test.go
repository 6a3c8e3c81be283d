package domain_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
	"setscrew/domain/danger"
	"setscrew/domain/profile"
)

// endangered is a planer that is read and well, and on which a danger was reported an
// hour later.
func endangered(t *testing.T, problem Problem) Snapshot {
	problem.Danger = true
	snap := ready(t)
	snap.Dangers = []Danger{{Fact: 90, At: added.Add(time.Hour), Problem: problem}}
	return snap
}

// Every danger of every kind of machine that comes with Setscrew, its own and those
// common to all, names what is checked after it.
func TestEveryDangerAsksForChecks(t *testing.T) {
	for _, kind := range profile.Builtin() {
		text, err := profile.BuiltinText(kind)
		if err != nil {
			t.Fatal(err)
		}
		prof, err := profile.Load(kind+".yaml", text, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, of := range danger.Kinds() {
			if len(prof.AfterDanger("", of)) == 0 {
				t.Errorf("%s: nothing is checked after %s", kind, of)
			}
		}
		for _, symptom := range prof.Symptoms {
			if got := prof.AfterDanger(symptom.ID, ""); (len(got) > 0) != symptom.Danger {
				t.Errorf("%s, %s, a danger %v: checked after it %v", kind, symptom.ID, symptom.Danger, got)
			}
		}
	}
}

// What a danger asks for blocks a release until it was made after the danger.
func TestAfterADanger(t *testing.T) {
	after := func(s Snapshot, passed ...string) Snapshot {
		for _, id := range passed {
			inspect(&s, id, 95, added.Add(2*time.Hour), true)
		}
		return s
	}
	for _, test := range []struct {
		name string
		snap Snapshot
		want []string
	}{
		{"nothing reported", ready(t), nil},
		{"a thrown board", endangered(t, Problem{Symptom: "thrown-back"}), []string{"fingers after"}},
		{"the fingers were looked at", after(endangered(t, Problem{Symptom: "thrown-back"}), "fingers"), nil},
		{"at the same moment, so perhaps before", func() Snapshot {
			s := endangered(t, Problem{Symptom: "thrown-back"})
			inspect(&s, "fingers", 95, added.Add(time.Hour), true)
			return s
		}(), []string{"fingers after"}},
		{"they fail", func() Snapshot {
			s := endangered(t, Problem{Symptom: "thrown-back"})
			inspect(&s, "fingers", 95, added.Add(2*time.Hour), false)
			return s
		}(), []string{"fingers failed"}},
		{"a shock, heard in plain words", endangered(t, Problem{Hazard: danger.Shock}),
			[]string{"electrical after"}},
		{"seen by an electrician", after(endangered(t, Problem{Hazard: danger.Shock}), "electrical"), nil},
		{"will not stop, its own word", endangered(t, Problem{Symptom: "will-not-stop"}),
			[]string{"emergency-stop after", "run-down after", "electrical after"}},
		{"somebody hurt", endangered(t, Problem{Symptom: "hurt"}),
			[]string{"fingers after", "guards after", "emergency-stop after"}},
		{"a loose knife", endangered(t, Problem{Symptom: "loose-knife"}), []string{"knives after", "clamping after"}},
	} {
		if d := cmp.Diff(test.want, blockers(Assess(test.snap, added.Add(3*time.Hour)))); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	// It says after which danger, and of several after the last.
	snap := endangered(t, Problem{Symptom: "thrown-back", Name: "stock thrown back"})
	snap.Dangers = append(snap.Dangers, Danger{Fact: 91, At: added.Add(90 * time.Minute),
		Problem: Problem{Symptom: "finger-broken", Name: "finger stuck", Danger: true}})
	inspect(&snap, "fingers", 95, added.Add(70*time.Minute), true)
	st := Assess(snap, added.Add(3*time.Hour))
	want := []Blocker{{Code: BlockAfter, ID: "fingers", Name: "anti-kickback fingers", From: "finger stuck"}}
	if d := cmp.Diff(want, st.Blockers); d != "" {
		t.Errorf("of two dangers (-want +got):\n%s", d)
	}
	// A surface that moved is the first thing to say.
	snap.Moved = map[string]Moved{"fingers": {At: added.Add(100 * time.Minute), Fact: 96}}
	if got := blockers(Assess(snap, added.Add(3*time.Hour))); !slices.Contains(got, "fingers moved") {
		t.Errorf("moved as well: %v", got)
	}
}

// A check that only a danger asks for is no gap while none does: it is in no list of what
// is unread, no step of a set-up, and no blocker. When one asks, it is all of these.
func TestOnDemand(t *testing.T) {
	state := func(s Snapshot) (unread, step, read bool) {
		st := Assess(s, added.Add(3*time.Hour))
		steps, _ := SetUp(st)
		return slices.ContainsFunc(st.UnreadChecks(), func(c *CheckStatus) bool { return c.Check.ID == "electrical" }),
			slices.Contains(steps, Step{"electrical", StepRead}), st.AllRead()
	}
	if unread, step, read := state(ready(t)); unread || step || !read {
		t.Errorf("none asks: unread %v, a step %v, all read %v", unread, step, read)
	}
	shock := endangered(t, Problem{Hazard: danger.Shock})
	if unread, step, read := state(shock); !unread || !step || read {
		t.Errorf("a shock asks: unread %v, a step %v, all read %v", unread, step, read)
	}
	inspect(&shock, "electrical", 95, added.Add(2*time.Hour), true)
	if unread, step, read := state(shock); unread || step || !read {
		t.Errorf("made: unread %v, a step %v, all read %v", unread, step, read)
	}
	// One that was made before is a step again.
	inspect(&shock, "electrical", 95, added, true)
	if _, step, _ := state(shock); !step {
		t.Error("made before the shock: no step")
	}
}

// A danger whose report was withdrawn still asks for a word on it, since its tag stands.
func TestWithdrawnDangerAsksForAWord(t *testing.T) {
	snap := ready(t)
	snap.Tags = []Tag{{Fact: 91, At: added, Because: 90, Reason: Reason{Code: DangerSeen}, ReportWithdrawn: true}}
	admit := func(note string) *Refusal {
		return Admit(Assess(snap, added), Entry{By: "wren", At: added, Body: UnderTest{Note: note,
			Tags: []TagAnswer{{Tag: 91}}}})
	}
	if r := admit(""); r == nil || r.Code != NoteNeeded || r.Fact != 90 {
		t.Errorf("without a word: %+v", r)
	}
	if r := admit("nothing found, run by hand"); r != nil {
		t.Errorf("with one: %+v", r)
	}
	snap.Tags[0].Reason.Code = SaidBySomebody
	if r := admit(""); r != nil {
		t.Errorf("a tag that is no danger's: %+v", r)
	}
}

// Somebody else's report of danger is taken back with a note alone; one's own, and what is
// no danger, without.
func TestAdmitWithdrawal(t *testing.T) {
	report := func(danger bool) Fact { return Fact{No: 90, By: "ada", Body: Problem{Name: "smoke", Danger: danger}} }
	for _, test := range []struct {
		name   string
		report Fact
		by     PersonID
		note   string
		want   Code
	}{
		{"one's own", report(true), "ada", "", ""},
		{"another's", report(true), "wren", "", WithdrawalNote},
		{"another's, with a note", report(true), "wren", "smoke from next door", ""},
		{"another's that is no danger", report(false), "wren", "", ""},
		{"another's hours", Fact{No: 90, By: "ada", Body: Hours{}}, "wren", "", ""},
	} {
		body := Withdrawal{Of: 90, Note: test.note}
		got := Code("")
		if r := AdmitWithdrawal(test.report, Entry{By: test.by, Body: body}, body); r != nil {
			got = r.Code
		}
		if got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
}

// What a danger promised is asked for though its report was taken back, unless whoever
// made it did so at once.
func TestWithdrawnDangerAsksForItsChecks(t *testing.T) {
	report := Fact{No: 90, By: "ada", Recorded: added, Body: Problem{Danger: true}}
	for _, test := range []struct {
		by    PersonID
		after time.Duration
		want  bool
	}{
		{"ada", MistakeTime, false}, {"ada", MistakeTime + 1, true}, {"wren", time.Second, true},
	} {
		if got := AsksStill(report, Fact{By: test.by, Recorded: added.Add(test.after)}); got != test.want {
			t.Errorf("by %s after %v: %v, want %v", test.by, test.after, got, test.want)
		}
	}
	// A shock asks for the electrical inspection, whether its report stands or not.
	snap := endangered(t, Problem{Hazard: danger.Shock})
	stands := blockers(Assess(snap, added.Add(2*time.Hour)))
	snap.Withdrawn, snap.Dangers = snap.Dangers, nil
	got := blockers(Assess(snap, added.Add(2*time.Hour)))
	if !slices.Contains(got, "electrical after") || !slices.Equal(got, stands) {
		t.Errorf("a release needs %q, and %q while the report stood", got, stands)
	}
	inspect(&snap, "electrical", 95, added.Add(2*time.Hour), true)
	if got := blockers(Assess(snap, added.Add(3*time.Hour))); slices.Contains(got, "electrical after") {
		t.Errorf("made since: a release needs %q", got)
	}
}

// An inspection for a qualified person passes only with a name on it; anybody may fail it.
func TestQualifiedInspection(t *testing.T) {
	st := Assess(ready(t), added)
	for _, test := range []struct {
		body Inspection
		want Code
	}{
		{Inspection{Check: "electrical", Pass: true}, InspectorNeeded},
		{Inspection{Check: "electrical", Pass: true, Note: "licensed electrician, report 7"}, ""},
		{Inspection{Check: "electrical"}, ""},
		{Inspection{Check: "guards", Pass: true}, ""},
		{Inspection{Check: "no such check", Pass: true}, ""},
	} {
		got := Code("")
		if r := Admit(st, Entry{By: "wren", At: added, Body: test.body}); r != nil {
			got = r.Code
		}
		if got != test.want {
			t.Errorf("%+v: %q, want %q", test.body, got, test.want)
		}
	}
}

// Clamping that failed and passes now was tightened: the knives may have moved, and are
// read again.
func TestClampingPutRight(t *testing.T) {
	later := added.Add(time.Hour)
	complete := func(s Snapshot, body Inspection) []string {
		completed, _ := Complete(Assess(s, later), Entry{By: "wren", For: "wren", At: later, Body: body}).(Inspection)
		return completed.Surfaces
	}
	failed := ready(t)
	inspect(&failed, "clamping", 95, added.Add(time.Minute), false)
	if got := complete(failed, Inspection{Check: "clamping", Pass: true}); !slices.Equal(got, []string{"knives"}) {
		t.Errorf("failed, passes: moved %v", got)
	}
	if got := complete(failed, Inspection{Check: "clamping"}); got != nil {
		t.Errorf("fails again: moved %v", got)
	}
	if got := complete(ready(t), Inspection{Check: "clamping", Pass: true}); got != nil {
		t.Errorf("passed before: moved %v", got)
	}
	inspect(&failed, "clamping", 95, later.Add(time.Minute), false)
	if got := complete(failed, Inspection{Check: "clamping", Pass: true}); got != nil {
		t.Errorf("typed late, from before the failure: moved %v", got)
	}
}

// A machine that is handed over apart is out of service, and stays so until somebody took
// it over and what was apart is read; what it moved hangs no second tag.
func TestHandedOverApart(t *testing.T) {
	snap := ready(t)
	snap.Handover = &HandoverBy{Fact: 90, At: added.Add(time.Hour), By: "ada",
		Handover: Handover{Apart: "head cover off", Next: "set the knives", Surfaces: []string{"knives"}}}
	snap.Moved = map[string]Moved{"knives": {At: added.Add(time.Hour), Fact: 90}}
	now := added.Add(2 * time.Hour)
	st := Assess(snap, now)
	want := []TagCause{{Key: "apart:90", Because: 90, Reason: Reason{Code: HandedApart, Text: "head cover off"}}}
	if d := cmp.Diff(want, st.MustTag); d != "" {
		t.Errorf("tags (-want +got):\n%s", d)
	}
	if !slices.Contains(st.Blockers, Blocker{Code: BlockHandover, Name: "head cover off"}) {
		t.Errorf("blocked by %v", blockers(st))
	}
	// Taken over: what was apart is still to be read, and no second tag is hung for it.
	snap.Handover = nil
	snap.Tags = []Tag{{Fact: 91, At: added, Cause: "apart:90", Because: 90, Reason: want[0].Reason}}
	st = Assess(snap, now)
	if got := blockers(st); len(st.MustTag) != 0 || !slices.Contains(got, "knives moved") ||
		slices.Contains(got, " handover") {
		t.Errorf("taken over: must tag %v, blocked by %v", st.MustTag, got)
	}
	// Another report that moves them is another reason.
	snap.Moved["knives"] = Moved{At: added.Add(90 * time.Minute), Fact: 92}
	if got := causes(Assess(snap, now)); !slices.Equal(got, []string{"moved:92 moved"}) {
		t.Errorf("moved again: must tag %v", got)
	}
}

// A tag whose report was withdrawn does not stand for the same danger reported again, nor
// for an earlier report of it that holds: that hangs a tag of its own.
func TestDangerAgainAfterAWithdrawal(t *testing.T) {
	problem := Problem{Symptom: "shock", Name: "a tingle", Note: "at the table"}
	snap := endangered(t, problem)
	first := Assess(snap, added.Add(2*time.Hour)).MustTag
	if len(first) != 1 || first[0].Because != 90 {
		t.Fatalf("of a danger: %+v", first)
	}
	snap.Tags = []Tag{{Fact: 91, At: added.Add(time.Hour), Cause: first[0].Key, Because: 90, Reason: first[0].Reason}}
	if got := Assess(snap, added.Add(2*time.Hour)).MustTag; len(got) != 0 {
		t.Errorf("beside its tag: %+v", got)
	}
	snap.Tags[0].ReportWithdrawn = true
	snap.Dangers[0].Fact = 95
	if got := Assess(snap, added.Add(2*time.Hour)).MustTag; len(got) != 1 || got[0].Key != first[0].Key ||
		got[0].Because != 95 {
		t.Errorf("reported again beside a tag whose report was withdrawn: %+v", got)
	}
	snap.Dangers = nil
	if got := Assess(snap, added.Add(2*time.Hour)).MustTag; len(got) != 0 {
		t.Errorf("withdrawn: %+v", got)
	}
}

// The same danger seen while the machine runs under test hangs a tag of its own, which
// ends the test.
func TestDangerUnderTest(t *testing.T) {
	problem := Problem{Symptom: "smoke", Name: "smoke"}
	snap := endangered(t, problem)
	cause := Assess(snap, added.Add(2*time.Hour)).MustTag[0]
	snap.Tags = []Tag{{Fact: 91, At: added.Add(time.Hour), Cause: cause.Key, Because: 90, Reason: cause.Reason}}
	snap.Test = &Test{Fact: 92, At: added.Add(2 * time.Hour), Renewed: added.Add(2 * time.Hour), By: "wren"}
	if got := Assess(snap, added.Add(2*time.Hour)).MustTag; len(got) != 0 {
		t.Errorf("under test: %+v", got)
	}
	snap.Dangers = append(snap.Dangers, Danger{Fact: 93, At: added.Add(2 * time.Hour), Problem: problem})
	got := Assess(snap, added.Add(2*time.Hour)).MustTag
	if len(got) != 1 || got[0].Key != cause.Key || got[0].Because != 93 {
		t.Fatalf("seen under test: %+v", got)
	}
	snap.Tags = append(snap.Tags, Tag{Fact: 94, At: added.Add(2 * time.Hour), Cause: cause.Key, Because: 93})
	if got := Assess(snap, added.Add(2*time.Hour)).MustTag; len(got) != 0 {
		t.Errorf("beside its own tag: %+v", got)
	}
}

// A danger on a machine that is out of service already calls the stewards: an edit of the
// notice of its tags notifies nobody.
func TestDangerOnATaggedMachineCalls(t *testing.T) {
	snap := ready(t)
	at := added.Add(time.Hour)
	snap.Tags = []Tag{{Fact: 80, At: added, By: "ada", Reason: Reason{Code: SaidBySomebody, Text: "hums"}}}
	posts := func(before Snapshot, body Problem) (keys []string) {
		after := before
		if body.Danger {
			after.Dangers = []Danger{{Fact: 90, At: at, Problem: body}}
		}
		for _, notice := range Owed(Assess(before, at), Assess(after, at), &Fact{No: 90, At: at, Body: body}) {
			if notice.Topic == TopicDanger {
				if !notice.Urgent() || notice.Urgency() != UrgentDanger || !notice.Args.Call {
					t.Errorf("%s waits: %+v", notice.Key, notice)
				}
				keys = append(keys, notice.Key)
			}
		}
		return keys
	}
	danger := Problem{Symptom: "smoke", Name: "smoke", Danger: true}
	if got := posts(snap, danger); len(got) != 1 {
		t.Errorf("a danger: %q", got)
	}
	if got := posts(snap, Problem{Symptom: "snipe", Name: "snipe"}); len(got) != 0 {
		t.Errorf("no danger: %q", got)
	}
	snap.Tags = nil
	if got := posts(snap, danger); len(got) != 0 {
		t.Errorf("in service, beside the notice of its tag-out: %q", got)
	}
}
