package store

import (
	"bytes"
	"compress/gzip"
	"context"
	"database/sql"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/domain/profile"
)

var writeSchemas = flag.Bool("schemas", false, "write the files of schemas that have none yet into testdata/schemas")

// schemaFile is where a file of a schema is kept, compressed.
func schemaFile(schema int64) string {
	return filepath.Join("testdata", "schemas", fmt.Sprintf("%04d.db.gz", schema))
}

// demoFacts are what a small shop had reported when its books had the first schema.
func demoFacts(t *testing.T, hash string) []domain.Body {
	t.Helper()
	return []domain.Body{
		domain.ShopSet{Shop: domain.Shop{Name: "Quarry Street Commons", Zone: "CET"}},
		domain.MachineAdded{Name: "Marble", Setup: domain.Setup{Kind: "thickness-planer", Hash: hash,
			Params: profile.Params{"knives": "2"}, Rev: 1}},
		domain.Hours{Seconds: 5400},
		domain.ServiceDone{Service: "bushings"},
		domain.Problem{Symptom: "marks", Name: "marks"},
		domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true},
		domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "loose knives"}, Paper: "17"},
		domain.Inspection{Check: "guards", Pass: true},
	}
}

// makeSchemas writes the files of all schemas: the small shop's, brought from each to the
// next by the migrations, with one report more under each. What is there is left as it is:
// a file is what a program of its time left behind.
func makeSchemas(t *testing.T) {
	t.Helper()
	ctx := context.Background()
	path, db := fileOf(t, 1)
	exec := func(query string, args ...any) {
		t.Helper()
		if _, err := db.ExecContext(ctx, query, args...); err != nil {
			t.Fatalf("%s: %v", query, err)
		}
	}
	text, err := profile.BuiltinText("thickness-planer")
	if err != nil {
		t.Fatal(err)
	}
	planer, err := profile.Load("thickness-planer.yaml", text, nil)
	if err != nil {
		t.Fatal(err)
	}
	hash := planer.Hash
	at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	add := func(no int64, machine int, body domain.Body) {
		t.Helper()
		encoded, err := domain.EncodeBody(body)
		if err != nil {
			t.Fatal(err)
		}
		subject, seconds := "", int64(0)
		switch b := body.(type) {
		case domain.ServiceDone:
			subject = b.Service
		case domain.Inspection:
			subject = b.Check
		case domain.Hours:
			seconds = b.Seconds
		}
		then := at.Add(time.Duration(no) * time.Minute).UnixMilli()
		exec(`INSERT INTO fact (shop_id, no, machine_id, kind, subject, at, recorded, by_id, for_id, hash, setup_rev,
				seconds, body) VALUES ('one', ?, ?, ?, ?, ?, ?, 'ada', 'ada', ?, 1, ?, ?)`,
			no, machine, body.FactKind(), subject, then, then, hash, seconds, string(encoded))
		exec(`INSERT INTO audit (shop_id, fact_no, who, typed, at) VALUES ('one', ?, 'ada', '/said', ?)`, no, then)
	}
	// The first schema: the facts, and what was derived from them.
	facts := demoFacts(t, hash)
	for i, body := range facts {
		machine := 1
		if i == 0 {
			machine = 0
		}
		add(int64(i+1), machine, body)
		exec(`INSERT INTO done (shop_id, key, fact_no) VALUES ('one', ?, ?)`, fmt.Sprint("key ", i+1), i+1)
	}
	encode := func(v any) string {
		t.Helper()
		text, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	settings, setup := encode(facts[0].(domain.ShopSet).Shop), encode(facts[1].(domain.MachineAdded).Setup)
	reason := encode(facts[6].(domain.TagOut).Reason)
	exec(`INSERT INTO shop (shop_id, settings) VALUES ('one', ?)`, settings)
	exec(`INSERT INTO profile_text (shop_id, hash, kind, text) VALUES ('one', ?, 'thickness-planer', ?)`, hash,
		string(text))
	exec(`INSERT INTO machine (shop_id, machine_id, name, folded, units, added, setup, seconds, outage)
		VALUES ('one', 1, 'Marble', 'marble', '', ?, ?, 5400, 1)`, at.UnixMilli(), setup)
	exec(`INSERT INTO service_last (shop_id, machine_id, service, fact_no, at, seconds)
		VALUES ('one', 1, 'bushings', 4, ?, 5400)`, at.Add(4*time.Minute).UnixMilli())
	exec(`INSERT INTO danger (shop_id, fact_no, machine_id) VALUES ('one', 6, 1)`)
	exec(`INSERT INTO tag (shop_id, fact_no, machine_id, cause, because, reason, by_id, at)
		VALUES ('one', 7, 1, '', 7, ?, 'ada', ?)`, reason, at.Add(7*time.Minute).UnixMilli())
	exec(`INSERT INTO outbox (shop_id, machine_id, key, op, target, topic, args, made)
		VALUES ('one', 1, 'm1/out/1', 'post', '', 'tag-out', '{"v":1,"machine":"Marble"}', ?)`,
		at.Add(7*time.Minute).UnixMilli())
	exec(`VACUUM`)
	// Each schema, with one report more.
	numbers, err := schemaNumbers()
	if err != nil {
		t.Fatal(err)
	}
	provider, err := newProvider(db)
	if err != nil {
		t.Fatal(err)
	}
	for i, schema := range numbers {
		if _, err := provider.UpTo(ctx, schema); err != nil {
			t.Fatal(err)
		}
		if i > 0 {
			no := int64(len(facts) + i)
			add(no, 1, domain.Hours{Seconds: 60 * schema})
			exec(`UPDATE machine SET seconds = seconds + ?`, 60*schema)
			if schema >= 3 {
				exec(`UPDATE fact SET key = ? WHERE no = ?`, fmt.Sprint("key ", no), no)
			} else {
				exec(`INSERT INTO done (shop_id, key, fact_no) VALUES ('one', ?, ?)`, fmt.Sprint("key ", no), no)
			}
		}
		exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
		if _, err := os.Stat(schemaFile(schema)); err == nil {
			continue
		}
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var packed bytes.Buffer
		pack, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
		if err == nil {
			_, err = pack.Write(whole)
		}
		if err == nil {
			err = pack.Close()
		}
		if err == nil {
			err = os.WriteFile(schemaFile(schema), packed.Bytes(), 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// factsIn are a file's facts as they stand in it, by a connection of its own.
func factsIn(t *testing.T, path string) (all []string) {
	t.Helper()
	db, err := sql.Open("sqlite3", source(path, "mode=ro"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query(`SELECT concat_ws(' ', shop_id, no, machine_id, kind, subject, at, recorded, by_id, for_id,
		hash, setup_rev, withdrawn, believed, seconds, body) FROM fact ORDER BY no`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var one string
		if err := rows.Scan(&one); err != nil {
			t.Fatal(err)
		}
		all = append(all, one)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return all
}

// A file of each schema that there ever was is brought forward, after a copy of it was put
// beside: every fact is as it was, what came in under it is still known, and the machine is
// out of service with what was reported of it.
func TestEverySchemaComesForward(t *testing.T) {
	t.Parallel()
	if *writeSchemas {
		makeSchemas(t)
	}
	ctx := context.Background()
	numbers, err := schemaNumbers()
	if err != nil {
		t.Fatal(err)
	}
	for i, schema := range numbers {
		// The file as it is kept, and what it holds.
		packed, err := os.Open(schemaFile(schema))
		if err != nil {
			t.Errorf("schema %d has no file: go test ./store -run EverySchema -schemas makes it: %v", schema, err)
			continue
		}
		unpack, err := gzip.NewReader(packed)
		if err != nil {
			t.Fatal(err)
		}
		whole, err := io.ReadAll(unpack)
		packed.Close()
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "shop.db")
		if err := os.WriteFile(path, whole, 0o600); err != nil {
			t.Fatal(err)
		}
		before := factsIn(t, path)
		if len(before) != 8+i {
			t.Errorf("schema %d: %d facts", schema, len(before))
		}
		// Brought forward, its facts are the same, and stand as they were in a copy beside it.
		db, err := Use(ctx, path, ForBooks, MakeNone)
		if err != nil {
			t.Errorf("schema %d: %v", schema, err)
			continue
		}
		if d := cmp.Diff(before, factsIn(t, path)); d != "" {
			t.Errorf("schema %d (-was +is):\n%s", schema, d)
		}
		if i+1 < len(numbers) {
			copied := fmt.Sprintf("%s.before-%04d", path, numbers[i+1])
			state, err := checkFile(ctx, copied)
			if d := cmp.Diff(before, factsIn(t, copied)); d != "" || err != nil || state.schema != schema {
				t.Errorf("schema %d: its copy is of %+v, %v (-was +is):\n%s", schema, state, err, d)
			}
			if info, err := os.Stat(copied); err != nil || info.Mode().Perm() != 0o600 {
				t.Errorf("schema %d: its copy: %v, %v", schema, info.Mode(), err)
			}
		}
		// What was reported still counts.
		shop := db.Shop("one")
		snap, err := shop.Snapshot(ctx, 1)
		if err != nil || len(snap.Tags) != 1 || snap.Tags[0].Fact != 7 || len(snap.Dangers) != 1 {
			t.Errorf("schema %d: tags %+v, dangers %+v, %v", schema, snap.Tags, snap.Dangers, err)
		}
		for no := range before {
			o, err := shop.Report(ctx, domain.Entry{Key: fmt.Sprint("key ", no+1), Machine: 1, By: "ada", For: "ada",
				Body: domain.Hours{Seconds: 60}, Sure: true})
			if err != nil || !o.Repeated || o.Fact.No != domain.FactNo(no+1) {
				t.Errorf("schema %d: no. %d again: %+v, %v", schema, no+1, o.Fact, err)
			}
		}
		if err := shop.Rebuild(ctx); err != nil {
			t.Errorf("schema %d: %v", schema, err)
		}
		if again, err := shop.Snapshot(ctx, 1); err != nil || !again.Hours.Equal(snap.Hours) ||
			len(again.Tags) != 1 {
			t.Errorf("schema %d, derived again: %v, was %v; tags %+v, %v", schema, again.Hours, snap.Hours, again.Tags,
				err)
		}
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	}
	kept, err := filepath.Glob(filepath.Join("testdata", "schemas", "*"))
	if err != nil || len(kept) != len(numbers) {
		t.Errorf("%d files of %d schemas, %v", len(kept), len(numbers), err)
	}
}

// Of the copies from before migrations the newest three are kept.
func TestCopiesFromBeforeAreThinned(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop [1].db")
	for _, name := range []string{"0005", "0011", "0009", "0003", "10000", "x"} {
		if err := os.WriteFile(path+".before-"+name, nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := thinBefore(path); err != nil {
		t.Fatal(err)
	}
	var left []string
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		left = append(left, e.Name())
	}
	want := []string{"shop [1].db.before-0009", "shop [1].db.before-0011", "shop [1].db.before-10000",
		"shop [1].db.before-x"}
	if d := cmp.Diff(want, left); d != "" {
		t.Error(d)
	}
}

// A migration leaves the newest three copies, its own among them.
func TestMigrationsThinTheirCopies(t *testing.T) {
	t.Parallel()
	path, old := fileOf(t, 9)
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"0002", "0003", "0004"} {
		if err := os.WriteFile(path+".before-"+name, nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	db, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	left, err := filepath.Glob(path + ".before-*")
	want := []string{path + ".before-0003", path + ".before-0004", path + ".before-0010"}
	if d := cmp.Diff(want, left); d != "" || err != nil {
		t.Errorf("%v, left (-want +got):\n%s", err, d)
	}
}

// A file whose copy cannot be made is not changed.
func TestNoMigrationWithoutACopy(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	path, old := fileOf(t, 9)
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(path+".before-0010/in the way", 0o700); err != nil {
		t.Fatal(err)
	}
	if db, err := Open(ctx, path); err == nil {
		t.Errorf("opened: %v", db.Close())
	}
	if state, err := checkFile(ctx, path); err != nil || state.schema != 9 {
		t.Errorf("%+v, %v", state, err)
	}
}
