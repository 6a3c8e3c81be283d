package bookstest

import (
	"time"

	"setscrew/domain"
)

// sharingCases are about shops beside each other.
var sharingCases = []Case{
	{"shops never see each other", "one program serves many shops, and what is a shop's own stays there",
		func(s *shop) {
			two := s.all("two")
			planer := s.planer("Marble")
			e := s.entry(1, planer, hours(1))
			no := s.report(e).Fact.No
			s.tell(2, 0, domain.GaugeSet{Gauge: domain.OwnGauge{GaugeUsed: domain.GaugeUsed{Name: "dial"}}})
			s.tell(2, 0, domain.StockCounted{Name: "oil", Left: 1})
			s.tell(2, 0, domain.VisitsPlanned{})
			named := domain.NewShop("one")
			named.Name = "One"
			s.tell(3, 0, domain.ShopSet{Shop: named})
			s.fails("keep", s.Keep(s.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))

			settings, err := two.Shop(s.ctx)
			if err != nil || settings.Name != "" || settings.ID != "two" {
				s.Errorf("settings %+v, %v", settings, err)
			}
			empty := func(what string, n int, err error) {
				s.Helper()
				if err != nil || n != 0 {
					s.Errorf("%d %s, %v", n, what, err)
				}
			}
			machines, err := two.Machines(s.ctx)
			empty("machines", len(machines), err)
			gauges, err := two.Gauges(s.ctx)
			empty("gauges", len(gauges), err)
			shelf, err := two.Shelf(s.ctx)
			empty("things on the shelf", len(shelf), err)
			recent, err := two.Recent(s.ctx, "ada", 10)
			empty("recent reports", len(recent), err)
			logbook, err := two.Logbook(s.ctx, planer, 0, 10)
			empty("facts in a logbook", len(logbook), err)
			runs, err := two.Runs(s.ctx, planer, start, after(100))
			empty("runs", len(runs), err)
			sessions, err := two.Sessions(s.ctx, start, after(100))
			empty("sessions", len(sessions), err)
			readings, _, err := two.Readings(s.ctx, planer, "infeed", time.Time{})
			empty("readings", len(readings), err)
			if _, found, err := two.Visits(s.ctx); found || err != nil {
				s.Errorf("a plan of visits %t, %v", found, err)
			}
			_, err = two.Snapshot(s.ctx, planer)
			s.refused("a snapshot", err, domain.NoSuchMachine)
			_, err = two.Fact(s.ctx, no)
			s.refused("a fact", err, domain.NoSuchFact)
			_, err = two.LastBy(s.ctx, "ada")
			s.refused("the last report", err, domain.NothingToUndo)
			_, err = two.Pending(s.ctx, "p", start)
			s.refused("what waits", err, domain.PendingGone)
			s.refused("using what waits", two.Use(s.ctx, "p", "k", start), domain.PendingGone)
			_, err = two.Report(s.ctx, s.entry(4, planer, hours(1)))
			s.refused("hours of another shop's machine", err, domain.NoSuchMachine)
			_, err = two.Report(s.ctx, s.entry(4, 0, domain.Withdrawal{Of: no}))
			s.refused("a withdrawal of another shop's report", err, domain.NoSuchFact)
		}},
	{"a key, a name and a number are each shop's own", "two shops may both have a Marble and a report no. 1",
		func(s *shop) {
			second := &shop{T: s.T, all: s.all, Books: s.all("two"), ctx: s.ctx}
			m, n := s.planer("Marble"), second.planer("Marble") // under the same keys
			if a, b := s.newest(m), second.newest(n); m != n || a != b {
				s.Errorf("machines %d and %d, reports no. %d and %d", m, n, a, b)
			}
			s.tell(1, m, hours(1))
			if got := second.seconds(n); got != 0 {
				s.Errorf("hours of one shop's Marble count for the other's: %d s", got)
			}
		}},
	{"a profile is kept once, and only a good one", "a machine keeps the text that it was set up with", func(s *shop) {
		first, again := s.setup().Hash, s.setup().Hash
		if first == "" || first != again {
			s.Errorf("kept as %q, then as %q", first, again)
		}
		if hash, err := s.KeepProfile(s.ctx, "thickness-planer", []byte("format: none")); err == nil {
			s.Errorf("what is no profile is kept as %q", hash)
		}
		setup := s.setup()
		setup.Hash = "nothing has this"
		if _, err := s.Report(s.ctx, s.entry(1, 0, domain.MachineAdded{Name: "Slate", Setup: setup})); err == nil {
			s.Errorf("a machine with a text that nobody kept is added")
		}
		if all, err := s.Machines(s.ctx); err != nil || len(all) != 0 {
			s.Errorf("machines %v, %v", all, err)
		}
	}},
}
