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
		"must not count double", func(s *shop) {
		planer := s.planer("Marble")
		e := s.entry(2, planer, hours(1))
		first := s.report(e)
		s.tell(3, planer, domain.Problem{Symptom: "snipe", Name: "snipe"})
		e.Recorded, e.Body = after(4), hours(7) // as typed later, and even where it says something else
		again := s.report(e)
		if !again.Repeated || again.Fact.No != first.Fact.No || again.Fact.Body != first.Fact.Body {
			s.Errorf("the same key again: repeated %t, no. %d %v", again.Repeated, again.Fact.No, again.Fact.Body)
		}
		if first.Repeated {
			s.Errorf("the first time it says that it is repeated")
		}
		if got := s.seconds(planer); got != 3600 {
			s.Errorf("%d s of use, want 3600", got)
		}
	}},
	{"a repeated key is no refusal",
		"an answer lost on the way is asked for again when the books would by then refuse " +
			"it, and the member must not read that nothing was recorded", func(s *shop) {
			planer := s.planer("Marble")
			s.tell(1, planer, domain.Problem{Symptom: "snipe", Name: "snipe"})
			mend := s.entry(2, planer, domain.Mended{Key: "snipe", Name: "snipe"})
			s.report(mend)
			if again := s.report(mend); !again.Repeated {
				s.Errorf("mended again under the same key: not repeated")
			}
			_, err := s.Report(s.ctx, s.entry(2, planer, domain.Mended{Key: "snipe", Name: "snipe"}))
			s.refused("mended again under another key", err, domain.NoSuchProblem)
		}},
	{"an entry has a key", "without one nothing tells a repetition from a second report", func(s *shop) {
		planer := s.planer("Marble")
		e := s.entry(1, planer, hours(1))
		e.Key = ""
		if _, err := s.Report(s.ctx, e); err == nil {
			s.Errorf("an entry without a key is taken")
		}
		if _, err := s.ReportAll(s.ctx, []domain.Entry{s.entry(1, planer, hours(1)), e}, false); err == nil {
			s.Errorf("among others an entry without a key is taken")
		}
		if got := s.seconds(planer); got != 0 {
			s.Errorf("%d s of use, want none", got)
		}
	}},
	{"a key at the same moment", "two deliveries of one interaction can come at once", func(s *shop) {
		planer := s.planer("Marble")
		e := s.entry(2, planer, hours(1))
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
		if got := s.seconds(planer); applied != 1 || got != 3600 {
			s.Errorf("applied %d times, %d s of use; want once and 3600", applied, got)
		}
	}},
	{"a refusal stores nothing", "what people read as refused must not count, nor use up a report's number or its key",
		func(s *shop) {
			m := s.planer("Marble")
			last := s.newest(m)
			given := s.entry(1, m, domain.Mended{Key: "snipe", Name: "snipe"})
			_, err := s.Report(s.ctx, given)
			s.refused("mended what nobody reported", err, domain.NoSuchProblem)
			if got := s.newest(m); got != last {
				s.Errorf("after a refusal the logbook ends with no. %d, want no. %d", got, last)
			}
			given.Body = hours(1)
			if o := s.report(given); o.Repeated || o.Fact.No != last+1 {
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
		planer := s.planer("Marble")
		all := []domain.Entry{s.entry(2, planer, hours(1)), s.entry(4, planer, hours(1))}
		first, err := s.ReportAll(s.ctx, all, false)
		s.fails("entries together", err)
		again, err := s.ReportAll(s.ctx, append(all, s.entry(6, planer, hours(1))), false)
		s.fails("entries together again", err)
		if len(again) != 3 || !again[0].Repeated || !again[1].Repeated || again[2].Repeated ||
			again[0].Fact.No != first[0].Fact.No || s.seconds(planer) != 3*3600 {
			s.Errorf("again %v after %v, %d s of use", numbersOf(again), numbersOf(first), s.seconds(planer))
		}
	}},
	{"a trial stores nothing", "a photo of a sheet is shown as it would be read before anybody confirms it",
		func(s *shop) {
			planer := s.planer("Marble")
			last := s.newest(planer)
			two := []domain.Entry{s.entry(2, planer, hours(1)), s.entry(4, planer, hours(2))}
			out, err := s.ReportAll(s.ctx, two, true)
			s.fails("a trial", err)
			if len(out) != 2 || out[1].After.Hours.Float(quantity.Hour) != 3 {
				s.Errorf("a trial tells of %d outcomes", len(out))
			}
			if got := s.seconds(planer); got != 0 || s.newest(planer) != last {
				s.Errorf("after a trial %d s of use, the last report no. %d; want none and no. %d", got,
					s.newest(planer), last)
			}
			if o := s.report(two[0]); o.Repeated {
				s.Errorf("a trial's key counts as applied")
			}
		}},
	{"a context that ended stores nothing", "an interaction given up on is not recorded behind its member's back",
		func(s *shop) {
			planer := s.planer("Marble")
			ended, end := context.WithCancel(s.ctx)
			end()
			given := s.entry(1, planer, hours(1))
			if _, err := s.Report(ended, given); !errors.Is(err, context.Canceled) {
				s.Errorf("a report under a context that ended: %v", err)
			}
			if _, err := s.Snapshot(ended, planer); !errors.Is(err, context.Canceled) {
				s.Errorf("a snapshot under a context that ended: %v", err)
			}
			if o := s.report(given); o.Repeated || s.seconds(planer) != 3600 {
				s.Errorf("afterwards: repeated %t, %d s of use", o.Repeated, s.seconds(planer))
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
