package store

import (
	"context"
	"fmt"
	"time"

	"setscrew/domain"
)

// Queries lists every statement that the open connections have prepared.
func (db *DB) Queries() []string {
	seen := map[string]bool{}
	var all []string
	for _, free := range []chan *conn{db.readers, db.writer} {
		for range cap(free) {
			test := <-free
			for query := range test.prepared {
				if !seen[query] {
					seen[query] = true
					all = append(all, query)
				}
			}
			free <- test
		}
	}
	return all
}

// Stored is a machine's snapshot as it is on file, past what is in memory.
func (s *Shop) Stored(ctx context.Context, m domain.MachineID) (snap domain.Snapshot, err error) {
	err = s.db.read(ctx, s.id, func(t *tx) (err error) { snap, err = t.snapshot(m); return err })
	return snap, err
}

// KeptLast is the last fact that is kept of each kind and subject, with the seconds of use
// since.
func (s *Shop) KeptLast(ctx context.Context, machine domain.MachineID) (all map[string]string, err error) {
	all = map[string]string{}
	err = s.db.read(ctx, s.id, func(t *tx) error {
		var work string
		var no, seconds int64
		return t.rows([]any{&work, &no, &seconds}, func() error {
			all[work] = fmt.Sprint(no, " ", seconds)
			return nil
		}, `SELECT work, fact_no, seconds FROM done_last WHERE shop_id = ? AND machine_id = ?`, t.shop, machine)
	})
	return all, err
}

// ForgetLast forgets the last facts of a kind of a machine, whatever they are about.
func (s *Shop) ForgetLast(ctx context.Context, m domain.MachineID, kind domain.Kind) error {
	return s.db.write(ctx, s.id, func(t *tx) error {
		return t.exec(`DELETE FROM done_last WHERE shop_id = ? AND machine_id = ? AND work LIKE ? || ':%'`, t.shop, m,
			kind)
	})
}

// StudyReadings lists the readings of all studies, in the order in which they were taken.
func (s *Shop) StudyReadings(ctx context.Context) (all []domain.Fact, err error) {
	var studies []domain.FactNo
	if err := s.db.read(ctx, s.id, func(t *tx) error {
		var no domain.FactNo
		return t.rows([]any{&no}, func() error { studies = append(studies, no); return nil },
			`SELECT DISTINCT json_extract(body, '$.study') FROM fact WHERE shop_id = ? AND kind = 'study-reading'`,
			t.shop)
	}); err != nil {
		return nil, err
	}
	for _, study := range studies {
		of, err := s.Study(ctx, study)
		if err != nil {
			return nil, err
		}
		all = append(all, of...)
	}
	return all, nil
}

// LastDigest is what the last digest said that was owed.
func (s *Shop) LastDigest(ctx context.Context) (args domain.NoticeArgs, err error) {
	err = s.db.read(ctx, s.id, func(t *tx) (err error) { args, err = t.lastDigest(); return err })
	return args, err
}

// KeepSmall makes a file's caches hold no more than a number of each thing.
func (db *DB) KeepSmall(n int) {
	small, err := newCaches(n, n, n)
	if err != nil {
		panic(err)
	}
	db.caches = small
}

// Cached counts what a file's caches hold.
func (db *DB) Cached() (snapshots, loaded, profiles, listings int) {
	return db.snapshots.Len(), db.loaded.Len(), db.profiles.Len(), db.listings.Len()
}

// SetWakes stores when a machine is judged next, and when its shop's digest is due.
func (db *DB) SetWakes(ctx context.Context, shop domain.ShopID, m domain.MachineID, wake, digest time.Time) error {
	return db.write(ctx, shop, func(t *tx) error {
		if err := t.exec(`UPDATE machine SET wake = ? WHERE shop_id = ? AND machine_id = ?`, stamp(wake), shop,
			m); err != nil {
			return err
		}
		return t.exec(`UPDATE digest SET next = ? WHERE shop_id = ?`, stamp(digest), shop)
	})
}

// Missed reports whether a machine's wake was missed.
func (s *Shop) Missed(ctx context.Context, m domain.MachineID, now time.Time) (missed bool, err error) {
	err = s.db.read(ctx, s.id, func(t *tx) (err error) { missed, err = t.missed(m, now); return err })
	return missed, err
}

// Derives reports whether it is said what a kind of fact changes beside the facts, what a
// withdrawal takes back, and how the last one goes into a snapshot.
func Derives(k domain.Kind) (add, undo, last bool) {
	d := newDerived()[k]
	return d.add != nil, d.undo != nil, d.last != nil
}

// File is the file that a shop's books are in.
func (s *Shop) File() *DB { return s.db }

// OnWriter runs SQL on the connection that writes.
func (db *DB) OnWriter(query string) error {
	c := <-db.writer
	defer func() { db.writer <- c }()
	_, err := c.ExecContext(context.Background(), query)
	return err
}

// HoldWriter does something while the connection that writes is taken.
func (db *DB) HoldWriter(do func()) {
	c := <-db.writer
	defer func() { db.writer <- c }()
	do()
}

// Troubled is an error as the books' callers see it.
var Troubled = troubled

// StoredSettings are a shop's settings as they are on file, past what is in memory.
func (s *Shop) StoredSettings(ctx context.Context) (set domain.Shop, err error) {
	err = s.db.read(ctx, s.id, func(t *tx) (err error) { set, err = t.settings(); return err })
	return set, err
}

// Writable has the system say whether a path may be written.
func (db *DB) Writable(may func(string) error) { db.mayWrite = may }

// Space has the file's disk have as much room as is said.
func (db *DB) Space(free func(string) (int64, error)) { db.space = free }

// ExportedColumns are the columns that exports hold, as table.column.
func ExportedColumns() map[string]bool {
	all := map[string]bool{}
	for _, table := range exportedTables {
		for _, column := range table.columns {
			all[table.name+"."+column] = true
		}
	}
	return all
}
