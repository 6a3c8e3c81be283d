package domain_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// A finding closes at once what only its reporter, or a steward, may close; one that
// leaves the problem open is anybody's to report.
func TestAdmitFindings(t *testing.T) {
	reported := func(by ...PersonID) func(*Snapshot) {
		return func(s *Snapshot) { s.Problems[0].By = by }
	}
	oiled := func(s *Snapshot) {
		reported("bo")(s)
		s.Services["oil"] = LastService{Fact: 50, At: onDay(3), Since: hours(0)}
	}
	others := &Refusal{Code: OthersProblem, Name: "dirt on the bed", Fact: 30}
	for _, test := range []struct {
		name    string
		set     func(*Snapshot)
		steward bool
		about   string
		answer  Answer
		want    *Refusal
	}{
		{"how it is used, another's", reported("bo"), false, "oily", AnswerYes, others},
		{"how it is used, another's too", reported("ada", "bo"), false, "oily", AnswerYes, others},
		{"how it is used, one's own", reported("ada"), false, "oily", AnswerYes, nil},
		{"how it is used, by a steward", reported("bo"), true, "oily", AnswerYes, nil},
		{"how it is used, denied", reported("bo"), false, "oily", AnswerNo, nil},
		{"mended by a service to come", reported("bo"), false, "dry", AnswerYes, nil},
		{"mended by a service done since", oiled, false, "dry", AnswerYes, others},
		{"mended since, by a steward", oiled, true, "dry", AnswerYes, nil},
		{"another cause than that mended", oiled, false, "worn", AnswerYes, nil},
	} {
		s := ailing()
		test.set(&s)
		entry := Entry{By: "ada", Steward: test.steward, At: onDay(4),
			Body: Found{Key: "dirt", About: CauseItem.Of(test.about), Answer: test.answer}}
		before := Assess(s, onDay(4))
		if d := cmp.Diff(test.want, Admit(before, entry)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
		if len(before.Problems) != 1 || len(before.Problems[0].Found) != 0 {
			t.Errorf("%s: asking changed the status to %+v", test.name, before.Problems)
		}
	}
}

// Every refusal that a machine's state can bring, whole, and beside each what is much
// like it and is allowed.
func TestAdmitRefuses(t *testing.T) {
	tag := func(by ...PersonID) func(*Snapshot) {
		return func(s *Snapshot) {
			for i, p := range by {
				s.Tags = append(s.Tags, Tag{Fact: FactNo(30 + i), By: p})
			}
		}
	}
	with := func(all ...func(*Snapshot)) func(*Snapshot) {
		return func(s *Snapshot) {
			for _, f := range all {
				f(s)
			}
		}
	}
	unread := func(id string) func(*Snapshot) { return func(s *Snapshot) { delete(s.Latest, id) } }
	test := func(s *Snapshot) { s.Test = &Test{Fact: 40, By: "wren", At: added} }
	danger := func(s *Snapshot) {
		s.Dangers = []Danger{{Fact: 12, Problem: Problem{Symptom: "smoke", Name: "smoke"}},
			{Fact: 13, Problem: Problem{Name: "Odd Bang"}}}
	}
	counter := func(s *Snapshot) { s.Counter = &Counter{Fact: 14, At: added, Shown: hours(100), Since: hours(0)} }
	handover := func(s *Snapshot) { s.Handover = &HandoverBy{Fact: 15, At: added, By: "ada"} }
	problem := func(s *Snapshot) { s.Problems = []OpenProblem{{Key: "dirt", Name: "dirt on the bed"}} }
	bed, sound := Blocker{Code: BlockUnread, ID: "bed", Name: "the bed"}, Blocker{Code: BlockUnread, ID: "sound",
		Name: "the sound", Running: true}
	seen := func(owner OwnerContact, tags ...FactNo) UnderTest {
		var b UnderTest
		for _, no := range tags {
			b.Tags = append(b.Tags, TagAnswer{no, owner})
		}
		return b
	}
	slate := func(code Code, blockers ...Blocker) *Refusal {
		return &Refusal{Code: code, Name: "Slate",
			Blockers: blockers}
	}
	for _, row := range []struct {
		name string
		set  func(*Snapshot)
		at   time.Time // zero for added
		body Body
		want *Refusal
	}{
		{"a test of a machine in service", nothing, time.Time{}, UnderTest{}, slate(NotTagged)},
		{"a test", tag("wren"), time.Time{}, seen("", 30), nil},
		{"a test, a tag not answered for", tag("wren", "wren"), time.Time{}, seen("", 30),
			&Refusal{Code: TagUnanswered, Name: "Slate", Fact: 31}},
		{"a test, another answered for", tag("wren"), time.Time{}, seen("", 31),
			&Refusal{Code: TagUnanswered, Name: "Slate", Fact: 30}},
		{"a test with something unread", with(tag("wren"), unread("bed")), time.Time{}, UnderTest{},
			slate(Blocked, bed)},
		{"a test for what is read while it runs", with(tag("wren"), unread("sound")), time.Time{}, seen("", 30), nil},
		{"a test with both: only what comes before is named", with(tag("wren"), unread("bed"), unread("sound")),
			time.Time{}, UnderTest{}, slate(Blocked, bed)},
		{"a test after dangers, without a word", with(tag("wren"), danger), time.Time{}, UnderTest{},
			&Refusal{Code: NoteNeeded, Name: "Slate", Fact: 12}},
		{"a test after dangers, with one", with(tag("wren"), danger), time.Time{},
			UnderTest{Note: "wire replaced", Tags: []TagAnswer{{Tag: 30}}}, nil},
		{"a test of what another hung", with(tag("wren", "ada")), time.Time{}, seen("", 30, 31),
			&Refusal{Code: OwnerNotAsked, Name: "Slate", Fact: 31}},
		{"a test of what another hung, who was asked", with(tag("ada")), time.Time{}, seen(OwnerAsked, 30), nil},
		{"a test of what another hung, who was asked once for all, as of an earlier version", with(tag("ada")),
			time.Time{}, UnderTest{Owner: OwnerAsked}, &Refusal{Code: TagUnanswered, Name: "Slate", Fact: 30}},
		{"a test of what another hung, who is out of reach", with(tag("ada")), time.Time{},
			seen(OwnerUnreachable, 30), nil},
		{"a test of what Setscrew hung", tag("", ""), time.Time{}, seen("", 30, 31), nil},
		{"the end of no test", tag("wren"), time.Time{}, TestEnded{}, slate(NoTest)},
		{"the end of a test", with(tag("wren"), test), time.Time{}, TestEnded{}, nil},
		{"a release of a machine in service", test, time.Time{}, Release{}, slate(NotTagged)},
		{"a release without a test", tag("wren"), time.Time{}, Release{}, slate(NotTested)},
		{"a release", with(tag("ada"), test, danger), time.Time{}, Release{}, nil},
		{"a release with something unread: all is named", with(tag("wren"), test, unread("bed"), unread("sound")),
			time.Time{}, Release{}, slate(Blocked, bed, sound)},
		{"a release, a quality inspection failed",
			with(tag("wren"), test, func(s *Snapshot) { inspect(s, "sound", 20, added, false) }), time.Time{},
			Release{}, nil},
		{"a release, a safety inspection failed",
			with(tag("wren"), test, func(s *Snapshot) { inspect(s, "guard", 20, added, false) }), time.Time{},
			Release{},
			slate(Blocked, Blocker{Code: BlockFailed, ID: "guard", Name: "the guard"})},
		{"a counter goes on", counter, time.Time{}, CounterRead{Seconds: 360_001}, nil},
		{"a counter stands still", counter, time.Time{}, CounterRead{Seconds: 360_000}, nil},
		{"a counter goes back", counter, time.Time{}, CounterRead{Seconds: 359_999},
			&Refusal{Code: CounterBack, Name: "Slate", Fact: 14}},
		{"a new counter", counter, time.Time{}, CounterRead{Seconds: 1, New: true}, nil},
		{"a counter that rolled over", counter, time.Time{}, CounterRead{Seconds: 1, Rolled: true}, nil},
		{"a counter as it stood before", counter, added.Add(-1), CounterRead{Seconds: 1}, nil},
		{"a first counter", nothing, time.Time{}, CounterRead{Seconds: 1}, nil},
		{"a handover taken over", handover, time.Time{}, TakenOver{Of: 15}, nil},
		{"another one than waits", handover, time.Time{}, TakenOver{Of: 14}, &Refusal{Code: TakenBefore, Fact: 14}},
		{"one when none waits", nothing, time.Time{}, TakenOver{Of: 15}, &Refusal{Code: TakenBefore, Fact: 15}},
		{"a safety service put off", nothing, time.Time{}, PutOff{Service: "brake"},
			&Refusal{Code: SafetyNotPutOff, Name: "the brake"}},
		{"an important service put off", nothing, time.Time{}, PutOff{Service: "tidy"}, nil},
		{"a service that the profile lacks put off", nothing, time.Time{}, PutOff{Service: "gone"}, nil},
		{"something found of an open problem", problem, time.Time{}, Found{Key: "dirt"}, nil},
		{"something found of a danger", danger, time.Time{}, Found{Key: "odd bang"}, nil},
		{"something found of no problem", problem, time.Time{}, Found{Key: "smoke"},
			&Refusal{Code: NoSuchProblem, Name: "smoke"}},
		{"a problem mended", problem, time.Time{}, Mended{Key: "dirt", Name: "dirt on the bed"}, nil},
		{"a problem mended that is not open", problem, time.Time{}, Mended{Key: "noise", Name: "a noise"},
			&Refusal{Code: NoSuchProblem, Name: "a noise"}},
		{"a danger mended: it is released", danger, time.Time{}, Mended{Key: "smoke", Name: "smoke"},
			&Refusal{Code: NoSuchProblem, Name: "smoke"}},
		{"anything else", unread("bed"), time.Time{}, ServiceDone{Service: "oil"}, nil},
	} {
		snap := bench()
		row.set(&snap)
		at := row.at
		if at.IsZero() {
			at = added
		}
		if d := cmp.Diff(row.want, Admit(Assess(snap, added), Entry{By: "wren", At: at, Body: row.body})); d != "" {
			t.Errorf("%s (-want +got):\n%s", row.name, d)
		}
	}
	// Asking for a test leaves what a release needs as it was.
	s := bench()
	with(tag("wren"), unread("bed"), unread("sound"))(&s)
	st := Assess(s, added)
	if refused := Admit(st, Entry{By: "wren", At: added, Body: UnderTest{}}); refused == nil {
		t.Error("a test is begun though the bed is unread")
	}
	if d := cmp.Diff([]Blocker{bed, sound}, st.Blockers); d != "" {
		t.Errorf("after asking for a test (-want +got):\n%s", d)
	}
	if text := slate(NotTagged).Error(); !strings.Contains(text, string(NotTagged)) ||
		!strings.Contains(text, "Slate") {
		t.Errorf("for the log: %s", text)
	}
}

// What a reading was measured from is kept with it: only of a check that follows
// another, which was read before it and still held then.
func TestCompleteReading(t *testing.T) {
	at := onDay(1)
	datum := &DatumRead{Fact: 30, Greatest: []quantity.Value{thou(1004), thou(996)}}
	for _, test := range []struct {
		name string
		set  func(*Snapshot)
		at   time.Time
		of   string
		want *DatumRead
	}{
		{"read before it", nothing, at.Add(1), "gap", datum},
		{"read at the same moment", nothing, at, "gap", datum},
		{"read after it", nothing, at.Add(-1), "gap", nil},
		{"a check that follows none", nothing, at.Add(1), "bed", nil},
		{"a check that the machine lacks", nothing, at.Add(1), "gone", nil},
		{"never read", func(s *Snapshot) { delete(s.Latest, "blade") }, at.Add(1), "gap", nil},
		{"only looked at", func(s *Snapshot) { inspect(s, "blade", 30, at, true) }, at.Add(1), "gap", nil},
		{"moved since", func(s *Snapshot) { s.Moved["blade"] = Moved{At: at.Add(2), Fact: 31} }, at.Add(3), "gap",
			nil},
		{"moved since, but after this reading was taken",
			func(s *Snapshot) { s.Moved["blade"] = Moved{At: at.Add(2), Fact: 31} }, at.Add(1), "gap", datum},
		{"moved at the moment of this reading",
			func(s *Snapshot) { s.Moved["blade"] = Moved{At: at.Add(2), Fact: 31} }, at.Add(2), "gap", nil},
	} {
		snap := bench()
		read(&snap, "blade", 30, at, thou(1004), thou(996))
		test.set(&snap)
		body := Reading{Check: test.of, Values: []quantity.At{{Position: "left", Repeats: []quantity.Value{thou(200)}},
			{Position: "right", Repeats: []quantity.Value{thou(201)}}}}
		got := Complete(Assess(snap, onDay(2)), Entry{At: test.at, Body: body}).(Reading)
		if d := cmp.Diff(test.want, got.Datum); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// A problem comes back after a mend of it, within 8 hours of use; never a danger, and
// not while it is open.
func TestCompleteProblem(t *testing.T) {
	for _, test := range []struct {
		name string
		set  func(*Snapshot)
		at   time.Time
		body Problem
		want FactNo
	}{
		{"just short of 8 h after it was mended", nothing, onDay(3), Problem{Symptom: "dirt"}, 20},
		{"8 h after", func(s *Snapshot) { s.Mends["dirt"] = LastService{Fact: 20, At: onDay(2), Since: hours(8)} },
			onDay(3), Problem{Symptom: "dirt"}, 0},
		{"at the moment that it was mended", nothing, onDay(2), Problem{Symptom: "dirt"}, 20},
		{"before it was mended", nothing, onDay(2).Add(-1), Problem{Symptom: "dirt"}, 0},
		{"another problem", nothing, onDay(3), Problem{Symptom: "noise"}, 0},
		{"in free words", func(s *Snapshot) {
			s.Mends["odd noise"] = LastService{Fact: 21, At: onDay(2),
				Since: hours(0)}
		}, onDay(3), Problem{Name: "Odd Noise"}, 21},
		{"a danger", nothing, onDay(3), Problem{Symptom: "dirt", Danger: true}, 0},
		{"open", func(s *Snapshot) { s.Problems = []OpenProblem{{Key: "dirt"}} }, onDay(3), Problem{Symptom: "dirt"},
			0},
		{"another one open", func(s *Snapshot) { s.Problems = []OpenProblem{{Key: "noise"}} }, onDay(3),
			Problem{Symptom: "dirt"}, 20},
	} {
		s := bench()
		s.Mends["dirt"] = LastService{Fact: 20, At: onDay(2), Since: quantity.New(8*3600-1, 1, quantity.Second)}
		test.set(&s)
		if got := Complete(Assess(s, onDay(4)), Entry{At: test.at,
			Body: test.body}).(Problem).Returned; got != test.want {
			t.Errorf("%s: returned after %d, want %d", test.name, got, test.want)
		}
	}
}

// A mend keeps the cause that was found, unless whoever mended it says another; the
// last that was found counts.
func TestCompleteMended(t *testing.T) {
	snap := bench()
	yes, no := AnswerYes, AnswerNo
	snap.Problems = []OpenProblem{{Key: "noise", Found: map[Item]FoundThen{CauseItem.Of("dry"): {Fact: 9,
		Answer: yes}}},
		{Key: "dirt", Found: map[Item]FoundThen{CauseItem.Of("oily"): {Fact: 5, Answer: yes},
			CauseItem.Of("dusty"): {Fact: 6, Answer: yes}, CauseItem.Of("dry"): {Fact: 7, Answer: no},
			QuestionItem.Of("oily"): {Fact: 8, Answer: yes}}}, {Key: "odd"}}
	for _, c := range []struct{ key, said, want string }{{"dirt", "", "dusty"}, {"dirt", "grease", "grease"},
		{"noise", "", "dry"}, {"odd", "", ""}, {"gone", "", ""}} {
		if got := Complete(Assess(snap, added),
			Entry{At: added, Body: Mended{Key: c.key, Cause: c.said}}).(Mended).Cause; got != c.want {
			t.Errorf("%s, said %q: cause %q, want %q", c.key, c.said, got, c.want)
		}
	}
}

// Work says what it takes from the shelf, and a service whether anything asked for it
// by then.
func TestCompleteWork(t *testing.T) {
	s := bench()
	s.Problems = []OpenProblem{{Key: "dirt", Name: "dirt on the bed", First: 20, Last: 20, At: onDay(1),
		LastAt: onDay(1)}}
	st := Assess(s, onDay(2))
	for _, test := range []struct {
		service string
		at      time.Time
		asked   bool
		took    *Took
	}{
		{"tidy", onDay(2), true, nil}, {"tidy", onDay(1), true, nil}, {"tidy", onDay(1).Add(-1), false, nil},
		{"oil", onDay(2), false, &Took{Name: "oil", N: 1}}, {"gone", onDay(2), false, nil},
	} {
		got := Complete(st, Entry{At: test.at, Body: ServiceDone{Service: test.service, Note: "x"}}).(ServiceDone)
		if d := cmp.Diff(ServiceDone{Service: test.service, Note: "x", Asked: test.asked, Took: test.took},
			got); d != "" {
			t.Errorf("%s at %v (-want +got):\n%s", test.service, test.at, d)
		}
	}
	for event, want := range map[string]*Took{"belt-changed": {Name: "belts", N: 2}, "crash": nil, "gone": nil} {
		if d := cmp.Diff(want, Complete(st,
			Entry{At: onDay(2), Body: EventSeen{Event: event}}).(EventSeen).Took); d != "" {
			t.Errorf("%s (-want +got):\n%s", event, d)
		}
	}
	if d := cmp.Diff(Body(Hours{Seconds: 60}), Complete(st, Entry{At: added, Body: Hours{Seconds: 60}})); d != "" {
		t.Errorf("what only a person knows is changed:\n%s", d)
	}
}

// An inspection is confirmed by another person who passes it too, while it holds and
// waits for that.
func TestCompleteInspection(t *testing.T) {
	for _, test := range []struct {
		name   string
		set    func(*Snapshot)
		by     PersonID
		at     time.Time
		failed bool
		want   FactNo
	}{
		{"by another", nothing, "bo", onDay(1), false, 20},
		{"at the same moment", nothing, "bo", added, false, 20},
		{"before it", nothing, "bo", added.Add(-1), false, 0},
		{"by the same person", nothing, "ada", onDay(1), false, 0},
		{"who fails it", nothing, "bo", onDay(1), true, 0},
		{"no second person wanted", func(s *Snapshot) {
			s.Machine.Setup = s.Machine.Setup.WithSecond("guard",
				false)
		}, "bo", onDay(1), false, 0},
		{"confirmed already", func(s *Snapshot) { s.Latest["guard"].Inspection.Confirms = 19 }, "bo", onDay(1), false,
			0},
		{"failed", func(s *Snapshot) { s.Latest["guard"].Inspection.Pass = false }, "bo", onDay(1), false, 0},
		{"moved since", func(s *Snapshot) { s.Moved["guard"] = Moved{At: added.Add(1), Fact: 21} }, "bo", onDay(1),
			false, 0},
		{"never made", func(s *Snapshot) { delete(s.Latest, "guard") }, "bo", onDay(1), false, 0},
	} {
		snap := bench()
		snap.Machine.Setup = snap.Machine.Setup.WithSecond("guard", true)
		snap.Latest["guard"] = Latest{Fact: 20, At: added, By: "ada", Check: "guard",
			Inspection: &Inspection{Check: "guard", Pass: true}}
		test.set(&snap)
		got := Complete(Assess(snap, onDay(1)),
			Entry{At: test.at, For: test.by, Body: Inspection{Check: "guard", Pass: !test.failed}}).(Inspection)
		if got.Confirms != test.want {
			t.Errorf("%s: confirms %d, want %d", test.name, got.Confirms, test.want)
		}
	}
	if got := Complete(Assess(bench(), added),
		Entry{At: added, For: "bo", Body: Inspection{Check: "gone", Pass: true}}).(Inspection); got.Confirms != 0 {
		t.Errorf("of a check that the machine lacks: %+v", got)
	}
}

// A counter of that many digits goes on past the last of them: from 99.5 h to 0.5 h it
// went 1 h, from 100 h to 1 h 901 h.
func TestCounterSince(t *testing.T) {
	inSeconds := func(tenths int64) int64 { return tenths * 360 }
	for _, test := range []struct {
		before, now int64
		rolled      bool
		want        int64
	}{
		{1000, 1035, false, 35}, {995, 5, true, 10}, {1000, 10, true, 9010}, {5, 1, true, 6}, {10, 5, true, 95},
		{9, 5, true, 6}, {0, 0, true, 10}, {99999, 0, true, 1},
	} {
		if got := (CounterRead{Seconds: inSeconds(test.now),
			Rolled: test.rolled}).Since(CounterRead{Seconds: inSeconds(test.before)}); got != inSeconds(test.want) {
			t.Errorf("from %d to %d tenths, rolled over %t: %d s, want %d", test.before, test.now, test.rolled, got,
				inSeconds(test.want))
		}
	}
	if got := (CounterRead{Seconds: 90}).Shown(); !got.Equal(quantity.New(90, 1, quantity.Second)) {
		t.Errorf("shown %v", got)
	}
	// Rolled over at 100 h, with 1 h of the 3 h since then reported.
	snap := bench()
	snap.Counter = &Counter{Fact: 9, At: added, Shown: hours(98), Since: hours(1)}
	if got := Complete(Assess(snap, onDay(1)),
		Entry{At: onDay(1), Body: CounterRead{Seconds: 3600, Rolled: true}}).(CounterRead); got.Unlogged != 2*3600 {
		t.Errorf("not logged: %d s", got.Unlogged)
	}
	if got := Complete(Assess(snap, onDay(1)),
		Entry{At: added, Body: CounterRead{Seconds: 99 * 3600}}).(CounterRead); got.Unlogged != 0 {
		t.Errorf("at the moment of the reading before: %d s", got.Unlogged)
	}
}

func hertz(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hertz) }

// belt is a check of a belt's tone.
func belt(target int64) *profile.Check {
	return &profile.Check{ID: "belt", Of: quantity.Frequency, Target: hertz(target),
		Stop: metrology.Limits{Low: hertz(target / 2), High: hertz(target * 12)}}
}

func at(position string, values ...quantity.Value) quantity.At {
	return quantity.At{Position: position, Repeats: values}
}
