package store_test

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"setscrew/domain"
)

// A machine that was retired while a tag stood on it does not come back as one in use,
// under whatever case of its name, until one added as new under it was released.
func TestRetiredTaggedComesBackAsNew(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	added := func(name string, state domain.StartState) domain.MachineAdded {
		setup := snapshot(t, shop, planer).Machine.Setup
		setup.Start, setup.Rev = domain.Start{State: state}, 1
		return domain.MachineAdded{Name: name, Setup: setup}
	}
	at := time.Hour
	next := func(m domain.MachineID, b domain.Body) domain.Entry {
		at += time.Hour
		return entry(fmt.Sprint("again ", at), at, m, b)
	}
	// One that was retired in service comes back as it likes.
	slate := report(t, shop, next(0, added("Slate", ""))).Fact.Machine
	report(t, shop, next(slate, domain.MachineRetired{}))
	report(t, shop, next(0, added("Slate", domain.StartInUse)))
	report(t, shop, next(planer, hangsTag))
	report(t, shop, next(planer, domain.MachineRetired{}))
	refused(t, shop, next(0, added("mARBLE", domain.StartInUse)), domain.RetiredTagged)
	refused(t, shop, next(0, added("Marble", "")), domain.RetiredTagged)
	// Nor under another name, while none of its kind was added since.
	refused(t, shop, next(0, added("Quartz", domain.StartInUse)), domain.RetiredTagged)
	other := added("Gneiss", domain.StartInUse)
	other.Setup.Kind = "band-saw"
	if _, err := shop.Report(t.Context(), next(0, other)); errors.As(err, new(*domain.Refusal)) {
		t.Errorf("one of another kind: %v", err)
	}
	fresh := report(t, shop, next(0, added("Marble", domain.StartNew)))
	if !fresh.After.SettingUp || !fresh.After.TaggedOut() {
		t.Errorf("added as new: setting up %v, tags %v", fresh.After.SettingUp, fresh.After.Tags)
	}
	// Nor when the one added as new was retired before it was ever released.
	report(t, shop, next(fresh.Fact.Machine, domain.MachineRetired{}))
	refused(t, shop, next(0, added("Marble", domain.StartInUse)), domain.RetiredTagged)
	// One of its kind was added as new since, so another name is another machine.
	report(t, shop, next(0, added("Marble", domain.StartNew)))
	report(t, shop, next(0, added("Quartz", domain.StartInUse)))
}

// What a machine was out of service for and was released from does not keep it from coming
// back as one in use.
func TestRetiredAfterItsReleaseComesBack(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	setup := snapshot(t, shop, planer).Machine.Setup
	setup.Start, setup.Rev = domain.Start{State: domain.StartInUse}, 1
	released(t, shop, planer, time.Hour)
	report(t, shop, entry("retired", 2*time.Hour, planer, domain.MachineRetired{}))
	report(t, shop, entry("back", 3*time.Hour, 0, domain.MachineAdded{Name: "Marble", Setup: setup}))
}

// That a lock is off is not taken back once its tag is lifted, since nothing would be put
// on again; while the tag stands it is.
func TestUndoOfALockOffAfterARelease(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	tag := report(t, shop, by("ada", "hung", time.Hour, planer, hangsLock)).Fact.No
	off := report(t, shop, by("ada", "off", 2*time.Hour, planer, domain.LockOff{Tag: tag})).Fact.No
	back := report(t, shop, by("ada", "back", 2*time.Hour, planer, domain.Withdrawal{Of: off}))
	if len(back.After.Locks()) != 1 {
		t.Errorf("taken back while its tag stands: locks %v", back.After.Locks())
	}
	off = report(t, shop, by("ada", "off again", 2*time.Hour, planer, domain.LockOff{Tag: tag})).Fact.No
	report(t, shop, by("wren", "test", 3*time.Hour-time.Minute, planer, answersAll(t, shop, planer)))
	freed := report(t, shop, by("wren", "release", 3*time.Hour, planer, domain.Release{}))
	if freed.After.TaggedOut() {
		t.Fatalf("released: tags %v", freed.After.Tags)
	}
	refused(t, shop, by("ada", "too late", 3*time.Hour, planer, domain.Withdrawal{Of: off}), domain.LockLifted)
	// With the release taken back its tag stands again, and it is put on again.
	report(t, shop, by("wren", "not released", 3*time.Hour, planer, domain.Withdrawal{Of: freed.Fact.No}))
	back = report(t, shop, by("ada", "in time", 3*time.Hour, planer, domain.Withdrawal{Of: off}))
	if len(back.After.Locks()) != 1 {
		t.Errorf("taken back with the release: locks %v", back.After.Locks())
	}
}
