package bookstest

import (
	"context"
	"errors"
	"sync"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// onceCases are about what is written: once, all of it or nothing.
var onceCases = []Case{
	{"the same key again does nothing", "a chat delivers an interaction again when its answer was slow, and hours " +
		"must not count double", func(shop *shop) {
		planer := shop.planer("Marble")
		e := shop.entry(2, planer, hours(1))
		first := shop.report(e)
		shop.tell(3, planer, domain.Problem{Symptom: "snipe", Name: "snipe"})
		e.Recorded, e.Body = after(4), hours(7) // as typed later, and even where it says something else
		again := shop.report(e)
		if !again.Repeated || again.Fact.No != first.Fact.No || again.Fact.Body != first.Fact.Body {
			shop.Errorf("the same key again: repeated %t, no. %d %v", again.Repeated, again.Fact.No, again.Fact.Body)
		}
		if first.Repeated {
			shop.Errorf("the first time it says that it is repeated")
		}
		if got := shop.seconds(planer); got != 3600 {
			shop.Errorf("%d s of use, want 3600", got)
		}
	}},
	{"a repeated key is no refusal",
		"an answer lost on the way is asked for again when the books would by then refuse " +
			"it, and the member must not read that nothing was recorded", func(shop *shop) {
			planer := shop.planer("Marble")
			shop.tell(1, planer, domain.Problem{Symptom: "snipe", Name: "snipe"})
			mend := shop.entry(2, planer, domain.Mended{Key: "snipe", Name: "snipe"})
			shop.report(mend)
			if again := shop.report(mend); !again.Repeated {
				shop.Errorf("mended again under the same key: not repeated")
			}
			_, err := shop.Report(shop.ctx, shop.entry(2, planer, domain.Mended{Key: "snipe", Name: "snipe"}))
			shop.refused("mended again under another key", err, domain.NoSuchProblem)
		}},
	{"an entry has a key", "without one nothing tells a repetition from a second report", func(shop *shop) {
		planer := shop.planer("Marble")
		e := shop.entry(1, planer, hours(1))
		e.Key = ""
		if _, err := shop.Report(shop.ctx, e); err == nil {
			shop.Errorf("an entry without a key is taken")
		}
		if _, err := shop.ReportAll(shop.ctx, []domain.Entry{shop.entry(1, planer, hours(1)), e}, false); err == nil {
			shop.Errorf("among others an entry without a key is taken")
		}
		if got := shop.seconds(planer); got != 0 {
			shop.Errorf("%d s of use, want none", got)
		}
	}},
	{"a key at the same moment", "two deliveries of one interaction can come at once", func(shop *shop) {
		planer := shop.planer("Marble")
		e := shop.entry(2, planer, hours(1))
		var all sync.WaitGroup
		outcomes, errs := make([]domain.Outcome, 8), make([]error, 8)
		for i := range outcomes {
			all.Go(func() { outcomes[i], errs[i] = shop.Report(shop.ctx, e) })
		}
		all.Wait()
		shop.fails("reports at once", errors.Join(errs...))
		applied := 0
		for _, o := range outcomes {
			if !o.Repeated {
				applied++
			}
		}
		if got := shop.seconds(planer); applied != 1 || got != 3600 {
			shop.Errorf("applied %d times, %d s of use; want once and 3600", applied, got)
		}
	}},
	{"a refusal stores nothing", "what people read as refused must not count, nor use up a report's number or its key",
		func(shop *shop) {
			m := shop.planer("Marble")
			last := shop.newest(m)
			given := shop.entry(1, m, domain.Mended{Key: "snipe", Name: "snipe"})
			_, err := shop.Report(shop.ctx, given)
			shop.refused("mended what nobody reported", err, domain.NoSuchProblem)
			if got := shop.newest(m); got != last {
				shop.Errorf("after a refusal the logbook ends with no. %d, want no. %d", got, last)
			}
			given.Body = hours(1)
			if o := shop.report(given); o.Repeated || o.Fact.No != last+1 {
				shop.Errorf("the key again: repeated %t, no. %d, want no. %d", o.Repeated, o.Fact.No, last+1)
			}
		}},
	{"all or none", "of hours typed from a paper sheet a half that was taken would be typed again", func(shop *shop) {
		m := shop.planer("Marble")
		two := []domain.Entry{shop.entry(2, m, hours(1)), shop.entry(3, m, domain.Mended{Key: "snipe", Name: "snipe"})}
		_, err := shop.ReportAll(shop.ctx, two, false)
		shop.refused("entries of which the second is refused", err, domain.NoSuchProblem)
		if got := shop.seconds(m); got != 0 {
			shop.Errorf("%d s of use of the first, want none", got)
		}
		if o := shop.report(two[0]); o.Repeated {
			shop.Errorf("the first by itself counts as applied")
		}
	}},
	{"entries follow one another", "each is judged by what those before it made of the machine", func(shop *shop) {
		m := shop.planer("Marble")
		out, err := shop.ReportAll(shop.ctx, []domain.Entry{shop.entry(2, m, domain.Problem{Symptom: "snipe",
			Name: "snipe"}),
			shop.entry(3, m, domain.Mended{Key: "snipe", Name: "snipe"}), shop.entry(4, m, hours(1))}, false)
		shop.fails("entries together", err)
		if len(out) != 3 || out[1].Fact.No <= out[0].Fact.No || len(out[1].Before.Problems) != 1 ||
			len(out[1].After.Problems) != 0 || out[2].After.Hours.Float(quantity.Hour) != 1 {
			shop.Errorf("outcomes %+v", numbersOf(out))
		}
	}},
	{"entries together, again", "a sheet whose answer was lost is typed again with one line more", func(shop *shop) {
		planer := shop.planer("Marble")
		all := []domain.Entry{shop.entry(2, planer, hours(1)), shop.entry(4, planer, hours(1))}
		first, err := shop.ReportAll(shop.ctx, all, false)
		shop.fails("entries together", err)
		again, err := shop.ReportAll(shop.ctx, append(all, shop.entry(6, planer, hours(1))), false)
		shop.fails("entries together again", err)
		if len(again) != 3 || !again[0].Repeated || !again[1].Repeated || again[2].Repeated ||
			again[0].Fact.No != first[0].Fact.No || shop.seconds(planer) != 3*3600 {
			shop.Errorf("again %v after %v, %d s of use", numbersOf(again), numbersOf(first), shop.seconds(planer))
		}
	}},
	{"a trial stores nothing", "a photo of a sheet is shown as it would be read before anybody confirms it",
		func(shop *shop) {
			planer := shop.planer("Marble")
			last := shop.newest(planer)
			two := []domain.Entry{shop.entry(2, planer, hours(1)), shop.entry(4, planer, hours(2))}
			out, err := shop.ReportAll(shop.ctx, two, true)
			shop.fails("a trial", err)
			if len(out) != 2 || out[1].After.Hours.Float(quantity.Hour) != 3 {
				shop.Errorf("a trial tells of %d outcomes", len(out))
			}
			if got := shop.seconds(planer); got != 0 || shop.newest(planer) != last {
				shop.Errorf("after a trial %d s of use, the last report no. %d; want none and no. %d", got,
					shop.newest(planer), last)
			}
			if o := shop.report(two[0]); o.Repeated {
				shop.Errorf("a trial's key counts as applied")
			}
		}},
	{"a context that ended stores nothing", "an interaction given up on is not recorded behind its member's back",
		func(shop *shop) {
			planer := shop.planer("Marble")
			ended, end := context.WithCancel(shop.ctx)
			end()
			given := shop.entry(1, planer, hours(1))
			if _, err := shop.Report(ended, given); !errors.Is(err, context.Canceled) {
				shop.Errorf("a report under a context that ended: %v", err)
			}
			if _, err := shop.Snapshot(ended, planer); !errors.Is(err, context.Canceled) {
				shop.Errorf("a snapshot under a context that ended: %v", err)
			}
			if o := shop.report(given); o.Repeated || shop.seconds(planer) != 3600 {
				shop.Errorf("afterwards: repeated %t, %d s of use", o.Repeated, shop.seconds(planer))
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
