package bookstest

import (
	"fmt"
	"reflect"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// stateCases are about what is known of a machine after reports.
var stateCases = []Case{
	{"a fact is read back as it was reported", "the logbook and every correction rest on it", func(s *shop) {
		planer := s.planer("Marble")
		given := s.entry(5, planer, domain.Handover{Apart: "hood", Next: "fit it"})
		given.At, given.For = after(3), "bo"
		want := s.report(given).Fact
		got, err := s.Fact(s.ctx, want.No)
		s.fails("a fact", err)
		if !got.At.Equal(given.At) || !got.Recorded.Equal(given.Recorded) || got.By != "ada" || got.For != "bo" ||
			got.Machine != planer || !reflect.DeepEqual(got.Body, given.Body) || got.Withdrawn != 0 ||
			got.SetupRev != 1 ||
			got.Hash == "" {
			s.Errorf("reported %+v, read %+v", given, got)
		}
		undo := s.tell(6, 0, domain.Withdrawal{Of: want.No}).Fact.No
		if got, err = s.Fact(s.ctx, want.No); err != nil || got.Withdrawn != undo {
			s.Errorf("withdrawn by no. %d: %+v, %v", undo, got, err)
		}
	}},
	{"a fact that is not there", "a number mistyped is said to be unknown, not taken for another", func(s *shop) {
		for _, no := range []domain.FactNo{0, -1, 1, 1000} {
			_, err := s.Fact(s.ctx, no)
			s.refused(fmt.Sprint("no. ", no), err, domain.NoSuchFact)
		}
		_, err := s.Snapshot(s.ctx, 7)
		s.refused("a snapshot of no machine", err, domain.NoSuchMachine)
	}},
	{"what happened counts, not when it was typed", "paper is typed later: an old reading must not hide a newer one",
		func(s *shop) {
			planer := s.planer("Marble")
			newer := s.tell(10, planer, s.infeed(planer, 41)).Fact.No
			late := s.entry(12, planer, s.infeed(planer, 46))
			late.At = after(8)
			old := s.report(late).Fact.No
			if got := s.snapshot(planer).Latest["infeed"].Fact; got != newer {
				s.Errorf("the latest reading is no. %d, want no. %d", got, newer)
			}
			s.tell(13, 0, domain.Withdrawal{Of: newer})
			if got := s.snapshot(planer).Latest["infeed"].Fact; got != old {
				s.Errorf("after it was withdrawn the latest is no. %d, want no. %d", got, old)
			}
		}},
	{"a stop is taken back with nothing reported since", "what somebody saw after it must keep the machine stopped",
		func(s *shop) {
			planer := s.planer("Marble")
			pressed := domain.TagOut{Reason: domain.Reason{Code: domain.Pressed}}
			stop := s.tell(1, planer, pressed).Fact.No
			if s.tell(1, planer, domain.Mistake{Of: stop}); s.snapshot(planer).Tags != nil {
				s.Errorf("taken back, and stands")
			}
			stop = s.tell(2, planer, pressed).Fact.No
			seen := s.entry(2, planer, domain.Problem{Name: "it rattles"})
			seen.By, seen.For = "bo", "bo"
			s.report(seen)
			_, err := s.Report(s.ctx, s.entry(2, planer, domain.Mistake{Of: stop}))
			s.refused("taken back after a report", err, domain.MistakeSince)
		}},
	{"what may be withdrawn, once", "a second press of undo must not take back what came before", func(s *shop) {
		m := s.planer("Marble")
		no := s.tell(1, m, hours(1)).Fact.No
		undo := s.tell(2, 0, domain.Withdrawal{Of: no}).Fact.No
		if got := s.seconds(m); got != 0 {
			s.Errorf("%d s of use, want none", got)
		}
		_, err := s.Report(s.ctx, s.entry(3, 0, domain.Withdrawal{Of: no}))
		s.refused("withdrawn before", err, domain.WithdrawnBefore)
		_, err = s.Report(s.ctx, s.entry(3, 0, domain.Withdrawal{Of: undo}))
		s.refused("a withdrawal withdrawn", err, domain.NotWithdrawable)
		_, err = s.Report(s.ctx, s.entry(3, 0, domain.Withdrawal{Of: 1000}))
		s.refused("an unknown report withdrawn", err, domain.NoSuchFact)
	}},
	{"what must stop a machine stops it at once", "the tag is hung with the reading, or the next member runs it",
		func(s *shop) {
			planer := s.planer("Marble")
			outcome := s.tell(1, planer, s.infeed(planer, 70))
			if len(outcome.Hung) != 1 || outcome.Hung[0].Because != outcome.Fact.No ||
				outcome.Before.TaggedOut() || !outcome.After.TaggedOut() {
				s.Fatalf("hung %+v", outcome.Hung)
			}
			if tags := s.snapshot(planer).Tags; len(tags) != 1 || tags[0].Fact != outcome.Hung[0].Fact {
				s.Errorf("tags %+v", tags)
			}
			undo := s.tell(2, 0, domain.Withdrawal{Of: outcome.Fact.No})
			if tags := s.snapshot(planer).Tags; !undo.After.TaggedOut() || len(tags) != 1 || !tags[0].ReportWithdrawn {
				s.Errorf("after the reading was withdrawn: tags %+v", tags)
			}
		}},
	{"a set-up that has changed since", "what a steward confirms is what stood on the screen", func(s *shop) {
		planer := s.planer("Marble")
		setup := s.snapshot(planer).Machine.Setup
		item := domain.CheckItem.Of("infeed")
		s.tell(1, planer, domain.SetupChanged{Item: item, Setup: setup.With(item, "wren", after(1), nil)})
		_, err := s.Report(s.ctx, s.entry(2, planer, domain.SetupChanged{Item: item, Setup: setup.With(item, "ishaan",
			after(2), nil)}))
		s.refused("a change of a set-up that is no more", err, domain.SetupChangedNow)
		e := s.entry(3, planer, hours(1))
		e.SetupRev = 1
		_, err = s.Report(s.ctx, e)
		s.refused("a report read against a set-up that is no more", err, domain.SetupChangedNow)
		if got := s.snapshot(planer).Machine.Setup; got.Rev != 2 || got.Confirmed[item].By != "wren" {
			s.Errorf("set-up %+v", got)
		}
	}},
	{"what loosens a safety check waits", "nobody makes a machine less safe by himself", func(s *shop) {
		planer := s.planer("Marble")
		item := domain.CheckItem.Of("fingers")
		by := func(hours float64, steward domain.PersonID, body domain.Body) domain.Entry {
			e := s.entry(hours, planer, body)
			e.By, e.For, e.Steward = steward, steward, true
			return e
		}
		every := func() int { return s.snapshot(planer).Machine.Profile.Check("fingers").Every.Days }
		looser := s.snapshot(planer).Machine.Setup.WithInterval(item, &domain.Interval{Days: 30})
		_, err := s.Report(s.ctx, by(1, "wren", domain.SetupChanged{Item: item, Setup: looser}))
		s.refused("a change that nobody had asked for", err, domain.SecondNeeded)
		asked := s.report(by(2, "wren", domain.LooseningAsked{Item: item, Setup: looser, Why: "hardly used"}))
		if waits := asked.After.Loosening; waits == nil || waits.Fact != asked.Fact.No || every() != 7 {
			s.Errorf("asked for: waits %+v, every %d days", waits, every())
		}
		force := domain.SetupChanged{Item: item, Setup: looser, Loosens: asked.Fact.No}
		_, err = s.Report(s.ctx, by(3, "wren", force))
		s.refused("a change put in force by whoever asked for it", err, domain.OtherSteward)
		s.report(by(4, "ishaan", force))
		if waits := domain.Assess(s.snapshot(planer), after(4)).Loosening; every() != 30 || waits != nil {
			s.Errorf("in force: every %d days, waits %+v", every(), waits)
		}
	}},
	{"one machine of a name", "people and notices call machines by name", func(s *shop) {
		planer := s.planer("Marble")
		_, err := s.Report(s.ctx, s.entry(1, 0, domain.MachineAdded{Name: "mARBLE", Setup: s.setup()}))
		s.refused("a second of that name", err, domain.MachineTwice)
		s.tell(2, planer, domain.MachineRetired{})
		_, err = s.Report(s.ctx, s.entry(3, planer, hours(1)))
		s.refused("hours of a machine that is retired", err, domain.MachineIsRetired)
		if second := s.planer("Marble"); second == planer {
			s.Errorf("a new machine has a retired one's number")
		}
	}},
	{"settings", "a shop that was never set up works, and one that was keeps its own", func(s *shop) {
		got, err := s.Shop(s.ctx)
		s.fails("settings", err)
		if want := domain.NewShop("one"); got.ID != want.ID || got.Zone != want.Zone || got.Digest != want.Digest ||
			got.Units != want.Units {
			s.Errorf("at first %+v, want %+v", got, want)
		}
		got.Name, got.Units = "Quarry Street Commons", quantity.Imperial
		s.tell(1, 0, domain.ShopSet{Shop: got})
		if got, err = s.Shop(s.ctx); err != nil || got.Name != "Quarry Street Commons" ||
			got.Units != quantity.Imperial {
			s.Errorf("after a change %+v, %v", got, err)
		}
	}},
	{"days away beside the settings", "somebody changes the settings while a steward says when they are away",
		func(s *shop) {
			settings, err := s.Shop(s.ctx)
			s.fails("settings", err)
			away := domain.Away{Person: "wren", From: "2999-01-01", Until: "2999-01-02", Deputy: "bo"}
			s.tell(1, 0, domain.AwaySet{Away: away})
			s.tell(2, 0, domain.ShopSet{Shop: settings}) // as they were read before
			if got, err := s.Shop(s.ctx); err != nil || len(got.Away) != 1 || got.Away[0] != away {
				s.Errorf("away: %+v, %v", got.Away, err)
			}
			s.tell(3, 0, domain.AwaySet{Away: domain.Away{Person: "wren"}})
			if got, err := s.Shop(s.ctx); err != nil || len(got.Away) != 0 {
				s.Errorf("taken back: %+v, %v", got.Away, err)
			}
		}},
	{"a danger that is seen to", "who sees to it is called no more", func(s *shop) {
		planer := s.planer("Marble")
		danger := s.tell(1, planer, domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true})
		if len(danger.After.Alarms) != 1 || danger.After.Seen != nil {
			s.Errorf("a danger: %+v, seen to by %+v", danger.After.Alarms, danger.After.Seen)
		}
		seen := s.tell(2, planer, domain.SeenTo{Of: danger.After.Alarms[0].Fact})
		if len(seen.After.Alarms) != 0 || seen.After.Seen == nil || seen.After.Seen.Fact != seen.Fact.No {
			s.Errorf("seen to: %+v, by %+v", seen.After.Alarms, seen.After.Seen)
		}
	}},
	{"what was handed out stays as it was", "an answer is worded after its transaction, while others report",
		func(s *shop) {
			planer := s.planer("Marble")
			first := s.tell(1, planer, domain.ServiceDone{Service: "bushings"})
			snap := s.snapshot(planer)
			machines, err := s.Machines(s.ctx)
			s.fails("machines", err)
			s.tell(2, planer, hours(1))
			s.tell(3, planer, domain.Problem{Symptom: "snipe", Name: "snipe"})
			s.tell(4, planer, domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody}})
			if snap.Hours.Sign() != 0 || snap.Services["bushings"].Since.Sign() != 0 ||
				len(snap.Problems)+len(snap.Tags) != 0 ||
				first.After.Hours.Sign() != 0 || first.After.TaggedOut() {
				s.Errorf("what was read before others reported has changed: %v, %+v", snap.Hours, snap.Problems)
			}
			machines[0].Name = "changed by who asked"
			if again, err := s.Machines(s.ctx); err != nil || again[0].Name != "Marble" {
				s.Errorf("a list that somebody changed: %v, %v", again[0].Name, err)
			}
		}},
}
