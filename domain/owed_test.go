package domain_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	. "setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// change is a bench before and after something, and the report behind it.
type change struct {
	name          string
	before, after func(*Snapshot)
	now           time.Time // of after; added where it is zero
	fact          *Fact     // nil for a sweep
	want          []Notice
}

// nothing leaves a bench as it is.
func nothing(*Snapshot) {}

// notice is what is owed of a bench, with what every notice of it says.
func notice(op Op, key, target string, topic Topic, a NoticeArgs) Notice {
	if target != "" {
		target = "m1/" + target
	}
	return Notice{Key: "m1/" + key, Machine: 1, Op: op, Target: target, Topic: topic, Args: a}
}

// owes holds what is owed of each change against what is wanted, in order and whole;
// what is the same in every notice is held here.
func owes(t *testing.T, changes []change) {
	t.Helper()
	for _, made := range changes {
		before, after := bench(), bench()
		made.before(&before)
		made.after(&after)
		now := made.now
		if now.IsZero() {
			now = added
		}
		got := Owed(Assess(before, added), Assess(after, now), made.fact)
		for i, n := range got {
			if a := n.Args; a.V != NoticeVersion || a.Machine != "Slate" || !a.At.Equal(now) ||
				a.Units != quantity.Metric {
				t.Errorf("%s: notice %d is of version %d, %s at %v in %v", made.name, i, a.V, a.Machine, a.At, a.Units)
			}
			got[i].Args.V, got[i].Args.Machine, got[i].Args.At, got[i].Args.Units = 0, "", time.Time{}, 0
		}
		if d := cmp.Diff(made.want, got, cmpopts.EquateEmpty()); d != "" {
			t.Errorf("%s (-want +got):\n%s", made.name, d)
		}
	}
}

// A time out of service has one message: posted and pinned with the first tag, edited
// as tags, needs and the test change, struck through and unpinned with the release.
func TestOwedOfTags(t *testing.T) {
	smoke, loose := Tag{Fact: 9, At: added, Cause: "danger:smoke"}, Tag{Fact: 12, At: added, By: "bo"}
	out := func(tags ...Tag) func(*Snapshot) {
		return func(s *Snapshot) { s.Outage, s.Tags, s.NeededBy = 3, tags, []string{"Saw"} }
	}
	unread := func(s *Snapshot) { out(smoke)(s); delete(s.Latest, "sound") }
	needs := []Blocker{{Code: BlockUnread, ID: "sound", Name: "the sound", Running: true}}
	tested := func(s *Snapshot) { out(smoke)(s); s.Test = &Test{Fact: 20, By: "wren", At: added} }
	args := func(tags ...Tag) NoticeArgs { return NoticeArgs{Tags: tags, Others: []string{"Saw"}} }
	lifted := args(smoke)
	lifted.Lifted = true
	owes(t, []change{
		{"nothing", nothing, nothing, time.Time{}, &Fact{No: 20, Body: Inspection{}}, nil},
		{"tagged out", nothing, out(smoke), time.Time{}, &Fact{No: 20, Body: Problem{Danger: true}}, []Notice{
			notice(Post, "out/3", "", TopicTagOut, args(smoke)), notice(Pin, "out/3/pin", "out/3", TopicTagOut,
				args(smoke))}},
		{"tagged out by the sweep, with what is needed", nothing, unread, time.Time{}, nil, []Notice{
			notice(Post, "out/3", "", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}, Needs: needs,
				Others: []string{"Saw"}}),
			notice(Pin, "out/3/pin", "out/3", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}, Needs: needs,
				Others: []string{"Saw"}})}},
		{"a second tag", out(smoke), out(smoke, loose), time.Time{}, &Fact{No: 20, Body: TagOut{}}, []Notice{
			notice(Edit, "out/3/edit/20", "out/3", TopicTagOut, args(smoke, loose))}},
		{"a second tag by the sweep", out(smoke), out(smoke, loose), time.Time{}, nil, []Notice{
			notice(Edit, "out/3/edit/12", "out/3", TopicTagOut, args(smoke, loose))}},
		{"a tag withdrawn, by the sweep", out(smoke, loose), out(smoke), time.Time{}, nil, []Notice{
			notice(Edit, "out/3/edit/9", "out/3", TopicTagOut, args(smoke))}},
		{"the tags stand as they did", out(smoke), out(smoke), time.Time{}, &Fact{No: 20, Body: Inspection{}}, nil},
		{"something else is needed", unread, out(smoke), time.Time{}, &Fact{No: 20, Body: Inspection{}}, []Notice{
			notice(Edit, "out/3/edit/20", "out/3", TopicTagOut, args(smoke))}},
		{"something else is needed, by the sweep", unread, out(smoke), time.Time{}, nil, nil},
		{"released", out(smoke), nothing, time.Time{}, &Fact{No: 20, Body: Release{}}, []Notice{
			notice(Edit, "out/0/lifted", "out/0", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}, Lifted: true}),
			notice(Unpin, "out/0/unpin", "out/0", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}, Lifted: true}),
			notice(Post, "out/0/back", "", TopicBack, NoticeArgs{})}},
		{"released, and others need it", tested,
			func(s *Snapshot) { out(smoke)(s); s.Tags = nil; delete(s.Latest, "sound") }, time.Time{},
			&Fact{No: 21, Body: Release{}}, []Notice{
				notice(Edit, "out/3/lifted", "out/3", TopicTagOut, lifted), notice(Unpin, "out/3/unpin", "out/3",
					TopicTagOut, lifted),
				notice(Post, "out/3/back", "", TopicBack, NoticeArgs{Others: []string{"Saw"}})}},
	})
}

// A test has a message of its own when it begins and when it ends without a release.
func TestOwedOfTests(t *testing.T) {
	smoke := Tag{Fact: 9, At: added, Cause: "danger:smoke"}
	out := func(s *Snapshot) { s.Outage, s.Tags = 3, []Tag{smoke} }
	test := func(no FactNo) func(*Snapshot) {
		return func(s *Snapshot) { out(s); s.Test = &Test{Fact: no, By: "wren", At: added} }
	}
	unattended := func(at time.Time) func(*Snapshot) {
		return func(s *Snapshot) { test(20)(s); s.Test.At = at; s.Machine.Profile.TestRun.Unattended = true }
	}
	args := NoticeArgs{Tags: []Tag{smoke}, By: "wren"}
	owes(t, []change{
		{"begun", out, test(20), time.Time{}, &Fact{No: 20, Body: UnderTest{}}, []Notice{
			notice(Edit, "out/3/edit/20", "out/3", TopicTagOut, args), notice(Post, "test/20", "", TopicTest,
				NoticeArgs{By: "wren"})}},
		{"said to go on", test(20), func(s *Snapshot) { test(20)(s); s.Renewed = &Renewal{At: added.Add(1), Test: 20} },
			added.Add(time.Minute), &Fact{No: 21, Body: TestRenewed{Test: 20}}, nil},
		{"going on", test(20), test(20), time.Time{}, &Fact{No: 21, Body: Inspection{}}, nil},
		{"begun once more", test(20), test(22), time.Time{}, &Fact{No: 22, Body: UnderTest{}}, []Notice{
			notice(Edit, "out/3/edit/22", "out/3", TopicTagOut, args), notice(Post, "test/22", "", TopicTest,
				NoticeArgs{By: "wren"})}},
		{"ended", test(20), out, time.Time{}, &Fact{No: 21, Body: TestEnded{}}, []Notice{
			notice(Edit, "out/3/edit/21", "out/3", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}}),
			notice(Post, "test/20/ended", "", TopicTestEnded, NoticeArgs{})}},
		{"ended by itself, by the sweep",
			func(s *Snapshot) { test(20)(s); s.Test.At = added.Add(-30 * time.Minute) }, out,
			time.Time{}, nil, []Notice{
				notice(Edit, "out/3/test-over/20", "out/3", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}}),
				notice(Post, "test/20/ended", "", TopicTestEnded, NoticeArgs{})}},
		{"asked whether it goes on", unattended(added), unattended(added), added.Add(70 * time.Minute), nil, []Notice{
			notice(Post, fmt.Sprintf("test/20/ask/%d/2", added.Unix()), "", TopicTestAsk,
				NoticeArgs{By: "wren", People: []PersonID{"wren"}})}},
		{"not asked yet", unattended(added), unattended(added), added.Add(29 * time.Minute), nil, nil},
		{"ended by a release", test(20), func(s *Snapshot) { s.Outage = 3 }, time.Time{},
			&Fact{No: 21, Body: Release{}}, []Notice{
				notice(Edit, "out/3/lifted", "out/3", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}, Lifted: true}),
				notice(Unpin, "out/3/unpin", "out/3", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}, Lifted: true}),
				notice(Post, "out/3/back", "", TopicBack, NoticeArgs{})}},
	})
}

// A service that falls due is said once for each time: again when it is late, with the
// stewards called where it matters, and edited when it is done, put off, taken or no
// longer due.
func TestOwedOfServices(t *testing.T) {
	day := func(n int) time.Time { return onDay(n).Truncate(24 * time.Hour) }
	// Only one service of the bench is looked at in a case: the others are kept from
	// falling due.
	only := func(id string, change func(*Snapshot)) func(*Snapshot) {
		return func(snap *Snapshot) {
			keep := *snap.Machine.Profile.Service(id)
			snap.Machine.Profile.Services = []profile.Service{keep}
			for i := range snap.Machine.Profile.Checks {
				snap.Machine.Profile.Checks[i].Every = nil
			}
			change(snap)
		}
	}
	used := func(n int64) func(*Snapshot) { return func(s *Snapshot) { s.Hours = hours(n) } }
	done := func(id string, no FactNo, at time.Time, since int64) func(*Snapshot) {
		return func(s *Snapshot) { s.Services[id] = LastService{Fact: no, At: at, Since: hours(since)} }
	}
	oil := func(a NoticeArgs) NoticeArgs { a.ID, a.Name = "oil", "the oil"; return a }
	brake := func(a NoticeArgs) NoticeArgs { a.ID, a.Name = "brake", "the brake"; return a }
	tidy := func(a NoticeArgs) NoticeArgs { a.ID, a.Name = "tidy", "the tidy"; return a }
	putOff := func(at, until time.Time) func(*Snapshot) {
		return func(s *Snapshot) {
			s.Hours = hours(9)
			s.PutOff["oil"] = PutOffBy{Fact: 20, At: at, By: "ada", PutOff: PutOff{Service: "oil", Until: until,
				Why: "no oil"}}
		}
	}
	taken := func(s *Snapshot) {
		s.Hours = hours(9)
		s.Taken["oil"] = TakenBy{Fact: 20, At: added, By: "bo"}
	}
	report := func(no FactNo, b Body) *Fact { return &Fact{No: no, Body: b} }
	became := func(key, what string, topic Topic, a NoticeArgs) []Notice {
		return []Notice{notice(Edit, key+"/"+what, key, topic, a), notice(Edit, key+"/late/"+what, key+"/late", topic,
			a)}
	}
	overdue := func(a NoticeArgs) NoticeArgs { a.Late = true; return a }
	owes(t, []change{
		{"not due", only("oil", nothing), only("oil", used(7)), time.Time{}, report(20, Hours{}), nil},
		{"due", only("oil", nothing), only("oil", used(9)), time.Time{}, report(20, Hours{}), []Notice{
			notice(Post, "due/oil/0", "", TopicDue, oil(NoticeArgs{Left: hours(-1)}))}},
		{"due after it was done once", only("oil", done("oil", 12, added, 7)), only("oil", done("oil", 12, added, 8)),
			time.Time{}, report(20, Hours{}), []Notice{
				notice(Post, "due/oil/12", "", TopicDue, oil(NoticeArgs{Left: hours(0)}))}},
		{"done with hands inside, and taken", only("oil", nothing), only("oil", func(s *Snapshot) {
			taken(s)
			s.Machine.Profile.Service("oil").Isolated = true
		}), time.Time{}, report(20, Hours{}),
			[]Notice{notice(Post, "due/oil/0", "", TopicDue,
				oil(NoticeArgs{Left: hours(-1), Hands: true, Taken: "bo"}))}},
		{"a safety service due: the stewards are called", only("brake", nothing), only("brake", used(41)),
			time.Time{}, nil, []Notice{
				notice(Post, "due/brake/0", "", TopicDue, brake(NoticeArgs{Left: hours(-1), Call: true}))}},
		{"an important one due: they are not", only("tidy", nothing), only("tidy", nothing), onDay(40), nil, []Notice{
			notice(Post, "due/tidy/0", "", TopicDue, tidy(NoticeArgs{On: day(40)}))}},
		{"an important one late: they are", only("tidy", nothing), only("tidy", nothing), onDay(50), nil, []Notice{
			notice(Edit, "due/tidy/0/overdue", "due/tidy/0", TopicDue, overdue(tidy(NoticeArgs{On: day(40)}))),
			notice(Post, "due/tidy/0/late", "", TopicDue, overdue(tidy(NoticeArgs{On: day(40), Call: true})))}},
		{"a routine one late: they are not", only("oil", nothing), only("oil", func(s *Snapshot) {
			used(9)(s)
			s.Machine.Profile.Service("oil").Every.LateHours = hours(1)
		}), time.Time{}, nil, []Notice{
			notice(Edit, "due/oil/0/overdue", "due/oil/0", TopicDue, overdue(oil(NoticeArgs{Left: hours(-1)}))),
			notice(Post, "due/oil/0", "", TopicDue, overdue(oil(NoticeArgs{Left: hours(-1)})))}},
		{"done", only("oil", used(9)), only("oil", done("oil", 20, added, 0)), time.Time{},
			report(20, ServiceDone{Service: "oil"}),
			became("due/oil/0", "done/20", TopicDone, oil(NoticeArgs{Fact: 20}))},
		{"done once more", only("oil", done("oil", 12, added, 9)), only("oil", done("oil", 20, added, 0)),
			time.Time{}, report(20, ServiceDone{Service: "oil"}),
			became("due/oil/12", "done/20", TopicDone, oil(NoticeArgs{Fact: 20}))},
		{"done before it was due", only("oil", used(7)), only("oil", done("oil", 20, added, 0)), time.Time{},
			report(20, ServiceDone{Service: "oil"}), nil},
		{"done long ago, so that it is due again", only("oil", used(20)), only("oil", done("oil", 20, added, 9)),
			time.Time{}, report(20, ServiceDone{Service: "oil"}), []Notice{
				notice(Post, "due/oil/20", "", TopicDue, oil(NoticeArgs{Left: hours(-1)}))}},
		{"done, told by nobody", only("oil", used(9)), only("oil", done("oil", 20, added, 0)), time.Time{}, nil, nil},
		{"its event once more: counted from that, nothing is said", only("tension", func(s *Snapshot) {
			s.Events["belt-changed"] = LastService{Fact: 12, At: added, Since: hours(16)}
		}), only("tension", func(s *Snapshot) {
			s.Events["belt-changed"] = LastService{Fact: 20, At: added,
				Since: hours(0)}
		}), time.Time{}, report(20, EventSeen{Event: "belt-changed"}), nil},
		{"no longer due: hours withdrawn", only("oil", used(9)), only("oil", used(1)), time.Time{},
			report(20, Withdrawal{}),
			became("due/oil/0", "not-due/20", TopicNotDue, oil(NoticeArgs{Fact: 20}))},
		{"no longer due, by itself", only("oil", used(9)), only("oil", used(1)), time.Time{}, nil, nil},
		{"put off", only("oil", used(9)), only("oil", putOff(added, onDay(9))), time.Time{}, report(20, PutOff{}),
			became("due/oil/0", "put-off/20", TopicPutOff,
				oil(NoticeArgs{Fact: 20, On: onDay(9), Note: "no oil", By: "ada"}))},
		{"still put off: it is not said again", only("oil", putOff(added, onDay(9))),
			only("oil", putOff(added, onDay(9))), onDay(8), report(21, Hours{}), nil},
		{"put off when it was not due", only("oil", used(1)),
			only("oil", func(s *Snapshot) { putOff(added, onDay(9))(s); s.Hours = hours(1) }), time.Time{},
			report(20, PutOff{}), nil},
		{"the put-off runs out", only("oil", putOff(added, onDay(9))), only("oil", putOff(added, onDay(9))), onDay(9),
			nil, []Notice{
				notice(Post, "due/oil/0/again/20", "", TopicDue, oil(NoticeArgs{Left: hours(-1)}))}},
		{"taken", only("oil", used(9)), only("oil", taken), time.Time{}, report(20, Taken{}), append([]Notice{
			notice(Post, "due/oil/0", "", TopicDue, oil(NoticeArgs{Left: hours(-1), Taken: "bo"}))},
			became("due/oil/0", "taken/20", TopicDue, oil(NoticeArgs{Fact: 20, Left: hours(-1), Taken: "bo"}))...)},
		{"taken before", only("oil", taken), only("oil", taken), time.Time{}, report(21, Hours{}), []Notice{
			notice(Post, "due/oil/0", "", TopicDue, oil(NoticeArgs{Left: hours(-1), Taken: "bo"}))}},
		{"taken when late", only("tidy", nothing),
			only("tidy", func(s *Snapshot) { s.Taken["tidy"] = TakenBy{Fact: 20, At: added, By: "bo"} }), onDay(50),
			report(20, Taken{}), []Notice{
				notice(Edit, "due/tidy/0/overdue", "due/tidy/0", TopicDue,
					overdue(tidy(NoticeArgs{On: day(40), Taken: "bo"}))),
				notice(Post, "due/tidy/0/late", "", TopicDue,
					overdue(tidy(NoticeArgs{On: day(40), Taken: "bo", Call: true})))}},
	})
	// Done after its put-off ran out: both its messages say so.
	snap := bench()
	only("oil", putOff(added, onDay(9)))(&snap)
	lapsed := Assess(snap, onDay(9))
	done("oil", 21, onDay(9), 0)(&snap)
	var keys []string
	for _, n := range Owed(lapsed, Assess(snap, onDay(9)), &Fact{No: 21, Body: ServiceDone{Service: "oil"}}) {
		keys = append(keys, string(n.Topic)+" "+n.Key+" on "+n.Target)
	}
	want := []string{"done m1/due/oil/0/done/21 on m1/due/oil/0",
		"done m1/due/oil/0/late/done/21 on m1/due/oil/0/late",
		"done m1/due/oil/0/again/20/done/21 on m1/due/oil/0/again/20",
		"done m1/due/oil/0/again/20/late/done/21 on m1/due/oil/0/again/20/late"}
	if d := cmp.Diff(want, keys); d != "" {
		t.Errorf("done after a put-off ran out (-want +got):\n%s", d)
	}
	// Late and taken after that: what stands in the channel says that it is late.
	snap = bench()
	only("tidy", nothing)(&snap)
	late := Assess(snap, onDay(50))
	snap.Taken["tidy"] = TakenBy{Fact: 20, At: onDay(50), By: "bo"}
	all := Owed(late, Assess(snap, onDay(51)), &Fact{No: 20, Body: Taken{}})
	if n := all[len(all)-1]; n.Key != "m1/due/tidy/0/late/taken/20" || n.Topic != TopicDue || !n.Args.Late ||
		!n.Args.On.Equal(day(40)) {
		t.Errorf("late, and taken: %+v", n)
	}
}

// A check that falls due is said like a service, and says that it is a check; it is
// done once it was made and is due no more.
func TestOwedOfChecks(t *testing.T) {
	day := func(n int) time.Time { return onDay(n).Truncate(24 * time.Hour) }
	fresh := func(s *Snapshot) { // only the guard is looked at
		s.Machine.Profile.Services = nil
		s.Machine.Profile.Check("cover").Every = nil
		s.Tags = []Tag{{Fact: 9, Cause: "overdue:check:guard"}}
	}
	guard := func(a NoticeArgs) NoticeArgs { a.ID, a.Name, a.Check = "guard", "the guard", true; return a }
	dueBefore := func(s *Snapshot) { fresh(s); inspect(s, "guard", 12, onDay(-8), true) }
	passed := func(s *Snapshot) { fresh(s); inspect(s, "guard", 20, added, true) }
	done := guard(NoticeArgs{Fact: 20})
	owes(t, []change{
		{"not due", fresh, fresh, onDay(6), nil, nil},
		{"due: nobody is called for a check", fresh, fresh, onDay(7), nil, []Notice{
			notice(Post, "check-due/guard/4", "", TopicDue, guard(NoticeArgs{On: day(7)}))}},
		{"with hands inside, running", fresh, func(s *Snapshot) {
			fresh(s)
			s.Machine.Profile.Check("guard").Isolated, s.Machine.Profile.Check("guard").Running = true, true
		}, onDay(7), nil, []Notice{notice(Post, "check-due/guard/4", "", TopicDue,
			guard(NoticeArgs{On: day(7), Hands: true, Running: true}))}},
		{"a quality check late: they are not called either", fresh,
			func(s *Snapshot) { fresh(s); s.Machine.Profile.Check("guard").Class = profile.Quality }, onDay(10), nil,
			[]Notice{
				notice(Edit, "check-due/guard/4/overdue", "check-due/guard/4", TopicDue,
					guard(NoticeArgs{On: day(7), Late: true})),
				notice(Post, "check-due/guard/4", "", TopicDue, guard(NoticeArgs{On: day(7), Late: true}))}},
		{"made", dueBefore, passed, time.Time{}, &Fact{No: 20, Body: Inspection{Check: "guard", Pass: true}},
			[]Notice{
				notice(Edit, "check-due/guard/12/done/20", "check-due/guard/12", TopicDone, done),
				notice(Edit, "check-due/guard/12/late/done/20", "check-due/guard/12/late", TopicDone, done)}},
		{"made, told by nobody", dueBefore, passed, time.Time{}, nil, nil},
		{"made before it was due", func(s *Snapshot) { fresh(s); inspect(s, "guard", 12, onDay(-6), true) }, passed,
			time.Time{}, &Fact{No: 20, Body: Inspection{}}, nil},
		{"made so long ago that it is due again",
			func(s *Snapshot) { fresh(s); inspect(s, "guard", 12, onDay(-8), true) },
			func(s *Snapshot) { fresh(s); inspect(s, "guard", 20, onDay(-7), true) },
			time.Time{}, &Fact{No: 20, Body: Inspection{}},
			[]Notice{notice(Post, "check-due/guard/20", "", TopicDue, guard(NoticeArgs{On: day(0)}))}},
	})
	// Of a safety check that is late the tag calls them, which is hung before the shop opens.
	s := bench()
	fresh(&s)
	before := Assess(s, onDay(7))
	all := Owed(before, Assess(s, onDay(10)), nil)
	if len(all) != 2 || all[0].Op != Edit || all[0].Args.Call || all[1].Key != "m1/check-due/guard/4" ||
		all[1].Args.Call || !all[1].Args.Late {
		t.Errorf("late: %+v", all)
	}
}

// A problem has one message for all reports of it, which says that it is mended in the
// end; those who reported it are told.
func TestOwedOfProblems(t *testing.T) {
	dirt := func(reports int, change ...func(*OpenProblem)) func(*Snapshot) {
		return func(snap *Snapshot) {
			snap.Machine.Profile.Services = nil
			snap.Machine.Profile.Causes = []profile.Cause{{ID: "oily", Name: "oily boards", Prior: 0.2,
				Shows: map[string]float64{"dirt": 0.5}, Advice: "Wipe the board first.",
				Test: profile.Test{Finds: 0.9, Wrongly: 0.05}}}
			problem := OpenProblem{Key: "dirt", Name: "dirt on the bed", First: 20, Last: FactNo(19 + reports),
				At:     added,
				LastAt: added, Reports: reports, Symptom: "dirt"}
			for _, f := range change {
				f(&problem)
			}
			snap.Problems = []OpenProblem{{Key: "noise", Name: "noise", First: 7, Last: 7, By: []PersonID{"cy"}},
				problem}
		}
	}
	by := func(p *OpenProblem) { p.By = []PersonID{"ada", "bo"} }
	found := func(p *OpenProblem) {
		p.Found = map[Item]FoundThen{CauseItem.Of("oily"): {Fact: 21, At: added, Answer: AnswerYes},
			CauseItem.Of("gone"): {Fact: 19, Answer: AnswerYes}}
	}
	mended := func(no FactNo) func(*Snapshot) {
		return func(s *Snapshot) {
			dirt(1)(s)
			s.Problems, s.Mends["dirt"] = s.Problems[:1], LastService{Fact: no, At: added, Since: hours(0)}
		}
	}
	photo := &Photo{ID: "1", Name: "p.png"}
	args := NoticeArgs{Fact: 20, Name: "dirt on the bed", Reports: 1, Causes: true}
	said := args
	said.Note, said.Photo, said.Back = "black", photo, 5
	again := NoticeArgs{Fact: 21, Name: "dirt on the bed", Reports: 2, Causes: true}
	over := NoticeArgs{Fact: 30, Name: "dirt on the bed", Reports: 1}
	with := func(a NoticeArgs, change func(*NoticeArgs)) NoticeArgs { change(&a); return a }
	told := with(over, func(a *NoticeArgs) { a.People = []PersonID{"ada", "bo"} })
	oily := with(over, func(a *NoticeArgs) { a.Cause = "oily boards" })
	owes(t, []change{
		{"reported", nothing, dirt(1), time.Time{}, &Fact{No: 20, Body: Problem{Symptom: "dirt"}},
			[]Notice{notice(Post, "problem/20", "", TopicProblem, args)}},
		{"with a note and a picture, come back", nothing, dirt(1, func(p *OpenProblem) { p.Returned = 5 }),
			time.Time{}, &Fact{No: 20, Body: Problem{Symptom: "dirt", Note: "black", Photo: photo}},
			[]Notice{notice(Post, "problem/20", "", TopicProblem, said)}},
		{"of a symptom without causes", nothing, func(s *Snapshot) { dirt(1)(s); s.Machine.Profile.Causes = nil },
			time.Time{}, &Fact{No: 20, Body: Problem{Symptom: "dirt"}},
			[]Notice{notice(Post, "problem/20", "", TopicProblem,
				with(args, func(a *NoticeArgs) { a.Causes = false }))}},
		{"again", dirt(1), dirt(2), time.Time{}, &Fact{No: 21, Body: Problem{Symptom: "dirt"}},
			[]Notice{notice(Edit, "problem/20/again/21", "problem/20", TopicProblem, again)}},
		{"a danger: its tag says it", nothing, dirt(1), time.Time{},
			&Fact{No: 20, Body: Problem{Symptom: "dirt", Danger: true}}, nil},
		{"reported and closed at once", nothing, nothing, time.Time{}, &Fact{No: 20, Body: Problem{Symptom: "dirt"}},
			nil},
		{"mended", dirt(1), mended(30), time.Time{}, &Fact{No: 30, Body: Mended{Key: "dirt", Note: "wiped"}},
			[]Notice{
				notice(Edit, "problem/20/mended/30", "problem/20", TopicMended,
					with(over, func(a *NoticeArgs) { a.Note = "wiped" }))}},
		{"mended by a service, and they are told", dirt(1, by), mended(30), time.Time{},
			&Fact{No: 29, Body: ServiceDone{Service: "oil", Note: "x"}}, []Notice{
				notice(Edit, "problem/20/mended/30", "problem/20", TopicMended, told),
				notice(Post, "problem/20/told/30", "", TopicTold, told)}},
		{"mended by the sweep", dirt(1), mended(30), time.Time{}, nil,
			[]Notice{notice(Edit, "problem/20/mended/30", "problem/20", TopicMended, over)}},
		{"mended, its cause found", dirt(1, found), mended(30), time.Time{}, &Fact{No: 30, Body: Mended{Key: "dirt"}},
			[]Notice{
				notice(Edit, "problem/20/mended/30", "problem/20", TopicMended, oily)}},
		{"nothing to mend but how it is used", dirt(1), mended(30), time.Time{},
			&Fact{No: 29, Body: Found{Key: "dirt", About: CauseItem.Of("oily"), Answer: AnswerYes}}, []Notice{
				notice(Edit, "problem/20/mended/30", "problem/20", TopicMended,
					with(oily, func(a *NoticeArgs) { a.Note = "Wipe the board first." }))}},
		{"another problem's cause found", dirt(1), mended(30), time.Time{},
			&Fact{No: 29, Body: Found{Key: "noise", About: CauseItem.Of("oily"), Answer: AnswerYes}}, []Notice{
				notice(Edit, "problem/20/mended/30", "problem/20", TopicMended, over)}},
		{"the cause was not it", dirt(1), mended(30), time.Time{},
			&Fact{No: 29, Body: Found{Key: "dirt", About: CauseItem.Of("oily"), Answer: AnswerNo}}, []Notice{
				notice(Edit, "problem/20/mended/30", "problem/20", TopicMended, over)}},
		{"withdrawn: no mend closed it", dirt(1), func(s *Snapshot) { dirt(1)(s); s.Problems = s.Problems[:1] },
			time.Time{}, &Fact{No: 21, Body: Withdrawal{Of: 20}}, nil},
		{"withdrawn, and mended long before", dirt(1), mended(15), time.Time{},
			&Fact{No: 21, Body: Withdrawal{Of: 20}}, nil},
		{"mended before its last report", dirt(11), mended(30), time.Time{}, &Fact{No: 31, Body: Withdrawal{}}, nil},
		{"still open", dirt(1), func(s *Snapshot) {
			dirt(1)(s)
			s.Mends["dirt"] = LastService{Fact: 30, At: added,
				Since: hours(0)}
		}, time.Time{}, &Fact{No: 30, Body: Inspection{}}, nil},
	})
}

// A reading that is unlikely, asks for its screws or wants to be taken again today is
// told; not while a tag's own message says what is needed, nor where a later one stands.
func TestOwedOfReadings(t *testing.T) {
	out := func(s *Snapshot) { s.Outage, s.Tags = 3, []Tag{{Fact: 9, Cause: "danger:smoke"}} }
	quiet := func(s *Snapshot) { s.Machine.Profile.Services = nil }
	bed := func(n int64, rest ...func(*Snapshot)) func(*Snapshot) {
		return func(s *Snapshot) {
			quiet(s)
			read(s, "bed", 20, added, thou(n))
			for _, f := range rest {
				f(s)
			}
		}
	}
	blade := func(n int64) func(*Snapshot) {
		return func(s *Snapshot) { quiet(s); read(s, "blade", 20, added, thou(n)) }
	}
	is := func(id string) NoticeArgs { return NoticeArgs{Fact: 20, ID: id, Name: "the " + id, Typed: "11 thou"} }
	byEnd := is("blade")
	byEnd.On = time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	of := func(id string, unlikely bool) *Fact {
		return &Fact{No: 20, Body: Reading{Check: id, Typed: "11 thou", Unconfirmed: unlikely}}
	}
	waits := func(id string) func(*Snapshot) {
		return func(s *Snapshot) {
			quiet(s)
			s.Waiting = []Latest{{Fact: 20, Check: id, At: added, Reading: &Reading{Check: id, Typed: "11 thou"}}}
		}
	}
	called := func(args NoticeArgs) NoticeArgs { args.Call = true; return args }
	confirmed := func(args NoticeArgs) NoticeArgs { args.Confirmed = true; return args }
	lifted := func(args NoticeArgs) NoticeArgs { args.Lifted = true; return args }
	owes(t, []change{
		{"in order", quiet, bed(9), time.Time{}, of("bed", false), nil},
		{"outside its adjust limits", quiet, bed(11), time.Time{}, of("bed", false),
			[]Notice{notice(Post, "adjust/20", "", TopicOutOfTrue, is("bed"))}},
		{"again where nothing is proved", quiet, bed(50), time.Time{}, of("bed", false), nil},
		{"a safety check, today", quiet, blade(1100), time.Time{}, of("blade", false),
			[]Notice{notice(Post, "measure/20", "", TopicMeasureNow, byEnd)}},
		{"out of service already", out, bed(11, out), time.Time{}, of("bed", false), nil},
		{"overtaken by a later one", quiet, bed(11, func(s *Snapshot) { read(s, "bed", 21, added, thou(11)) }),
			time.Time{}, of("bed", false), nil},
		{"unlikely, and just asked about", quiet, waits("bed"), time.Time{}, of("bed", true), nil},
		{"a safety check's, just asked about", quiet, waits("blade"), time.Time{}, of("blade", true), nil},
		{"a quality check's, long after", waits("bed"), waits("bed"), added.Add(time.Hour), nil, nil},
		{"a safety check's, after two minutes", waits("blade"), waits("blade"), added.Add(DoubtWaits), nil,
			[]Notice{notice(Post, "unlikely/20", "", TopicUnlikely, called(is("blade")))}},
		{"said to be right", waits("bed"), quiet, time.Time{}, &Fact{No: 21, Body: ReadingConfirmed{Of: 20}},
			[]Notice{notice(Post, "unlikely/20/confirmed", "", TopicUnlikely, confirmed(is("bed")))}},
		{"withdrawn", waits("blade"), quiet, time.Time{}, &Fact{No: 21, Body: Withdrawal{Of: 20}},
			[]Notice{notice(Edit, "unlikely/20/answered/21", "unlikely/20", TopicUnlikely, lifted(is("blade")))}},
		{"of a check that is no more", quiet, quiet, time.Time{}, of("gone", true), nil},
	})
}

// Hours on a machine that is out of service are told, unless they are of whoever runs it
// under test.
func TestOwedOfHoursWhileTagged(t *testing.T) {
	smoke := Tag{Fact: 9, At: added, Cause: "danger:smoke"}
	out := func(s *Snapshot) { s.Outage, s.Tags = 3, []Tag{smoke} }
	test := func(s *Snapshot) { out(s); s.Test = &Test{Fact: 12, By: "wren", At: added} }
	ran := &Fact{No: 20, For: "wren", Body: Hours{Seconds: 5400}}
	told := []Notice{notice(Post, "ran/20", "", TopicRanTagged,
		NoticeArgs{Fact: 20, Used: quantity.New(90, 1, quantity.Minute)})}
	over := func(s *Snapshot) { test(s); s.Test.At = added.Add(-30 * time.Minute) }
	owes(t, []change{
		{"in service", nothing, nothing, time.Time{}, ran, nil},
		{"out of service", out, out, time.Time{}, ran,
			[]Notice{notice(Post, "ran/20", "", TopicRanTagged,
				NoticeArgs{Fact: 20, Used: quantity.New(90, 1, quantity.Minute)})}},
		{"under test", test, test, time.Time{}, ran, nil},
		{"under test, typed by another for whoever tests", test, test, time.Time{},
			&Fact{No: 20, By: "bo", For: "wren", Body: Hours{Seconds: 5400}}, nil},
		{"in another's test", test, test, time.Time{},
			&Fact{No: 20, By: "wren", For: "bo", Body: Hours{Seconds: 5400}}, told},
		{"after the test's time has run out", over, out, time.Time{}, ran, append([]Notice{
			notice(Edit, "out/3/test-over/12", "out/3", TopicTagOut,
				NoticeArgs{Tags: []Tag{smoke}}),
			notice(Post, "test/12/ended", "", TopicTestEnded, NoticeArgs{})}, told...)},
		{"a counter read", out, out, time.Time{}, &Fact{No: 20, Body: CounterRead{Seconds: 5400}}, nil},
	})
}

// One change owes its notices in one order: the tag's, the test's, services, checks,
// what is mended, and last what was reported. Imperial machines say so.
func TestOwedInOrder(t *testing.T) {
	snap := bench()
	snap.Machine.Units, snap.Machine.ID = quantity.Imperial, 7
	snap.Problems = []OpenProblem{{Key: "noise", Name: "noise", First: 7, Last: 7, By: []PersonID{"cy"}}}
	before := Assess(snap, added)
	snap.Outage, snap.Tags, snap.Problems = 1, []Tag{{Fact: 21}}, nil
	snap.Test, snap.Hours = &Test{Fact: 22, By: "wren", At: onDay(7)}, hours(8)
	snap.Mends["noise"] = LastService{Fact: 23, At: added, Since: hours(0)}
	snap.Latest["bed"] = Latest{Fact: 20, Check: "bed", At: added, Reading: snap.Latest["bed"].Reading}
	var keys []string
	for _, n := range Owed(before, Assess(snap, onDay(7)),
		&Fact{No: 20, Body: Reading{Check: "bed", Unconfirmed: true}}) {
		keys = append(keys, n.Key)
		if n.Machine != 7 || n.Args.Units != quantity.Imperial {
			t.Errorf("%s: of machine %d in %v", n.Key, n.Machine, n.Args.Units)
		}
	}
	want := []string{"m7/out/1", "m7/out/1/pin", "m7/test/22", "m7/due/oil/0", "m7/check-due/guard/4",
		"m7/problem/7/mended/23", "m7/problem/7/told/23"}
	if d := cmp.Diff(want, keys); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// What is stored of a notice is read back, of this version or an earlier one, and
// refused where it cannot be.
func TestNoticeVersions(t *testing.T) {
	for text, ok := range map[string]bool{`{"v": 1}`: true, `{"v": 2}`: false, `{"v": 0}`: false, `{}`: false,
		`{"v": -1}`: false, `v 1`: false} {
		_, err := DecodeArgs([]byte(text))
		if (err == nil) != ok || err != nil && !strings.HasPrefix(err.Error(), "read what a notice says: ") {
			t.Errorf("%s: %v", text, err)
		}
	}
	never := time.Date(10_000, 1, 1, 0, 0, 0, 0, time.UTC) // a year that JSON cannot hold
	if _, err := EncodeArgs(NoticeArgs{At: never}); err == nil ||
		!strings.HasPrefix(err.Error(), "write what a notice says: ") {
		t.Errorf("the year 10000: %v", err)
	}
}

// In quiet hours what says that a machine stands still, is tried out, runs again or
// ran when it should not is posted, and what is measured again today.
func TestUrgent(t *testing.T) {
	for topic, want := range map[Topic]bool{TopicTagOut: true, TopicBack: true, TopicTest: true, TopicTestEnded: true,
		TopicRanTagged: true, TopicMeasureNow: true,
		TopicProblem: false, TopicTold: false, TopicMended: false, TopicDue: false, TopicDone: false,
		TopicNotDue: false, TopicPutOff: false, TopicUnlikely: false,
		TopicOutOfTrue: false, TopicDigest: false} {
		if got := (Notice{Topic: topic}).Urgent(); got != want {
			t.Errorf("%s: urgent %t, want %t", topic, got, want)
		}
	}
}
