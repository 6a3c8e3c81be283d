package domain_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "setscrew/domain"
)

// dangerTag is a tag hung for a danger.
func dangerTag(no FactNo, name string, at time.Time) Tag {
	return Tag{Fact: no, At: at, Cause: "danger:" + name, Because: no - 1, Reason: Reason{Code: DangerSeen, Name: name}}
}

// A danger that nobody has said they see to calls after a quarter of an hour, not a moment
// before; one that is seen to, withdrawn or no danger calls nobody.
func TestUnseenDangersCall(t *testing.T) {
	smoke := dangerTag(9, "smoke", added)
	withdrawn := smoke
	withdrawn.ReportWithdrawn = true
	doubt := OpenProblem{Key: "loose", Name: "guard loose", First: 5, Last: 7, At: added.Add(-time.Hour), LastAt: added,
		Doubt: true}
	for _, test := range []struct {
		name    string
		tags    []Tag
		problem *OpenProblem
		seen    *SeenBy
		after   time.Duration
		calls   []string
		wakes   time.Duration // 0 for no matter
		by      PersonID
	}{
		{"just hung", []Tag{smoke}, nil, nil, 0, nil, 15 * time.Minute, ""},
		{"a moment before", []Tag{smoke}, nil, nil, 15*time.Minute - 1, nil, 15 * time.Minute, ""},
		{"after a quarter of an hour", []Tag{smoke}, nil, nil, 15 * time.Minute, []string{"unseen/9"}, 0, ""},
		{"days later", []Tag{smoke}, nil, nil, 72 * time.Hour, []string{"unseen/9"}, 0, ""},
		{"seen to", []Tag{smoke}, nil, &SeenBy{10, added, "wren", 10}, time.Hour, nil, 0, "wren"},
		{"another was seen to before", []Tag{smoke}, nil, &SeenBy{8, added, "wren", 8}, time.Hour,
			[]string{"unseen/9"}, 0, ""},
		{"one seen to, one not", []Tag{smoke, dangerTag(12, "sparks", added.Add(time.Minute))}, nil,
			&SeenBy{10, added, "wren", 10}, 16 * time.Minute, []string{"unseen/12"}, 0, "wren"},
		{"another came up before it was pressed", []Tag{smoke, dangerTag(12, "sparks", added)}, nil,
			&SeenBy{14, added, "wren", 9}, time.Hour, []string{"unseen/12"}, 0, "wren"},
		{"the second a moment before", []Tag{smoke, dangerTag(12, "sparks", added.Add(time.Minute))}, nil,
			&SeenBy{10, added, "wren", 10}, 15 * time.Minute, nil, 16 * time.Minute, "wren"},
		{"two", []Tag{smoke, dangerTag(12, "sparks", added)}, nil, nil, time.Hour,
			[]string{"unseen/9", "unseen/12"}, 0, ""},
		{"withdrawn", []Tag{withdrawn}, nil, nil, time.Hour, nil, 0, ""},
		{"a tag for something else", []Tag{{Fact: 9, At: added, Reason: Reason{Code: SaidBySomebody}}}, nil, nil,
			time.Hour, nil, 0, ""},
		{"perhaps dangerous", nil, &doubt, nil, 15*time.Minute - 1, nil, 15 * time.Minute, ""},
		{"perhaps dangerous, for long", nil, &doubt, nil, 15 * time.Minute, []string{"unseen/doubt/5"}, 0, ""},
		{"perhaps dangerous, seen to", nil, &doubt, &SeenBy{8, added, "wren", 8}, time.Hour, nil, 0, "wren"},
		{"perhaps dangerous, reported again since", nil, &doubt, &SeenBy{6, added, "wren", 6}, time.Hour,
			[]string{"unseen/doubt/5"}, 0, ""},
		{"perhaps dangerous, and it stands still", []Tag{{Fact: 9, At: added}}, &doubt, nil, time.Hour, nil, 0, ""},
	} {
		snap := bench()
		snap.Tags, snap.Seen = test.tags, test.seen
		if test.problem != nil {
			snap.Problems = []OpenProblem{*test.problem}
		}
		st := Assess(snap, added.Add(test.after))
		var calls []string
		for _, notice := range Owed(st, st, nil) {
			if notice.Topic == TopicUnseen {
				calls = append(calls, strings.TrimPrefix(notice.Key, "m1/"))
				if notice.Op != Post || !notice.Args.Call || notice.Args.Name == "" || notice.Args.Fact == 0 ||
					notice.Args.Seen != "" ||
					!notice.Urgent() {
					t.Errorf("%s: %+v", test.name, notice)
				}
			}
		}
		if d := cmp.Diff(test.calls, calls); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
		if test.wakes != 0 && !st.Wake.Equal(added.Add(test.wakes)) {
			t.Errorf("%s: wakes at %v", test.name, st.Wake)
		}
		var by PersonID
		if st.Seen != nil {
			by = st.Seen.By
		}
		if by != test.by {
			t.Errorf("%s: seen to by %q, want %q", test.name, by, test.by)
		}
	}
}

// Who sees to a danger stands in its notices, in place of the question, until they take it
// back; once it is over the call says so.
func TestOwedOfSeenTo(t *testing.T) {
	smoke := dangerTag(9, "smoke", added)
	danger := func(s *Snapshot) { s.Outage, s.Tags = 3, []Tag{smoke} }
	seen := func(s *Snapshot) { danger(s); s.Seen = &SeenBy{20, added, "wren", 20} }
	doubt := func(s *Snapshot) {
		s.Problems = []OpenProblem{{Key: "loose", Name: "guard loose", First: 5, Last: 7, At: added, LastAt: added,
			Doubt: true}}
	}
	doubtSeen := func(s *Snapshot) { doubt(s); s.Seen = &SeenBy{20, added, "wren", 20} }
	call := func(a NoticeArgs) NoticeArgs { a.Fact, a.Name, a.Call = 9, "smoke", true; return a }
	ask := func(a NoticeArgs) NoticeArgs { a.Fact, a.Name, a.Call = 7, "guard loose", true; return a }
	args := func(seen PersonID, unseen FactNo) NoticeArgs {
		return NoticeArgs{Tags: []Tag{smoke}, Seen: seen, Unseen: unseen}
	}
	owes(t, []change{
		{"hung", nothing, danger, time.Time{}, &Fact{No: 8, Body: Problem{Danger: true}}, []Notice{
			notice(Post, "out/3", "", TopicTagOut, args("", 9)),
			notice(Pin, "out/3/pin", "out/3", TopicTagOut, args("", 9))}},
		{"seen to", danger, seen, time.Time{}, &Fact{No: 20, Body: SeenTo{Of: 9}}, []Notice{
			notice(Edit, "out/3/edit/20", "out/3", TopicTagOut, args("wren", 0)),
			notice(Edit, "unseen/9/edit/20", "unseen/9", TopicUnseen, call(NoticeArgs{Seen: "wren"}))}},
		{"taken back", seen, danger, time.Time{}, &Fact{No: 21, Body: Withdrawal{Of: 20}}, []Notice{
			notice(Edit, "out/3/edit/21", "out/3", TopicTagOut, args("", 9)),
			notice(Edit, "unseen/9/edit/21", "unseen/9", TopicUnseen, call(NoticeArgs{}))}},
		{"released", seen, nothing, time.Time{}, &Fact{No: 22, Body: Release{}}, []Notice{
			notice(Edit, "out/0/lifted", "out/0", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}, Lifted: true}),
			notice(Unpin, "out/0/unpin", "out/0", TopicTagOut, NoticeArgs{Tags: []Tag{smoke}, Lifted: true}),
			notice(Post, "out/0/back", "", TopicBack, NoticeArgs{}),
			notice(Edit, "unseen/9/edit/22", "unseen/9", TopicUnseen, call(NoticeArgs{Lifted: true}))}},
		{"perhaps dangerous, seen to", doubt, doubtSeen, time.Time{}, &Fact{No: 20, Body: SeenTo{Of: 7}}, []Notice{
			notice(Edit, "unseen/doubt/5/edit/20", "unseen/doubt/5", TopicUnseen, ask(NoticeArgs{Seen: "wren"})),
			notice(Edit, "doubt/7/seen/20", "doubt/7", TopicDoubt, ask(NoticeArgs{Seen: "wren"}))}},
		{"seen to before the stewards are called", doubtSeen, doubtSeen, added.Add(DoubtWaits), nil, []Notice{
			notice(Post, "doubt/7", "", TopicDoubt, ask(NoticeArgs{Seen: "wren"}))}},
	})
}

// Only what stands is seen to, and once.
func TestAdmitSeenTo(t *testing.T) {
	for _, test := range []struct {
		name string
		tags []Tag
		seen *SeenBy
		want Code
	}{
		{"it stands", []Tag{dangerTag(9, "smoke", added)}, nil, ""},
		{"it is over", nil, nil, NothingToSee},
		{"another stands", []Tag{dangerTag(12, "smoke", added)}, nil, NothingToSee},
		{"no danger", []Tag{{Fact: 9, At: added}}, nil, NothingToSee},
		{"seen to", []Tag{dangerTag(9, "smoke", added)}, &SeenBy{10, added, "wren", 10}, SeenBefore},
	} {
		s := bench()
		s.Tags, s.Seen = test.tags, test.seen
		var got Code
		if r := Admit(Assess(s, added), Entry{By: "wren", Body: SeenTo{Of: 9}}); r != nil {
			got = r.Code
		}
		if got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
}

// Whoever presses a button sees to what it was shown with, and whoever reports work to all
// that stood until then.
func TestNewSeenBy(t *testing.T) {
	fact := Fact{No: 20, At: added, By: "", For: "wren"}
	for _, test := range []struct {
		body SeenTo
		want SeenBy
	}{
		{SeenTo{Of: 9}, SeenBy{20, added, "wren", 9}},
		{SeenTo{Because: 19}, SeenBy{20, added, "wren", 20}},
	} {
		if got := NewSeenBy(fact, test.body); *got != test.want {
			t.Errorf("%+v: %+v, want %+v", test.body, *got, test.want)
		}
	}
}

// A steward who tests, services, mends or releases a machine sees to the dangers on it; a
// member, other reports, and what was done before the danger show nothing.
func TestReportsThatShow(t *testing.T) {
	for _, test := range []struct {
		name    string
		body    Body
		steward bool
		at      time.Duration
		unseen  bool
		want    bool
	}{
		{"a test", UnderTest{}, true, time.Minute, true, true},
		{"a test that goes on", TestRenewed{}, true, time.Minute, true, true},
		{"a test's end", TestEnded{}, true, time.Minute, true, true},
		{"a release", Release{}, true, time.Minute, true, true},
		{"a service, which may be routine", ServiceDone{}, true, time.Minute, true, false},
		{"mended, which may be about something else", Mended{}, true, time.Minute, true, false},
		{"a member's test", UnderTest{}, false, time.Minute, true, false},
		{"a test before it", UnderTest{}, true, -time.Minute, true, false},
		{"another danger", Problem{Danger: true}, true, time.Minute, true, false},
		{"hours", Hours{}, true, time.Minute, true, false},
		{"seen to already", UnderTest{}, true, time.Minute, false, false},
	} {
		snap := bench()
		snap.Tags = []Tag{dangerTag(9, "smoke", added)}
		if !test.unseen {
			snap.Seen = &SeenBy{10, added, "wren", 10}
		}
		shown, ok := ShowsCare(Assess(snap, added.Add(time.Minute)), Entry{By: "wren", Steward: test.steward,
			At: added.Add(test.at), Body: test.body}, 30)
		if ok != test.want || ok && shown != (SeenTo{Because: 30}) {
			t.Errorf("%s: %+v, %v", test.name, shown, ok)
		}
	}
}

// However dangers come, are seen to, taken back and withdrawn, and whenever the machine is
// judged, no danger is called about twice, none before its time, none that was seen to
// until then; and one that waits is called about once the machine is judged in time.
func TestPropertyNoDangerIsCalledTwice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		snap := bench()
		now, no := added, FactNo(8)
		called := map[string]time.Time{}
		var seenAll []*SeenBy
		judge := func(before *Status, fact *Fact) {
			st := Assess(snap, now)
			if before == nil {
				before = &st
			}
			for _, notice := range Owed(*before, st, fact) {
				if notice.Topic != TopicUnseen || notice.Op != Post {
					continue
				}
				if _, twice := called[notice.Key]; !twice {
					called[notice.Key] = now
				}
				key, _, _ := strings.Cut(notice.Key, "/again/") // whoever saw to it does not after all
				i := slices.IndexFunc(snap.Tags,
					func(tag Tag) bool { return key == fmt.Sprintf("m1/unseen/%d", tag.Fact) })
				switch {
				case i < 0:
					t.Fatalf("%s is about nothing that stands", notice.Key)
				case now.Before(snap.Tags[i].At.Add(SeenWithin)):
					t.Fatalf("%s is called about after %v", notice.Key, now.Sub(snap.Tags[i].At))
				case snap.Seen != nil && snap.Seen.Fact > snap.Tags[i].Fact:
					t.Fatalf("%s is called about though %s sees to it", notice.Key, snap.Seen.By)
				}
			}
			for _, tag := range snap.Tags {
				_, was := called[fmt.Sprintf("m1/unseen/%d", tag.Fact)]
				waits := !tag.ReportWithdrawn && (snap.Seen == nil || snap.Seen.Fact < tag.Fact)
				if due := !now.Before(tag.At.Add(SeenWithin)); waits && due && !was {
					t.Fatalf("no. %d waits since %v, and nobody is called", tag.Fact, now.Sub(tag.At))
				} else if waits && !due && (st.Wake.IsZero() || st.Wake.After(tag.At.Add(SeenWithin))) {
					t.Fatalf("no. %d is due at %v, woken at %v", tag.Fact, tag.At.Add(SeenWithin), st.Wake)
				}
			}
		}
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			now = now.Add(time.Duration(rapid.IntRange(0, 20).Draw(t, "minutes")) * time.Minute)
			before := Assess(snap, now)
			no++
			switch rapid.IntRange(0, 5).Draw(t, "what") {
			case 0:
				snap.Tags = append(slices.Clone(snap.Tags), dangerTag(no, fmt.Sprint("danger ", no), now))
				judge(&before, &Fact{No: no, Body: Problem{Danger: true}})
			case 1:
				snap.Seen = &SeenBy{no, now, "wren", no}
				seenAll = append(seenAll, snap.Seen)
				judge(&before, &Fact{No: no, Body: SeenTo{}})
			case 2:
				if len(seenAll) > 0 {
					seenAll = seenAll[:len(seenAll)-1]
				}
				snap.Seen = nil
				if len(seenAll) > 0 {
					snap.Seen = seenAll[len(seenAll)-1]
				}
				judge(&before, &Fact{No: no, Body: Withdrawal{}})
			case 3:
				if len(snap.Tags) > 0 {
					snap.Tags = slices.Clone(snap.Tags)
					snap.Tags[len(snap.Tags)-1].ReportWithdrawn = true
				}
				judge(&before, &Fact{No: no, Body: Withdrawal{}})
			case 4:
				snap.Tags = nil
				judge(&before, &Fact{No: no, Body: Release{}})
			case 5:
				judge(nil, nil)
			}
		}
	})
}
