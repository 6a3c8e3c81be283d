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
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/mattn/go-sqlite3"

	"setscrew/domain"
)

//go:embed migrations/*.sql
var migrations embed.FS

// DB is one open file. It is safe for use by many goroutines.
type DB struct {
	writerDB, readerDB *sql.DB
	writer, readers    chan *conn // the open connections, when nobody uses them
	closing            sync.Once
	closed             chan struct{} // closed when Close begins
	caches
	derived     map[domain.Kind]derivation
	generations sync.Map
	newest      sync.Map    // the last fact's number by shop
	locked      atomic.Bool // the last that was to write met another program's lock

	path      string
	opened    os.FileInfo                       // the file as it was opened, whatever its name means by now
	unsound   atomic.Pointer[domain.BooksError] // what CheckPages found
	mayWrite  func(path string) error           // nil where a path may be written
	space     func(path string) (int64, error)  // bytes free on the disk
	listing   sync.Mutex                        // of who was forgotten: one adds to it at a time
	held      *hold                             // this program's, nil where the file was opened beside it
	widened   string                            // what Widened says
	stillWide error
}

// conn is one connection with its prepared statements. A report asks the same
// forty questions every time; preparing them each time would cost as much again
// as asking.
type conn struct {
	*sql.Conn
	prepared map[string]*sql.Stmt
}

// stmt is a query prepared on c, once.
func (c *conn) stmt(ctx context.Context, query string) (*sql.Stmt, error) {
	if s, ok := c.prepared[query]; ok {
		return s, nil
	}
	prepared, err := c.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	c.prepared[query] = prepared
	return prepared, nil
}

// connect opens n connections of a pool, none where one of them fails.
func connect(ctx context.Context, db *sql.DB, n int) (chan *conn, error) {
	db.SetMaxOpenConns(n)
	free := make(chan *conn, n)
	for range n {
		opened, err := db.Conn(ctx)
		if err != nil {
			err = fmt.Errorf("open a connection: %w", err)
			close(free)
			for c := range free {
				err = errors.Join(err, c.Close())
			}
			return nil, err
		}
		free <- &conn{opened, map[string]*sql.Stmt{}}
		if _, err := opened.ExecContext(ctx, eachTurn); err != nil {
			return free, fmt.Errorf("set how long a connection waits: %w", err)
		}
	}
	return free, nil
}

// The pragmas that every connection must have. go-sqlite3 ignores a name in its
// data source that it does not know, so they are read back from each.
var (
	writerPragmas = map[string]string{"journal_mode": "wal", "synchronous": "2", "busy_timeout": "2000",
		"foreign_keys": "1", "query_only": "0"}
	readerPragmas = map[string]string{"journal_mode": "wal", "busy_timeout": "2000", "foreign_keys": "1",
		"query_only": "1"}
)

const (
	writerDriver = "setscrew-writer"
	readerDriver = "setscrew-reader"

	writerSource = "_journal_mode=WAL&_synchronous=FULL&_busy_timeout=2000&_foreign_keys=on&_txlock=immediate"
	readerSource = "mode=ro&_query_only=on&_busy_timeout=2000&_foreign_keys=on"

	readerCount = 4
)

// A call waits for a file that another program has locked for two seconds, or until it
// is given up: by turns, since a turn of SQLite's own cannot be given up.
const (
	lockTurns = 20
	eachTurn  = `PRAGMA busy_timeout = 100` // milliseconds
)

func init() {
	sql.Register(writerDriver, &sqlite3.SQLiteDriver{ConnectHook: readBack(writerPragmas)})
	sql.Register(readerDriver, &sqlite3.SQLiteDriver{ConnectHook: readBack(readerPragmas)})
}

// readBack refuses a connection whose pragmas are not as wanted.
func readBack(want map[string]string) func(*sqlite3.SQLiteConn) error {
	return func(c *sqlite3.SQLiteConn) error {
		for _, name := range slices.Sorted(maps.Keys(want)) {
			value := want[name]
			rows, err := c.Query("PRAGMA "+name, nil)
			if err != nil {
				return fmt.Errorf("store: read back pragma %s: %w", name, err)
			}
			got := make([]driver.Value, 1)
			err = rows.Next(got)
			if cerr := rows.Close(); err == nil {
				err = cerr
			}
			if err != nil {
				return fmt.Errorf("store: read back pragma %s: %w", name, err)
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

// ErrClosed is a call on a file that was closed.
var ErrClosed = errors.New("the file was closed")

// Open opens a file beside whatever program works on it, makes it if there is none, and
// brings an older one up to date. A file that is newer than the program is refused with
// ErrNewer. The program itself opens a file by Use.
func Open(ctx context.Context, path string) (*DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("store: find the file: %w", err)
	}
	writer, err := sql.Open(writerDriver, source(abs, writerSource))
	if err != nil {
		return nil, fmt.Errorf("store: open for writing: %w", err)
	}
	writer.SetMaxOpenConns(1)
	if err := migrate(ctx, writer, abs); err != nil {
		return nil, errors.Join(fmt.Errorf("store: %s: %w", filepath.Base(path), err), writer.Close())
	}
	reader, err := sql.Open(readerDriver, source(abs, readerSource))
	if err != nil {
		return nil, errors.Join(fmt.Errorf("store: open for reading: %w", err), writer.Close())
	}
	db := &DB{writerDB: writer, readerDB: reader, derived: newDerived(), closed: make(chan struct{}),
		path: abs, space: freeSpace, mayWrite: mayWrite}
	if db.caches, err = newCaches(cachedSnapshots, cachedProfiles, cachedListings); err == nil {
		db.writer, err = connect(ctx, writer, 1)
	}
	if err == nil {
		db.readers, err = connect(ctx, reader, readerCount)
	}
	if err == nil {
		db.opened, err = os.Stat(abs)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("store: open %s: %w", filepath.Base(path), err), db.Close())
	}
	return db, nil
}

// migrate brings a file's schema up to date, after it was copied, or refuses with ErrNewer.
func migrate(ctx context.Context, db *sql.DB, path string) error {
	if err := db.PingContext(ctx); err != nil {
		return fmt.Errorf("open it: %w", err)
	}
	provider, err := newProvider(db)
	if err != nil {
		return err
	}
	current, target, err := provider.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("read its schema's number: %w", err)
	}
	if current > target {
		return fmt.Errorf("schema %d, this program knows %d: %w", current, target, ErrNewer)
	}
	if current > 0 && current < target {
		if err := copyBefore(ctx, path, current); err != nil {
			return fmt.Errorf("copy it before its schema changes: %w", err)
		}
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("bring it from schema %d to %d: %w", current, target, err)
	}
	return nil
}

// Close closes the readers, then the writer, whose last act folds the WAL into
// the file. It waits for transactions under way; calls that come later return
// ErrClosed. To close it again does nothing.
func (db *DB) Close() (err error) {
	db.closing.Do(func() { err = db.close() })
	return err
}

func (db *DB) close() error {
	close(db.closed)
	var errs []error
	for _, pool := range []struct {
		free chan *conn
		db   *sql.DB
	}{{db.readers, db.readerDB}, {db.writer, db.writerDB}} {
		for range cap(pool.free) {
			taken := <-pool.free
			for _, query := range slices.Sorted(maps.Keys(taken.prepared)) {
				s := taken.prepared[query]
				errs = append(errs, s.Close())
			}
			errs = append(errs, taken.Close())
		}
		errs = append(errs, pool.db.Close())
	}
	return errors.Join(append(errs, db.held.release())...)
}

// gaveUp is an error of a call that was given up before it could begin. It says that
// another program holds the file, where that is what the calls before it met.
func (db *DB) gaveUp(err error) error {
	if db.locked.Load() && (errors.Is(err, context.DeadlineExceeded) || errors.Is(err, context.Canceled)) {
		return &domain.BooksError{Trouble: domain.BooksBusy, Err: err}
	}
	return err
}

// locked reports whether an error says that another program holds the file.
func locked(err error) bool {
	var said sqlite3.Error
	return errors.As(err, &said) && (said.Code == sqlite3.ErrBusy || said.Code == sqlite3.ErrLocked)
}

// troubles are SQLite's errors that say that a file cannot be read or written.
var troubles = map[sqlite3.ErrNo]domain.Trouble{
	sqlite3.ErrFull: domain.BooksFull,
	sqlite3.ErrBusy: domain.BooksBusy, sqlite3.ErrLocked: domain.BooksBusy, sqlite3.ErrProtocol: domain.BooksBusy,
	sqlite3.ErrCorrupt: domain.BooksDamaged, sqlite3.ErrNotADB: domain.BooksDamaged,
	sqlite3.ErrIoErr: domain.BooksUnreachable, sqlite3.ErrReadonly: domain.BooksUnreachable,
	sqlite3.ErrCantOpen: domain.BooksUnreachable, sqlite3.ErrPerm: domain.BooksUnreachable,
}

// troubled is an error as a *domain.BooksError, where it says that the file could not be
// read or written.
func troubled(err error) error {
	var said sqlite3.Error
	switch {
	case errors.Is(err, ErrClosed):
		return &domain.BooksError{Trouble: domain.BooksClosed, Err: err}
	case errors.As(err, &said) && troubles[said.Code] != "":
		return &domain.BooksError{Trouble: troubles[said.Code], Err: err}
	}
	return err
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

// step says in two words what a query does, for errors: "read fact", "write tag".
func step(query string) string {
	words := strings.Fields(query)
	if len(words) == 0 {
		return "run"
	}
	verb, before := strings.ToUpper(words[0]), "FROM"
	does := map[string]string{"SELECT": "read", "INSERT": "write", "UPDATE": "write", "DELETE": "delete from"}[verb]
	switch verb {
	case "INSERT":
		before = "INTO"
	case "UPDATE":
		before = "UPDATE"
	}
	for i, word := range words[:max(len(words)-1, 0)] {
		if does != "" && strings.ToUpper(word) == before {
			return does + " " + strings.Trim(words[i+1], "(),;")
		}
	}
	return strings.ToLower(verb)
}
