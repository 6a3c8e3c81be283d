package domain_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/domain/profile"
)

// What waits for a second person, or a law or safety asks for, stays under its name; the
// same of somebody else, or what is over, does not.
func TestKeptOf(t *testing.T) {
	t.Parallel()
	lockOf := func(p domain.PersonID, lock domain.Lock) domain.Tag {
		return domain.Tag{Fact: 7, By: p, Reason: domain.Reason{Code: domain.LockOn}, Lock: lock}
	}
	noted := domain.Lock{Noted: domain.LockStep{Fact: 8, By: "ada"}}
	off := domain.Lock{Off: domain.LockStep{Fact: 9, By: "ada"}, Noted: domain.LockStep{Fact: 8, By: "ada"}}
	check := func(check profile.Check, unseconded bool, of *domain.Inspection) []domain.CheckStatus {
		check.Name = "cord"
		return []domain.CheckStatus{{Check: &check, Unseconded: unseconded,
			Latest: domain.Latest{Fact: 5, By: "ada", Inspection: of}}}
	}
	passed := &domain.Inspection{Pass: true}
	for _, test := range []struct {
		name string
		of   domain.Status
		want []domain.Kept
	}{
		{"nothing", domain.Status{}, nil},
		{"a lock", domain.Status{Tags: []domain.Tag{lockOf("ada", domain.Lock{})}}, []domain.Kept{{For: domain.KeptLock,
			Fact: 7}}},
		{"another's lock", domain.Status{Tags: []domain.Tag{lockOf("bo", domain.Lock{})}}, nil},
		{"a lock that is off", domain.Status{Tags: []domain.Tag{lockOf("ada", off)}}, nil},
		{"another tag", domain.Status{Tags: []domain.Tag{{Fact: 7, By: "ada"}}}, nil},
		{"noted of another's", domain.Status{Tags: []domain.Tag{lockOf("bo", noted)}},
			[]domain.Kept{{For: domain.KeptProcedure, Fact: 8}}},
		{"a loosening", domain.Status{Loosening: &domain.LooseningBy{Fact: 3, By: "ada"}},
			[]domain.Kept{{For: domain.KeptLoosening, Fact: 3}}},
		{"another's loosening", domain.Status{Loosening: &domain.LooseningBy{Fact: 3, By: "bo"}}, nil},
		{"a test", domain.Status{Test: &domain.Test{Fact: 4, By: "ada"}},
			[]domain.Kept{{For: domain.KeptTest, Fact: 4}}},
		{"another's test", domain.Status{Test: &domain.Test{Fact: 4, By: "bo"}}, nil},
		{"a handover", domain.Status{Handover: &domain.HandoverBy{Fact: 6, By: "ada"}},
			[]domain.Kept{{For: domain.KeptHandover, Fact: 6}}},
		{"another's handover", domain.Status{Handover: &domain.HandoverBy{Fact: 6, By: "bo"}}, nil},
		{"an inspection", domain.Status{Checks: check(profile.Check{}, false, passed)}, nil},
		{"by a qualified person", domain.Status{Checks: check(profile.Check{Qualified: true}, true, passed)},
			[]domain.Kept{{For: domain.KeptInspection, Fact: 5, Name: "cord"}}},
		{"for an authority", domain.Status{Checks: check(profile.Check{Authority: true}, false, passed)},
			[]domain.Kept{{For: domain.KeptInspection, Fact: 5, Name: "cord"}}},
		{"without a second person", domain.Status{Checks: check(profile.Check{}, true, passed)},
			[]domain.Kept{{For: domain.KeptSecond, Fact: 5, Name: "cord"}}},
		{"a reading", domain.Status{Checks: check(profile.Check{Qualified: true}, true, nil)}, nil},
	} {
		if d := cmp.Diff(test.want, test.of.KeptOf("ada")); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	now := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	away := func(person, deputy domain.PersonID, until string) domain.Shop {
		return domain.Shop{Zone: "UTC", Away: []domain.Away{{Person: person, Deputy: deputy, From: "2026-02-20",
			Until: until}}}
	}
	for _, test := range []struct {
		name string
		of   domain.Shop
		want []domain.Kept
	}{
		{"nothing", domain.Shop{}, nil},
		{"called", domain.Shop{Call: "ada"}, []domain.Kept{{For: domain.KeptCalled}}},
		{"another", domain.Shop{Call: "bo"}, nil},
		{"away", away("ada", "bo", "2026-03-02"), []domain.Kept{{For: domain.KeptAway}}},
		{"stands in", away("bo", "ada", "2026-03-09"), []domain.Kept{{For: domain.KeptAway}}},
		{"was away", away("ada", "bo", "2026-03-01"), nil},
		{"others", away("bo", "chidi", "2026-03-09"), nil},
	} {
		if d := cmp.Diff(test.want, test.of.KeptOf("ada", now)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	for p, want := range map[domain.PersonID]bool{domain.FormerID("1"): true, "1": false, "": false, "former": false} {
		if p.Former() != want { // any order: each is asked by itself
			t.Errorf("%q: a former member %v", p, !want)
		}
	}
}
