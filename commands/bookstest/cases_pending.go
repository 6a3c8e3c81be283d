package bookstest

import (
	"time"

	"setscrew/domain"
)

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
		planer := s.planer("Marble")
		s.fails("keep", s.Keep(s.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))
		first := s.entry(1, planer, hours(1))
		first.Pending = "p"
		s.report(first)
		second := s.entry(2, planer, hours(1))
		second.Pending = "p"
		_, err := s.Report(s.ctx, second)
		s.refused("pressed by another", err, domain.PendingUsed)
		if again := s.report(first); !again.Repeated {
			s.Errorf("the same press again is not a repetition")
		}
		_, err = s.Pending(s.ctx, "p", after(2))
		s.refused("looked at when it is used", err, domain.PendingUsed)
		if got := s.seconds(planer); got != 3600 {
			s.Errorf("%d s of use, want 3600", got)
		}
	}},
	{"what is refused leaves its button", "the member may press it again once what stood in the way is gone",
		func(s *shop) {
			planer := s.planer("Marble")
			s.fails("keep", s.Keep(s.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))
			given := s.entry(1, planer, domain.Mended{Key: "snipe", Name: "snipe"})
			given.Pending = "p"
			_, err := s.Report(s.ctx, given)
			s.refused("a press that is refused", err, domain.NoSuchProblem)
			if _, err := s.Pending(s.ctx, "p", after(1)); err != nil {
				s.Errorf("after a refusal: %v", err)
			}
			s.tell(2, planer, domain.Problem{Symptom: "snipe", Name: "snipe"})
			given.Key, given.At, given.Recorded = "pressed again", after(3), after(3)
			s.report(given)
		}},
	{"used without an entry, by its key", "a form that only answers is answered again when its answer was lost",
		func(s *shop) {
			s.fails("keep", s.Keep(s.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))
			s.fails("used", s.Use(s.ctx, "p", "k", start))
			s.fails("used again by the same key", s.Use(s.ctx, "p", "k", after(1)))
			s.refused("used by another key", s.Use(s.ctx, "p", "l", after(1)), domain.PendingUsed)
		}},
}
