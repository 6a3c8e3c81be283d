package bookstest

import (
	"slices"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// listCases are about what is listed, its order and its bounds.
var listCases = []Case{
	{"machines by name", "people look for a name without regard to case", func(shop *shop) {
		for _, name := range []string{"beta", "Gamma", "Alpha"} {
			shop.tell(0, 0, domain.MachineAdded{Name: name, Setup: shop.setup()})
		}
		gone := shop.tell(0, 0, domain.MachineAdded{Name: "delta", Setup: shop.setup()}).Fact.Machine
		shop.tell(1, gone, domain.MachineRetired{})
		all, err := shop.Machines(shop.ctx)
		shop.fails("machines", err)
		var names []string
		for _, m := range all {
			names = append(names, m.Name)
			if m.Profile == nil || m.Profile.Check("infeed") == nil {
				shop.Errorf("%s has no profile", m.Name)
			}
		}
		if !slices.Equal(names, []string{"Alpha", "beta", "Gamma"}) {
			shop.Errorf("machines %v", names)
		}
	}},
	{"gauges by name", "a gauge set again is changed, not doubled", func(shop *shop) {
		for i, name := range []string{"feelers", "Dial", "caliper", "dIAL"} {
			shop.tell(float64(i), 0, domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: name}}})
		}
		all, err := shop.Gauges(shop.ctx)
		var names []string
		for _, g := range all {
			names = append(names, g.Name)
		}
		if err != nil || !slices.Equal(names, []string{"caliper", "dIAL", "feelers"}) {
			shop.Errorf("gauges %v, %v", names, err)
		}
	}},
	{"a person's last report", "undo takes back what its member typed last, and nothing of others", func(shop *shop) {
		m := shop.planer("Marble")
		early := shop.tell(5, m, hours(1)).Fact.No
		late := shop.entry(6, m, hours(1)) // typed last of all, of what happened first
		late.At = after(2)
		last := shop.report(late).Fact.No
		others := shop.entry(7, m, hours(1))
		others.By = "bo"
		shop.report(others)
		shop.tell(8, 0, domain.ShopSet{Shop: domain.NewShop("one")}) // settings are changed again, not taken back
		by := func(want domain.FactNo) {
			shop.Helper()
			if f, err := shop.LastBy(shop.ctx, "ada"); err != nil || f.No != want {
				shop.Errorf("ada's last report is no. %d, %v; want no. %d", f.No, err, want)
			}
		}
		by(last)
		shop.tell(9, 0, domain.Withdrawal{Of: last})
		by(early)
		_, err := shop.LastBy(shop.ctx, "chidi")
		shop.refused("of somebody who has reported nothing", err, domain.NothingToUndo)
	}},
	{"what a person reported lately", "it is offered again, newest first, and never what was taken back",
		func(shop *shop) {
			m := shop.planer("Marble")
			first := shop.tell(1, m, hours(1)).Fact.No
			second := shop.tell(3, m, domain.Problem{Symptom: "snipe", Name: "snipe"}).Fact.No
			wrong := shop.tell(4, m, hours(1)).Fact.No
			shop.tell(5, 0, domain.StockCounted{Name: "oil", Left: 1}) // of no machine
			undo := shop.tell(6, 0, domain.Withdrawal{Of: wrong}).Fact.No
			facts, err := shop.Recent(shop.ctx, "ada", 3)
			if got := numbers(facts); err != nil || !slices.Equal(got, []domain.FactNo{undo, second, first}) {
				shop.Errorf("lately %v, %v; want %v", got, err, []domain.FactNo{undo, second, first})
			}
		}},
	{"a logbook in pages", "each page goes on where the one before it ended, with what was withdrawn",
		func(shop *shop) {
			planer := shop.planer("Marble")
			other := shop.planer("Slate")
			for i := range 5 {
				shop.tell(float64(2*i+1), planer, hours(1))
				shop.tell(float64(2*i+1), other, hours(1))
			}
			wrong := shop.newest(planer)
			shop.tell(20, 0, domain.Withdrawal{Of: wrong})
			whole, err := shop.Logbook(shop.ctx, planer, 0, 1000)
			shop.fails("the logbook", err)
			var paged []domain.Fact
			for before := domain.FactNo(0); ; {
				page, err := shop.Logbook(shop.ctx, planer, before, 4)
				shop.fails("a page", err)
				if len(page) == 0 {
					break
				}
				if len(page) > 4 {
					shop.Fatalf("a page of %d", len(page))
				}
				paged = append(paged, page...)
				before = page[len(page)-1].No
			}
			if !slices.Equal(numbers(whole), numbers(paged)) {
				shop.Errorf("pages %v of %v", numbers(paged), numbers(whole))
			}
			if len(whole) < 7 || !slices.IsSortedFunc(whole, func(a, b domain.Fact) int { return int(b.No - a.No) }) {
				shop.Errorf("not the newest first: %v", numbers(whole))
			}
			if !slices.Contains(numbers(whole), wrong) || slices.ContainsFunc(whole,
				func(f domain.Fact) bool { return f.Machine != planer }) {
				shop.Errorf("without what was withdrawn, or with another machine's: %v", numbers(whole))
			}
		}},
	{"runs from a moment until before another", "a run at midnight belongs to one day, not to two or none",
		func(shop *shop) {
			planer := shop.planer("Marble")
			other := shop.planer("Slate")
			var want []domain.FactNo
			for _, at := range []float64{30, 10, 20} { // typed in any order
				e := shop.entry(40, planer, domain.Hours{Seconds: int64(at)})
				e.At = after(at)
				want = append(want, shop.report(e).Fact.No)
			}
			wrong := shop.tell(15, planer, hours(1)).Fact.No
			shop.tell(41, 0, domain.Withdrawal{Of: wrong})
			shop.tell(15, other, hours(1))
			check := func(from, until float64, want ...domain.FactNo) {
				shop.Helper()
				runs, err := shop.Runs(shop.ctx, planer, after(from), after(until))
				shop.fails("runs", err)
				var got []domain.FactNo
				for _, r := range runs {
					got = append(got, r.Fact)
					if r.For != "ada" || r.Until.Sub(start) != r.Used*3600 {
						shop.Errorf("a run %+v", r)
					}
				}
				if !slices.Equal(got, want) {
					shop.Errorf("from %g until %g h: %v, want %v", from, until, got, want)
				}
				sessions, err := shop.Sessions(shop.ctx, after(from), after(until))
				if err != nil || sessions[planer] != len(want) {
					shop.Errorf("from %g until %g h: %d sessions, %v; want %d", from, until, sessions[planer], err,
						len(want))
				}
			}
			check(10, 30, want[1], want[2])
			check(10.001, 30.001, want[2], want[0])
			check(0, 100, want[1], want[2], want[0])
			check(20, 20)
		}},
	{"readings with the use between them", "drift is followed over hours of use, by when it was read",
		func(shop *shop) {
			planer := shop.planer("Marble")
			for i, thou := range []int64{41, 42, 43} {
				at := float64(10 * (i + 1))
				shop.tell(at, planer, shop.infeed(planer, thou))
				shop.tell(at+1, planer, hours(2))
			}
			all, now, err := shop.Readings(shop.ctx, planer, "infeed", after(10))
			if err != nil || len(all) != 3 || all[0].Hours != 0 || all[1].Hours != 2 || all[2].Hours != 4 || now != 6 {
				shop.Fatalf("%d readings, %g h until now, %v", len(all), now, err)
			}
			if !all[0].At.Equal(after(10)) || !all[2].Values[0].Mean().Equal(quantity.New(43, 1, quantity.Thou)) {
				shop.Errorf("readings %+v", all)
			}
			if all, now, err = shop.Readings(shop.ctx, planer, "infeed", after(10.001)); err != nil || len(all) != 2 ||
				all[0].Hours != 0 || now != 4 {
				shop.Errorf("just after the first: %d readings, %g h until now, %v", len(all), now, err)
			}
		}},
	{"the shelf", "what is left is what was counted, less what work took since", func(shop *shop) {
		m := shop.planer("Marble")
		shop.tell(1, m, domain.EventSeen{Event: "belts-changed"}) // before it was counted
		shop.tell(2, 0, domain.StockCounted{Name: "a matched set of belts", Left: 3, Buy: 1})
		shop.tell(2, 0, domain.StockCounted{Name: "Oil", Left: 1})
		change := shop.tell(3, m, domain.EventSeen{Event: "belts-changed"}).Fact.No
		left := func(want ...int) {
			shop.Helper()
			shelf, err := shop.Shelf(shop.ctx)
			var got []int
			for _, x := range shelf {
				got = append(got, x.Left)
			}
			if err != nil || !slices.Equal(got, want) {
				shop.Errorf("left %v, %v; want %v", got, err, want)
			}
		}
		left(2, 1)
		shop.tell(4, 0, domain.Withdrawal{Of: change})
		left(3, 1)
		shop.tell(5, 0, domain.StockCounted{Name: "oil", Gone: true})
		left(3)
	}},
	{"the plan of visits", "the last that a steward took is in force, and none before one was taken", func(shop *shop) {
		if _, found, err := shop.Visits(shop.ctx); found || err != nil {
			shop.Errorf("before any: found %t, %v", found, err)
		}
		shop.tell(1, 0, domain.VisitsPlanned{})
		last := shop.tell(2, 0, domain.VisitsPlanned{}).Fact.No
		if f, found, err := shop.Visits(shop.ctx); !found || err != nil || f.No != last {
			shop.Errorf("found %t, no. %d, %v; want no. %d", found, f.No, err, last)
		}
	}},
	{"a study's readings", "they are shown to one gauge's study alone, in the order in which they were taken",
		func(shop *shop) {
			m := shop.planer("Marble")
			begun := domain.StudyBegun{Gauge: "dial", Machine: m, Check: "infeed", Parts: 2, Trials: 2}
			study := shop.tell(1, 0, begun).Fact.No
			another := shop.tell(1, 0, begun).Fact.No
			var want []domain.FactNo
			for part := 1; part <= 2; part++ {
				want = append(want, shop.tell(float64(part+1), 0, domain.StudyReading{Study: study,
					Part: part}).Fact.No)
			}
			shop.tell(5, 0, domain.StudyReading{Study: another, Part: 1})
			wrong := shop.tell(6, 0, domain.StudyReading{Study: study, Part: 1}).Fact.No
			shop.tell(7, 0, domain.Withdrawal{Of: wrong})
			if facts, err := shop.Study(shop.ctx, study); err != nil || !slices.Equal(numbers(facts), want) {
				shop.Errorf("readings %v, %v; want %v", numbers(facts), err, want)
			}
		}},
	{"what was behind a problem", "causes are weighed by what mended it here, but not where it came back",
		func(shop *shop) {
			planer := shop.planer("Marble")
			snipe := domain.Problem{Symptom: "snipe", Name: "snipe"}
			settled := func(want int) {
				shop.Helper()
				if c, err := shop.Settled(shop.ctx, planer,
					"snipe"); err != nil || c.N != want || c.By["tables"] != want {
					shop.Errorf("settled %+v, %v; want %d", c, err, want)
				}
			}
			shop.tell(1, planer, snipe)
			shop.tell(2, planer, domain.Mended{Key: "snipe", Name: "snipe", Cause: "tables"})
			settled(1)
			shop.tell(3, planer, snipe) // it came back without any use
			settled(0)
			shop.tell(4, planer, domain.Mended{Key: "snipe", Name: "snipe", Cause: "tables"})
			settled(1)
		}},
}
