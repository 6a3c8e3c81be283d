package store_test

import (
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
	report(t, shop, next(planer, hangsTag))
	report(t, shop, next(planer, domain.MachineRetired{}))
	report(t, shop, next(slate, domain.MachineRetired{}))
	report(t, shop, next(0, added("Slate", domain.StartInUse)))
	refused(t, shop, next(0, added("mARBLE", domain.StartInUse)), domain.RetiredTagged)
	fresh := report(t, shop, next(0, added("Marble", domain.StartNew)))
	if !fresh.After.SettingUp || !fresh.After.TaggedOut() {
		t.Errorf("added as new: setting up %v, tags %v", fresh.After.SettingUp, fresh.After.Tags)
	}
	// Nor when the one added as new was retired before it was ever released.
	report(t, shop, next(fresh.Fact.Machine, domain.MachineRetired{}))
	refused(t, shop, next(0, added("Marble", domain.StartInUse)), domain.RetiredTagged)
	// The last one of that name counts.
	last := report(t, shop, next(0, added("Marble", "")))
	report(t, shop, next(last.Fact.Machine, domain.MachineRetired{}))
	report(t, shop, next(0, added("Marble", domain.StartInUse)))
}
