package domain_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	. "setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

func serviceIDs(all []ServiceStatus) string {
	var ids []string
	for _, s := range all {
		ids = append(ids, s.Service.ID)
	}
	return strings.Join(ids, " ")
}

func checkIDs(all []*CheckStatus) string {
	var ids []string
	for _, c := range all {
		ids = append(ids, c.Check.ID)
	}
	return strings.Join(ids, " ")
}

// A status answers what is asked of it often.
func TestAsk(t *testing.T) {
	left := quantity.New(3, 1, quantity.Hour)
	service := func(id, after string, began FactNo, due upkeep.Due) ServiceStatus {
		return ServiceStatus{Service: &profile.Service{ID: id, After: after}, Began: LastService{Fact: began}, Due: due}
	}
	check := func(id string, cs CheckStatus) CheckStatus {
		every := cs.Check
		cs.Check = &profile.Check{ID: id, Name: "the " + id}
		if every != nil {
			cs.Check.Every, cs.Check.Follows = every.Every, every.Follows
		}
		return cs
	}
	st := Status{
		Services: []ServiceStatus{
			service("late", "", 0, upkeep.Due{State: upkeep.Late, Left: left.Neg()}),
			service("now", "belts", 5, upkeep.Due{State: upkeep.DueNow,
				On: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)}),
			service("later", "belts", 4, upkeep.Due{Left: left}),
		},
		Checks: []CheckStatus{
			check("unread", CheckStatus{}),
			check("good", CheckStatus{Freshness: Fresh, Grade: metrology.Near,
				Check: &profile.Check{Every: &profile.Rule{Days: 7}}, Due: upkeep.Due{State: upkeep.DueNow}}),
			check("worse", CheckStatus{Freshness: Fresh, Grade: metrology.Adjust, Advice: AdvicePlan}),
			check("own", CheckStatus{Freshness: Stale, StaleFrom: "own", Grade: metrology.Stop}),
			check("after-bed", CheckStatus{Freshness: Stale, StaleFrom: "bed"}),
			check("after-own", CheckStatus{Freshness: Stale, StaleFrom: "own", Predicted: []quantity.Value{left},
				Check: &profile.Check{Follows: &profile.Follows{Check: "own"}}}),
			check("bed-too", CheckStatus{Freshness: Stale, StaleFrom: "bed",
				Check: &profile.Check{Follows: &profile.Follows{Check: "own"}}}),
		},
		Problems: []OpenProblem{{Key: "snipe", First: 3}, {Key: "marks", First: 4}},
		Tags:     []Tag{{Fact: 7}, {Fact: 8}, {Fact: 9}},
	}
	for _, test := range []struct{ of, got, want string }{
		{"due services", serviceIDs(st.DueServices()), "late now"},
		{"services by use", serviceIDs(st.ServicesByUse()), "late later"},
		{"services begun by a report of an event", serviceIDs(st.BegunBy("belts", 5)), "now"},
		{"services begun by another event", serviceIDs(st.BegunBy("knives", 5)), ""},
		{"due checks", checkIDs(st.DueChecks()), "good"},
		{"recurring checks", checkIDs(st.RecurringChecks()), "good"},
		{"fresh checks", checkIDs(st.FreshChecks()), "good worse"},
		{"unread checks", checkIDs(st.UnreadChecks()), "unread"},
		{"moved checks", checkIDs(st.MovedChecks()), "own"},
		{"what is predicted", checkIDs(st.PredictedFrom("own")), "after-own"},
		{"what is predicted from another", checkIDs(st.PredictedFrom("bed")), ""},
		{"names", strings.Join(CheckNames(st.MovedChecks()), ", "), "the own"},
	} {
		if test.got != test.want {
			t.Errorf("%s: %s, want %s", test.of, test.got, test.want)
		}
	}
	var groups []string
	for _, g := range st.StaleGroups() {
		groups = append(groups, g.From+": "+checkIDs(g.Checks))
	}
	if !slices.Equal(groups, []string{"bed: after-bed bed-too", "own: after-own"}) {
		t.Errorf("stale: %q", groups)
	}
	if p := st.Problem("marks"); p == nil || p.First != 4 || st.Problem("smoke") != nil {
		t.Errorf("problem %+v", p)
	}
	if tag := st.NewTag([]FactNo{9, 7}); tag == nil || tag.Fact != 8 || st.NewTag([]FactNo{7, 8, 9}) != nil {
		t.Errorf("new tag %+v", tag)
	}
	if c := st.CheckNamed("the worse"); c != &st.Checks[2] || st.CheckNamed("worse") != nil {
		t.Errorf("check by name: %+v", c)
	}
	if st.MostDue() != upkeep.Late || (Status{Checks: st.Checks}).MostDue() != upkeep.DueNow ||
		(Status{}).MostDue() != upkeep.NotDue {
		t.Errorf("most due: %v", st.MostDue())
	}
	if st.WorstGrade() != metrology.Adjust || (Status{}).WorstGrade() != metrology.Good { // a stale stop does not count
		t.Errorf("worst grade: %v", st.WorstGrade())
	}
	if !st.Advises(AdvicePlan) || st.Advises(AdviceStop) {
		t.Error("advice")
	}
}
