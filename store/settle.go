package store

import (
	"context"
	"time"

	"setscrew/domain"
)

// Settle judges a machine again, hangs the tags that are demanded, owes the
// notices, and stores when to judge it next.
func (db *DB) Settle(ctx context.Context, shop domain.ShopID, machine domain.MachineID,
	now time.Time) (st domain.Status,
	err error) {
	err = db.write(ctx, shop, func(t *tx) error {
		snap, err := t.snapshot(machine)
		if err != nil {
			return err
		}
		if t.catchingUp, err = t.missed(machine, now); err != nil {
			return err
		}
		st, err = t.settle(snap, now, nil, nil)
		return err
	})
	return st, err
}

// missed reports whether a machine's wake was missed by an hour and more, and a
// digest is due that will say what fell due meanwhile.
func (t *tx) missed(m domain.MachineID, now time.Time) (bool, error) {
	var wake *int64
	if _, err := t.row([]any{&wake}, `SELECT wake FROM machine WHERE shop_id = ? AND machine_id = ?`, t.shop,
		m); err != nil || wake == nil {
		return false, err
	}
	next, err := t.digestDue()
	return now.Sub(moment(*wake)) > time.Hour && !next.IsZero() && !next.After(now), err
}

// settle is the end of every transaction about a machine: what its new state,
// snap, demands is done. before is its status before f was reported; both are nil in
// a sweep.
func (t *tx) settle(snap domain.Snapshot, now time.Time, before *domain.Status, fact *domain.Fact) (domain.Status,
	error) {
	// Tags are hung until none more is demanded.
	var st domain.Status
	own := domain.Fact{Machine: snap.Machine.ID, At: now, Recorded: now, Hash: snap.Machine.Setup.Hash,
		SetupRev: snap.Machine.Setup.Rev}
	for {
		st = domain.Assess(snap, now)
		if before == nil {
			first := st
			before = &first
		}
		if len(st.MustTag) == 0 || !snap.Machine.Retired.IsZero() {
			break
		}
		// A hung tag keeps its cause from demanding another, so this ends.
		var tags []domain.Body
		for _, c := range st.MustTag {
			tags = append(tags, domain.TagOut{Cause: c.Key, Because: c.Because, Reason: c.Reason})
		}
		var err error
		if snap, err = t.addAllOwn(own, tags...); err != nil {
			return st, err
		}
	}
	// A test whose time has run out ends by itself.
	if over := st.TestOver; over != nil {
		var err error
		if snap, err = t.addAllOwn(own, domain.TestEnded{Test: over.Fact}); err != nil {
			return st, err
		}
		st = domain.Assess(snap, now)
	}
	// What was mended is over; that a problem is closed asks for nothing more.
	if len(st.Over) > 0 {
		var mends []domain.Body
		for _, mended := range st.Over {
			mends = append(mends, mended)
		}
		var err error
		if snap, err = t.addAllOwn(own, mends...); err != nil {
			return st, err
		}
		st = domain.Assess(snap, now)
	}
	// What must be said is owed, and when to judge it next is stored.
	for _, n := range domain.Owed(*before, st, fact) {
		if err := t.owe(snap.Shop, n, now); err != nil {
			return st, err
		}
	}
	wake := st.Wake
	if !st.Machine.Retired.IsZero() {
		wake = time.Time{}
	}
	if t.wake == nil || !t.wake.Equal(wake) {
		if err := t.exec(`UPDATE machine SET wake = ? WHERE shop_id = ? AND machine_id = ?`, stampOrNull(wake),
			t.shop, own.Machine); err != nil {
			return st, err
		}
	}
	return st, t.keepSnapshot(snap, wake)
}

// addOwn writes a fact that Setscrew adds by itself, and what is derived from it.
func (t *tx) addOwn(own domain.Fact) error {
	if err := t.addFact(&own, "", ""); err != nil {
		return err
	}
	return t.derive(own)
}

// addAllOwn adds facts that are alike but for their bodies, and is their machine's snapshot
// after them.
func (t *tx) addAllOwn(own domain.Fact, bodies ...domain.Body) (domain.Snapshot, error) {
	for _, own.Body = range bodies {
		if err := t.addOwn(own); err != nil {
			return domain.Snapshot{}, err
		}
	}
	return t.snapshot(own.Machine)
}
