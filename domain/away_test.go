package domain_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	. "setscrew/domain"
)

// Days away take the place of those of the same person that they overlap, by a day or
// more; of nobody else's; and what is over goes.
func TestWithAway(t *testing.T) {
	now := time.Date(2026, 3, 10, 12, 0, 0, 0, time.UTC)
	mine := Away{"wren", "2026-03-12", "2026-03-15", "bo"}
	for _, test := range []struct {
		name string
		had  []Away
		set  Away
		want []Away
	}{
		{"the first", nil, mine, []Away{mine}},
		{"begins on the other's last day", []Away{mine}, Away{"wren", "2026-03-15", "2026-03-20", "ada"},
			[]Away{{"wren", "2026-03-15", "2026-03-20", "ada"}}},
		{"ends on the other's first day", []Away{mine}, Away{"wren", "2026-03-11", "2026-03-12", "ada"},
			[]Away{{"wren", "2026-03-11", "2026-03-12", "ada"}}},
		{"a day after", []Away{mine}, Away{"wren", "2026-03-16", "2026-03-20", "ada"},
			[]Away{mine, {"wren", "2026-03-16", "2026-03-20", "ada"}}},
		{"a day before", []Away{mine}, Away{"wren", "2026-03-11", "2026-03-11", "ada"},
			[]Away{{"wren", "2026-03-11", "2026-03-11", "ada"}, mine}},
		{"somebody else's", []Away{mine}, Away{"ishaan", "2026-03-12", "2026-03-15", "ada"},
			[]Away{{"ishaan", "2026-03-12", "2026-03-15", "ada"}, mine}},
		{"none any more", []Away{mine, {"ishaan", "2026-03-12", "2026-03-15", "ada"}}, Away{Person: "wren"},
			[]Away{{"ishaan", "2026-03-12", "2026-03-15", "ada"}}},
		{"one is over", []Away{{"ishaan", "2026-03-01", "2026-03-09", "ada"}}, mine, []Away{mine}},
		{"one ends today", []Away{{"ishaan", "2026-03-01", "2026-03-10", "ada"}}, mine,
			[]Away{{"ishaan", "2026-03-01", "2026-03-10", "ada"}, mine}},
		{"over before it is set", nil, Away{"wren", "2026-03-01", "2026-03-09", "bo"}, nil},
	} {
		s := NewShop("s")
		s.Away = test.had
		if d := cmp.Diff(test.want, s.WithAway(test.set, now).Away, cmpopts.EquateEmpty()); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// Days away begin and end at midnight of the shop's clocks, by themselves.
func TestAwayByTheShopsClocks(t *testing.T) {
	shop := NewShop("s")
	shop.Zone = "America/New_York"
	shop.Away = []Away{{"wren", "2026-03-12", "2026-03-13", "bo"}}
	for text, want := range map[string]PersonID{ // any order: each by itself
		"2026-03-12T03:59:59Z": "wren", // 23:59:59 on the 11th there
		"2026-03-12T04:00:00Z": "bo",
		"2026-03-14T03:59:59Z": "bo",
		"2026-03-14T04:00:00Z": "wren",
	} {
		now, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		if got := shop.StandsIn("wren", now); got != want {
			t.Errorf("at %s %s stands there, want %s", text, got, want)
		}
		if got := shop.OnCall("bo", now); got != (want == "bo") {
			t.Errorf("at %s bo is on call: %v", text, got)
		}
	}
}

// A deputy who is away has one of their own; where all are away the first is turned to.
// Who is called last are the person whom the shop named and the deputies, each once.
func TestStandsIn(t *testing.T) {
	now := time.Date(2026, 3, 10, 12, 0, 0, 0, time.UTC)
	away := func(person, deputy PersonID) Away { return Away{person, "2026-03-10", "2026-03-10", deputy} }
	for _, test := range []struct {
		name   string
		call   PersonID
		away   []Away
		wren   PersonID
		called []PersonID
	}{
		{"nobody named, nobody away", "", nil, "wren", nil},
		{"named", "ada", nil, "wren", []PersonID{"ada"}},
		{"away", "", []Away{away("wren", "bo")}, "bo", nil},
		{"named and away", "ada", []Away{away("wren", "bo")}, "bo", []PersonID{"ada", "bo"}},
		{"the named one is the deputy", "bo", []Away{away("wren", "bo")}, "bo", []PersonID{"bo"}},
		{"the named one is away", "wren", []Away{away("wren", "bo")}, "bo", []PersonID{"bo"}},
		{"the deputy is away", "", []Away{away("wren", "ishaan"), away("ishaan", "bo")}, "bo", nil},
		{"each is the other's deputy", "ada", []Away{away("wren", "ishaan"), away("ishaan", "wren")}, "ishaan",
			[]PersonID{"ada", "ishaan", "wren"}},
	} {
		shop := NewShop("s")
		shop.Call, shop.Away = test.call, test.away
		if got := shop.StandsIn("wren", now); got != test.wren {
			t.Errorf("%s: %s stands in, want %s", test.name, got, test.wren)
		}
		if d := cmp.Diff(test.called, shop.CalledLast(now)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
		for _, p := range test.called {
			if !shop.OnCall(p, now) {
				t.Errorf("%s: %s is called, and may not say that they see to it", test.name, p)
			}
		}
		if shop.OnCall("chidi", now) {
			t.Errorf("%s: anybody is on call", test.name)
		}
	}
}

// What is over is not listed.
func TestAwayOf(t *testing.T) {
	s := NewShop("s")
	s.Away = []Away{{"wren", "2026-03-01", "2026-03-09", "bo"}, {"ada", "2026-03-01", "2026-03-19", "bo"},
		{"wren", "2026-03-10", "2026-03-10", "bo"}}
	got := s.AwayOf("wren", time.Date(2026, 3, 10, 12, 0, 0, 0, time.UTC))
	if d := cmp.Diff(s.Away[2:], got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A moment has the date that the shop's clocks show.
func TestDateByTheShopsClocks(t *testing.T) {
	for zone, want := range map[string]string{"UTC": "2026-03-01", "Pacific/Auckland": "2026-03-02",
		"America/New_York": "2026-03-01", "Pacific/Honolulu": "2026-03-01"} {
		shop := NewShop("s")
		shop.Zone = zone
		if got := shop.Date(time.Date(2026, 3, 1, 23, 30, 0, 0, time.UTC)); got != want {
			t.Errorf("%s: %s, want %s", zone, got, want)
		}
	}
}
