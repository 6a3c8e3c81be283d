package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/pressly/goose/v3"

	"setscrew/domain"
)

// Every connection of both pools has its pragmas, however many are open at once.
func TestPragmasOnEveryConnection(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	db, err := Open(ctx, filepath.Join(t.TempDir(), "shop ?#%.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, pool := range []struct {
		free chan *conn
		want map[string]string
	}{{db.writer, writerPragmas}, {db.readers, readerPragmas}} {
		for range cap(pool.free) {
			one := <-pool.free
			for name, want := range pool.want {
				if name == "busy_timeout" {
					want = "100" // once it is open, it waits for a lock by turns
				}
				var got string
				if err := one.QueryRowContext(ctx, "PRAGMA "+name).Scan(&got); err != nil || got != want {
					t.Errorf("pragma %s = %s, %v; want %s", name, got, err, want)
				}
			}
			pool.free <- one
		}
	}
	if err := db.read(ctx, "", func(t *tx) error { return t.exec(`DELETE FROM fact`) }); err == nil {
		t.Error("a reader writes")
	}
	// A connection without them is refused.
	bare, err := sql.Open(writerDriver, "file:"+filepath.Join(t.TempDir(), "bare.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer bare.Close()
	if err := bare.Ping(); err == nil || !strings.Contains(err.Error(), "pragma") {
		t.Errorf("a connection without the pragmas: %v", err)
	}
}

// Transactions take the lock at once, so that reading before writing never
// fails under contention from another process.
func TestTransactionsAreImmediate(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "shop.db")
	var dbs []*DB
	for range 2 {
		db, err := Open(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		dbs = append(dbs, db)
	}
	var wg sync.WaitGroup
	errs := make(chan error, 80)
	for i := range 80 {
		wg.Go(func() {
			errs <- dbs[i%2].write(ctx, "one", func(t *tx) error {
				var n int64
				if _, err := t.row([]any{&n}, `SELECT count(*) FROM gauge`); err != nil {
					return err
				}
				return t.exec(`INSERT INTO gauge (shop_id, folded, gauge) VALUES ('one', ?, '{}')`, fmt.Sprint(i))
			})
		})
	}
	wg.Wait()
	for range 80 {
		if err := <-errs; err != nil {
			t.Fatal(err)
		}
	}
}

func TestNewerFileIsRefused(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "shop.db")
	db, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.write(ctx, "", func(t *tx) error {
		return t.exec(`INSERT INTO goose_db_version (version_id, is_applied, tstamp)
			SELECT max(version_id) + 1, 1, ? FROM goose_db_version`,
			time.Unix(0, 0).UTC().Format(time.RFC3339))
	}); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, path); !errors.Is(err, ErrNewer) {
		t.Errorf("a newer file: %v, want ErrNewer", err)
	}
}

func TestCancelledContextStoresNothing(t *testing.T) {
	t.Parallel()
	db, err := Open(context.Background(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	ctx, cancel := context.WithCancel(context.Background())
	err = db.write(ctx, "one", func(t *tx) error {
		if err := t.exec(`INSERT INTO gauge (shop_id, folded, gauge) VALUES ('one', 'x', '{}')`); err != nil {
			return err
		}
		cancel()
		return nil
	})
	if err == nil {
		t.Fatal("committed after its context ended")
	}
	if g, err := db.Shop("one").Gauges(context.Background()); err != nil || len(g) != 0 {
		t.Errorf("gauges %v, %v", g, err)
	}
}

// fileOf is a new file of an earlier schema.
func fileOf(t *testing.T, version int64) (path string, old *sql.DB) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "shop.db")
	old, err := sql.Open(writerDriver, "file:"+path+"?"+writerSource)
	if err != nil {
		t.Fatal(err)
	}
	old.SetMaxOpenConns(1)
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		t.Fatal(err)
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, old, files)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.UpTo(context.Background(), version); err != nil {
		t.Fatal(err)
	}
	return path, old
}

// What an earlier schema owed may stand in the channel where it may have been sent.
func TestEarlierSchemasOutbox(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	path, old := fileOf(t, 9)
	for i, row := range []string{
		`'post', 100, 0, NULL, NULL, '', NULL`,                            // sent just before it ended, or not
		`'post', 100, 0, NULL, 900, '', NULL`,                             // waits for quiet hours to end
		`'post', 100, 2, 150, 900, 'cut off', NULL`,                       // no answer, or refused
		`'post', 100, 1, 150, 900, 'no channel for notices is set', NULL`, // never sent
		`'edit', 100, 1, 150, 900, 'cut off', NULL`,                       // no post
		`'post', 100, 2, 150, NULL, 'cut off', 200`,                       // posted
	} {
		if _, err := old.Exec(fmt.Sprintf(`INSERT INTO outbox (shop_id, machine_id, key, target, topic, args,
			op, made, attempts, tried, again, problem, posted) VALUES ('one', %d, '%d', '', 'due', '{"v":1}', %s)`, i,
			i,
			row)); err != nil {
			t.Fatal(err)
		}
	}
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	db, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	owed, err := db.Undelivered(ctx, "one", time.UnixMilli(1000), 10)
	got := ""
	for _, notice := range owed {
		sent := int64(0)
		if !notice.Sent.IsZero() {
			sent = notice.Sent.UnixMilli()
		}
		got += fmt.Sprintf("%s:%d ", notice.Notice.Key, sent)
	}
	if want := "0:100 1:0 2:150 3:0 4:0 "; err != nil || got != want {
		t.Errorf("sent at %s, %v; want %s", got, err, want)
	}
}

// A file of every earlier schema is brought up to date with what it holds: the
// interaction that a fact came from is still known, so that it is not applied
// again.
func TestEarlierSchemas(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	for version := int64(1); version <= 3; version++ {
		path, old := fileOf(t, version)
		for _, query := range []string{
			`INSERT INTO fact (shop_id, no, machine_id, kind, subject, at, recorded, by_id, for_id, hash, setup_rev,
				body) VALUES ('one', 1, 0, 'shop', '', 0, 0, 'ada', 'ada', '', 0, '{"shop":{"Name":"Old"}}')`,
			`INSERT INTO fact (shop_id, no, machine_id, kind, subject, at, recorded, by_id, for_id, hash, setup_rev,
				body) VALUES ('one', 2, 0, 'shop', '', 0, 0, '', '', '', 0, '{"shop":{"Name":"Old"}}')`,
			map[bool]string{true: `INSERT INTO done (shop_id, key, fact_no) VALUES ('one', 'interaction', 1)`,
				false: `UPDATE fact SET key = 'interaction' WHERE no = 1`}[version < 3],
			`INSERT INTO fact (shop_id, no, machine_id, kind, subject, at, recorded, by_id, for_id, hash, setup_rev,
				body) VALUES ('one', 3, 1, 'problem', '', 0, 0, 'ada', 'ada', '', 0,
				'{"symptom":"smoke","name":"smoke","danger":true}')`,
			`INSERT INTO fact (shop_id, no, machine_id, kind, subject, at, recorded, by_id, for_id, hash, setup_rev,
				body) VALUES ('one', 4, 1, 'problem', '', 0, 0, 'ada', 'ada', '', 0, '{"name":"Odd Noise"}')`,
			`INSERT INTO fact (shop_id, no, machine_id, kind, subject, at, recorded, by_id, for_id, hash, setup_rev,
				body) VALUES ('one', 5, 1, 'tag-out', '', 0, 0, 'ada', 'ada', '', 0, '{"paper":"17"}')`,
			`INSERT INTO danger (shop_id, fact_no, machine_id, closed_by) VALUES ('one', 3, 1, 6)`,
			`INSERT INTO tag (shop_id, fact_no, machine_id, cause, because, reason, by_id, at)
				VALUES ('one', 5, 1, '', 0, '{}', 'ada', 0)`,
			`INSERT INTO service_last (shop_id, machine_id, service, fact_no, at, seconds)
				VALUES ('one', 1, 'bushings', 2, 0, 60)`,
			`INSERT INTO shop (shop_id, settings) VALUES ('one', '{"Name":"Old"}')`,
		} {
			if _, err := old.Exec(query); err != nil {
				t.Fatal(err)
			}
		}
		if err := old.Close(); err != nil {
			t.Fatal(err)
		}
		db, err := Open(ctx, path)
		if err != nil {
			t.Fatalf("schema %d: %v", version, err)
		}
		o, err := db.Shop("one").Report(ctx, domain.Entry{Key: "interaction", Body: domain.ShopSet{}})
		if err != nil || !o.Repeated || o.Fact.No != 1 {
			t.Errorf("schema %d: %+v, %v", version, o, err)
		}
		if s, err := db.Shop("one").Shop(ctx); err != nil || s.Name != "Old" {
			t.Errorf("schema %d: %+v, %v", version, s, err)
		}
		// What was kept beside the facts is carried over.
		if err := db.read(ctx, "one", func(tx *tx) error {
			for query, want := range map[string]string{
				`SELECT group_concat(fact_no || ' ' || key || ' ' || danger || ' ' || closed_by)
					FROM problem`: "3 smoke 1 6,4 odd noise 0 0",
				`SELECT paper FROM tag`: "17",
				`SELECT work || ' ' || fact_no || ' ' || seconds FROM done_last`: "service:bushings 2 60",
			} {
				var got string
				if _, err := tx.row([]any{&got}, query); err != nil || got != want {
					t.Errorf("schema %d: %s: %q, %v; want %q", version, query, got, err, want)
				}
			}
			return nil
		}); err != nil {
			t.Error(err)
		}
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	}
}

// An error says which step failed: what was read or written, or what was waited
// for.
func TestErrorsNameTheirStep(t *testing.T) {
	t.Parallel()
	for query, want := range map[string]string{
		"SELECT no FROM fact WHERE no = ?":     "read fact",
		"INSERT INTO tag (shop_id) VALUES (?)": "write tag",
		"INSERT OR IGNORE INTO shop (id)":      "write shop",
		"UPDATE machine SET seconds = 0":       "write machine",
		"DELETE FROM moved WHERE shop_id = ?":  "delete from moved",
		"BEGIN IMMEDIATE":                      "begin",
		"SELECT 1":                             "select",
		"INSERT INTO":                          "insert",
		"":                                     "run",
	} { // any order: each is looked at by itself
		if got := step(query); got != want {
			t.Errorf("step(%q) = %q, want %q", query, got, want)
		}
	}
	ctx, stop := context.WithCancel(t.Context())
	db, err := Open(ctx, filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for name, one := range map[string]struct {
		run  func(*tx) error
		want string
	}{
		"a row": {func(t *tx) error {
			_, err := t.row(nil, "SELECT no FROM nothing")
			return err
		}, "store: read nothing: "},
		"rows":    {func(t *tx) error { return t.rows(nil, nil, "SELECT no FROM nothing") }, "store: read nothing: "},
		"a write": {func(t *tx) error { return t.exec("DELETE FROM nothing") }, "store: delete from nothing: "},
	} { // any order: each is looked at by itself
		if err := db.read(ctx, "s", one.run); err == nil || !strings.HasPrefix(err.Error(), one.want) {
			t.Errorf("%s: %v, want %q first", name, err, one.want)
		}
	}
	stop()
	if err := db.read(ctx, "s", func(*tx) error { return nil }); !errors.Is(err, context.Canceled) ||
		!strings.HasPrefix(err.Error(), "store: ") || strings.HasPrefix(err.Error(), "store: context") {
		t.Errorf("after the end: %v", err)
	}
}
