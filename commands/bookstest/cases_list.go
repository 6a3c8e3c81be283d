package bookstest

import (
	"slices"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// listCases are about what is listed, its order and its bounds.
var listCases = []Case{
	{"machines by name", "people look for a name without regard to case", func(s *shop) {
		for _, name := range []string{"beta", "Gamma", "Alpha"} {
			s.tell(0, 0, domain.MachineAdded{Name: name, Setup: s.setup()})
		}
		gone := s.tell(0, 0, domain.MachineAdded{Name: "delta", Setup: s.setup()}).Fact.Machine
		s.tell(1, gone, domain.MachineRetired{})
		all, err := s.Machines(s.ctx)
		s.fails("machines", err)
		var names []string
		for _, m := range all {
			names = append(names, m.Name)
			if m.Profile == nil || m.Profile.Check("infeed") == nil {
				s.Errorf("%s has no profile", m.Name)
			}
		}
		if !slices.Equal(names, []string{"Alpha", "beta", "Gamma"}) {
			s.Errorf("machines %v", names)
		}
	}},
	{"gauges by name", "a gauge set again is changed, not doubled", func(s *shop) {
		for i, name := range []string{"feelers", "Dial", "caliper", "dIAL"} {
			s.tell(float64(i), 0, domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: name}}})
		}
		all, err := s.Gauges(s.ctx)
		var names []string
		for _, g := range all {
			names = append(names, g.Name)
		}
		if err != nil || !slices.Equal(names, []string{"caliper", "dIAL", "feelers"}) {
			s.Errorf("gauges %v, %v", names, err)
		}
	}},
	{"a person's last report", "undo takes back what its member typed last, and nothing of others", func(s *shop) {
		m := s.planer("Marble")
		early := s.tell(5, m, hours(1)).Fact.No
		late := s.entry(6, m, hours(1)) // typed last of all, of what happened first
		late.At = after(2)
		last := s.report(late).Fact.No
		others := s.entry(7, m, hours(1))
		others.By = "bo"
		s.report(others)
		s.tell(8, 0, domain.ShopSet{Shop: domain.NewShop("one")}) // settings are changed again, not taken back
		by := func(want domain.FactNo) {
			s.Helper()
			if f, err := s.LastBy(s.ctx, "ada"); err != nil || f.No != want {
				s.Errorf("ada's last report is no. %d, %v; want no. %d", f.No, err, want)
			}
		}
		by(last)
		s.tell(9, 0, domain.Withdrawal{Of: last})
		by(early)
		_, err := s.LastBy(s.ctx, "chidi")
		s.refused("of somebody who has reported nothing", err, domain.NothingToUndo)
	}},
	{"what a person reported lately", "it is offered again, newest first, and never what was taken back",
		func(s *shop) {
			m := s.planer("Marble")
			first := s.tell(1, m, hours(1)).Fact.No
			second := s.tell(3, m, domain.Problem{Symptom: "snipe", Name: "snipe"}).Fact.No
			wrong := s.tell(4, m, hours(1)).Fact.No
			s.tell(5, 0, domain.StockCounted{Name: "oil", Left: 1}) // of no machine
			undo := s.tell(6, 0, domain.Withdrawal{Of: wrong}).Fact.No
			facts, err := s.Recent(s.ctx, "ada", 3)
			if got := numbers(facts); err != nil || !slices.Equal(got, []domain.FactNo{undo, second, first}) {
				s.Errorf("lately %v, %v; want %v", got, err, []domain.FactNo{undo, second, first})
			}
		}},
	{"a logbook in pages", "each page goes on where the one before it ended, with what was withdrawn", func(s *shop) {
		planer := s.planer("Marble")
		other := s.planer("Slate")
		for i := range 5 {
			s.tell(float64(2*i+1), planer, hours(1))
			s.tell(float64(2*i+1), other, hours(1))
		}
		wrong := s.newest(planer)
		s.tell(20, 0, domain.Withdrawal{Of: wrong})
		whole, err := s.Logbook(s.ctx, planer, 0, 1000)
		s.fails("the logbook", err)
		var paged []domain.Fact
		for before := domain.FactNo(0); ; {
			page, err := s.Logbook(s.ctx, planer, before, 4)
			s.fails("a page", err)
			if len(page) == 0 {
				break
			}
			if len(page) > 4 {
				s.Fatalf("a page of %d", len(page))
			}
			paged = append(paged, page...)
			before = page[len(page)-1].No
		}
		if !slices.Equal(numbers(whole), numbers(paged)) {
			s.Errorf("pages %v of %v", numbers(paged), numbers(whole))
		}
		if len(whole) < 7 || !slices.IsSortedFunc(whole, func(a, b domain.Fact) int { return int(b.No - a.No) }) {
			s.Errorf("not the newest first: %v", numbers(whole))
		}
		if !slices.Contains(numbers(whole), wrong) || slices.ContainsFunc(whole,
			func(f domain.Fact) bool { return f.Machine != planer }) {
			s.Errorf("without what was withdrawn, or with another machine's: %v", numbers(whole))
		}
	}},
	{"runs from a moment until before another", "a run at midnight belongs to one day, not to two or none",
		func(s *shop) {
			planer := s.planer("Marble")
			other := s.planer("Slate")
			var want []domain.FactNo
			for _, at := range []float64{30, 10, 20} { // typed in any order
				e := s.entry(40, planer, domain.Hours{Seconds: int64(at)})
				e.At = after(at)
				want = append(want, s.report(e).Fact.No)
			}
			wrong := s.tell(15, planer, hours(1)).Fact.No
			s.tell(41, 0, domain.Withdrawal{Of: wrong})
			s.tell(15, other, hours(1))
			check := func(from, until float64, want ...domain.FactNo) {
				s.Helper()
				runs, err := s.Runs(s.ctx, planer, after(from), after(until))
				s.fails("runs", err)
				var got []domain.FactNo
				for _, r := range runs {
					got = append(got, r.Fact)
					if r.For != "ada" || r.Until.Sub(start) != r.Used*3600 {
						s.Errorf("a run %+v", r)
					}
				}
				if !slices.Equal(got, want) {
					s.Errorf("from %g until %g h: %v, want %v", from, until, got, want)
				}
				sessions, err := s.Sessions(s.ctx, after(from), after(until))
				if err != nil || sessions[planer] != len(want) {
					s.Errorf("from %g until %g h: %d sessions, %v; want %d", from, until, sessions[planer], err,
						len(want))
				}
			}
			check(10, 30, want[1], want[2])
			check(10.001, 30.001, want[2], want[0])
			check(0, 100, want[1], want[2], want[0])
			check(20, 20)
		}},
	{"readings with the use between them", "drift is followed over hours of use, by when it was read", func(s *shop) {
		planer := s.planer("Marble")
		for i, thou := range []int64{41, 42, 43} {
			at := float64(10 * (i + 1))
			s.tell(at, planer, s.infeed(planer, thou))
			s.tell(at+1, planer, hours(2))
		}
		all, now, err := s.Readings(s.ctx, planer, "infeed", after(10))
		if err != nil || len(all) != 3 || all[0].Hours != 0 || all[1].Hours != 2 || all[2].Hours != 4 || now != 6 {
			s.Fatalf("%d readings, %g h until now, %v", len(all), now, err)
		}
		if !all[0].At.Equal(after(10)) || !all[2].Values[0].Mean().Equal(quantity.New(43, 1, quantity.Thou)) {
			s.Errorf("readings %+v", all)
		}
		if all, now, err = s.Readings(s.ctx, planer, "infeed", after(10.001)); err != nil || len(all) != 2 ||
			all[0].Hours != 0 || now != 4 {
			s.Errorf("just after the first: %d readings, %g h until now, %v", len(all), now, err)
		}
	}},
	{"the shelf", "what is left is what was counted, less what work took since", func(s *shop) {
		m := s.planer("Marble")
		s.tell(1, m, domain.EventSeen{Event: "belts-changed"}) // before it was counted
		s.tell(2, 0, domain.StockCounted{Name: "a matched set of belts", Left: 3, Buy: 1})
		s.tell(2, 0, domain.StockCounted{Name: "Oil", Left: 1})
		change := s.tell(3, m, domain.EventSeen{Event: "belts-changed"}).Fact.No
		left := func(want ...int) {
			s.Helper()
			shelf, err := s.Shelf(s.ctx)
			var got []int
			for _, x := range shelf {
				got = append(got, x.Left)
			}
			if err != nil || !slices.Equal(got, want) {
				s.Errorf("left %v, %v; want %v", got, err, want)
			}
		}
		left(2, 1)
		s.tell(4, 0, domain.Withdrawal{Of: change})
		left(3, 1)
		s.tell(5, 0, domain.StockCounted{Name: "oil", Gone: true})
		left(3)
	}},
	{"the plan of visits", "the last that a steward took is in force, and none before one was taken", func(s *shop) {
		if _, found, err := s.Visits(s.ctx); found || err != nil {
			s.Errorf("before any: found %t, %v", found, err)
		}
		s.tell(1, 0, domain.VisitsPlanned{})
		last := s.tell(2, 0, domain.VisitsPlanned{}).Fact.No
		if f, found, err := s.Visits(s.ctx); !found || err != nil || f.No != last {
			s.Errorf("found %t, no. %d, %v; want no. %d", found, f.No, err, last)
		}
	}},
	{"a study's readings", "they are shown to one gauge's study alone, in the order in which they were taken",
		func(s *shop) {
			m := s.planer("Marble")
			begun := domain.StudyBegun{Gauge: "dial", Machine: m, Check: "infeed", Parts: 2, Trials: 2}
			study := s.tell(1, 0, begun).Fact.No
			another := s.tell(1, 0, begun).Fact.No
			var want []domain.FactNo
			for part := 1; part <= 2; part++ {
				want = append(want, s.tell(float64(part+1), 0, domain.StudyReading{Study: study, Part: part}).Fact.No)
			}
			s.tell(5, 0, domain.StudyReading{Study: another, Part: 1})
			wrong := s.tell(6, 0, domain.StudyReading{Study: study, Part: 1}).Fact.No
			s.tell(7, 0, domain.Withdrawal{Of: wrong})
			if facts, err := s.Study(s.ctx, study); err != nil || !slices.Equal(numbers(facts), want) {
				s.Errorf("readings %v, %v; want %v", numbers(facts), err, want)
			}
		}},
	{"what was behind a problem", "causes are weighed by what mended it here, but not where it came back",
		func(s *shop) {
			planer := s.planer("Marble")
			snipe := domain.Problem{Symptom: "snipe", Name: "snipe"}
			settled := func(want int) {
				s.Helper()
				if c, err := s.Settled(s.ctx, planer, "snipe"); err != nil || c.N != want || c.By["tables"] != want {
					s.Errorf("settled %+v, %v; want %d", c, err, want)
				}
			}
			s.tell(1, planer, snipe)
			s.tell(2, planer, domain.Mended{Key: "snipe", Name: "snipe", Cause: "tables"})
			settled(1)
			s.tell(3, planer, snipe) // it came back without any use
			settled(0)
			s.tell(4, planer, domain.Mended{Key: "snipe", Name: "snipe", Cause: "tables"})
			settled(1)
		}},
}
