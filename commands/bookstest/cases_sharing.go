package bookstest

import (
	"time"

	"setscrew/domain"
)

// sharingCases are about shops beside each other.
var sharingCases = []Case{
	{"shops never see each other", "one program serves many shops, and what is a shop's own stays there",
		func(shop *shop) {
			two := shop.all("two")
			planer := shop.planer("Marble")
			e := shop.entry(1, planer, hours(1))
			no := shop.report(e).Fact.No
			shop.tell(2, 0, domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: "dial"}}})
			shop.tell(2, 0, domain.StockCounted{Name: "oil", Left: 1})
			shop.tell(2, 0, domain.VisitsPlanned{})
			named := domain.NewShop("one")
			named.Name = "One"
			shop.tell(3, 0, domain.ShopSet{Shop: named})
			shop.fails("keep", shop.Keep(shop.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))

			settings, err := two.Shop(shop.ctx)
			if err != nil || settings.Name != "" || settings.ID != "two" {
				shop.Errorf("settings %+v, %v", settings, err)
			}
			empty := func(what string, n int, err error) {
				shop.Helper()
				if err != nil || n != 0 {
					shop.Errorf("%d %s, %v", n, what, err)
				}
			}
			machines, err := two.Machines(shop.ctx)
			empty("machines", len(machines), err)
			gauges, err := two.Gauges(shop.ctx)
			empty("gauges", len(gauges), err)
			shelf, err := two.Shelf(shop.ctx)
			empty("things on the shelf", len(shelf), err)
			recent, err := two.Recent(shop.ctx, "ada", 10)
			empty("recent reports", len(recent), err)
			logbook, err := two.Logbook(shop.ctx, planer, 0, 10)
			empty("facts in a logbook", len(logbook), err)
			runs, err := two.Runs(shop.ctx, planer, start, after(100))
			empty("runs", len(runs), err)
			sessions, err := two.Sessions(shop.ctx, start, after(100))
			empty("sessions", len(sessions), err)
			readings, _, err := two.Readings(shop.ctx, planer, "infeed", time.Time{})
			empty("readings", len(readings), err)
			if _, found, err := two.Visits(shop.ctx); found || err != nil {
				shop.Errorf("a plan of visits %t, %v", found, err)
			}
			_, err = two.Snapshot(shop.ctx, planer)
			shop.refused("a snapshot", err, domain.NoSuchMachine)
			_, err = two.Fact(shop.ctx, no)
			shop.refused("a fact", err, domain.NoSuchFact)
			_, err = two.LastBy(shop.ctx, "ada")
			shop.refused("the last report", err, domain.NothingToUndo)
			_, err = two.Pending(shop.ctx, "p", start)
			shop.refused("what waits", err, domain.PendingGone)
			shop.refused("using what waits", two.Use(shop.ctx, "p", "k", start), domain.PendingGone)
			_, err = two.Report(shop.ctx, shop.entry(4, planer, hours(1)))
			shop.refused("hours of another shop's machine", err, domain.NoSuchMachine)
			_, err = two.Report(shop.ctx, shop.entry(4, 0, domain.Withdrawal{Of: no}))
			shop.refused("a withdrawal of another shop's report", err, domain.NoSuchFact)
		}},
	{"a key, a name and a number are each shop's own", "two shops may both have a Marble and a report no. 1",
		func(one *shop) {
			second := &shop{T: one.T, all: one.all, Books: one.all("two"), ctx: one.ctx}
			m, n := one.planer("Marble"), second.planer("Marble") // under the same keys
			if a, b := one.newest(m), second.newest(n); m != n || a != b {
				one.Errorf("machines %d and %d, reports no. %d and %d", m, n, a, b)
			}
			one.tell(1, m, hours(1))
			if got := second.seconds(n); got != 0 {
				one.Errorf("hours of one shop's Marble count for the other's: %d s", got)
			}
		}},
	{"a profile is kept once, and only a good one", "a machine keeps the text that it was set up with",
		func(shop *shop) {
			first, again := shop.setup().Hash, shop.setup().Hash
			if first == "" || first != again {
				shop.Errorf("kept as %q, then as %q", first, again)
			}
			if hash, err := shop.KeepProfile(shop.ctx, "thickness-planer", []byte("format: none")); err == nil {
				shop.Errorf("what is no profile is kept as %q", hash)
			}
			setup := shop.setup()
			setup.Hash = "nothing has this"
			if _, err := shop.Report(shop.ctx, shop.entry(1, 0, domain.MachineAdded{Name: "Slate",
				Setup: setup})); err == nil {
				shop.Errorf("a machine with a text that nobody kept is added")
			}
			if all, err := shop.Machines(shop.ctx); err != nil || len(all) != 0 {
				shop.Errorf("machines %v, %v", all, err)
			}
		}},
}
