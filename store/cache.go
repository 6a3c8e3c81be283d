package store

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"

	"setscrew/domain"
	"setscrew/domain/profile"
)

// How much is kept in memory: of snapshots those of the machines used last, and of
// what they are made from enough that a busy shop finds its own.
const (
	cachedSnapshots = 1024
	cachedProfiles  = 1024
	cachedListings  = 512
)

// caches is what is kept in memory of what is read often. Everything in it is shared
// and never changed, and each is bounded: what was not used for longest goes first.
type caches struct {
	snapshots *lru.Cache[machineKey, cachedSnapshot]
	loaded    *lru.Cache[string, *profile.Profile] // by kind, hash of the text, and parameters
	profiles  *lru.Cache[string, compiled]         // with a machine's own values, by shop and set-up
	listings  *lru.Cache[domain.ShopID, listing]
}

// newCaches makes caches that hold at most these numbers of each.
func newCaches(snapshots, profiles, listings int) (c caches, err error) {
	var errs [4]error
	c.snapshots, errs[0] = lru.New[machineKey, cachedSnapshot](snapshots)
	c.loaded, errs[1] = lru.New[string, *profile.Profile](profiles)
	c.profiles, errs[2] = lru.New[string, compiled](profiles)
	c.listings, errs[3] = lru.New[domain.ShopID, listing](listings)
	if err := errors.Join(errs[:]...); err != nil {
		return c, fmt.Errorf("make the caches: %w", err)
	}
	return c, nil
}

// cachedSnapshot is a machine's snapshot as it stood after a fact of its shop.
type cachedSnapshot struct {
	snap       domain.Snapshot
	no         domain.FactNo // the shop's last fact at that time
	wake       *time.Time    // the machine's wake time as it is stored, nil where that is not known
	generation int64         // of the shop's machines
}

type machineKey struct {
	shop    domain.ShopID
	machine domain.MachineID
}

// cached is a machine's snapshot from memory, if no later fact can have changed it:
// everything in a snapshot comes from facts of the machine or of the shop itself,
// but for the machines that it needs or whose ratio it borrows. One query over the
// facts recorded since tells, and the generation of the shop's machines, as it was
// before the transaction began.
func (t *tx) cached(machine domain.MachineID, generation int64) (cached cachedSnapshot, ok bool, err error) {
	cached, ok = t.db.snapshots.Get(machineKey{t.shop, machine})
	if !ok || cached.generation != generation || unsettled(generation) || len(cached.snap.Needs) > 0 ||
		cached.snap.Machine.Setup.Like != 0 {
		return cached, false, nil // what other machines are comes into it
	}
	if t.writes {
		if last, err := t.lastFact(); err != nil || last == cached.no {
			return cached, err == nil, err
		}
	}
	var one int
	changed, err := t.row([]any{&one},
		`SELECT 1 FROM fact WHERE shop_id = ? AND no > ? AND machine_id IN (0, ?) LIMIT 1`, t.shop, cached.no, machine)
	if err != nil {
		return cached, false, fmt.Errorf("look for facts since the cached snapshot: %w", err)
	}
	return cached, !changed, nil
}

// snapshotForReport is a machine's snapshot before a report, and notes its wake time
// where that is known.
func (t *tx) snapshotForReport(machine domain.MachineID) (domain.Snapshot, error) {
	kept, ok, err := t.cached(machine, t.db.generation(t.shop).Load())
	if err != nil {
		return kept.snap, err
	}
	if !ok {
		return t.snapshot(machine)
	}
	t.wake = kept.wake
	return kept.snap, nil
}

// snapshotForReading is a machine's snapshot, kept in memory where it was not.
func (t *tx) snapshotForReading(machine domain.MachineID, generation int64) (domain.Snapshot, error) {
	c, ok, err := t.cached(machine, generation)
	if err != nil || ok {
		return c.snap, err
	}
	snap, err := t.snapshot(machine)
	if err != nil {
		return snap, err
	}
	no, err := t.lastFact()
	t.db.snapshots.Add(machineKey{t.shop, machine}, cachedSnapshot{snap: snap, no: no, generation: generation})
	return snap, err
}

// keepSnapshot keeps a snapshot, and its machine's stored wake time, in memory once
// the transaction is committed.
func (t *tx) keepSnapshot(snap domain.Snapshot, wake time.Time) error {
	no, err := t.lastFact()
	t.kept = &cachedSnapshot{snap: snap, no: no, wake: &wake}
	return err
}

// committed puts into memory what was to be kept, and forgets what is no longer true.
func (t *tx) committed() {
	if t.known && t.writes {
		t.db.newest.Store(t.shop, t.newest)
	}
	if t.kept != nil {
		t.kept.generation = t.db.generation(t.shop).Load()
		if t.changed {
			t.kept.generation++ // the one that begins when this is done
		}
		t.db.snapshots.Add(machineKey{t.shop, t.kept.snap.Machine.ID}, *t.kept)
	}
}

// listing is a shop's settings and its machines in use, as they stood at one
// generation of them.
type listing struct {
	generation int64
	settings   domain.Shop
	machines   []domain.Machine
}

// generation counts the beginnings and ends of this program's commits that change a
// shop's settings or the set of its machines. No other program writes to the file
// meanwhile.
func (db *DB) generation(shop domain.ShopID) *atomic.Int64 {
	g, _ := db.generations.LoadOrStore(shop, new(atomic.Int64))
	return g.(*atomic.Int64)
}

// changing says that a commit begins which changes a shop's settings or machines; what it
// returns, that it has ended. In between nobody knows which of the two states is on file,
// so that nothing is taken from memory or kept there.
func (db *DB) changing(shop domain.ShopID) (ended func()) {
	db.generation(shop).Add(1)
	return func() { db.generation(shop).Add(1) }
}

// unsettled reports whether a generation is one in which a commit goes on.
func unsettled(generation int64) bool { return generation%2 != 0 }

// list is a shop's settings and machines, from memory while nothing changed
// them. What it returns is shared and never changed.
func (s *Shop) list(ctx context.Context) (listing, error) {
	now := s.db.generation(s.id).Load()
	if l, ok := s.db.listings.Get(s.id); ok && l.generation == now && !unsettled(now) {
		return l, nil
	}
	made := listing{generation: now}
	err := s.db.read(ctx, s.id, func(t *tx) (err error) {
		if made.settings, err = t.settings(); err != nil {
			return err
		}
		var rows []machineRow
		var r machineRow
		if err := t.rows(r.columns(), func() error { rows = append(rows, r); return nil },
			`SELECT `+machineColumns+` FROM machine WHERE shop_id = ? AND retired IS NULL ORDER BY folded`,
			s.id); err != nil {
			return err
		}
		for _, r := range rows {
			m, err := t.read(r)
			if err != nil {
				return err
			}
			made.machines = append(made.machines, m)
		}
		return nil
	})
	if err == nil {
		s.db.listings.Add(s.id, made)
	}
	return made, err
}
