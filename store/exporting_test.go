package store_test

import (
	"bytes"
	"database/sql"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"setscrew/domain"
	"setscrew/store"
)

// exported is what Export writes of the books at a path.
func exported(t testing.TB, path string, shop domain.ShopID) string {
	t.Helper()
	var out bytes.Buffer
	if _, err := store.Export(ctx, path, shop, &out); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// imported are new books made from an export.
func imported(t testing.TB, text string) (path string, done store.Exported) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "new.db")
	done, err := store.Import(ctx, strings.NewReader(text), path, "", start.Add(9999*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	return path, done
}

// livedFile holds books with a history, made by the first test that wants them.
var livedFile struct {
	sync.Mutex
	file []byte
}

// lived are books with a history of one shop, a few reports of another, and all that is kept
// beside the facts.
func lived(t *testing.T) (path string) {
	t.Helper()
	livedFile.Lock()
	defer livedFile.Unlock()
	var err error
	if livedFile.file == nil {
		livedFile.file, err = os.ReadFile(makeLived(t))
		do(t, err)
	}
	path = filepath.Join(t.TempDir(), "lived.db")
	do(t, os.WriteFile(path, livedFile.file, 0o600))
	return path
}

// makeLived makes them.
func makeLived(t *testing.T) string {
	t.Helper()
	random := rand.New(rand.NewPCG(17, 17))
	playing, err := newPlayer(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	hour := 0
	step := func(st step) {
		t.Helper()
		hour++
		st.hour, st.at = hour, hour*60
		if st.what == "read-all" {
			return
		}
		body, err := operationOf(st.what).body(playing, st)
		if err != nil {
			t.Fatal(err)
		}
		do(t, playing.report(st, "", body, true))
	}
	// Each operation once as its example has it, then what is drawn.
	for _, op := range operations {
		if strings.Contains(op.example, "retire") {
			continue
		}
		steps, err := readExample(op.example)
		if err != nil {
			t.Fatal(err)
		}
		for _, st := range steps {
			st.of = factRef{}
			step(st)
		}
	}
	for hour < 250 {
		step(playing.drawStep(random, hour))
	}
	do(t, playing.takeOver(hour))
	later := start.Add(time.Duration(hour+1) * time.Hour)
	addPlaner(t, playing.db.Shop("two"), "Slate <&> \u2028 \"é\"\n=1")
	do(t, playing.shop.Keep(ctx, domain.Pending{ID: "p", Action: "again", Args: []byte(`{"options": {"a":"<b>"}}`),
		Asked: "ada", Made: later, Expires: later.Add(time.Hour)}))
	do(t, playing.shop.NoteSteward(ctx, "wren", "stewards", later))
	do(t, playing.db.Close())
	// What only the outbox' own way leads to.
	damage(t, playing.path, `INSERT INTO photo (shop_id, key, url, made, data) VALUES ('one', 'k', 'u', 5, x'00ff2200'),
		('one', 'l', 'u', 6, NULL)`)
	damage(t, playing.path, `UPDATE outbox SET posted = made + 1, message = '77' || id, args = '' WHERE id % 3 = 0`)
	damage(t, playing.path, `UPDATE outbox SET lead = 1, sent = 7, tried = 8, again = 9, problem = 'p', mended = 2
		WHERE id = 5`)
	damage(t, playing.path, `UPDATE fact SET body = replace(body, '{"', '{ "') WHERE no = 9`)
	return playing.path
}

// Books that are exported and imported are the same to the last byte of the next export,
// and so is all that is derived.
func TestExportImport(t *testing.T) {
	t.Parallel()
	path := lived(t)
	before := dump(t, path)
	text := exported(t, path, "")
	if d := cmp.Diff(before, dump(t, path)); d != "" {
		t.Errorf("to export changes the books:\n%s", d)
	}
	if again := exported(t, path, ""); again != text {
		t.Error("another export differs")
	}
	made, done := imported(t, text)
	if again := exported(t, made, ""); again != text {
		t.Errorf("exported again (-first +again):\n%s", cmp.Diff(text, again))
	}
	after := dump(t, made)
	for _, table := range []string{"goose_db_version", "restored", "sqlite_sequence"} {
		delete(before, table)
		delete(after, table)
	}
	if d := cmp.Diff(before, after); d != "" {
		t.Errorf("imported (-books +imported):\n%s", d)
	}
	if done.Shops != 2 || done.Facts != len(before["fact"]) || done.Facts < 150 ||
		done.Lines != strings.Count(text, "\n")-1 {
		t.Errorf("%+v, %d facts", done, len(before["fact"]))
	}
	if info, err := os.Stat(made); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info, err)
	}
	db := use(t, made, store.MakeNone)
	if all, err := db.Restorations(ctx); err != nil || len(all) != 2 || all[0].Last.Before(start.Add(200*time.Hour)) {
		t.Errorf("to be held against their channels: %+v, %v", all, err)
	}
	// The new books go on.
	report(t, db.Shop("one"), entry("goes on", 5000*time.Hour, marble, domain.Hours{Seconds: 60}))
	for _, name := range names(t, filepath.Dir(made)) {
		if strings.Contains(name, "importing") {
			t.Errorf("left behind: %s", name)
		}
	}
}

// One shop is taken out of several, and nothing of the others.
func TestExportOneShop(t *testing.T) {
	t.Parallel()
	path := lived(t)
	text := exported(t, path, "two")
	if strings.Contains(text, `"shop_id":"one"`) || !strings.Contains(text, `"shop_id":"two"`) {
		t.Error("another shop's rows, or none of its own")
	}
	made, _ := imported(t, text)
	whole, alone := dump(t, path), dump(t, made)
	for _, table := range []string{"fact", "audit", "machine", "tag", "problem", "took", "profile_text"} {
		of := slices.DeleteFunc(whole[table], func(row string) bool { return !strings.HasPrefix(row, "two") })
		if d := cmp.Diff(of, alone[table], cmpopts.EquateEmpty()); d != "" {
			t.Errorf("%s (-of the shop +alone):\n%s", table, d)
		}
	}
	if _, err := store.Export(ctx, path, "three", &bytes.Buffer{}); err == nil ||
		!strings.Contains(err.Error(), `there is no shop "three" in these books`) {
		t.Errorf("a shop that is not there: %v", err)
	}
}

// Every column of every table is exported, or made again by Rebuild, or left out for a
// reason that stands here.
func TestEveryColumnIsExported(t *testing.T) {
	t.Parallel()
	left := map[string]string{
		"restored.at":      "when books were put in place is when they are imported",
		"fact.withdrawn":   "derived",
		"fact.believed":    "derived",
		"fact.seconds":     "derived",
		"machine.seconds":  "derived",
		"machine.outage":   "derived",
		"machine.test":     "derived",
		"goose_db_version": "the head says the schema", "sqlite_sequence": "follows from the outbox",
		"shop": "derived", "gauge": "derived", "done_last": "derived", "moved": "derived", "tag": "derived",
		"problem": "derived", "need": "derived", "took": "derived",
	}
	_, path := fresh(t)
	db, err := sql.Open("sqlite3", "file:"+path+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	given := store.ExportedColumns()
	for _, row := range dumpRows(t, db, `SELECT m.name || '.' || c.name
		FROM sqlite_schema m, pragma_table_info(m.name) c
		WHERE m.type = 'table' ORDER BY 1`) {
		name := strings.Trim(row, "[]")
		table, _, _ := strings.Cut(name, ".")
		if given[name] == (left[name] != "" || left[table] != "") {
			t.Errorf("%s: exported %v, left out for %q", name, given[name], left[name]+left[table])
		}
	}
}

// What is no whole export makes no books, and the line that is wrong is named.
func TestImportRefuses(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	lines := strings.SplitAfter(strings.TrimSuffix(exported(t, path, ""), "\n"), "\n")
	first := slices.IndexFunc(lines, func(l string) bool { return strings.HasPrefix(l, `{"table":"fact"`) })
	with := func(n int, old, new string) string {
		t.Helper()
		if !strings.Contains(lines[n], old) {
			t.Fatalf("no %s in %s", old, lines[n])
		}
		all := slices.Clone(lines)
		all[n] = strings.Replace(all[n], old, new, 1)
		return strings.Join(all, "")
	}
	for _, test := range []struct {
		name, text string
		line       int
		want       string
	}{
		{"nothing", "", 1, "there is nothing"},
		{"another file", "hours,of,the,planer\n", 1, "no export of Setscrew's"},
		{"a later schema", with(0, `"schema":`, `"schema":9`), 1, "later version"},
		{"a schema that never was", with(0, `"schema":`, `"schema":-`), 1, "never was"},
		{"a later format", with(0, `"format":1`, `"format":2`), 1, "later version"},
		{"for something else", with(0, `"for":"books"`, `"for":"bids"`), 1, "never was"},
		{"no JSON", with(first, `{"table"`, `{table`), first + 1, "no JSON object"},
		{"no table", with(first, `"table"`, `"tables"`), first + 1, "does not say which"},
		{"another table", with(first, `"fact"`, `"facts"`), first + 1, `no table is called "facts"`},
		{"a table that is derived", with(first, `"fact"`, `"tag"`), first + 1, `no table is called "tag"`},
		{"a column too many", with(first, `"no"`, `"more":1,"no"`), first + 1, "others or lacks some"},
		{"a column under another name", with(first, `"no"`, `"number"`), first + 1, "without no"},
		{"no number", with(first, `"no":1`, `"no":"one"`), first + 1, "cannot store TEXT value"},
		{"half a number", with(first, `"no":1`, `"no":1.5`), first + 1, "no whole number"},
		{"a number twice", with(first, `"no":1`, `"no":2`), first + 2, "UNIQUE"},
		{"an unknown kind", with(first, `"kind":"`, `"kind":"un`), first + 1, "unknown kind of fact"},
		{"a body that is none", with(first, `"body":{`, `"body":{"name":7,`), first + 1, "read a fact of kind"},
		{"a line less", strings.Join(lines[:len(lines)-1], ""), 0, "not whole, or was altered"},
		{"a line twice", strings.Join(append(slices.Clone(lines), "\n", lines[len(lines)-1]), ""), len(lines) + 1,
			"UNIQUE"},
	} {
		into := filepath.Join(t.TempDir(), "new.db")
		_, err := store.Import(ctx, strings.NewReader(test.text), into, "", start)
		var at *store.LineError
		if err == nil || !strings.Contains(err.Error(), test.want) || errors.As(err, &at) != (test.line > 0) ||
			at != nil && at.Line != test.line {
			t.Errorf("%s: %v, want line %d: %s", test.name, err, test.line, test.want)
		}
		if left := names(t, filepath.Dir(into)); !slices.Equal(left, []string{"new.db.lock"}) {
			t.Errorf("%s: left behind: %v", test.name, left)
		}
	}
	// Books that are there are left as they are.
	before := dump(t, path)
	_, err := store.Import(ctx, strings.NewReader(strings.Join(lines, "")), path, "", start)
	if got := faultOf(t, path, err); got != store.FileExists {
		t.Errorf("there is a file: %v", err)
	}
	if d := cmp.Diff(before, dump(t, path)); d != "" {
		t.Errorf("the books are changed:\n%s", d)
	}
}

// An export of an earlier schema comes forward.
func TestImportOfAnEarlierSchema(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	text := exported(t, path, "")
	head, rest, _ := strings.Cut(text, "\n")
	i := strings.Index(head, `"schema":`)
	earlier := head[:i] + `"schema":22` + head[i+strings.IndexByte(head[i:], ','):]
	made, _ := imported(t, earlier+"\n"+rest)
	if again := exported(t, made, ""); again != text {
		t.Errorf("(-now +from earlier):\n%s", cmp.Diff(text, again))
	}
}

// An export is made of what stands in the log of a program that works on the books, and
// holds a report or does not, never half.
func TestExportBesideTheProgram(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := use(t, path, store.MakeNone)
	report(t, db.Shop("one"), entry("now", time.Hour, marble, smoke))
	if text := exported(t, path, ""); strings.Count(text, `{"table":"fact"`) != len(dump(t, path)["fact"]) ||
		!strings.Contains(text, `"key":"now"`) {
		t.Error("the last report is missing")
	}
	if _, err := store.Export(ctx, path+"x", "", &bytes.Buffer{}); faultOf(t, path+"x", err) != store.FileMissing {
		t.Errorf("no books: %v", err)
	}
}
