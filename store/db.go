// Package store keeps a shop's facts, what is derived from them, and the
// notices owed, in one SQLite file. Every table is scoped by shop, and a shop's
// rows are reached only through its handle, DB.Shop.
//
// One connection writes, in immediate transactions; readers are read-only. The
// journal is a WAL and every commit reaches the disk (synchronous=FULL).
package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"path/filepath"
	"sync"
	"time"

	"github.com/mattn/go-sqlite3"
	"github.com/pressly/goose/v3"

	"setscrew/domain"
)

//go:embed migrations/*.sql
var migrations embed.FS

// DB is one open file. It is safe for use by many goroutines.
type DB struct {
	writer, reader *sql.DB
	profiles       sync.Map // compiled profiles by hash and set-up
}

// The pragmas that every connection must have. go-sqlite3 ignores a name in its
// data source that it does not know, so they are read back from each.
var (
	writerPragmas = map[string]string{"journal_mode": "wal", "synchronous": "2", "busy_timeout": "5000", "foreign_keys": "1", "query_only": "0"}
	readerPragmas = map[string]string{"journal_mode": "wal", "busy_timeout": "5000", "foreign_keys": "1", "query_only": "1"}
)

const (
	writerDriver = "setscrew-writer"
	readerDriver = "setscrew-reader"

	writerSource = "_journal_mode=WAL&_synchronous=FULL&_busy_timeout=5000&_foreign_keys=on&_txlock=immediate"
	readerSource = "mode=ro&_query_only=on&_busy_timeout=5000&_foreign_keys=on"

	readers = 4
)

func init() {
	sql.Register(writerDriver, &sqlite3.SQLiteDriver{ConnectHook: readBack(writerPragmas)})
	sql.Register(readerDriver, &sqlite3.SQLiteDriver{ConnectHook: readBack(readerPragmas)})
}

// readBack refuses a connection whose pragmas are not as wanted.
func readBack(want map[string]string) func(*sqlite3.SQLiteConn) error {
	return func(c *sqlite3.SQLiteConn) error {
		for name, value := range want {
			rows, err := c.Query("PRAGMA "+name, nil)
			if err != nil {
				return fmt.Errorf("store: pragma %s: %w", name, err)
			}
			got := make([]driver.Value, 1)
			err = rows.Next(got)
			if cerr := rows.Close(); err == nil {
				err = cerr
			}
			if err != nil {
				return fmt.Errorf("store: pragma %s: %w", name, err)
			}
			if s := fmt.Sprint(got[0]); s != value {
				return fmt.Errorf("store: pragma %s is %s, not %s", name, s, value)
			}
		}
		return nil
	}
}

// ErrNewer is a file that a later version of Setscrew has written.
var ErrNewer = errors.New("the file was written by a later version of Setscrew; use that version, or restore a backup")

// Open opens a file, makes it if there is none, and brings an older one up to
// date. A file that is newer than the program is refused with ErrNewer.
func Open(ctx context.Context, path string) (*DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	file := (&url.URL{Scheme: "file", Path: filepath.ToSlash(abs)}).String()
	w, err := sql.Open(writerDriver, file+"?"+writerSource)
	if err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	w.SetMaxOpenConns(1)
	if err := migrate(ctx, w); err != nil {
		return nil, errors.Join(fmt.Errorf("store: %s: %w", filepath.Base(path), err), w.Close())
	}
	r, err := sql.Open(readerDriver, file+"?"+readerSource)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("store: %w", err), w.Close())
	}
	r.SetMaxOpenConns(readers)
	if err := r.PingContext(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("store: %w", err), r.Close(), w.Close())
	}
	return &DB{writer: w, reader: r}, nil
}

func migrate(ctx context.Context, db *sql.DB) error {
	if err := db.PingContext(ctx); err != nil {
		return err
	}
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, db, files)
	if err != nil {
		return err
	}
	current, target, err := p.GetVersions(ctx)
	if err != nil {
		return err
	}
	if current > target {
		return fmt.Errorf("schema %d, this program knows %d: %w", current, target, ErrNewer)
	}
	_, err = p.Up(ctx)
	return err
}

// Close closes the readers, then the writer, whose last act folds the WAL into
// the file.
func (db *DB) Close() error { return errors.Join(db.reader.Close(), db.writer.Close()) }

// tx is one transaction of one shop.
type tx struct {
	*sql.Tx
	ctx  context.Context
	db   *DB
	shop domain.ShopID
}

// write runs f in one immediate transaction: all of it is stored, or nothing.
func (db *DB) write(ctx context.Context, shop domain.ShopID, f func(*tx) error) error {
	t, err := db.writer.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer t.Rollback() // after a commit it does nothing
	if err := f(&tx{t, ctx, db, shop}); err != nil {
		return err
	}
	if err := t.Commit(); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return nil
}

// read runs f in one read transaction, so that it sees one state.
func (db *DB) read(ctx context.Context, shop domain.ShopID, f func(*tx) error) error {
	t, err := db.reader.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer t.Rollback()
	return f(&tx{t, ctx, db, shop})
}

func (t *tx) exec(query string, args ...any) error {
	if _, err := t.ExecContext(t.ctx, query, args...); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return nil
}

// row scans one row; found is false if there is none.
func (t *tx) row(to []any, query string, args ...any) (found bool, err error) {
	err = t.QueryRowContext(t.ctx, query, args...).Scan(to...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("store: %w", err)
	}
	return true, nil
}

// rows calls each for every row, after scanning it into to.
func (t *tx) rows(to []any, each func() error, query string, args ...any) error {
	rows, err := t.QueryContext(t.ctx, query, args...)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			return fmt.Errorf("store: %w", err)
		}
		if err := each(); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return nil
}

// stamp is a moment as it is stored; moment reads one.
func stamp(t time.Time) int64   { return t.UnixMilli() }
func moment(ms int64) time.Time { return time.UnixMilli(ms).UTC() }

// stampOrNull stores a zero time as NULL.
func stampOrNull(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return stamp(t)
}
