package store_test

import (
	"testing"
	"time"

	"setscrew/domain"
)

// loosening asks to look at the fingers less often.
func loosening(machine domain.Machine, days int) domain.LooseningAsked {
	item := domain.CheckItem.Of("fingers")
	return domain.LooseningAsked{Item: item, Setup: machine.Setup.WithInterval(item, &domain.Interval{Days: days}),
		Why: "hardly used"}
}

// What loosens a safety check waits in the books, over a restart, until another steward
// puts it in force; what it asks for is compiled from the profile that it names, and what
// has changed since is asked for again.
func TestLooseningWaits(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	snapshot := func() domain.Snapshot {
		t.Helper()
		snap, err := shop.Snapshot(ctx, planer)
		if err != nil {
			t.Fatal(err)
		}
		return snap
	}
	days := func() int { return snapshot().Machine.Profile.Check("fingers").Every.Days }
	steward := func(key string, after time.Duration, by domain.PersonID, body domain.Body) domain.Entry {
		given := entry(key, after, planer, body)
		given.By, given.For, given.Steward = by, by, true
		return given
	}
	// Changed without asking, and without a reason.
	direct := domain.SetupChanged{Setup: loosening(snapshot().Machine, 30).Setup}
	refused(t, shop, steward("direct", 1, "wren", direct), domain.SecondNeeded)
	silent := loosening(snapshot().Machine, 30)
	silent.Why = ""
	refused(t, shop, steward("silent", 2, "wren", silent), domain.ReasonNeeded)
	// Asked for: nothing changes.
	asked := report(t, shop, steward("ask", 3, "wren", loosening(snapshot().Machine, 30))).Fact
	if body, ok := asked.Body.(domain.LooseningAsked); !ok || len(body.Loosens) != 1 || days() != 7 {
		t.Fatalf("asked for %+v, every %d days", asked.Body, days())
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	db = open(t, path)
	shop = db.Shop("one")
	waits := snapshot().Loosening
	if waits == nil || waits.Fact != asked.No || waits.By != "wren" {
		t.Fatalf("after a restart waits %+v", waits)
	}
	force := domain.SetupChanged{Item: waits.Item, Setup: waits.Setup, Loosens: waits.Fact}
	refused(t, shop, steward("alone", 4, "wren", force), domain.OtherSteward)
	// In force, once.
	report(t, shop, steward("force", 5, "ishaan", force))
	if days() != 30 {
		t.Errorf("every %d days", days())
	}
	refused(t, shop, steward("again", 6, "ishaan", force), domain.SetupChangedNow)
	refused(t, shop, steward("undo", 7, "wren", domain.Withdrawal{Of: asked.No}), domain.NotWithdrawable)
	// Tightened at once; what was asked for before is gone by then.
	old := report(t, shop, steward("ask 2", 8, "wren", loosening(snapshot().Machine, 60))).Fact
	report(t, shop, steward("tighten", 9, "wren", domain.SetupChanged{Setup: loosening(snapshot().Machine, 5).Setup}))
	waits = snapshot().Loosening
	refused(t, shop, steward("force 2", 10, "ishaan", domain.SetupChanged{Setup: waits.Setup, Loosens: old.No}),
		domain.SetupChangedNow)
	if days() != 5 {
		t.Errorf("every %d days", days())
	}
	// Withdrawn, it waits no more.
	gone := report(t, shop, steward("ask 3", 11, "wren", loosening(snapshot().Machine, 60))).Fact
	report(t, shop, steward("undo 3", 12, "wren", domain.Withdrawal{Of: gone.No}))
	late := loosening(snapshot().Machine, 60).Setup
	refused(t, shop, steward("force 3", 13, "ishaan", domain.SetupChanged{Setup: late, Loosens: gone.No}),
		domain.LooseningGone)
	// A set-up whose profile nobody has is no set-up.
	lost := loosening(snapshot().Machine, 60)
	lost.Setup.Hash = "nothing"
	if _, err := shop.Report(ctx, steward("lost", 14, "wren", lost)); err == nil {
		t.Error("a profile that is not there was taken")
	}
}
