package store_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/store"
)

// backedUp are books with a planer, a backup of them from then, and a report since that
// stands in the log beside them, as after a kill; they are not in use.
func backedUp(t *testing.T) (path, copied string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := use(t, path, store.MakeNone)
	made, err := store.Backup(ctx, path, store.BackupsOf(path), start)
	if err != nil {
		t.Fatal(err)
	}
	report(t, db.Shop("one"), entry("since", time.Hour, marble, smoke))
	log, err := os.ReadFile(path + "-wal")
	if err != nil || len(log) == 0 {
		t.Fatalf("no log: %v", err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	err = errors.Join(db.Close(), os.WriteFile(path, whole, 0o600), os.WriteFile(path+"-wal", log, 0o600))
	if err != nil {
		t.Fatal(err)
	}
	return path, made.Path
}

// A copy is put in place as it is, and what was there is kept, with what stood in its log.
func TestRestore(t *testing.T) {
	t.Parallel()
	path, copied := backedUp(t)
	of, err := os.ReadFile(copied)
	if err != nil {
		t.Fatal(err)
	}
	want := dump(t, copied)
	done, err := store.Restore(ctx, copied, path, start.Add(2*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	if kept := path + ".replaced-20260302T100000Z"; done.Path != path || done.Kept != kept {
		t.Errorf("%+v", done)
	}
	if len(dump(t, done.Kept)["fact"]) != len(want["fact"])+2 { // the report, and the tag that it hung
		t.Errorf("kept %d facts, the copy has %d", len(dump(t, done.Kept)["fact"]), len(want["fact"]))
	}
	got := dump(t, path)
	noted := got["restored"]
	delete(got, "restored")
	delete(want, "restored")
	if d := cmp.Diff(want, got); d != "" || len(noted) != 1 || !strings.HasPrefix(noted[0], "one1772445600000 ") {
		t.Errorf("noted %v, restored (-copy +books):\n%s", noted, d)
	}
	if again, err := os.ReadFile(copied); err != nil || !slices.Equal(of, again) {
		t.Errorf("the copy is changed, %v", err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info, err)
	}
	shop := use(t, path, store.MakeNone).Shop("one")
	if o := report(t, shop, entry("since", 3*time.Hour, marble, smoke)); o.Repeated {
		t.Error("what came after the copy is known")
	}
	for _, name := range names(t, filepath.Dir(path)) {
		if strings.Contains(name, "restoring") {
			t.Errorf("left behind: %s", name)
		}
	}
}

// Lost books are put back, also where one that did so was ended half-way.
func TestRestoreOfNothing(t *testing.T) {
	t.Parallel()
	path, copied := backedUp(t)
	if err := errors.Join(os.Rename(path, path+".replaced-x"), os.WriteFile(path+".restoring", []byte("half"), 0o600),
		os.Remove(path+"-wal")); err != nil {
		t.Fatal(err)
	}
	_, err := store.Use(ctx, path, store.ForBooks, store.MakeNone)
	if got := faultOf(t, path, err); got != store.FileMissing {
		t.Errorf("half-way: %v", err)
	}
	done, err := store.Restore(ctx, copied, path, start)
	if err != nil || done.Kept != "" {
		t.Fatalf("%+v, %v", done, err)
	}
	if found, err := use(t, path, store.MakeNone).Found(ctx); err != nil || found.Machines != 1 {
		t.Errorf("%+v, %v", found, err)
	}
}

// A copy that is not sound all through, or holds no books, replaces nothing; nor does any
// while a program works on the books.
func TestRestoreRefuses(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		want store.Fault
		harm func(t *testing.T, path, copied string)
	}{
		{store.FileDamaged, func(t *testing.T, _, copied string) { overwrite(t, copied, "fact_by") }},
		{store.FileDamaged, func(t *testing.T, _, copied string) { // as only the full check finds
			// An index that is put away while the table changes.
			damage(t, copied, `CREATE TABLE aside AS SELECT * FROM sqlite_schema WHERE name = 'fact_by';
				PRAGMA writable_schema = 1; DELETE FROM sqlite_schema WHERE name = 'fact_by'`)
			damage(t, copied, `UPDATE fact SET by_id = 'bo' WHERE no = 3`)
			damage(t, copied, `PRAGMA writable_schema = 1; INSERT INTO sqlite_schema SELECT * FROM aside;
				DROP TABLE aside`)
		}},
		{store.FileShort, func(t *testing.T, _, copied string) { cut(t, copied, 40960) }},
		{store.FileForeign, func(t *testing.T, _, copied string) { put(t, copied, "hours of the planer") }},
		{store.FileRehearsal, func(t *testing.T, _, copied string) {
			damage(t, copied, `PRAGMA application_id = 0x53637752`)
		}},
		{store.FileHeld, func(t *testing.T, path, _ string) { use(t, path, store.MakeNone) }},
		{"", func(t *testing.T, _, copied string) { do(t, os.Remove(copied)) }},
	} {
		path, copied := backedUp(t)
		test.harm(t, path, copied)
		before := dump(t, path)
		_, err := store.Restore(ctx, copied, path, start)
		named := copied
		if test.want == store.FileHeld {
			named = path
		}
		if test.want == "" && !errors.Is(err, os.ErrNotExist) {
			t.Errorf("no copy: %v", err)
		} else if test.want != "" {
			if got := faultOf(t, named, err); got != test.want {
				t.Errorf("%v: %q, want %q", err, got, test.want)
			}
		}
		if d := cmp.Diff(before, dump(t, path)); d != "" {
			t.Errorf("%s: the books are changed:\n%s", test.want, d)
		}
		for _, name := range names(t, filepath.Dir(path)) {
			if strings.Contains(name, "restoring") || strings.Contains(name, "replaced") {
				t.Errorf("%s: left behind: %s", test.want, name)
			}
		}
	}
}

// What is looked at is said to be fine, or what is wrong with it, one finding each.
func TestExamine(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name string
		harm func(t *testing.T, path string)
		full bool
		age  time.Duration // of the backup
		want map[string]string
	}{
		{"all is well", func(*testing.T, string) {}, true, time.Hour, nil},
		{"missing", func(t *testing.T, path string) { do(t, os.Rename(path, path+"x")) }, false, time.Hour,
			map[string]string{"file": "there are no books at "}},
		{"late", func(*testing.T, string) {}, false, 37 * time.Hour, map[string]string{"backups": "37 hours old"}},
		{"none", func(t *testing.T, path string) { do(t, os.RemoveAll(path+".backups")) }, false, time.Hour,
			map[string]string{"backups": "there are none in "}},
		{"open to others", func(t *testing.T, path string) { do(t, os.Chmod(path, 0o644)) }, false, time.Hour,
			map[string]string{"permissions": "chmod 600 '"}},
		{"a damaged page", func(t *testing.T, path string) { overwrite(t, path, "fact_by") }, false, time.Hour,
			map[string]string{"integrity": " is damaged. Put a copy in its place"}},
		{"an index gone", func(t *testing.T, path string) { damage(t, path, `DROP INDEX fact_by`) }, false, time.Hour,
			map[string]string{"schema": "index fact_by is missing"}},
		{"a tag gone", func(t *testing.T, path string) {
			damage(t, path, `UPDATE machine SET seconds = seconds + 1`)
			damage(t, path, `DELETE FROM moved`)
		}, true, time.Hour, map[string]string{"derived": "machine of shop one"}},
		{"a tag gone, not looked for", func(t *testing.T, path string) {
			damage(t, path, `UPDATE machine SET seconds = seconds + 1`)
		}, false, time.Hour, nil},
	} {
		path, _ := backedUp(t)
		test.harm(t, path)
		before, lists := "", names(t, filepath.Dir(path))
		if text, err := os.ReadFile(path); err == nil {
			before = string(text)
		}
		got := map[string]string{}
		for _, finding := range store.Examine(ctx, path, store.BackupsOf(path), test.full, start.Add(test.age)) {
			if finding.Err == nil && finding.Says == "" {
				t.Errorf("%s: %s says nothing", test.name, finding.Look)
			}
			if finding.Err != nil {
				got[string(finding.Look)] = finding.Err.Error()
			}
		}
		for name, said := range got { // any order: each is looked at by itself
			if want := test.want[name]; want == "" || !strings.Contains(said, want) {
				t.Errorf("%s: %s: %s, want %q", test.name, name, said, want)
			}
		}
		if len(got) != len(test.want) {
			t.Errorf("%s: found %v, want %v", test.name, got, test.want)
		}
		after, err := os.ReadFile(path)
		if d := cmp.Diff(lists, names(t, filepath.Dir(path))); err == nil && string(after) != before || d != "" &&
			!strings.Contains(d, "-shm") {
			t.Errorf("%s: it changes something: %s", test.name, d)
		}
	}
	if found := store.Examine(ctx, filepath.Join(t.TempDir(), "none.db"), "none", true, start); len(found) != 1 ||
		found[0].Err == nil {
		t.Errorf("nothing there: %+v", found)
	}
}

// Each shop's channel has to be held against books that were put back, until it was, from
// the last moment on that they know of; put back again before that, from the earlier one.
func TestRestorations(t *testing.T) {
	t.Parallel()
	path, copied := backedUp(t)
	later := start.Add(2 * time.Hour)
	for n := range 2 {
		at := later.Add(time.Duration(n) * time.Hour)
		done, err := store.Restore(ctx, copied, path, at)
		if err != nil || !done.Last.Equal(start.Add(time.Second+time.Duration(n)*time.Hour)) {
			t.Fatalf("%+v, %v", done, err)
		}
		// The copy of what was put back, and went on, is put back next.
		more := use(t, path, store.MakeNone)
		report(t, more.Shop("one"), entry("more", time.Hour+time.Second, marble, smoke))
		if err := more.Close(); err != nil {
			t.Fatal(err)
		}
		made, err := store.Backup(ctx, path, store.BackupsOf(path), at)
		if err != nil {
			t.Fatal(err)
		}
		copied = made.Path
	}
	db := use(t, path, store.MakeNone)
	last := start.Add(time.Second)
	want := []domain.Restoration{{Shop: "one", At: later.Add(time.Hour), Last: last}}
	got, err := db.Restorations(ctx)
	if d := cmp.Diff(want, got); d != "" || err != nil {
		t.Fatalf("%v, %v", d, err)
	}
	for _, test := range []struct {
		of   domain.Restoration
		left int
	}{
		{domain.Restoration{Shop: "one", At: later}, 1},
		{domain.Restoration{Shop: "two", At: want[0].At}, 1},
		{want[0], 0},
	} {
		if err := db.Reconciled(ctx, test.of); err != nil {
			t.Fatal(err)
		}
		if left, err := db.Restorations(ctx); err != nil || len(left) != test.left {
			t.Errorf("after %+v: %+v, %v", test.of, left, err)
		}
	}
}

// The program that works on the books can have them looked at, too, by the same looks: they
// stay its own, and what is wrong is found.
func TestExamineOwn(t *testing.T) {
	t.Parallel()
	path, _ := backedUp(t)
	db, err := store.Use(ctx, path, store.ForBooks, store.MakeNone)
	do(t, err)
	defer db.Close()
	own, beside := db.Examine(ctx, store.BackupsOf(path), start.Add(time.Hour)),
		store.Examine(ctx, path, store.BackupsOf(path), false, start.Add(time.Hour))
	beside[1].Says, own[1].Says = "", "" // what is free changes meanwhile
	if d := cmp.Diff(beside, own); d != "" || len(own) != 6 {
		t.Errorf("%d looks; from beside, and by itself: %s", len(own), d)
	}
	for _, finding := range own {
		if finding.Err != nil {
			t.Errorf("%s: %v", finding.Look, finding.Err)
		}
	}
	if _, err := store.Use(ctx, path, store.ForBooks, store.MakeNone); err == nil {
		t.Error("another may work on them")
	}
	if got := db.Examine(ctx, "", start); len(got) != 5 {
		t.Errorf("where no copies are made: %+v", got)
	}
	do(t, os.Chmod(path, 0o644))
	wrong := db.Examine(ctx, store.BackupsOf(path), start.Add(40*time.Hour))
	if wrong[2].Err == nil || wrong[5].Err == nil || wrong[4].Err != nil {
		t.Errorf("open to others, and a late copy: %+v", wrong)
	}
	do(t, os.Rename(path, path+"x"))
	var said *domain.BooksError
	if got := db.Examine(ctx, "", start); len(got) != 1 || !errors.As(got[0].Err, &said) ||
		said.Trouble != domain.BooksMoved {
		t.Errorf("moved: %+v", got)
	}
	do(t, os.Rename(path+"x", path))
}
