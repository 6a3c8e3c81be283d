package bookstest

import (
	"fmt"
	"reflect"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// stateCases are about what is known of a machine after reports.
var stateCases = []Case{
	{"a fact is read back as it was reported", "the logbook and every correction rest on it", func(shop *shop) {
		planer := shop.planer("Marble")
		given := shop.entry(5, planer, domain.Handover{Apart: "hood", Next: "fit it"})
		given.At, given.For = after(3), "bo"
		want := shop.report(given).Fact
		got, err := shop.Fact(shop.ctx, want.No)
		shop.fails("a fact", err)
		if !got.At.Equal(given.At) || !got.Recorded.Equal(given.Recorded) || got.By != "ada" || got.For != "bo" ||
			got.Machine != planer || !reflect.DeepEqual(got.Body, given.Body) || got.Withdrawn != 0 ||
			got.SetupRev != 1 ||
			got.Hash == "" {
			shop.Errorf("reported %+v, read %+v", given, got)
		}
		undo := shop.tell(6, 0, domain.Withdrawal{Of: want.No}).Fact.No
		if got, err = shop.Fact(shop.ctx, want.No); err != nil || got.Withdrawn != undo {
			shop.Errorf("withdrawn by no. %d: %+v, %v", undo, got, err)
		}
	}},
	{"a fact that is not there", "a number mistyped is said to be unknown, not taken for another", func(shop *shop) {
		for _, no := range []domain.FactNo{0, -1, 1, 1000} {
			_, err := shop.Fact(shop.ctx, no)
			shop.refused(fmt.Sprint("no. ", no), err, domain.NoSuchFact)
		}
		_, err := shop.Snapshot(shop.ctx, 7)
		shop.refused("a snapshot of no machine", err, domain.NoSuchMachine)
	}},
	{"what happened counts, not when it was typed", "paper is typed later: an old reading must not hide a newer one",
		func(shop *shop) {
			planer := shop.planer("Marble")
			newer := shop.tell(10, planer, shop.infeed(planer, 41)).Fact.No
			late := shop.entry(12, planer, shop.infeed(planer, 46))
			late.At = after(8)
			old := shop.report(late).Fact.No
			if got := shop.snapshot(planer).Latest["infeed"].Fact; got != newer {
				shop.Errorf("the latest reading is no. %d, want no. %d", got, newer)
			}
			shop.tell(13, 0, domain.Withdrawal{Of: newer})
			if got := shop.snapshot(planer).Latest["infeed"].Fact; got != old {
				shop.Errorf("after it was withdrawn the latest is no. %d, want no. %d", got, old)
			}
		}},
	{"a stop is taken back with nothing reported since", "what somebody saw after it must keep the machine stopped",
		func(shop *shop) {
			planer := shop.planer("Marble")
			pressed := domain.TagOut{Reason: domain.Reason{Code: domain.Pressed}}
			stop := shop.tell(1, planer, pressed).Fact.No
			if shop.tell(1, planer, domain.Mistake{Of: stop}); shop.snapshot(planer).Tags != nil {
				shop.Errorf("taken back, and stands")
			}
			stop = shop.tell(2, planer, pressed).Fact.No
			seen := shop.entry(2, planer, domain.Problem{Name: "it rattles"})
			seen.By, seen.For = "bo", "bo"
			shop.report(seen)
			_, err := shop.Report(shop.ctx, shop.entry(2, planer, domain.Mistake{Of: stop}))
			shop.refused("taken back after a report", err, domain.MistakeSince)
		}},
	{"what may be withdrawn, once", "a second press of undo must not take back what came before", func(shop *shop) {
		m := shop.planer("Marble")
		no := shop.tell(1, m, hours(1)).Fact.No
		undo := shop.tell(2, 0, domain.Withdrawal{Of: no}).Fact.No
		if got := shop.seconds(m); got != 0 {
			shop.Errorf("%d s of use, want none", got)
		}
		_, err := shop.Report(shop.ctx, shop.entry(3, 0, domain.Withdrawal{Of: no}))
		shop.refused("withdrawn before", err, domain.WithdrawnBefore)
		_, err = shop.Report(shop.ctx, shop.entry(3, 0, domain.Withdrawal{Of: undo}))
		shop.refused("a withdrawal withdrawn", err, domain.NotWithdrawable)
		_, err = shop.Report(shop.ctx, shop.entry(3, 0, domain.Withdrawal{Of: 1000}))
		shop.refused("an unknown report withdrawn", err, domain.NoSuchFact)
	}},
	{"what must stop a machine stops it at once", "the tag is hung with the reading, or the next member runs it",
		func(shop *shop) {
			planer := shop.planer("Marble")
			outcome := shop.tell(1, planer, shop.infeed(planer, 70))
			if len(outcome.Hung) != 1 || outcome.Hung[0].Because != outcome.Fact.No ||
				outcome.Before.TaggedOut() || !outcome.After.TaggedOut() {
				shop.Fatalf("hung %+v", outcome.Hung)
			}
			if tags := shop.snapshot(planer).Tags; len(tags) != 1 || tags[0].Fact != outcome.Hung[0].Fact {
				shop.Errorf("tags %+v", tags)
			}
			undo := shop.tell(2, 0, domain.Withdrawal{Of: outcome.Fact.No})
			if tags := shop.snapshot(planer).Tags; !undo.After.TaggedOut() || len(tags) != 1 ||
				!tags[0].ReportWithdrawn {
				shop.Errorf("after the reading was withdrawn: tags %+v", tags)
			}
		}},
	{"a set-up that has changed since", "what a steward confirms is what stood on the screen", func(shop *shop) {
		planer := shop.planer("Marble")
		setup := shop.snapshot(planer).Machine.Setup
		item := domain.CheckItem.Of("infeed")
		shop.tell(1, planer, domain.SetupChanged{Item: item, Setup: setup.With(item, "wren", after(1), nil)})
		_, err := shop.Report(shop.ctx, shop.entry(2, planer, domain.SetupChanged{Item: item, Setup: setup.With(item,
			"ishaan",
			after(2), nil)}))
		shop.refused("a change of a set-up that is no more", err, domain.SetupChangedNow)
		e := shop.entry(3, planer, hours(1))
		e.SetupRev = 1
		_, err = shop.Report(shop.ctx, e)
		shop.refused("a report read against a set-up that is no more", err, domain.SetupChangedNow)
		if got := shop.snapshot(planer).Machine.Setup; got.Rev != 2 || got.Confirmed[item].By != "wren" {
			shop.Errorf("set-up %+v", got)
		}
	}},
	{"what loosens a safety check waits", "nobody makes a machine less safe by himself", func(shop *shop) {
		planer := shop.planer("Marble")
		item := domain.CheckItem.Of("fingers")
		by := func(hours float64, steward domain.PersonID, body domain.Body) domain.Entry {
			e := shop.entry(hours, planer, body)
			e.By, e.For, e.Steward = steward, steward, true
			return e
		}
		every := func() int { return shop.snapshot(planer).Machine.Profile.Check("fingers").Every.Days }
		looser := shop.snapshot(planer).Machine.Setup.WithInterval(item, &domain.Interval{Days: 30})
		_, err := shop.Report(shop.ctx, by(1, "wren", domain.SetupChanged{Item: item, Setup: looser}))
		shop.refused("a change that nobody had asked for", err, domain.SecondNeeded)
		asked := shop.report(by(2, "wren", domain.LooseningAsked{Item: item, Setup: looser, Why: "hardly used"}))
		if waits := asked.After.Loosening; waits == nil || waits.Fact != asked.Fact.No || every() != 7 {
			shop.Errorf("asked for: waits %+v, every %d days", waits, every())
		}
		force := domain.SetupChanged{Item: item, Setup: looser, Loosens: asked.Fact.No}
		_, err = shop.Report(shop.ctx, by(3, "wren", force))
		shop.refused("a change put in force by whoever asked for it", err, domain.OtherSteward)
		shop.report(by(4, "ishaan", force))
		if waits := domain.Assess(shop.snapshot(planer), after(4)).Loosening; every() != 30 || waits != nil {
			shop.Errorf("in force: every %d days, waits %+v", every(), waits)
		}
	}},
	{"one machine of a name", "people and notices call machines by name", func(shop *shop) {
		planer := shop.planer("Marble")
		_, err := shop.Report(shop.ctx, shop.entry(1, 0, domain.MachineAdded{Name: "mARBLE", Setup: shop.setup()}))
		shop.refused("a second of that name", err, domain.MachineTwice)
		shop.tell(2, planer, domain.MachineRetired{})
		_, err = shop.Report(shop.ctx, shop.entry(3, planer, hours(1)))
		shop.refused("hours of a machine that is retired", err, domain.MachineIsRetired)
		if second := shop.planer("Marble"); second == planer {
			shop.Errorf("a new machine has a retired one's number")
		}
	}},
	{"settings", "a shop that was never set up works, and one that was keeps its own", func(shop *shop) {
		got, err := shop.Shop(shop.ctx)
		shop.fails("settings", err)
		if want := domain.NewShop("one"); got.ID != want.ID || got.Zone != want.Zone || got.Digest != want.Digest ||
			got.Units != want.Units {
			shop.Errorf("at first %+v, want %+v", got, want)
		}
		got.Name, got.Units = "Quarry Street Commons", quantity.Imperial
		shop.tell(1, 0, domain.ShopSet{Shop: got})
		if got, err = shop.Shop(shop.ctx); err != nil || got.Name != "Quarry Street Commons" ||
			got.Units != quantity.Imperial {
			shop.Errorf("after a change %+v, %v", got, err)
		}
	}},
	{"days away beside the settings", "somebody changes the settings while a steward says when they are away",
		func(shop *shop) {
			settings, err := shop.Shop(shop.ctx)
			shop.fails("settings", err)
			away := domain.Away{Person: "wren", From: "2999-01-01", Until: "2999-01-02", Deputy: "bo"}
			shop.tell(1, 0, domain.AwaySet{Away: away})
			shop.tell(2, 0, domain.ShopSet{Shop: settings}) // as they were read before
			if got, err := shop.Shop(shop.ctx); err != nil || len(got.Away) != 1 || got.Away[0] != away {
				shop.Errorf("away: %+v, %v", got.Away, err)
			}
			shop.tell(3, 0, domain.AwaySet{Away: domain.Away{Person: "wren"}})
			if got, err := shop.Shop(shop.ctx); err != nil || len(got.Away) != 0 {
				shop.Errorf("taken back: %+v, %v", got.Away, err)
			}
		}},
	{"a danger that is seen to", "who sees to it is called no more", func(shop *shop) {
		planer := shop.planer("Marble")
		danger := shop.tell(1, planer, domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true})
		if len(danger.After.Alarms) != 1 || danger.After.Seen != nil {
			shop.Errorf("a danger: %+v, seen to by %+v", danger.After.Alarms, danger.After.Seen)
		}
		seen := shop.tell(2, planer, domain.SeenTo{Of: danger.After.Alarms[0].Fact})
		if len(seen.After.Alarms) != 0 || seen.After.Seen == nil || seen.After.Seen.Fact != seen.Fact.No {
			shop.Errorf("seen to: %+v, by %+v", seen.After.Alarms, seen.After.Seen)
		}
	}},
	{"what was handed out stays as it was", "an answer is worded after its transaction, while others report",
		func(shop *shop) {
			planer := shop.planer("Marble")
			first := shop.tell(1, planer, domain.ServiceDone{Service: "bushings"})
			snap := shop.snapshot(planer)
			machines, err := shop.Machines(shop.ctx)
			shop.fails("machines", err)
			shop.tell(2, planer, hours(1))
			shop.tell(3, planer, domain.Problem{Symptom: "snipe", Name: "snipe"})
			shop.tell(4, planer, domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody}})
			if snap.Hours.Sign() != 0 || snap.Services["bushings"].Since.Sign() != 0 ||
				len(snap.Problems)+len(snap.Tags) != 0 ||
				first.After.Hours.Sign() != 0 || first.After.TaggedOut() {
				shop.Errorf("what was read before others reported has changed: %v, %+v", snap.Hours, snap.Problems)
			}
			machines[0].Name = "changed by who asked"
			if again, err := shop.Machines(shop.ctx); err != nil || again[0].Name != "Marble" {
				shop.Errorf("a list that somebody changed: %v, %v", again[0].Name, err)
			}
		}},
}
