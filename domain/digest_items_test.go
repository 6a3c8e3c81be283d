package domain_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	. "setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// saidOf is the digest of a bench of which nothing falls due by itself; that every item
// names the machine is held here.
func saidOf(t *testing.T, now time.Time, set func(*Snapshot)) (items []DigestItem, news bool) {
	t.Helper()
	snap := bench()
	snap.Machine.Profile.Services, snap.Machine.Added = nil, onDay(-1)
	for i := range snap.Machine.Profile.Checks {
		snap.Machine.Profile.Checks[i].Every = nil
	}
	set(&snap)
	items, news = Digest(Shopwide{Shop: snap.Shop, Machines: []Status{Assess(snap, now)}}, now.AddDate(0, 0, -1), now)
	for i := range items {
		if items[i].Machine != "Slate" {
			t.Errorf("an item of %q", items[i].Machine)
		}
		items[i].Machine = ""
	}
	return items, news
}

// Each kind of item that a machine's state can bring, whole, and beside it what is much
// like it and is not said.
func TestDigestOfAMachine(t *testing.T) {
	stale := func(ids ...string) func(*Snapshot) {
		return func(s *Snapshot) {
			for _, id := range ids {
				s.Moved[id] = Moved{At: onDay(1), Fact: 9}
			}
		}
	}
	for _, test := range []struct {
		name string
		now  time.Time
		set  func(*Snapshot)
		want []DigestItem
		news bool
	}{
		{"nothing", onDay(2), nothing, nil, false},
		{"tagged out for two days and more", onDay(2).Add(23 * time.Hour),
			func(s *Snapshot) { s.Tags = []Tag{{Fact: 9, At: added}, {Fact: 10, At: onDay(1)}} },
			[]DigestItem{{Code: DigestTagged, At: added, N: 2}}, true},
		{"moved, and all that is measured from it", onDay(2), stale("bed"),
			[]DigestItem{{Code: DigestStale, Name: "the bed, the blade, the gap", From: "the bed"}}, true},
		{"two surfaces moved", onDay(2), func(s *Snapshot) {
			s.Moved["gap"], s.Moved["bed"] = Moved{At: onDay(2), Fact: 10}, Moved{At: onDay(1), Fact: 9}
		}, []DigestItem{{Code: DigestStale, Name: "the bed, the blade", From: "the bed"},
			{Code: DigestStale, Name: "the gap", From: "the gap"}}, true},
		{"outside its adjust limits", onDay(2), func(s *Snapshot) { read(s, "bed", 20, added, thou(11)) },
			[]DigestItem{{Code: DigestAdjust, Name: "the bed", Fact: 20}}, true},
		{"not proved within its stop limits", onDay(2), func(s *Snapshot) { read(s, "bed", 20, added, thou(50)) },
			[]DigestItem{{Code: DigestAdjust, Name: "the bed", Fact: 20}}, true},
		{"a safety check to be measured today", onDay(2),
			func(s *Snapshot) { read(s, "blade", 20, added, thou(1100)) },
			[]DigestItem{{Code: DigestAdjust, Name: "the blade", Fact: 20}}, true},
		{"past its stop limits: its tag says that", onDay(2),
			func(s *Snapshot) { read(s, "bed", 20, added, thou(60)) }, nil, false},
		{"outside, and moved since", onDay(2),
			func(s *Snapshot) { read(s, "gap", 20, added, thou(211)); stale("gap")(s) },
			[]DigestItem{{Code: DigestStale, Name: "the gap", From: "the gap"}}, true},
		{"kept unconfirmed", onDay(2),
			func(s *Snapshot) { s.Waiting = []Latest{{Fact: 20, Check: "gap"}, {Fact: 21, Check: "bed"}} },
			[]DigestItem{{Code: DigestWaiting, Name: "the gap", Fact: 20}, {Code: DigestWaiting, Name: "the bed",
				Fact: 21}}, true},
		{"problems", onDay(2), func(s *Snapshot) {
			s.Problems = []OpenProblem{{Key: "dirt", Name: "dirt on the bed",
				First: 20, Last: 25, Reports: 3}}
		},
			[]DigestItem{{Code: DigestProblem, Name: "dirt on the bed", Fact: 20, N: 3}}, true},
		{"a set that should be back", onDay(2), func(s *Snapshot) {
			s.Sets = []BladeSet{{Fact: 9, SetMoved: SetMoved{Set: "A", Where: Out, Back: onDay(2).Add(-1)}},
				{Fact: 9, SetMoved: SetMoved{Set: "B", Where: Out, Back: onDay(2)}},
				{Fact: 9, SetMoved: SetMoved{Set: "C", Where: Out}},
				{Fact: 9, SetMoved: SetMoved{Set: "D", Where: Spare, Back: added}}}
		}, []DigestItem{{Code: DigestBack, Name: "A", At: onDay(2).Add(-1)}}, true},
		{"a set that should have been back the day before", onDay(2), func(s *Snapshot) {
			s.Sets = []BladeSet{{Fact: 9, SetMoved: SetMoved{Set: "A", Where: Out, Back: onDay(1)}}}
		}, []DigestItem{{Code: DigestBack, Name: "A", At: onDay(1)}}, false},
		{"not read for long", added.Add(LongUnread),
			func(s *Snapshot) { read(s, "bed", 20, onDay(9), thou(0)); delete(s.Latest, "sound") },
			[]DigestItem{{Code: DigestLong, Name: "the blade", N: 5}}, false},
		{"read for not so long", added.Add(LongUnread - 1), nothing, nil, false},
		{"never read, on a machine that came just now", onDay(13).Add(-1),
			func(s *Snapshot) { delete(s.Latest, "bed") }, nil, false},
		{"never read, a fortnight after it came", onDay(13), func(s *Snapshot) { delete(s.Latest, "bed") },
			[]DigestItem{{Code: DigestLong, Name: "the bed", N: 1}}, false},
		{"never read, and only a danger asks for it", onDay(13), func(s *Snapshot) {
			delete(s.Latest, "bed")
			s.Machine.Profile.Check("bed").OnDemand = true
		}, nil, false},
		{"never read, with an interval of its own", onDay(13), func(s *Snapshot) {
			delete(s.Latest, "guard")
			s.Machine.Profile.Check("guard").Every = &profile.Rule{Days: 100}
		}, nil, false},
		{"not read for long, and outside its limits", added.Add(LongUnread), func(snap *Snapshot) {
			for _, c := range snap.Machine.Profile.Checks {
				l := snap.Latest[c.ID]
				l.At = onDay(100)
				snap.Latest[c.ID] = l
			}
			read(snap, "bed", 20, added, thou(11))
		}, []DigestItem{{Code: DigestAdjust, Name: "the bed", Fact: 20}}, true},
	} {
		got, news := saidOf(t, test.now, test.set)
		if d := cmp.Diff(test.want, got, cmpopts.EquateEmpty()); d != "" || news != test.news {
			t.Errorf("%s: news %t (-want +got):\n%s", test.name, news, d)
		}
	}
}

// What falls due is spoken of before, a number of days by its class and at most a fifth of
// its interval, or with such a part of its hours left.
func TestDigestLeadTimes(t *testing.T) {
	day := func(n int) time.Time { return onDay(n).Truncate(24 * time.Hour) }
	soon := func(on time.Time) []DigestItem { return []DigestItem{{Code: DigestSoon, Name: "the work", At: on}} }
	byHours := func(code DigestCode, minutes int64) []DigestItem {
		return []DigestItem{{Code: code, Name: "the work", Left: quantity.New(minutes, 1, quantity.Minute)}}
	}
	for _, test := range []struct {
		name  string
		class profile.ServiceClass
		every profile.Rule
		now   time.Time
		used  int64 // minutes
		want  []DigestItem
	}{
		{"routine, two days before", profile.RoutineService, profile.Rule{Days: 50}, day(48), 0, soon(day(50))},
		{"routine, hardly sooner", profile.RoutineService, profile.Rule{Days: 50}, day(48).Add(-1), 0, nil},
		{"important, five days before", profile.ImportantService, profile.Rule{Days: 50}, day(45), 0, soon(day(50))},
		{"important, hardly sooner", profile.ImportantService, profile.Rule{Days: 50}, day(45).Add(-1), 0, nil},
		{"safety, seven days before", profile.SafetyService, profile.Rule{Days: 50}, day(43), 0, soon(day(50))},
		{"safety, hardly sooner", profile.SafetyService, profile.Rule{Days: 50}, day(43).Add(-1), 0, nil},
		{"a fifth of ten days", profile.SafetyService, profile.Rule{Days: 10}, day(8), 0, soon(day(10))},
		{"hardly sooner than a fifth of ten days", profile.SafetyService, profile.Rule{Days: 10}, day(8).Add(-1), 0,
			nil},
		{"less than a day of four", profile.RoutineService, profile.Rule{Days: 4}, day(3), 0, nil},
		{"a month is thirty days: six of them", profile.SafetyService, profile.Rule{Months: 1}, day(31 - 6), 0,
			soon(day(31))}, // 2 April
		{"hardly sooner than six of a month", profile.SafetyService, profile.Rule{Months: 1}, day(31 - 6).Add(-1), 0,
			nil},
		{"six of a calendar's", profile.SafetyService, profile.Rule{Calendar: "FREQ=MONTHLY;BYMONTHDAY=2"},
			day(31 - 6), 0, soon(day(31))},
		{"hardly sooner than six of a calendar's", profile.SafetyService,
			profile.Rule{Calendar: "FREQ=MONTHLY;BYMONTHDAY=2"}, day(31 - 6).Add(-1), 0, nil},
		{"due", profile.RoutineService, profile.Rule{Days: 50, LateDays: 5}, day(50), 0,
			[]DigestItem{{Code: DigestDue, Name: "the work"}}},
		{"late", profile.RoutineService, profile.Rule{Days: 50, LateDays: 5}, day(55), 0,
			[]DigestItem{{Code: DigestLate, Name: "the work"}}},
		{"routine, a tenth of its hours left", profile.RoutineService, profile.Rule{Hours: hours(10)}, day(1), 540,
			byHours(DigestSoon, 60)},
		{"routine, hardly more", profile.RoutineService, profile.Rule{Hours: hours(10)}, day(1), 539, nil},
		{"important, a fifth left", profile.ImportantService, profile.Rule{Hours: hours(10)}, day(1), 480,
			byHours(DigestSoon, 120)},
		{"important, hardly more", profile.ImportantService, profile.Rule{Hours: hours(10)}, day(1), 479, nil},
		{"safety, a fifth left", profile.SafetyService, profile.Rule{Hours: hours(10)}, day(1), 480,
			byHours(DigestSoon, 120)},
		{"safety, hardly more", profile.SafetyService, profile.Rule{Hours: hours(10)}, day(1), 479, nil},
		{"due by its hours", profile.RoutineService, profile.Rule{Hours: hours(10)}, day(1), 660,
			byHours(DigestDue, -60)},
	} {
		got, _ := saidOf(t, test.now, func(s *Snapshot) {
			s.Machine.Added, s.Hours = added, quantity.New(test.used, 1, quantity.Minute)
			s.Machine.Profile.Services = []profile.Service{{ID: "work", Name: "the work", Class: test.class,
				Every: test.every}}
		})
		if d := cmp.Diff(test.want, got, cmpopts.EquateEmpty()); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
	// A check is spoken of as a service of its class would be: routine, or safety.
	for _, test := range []struct {
		class profile.Class
		now   time.Time
		want  []DigestItem
	}{{profile.Quality, day(48), soon(day(50))}, {profile.Quality, day(48).Add(-1), nil},
		{profile.Safety, day(43), soon(day(50))}, {profile.Safety, day(43).Add(-1), nil},
		{profile.Quality, day(50), []DigestItem{{Code: DigestDue, Name: "the work"}}}} {
		got, _ := saidOf(t, test.now, func(s *Snapshot) {
			s.Machine.Profile.Checks = []profile.Check{{ID: "work", Name: "the work", Class: test.class,
				Inspection: true, Every: &profile.Rule{Days: 50}}}
			inspect(s, "work", 9, added, true)
		})
		if d := cmp.Diff(test.want, got, cmpopts.EquateEmpty()); d != "" {
			t.Errorf("a %s check at %v (-want +got):\n%s", test.class, test.now, d)
		}
	}
	// What is put off is not spoken of.
	got, _ := saidOf(t, day(60), func(s *Snapshot) {
		s.Machine.Profile.Services = []profile.Service{{ID: "work", Name: "the work", Every: profile.Rule{Days: 50}}}
		s.PutOff["work"] = PutOffBy{Fact: 9, At: added, PutOff: PutOff{Service: "work", Until: day(61)}}
	})
	if len(got) != 0 {
		t.Errorf("put off: %+v", got)
	}
	if _, news := saidOf(t, day(48), func(s *Snapshot) {
		s.Machine.Added, s.Machine.Profile.Services = added,
			[]profile.Service{{ID: "work", Name: "the work", Class: profile.RoutineService,
				Every: profile.Rule{Days: 50}}}
	}); !news {
		t.Error("on the day on which its lead time begins it is no news")
	}
	if _, news := saidOf(t, day(49).Add(1), func(s *Snapshot) {
		s.Machine.Added, s.Machine.Profile.Services = added,
			[]profile.Service{{ID: "work", Name: "the work", Class: profile.RoutineService,
				Every: profile.Rule{Days: 50}}}
	}); news {
		t.Error("a day after it is still news")
	}
}

// What is of the shop and not of one machine: calibrations that have run out, visits
// planned for today with what is left of them, and what must be bought.
func TestDigestOfTheShop(t *testing.T) {
	snap := bench()
	snap.Shop.Zone = "Europe/Berlin"
	snap.Services["oil"] = LastService{Fact: 20, At: onDay(1), Since: hours(0)}
	st := Assess(snap, onDay(2))
	st.Services, st.Checks = slices.Clone(st.Services), st.Checks[:3]
	now := onDay(2) // 09:00 in Berlin
	visit := func(machine MachineID, at time.Time, texts ...string) Visit {
		return Visit{Machine: machine, At: at,
			Items: items(texts...)}
	}
	for _, test := range []struct {
		name string
		shop func(*Shopwide)
		want []DigestItem
		news bool
	}{
		{"nothing", func(*Shopwide) {}, nil, false},
		{"a calibration that ran out this morning", func(w *Shopwide) {
			w.Gauges = []OwnGauge{{GaugeUsed: GaugeUsed{Name: "dial", Calibrated: now.AddDate(0, 0, -30),
				Interval: 30}}, {GaugeUsed: GaugeUsed{Name: "caliper", Calibrated: now.AddDate(0, 0, -30),
				Interval: 31}},
				{GaugeUsed: GaugeUsed{Name: "rule", Calibrated: now.AddDate(-9, 0, 0)}},
				{GaugeUsed: GaugeUsed{Name: "feelers", Interval: 30}}}
		}, []DigestItem{{Code: DigestGauge, Name: "dial", At: now}}, true},
		{"one that ran out before", func(w *Shopwide) {
			w.Gauges = []OwnGauge{{GaugeUsed: GaugeUsed{Name: "dial", Calibrated: now.AddDate(0, 0, -31),
				Interval: 30}}}
		}, []DigestItem{{Code: DigestGauge, Name: "dial", At: now.AddDate(0, 0, -1)}}, false},
		{"to buy since this morning", func(w *Shopwide) {
			w.Shelf = []Shelf{{Fact: 9, At: now.Add(-time.Hour), Name: "oil", Left: 2, Buy: 2},
				{Fact: 9, At: now, Name: "wax", Left: 3, Buy: 2}}
		}, []DigestItem{{Code: DigestBuy, Name: "oil", N: 2}}, true},
		{"to buy for long", func(w *Shopwide) {
			w.Shelf = []Shelf{{Fact: 9, At: onDay(-9), Name: "oil", Left: 0,
				Buy: 2}}
		}, []DigestItem{{Code: DigestBuy, Name: "oil"}}, false},
		{"a visit today", func(w *Shopwide) {
			w.Visits.Visits = []Visit{visit(1, now.Add(time.Hour), "service:oil",
				"check:bed")}
		},
			[]DigestItem{{Code: DigestVisit, Machine: "Slate", At: now.Add(time.Hour), N: 2}}, true},
		{"a visit now", func(w *Shopwide) { w.Visits.Visits = []Visit{visit(1, now, "service:oil")} },
			[]DigestItem{{Code: DigestVisit, Machine: "Slate", At: now, N: 1}}, true},
		{"a visit that began", func(w *Shopwide) { w.Visits.Visits = []Visit{visit(1, now.Add(-1), "service:oil")} },
			nil, false},
		{"a visit tonight, by the shop's clocks tomorrow",
			func(w *Shopwide) { w.Visits.Visits = []Visit{visit(1, now.Add(15*time.Hour), "service:oil")} }, nil,
			false},
		{"a visit late tonight", func(w *Shopwide) {
			w.Visits.Visits = []Visit{visit(1,
				now.Add(15*time.Hour-time.Minute), "service:oil")}
		},
			[]DigestItem{{Code: DigestVisit, Machine: "Slate", At: now.Add(15*time.Hour - time.Minute), N: 1}}, true},
		{"a visit of which a part was done since it was planned", func(w *Shopwide) {
			w.Planned = onDay(1)
			w.Visits.Visits = []Visit{visit(1, now.Add(time.Hour), "service:oil", "check:bed", "check:gap")}
		}, []DigestItem{{Code: DigestVisit, Machine: "Slate", At: now.Add(time.Hour), N: 2}}, true},
		{"a visit of which all was done", func(w *Shopwide) {
			w.Planned = onDay(1)
			w.Visits.Visits = []Visit{visit(1, now.Add(time.Hour), "service:oil")}
		}, nil, false},
		{"a visit to a machine that is no more",
			func(w *Shopwide) { w.Visits.Visits = []Visit{visit(2, now.Add(time.Hour), "service:oil")} }, nil, false},
	} {
		w := Shopwide{Shop: snap.Shop, Machines: []Status{st}, Planned: onDay(2)}
		test.shop(&w)
		got, news := Digest(w, now.AddDate(0, 0, -1), now)
		if d := cmp.Diff(test.want, got, cmpopts.EquateEmpty()); d != "" || news != test.news {
			t.Errorf("%s: news %t (-want +got):\n%s", test.name, news, d)
		}
	}
}

// The gravest comes first, whatever machine it is of; alike ones in the machines' order.
func TestDigestOrder(t *testing.T) {
	now := onDay(8) // the guard is due
	one, two := bench(), bench()
	one.Machine.Name, two.Machine.Name = "One", "Two"
	one.Sets = []BladeSet{{Fact: 9, SetMoved: SetMoved{Set: "A", Where: Out, Back: added}}}
	two.Tags = []Tag{{Fact: 9, At: added}}
	one.Waiting, two.Waiting = []Latest{{Fact: 20, Check: "gap"}}, []Latest{{Fact: 21, Check: "gap"}}
	two.Problems = []OpenProblem{{Key: "dirt", Name: "dirt", First: 22, Reports: 1}}
	two.Hours = hours(48) // the oil and the tension due, the brake late
	read(&two, "bed", 23, added, thou(11))
	two.Moved["gap"] = Moved{At: onDay(1), Fact: 24}
	one.Hours = hours(15) // the tension and the oil: due soon, and due
	one.Services["oil"] = LastService{Fact: 9, At: added, Since: hours(0)}
	delete(two.Latest, "sound")
	two.Machine.Added = onDay(-30)
	w := Shopwide{Shop: one.Shop, Machines: []Status{Assess(one, now), Assess(two, now)},
		Gauges: []OwnGauge{{GaugeUsed: GaugeUsed{Name: "dial", Calibrated: added, Interval: 1}}},
		Shelf:  []Shelf{{Name: "oil", At: added}},
		Visits: VisitsPlanned{[]Visit{{Machine: 1, At: now, Items: items("check:bed")}}}, Planned: now}
	items, _ := Digest(w, added, now)
	var got []string
	for _, i := range items {
		got = append(got, string(i.Code)+" "+i.Machine)
	}
	want := []string{"tagged Two", "late Two", "due One", "due Two", "due Two", "due Two", "due Two", "adjust Two",
		"stale Two", "waiting One", "waiting Two", "problem Two", "visit One",
		"soon One", "back One", "gauge ", "buy ", "long Two"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A digest goes out where something is pressing or new, and once a week (from Monday)
// where something is said at all; its key is the day on the shop's clocks.
func TestDigestNotice(t *testing.T) {
	buy := []Shelf{{Fact: 9, At: onDay(-9), Name: "oil"}}
	pressing := func(s *Snapshot) { s.Tags = []Tag{{Fact: 9, At: onDay(-9)}} }
	monday, tuesday := onDay(7), onDay(8)
	for _, test := range []struct {
		name       string
		set        func(*Snapshot)
		shelf      []Shelf
		since, now time.Time
		ok         bool
	}{
		{"nothing to say, on a Monday", nothing, nil, onDay(6), monday, false},
		{"nothing new, on a Monday", nothing, buy, onDay(6), monday, true},
		{"nothing new, on a Tuesday", nothing, buy, monday, tuesday, false},
		{"nothing new, on a Tuesday, the first in a week", nothing, buy, onDay(1), tuesday, true},
		{"pressing", pressing, nil, monday, tuesday, true},
		{"new since the last", nothing, []Shelf{{Fact: 9, At: monday.Add(1), Name: "oil"}}, monday, tuesday, true},
		{"new at the moment of the last", nothing, []Shelf{{Fact: 9, At: monday, Name: "oil"}}, monday, tuesday,
			false},
		{"new now", nothing, []Shelf{{Fact: 9, At: tuesday, Name: "oil"}}, monday, tuesday, true},
		{"typed for a time to come", nothing, []Shelf{{Fact: 9, At: tuesday.Add(1), Name: "oil"}}, monday, tuesday,
			false},
	} {
		snap := bench()
		snap.Machine.Profile.Services = nil
		for i := range snap.Machine.Profile.Checks {
			snap.Machine.Profile.Checks[i].Every = nil
		}
		test.set(&snap)
		notice, ok := DigestNotice(Shopwide{Shop: snap.Shop, Machines: []Status{Assess(snap, test.now)},
			Shelf: test.shelf},
			NoticeArgs{}, test.since,
			test.now)
		if ok != test.ok {
			t.Errorf("%s: %t", test.name, ok)
		}
		if notice.Key != "digest/"+test.now.Format(time.DateOnly) || notice.Op != Post || notice.Topic != TopicDigest ||
			notice.Machine != 0 || notice.Args.V != NoticeVersion || !notice.Args.At.Equal(test.now) ||
			notice.Args.Units != quantity.Metric {
			t.Errorf("%s: %+v", test.name, notice)
		}
		if got := len(notice.Args.Digest); (got > 0) != (test.shelf != nil || len(snap.Tags) > 0) {
			t.Errorf("%s: %d items", test.name, got)
		}
	}
	// On the shop's clocks it is Tuesday, and Monday by UTC; the week turns with them.
	shop := NewShop("s")
	shop.Zone = "Pacific/Auckland"
	at := time.Date(2026, 3, 8, 20, 0, 0, 0, time.UTC)
	n, ok := DigestNotice(Shopwide{Shop: shop, Shelf: buy}, NoticeArgs{}, at.AddDate(0, 0, -1), at)
	if n.Key != "digest/2026-03-09" || !ok {
		t.Errorf("in Auckland: %s, %t", n.Key, ok)
	}
	if _, ok := DigestNotice(Shopwide{Shop: shop, Shelf: buy}, NoticeArgs{}, at, at.AddDate(0, 0, 1)); ok {
		t.Error("in Auckland it is said on a Tuesday too")
	}
	// The same week of another year is another week.
	if _, ok := DigestNotice(Shopwide{Shop: NewShop("s"), Shelf: buy}, NoticeArgs{},
		time.Date(2025, 3, 4, 9, 0, 0, 0, time.UTC),
		time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC)); !ok {
		t.Error("a year later it is not said")
	}
}

// By hand: the clocks of Berlin go on at 02:00 on 29 March 2026 and back at 03:00 on 25
// October.
func TestDigestAcrossTheChangeOfClocks(t *testing.T) {
	shop := NewShop("s")
	shop.Zone = "Europe/Berlin"
	utc := func(m time.Month, d, hh, mm int) time.Time { return time.Date(2026, m, d, hh, mm, 0, 0, time.UTC) }
	for _, test := range []struct {
		digest            upkeep.TimeOfDay
		days              []time.Weekday
		after, next, last time.Time // last is the one before after
	}{
		{upkeep.Clock(9, 0), nil, utc(3, 28, 8, 0), utc(3, 29, 7, 0), utc(3, 27, 8, 0)},
		{upkeep.Clock(9, 0), nil, utc(3, 29, 7, 0), utc(3, 30, 7, 0), utc(3, 28, 8, 0)},
		{upkeep.Clock(9, 0), nil, utc(3, 29, 6, 59), utc(3, 29, 7, 0), utc(3, 28, 8, 0)},
		{upkeep.Clock(2, 30), nil, utc(3, 28, 12, 0), utc(3, 29, 1, 30), utc(3, 28, 1, 30)},
		{upkeep.Clock(2, 30), nil, utc(10, 24, 12, 0), utc(10, 25, 0, 30), utc(10, 24, 0, 30)},
		{upkeep.Clock(2, 30), nil, utc(10, 25, 0, 30), utc(10, 26, 1, 30), utc(10, 24, 0, 30)},
		{upkeep.Clock(9, 0), []time.Weekday{time.Sunday}, utc(3, 29, 7, 0), utc(4, 5, 7, 0), utc(3, 22, 8, 0)},
		{upkeep.Clock(9, 0), []time.Weekday{time.Sunday}, utc(3, 29, 7, 1), utc(4, 5, 7, 0), utc(3, 29, 7, 0)},
	} {
		shop.Digest, shop.Days = test.digest, test.days
		if next, last := NextDigest(shop, test.after), LastDigest(shop, test.after); !next.Equal(test.next) ||
			!last.Equal(test.last) {
			t.Errorf("%v on %v around %v: last %v, next %v; want %v, %v", test.digest, test.days, test.after,
				last.UTC(),
				next.UTC(), test.last, test.next)
		}
	}
	// Days that no week has leave none.
	shop.Days = []time.Weekday{9}
	if next := NextDigest(shop, added); !next.IsZero() {
		t.Errorf("on no day at all: %v", next)
	}
}

// Quiet hours begin at their first minute and end at their last, past midnight or not.
func TestQuietHours(t *testing.T) {
	shop := NewShop("s")
	utc := func(d, hh, mm int) time.Time { return time.Date(2026, 3, d, hh, mm, 0, 0, time.UTC) }
	for _, test := range []struct {
		quiet      Quiet
		now, until time.Time
	}{
		{Quiet{upkeep.Clock(22, 0), upkeep.Clock(7, 0)}, utc(3, 21, 59), time.Time{}},
		{Quiet{upkeep.Clock(22, 0), upkeep.Clock(7, 0)}, utc(3, 22, 0), utc(4, 7, 0)},
		{Quiet{upkeep.Clock(22, 0), upkeep.Clock(7, 0)}, utc(4, 6, 59), utc(4, 7, 0)},
		{Quiet{upkeep.Clock(22, 0), upkeep.Clock(7, 0)}, utc(4, 7, 0), time.Time{}},
		{Quiet{upkeep.Clock(12, 0), upkeep.Clock(14, 0)}, utc(4, 12, 0), utc(4, 14, 0)},
		{Quiet{upkeep.Clock(12, 0), upkeep.Clock(14, 0)}, utc(4, 14, 0), time.Time{}},
		{Quiet{upkeep.Clock(12, 0), upkeep.Clock(12, 0)}, utc(4, 12, 0), time.Time{}},
		{Quiet{}, utc(4, 0, 0), time.Time{}},
	} {
		shop.Quiet = test.quiet
		if got := shop.QuietUntil(test.now); !got.Equal(test.until) {
			t.Errorf("%v at %v: until %v, want %v", test.quiet, test.now, got, test.until)
		}
	}
}

// A digest calls the stewards for what is new or worse since that of the day before,
// otherwise once a week; what is not pressing, and what took its machine out of service
// by itself, calls nobody again.
func TestDigestCalls(t *testing.T) {
	sunday, monday := onDay(6).Add(time.Hour), onDay(7).Add(time.Hour)
	problem := func(reports int) DigestItem {
		return DigestItem{Code: DigestProblem, Machine: "Slate", Name: "dirt on the bed", Fact: 20, N: reports}
	}
	var (
		due   = DigestItem{Code: DigestDue, Machine: "Slate", Name: "the guard"}
		late  = DigestItem{Code: DigestLate, Machine: "Slate", Name: "the guard"}
		stale = DigestItem{Code: DigestStale, Machine: "Slate", Name: "the gap, the guard", From: "the blade"}
	)
	at := func(day int, hour int) func(*Snapshot) { // the guard was passed so long before
		return func(s *Snapshot) {
			inspect(s, "guard", 20, monday.AddDate(0, 0, -day).Add(-time.Duration(hour)*time.Hour), true)
		}
	}
	tagged := func(name string) func(*Snapshot) {
		return func(s *Snapshot) {
			at(12, 0)(s)
			s.Tags = []Tag{{Fact: 21, At: sunday, Reason: Reason{Code: CheckOverdue, Name: name}}}
		}
	}
	dirt := func(reports int) func(*Snapshot) {
		return func(s *Snapshot) {
			at(1, 0)(s)
			s.Problems = []OpenProblem{{Key: "dirt", Name: "dirt on the bed", First: 20, Last: 22,
				At: sunday, LastAt: monday,
				Reports: reports, Symptom: "dirt"}}
		}
	}
	moved := func(s *Snapshot) {
		at(1, 0)(s)
		s.Moved["blade"] = Moved{At: sunday, Fact: 20}
		read(s, "blade", 21, monday, thou(1000))
	}
	for _, test := range []struct {
		name   string
		set    func(*Snapshot)
		before []DigestItem
		pinged time.Time // when they were called last
		calls  bool
	}{
		{"due, said yesterday", at(8, 0), []DigestItem{due}, sunday, false},
		{"due, new", at(8, 0), nil, sunday, true},
		{"due, of another machine", at(8, 0), []DigestItem{{Code: DigestDue, Machine: "Marble",
			Name: "the guard"}}, sunday,
			true},
		{"due, when another was", at(8, 0), []DigestItem{{Code: DigestDue, Machine: "Slate",
			Name: "the cover"}}, sunday,
			true},
		{"late, due yesterday: worse", at(12, 0), []DigestItem{due}, sunday, true},
		{"late, late yesterday", at(12, 0), []DigestItem{late}, sunday, false},
		{"due, late yesterday: it was extended", at(8, 0), []DigestItem{late}, sunday, false},
		{"due, falls due soon yesterday", at(8, 0), []DigestItem{{Code: DigestSoon, Machine: "Slate",
			Name: "the guard"}},
			sunday, true},
		{"falls due soon, new", at(6, 0), nil, sunday, false},
		{"late, and out of service for it", tagged("the guard"), []DigestItem{due}, sunday, false},
		{"late, and out of service for another", tagged("the cover"), []DigestItem{due}, sunday, true},
		{"a problem, said yesterday", dirt(2), []DigestItem{problem(2)}, sunday, false},
		{"a problem, reported again", dirt(3), []DigestItem{problem(2)}, sunday, true},
		{"a problem, when another was", dirt(2), []DigestItem{{Code: DigestProblem, Machine: "Slate", Fact: 19, N: 2}},
			sunday, true},
		{"stale, fewer than yesterday", moved, []DigestItem{stale}, sunday, false},
		{"stale, and more than yesterday", moved,
			[]DigestItem{{Code: DigestStale, Machine: "Slate", Name: "the guard", From: "the blade"}}, sunday, true},
		{"nothing new, six days after", at(8, 0), []DigestItem{due}, monday.AddDate(0, 0, -6), false},
		{"nothing new, a week after", at(8, 0), []DigestItem{due}, monday.AddDate(0, 0, -7).Add(13 * time.Hour), true},
		{"nothing new, of a version that did not say when", at(8, 0), []DigestItem{due}, time.Time{}, false},
	} {
		snap := bench()
		snap.Machine.Profile.Services = nil
		snap.Machine.Profile.Check("cover").Every = nil
		test.set(&snap)
		before := NoticeArgs{At: sunday, Digest: test.before, Pinged: test.pinged}
		notice, ok := DigestNotice(Shopwide{Shop: snap.Shop, Machines: []Status{Assess(snap, monday)}}, before,
			sunday, monday)
		if got := notice.Args.Pings; got != test.calls || !ok {
			t.Errorf("%s: calls %t, said %t", test.name, got, ok)
		}
		if want := test.pinged; !test.calls && !want.IsZero() && !notice.Args.Pinged.Equal(want) {
			t.Errorf("%s: called last %v, want %v", test.name, notice.Args.Pinged, want)
		}
	}
	snap := bench()
	at(8, 0)(&snap)
	before := NoticeArgs{At: sunday.AddDate(0, 0, -1), Digest: []DigestItem{due}, Pinged: sunday.AddDate(0, 0, -1)}
	if n, _ := DigestNotice(Shopwide{Shop: snap.Shop, Machines: []Status{Assess(snap, monday)}}, before, sunday,
		monday); !n.Args.Pings {
		t.Error("due again two days later: nobody is called")
	}
	// The first digest of all calls for what is pressing; the week counts from it even so.
	for hour, calls := range map[int]bool{8 * 24: true, 6 * 24: false} {
		at(0, hour)(&snap)
		n, ok := DigestNotice(Shopwide{Shop: snap.Shop, Machines: []Status{Assess(snap, monday)}}, NoticeArgs{}, sunday,
			monday)
		if n.Args.Pings != calls || !ok || !n.Args.Pinged.Equal(monday) {
			t.Errorf("the first, %d h after: calls %t, said %t, %v", hour, n.Args.Pings, ok, n.Args.Pinged)
		}
	}
}
