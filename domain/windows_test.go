package domain_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	. "setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

// midnight is the first moment of the day that many days after the machines came.
func midnight(n int) time.Time { return onDay(n).Truncate(24 * time.Hour) }

// The window of work by days, by hand: it opens by its early window or a quarter of its
// interval before its day, and closes the day before it is late or, without that, a
// quarter of its interval and at most a fortnight after; nothing lies before today.
func TestWindowByDays(t *testing.T) {
	for _, test := range []struct {
		name          string
		rule          profile.Rule
		due           upkeep.Due
		opens, closes int // days
		notBefore     bool
	}{
		{"forty days", profile.Rule{Days: 40}, upkeep.Due{On: midnight(40)}, 30, 50, false},
		{"eighty days: a fortnight at most", profile.Rule{Days: 80}, upkeep.Due{On: midnight(40)}, 20, 54, false},
		{"two months are sixty days", profile.Rule{Months: 2}, upkeep.Due{On: midnight(40)}, 25, 54, false},
		{"a month and ten days are forty", profile.Rule{Months: 1, Days: 10}, upkeep.Due{On: midnight(40)}, 30, 50,
			false},
		{"an early window, which counts", profile.Rule{Days: 40, EarlyDays: 5}, upkeep.Due{On: midnight(40)}, 35, 50,
			true},
		{"a late limit", profile.Rule{Days: 40, LateDays: 4}, upkeep.Due{On: midnight(40), LateOn: midnight(44)}, 30,
			43, false},
		{"from when it was due", profile.Rule{Days: 40, FromDue: true}, upkeep.Due{On: midnight(40)}, 40, 50, true},
		{"a calendar's day", profile.Rule{Calendar: "FREQ=MONTHLY"}, upkeep.Due{On: midnight(40)}, 40, 54, true},
		{"due today", profile.Rule{Days: 40}, upkeep.Due{State: upkeep.DueNow, On: midnight(0)}, 0, 10, false},
		{"due since yesterday: its slack begins today", profile.Rule{Days: 40},
			upkeep.Due{State: upkeep.DueNow, On: midnight(-1)}, 0, 10, false},
		{"due for long, late soon", profile.Rule{Days: 40, LateDays: 20},
			upkeep.Due{State: upkeep.DueNow, On: midnight(-17), LateOn: midnight(3)}, 0, 2, false},
		{"late", profile.Rule{Days: 40, LateDays: 5}, upkeep.Due{State: upkeep.Late, On: midnight(-8),
			LateOn: midnight(-3)}, 0, 0, false},
		{"late, and counts from the day on", profile.Rule{Days: 40, LateDays: 5, EarlyDays: 5},
			upkeep.Due{State: upkeep.Late, On: midnight(-8), LateOn: midnight(-3)}, 0, 0, true},
		{"within its early window", profile.Rule{Days: 40}, upkeep.Due{On: midnight(5)}, 0, 15, false},
		{"late before it may count: it counts more that it counts", profile.Rule{Days: 40, EarlyDays: 5},
			upkeep.Due{On: midnight(40), LateOn: midnight(20)}, 35, 35, true},
		{"late before it opens: it counts more that it is not late", profile.Rule{Days: 40},
			upkeep.Due{On: midnight(40), LateOn: midnight(20)}, 19, 19, false},
		{"on the last day of a quarter", profile.Rule{Days: 4}, upkeep.Due{On: midnight(91)}, 90, 92, false},
	} {
		st := Status{At: added, Shop: NewShop("s"),
			Services: []ServiceStatus{{Service: &profile.Service{ID: "work"}, Rule: test.rule, Due: test.due}}}
		want := []Wanted{{Item: item("service:work"), Opens: midnight(test.opens), Closes: midnight(test.closes),
			NotBefore: test.notBefore}}
		if d := cmp.Diff(want, Wants(st, nil)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	for name, due := range map[string]upkeep.Due{"never": {}, "only after a quarter": {On: midnight(92)}} {
		st := Status{At: added, Shop: NewShop("s"),
			Services: []ServiceStatus{{Service: &profile.Service{ID: "work"}, Rule: profile.Rule{Days: 4}, Due: due}}}
		if got := Wants(st, nil); len(got) != 0 {
			t.Errorf("due %s: %+v", name, got)
		}
	}
}

// By hours of use it opens when they have probably passed that are left but for its
// early window, and closes with the first day on which it may be late; without a late
// limit with the last on which it falls due.
func TestWindowByHours(t *testing.T) {
	learned, now := usage(func(*Status) {})
	today := now.Truncate(24 * time.Hour)
	first := func(n int64) time.Time { return learned.When(hours(n)).First }
	last := func(n int64) time.Time { return learned.When(hours(n)).Last }
	for _, test := range []struct {
		name          string
		rule          profile.Rule
		due           upkeep.Due
		opens, closes time.Time
		notBefore     bool
	}{
		{"a quarter of eight early", profile.Rule{Hours: hours(8)}, upkeep.Due{Left: hours(6)}, first(4), last(6),
			false},
		{"a quarter left", profile.Rule{Hours: hours(8)}, upkeep.Due{Left: hours(2)}, today, last(2), false},
		{"due", profile.Rule{Hours: hours(8)}, upkeep.Due{State: upkeep.DueNow, Left: hours(0)}, today,
			today.AddDate(0, 0, 14), false},
		{"late after four more", profile.Rule{Hours: hours(8), LateHours: hours(4)}, upkeep.Due{Left: hours(1)},
			today, first(5), false},
		{"late", profile.Rule{Hours: hours(8), LateHours: hours(4)}, upkeep.Due{State: upkeep.Late, Left: hours(-4)},
			today, today, false},
		{"an hour early, which counts", profile.Rule{Hours: hours(8), EarlyHours: hours(1)},
			upkeep.Due{Left: hours(6)}, first(5), last(6), true},
		{"from when it was due", profile.Rule{Hours: hours(8), FromDue: true}, upkeep.Due{Left: hours(6)}, first(6),
			last(6), true},
		{"by days, which come sooner", profile.Rule{Hours: hours(80), Days: 8},
			upkeep.Due{Left: hours(60), On: today.AddDate(0, 0, 5)}, today.AddDate(0, 0, 3), today.AddDate(0, 0, 7),
			false},
		{"by hours, which come sooner", profile.Rule{Hours: hours(8), Days: 80},
			upkeep.Due{Left: hours(6), On: today.AddDate(0, 0, 79)}, first(4), last(6), false},
	} {
		st := Status{At: now, Shop: NewShop("s"),
			Services: []ServiceStatus{{Service: &profile.Service{ID: "work"}, Rule: test.rule, Due: test.due}}}
		want := []Wanted{{Item: item("service:work"), Opens: test.opens, Closes: test.closes,
			NotBefore: test.notBefore}}
		if d := cmp.Diff(want, Wants(st, learned)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// What asks for a service wants it within a fortnight, unless it is due sooner; a
// put-off keeps it away until it runs out.
func TestWindowAskedForAndPutOff(t *testing.T) {
	asked := []Trigger{{Name: "dirt", At: added, Fact: 9}}
	off := func(n int) *PutOffBy { return &PutOffBy{PutOff: PutOff{Until: onDay(n)}} }
	for _, test := range []struct {
		name          string
		s             ServiceStatus
		opens, closes int
		notBefore     bool
	}{
		{"asked for alone", ServiceStatus{Because: asked}, 0, 14, false},
		{"asked for, due later", ServiceStatus{Because: asked, Rule: profile.Rule{Days: 40, EarlyDays: 5},
			Due: upkeep.Due{State: upkeep.DueNow, On: midnight(40)}}, 0, 14, false},
		{"asked for, due sooner", ServiceStatus{Because: asked, Rule: profile.Rule{Days: 40, EarlyDays: 5},
			Due: upkeep.Due{On: midnight(2)}}, 0, 12, true},
		{"asked for, due at the same time", ServiceStatus{Because: asked, Rule: profile.Rule{Days: 40, EarlyDays: 5},
			Due: upkeep.Due{On: midnight(4)}}, 0, 14, true},
		{"put off into its window", ServiceStatus{PutOff: off(33), Rule: profile.Rule{Days: 40},
			Due: upkeep.Due{On: midnight(40)}}, 33, 50, false},
		{"put off past its window", ServiceStatus{PutOff: off(60), Rule: profile.Rule{Days: 40},
			Due: upkeep.Due{On: midnight(40)}}, 60, 60, false},
		{"put off until before it opens", ServiceStatus{PutOff: off(20), Rule: profile.Rule{Days: 40},
			Due: upkeep.Due{On: midnight(40)}}, 30, 50, false},
		{"asked for and put off", ServiceStatus{PutOff: off(20), Because: asked}, 20, 20, false},
	} {
		test.s.Service = &profile.Service{ID: "work"}
		want := []Wanted{{Item: item("service:work"), Opens: midnight(test.opens), Closes: midnight(test.closes),
			NotBefore: test.notBefore}}
		if d := cmp.Diff(want, Wants(Status{At: added, Shop: NewShop("s"), Services: []ServiceStatus{test.s}},
			nil)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	// Put off when nothing makes it due: it is not wanted.
	s := ServiceStatus{Service: &profile.Service{ID: "work"}, PutOff: off(3)}
	if got := Wants(Status{At: added, Shop: NewShop("s"), Services: []ServiceStatus{s}}, nil); len(got) != 0 {
		t.Errorf("put off, never due: %+v", got)
	}
}

// A check is wanted by its rule; within a fortnight where it went stale or asks for its
// screws, a safety check today.
func TestWindowOfChecks(t *testing.T) {
	safety, quality := &profile.Check{ID: "k", Class: profile.Safety}, &profile.Check{ID: "k", Class: profile.Quality}
	forty := &profile.Check{ID: "k", Class: profile.Quality, Every: &profile.Rule{Days: 40, EarlyDays: 5}}
	for _, test := range []struct {
		name          string
		k             CheckStatus
		wanted        bool
		opens, closes int
		notBefore     bool
	}{
		{"in order, without a rule", CheckStatus{Check: quality, Freshness: Fresh}, false, 0, 0, false},
		{"never read", CheckStatus{Check: quality}, false, 0, 0, false},
		{"never read, not due", CheckStatus{Check: forty, Due: upkeep.Due{On: midnight(40)}}, false, 0, 0, false},
		{"never read, due", CheckStatus{Check: forty, Due: upkeep.Due{State: upkeep.DueNow, On: midnight(0)}}, true,
			0, 10, true},
		{"stale", CheckStatus{Check: quality, Freshness: Stale}, true, 0, 14, false},
		{"stale, of a safety check", CheckStatus{Check: safety, Freshness: Stale}, true, 0, 0, false},
		{"its screws want turning", CheckStatus{Check: quality, Freshness: Fresh, Advice: AdvicePlan}, true, 0, 14,
			false},
		{"and of a safety check", CheckStatus{Check: safety, Freshness: Fresh, Advice: AdviceMeasureToday}, true, 0,
			0, false},
		{"by its rule", CheckStatus{Check: forty, Freshness: Fresh, Due: upkeep.Due{On: midnight(40)}}, true, 35, 50,
			true},
		{"stale, due later", CheckStatus{Check: forty, Freshness: Stale, Due: upkeep.Due{On: midnight(40)}}, true, 0,
			14, false},
		{"stale, due sooner", CheckStatus{Check: forty, Freshness: Stale, Due: upkeep.Due{On: midnight(2)}}, true, 0,
			12, false},
	} {
		got := Wants(Status{At: added, Shop: NewShop("s"), Checks: []CheckStatus{test.k}}, nil)
		var want []Wanted
		if test.wanted {
			want = []Wanted{{Item: item("check:k"), Opens: midnight(test.opens), Closes: midnight(test.closes),
				NotBefore: test.notBefore}}
		}
		if len(got) != len(want) || len(want) == 1 && got[0] != want[0] {
			t.Errorf("%s: %+v, want %+v", test.name, got, want)
		}
	}
}

// Days are the shop's: by the clocks of Auckland it is the third already.
func TestWindowInTheShopsDays(t *testing.T) {
	shop := NewShop("s")
	shop.Zone = "Pacific/Auckland"
	at := time.Date(2026, 3, 2, 20, 0, 0, 0, time.UTC)
	got := Wants(Status{At: at, Shop: shop,
		Checks: []CheckStatus{{Check: &profile.Check{ID: "k", Class: profile.Quality}, Freshness: Stale}}}, nil)
	if day := time.Date(2026, 3, 3, 0, 0, 0, 0, shop.Location()); len(got) != 1 || !got[0].Opens.Equal(day) ||
		!got[0].Closes.Equal(day.AddDate(0, 0, 14)) {
		t.Errorf("%+v", got)
	}
}

// A service or check of a visit was done where it was reported since, at the moment
// itself too.
func TestDoneSince(t *testing.T) {
	s := bench()
	s.Services["oil"] = LastService{Fact: 20, At: onDay(2), Since: hours(0)}
	inspect(&s, "guard", 21, onDay(2), false)
	delete(s.Latest, "bed")
	st := Assess(s, onDay(5))
	for _, test := range []struct {
		of    string
		since time.Time
		fact  FactNo
		done  bool
	}{
		{"service:oil", onDay(1), 20, true}, {"service:oil", onDay(2), 20, true}, {"service:oil", onDay(2).Add(1), 20,
			false}, {"service:brake", onDay(-9), 0, false},
		{"check:guard", onDay(1), 21, true}, {"check:guard", onDay(2), 21, true}, {"check:guard", onDay(2).Add(1), 21,
			false}, {"check:bed", time.Time{}, 0, false},
		{"check:oil", onDay(1), 0, false}, {"service:guard", onDay(1), 0, false},
		{"event:crash", onDay(-9), 0, false},
	} {
		if fact, done := DoneSince(st, item(test.of), test.since); fact != test.fact || done != test.done {
			t.Errorf("%s since %v: %d, %t", test.of, test.since, fact, done)
		}
	}
	if _, done := DoneSince(st, item("service:brake"), time.Time{}); done {
		t.Error("what was never done was done since ever")
	}
}

// What a visit takes, by hand: the work itself, and once what several need: isolation,
// covers, materials, and a gauge set up on its datum.
func TestMinutesByHand(t *testing.T) {
	s := bench()
	prof := s.Machine.Profile
	prof.Service("oil").Isolated, prof.Service("oil").Off = true, []string{"hood", "lid"}
	prof.Service("brake").Isolated, prof.Service("brake").Off = true, []string{"hood"}
	prof.Check("bed").Isolated = true
	for _, test := range []struct {
		of   []string
		want int
	}{
		{nil, 0},
		{[]string{"service:tidy"}, 10},
		{[]string{"service:oil"}, 10 + 10 + 2*4 + 3},
		{[]string{"service:oil", "service:brake"}, 2*10 + 10 + 2*4 + 3},
		{[]string{"check:bed"}, 5 + 10 + 5},
		{[]string{"check:bed", "service:brake"}, 5 + 10 + 5 + 10 + 4},
		{[]string{"check:blade"}, 5 + 5},
		{[]string{"check:blade", "check:bed"}, 2*5 + 10 + 2*5}, // two datums: the gauge is set up twice
		{[]string{"check:guard"}, 5},
		{[]string{"event:crash", "check:gone"}, 0},
	} {
		if got := MinutesOf(prof, items(test.of...)); got != test.want {
			t.Errorf("%v: %d minutes, want %d", test.of, got, test.want)
		}
	}
}

// The order of work in a visit: isolated first, running last; services as listed, then
// checks along the chain; a check after what moves it or what it is measured from.
func TestOrderOfAVisit(t *testing.T) {
	s := bench()
	prof := s.Machine.Profile
	prof.Service("tension").Isolated, prof.Service("brake").Surfaces = true, []string{"blade"}
	prof.Check("cover").Isolated = true
	slices.Reverse(prof.Checks) // sound, cover, guard, gap, blade, bed
	for _, test := range []struct{ of, want []string }{
		{[]string{"service:tidy", "service:oil"}, []string{"service:oil", "service:tidy"}},
		{[]string{"check:guard", "service:oil"}, []string{"service:oil", "check:guard"}},
		{[]string{"service:oil", "service:tension"}, []string{"service:tension", "service:oil"}},
		{[]string{"check:sound", "check:guard", "check:cover"}, []string{"check:cover", "check:guard",
			"check:sound"}},
		{[]string{"service:oil", "check:cover"}, []string{"check:cover", "service:oil"}},
		{[]string{"check:gap", "check:bed", "check:blade"}, []string{"check:bed", "check:blade", "check:gap"}},
		{[]string{"check:gap", "check:bed"}, []string{"check:bed", "check:gap"}},
		{[]string{"check:gap", "check:blade", "service:brake"}, []string{"service:brake", "check:blade",
			"check:gap"}},
		{nil, nil},
	} {
		given := items(test.of...)
		if d := cmp.Diff(items(test.want...), InOrder(prof, given)); d != "" {
			t.Errorf("%v (-want +got):\n%s", test.of, d)
		}
		if d := cmp.Diff(items(test.of...), given); d != "" {
			t.Errorf("%v: what was given is changed:\n%s", test.of, d)
		}
	}
	// What is isolated waits for what it is measured from, though that is not.
	prof.Check("gap").Isolated = true
	if d := cmp.Diff(items("check:blade", "check:gap"), InOrder(prof, items("check:gap", "check:blade"))); d != "" {
		t.Errorf("an isolated check before its datum (-want +got):\n%s", d)
	}
	prof.Check("blade").Isolated = true
	if d := cmp.Diff(items("service:brake", "check:blade"),
		InOrder(prof, items("check:blade", "service:brake"))); d != "" {
		t.Errorf("an isolated check before what moves it (-want +got):\n%s", d)
	}
}

// A plan of visits, by hand: each evening's work within its window, before or after it
// where no evening lies in it, and said so.
func TestVisitsByHand(t *testing.T) {
	shop := NewShop("s")
	shop.Evenings = Evenings{Days: []time.Weekday{time.Thursday}, From: upkeep.Clock(18, 0), Minutes: 60}
	snap := bench()
	snap.Machine.ID, snap.Machine.Name = 7, "Slate"
	st := Assess(snap, added)
	other := bench()
	other.Machine.ID, other.Machine.Name = 8, "Flint"
	want := func(of string, opens, closes int) Wanted {
		return Wanted{Item: item(of), Opens: midnight(opens), Closes: midnight(closes)}
	}
	evening := func(n int) time.Time { return midnight(n).Add(18 * time.Hour) } // the third, tenth … day
	for _, test := range []struct {
		name  string
		wants [][]Wanted
		want  []Visit
	}{
		{"nothing", [][]Wanted{nil, nil}, nil},
		{"within its window", [][]Wanted{{want("service:tidy", 5, 12)}, nil},
			[]Visit{{Machine: 7, Name: "Slate", At: evening(10), Minutes: 10, Items: items("service:tidy")}}},
		{"on its first day and its last", [][]Wanted{{want("service:tidy", 10, 10)}, nil},
			[]Visit{{Machine: 7, Name: "Slate", At: evening(10), Minutes: 10, Items: items("service:tidy")}}},
		{"between two evenings: before it", [][]Wanted{{want("service:tidy", 11, 12)}, nil},
			[]Visit{{Machine: 7, Name: "Slate", At: evening(10), Minutes: 10, Items: items("service:tidy"),
				Early: items("service:tidy")}}},
		{"before the first evening: after it", [][]Wanted{{want("service:tidy", 0, 2)}, nil},
			[]Visit{{Machine: 7, Name: "Slate", At: evening(3), Minutes: 10, Items: items("service:tidy"),
				Late: items("service:tidy")}}},
		{"would not count early: after it",
			[][]Wanted{{{Item: item("service:tidy"), Opens: midnight(11), Closes: midnight(12), NotBefore: true}},
				nil},
			[]Visit{{Machine: 7, Name: "Slate", At: evening(17), Minutes: 10, Items: items("service:tidy"),
				Late: items("service:tidy")}}},
		{"opens after the last evening: not planned", [][]Wanted{{want("service:tidy", 88, 90)}, nil}, nil},
		{"two machines in one evening, in their order", [][]Wanted{{want("service:tidy", 0, 5)},
			{want("check:bed", 0, 5)}},
			[]Visit{{Machine: 7, Name: "Slate", At: evening(3), Minutes: 10, Items: items("service:tidy")},
				{Machine: 8, Name: "Flint", At: evening(3), Minutes: 10, Items: items("check:bed")}}},
		{"together, in their order",
			[][]Wanted{{want("check:blade", 0, 5), want("check:bed", 0, 5), want("service:oil", 3, 9)}, nil},
			[]Visit{{Machine: 7, Name: "Slate", At: evening(3), Minutes: 13 + 2*10,
				Items: items("service:oil", "check:bed", "check:blade")}}},
	} {
		p, err := ProposeVisits(shop, []Status{st, Assess(other, added)}, test.wants, added)
		if err != nil {
			t.Fatalf("%s: %v", test.name, err)
		}
		if d := cmp.Diff(test.want, p.Visits); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	// What it costs: two jobs of 10 minutes on one machine that share 3 of fetching oil.
	// Alone they take 26; together they take 23 and a visit 10.
	snap.Machine.Profile.Service("tidy").Material = "oil"
	proposal, err := ProposeVisits(shop, []Status{Assess(snap, added)},
		[][]Wanted{{want("service:oil", 0, 5), want("service:tidy", 0, 5)}}, added)
	if err != nil || proposal.Jobs != 2 || proposal.Alone != 26 || proposal.Out != 23 || proposal.Cost != 33 ||
		proposal.Bound != 33 || proposal.GaveUp {
		t.Errorf("%+v, %v", proposal, err)
	}
	// Two machines fetch it twice.
	proposal, err = ProposeVisits(shop, []Status{Assess(snap, added), Assess(other, added)},
		[][]Wanted{{want("service:oil", 0, 5)}, {want("service:oil", 0, 5)}}, added)
	if err != nil || proposal.Out != 26 || proposal.Alone != 26 || len(proposal.Visits) != 2 {
		t.Errorf("two machines: %+v, %v", proposal, err)
	}
	// An evening that is too short says so.
	shop.Evenings.Minutes = 5
	proposal, err = ProposeVisits(shop, []Status{st}, [][]Wanted{{want("service:tidy", 0, 5)}}, added)
	if err != nil || len(proposal.Visits) != 1 || !proposal.Visits[0].Short {
		t.Errorf("a short evening: %+v, %v", proposal, err)
	}
	shop.Evenings.Days = nil
	if _, err := ProposeVisits(shop, []Status{st}, [][]Wanted{{want("service:tidy", 0, 5)}}, added); err == nil {
		t.Error("visits without evenings")
	}
	// Of more than a plan takes those that close first are planned.
	shop.Evenings = Evenings{Days: []time.Weekday{time.Thursday}, From: upkeep.Clock(18, 0), Minutes: 6000}
	many := []Wanted{want("service:tidy", 0, 89)}
	for range upkeep.MostVisitJobs {
		many = append(many, want("check:guard", 0, 5))
	}
	proposal, err = ProposeVisits(shop, []Status{st}, [][]Wanted{many}, added)
	if err != nil || proposal.Jobs != upkeep.MostVisitJobs || len(proposal.Visits) != 1 ||
		slices.Contains(proposal.Visits[0].Items, item("service:tidy")) {
		t.Errorf("too many: %+v, %v", proposal, err)
	}
	if many[0].Item != item("service:tidy") {
		t.Error("what was wanted is put into another order")
	}
}

// Evenings ahead are those to come within a quarter, on open days, as many as a plan
// takes.
func TestEveningsByHand(t *testing.T) {
	shop := NewShop("s")
	shop.Evenings = Evenings{Days: []time.Weekday{time.Monday}, From: upkeep.Clock(8, 0)}
	if all := shop.EveningsAhead(added); len(all) != 13 || !all[0].Equal(added) || !all[12].Equal(onDay(84)) {
		t.Errorf("from the moment on: %v", all)
	}
	if all := shop.EveningsAhead(added.Add(1)); len(all) != 12 || !all[0].Equal(onDay(7)) {
		t.Errorf("a moment later: %v", all)
	}
	shop.Closed = []upkeep.Closure{{First: "2026-03-09", Last: "2026-03-09"}}
	if all := shop.EveningsAhead(added); len(all) != 12 || !all[1].Equal(onDay(14)) {
		t.Errorf("closed on the second: %v", all)
	}
	shop.Evenings.Days = []time.Weekday{0, 1, 2, 3, 4, 5, 6}
	if all := shop.EveningsAhead(added); len(all) != upkeep.MostEvenings {
		t.Errorf("every day: %d", len(all))
	}
	shop.Evenings.Days = nil
	if all := shop.EveningsAhead(added); len(all) != 0 {
		t.Errorf("none: %v", all)
	}
}
