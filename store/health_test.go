package store_test

import (
	"database/sql"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/store"
)

// overwrite spoils a page of a file, past SQLite: the first of a table or an index.
func overwrite(t *testing.T, path, name string) {
	t.Helper()
	raw, err := sql.Open("sqlite3", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	var root, size int64
	err = errors.Join(raw.QueryRow(`SELECT rootpage FROM sqlite_schema WHERE name = ?`, name).Scan(&root),
		raw.QueryRow(`PRAGMA page_size`).Scan(&size), raw.Close())
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	_, err = file.WriteAt(slices.Repeat([]byte{0xa5}, int(size)), (root-1)*size)
	if err := errors.Join(err, file.Close()); err != nil {
		t.Fatal(err)
	}
}

// A file is looked at before it is used, and each thing that may be wrong with it is told
// apart; it is left as it is.
func TestFilesAreCheckedFirst(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		want store.Fault
		harm func(*testing.T, string)
	}{
		{store.FileEmpty, func(t *testing.T, path string) { cut(t, path, 0) }},
		{store.FileShort, func(t *testing.T, path string) { cut(t, path, 50) }},
		{store.FileShort, func(t *testing.T, path string) { cut(t, path, 40960) }},
		{store.FileForeign, func(t *testing.T, path string) { put(t, path, "hours of the planer\n") }},
		{store.FileForeign, func(t *testing.T, path string) {
			cut(t, path, 0)
			damage(t, path, `CREATE TABLE song (name TEXT)`)
		}},
		{store.FileForeign, func(t *testing.T, path string) { damage(t, path, `PRAGMA application_id = 7`) }},
		{store.FileNewer, func(t *testing.T, path string) {
			damage(t, path, `INSERT INTO goose_db_version (version_id, is_applied, tstamp)
				VALUES (9999, 1, '2026-01-01')`)
		}},
		{store.FileAltered, func(t *testing.T, path string) { damage(t, path, `DROP INDEX tag_standing`) }},
		{store.FileAltered, func(t *testing.T, path string) { damage(t, path, `ALTER TABLE tag DROP COLUMN paper`) }},
		{store.FileAltered, func(t *testing.T, path string) { damage(t, path, `ALTER TABLE tag ADD COLUMN odd ANY`) }},
		{store.FileAltered, func(t *testing.T, path string) {
			damage(t, path, `CREATE TRIGGER odd AFTER INSERT ON fact BEGIN DELETE FROM tag; END`)
		}},
		{store.FileDamaged, func(t *testing.T, path string) { overwrite(t, path, "goose_db_version") }},
		{store.FileDamaged, func(t *testing.T, path string) {
			damage(t, path, `PRAGMA writable_schema = 1; UPDATE sqlite_schema SET rootpage = 99999 WHERE name = 'fact'`)
		}},
	} {
		path := filepath.Join(t.TempDir(), "shop.db")
		copyPrepared(t, path)
		damage(t, path, `PRAGMA journal_mode = DELETE`)
		test.harm(t, path)
		before, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		_, err = store.Use(ctx, path, store.ForBooks, store.MakeNone)
		if got := faultOf(t, path, err); got != test.want {
			t.Errorf("%v: %q, want %q", err, got, test.want)
		}
		if after, err := os.ReadFile(path); err != nil || !slices.Equal(before, after) {
			t.Errorf("%s: the file is changed, %v", test.want, err)
		}
	}
}

// do fails a test whose preparation failed.
func do(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// cut leaves only a number of bytes of a file.
func cut(t *testing.T, path string, size int64) {
	t.Helper()
	if err := os.Truncate(path, size); err != nil {
		t.Fatal(err)
	}
}

// put writes a file.
func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// A file whose last changes stand in the log beside it, as a kill leaves it, is whole.
func TestAFileWithItsLogIsWhole(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	path, copied := filepath.Join(dir, "shop.db"), filepath.Join(dir, "copy.db")
	db := use(t, path, store.MakeNew)
	addPlaner(t, db.Shop("one"), "Marble")
	for _, end := range []string{"", "-wal"} {
		from, err := os.Open(path + end)
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(from)
		if err := errors.Join(err, from.Close(), os.WriteFile(copied+end, text, 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	if found, err := use(t, copied, store.MakeNone).Found(ctx); err != nil || found.Machines != 1 {
		t.Errorf("%+v, %v", found, err)
	}
}

// What is found damaged, of whatever kind, takes no more reports; a sound file does.
func TestDamageStopsReports(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"", "audit", "fact_by", "fact"} {
		path := filepath.Join(t.TempDir(), "shop.db")
		copyPrepared(t, path)
		if name != "" {
			overwrite(t, path, name)
		}
		db := use(t, path, store.MakeNone)
		err := db.CheckPages(ctx)
		if got := trouble(err); (got == domain.BooksDamaged) != (name != "") || name == "" && err != nil {
			t.Errorf("%q: %v", name, err)
		}
		if got := trouble(db.Look()); got != trouble(err) {
			t.Errorf("%q: looks %q", name, got)
		}
		_, reported := db.Shop("one").Report(ctx, entry("k", time.Hour, marble, smoke))
		if trouble(reported) != trouble(err) || name == "" && reported != nil {
			t.Errorf("%q: a report: %v", name, reported)
		}
	}
}

// A file that is moved, replaced or deleted takes no report that would be in no books,
// and goes on once it is back; nothing was lost and nothing stored meanwhile.
func TestAMovedFileTakesNoReports(t *testing.T) {
	t.Parallel()
	for name, harm := range map[string]func(path string) (mend func() error){
		"moved": func(path string) func() error {
			return func() error { return os.Rename(path+".away", path) }
		},
		"replaced": func(path string) func() error {
			if err := os.WriteFile(path, nil, 0o600); err != nil {
				t.Fatal(err)
			}
			return func() error { return os.Rename(path+".away", path) }
		},
	} { // any order: each is looked at by itself
		path := filepath.Join(t.TempDir(), "shop.db")
		copyPrepared(t, path)
		db := use(t, path, store.MakeNone)
		if err := db.Look(); err != nil {
			t.Errorf("before: %v", err)
		}
		before := dump(t, path)
		if err := os.Rename(path, path+".away"); err != nil {
			t.Fatal(err)
		}
		mend := harm(path)
		_, err := db.Shop("one").Report(ctx, entry("k", time.Hour, marble, smoke))
		if trouble(err) != domain.BooksMoved || trouble(db.Look()) != domain.BooksMoved {
			t.Errorf("%s: a report %v, a look %v", name, err, db.Look())
		}
		if err := mend(); err != nil {
			t.Fatal(err)
		}
		if after := dump(t, path); len(after["fact"]) != len(before["fact"]) {
			t.Errorf("%s: stored meanwhile", name)
		}
		if o := report(t, db.Shop("one"), entry("k", time.Hour, marble, smoke)); o.Repeated || db.Look() != nil {
			t.Errorf("%s: afterwards: %+v, %v", name, o, db.Look())
		}
	}
}

// A disk that is nearly full is told of before it is full, and no longer once there is room.
func TestLittleSpaceIsTold(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	db := use(t, path, store.MakeNew)
	var free int64 = 1 << 20
	db.Space(func(string) (int64, error) { return free, nil })
	if err := db.Look(); trouble(err) != domain.BooksFull {
		t.Errorf("1 MB left: %v", err)
	}
	free = 1 << 30
	if err := db.Look(); err != nil {
		t.Errorf("1 GB left: %v", err)
	}
	db.Space(func(string) (int64, error) { return 0, errors.New("no such disk") })
	if err := db.Look(); trouble(err) != domain.BooksUnreachable {
		t.Errorf("a disk that does not answer: %v", err)
	}
}

// A disk that is mounted read-only, and a folder in which SQLite could keep nothing, are
// told of, and no longer once they may be written.
func TestReadOnlyIsTold(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	db := use(t, path, store.MakeNew)
	if err := db.Look(); err != nil {
		t.Errorf("before: %v", err)
	}
	for _, only := range []string{path, filepath.Dir(path)} {
		db.Writable(func(asked string) error {
			if asked == only {
				return syscall.EROFS
			}
			return nil
		})
		if err := db.Look(); trouble(err) != domain.BooksUnreachable || !errors.Is(err, syscall.EROFS) {
			t.Errorf("%s: %v", only, err)
		}
	}
	db.Writable(func(string) error { return nil })
	if err := db.Look(); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}
