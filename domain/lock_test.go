package domain_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "setscrew/domain"
)

// locked is a bench with the lock of ada on (no. 30), as far as its steps say.
func locked(steps Lock) func(*Snapshot) {
	return func(s *Snapshot) {
		s.Tags = []Tag{{Fact: 30, By: "ada", At: added, Reason: Reason{Code: LockOn, Text: "knives"}, Lock: steps}}
	}
}

// A lock's owner was asked at the first hour of the bench's second day and waited for half
// an hour; wren noted what was done an hour after.
var (
	askedAt   = onDay(1).Add(time.Hour)
	askedStep = LockStep{Fact: 31, By: "wren", At: askedAt, Until: askedAt.Add(30 * time.Minute)}
	notedAt   = askedAt.Add(time.Hour)
	notedStep = LockStep{Fact: 32, By: "wren", At: notedAt, Until: notedAt.Add(24 * time.Hour), Note: "nobody inside"}
)

// Who may take which step about a lock, and when: each alone, and beside it what is much
// like it and is not allowed.
func TestAdmitLock(t *testing.T) {
	on, asked := locked(Lock{}), locked(Lock{Asked: askedStep})
	noted := locked(Lock{Asked: askedStep, Noted: notedStep})
	off := locked(Lock{Off: LockStep{Fact: 33, By: "ada", At: notedAt}})
	other := func(s *Snapshot) {
		s.Tags = []Tag{{Fact: 30, By: "ada", At: added, Reason: Reason{Code: SaidBySomebody, Text: "knives"}}}
	}
	tested := func(set func(*Snapshot)) func(*Snapshot) {
		return func(s *Snapshot) { set(s); s.Test = &Test{Fact: 40, By: "wren", At: notedAt} }
	}
	seen := []TagAnswer{{30, OwnerUnreachable}}
	steps := func(code Code, no FactNo, by PersonID, until time.Time) *Refusal {
		return &Refusal{Code: code, Name: "Slate", Fact: no, By: by, At: until}
	}
	var never time.Time
	for _, test := range []struct {
		name    string
		set     func(*Snapshot)
		by      PersonID
		steward bool
		after   time.Duration // since it was noted
		body    Body
		want    *Refusal
	}{
		// Its owner's.
		{"off by its owner", on, "ada", false, 0, LockOff{Tag: 30}, nil},
		{"off by its owner, asked", asked, "ada", false, 0, LockOff{Tag: 30}, nil},
		{"off by its owner, noted", noted, "ada", false, 0, LockOff{Tag: 30}, nil},
		{"off by another", on, "bo", false, 0, LockOff{Tag: 30}, steps(OthersLock, 30, "ada", never)},
		{"off by a steward", on, "wren", true, 0, LockOff{Tag: 30}, steps(OthersLock, 30, "ada", never)},
		{"off by a steward, all but confirmed", noted, "ishaan", true, 48 * time.Hour, LockOff{Tag: 30},
			steps(OthersLock, 30, "ada", never)},
		{"off by Setscrew", on, "", true, 0, LockOff{Tag: 30}, steps(OthersLock, 30, "ada", never)},
		{"off though it is", off, "ada", false, 0, LockOff{Tag: 30}, steps(LockNotOn, 30, "", never)},
		{"off, of another tag", on, "ada", false, 0, LockOff{Tag: 31}, steps(LockNotOn, 31, "", never)},
		{"off, of a tag that is no lock", other, "ada", false, 0, LockOff{Tag: 30},
			steps(LockNotOn, 30, "", never)},
		{"kept by its owner", asked, "ada", false, 0, LockKept{30}, nil},
		{"kept by a steward", asked, "wren", true, 0, LockKept{30}, steps(OthersLock, 30, "ada", never)},
		// The first step.
		{"asked by a steward", on, "wren", true, 0, LockAsked{Tag: 30}, nil},
		{"asked by a member", on, "bo", false, 0, LockAsked{Tag: 30}, steps(OthersLock, 30, "ada", never)},
		{"asked by its owner", on, "ada", true, 0, LockAsked{Tag: 30}, steps(OwnLock, 30, "ada", never)},
		{"asked a second time", asked, "wren", true, 0, LockAsked{Tag: 30},
			steps(LockAskedBefore, 31, "ada", askedStep.Until)},
		// The second.
		{"noted as soon as the waiting time is over", asked, "wren", true, -30 * time.Minute,
			LockProcedure{Tag: 30, Note: "x"}, nil},
		{"noted just before", asked, "wren", true, -30*time.Minute - 1, LockProcedure{Tag: 30, Note: "x"},
			steps(LockWaits, 31, "ada", askedStep.Until)},
		{"noted by another steward", asked, "ishaan", true, 0, LockProcedure{Tag: 30, Note: "x"}, nil},
		{"noted once more", noted, "ishaan", true, 0, LockProcedure{Tag: 30, Note: "x"}, nil},
		{"noted by a member", asked, "bo", false, 0, LockProcedure{Tag: 30, Note: "x"},
			steps(OthersLock, 30, "ada", never)},
		{"noted by its owner", asked, "ada", true, 0, LockProcedure{Tag: 30, Note: "x"},
			steps(OwnLock, 30, "ada", never)},
		{"noted, nobody asked", on, "wren", true, 0, LockProcedure{Tag: 30, Note: "x"},
			steps(LockNotAsked, 30, "ada", never)},
		{"noted without a word", asked, "wren", true, 0, LockProcedure{Tag: 30},
			steps(LockNoteNeeded, 30, "ada", never)},
		// The second person.
		{"confirmed by a member", noted, "bo", false, 0, LockOff{Tag: 30, Procedure: 32}, nil},
		{"confirmed by another steward", noted, "ishaan", true, 0, LockOff{Tag: 30, Procedure: 32}, nil},
		{"confirmed by its owner", noted, "ada", false, 0, LockOff{Tag: 30, Procedure: 32},
			steps(OwnLock, 30, "ada", never)},
		{"confirmed by who noted it", noted, "wren", true, 24*time.Hour - 1, LockOff{Tag: 30, Procedure: 32},
			steps(LockSecond, 32, "wren", notedStep.Until)},
		{"confirmed by who noted it, a day after", noted, "wren", true, 24 * time.Hour,
			LockOff{Tag: 30, Procedure: 32}, nil},
		{"confirmed by who noted it and is no steward any more", noted, "wren", false, 24 * time.Hour,
			LockOff{Tag: 30, Procedure: 32}, steps(LockSecond, 32, "wren", notedStep.Until)},
		{"confirmed by Setscrew", noted, "", true, 48 * time.Hour, LockOff{Tag: 30, Procedure: 32},
			steps(LockSecond, 32, "wren", notedStep.Until)},
		{"confirmed, of an earlier note", noted, "bo", false, 0, LockOff{Tag: 30, Procedure: 29},
			steps(ProcedureOver, 29, "ada", never)},
		{"confirmed, nothing noted", asked, "bo", false, 0, LockOff{Tag: 30, Procedure: 32},
			steps(ProcedureOver, 32, "ada", never)},
		{"confirmed by two at once",
			locked(Lock{Asked: askedStep, Noted: notedStep, Off: LockStep{Fact: 33, By: "bo"}}), "chidi", false, 0,
			LockOff{Tag: 30, Procedure: 32}, steps(LockNotOn, 30, "", never)},
		// What is not while it is on.
		{"a test", on, "wren", true, 0, UnderTest{Tags: seen}, steps(LockIsOn, 30, "ada", never)},
		{"a test, by its owner", on, "ada", true, 0, UnderTest{Tags: seen}, steps(LockIsOn, 30, "ada", never)},
		{"a test, all but confirmed", noted, "wren", true, 48 * time.Hour, UnderTest{Tags: seen},
			steps(LockIsOn, 30, "ada", never)},
		{"a test once it is off", off, "wren", true, 0, UnderTest{Tags: []TagAnswer{{Tag: 30}}}, nil},
		{"a release", tested(on), "wren", true, 0, Release{}, steps(LockIsOn, 30, "ada", never)},
		{"a release once it is off", tested(off), "wren", true, 0, Release{}, nil},
		{"retired", on, "wren", true, 0, MachineRetired{}, steps(LockIsOn, 30, "ada", never)},
		{"retired once it is off", off, "wren", true, 0, MachineRetired{}, nil},
		{"retired under test", tested(off), "wren", true, 0, MachineRetired{},
			&Refusal{Code: TestRuns, Name: "Slate"}},
		{"taken back as a mistake", on, "ada", false, 0, Mistake{30},
			&Refusal{Code: NoMistake, Name: "Slate", Fact: 30}},
	} {
		s := bench()
		test.set(&s)
		at := notedAt.Add(test.after)
		entry := Entry{By: test.by, For: test.by, At: at, Recorded: at, Steward: test.steward, Body: test.body}
		if d := cmp.Diff(test.want, Admit(Assess(s, at), entry)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	// When it was typed counts: nobody waits less by saying that it was another time.
	for _, test := range []struct {
		name        string
		steps       Lock
		typed, said time.Time
		body        Body
		want        Code
	}{
		{"noted early, said to be later", Lock{Asked: askedStep}, askedAt, notedAt, LockProcedure{Tag: 30, Note: "x"},
			LockWaits},
		{"noted late, said to be earlier", Lock{Asked: askedStep}, notedAt, askedAt,
			LockProcedure{Tag: 30, Note: "x"}, ""},
		{"alone early, said to be later", Lock{Asked: askedStep, Noted: notedStep}, notedAt, notedStep.Until,
			LockOff{30, 32}, LockSecond},
	} {
		s := bench()
		locked(test.steps)(&s)
		entry := Entry{By: "wren", For: "wren", At: test.said, Recorded: test.typed, Steward: true, Body: test.body}
		if got := Admit(Assess(s, test.typed), entry); (got == nil) != (test.want == "") || got != nil &&
			got.Code != test.want {
			t.Errorf("%s: %v", test.name, got)
		}
	}
	// A lock is hung by its owner.
	s := bench()
	// any order: each alone
	for who, want := range map[PersonID]*Refusal{"ada": nil, "bo": {Code: LockForOther, Name: "Slate"}} {
		got := Admit(Assess(s, added), Entry{By: "ada", For: who, Body: TagOut{Reason: Reason{Code: LockOn}}})
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("hung by ada for %s (-want +got):\n%s", who, d)
		}
	}
}

// Whatever else is so of a machine: while a lock is on it is neither tested nor released.
func TestLockedIsNeverReleased(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		snap := bench()
		codes := rapid.SampledFrom([]ReasonCode{LockOn, SaidBySomebody, Pressed})
		people := rapid.SampledFrom([]PersonID{"", "ada", "bo", "wren", "ishaan"})
		var seen []TagAnswer
		on := false
		for i := range rapid.IntRange(1, 5).Draw(t, "tags") {
			tag := Tag{Fact: FactNo(30 + i), By: people.Draw(t, "by"), At: added,
				Reason: Reason{Code: codes.Draw(t, "reason")}}
			if rapid.Bool().Draw(t, "asked") {
				tag.Lock.Asked = askedStep
			}
			if rapid.Bool().Draw(t, "noted") {
				tag.Lock.Noted = notedStep
			}
			if rapid.Bool().Draw(t, "off") {
				tag.Lock.Off = LockStep{Fact: 40, By: people.Draw(t, "off by")}
			}
			on = on || tag.Locked()
			snap.Tags, seen = append(snap.Tags, tag), append(seen, TagAnswer{tag.Fact, OwnerAsked})
		}
		at := notedAt.Add(time.Duration(rapid.IntRange(0, 72).Draw(t, "hours")) * time.Hour)
		if rapid.Bool().Draw(t, "tested") {
			snap.Test = &Test{Fact: 50, By: "wren", At: at.Add(-time.Minute)}
		}
		st := Assess(snap, at)
		by := people.Draw(t, "who")
		for _, body := range []Body{UnderTest{Note: "x", Tags: seen}, Release{Note: "x"}, MachineRetired{}} {
			refused := Admit(st, Entry{By: by, For: by, At: at, Recorded: at, Steward: true, Body: body})
			if on && (refused == nil || refused.Code != LockIsOn) {
				t.Fatalf("%T with a lock on: %v", body, refused)
			}
			if !on && refused != nil && refused.Code == LockIsOn {
				t.Fatalf("%T without a lock on: %v", body, refused)
			}
		}
	})
}

// The owner of a tag must have been asked unless it is one's own, Setscrew's, or a lock that
// came off.
func TestOwnersWord(t *testing.T) {
	off := Lock{Off: LockStep{Fact: 31, By: "ada"}}
	for _, test := range []struct {
		name string
		tag  Tag
		want bool
	}{
		{"Setscrew's", Tag{}, false}, {"one's own", Tag{By: "wren"}, false}, {"another's", Tag{By: "ada"}, true},
		{"another's lock", Tag{By: "ada", Reason: Reason{Code: LockOn}}, true},
		{"another's lock that is off", Tag{By: "ada", Reason: Reason{Code: LockOn}, Lock: off}, false},
	} {
		if got := test.tag.OwnersWord("wren"); got != test.want {
			t.Errorf("%s: %t", test.name, got)
		}
	}
}

// How long is waited is what the shop has set when its owner is asked.
func TestCompleteLock(t *testing.T) {
	// any order: each alone
	for minutes, want := range map[int]time.Duration{0: 30 * time.Minute, 45: 45 * time.Minute} {
		snap := bench()
		locked(Lock{})(&snap)
		snap.Shop.LockWait = minutes
		at := onDay(2)
		entry := Entry{At: at.Add(-time.Hour), Recorded: at, Body: LockAsked{Tag: 30}}
		if got := Complete(Assess(snap, at), entry); got != (LockAsked{Tag: 30, Until: at.Add(want)}) {
			t.Errorf("%d min: %+v", minutes, got)
		}
		entry.Body = LockProcedure{Tag: 30, Note: "x"}
		if got := Complete(Assess(snap, at), entry); got != (LockProcedure{30, "x", at.Add(24 * time.Hour)}) {
			t.Errorf("noted: %+v", got)
		}
	}
}

// A person's lock stands for another of theirs, except where somebody has begun to take it
// off; it stands for no other tag, and none for it, however many stand.
func TestLockJoins(t *testing.T) {
	full := func(s *Snapshot) {
		for i := range 2 * MostOwn {
			s.Tags = append(s.Tags, Tag{Fact: FactNo(100 + i), By: "ada", Reason: Reason{Code: Pressed}})
		}
	}
	lock := TagOut{Reason: Reason{Code: LockOn, Text: "belts"}}
	said := TagOut{Reason: Reason{Code: SaidBySomebody, Text: "knives"}}
	pressed := TagOut{Reason: Reason{Code: Pressed, Name: "snipe"}}
	was := func(r Reason) func(*Snapshot) {
		return func(s *Snapshot) { s.Tags = []Tag{{Fact: 30, By: "ada", Reason: r}} }
	}
	for _, test := range []struct {
		name string
		set  func(*Snapshot)
		by   PersonID
		body TagOut
		want FactNo
	}{
		{"one's own lock", locked(Lock{}), "ada", lock, 30},
		{"another's", locked(Lock{}), "bo", lock, 0},
		{"one's own that is off", locked(Lock{Off: LockStep{Fact: 31}}), "ada", lock, 0},
		{"one's own that somebody asked about", locked(Lock{Asked: askedStep}), "ada", lock, 0},
		{"a lock, very many tags", full, "ada", lock, 0},
		{"a tag of one who has a lock on", locked(Lock{}), "ada", said, 0},
		{"a lock of one who has a tag", was(Reason{Code: SaidBySomebody, Text: "belts"}), "ada", lock, 0},
		{"pressed again", was(pressed.Reason), "ada", pressed, 30},
		{"pressed for something else", was(Reason{Code: Pressed, Name: "marks"}), "ada", pressed, 0},
		{"pressed after words", was(said.Reason), "ada", pressed, 0},
	} {
		s := bench()
		test.set(&s)
		joined, ok := Joins(Assess(s, added), Entry{By: test.by, For: test.by, At: added, Body: test.body})
		if joined.Fact != test.want || ok != (test.want != 0) {
			t.Errorf("%s: %+v, %t", test.name, joined, ok)
		}
	}
}

// What is told of each step, to whom, and what becomes of the messages before it.
func TestOwedOfLocks(t *testing.T) {
	on, asked := Lock{}, Lock{Asked: askedStep}
	noted, off := Lock{Asked: askedStep, Noted: notedStep}, LockStep{Fact: 40, At: notedAt}
	byOwner, bySecond := noted, noted
	byOwner.Off, bySecond.Off = off, off
	byOwner.Off.By, bySecond.Off.By = "ada", "bo"
	edited := func(no string, steps Lock) Notice {
		tag := Tag{Fact: 30, By: "ada", At: added, Reason: Reason{Code: LockOn, Text: "knives"}, Lock: steps}
		args := NoticeArgs{Tags: []Tag{tag}}
		if tag.Locked() {
			args.Needs = []Blocker{{Code: BlockLock, By: "ada"}}
		}
		return notice(Edit, "out/0/edit/"+no, "out/0", TopicTagOut, args)
	}
	over := func(step string, lifted bool) Notice {
		return notice(Edit, "lock/30/"+step+"/over/40", "lock/30/"+step, TopicLockOver,
			NoticeArgs{Fact: 40, Lifted: lifted})
	}
	owes(t, []change{
		{"asked", locked(on), locked(asked), time.Time{},
			&Fact{No: 31, By: "wren", Body: LockAsked{30, askedStep.Until}}, []Notice{edited("31", asked),
				notice(Post, "lock/30/asked/31", "", TopicLockAsked, NoticeArgs{Fact: 31, By: "wren",
					On: askedStep.Until, People: []PersonID{"ada"}})}},
		{"noted", locked(asked), locked(noted), time.Time{},
			&Fact{No: 32, By: "wren", Body: LockProcedure{30, "nobody inside", notedStep.Until}},
			[]Notice{edited("32", noted),
				notice(Post, "lock/30/noted/32", "", TopicLockNoted, NoticeArgs{Fact: 32, By: "wren",
					On: notedStep.Until, Note: "nobody inside", People: []PersonID{"ada"}})}},
		{"kept", locked(noted), locked(on), time.Time{}, &Fact{No: 40, By: "ada", Body: LockKept{30}},
			[]Notice{edited("40", on), over("asked/31", false), over("noted/32", false),
				notice(Post, "lock/30/kept/40", "", TopicLockKept, NoticeArgs{Fact: 40, By: "ada",
					People: []PersonID{"wren"}})}},
		{"kept, though nobody asked", locked(on), locked(on), time.Time{}, &Fact{No: 40, By: "ada", Body: LockKept{30}},
			nil},
		{"off by its owner", locked(noted), locked(byOwner), time.Time{},
			&Fact{No: 40, By: "ada", Body: LockOff{Tag: 30}},
			[]Notice{edited("40", byOwner), over("asked/31", true), over("noted/32", true)}},
		{"off by the procedure: its owner is told", locked(noted), locked(bySecond), time.Time{},
			&Fact{No: 40, By: "bo", Body: LockOff{30, 32}},
			[]Notice{edited("40", bySecond), over("asked/31", true), over("noted/32", true),
				notice(Post, "lock/30/off/40", "", TopicLockOff, NoticeArgs{Fact: 40, By: "bo",
					People: []PersonID{"ada"}})}},
		{"a note taken back", locked(noted), locked(asked), time.Time{},
			&Fact{No: 40, By: "wren", Body: Withdrawal{Of: 32}},
			[]Notice{edited("40", asked), over("noted/32", false)}},
		{"off no more", locked(bySecond), locked(on), time.Time{}, &Fact{No: 40, By: "ada", Body: Withdrawal{Of: 40}},
			[]Notice{edited("40", on)}},
	})
}
