package bookstest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"setscrew/commands"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Cases lists every promise of commands.Books.
func Cases() []Case {
	return slices.Concat(onceCases, stateCases, pendingCases, listCases, sharingCases)
}

// onceCases are about what is written: once, all of it or nothing.
var onceCases = []Case{
	{"the same key again does nothing", "a chat delivers an interaction again when its answer was slow, and hours " +
		"must not count double", func(s *shop) {
		m := s.planer("Marble")
		e := s.entry(2, m, hours(1))
		first := s.report(e)
		s.tell(3, m, domain.Problem{Symptom: "snipe", Name: "snipe"})
		e.Recorded, e.Body = after(4), hours(7) // as typed later, and even where it says something else
		again := s.report(e)
		if !again.Repeated || again.Fact.No != first.Fact.No || again.Fact.Body != first.Fact.Body {
			s.Errorf("the same key again: repeated %t, no. %d %v", again.Repeated, again.Fact.No, again.Fact.Body)
		}
		if first.Repeated {
			s.Errorf("the first time it says that it is repeated")
		}
		if got := s.seconds(m); got != 3600 {
			s.Errorf("%d s of use, want 3600", got)
		}
	}},
	{"a repeated key is no refusal",
		"an answer lost on the way is asked for again when the books would by then refuse " +
			"it, and the member must not read that nothing was recorded", func(s *shop) {
			m := s.planer("Marble")
			s.tell(1, m, domain.Problem{Symptom: "snipe", Name: "snipe"})
			mend := s.entry(2, m, domain.Mended{Key: "snipe", Name: "snipe"})
			s.report(mend)
			if again := s.report(mend); !again.Repeated {
				s.Errorf("mended again under the same key: not repeated")
			}
			_, err := s.Report(s.ctx, s.entry(2, m, domain.Mended{Key: "snipe", Name: "snipe"}))
			s.refused("mended again under another key", err, domain.NoSuchProblem)
		}},
	{"an entry has a key", "without one nothing tells a repetition from a second report", func(s *shop) {
		m := s.planer("Marble")
		e := s.entry(1, m, hours(1))
		e.Key = ""
		if _, err := s.Report(s.ctx, e); err == nil {
			s.Errorf("an entry without a key is taken")
		}
		if _, err := s.ReportAll(s.ctx, []domain.Entry{s.entry(1, m, hours(1)), e}, false); err == nil {
			s.Errorf("among others an entry without a key is taken")
		}
		if got := s.seconds(m); got != 0 {
			s.Errorf("%d s of use, want none", got)
		}
	}},
	{"a key at the same moment", "two deliveries of one interaction can come at once", func(s *shop) {
		m := s.planer("Marble")
		e := s.entry(2, m, hours(1))
		var all sync.WaitGroup
		outcomes, errs := make([]domain.Outcome, 8), make([]error, 8)
		for i := range outcomes {
			all.Go(func() { outcomes[i], errs[i] = s.Report(s.ctx, e) })
		}
		all.Wait()
		s.fails("reports at once", errors.Join(errs...))
		applied := 0
		for _, o := range outcomes {
			if !o.Repeated {
				applied++
			}
		}
		if got := s.seconds(m); applied != 1 || got != 3600 {
			s.Errorf("applied %d times, %d s of use; want once and 3600", applied, got)
		}
	}},
	{"a refusal stores nothing", "what people read as refused must not count, nor use up a report's number or its key",
		func(s *shop) {
			m := s.planer("Marble")
			last := s.newest(m)
			e := s.entry(1, m, domain.Mended{Key: "snipe", Name: "snipe"})
			_, err := s.Report(s.ctx, e)
			s.refused("mended what nobody reported", err, domain.NoSuchProblem)
			if got := s.newest(m); got != last {
				s.Errorf("after a refusal the logbook ends with no. %d, want no. %d", got, last)
			}
			e.Body = hours(1)
			if o := s.report(e); o.Repeated || o.Fact.No != last+1 {
				s.Errorf("the key again: repeated %t, no. %d, want no. %d", o.Repeated, o.Fact.No, last+1)
			}
		}},
	{"all or none", "of hours typed from a paper sheet a half that was taken would be typed again", func(s *shop) {
		m := s.planer("Marble")
		two := []domain.Entry{s.entry(2, m, hours(1)), s.entry(3, m, domain.Mended{Key: "snipe", Name: "snipe"})}
		_, err := s.ReportAll(s.ctx, two, false)
		s.refused("entries of which the second is refused", err, domain.NoSuchProblem)
		if got := s.seconds(m); got != 0 {
			s.Errorf("%d s of use of the first, want none", got)
		}
		if o := s.report(two[0]); o.Repeated {
			s.Errorf("the first by itself counts as applied")
		}
	}},
	{"entries follow one another", "each is judged by what those before it made of the machine", func(s *shop) {
		m := s.planer("Marble")
		out, err := s.ReportAll(s.ctx, []domain.Entry{s.entry(2, m, domain.Problem{Symptom: "snipe", Name: "snipe"}),
			s.entry(3, m, domain.Mended{Key: "snipe", Name: "snipe"}), s.entry(4, m, hours(1))}, false)
		s.fails("entries together", err)
		if len(out) != 3 || out[1].Fact.No <= out[0].Fact.No || len(out[1].Before.Problems) != 1 ||
			len(out[1].After.Problems) != 0 || out[2].After.Hours.Float(quantity.Hour) != 1 {
			s.Errorf("outcomes %+v", numbersOf(out))
		}
	}},
	{"entries together, again", "a sheet whose answer was lost is typed again with one line more", func(s *shop) {
		m := s.planer("Marble")
		all := []domain.Entry{s.entry(2, m, hours(1)), s.entry(4, m, hours(1))}
		first, err := s.ReportAll(s.ctx, all, false)
		s.fails("entries together", err)
		again, err := s.ReportAll(s.ctx, append(all, s.entry(6, m, hours(1))), false)
		s.fails("entries together again", err)
		if len(again) != 3 || !again[0].Repeated || !again[1].Repeated || again[2].Repeated ||
			again[0].Fact.No != first[0].Fact.No || s.seconds(m) != 3*3600 {
			s.Errorf("again %v after %v, %d s of use", numbersOf(again), numbersOf(first), s.seconds(m))
		}
	}},
	{"a trial stores nothing", "a photo of a sheet is shown as it would be read before anybody confirms it",
		func(s *shop) {
			m := s.planer("Marble")
			last := s.newest(m)
			two := []domain.Entry{s.entry(2, m, hours(1)), s.entry(4, m, hours(2))}
			out, err := s.ReportAll(s.ctx, two, true)
			s.fails("a trial", err)
			if len(out) != 2 || out[1].After.Hours.Float(quantity.Hour) != 3 {
				s.Errorf("a trial tells of %d outcomes", len(out))
			}
			if got := s.seconds(m); got != 0 || s.newest(m) != last {
				s.Errorf("after a trial %d s of use, the last report no. %d; want none and no. %d", got, s.newest(m),
					last)
			}
			if o := s.report(two[0]); o.Repeated {
				s.Errorf("a trial's key counts as applied")
			}
		}},
	{"a context that ended stores nothing", "an interaction given up on is not recorded behind its member's back",
		func(s *shop) {
			m := s.planer("Marble")
			ended, end := context.WithCancel(s.ctx)
			end()
			e := s.entry(1, m, hours(1))
			if _, err := s.Report(ended, e); !errors.Is(err, context.Canceled) {
				s.Errorf("a report under a context that ended: %v", err)
			}
			if _, err := s.Snapshot(ended, m); !errors.Is(err, context.Canceled) {
				s.Errorf("a snapshot under a context that ended: %v", err)
			}
			if o := s.report(e); o.Repeated || s.seconds(m) != 3600 {
				s.Errorf("afterwards: repeated %t, %d s of use", o.Repeated, s.seconds(m))
			}
		}},
}

// numbersOf lists outcomes by their facts' numbers.
func numbersOf(out []domain.Outcome) (all []domain.FactNo) {
	for _, o := range out {
		all = append(all, o.Fact.No)
	}
	return all
}

// stateCases are about what is known of a machine after reports.
var stateCases = []Case{
	{"a fact is read back as it was reported", "the logbook and every correction rest on it", func(s *shop) {
		m := s.planer("Marble")
		e := s.entry(5, m, domain.Handover{Apart: "hood", Next: "fit it"})
		e.At, e.For = after(3), "bo"
		want := s.report(e).Fact
		got, err := s.Fact(s.ctx, want.No)
		s.fails("a fact", err)
		if !got.At.Equal(e.At) || !got.Recorded.Equal(e.Recorded) || got.By != "ada" || got.For != "bo" ||
			got.Machine != m || got.Body != e.Body || got.Withdrawn != 0 || got.SetupRev != 1 || got.Hash == "" {
			s.Errorf("reported %+v, read %+v", e, got)
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
			m := s.planer("Marble")
			newer := s.tell(10, m, s.infeed(m, 41)).Fact.No
			late := s.entry(12, m, s.infeed(m, 46))
			late.At = after(8)
			old := s.report(late).Fact.No
			if got := s.snapshot(m).Latest["infeed"].Fact; got != newer {
				s.Errorf("the latest reading is no. %d, want no. %d", got, newer)
			}
			s.tell(13, 0, domain.Withdrawal{Of: newer})
			if got := s.snapshot(m).Latest["infeed"].Fact; got != old {
				s.Errorf("after it was withdrawn the latest is no. %d, want no. %d", got, old)
			}
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
			m := s.planer("Marble")
			o := s.tell(1, m, s.infeed(m, 70))
			if len(o.Hung) != 1 || o.Hung[0].Because != o.Fact.No || o.Before.TaggedOut() || !o.After.TaggedOut() {
				s.Fatalf("hung %+v", o.Hung)
			}
			if tags := s.snapshot(m).Tags; len(tags) != 1 || tags[0].Fact != o.Hung[0].Fact {
				s.Errorf("tags %+v", tags)
			}
			undo := s.tell(2, 0, domain.Withdrawal{Of: o.Fact.No})
			if tags := s.snapshot(m).Tags; !undo.After.TaggedOut() || len(tags) != 1 || !tags[0].ReportWithdrawn {
				s.Errorf("after the reading was withdrawn: tags %+v", tags)
			}
		}},
	{"a set-up that has changed since", "what a steward confirms is what stood on the screen", func(s *shop) {
		m := s.planer("Marble")
		setup := s.snapshot(m).Machine.Setup
		item := domain.CheckItem.Of("infeed")
		s.tell(1, m, domain.SetupChanged{Item: item, Setup: setup.With(item, "wren", after(1), nil)})
		_, err := s.Report(s.ctx, s.entry(2, m, domain.SetupChanged{Item: item, Setup: setup.With(item, "ishaan",
			after(2), nil)}))
		s.refused("a change of a set-up that is no more", err, domain.SetupChangedNow)
		e := s.entry(3, m, hours(1))
		e.SetupRev = 1
		_, err = s.Report(s.ctx, e)
		s.refused("a report read against a set-up that is no more", err, domain.SetupChangedNow)
		if got := s.snapshot(m).Machine.Setup; got.Rev != 2 || got.Confirmed[item].By != "wren" {
			s.Errorf("set-up %+v", got)
		}
	}},
	{"one machine of a name", "people and notices call machines by name", func(s *shop) {
		m := s.planer("Marble")
		_, err := s.Report(s.ctx, s.entry(1, 0, domain.MachineAdded{Name: "mARBLE", Setup: s.setup()}))
		s.refused("a second of that name", err, domain.MachineTwice)
		s.tell(2, m, domain.MachineRetired{})
		_, err = s.Report(s.ctx, s.entry(3, m, hours(1)))
		s.refused("hours of a machine that is retired", err, domain.MachineIsRetired)
		if second := s.planer("Marble"); second == m {
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
	{"what was handed out stays as it was", "an answer is worded after its transaction, while others report",
		func(s *shop) {
			m := s.planer("Marble")
			first := s.tell(1, m, domain.ServiceDone{Service: "bushings"})
			snap := s.snapshot(m)
			machines, err := s.Machines(s.ctx)
			s.fails("machines", err)
			s.tell(2, m, hours(1))
			s.tell(3, m, domain.Problem{Symptom: "snipe", Name: "snipe"})
			s.tell(4, m, domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody}})
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

// pendingCases are about what waits behind buttons and forms.
var pendingCases = []Case{
	{"what waits is kept as it was", "a button works after a restart", func(s *shop) {
		want := domain.Pending{ID: "p", Action: "again", Args: []byte(`{"a":1}`), Asked: "ada", Made: start,
			Expires: after(1)}
		s.fails("keep", s.Keep(s.ctx, want, domain.Pending{ID: "q", Action: "other", Args: []byte(`{}`), Made: start,
			Expires: after(1)}))
		// The same interaction delivered again keeps its buttons again.
		s.fails("keep again", s.Keep(s.ctx, domain.Pending{ID: "p", Action: "changed", Made: start, Expires: after(9)}))
		got, err := s.Pending(s.ctx, "p", after(1).Add(-time.Millisecond))
		if err != nil || got.Action != want.Action || string(got.Args) != string(want.Args) || got.Asked != "ada" ||
			!got.Made.Equal(want.Made) || !got.Expires.Equal(want.Expires) || got.Used != "" {
			s.Errorf("kept %+v, read %+v, %v", want, got, err)
		}
	}},
	{"what waits expires", "a button from last week would confirm what nobody means any more", func(s *shop) {
		s.fails("keep", s.Keep(s.ctx, domain.Pending{ID: "p", Made: start, Expires: after(1)}))
		_, err := s.Pending(s.ctx, "p", after(1))
		s.refused("one that expires now", err, domain.PendingGone)
		_, err = s.Pending(s.ctx, "unknown", start)
		s.refused("an unknown one", err, domain.PendingGone)
		s.refused("used when it is expired", s.Use(s.ctx, "p", "k", after(1)), domain.PendingGone)
		s.refused("an unknown one used", s.Use(s.ctx, "unknown", "k", start), domain.PendingGone)
	}},
	{"a button is pressed once", "two stewards press it, and only one of them releases the machine", func(s *shop) {
		m := s.planer("Marble")
		s.fails("keep", s.Keep(s.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))
		first := s.entry(1, m, hours(1))
		first.Pending = "p"
		s.report(first)
		second := s.entry(2, m, hours(1))
		second.Pending = "p"
		_, err := s.Report(s.ctx, second)
		s.refused("pressed by another", err, domain.PendingUsed)
		if again := s.report(first); !again.Repeated {
			s.Errorf("the same press again is not a repetition")
		}
		_, err = s.Pending(s.ctx, "p", after(2))
		s.refused("looked at when it is used", err, domain.PendingUsed)
		if got := s.seconds(m); got != 3600 {
			s.Errorf("%d s of use, want 3600", got)
		}
	}},
	{"what is refused leaves its button", "the member may press it again once what stood in the way is gone",
		func(s *shop) {
			m := s.planer("Marble")
			s.fails("keep", s.Keep(s.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))
			e := s.entry(1, m, domain.Mended{Key: "snipe", Name: "snipe"})
			e.Pending = "p"
			_, err := s.Report(s.ctx, e)
			s.refused("a press that is refused", err, domain.NoSuchProblem)
			if _, err := s.Pending(s.ctx, "p", after(1)); err != nil {
				s.Errorf("after a refusal: %v", err)
			}
			s.tell(2, m, domain.Problem{Symptom: "snipe", Name: "snipe"})
			e.Key, e.At, e.Recorded = "pressed again", after(3), after(3)
			s.report(e)
		}},
	{"used without an entry, by its key", "a form that only answers is answered again when its answer was lost",
		func(s *shop) {
			s.fails("keep", s.Keep(s.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))
			s.fails("used", s.Use(s.ctx, "p", "k", start))
			s.fails("used again by the same key", s.Use(s.ctx, "p", "k", after(1)))
			s.refused("used by another key", s.Use(s.ctx, "p", "l", after(1)), domain.PendingUsed)
		}},
}

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
		m := s.planer("Marble")
		other := s.planer("Slate")
		for i := range 5 {
			s.tell(float64(2*i+1), m, hours(1))
			s.tell(float64(2*i+1), other, hours(1))
		}
		wrong := s.newest(m)
		s.tell(20, 0, domain.Withdrawal{Of: wrong})
		whole, err := s.Logbook(s.ctx, m, 0, 1000)
		s.fails("the logbook", err)
		var paged []domain.Fact
		for before := domain.FactNo(0); ; {
			page, err := s.Logbook(s.ctx, m, before, 4)
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
			func(f domain.Fact) bool { return f.Machine != m }) {
			s.Errorf("without what was withdrawn, or with another machine's: %v", numbers(whole))
		}
	}},
	{"runs from a moment until before another", "a run at midnight belongs to one day, not to two or none",
		func(s *shop) {
			m := s.planer("Marble")
			other := s.planer("Slate")
			var want []domain.FactNo
			for _, at := range []float64{30, 10, 20} { // typed in any order
				e := s.entry(40, m, domain.Hours{Seconds: int64(at)})
				e.At = after(at)
				want = append(want, s.report(e).Fact.No)
			}
			wrong := s.tell(15, m, hours(1)).Fact.No
			s.tell(41, 0, domain.Withdrawal{Of: wrong})
			s.tell(15, other, hours(1))
			check := func(from, until float64, want ...domain.FactNo) {
				s.Helper()
				runs, err := s.Runs(s.ctx, m, after(from), after(until))
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
				if err != nil || sessions[m] != len(want) {
					s.Errorf("from %g until %g h: %d sessions, %v; want %d", from, until, sessions[m], err, len(want))
				}
			}
			check(10, 30, want[1], want[2])
			check(10.001, 30.001, want[2], want[0])
			check(0, 100, want[1], want[2], want[0])
			check(20, 20)
		}},
	{"readings with the use between them", "drift is followed over hours of use, by when it was read", func(s *shop) {
		m := s.planer("Marble")
		for i, thou := range []int64{41, 42, 43} {
			at := float64(10 * (i + 1))
			s.tell(at, m, s.infeed(m, thou))
			s.tell(at+1, m, hours(2))
		}
		all, now, err := s.Readings(s.ctx, m, "infeed", after(10))
		if err != nil || len(all) != 3 || all[0].Hours != 0 || all[1].Hours != 2 || all[2].Hours != 4 || now != 6 {
			s.Fatalf("%d readings, %g h until now, %v", len(all), now, err)
		}
		if !all[0].At.Equal(after(10)) || !all[2].Values[0].Mean().Equal(quantity.New(43, 1, quantity.Thou)) {
			s.Errorf("readings %+v", all)
		}
		if all, now, err = s.Readings(s.ctx, m, "infeed", after(10.001)); err != nil || len(all) != 2 ||
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
			m := s.planer("Marble")
			snipe := domain.Problem{Symptom: "snipe", Name: "snipe"}
			settled := func(want int) {
				s.Helper()
				if c, err := s.Settled(s.ctx, m, "snipe"); err != nil || c.N != want || c.By["tables"] != want {
					s.Errorf("settled %+v, %v; want %d", c, err, want)
				}
			}
			s.tell(1, m, snipe)
			s.tell(2, m, domain.Mended{Key: "snipe", Name: "snipe", Cause: "tables"})
			settled(1)
			s.tell(3, m, snipe) // it came back without any use
			settled(0)
			s.tell(4, m, domain.Mended{Key: "snipe", Name: "snipe", Cause: "tables"})
			settled(1)
		}},
}

// sharingCases are about shops beside each other.
var sharingCases = []Case{
	{"shops never see each other", "one program serves many shops, and what is a shop's own stays there",
		func(s *shop) {
			two := s.all("two")
			m := s.planer("Marble")
			e := s.entry(1, m, hours(1))
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
			logbook, err := two.Logbook(s.ctx, m, 0, 10)
			empty("facts in a logbook", len(logbook), err)
			runs, err := two.Runs(s.ctx, m, start, after(100))
			empty("runs", len(runs), err)
			sessions, err := two.Sessions(s.ctx, start, after(100))
			empty("sessions", len(sessions), err)
			readings, _, err := two.Readings(s.ctx, m, "infeed", time.Time{})
			empty("readings", len(readings), err)
			if _, found, err := two.Visits(s.ctx); found || err != nil {
				s.Errorf("a plan of visits %t, %v", found, err)
			}
			_, err = two.Snapshot(s.ctx, m)
			s.refused("a snapshot", err, domain.NoSuchMachine)
			_, err = two.Fact(s.ctx, no)
			s.refused("a fact", err, domain.NoSuchFact)
			_, err = two.LastBy(s.ctx, "ada")
			s.refused("the last report", err, domain.NothingToUndo)
			_, err = two.Pending(s.ctx, "p", start)
			s.refused("what waits", err, domain.PendingGone)
			s.refused("using what waits", two.Use(s.ctx, "p", "k", start), domain.PendingGone)
			_, err = two.Report(s.ctx, s.entry(4, m, hours(1)))
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

var _ commands.Books = (*shop)(nil)
