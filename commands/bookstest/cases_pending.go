package bookstest

import (
	"time"

	"setscrew/domain"
)

// pendingCases are about what waits behind buttons and forms.
var pendingCases = []Case{
	{"what waits is kept as it was", "a button works after a restart", func(shop *shop) {
		want := domain.Pending{ID: "p", Action: "again", Args: []byte(`{"a":1}`), Asked: "ada", Made: start,
			Expires: after(1)}
		shop.fails("keep", shop.Keep(shop.ctx, want, domain.Pending{ID: "q", Action: "other", Args: []byte(`{}`),
			Made:    start,
			Expires: after(1)}))
		// The same interaction delivered again keeps its buttons again.
		shop.fails("keep again", shop.Keep(shop.ctx, domain.Pending{ID: "p", Action: "changed", Made: start,
			Expires: after(9)}))
		got, err := shop.Pending(shop.ctx, "p", after(1).Add(-time.Millisecond))
		if err != nil || got.Action != want.Action || string(got.Args) != string(want.Args) || got.Asked != "ada" ||
			!got.Made.Equal(want.Made) || !got.Expires.Equal(want.Expires) || got.Used != "" {
			shop.Errorf("kept %+v, read %+v, %v", want, got, err)
		}
	}},
	{"what waits expires", "a button from last week would confirm what nobody means any more", func(shop *shop) {
		shop.fails("keep", shop.Keep(shop.ctx, domain.Pending{ID: "p", Made: start, Expires: after(1)}))
		_, err := shop.Pending(shop.ctx, "p", after(1))
		shop.refused("one that expires now", err, domain.PendingGone)
		_, err = shop.Pending(shop.ctx, "unknown", start)
		shop.refused("an unknown one", err, domain.PendingGone)
		shop.refused("used when it is expired", shop.Use(shop.ctx, "p", "k", after(1)), domain.PendingGone)
		shop.refused("an unknown one used", shop.Use(shop.ctx, "unknown", "k", start), domain.PendingGone)
	}},
	{"a button is pressed once", "two stewards press it, and only one of them releases the machine", func(shop *shop) {
		planer := shop.planer("Marble")
		shop.fails("keep", shop.Keep(shop.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))
		first := shop.entry(1, planer, hours(1))
		first.Pending = "p"
		shop.report(first)
		second := shop.entry(2, planer, hours(1))
		second.Pending = "p"
		_, err := shop.Report(shop.ctx, second)
		shop.refused("pressed by another", err, domain.PendingUsed)
		if again := shop.report(first); !again.Repeated {
			shop.Errorf("the same press again is not a repetition")
		}
		_, err = shop.Pending(shop.ctx, "p", after(2))
		shop.refused("looked at when it is used", err, domain.PendingUsed)
		if got := shop.seconds(planer); got != 3600 {
			shop.Errorf("%d s of use, want 3600", got)
		}
	}},
	{"what is refused leaves its button", "the member may press it again once what stood in the way is gone",
		func(shop *shop) {
			planer := shop.planer("Marble")
			shop.fails("keep", shop.Keep(shop.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))
			given := shop.entry(1, planer, domain.Mended{Key: "snipe", Name: "snipe"})
			given.Pending = "p"
			_, err := shop.Report(shop.ctx, given)
			shop.refused("a press that is refused", err, domain.NoSuchProblem)
			if _, err := shop.Pending(shop.ctx, "p", after(1)); err != nil {
				shop.Errorf("after a refusal: %v", err)
			}
			shop.tell(2, planer, domain.Problem{Symptom: "snipe", Name: "snipe"})
			given.Key, given.At, given.Recorded = "pressed again", after(3), after(3)
			shop.report(given)
		}},
	{"used without an entry, by its key", "a form that only answers is answered again when its answer was lost",
		func(s *shop) {
			s.fails("keep", s.Keep(s.ctx, domain.Pending{ID: "p", Made: start, Expires: after(9)}))
			s.fails("used", s.Use(s.ctx, "p", "k", start))
			s.fails("used again by the same key", s.Use(s.ctx, "p", "k", after(1)))
			s.refused("used by another key", s.Use(s.ctx, "p", "l", after(1)), domain.PendingUsed)
		}},
}
