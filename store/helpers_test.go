package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/store"
)

// The store offers what the commands need of it.
var (
	_ commands.Books = (*store.Shop)(nil)
	_ commands.Wakes = (*store.DB)(nil)
)

var ctx = context.Background()

// start is when the tests begin.
var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func open(t testing.TB, path string) *store.DB {
	t.Helper()
	db, err := store.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

func fresh(t testing.TB) (*store.DB, string) {
	path := filepath.Join(t.TempDir(), "shop.db")
	return open(t, path), path
}

// prepared is a file with one shop, "one", and its planer, made once for all tests:
// a copy of it is ready much sooner than a new one.
var prepared = sync.OnceValues(func() (file []byte, err error) {
	dir, err := os.MkdirTemp("", "prepared")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	path := filepath.Join(dir, "shop.db")
	db, err := store.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	_, err = setUpPlaner(db.Shop("one"), "Marble")
	if err = errors.Join(err, db.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

// copyPrepared writes a copy of the prepared file. Its planer is machine 1.
func copyPrepared(t tester, path string) {
	t.Helper()
	file, err := prepared()
	if err == nil {
		err = os.WriteFile(path, file, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// marble is the planer of the prepared file.
const marble domain.MachineID = 1

// withPlaner is the shop of a copy of the prepared file, and its planer.
func withPlaner(t testing.TB) (*store.Shop, domain.MachineID) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	return open(t, path).Shop("one"), marble
}

// tester is what the helpers need of a test, be it testing's or rapid's.
type tester interface {
	Helper()
	Fatal(...any)
	Fatalf(string, ...any)
}

// entry is a report by ada at so long after start.
func entry(key string, after time.Duration, m domain.MachineID, b domain.Body) domain.Entry {
	return domain.Entry{Key: key, Machine: m, At: start.Add(after), Recorded: start.Add(after), By: "ada", For: "ada",
		Typed: "/test", Body: b}
}

func report(t tester, s *store.Shop, e domain.Entry) domain.Outcome {
	t.Helper()
	o, err := s.Report(ctx, e)
	if err != nil {
		t.Fatalf("%s: %v", e.Key, err)
	}
	return o
}

func refused(t testing.TB, s *store.Shop, e domain.Entry, want domain.Code) {
	t.Helper()
	_, err := s.Report(ctx, e)
	var r *domain.Refusal
	if !errors.As(err, &r) || r.Code != want {
		t.Errorf("%s: %v, want a refusal %s", e.Key, err, want)
	}
}

// addPlaner adds a planer with two knives, read and well.
func addPlaner(t tester, s *store.Shop, name string) domain.MachineID {
	t.Helper()
	id, err := setUpPlaner(s, name)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// setUpPlaner is addPlaner where no test runs yet.
func setUpPlaner(shop *store.Shop, name string) (domain.MachineID, error) {
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		return 0, err
	}
	// An hour passes between reports, and some tests end by themselves.
	text = append(slices.Clone(text), "test-run: {minutes: 720}\n"...)
	hash, err := shop.KeepProfile(ctx, "thickness-planer", text)
	if err != nil {
		return 0, err
	}
	outcome, err := shop.Report(ctx, entry("add "+name, 0, 0, domain.MachineAdded{Name: name,
		Setup: domain.Setup{Kind: "thickness-planer", Hash: hash, Params: profile.Params{"knives": "2"}, Rev: 1}}))
	if err != nil {
		return 0, err
	}
	id := outcome.Fact.Machine
	for _, check := range outcome.After.Machine.Profile.Checks {
		if check.OnDemand {
			continue
		}
		var b domain.Body = domain.Inspection{Check: check.ID, Pass: true}
		if !check.Inspection {
			b = reading(&check, check.Example)
		}
		if _, err := shop.Report(ctx, entry(name+" "+check.ID, time.Second, id, b)); err != nil {
			return 0, err
		}
	}
	return id, nil
}

func reading(c *profile.Check, value quantity.Value) domain.Reading {
	read := domain.Reading{Check: c.ID,
		Gauge: domain.GaugeUsed{Name: "dial",
			Gauge: metrology.Gauge{Uncertainty: quantity.New(1, 1, quantity.Thou), Coverage: 2}}, Typed: "typed"}
	for _, p := range c.Positions {
		read.Values = append(read.Values, quantity.At{Position: p, Repeats: []quantity.Value{value}})
	}
	return read
}

func infeed(t tester, s *store.Shop, m domain.MachineID, thou int64) domain.Reading {
	t.Helper()
	snap, err := s.Snapshot(ctx, m)
	if err != nil {
		t.Fatal(err)
	}
	return reading(snap.Machine.Profile.Check("infeed"), quantity.New(thou, 1, quantity.Thou))
}

func snapshot(t tester, s *store.Shop, m domain.MachineID) domain.Snapshot {
	t.Helper()
	snap, err := s.Snapshot(ctx, m)
	if err != nil {
		t.Fatal(err)
	}
	return snap
}

// dump is every row of every table of a file, read by a connection of its own.
func dump(t tester, path string) map[string][]string {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+path+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	all := map[string][]string{}
	for _, name := range dumpRows(t, db, `SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name`) {
		all[name] = dumpTable(t, db, name)
	}
	return all
}

// dumpTable is every row of a table, sorted.
func dumpTable(t tester, db *sql.DB, table string) []string {
	t.Helper()
	all := dumpRows(t, db, `SELECT * FROM "`+table+`"`)
	slices.Sort(all)
	return all
}

func dumpRows(t tester, db *sql.DB, query string) []string {
	t.Helper()
	rows, err := db.Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for rows.Next() {
		values := make([]any, len(columns))
		to := make([]any, len(columns))
		for i := range values {
			to[i] = &values[i]
		}
		if err := rows.Scan(to...); err != nil {
			t.Fatal(err)
		}
		all = append(all, fmt.Sprint(values...))
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return all
}

// undelivered is what all shops owe, shop by shop, of each at most limit.
func undelivered(db *store.DB, now time.Time, limit int) (all []domain.Undelivered, err error) {
	shops, err := db.ShopsUndelivered(ctx, now)
	if err != nil {
		return nil, err
	}
	for _, shop := range shops {
		of, err := db.Undelivered(ctx, shop, now, limit)
		if err != nil {
			return nil, err
		}
		all = append(all, of...)
	}
	return all, nil
}

// seenTo is what a steward says who answers for every tag of a machine, and asked the
// owners of those that others hung.
func seenTo(s *store.Shop, m domain.MachineID) (domain.UnderTest, error) {
	body := domain.UnderTest{Note: "seen to"}
	snap, err := s.Snapshot(ctx, m)
	for _, tag := range snap.Tags {
		body.Tags = append(body.Tags, domain.TagAnswer{Tag: tag.Fact, Owner: domain.OwnerAsked})
	}
	return body, err
}

// answersAll is seenTo where it must be.
func answersAll(t tester, s *store.Shop, m domain.MachineID) domain.UnderTest {
	t.Helper()
	b, err := seenTo(s, m)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
