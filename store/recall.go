package store

import (
	"context"
	"sync/atomic"
	"time"

	"setscrew/domain"
)

// recalled is a machine's snapshot as it stood after a fact of its shop.
type recalled struct {
	snap       domain.Snapshot
	no         domain.FactNo // the shop's last fact at that time
	wake       time.Time     // as it is stored
	generation int64         // of the shop's machines
}

type machineKey struct {
	shop    domain.ShopID
	machine domain.MachineID
}

// recall is a machine's snapshot, from memory if no later fact can have changed
// it: everything in a snapshot comes from facts of the machine, or of the shop
// itself, but for the machines that it needs or whose ratio it borrows. One
// query, over the facts recorded since, tells. A snapshot is shared and never
// changed once it is made.
func (t *tx) recall(m domain.MachineID) (domain.Snapshot, error) {
	v, ok := t.db.recalled.Load(machineKey{t.shop, m})
	if !ok {
		return t.snapshot(m)
	}
	r := v.(recalled)
	if r.generation != t.db.generation(t.shop).Load() || len(r.snap.Needs) > 0 || r.snap.Machine.Setup.Like != 0 {
		return t.snapshot(m) // what other machines are comes into it
	}
	last, err := t.lastFact()
	if err != nil {
		return domain.Snapshot{}, err
	}
	if last == r.no {
		t.wake = &r.wake
		return r.snap, nil
	}
	var one int
	changed, err := t.row([]any{&one}, `SELECT 1 FROM fact WHERE shop_id = ? AND no > ? AND machine_id IN (0, ?) LIMIT 1`, t.shop, r.no, m)
	if err != nil {
		return domain.Snapshot{}, err
	}
	if changed {
		return t.snapshot(m)
	}
	t.wake = &r.wake
	return r.snap, nil
}

// glance is a machine's snapshot for reading, from memory where neither a fact nor
// what other machines are can have changed it since it was read.
func (t *tx) glance(m domain.MachineID, generation int64) (domain.Snapshot, error) {
	key := machineKey{t.shop, m}
	if v, ok := t.db.glances.Load(key); ok && v.(recalled).generation == generation {
		r := v.(recalled)
		var one int
		changed, err := t.row([]any{&one}, `SELECT 1 FROM fact WHERE shop_id = ? AND no > ? AND machine_id IN (0, ?) LIMIT 1`, t.shop, r.no, m)
		if err != nil || !changed {
			return r.snap, err
		}
	}
	snap, err := t.snapshot(m)
	if err != nil || len(snap.Needs)+len(snap.NeededBy) > 0 || snap.Machine.Setup.Like != 0 {
		return snap, err
	}
	no, err := t.lastFact()
	t.db.glances.Store(key, recalled{snap: snap, no: no, generation: generation})
	return snap, err
}

// remember keeps a snapshot, and its machine's stored wake time, for recall once
// the transaction is committed.
func (t *tx) remember(snap domain.Snapshot, wake time.Time) error {
	no, err := t.lastFact()
	t.kept = &recalled{snap: snap, no: no, wake: wake}
	return err
}

// committed makes what was to be remembered so, and forgets what is no longer
// true.
func (t *tx) committed() {
	if t.changed {
		t.db.generation(t.shop).Add(1)
	}
	if t.known && t.writes {
		t.db.newest.Store(t.shop, t.newest)
	}
	if t.kept != nil {
		t.kept.generation = t.db.generation(t.shop).Load()
		t.db.recalled.Store(machineKey{t.shop, t.kept.snap.Machine.ID}, *t.kept)
	}
}

// listing is a shop's settings and its machines in use, as they stood at one
// generation of them.
type listing struct {
	generation int64
	settings   domain.Shop
	machines   []domain.Machine
}

// generation counts the commits of this program that changed a shop's settings
// or the set of its machines. No other program writes to the file meanwhile.
func (db *DB) generation(shop domain.ShopID) *atomic.Int64 {
	g, _ := db.generations.LoadOrStore(shop, new(atomic.Int64))
	return g.(*atomic.Int64)
}

// list is a shop's settings and machines, from memory while nothing changed
// them. What it returns is shared and never changed.
func (s *Shop) list(ctx context.Context) (listing, error) {
	now := s.db.generation(s.id).Load()
	if l, ok := s.db.listings.Load(s.id); ok && l.(listing).generation == now {
		return l.(listing), nil
	}
	l := listing{generation: now}
	err := s.db.read(ctx, s.id, func(t *tx) (err error) {
		if l.settings, err = t.settings(); err != nil {
			return err
		}
		var rows []machineRow
		var r machineRow
		if err := t.rows(r.columns(), func() error { rows = append(rows, r); return nil },
			`SELECT `+machineColumns+` FROM machine WHERE shop_id = ? AND retired IS NULL ORDER BY folded`, s.id); err != nil {
			return err
		}
		for _, r := range rows {
			m, err := t.read(r)
			if err != nil {
				return err
			}
			l.machines = append(l.machines, m)
		}
		return nil
	})
	if err == nil {
		s.db.listings.Store(s.id, l)
	}
	return l, err
}
