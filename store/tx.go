package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"setscrew/domain"
	"time"
)

// tx is one transaction of one shop.
type tx struct {
	c    *conn
	ctx  context.Context // looked at before each statement
	run  context.Context // statements run under it: the same, but never done
	db   *DB
	shop domain.ShopID

	kept    *cachedSnapshot  // to be kept in memory after the commit
	prev    *domain.Snapshot // the machine's before the fact, where it is known
	wake    *time.Time       // the machine's, as it is stored, where it is known
	changed bool             // the shop's settings or machines

	newest      domain.FactNo // the shop's last fact, once it is known
	known       bool
	writes      bool // it may write
	replayCheck bool // what was written before, and by others, is looked up

	catchingUp bool // the shop was switched off: see owe

	turns int // taken in waiting for the file's lock
}

// newTx is work on a connection. The driver hands each statement whose context
// can end to a goroutine of its own and back, which costs more than the
// statement; so statements run under a context that cannot, and the other is
// looked at in between.
func newTx(ctx context.Context, c *conn, db *DB, shop domain.ShopID) *tx {
	return &tx{c: c, ctx: ctx, run: context.WithoutCancel(ctx), db: db, shop: shop}
}

// statement is a query prepared, unless the work has been given up.
func (t *tx) statement(query string) (*sql.Stmt, error) {
	if err := t.ctx.Err(); err != nil {
		return nil, err
	}
	return t.c.stmt(t.run, query)
}

// take waits for a connection of a pool, which the caller gives back.
func (db *DB) take(ctx context.Context, free chan *conn) (*conn, error) {
	select {
	case c := <-free:
		return c, nil
	case <-db.closed:
		return nil, troubled(fmt.Errorf("store: wait for a connection: %w", ErrClosed))
	case <-ctx.Done():
		return nil, db.gaveUp(fmt.Errorf("store: wait for a connection: %w", ctx.Err()))
	}
}

// in runs f in a transaction that begins so, on one of the free connections.
func (db *DB) in(ctx context.Context, free chan *conn, begin string, shop domain.ShopID,
	f func(*tx) error) (err error) {
	taken, err := db.take(ctx, free)
	if err != nil {
		return err
	}
	defer func() { free <- taken }()
	defer func() { err = troubled(err) }()
	transaction := newTx(ctx, taken, db, shop)
	if err := transaction.exec(begin); err != nil {
		return db.gaveUp(err)
	}
	if begin == beginWriting && db.locked.Load() {
		db.locked.Store(false)
	}
	err = f(transaction)
	if err == nil && ctx.Err() != nil {
		err = fmt.Errorf("store: asked to stop: %w", ctx.Err())
	}
	transaction.ctx = transaction.run // the end of a transaction is not given up half-way
	if err == nil {
		if transaction.changed {
			defer db.changing(shop)()
		}
		if err = transaction.exec("COMMIT"); err == nil {
			transaction.committed()
			return nil
		}
	}
	return errors.Join(err, transaction.exec("ROLLBACK"))
}

// beginWriting begins a transaction that takes the file's lock at once.
const beginWriting = "BEGIN IMMEDIATE"

// write runs f in one immediate transaction: all of it is stored, or nothing.
func (db *DB) write(ctx context.Context, shop domain.ShopID, f func(*tx) error) error {
	if err := db.usable(); err != nil {
		return err
	}
	return db.in(ctx, db.writer, beginWriting, shop, func(t *tx) error { t.writes = true; return f(t) })
}

// read runs f in one read transaction, so that it sees one state.
func (db *DB) read(ctx context.Context, shop domain.ShopID, f func(*tx) error) error {
	return db.in(ctx, db.readers, "BEGIN", shop, f)
}

// look runs f, which makes a single query, without a transaction around it.
func (db *DB) look(ctx context.Context, shop domain.ShopID, f func(*tx) error) error {
	taken, err := db.take(ctx, db.readers)
	if err != nil {
		return err
	}
	defer func() { db.readers <- taken }()
	return troubled(f(newTx(ctx, taken, db, shop)))
}

func (t *tx) exec(query string, args ...any) error {
	err := t.inTurn(func() error {
		prepared, err := t.statement(query) //nolint:sqlclosecheck // the connection keeps it and closes it
		if err == nil {
			_, err = prepared.ExecContext(t.run, args...)
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("store: %s: %w", step(query), err)
	}
	return nil
}

// row scans one row; found is false if there is none.
func (t *tx) row(to []any, query string, args ...any) (found bool, err error) {
	err = t.inTurn(func() error {
		prepared, err := t.statement(query) //nolint:sqlclosecheck // the connection keeps it and closes it
		if err == nil {
			err = prepared.QueryRowContext(t.run, args...).Scan(to...)
		}
		return err
	})
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("store: %s: %w", step(query), err)
	}
	return true, nil
}

// rows calls each for every row, after scanning it into to.
func (t *tx) rows(to []any, each func() error, query string, args ...any) error {
	var failed error // of each, which is not waited for
	err := t.inTurn(func() error {
		prepared, err := t.statement(query) //nolint:sqlclosecheck // the connection keeps it and closes it
		if err != nil {
			return err
		}
		rows, err := prepared.QueryContext(t.run, args...)
		if err != nil {
			return err
		}
		defer rows.Close()
		// A lock is met before the first row, or not at all.
		for rows.Next() {
			if err := rows.Scan(to...); err != nil {
				return err
			}
			if failed = each(); failed != nil {
				return nil
			}
		}
		return rows.Err()
	})
	if err != nil {
		return fmt.Errorf("store: %s: %w", step(query), err)
	}
	return failed
}

// inTurn does something that may find the file locked, and waits for it as long as
// lockTurns says or until the work is given up.
func (t *tx) inTurn(do func() error) error {
	for {
		err := do()
		if locked(err) {
			t.db.locked.Store(true)
		}
		if !locked(err) || t.turns == lockTurns || t.ctx.Err() != nil {
			return err
		}
		t.turns++
	}
}
