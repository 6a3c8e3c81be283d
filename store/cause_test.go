package store_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// A problem's findings and who reported it are known while it is open; what mends its
// cause closes it, taking that back opens it again; causes are counted, but for mends
// after which it came back. All of it is the same when rebuilt.
func TestProblemsAndTheirCauses(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	keys := 0
	at := time.Hour
	do := func(b domain.Body) domain.Outcome {
		t.Helper()
		keys++
		at += time.Minute
		e := entry("k"+string(rune('a'+keys)), at, planer, b)
		e.Sure = true
		return report(t, shop, e)
	}
	marks := domain.Problem{Symptom: "marks", Name: "fine marks"}
	open := func(what string, want bool) *domain.OpenProblem {
		t.Helper()
		var first *domain.OpenProblem
		for _, how := range []string{"", " rebuilt"} {
			snap := snapshot(t, shop, planer)
			if got := len(snap.Problems) == 1; got != want {
				t.Fatalf("%s%s: problems %+v", what, how, snap.Problems)
			}
			if want && first == nil {
				first = &snap.Problems[0]
			} else if want {
				if d := cmp.Diff(*first, snap.Problems[0]); d != "" {
					t.Errorf("%s rebuilt differs:\n%s", what, d)
				}
			}
			if err := shop.Rebuild(ctx); err != nil {
				t.Fatal(err)
			}
			again := snapshot(t, shop, planer)
			if d := cmp.Diff(snap, again, cmpopts.IgnoreFields(domain.Machine{}, "Profile"),
				cmp.Comparer(func(a, b *profile.Profile) bool { return true })); d != "" {
				t.Errorf("%s rebuilt differs:\n%s", what, d)
			}
		}
		return first
	}
	settled := func(what string, pitch, all int) {
		t.Helper()
		c, err := shop.Settled(ctx, planer, "marks")
		if err != nil || c.By["pitch"] != pitch || c.N != all {
			t.Errorf("%s: %+v, %v", what, c, err)
		}
	}
	first := do(marks).Fact.No
	bo := entry("bo", at+time.Second, planer, marks)
	bo.By, bo.For = "bo", "bo"
	report(t, shop, bo)
	do(domain.Found{Key: "marks", About: domain.QuestionItem.Of("light-cut"), Answer: domain.AnswerNo})
	do(domain.Found{Key: "marks", About: domain.CauseItem.Of("pitch"), Answer: domain.AnswerNo})
	do(domain.Found{Key: "marks", About: domain.CauseItem.Of("pitch"), Answer: domain.AnswerYes})
	problem := open("found", true)
	if problem.First != first || problem.Reports != 2 || len(problem.By) != 2 ||
		problem.Found[domain.QuestionItem.Of("light-cut")].Answer != domain.AnswerNo {
		t.Errorf("%+v", problem)
	}
	if c, _ := problem.Cause(); c != "pitch" {
		t.Errorf("cause %q", c)
	}
	waxed := do(domain.ServiceDone{Service: "wax"}).Fact.No
	open("waxed", false)
	settled("waxed", 1, 1)
	do(domain.Withdrawal{Of: waxed})
	open("not waxed after all", true)
	settled("taken back", 0, 0)
	do(domain.ServiceDone{Service: "wax"})
	settled("waxed again", 1, 1)
	do(domain.Hours{Seconds: 3600})
	back := do(marks)
	if b, _ := back.Fact.Body.(domain.Problem); b.Returned == 0 {
		t.Error("an hour of use later it has not come back")
	}
	problem = open("back", true)
	if problem.Before != "pitch" || problem.Found != nil {
		t.Errorf("back: %+v", problem)
	}
	settled("it came back", 0, 0)
	do(domain.Found{Key: "marks", About: domain.CauseItem.Of("light-cut"), Answer: domain.AnswerYes})
	open("nothing but how it is used", false)
	settled("a light cut", 0, 1)
	do(domain.Hours{Seconds: 9 * 3600})
	if b, _ := do(marks).Fact.Body.(domain.Problem); b.Returned != 0 {
		t.Error("nine hours of use later it has come back")
	}
	do(domain.Mended{Key: "marks", Name: "fine marks"})
	open("mended by hand", false)
	settled("nobody said what it was", 0, 1)
	if l := snapshot(t, shop, planer).Mends["marks"]; l.Fact == 0 || !l.Since.Equal(quantity.Zero(quantity.Duration)) {
		t.Errorf("mended last %+v", l)
	}
}
