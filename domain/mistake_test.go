package domain_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
)

// A stop is taken back by who pressed it without words, up to two minutes after.
func TestAdmitMistake(t *testing.T) {
	stop := func(r Reason) func(*Snapshot) {
		return func(s *Snapshot) { s.Tags = []Tag{{Fact: 29}, {Fact: 30, By: "ada", At: added, Reason: r}} }
	}
	pressed := stop(Reason{Code: Pressed, Name: "snipe"})
	late := &Refusal{Code: MistakeLate, Name: "Slate", Fact: 30}
	none := &Refusal{Code: NoMistake, Name: "Slate", Fact: 30}
	for _, test := range []struct {
		name  string
		set   func(*Snapshot)
		by    PersonID
		after time.Duration
		of    FactNo
		want  *Refusal
	}{
		{"at once", pressed, "ada", 0, 30, nil},
		{"two minutes after", pressed, "ada", 2 * time.Minute, 30, nil},
		{"a moment later", pressed, "ada", 2*time.Minute + 1, 30, late},
		{"by another", pressed, "bo", 0, 30, none},
		{"by nobody", stop(Reason{Code: DangerSeen}), "", 0, 30, none},
		{"with a paper tag", func(s *Snapshot) { pressed(s); s.Tags[1].Paper = "4" }, "ada", 0, 30, none},
		{"with words", stop(Reason{Code: SaidBySomebody, Text: "snipe"}), "ada", 0, 30, none},
		{"a lock", stop(Reason{Code: LockOn}), "ada", 0, 30, none},
		{"what does not stand", nothing, "ada", 0, 30, none},
		{"another tag", pressed, "ada", 0, 29, &Refusal{Code: NoMistake, Name: "Slate", Fact: 29}},
	} {
		s := bench()
		test.set(&s)
		at := added.Add(test.after)
		got := Admit(Assess(s, at), Entry{By: test.by, For: test.by, At: at, Recorded: at, Body: Mistake{test.of}})
		if d := cmp.Diff(test.want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// The notice of a stop that is taken back says so, and nobody is told that the machine is
// back: it was never out of service. Where another tag stands the notice goes on.
func TestOwedOfMistake(t *testing.T) {
	pressed := Tag{Fact: 9, By: "ada", At: added, Reason: Reason{Code: Pressed}}
	loose := Tag{Fact: 8, By: "bo", At: added}
	out := func(tags ...Tag) func(*Snapshot) { return func(s *Snapshot) { s.Tags = tags } }
	args := NoticeArgs{Tags: []Tag{pressed}, Lifted: true, Mistake: true}
	owes(t, []change{
		{"taken back", out(pressed), nothing, time.Time{}, &Fact{No: 20, Body: Mistake{9}}, []Notice{
			notice(Edit, "out/0/lifted", "out/0", TopicTagOut, args),
			notice(Unpin, "out/0/unpin", "out/0", TopicTagOut, args)}},
		{"taken back, another stands", out(loose, pressed), out(loose), time.Time{}, &Fact{No: 20, Body: Mistake{9}},
			[]Notice{notice(Edit, "out/0/edit/20", "out/0", TopicTagOut, NoticeArgs{Tags: []Tag{loose}})}},
	})
}

// A stop without words is told of by what it was pressed for.
func TestDescribedPress(t *testing.T) {
	if got := Described(TagOut{Reason: Reason{Code: Pressed, Name: "snipe"}}); got != "snipe" {
		t.Errorf("described as %q", got)
	}
}
