package store_test

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/store"
)

// faultOf is the fault that an error says, "" for none, and holds that it names the file.
func faultOf(t *testing.T, path string, err error) store.Fault {
	t.Helper()
	var said *store.FileError
	if !errors.As(err, &said) {
		if err != nil {
			t.Errorf("%v is no fault of a file", err)
		}
		return ""
	}
	if said.Path != path || !strings.Contains(said.Error(), path) {
		t.Errorf("%v does not name %s", said, path)
	}
	return said.Fault
}

// use opens books as the program does, until the test ends.
func use(t *testing.T, path string, making store.Making) *store.DB {
	t.Helper()
	db, err := store.Use(ctx, path, store.ForBooks, making)
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

// A file is made only where that was asked for, and only where there is none.
func TestFilesAreNotMadeByAccident(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	_, err := store.Use(ctx, path, store.ForBooks, store.MakeNone)
	if got := faultOf(t, path, err); got != store.FileMissing {
		t.Errorf("none there: %q", got)
	}
	if left, err := os.ReadDir(filepath.Dir(path)); err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	use(t, path, store.MakeNew).Close()
	before := dump(t, path)
	_, err = store.Use(ctx, path, store.ForBooks, store.MakeNew)
	if got := faultOf(t, path, err); got != store.FileExists {
		t.Errorf("one there: %q", got)
	}
	if d := cmp.Diff(before, dump(t, path)); d != "" {
		t.Errorf("changed:\n%s", d)
	}
	for _, making := range []store.Making{store.MakeNone, store.MakeMissing} {
		use(t, path, making).Close()
	}
}

// What one that was ended while it made a file left behind keeps nobody from making it.
func TestHalfMadeFilesAreNoFiles(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	if err := os.WriteFile(path+".new", []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := store.Use(ctx, path, store.ForBooks, store.MakeNone)
	if got := faultOf(t, path, err); got != store.FileMissing {
		t.Errorf("%q", got)
	}
	use(t, path, store.MakeNew)
	if _, err := os.Stat(path + ".new"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("left behind: %v", err)
	}
}

// A rehearsal's file and books are told apart, both ways, and so are files from before
// that was written into them.
func TestRehearsalsAreNoBooks(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	other := map[store.Purpose]store.Purpose{store.ForBooks: store.ForRehearsal, store.ForRehearsal: store.ForBooks}
	want := map[store.Purpose]store.Fault{store.ForBooks: store.FileBooks, store.ForRehearsal: store.FileRehearsal}
	for n, earlier := range []bool{false, true} {
		for _, purpose := range []store.Purpose{store.ForBooks, store.ForRehearsal} {
			path := filepath.Join(dir, fmt.Sprint(n, purpose))
			db, err := store.Use(ctx, path, purpose, store.MakeNew)
			if err == nil {
				err = db.Close()
			}
			if err != nil {
				t.Fatal(err)
			}
			if earlier {
				damage(t, path, `PRAGMA application_id = 0`)
				if purpose == store.ForRehearsal {
					if err := os.WriteFile(path+".rehearsal", []byte("{}"), 0o600); err != nil {
						t.Fatal(err)
					}
				}
			}
			for range 2 { // the second time it is written down
				before := dump(t, path)
				_, err = store.Use(ctx, path, other[purpose], store.MakeMissing)
				if got := faultOf(t, path, err); got != want[purpose] {
					t.Errorf("earlier %v, %x: %q, want %q", earlier, purpose, got, want[purpose])
				}
				if d := cmp.Diff(before, dump(t, path)); d != "" {
					t.Errorf("changed:\n%s", d)
				}
				if db, err := store.Use(ctx, path, purpose, store.MakeNone); err != nil || db.Close() != nil {
					t.Errorf("earlier %v, %x: %v", earlier, purpose, err)
				}
				os.Remove(path + ".rehearsal") //nolint:errcheck // one that is not there
			}
		}
	}
}

// Only its owner may read a file and what is beside it, whatever the umask, and one that
// others could read is taken from them, and said.
func TestFilesAreTheirOwnersAlone(t *testing.T) {
	// not parallel: the umask is the process's
	before := syscall.Umask(0)
	defer syscall.Umask(before)
	path := filepath.Join(t.TempDir(), "shop.db")
	modes := func() (all []string) {
		found, err := filepath.Glob(path + "*")
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range found {
			info, err := os.Stat(name)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, fmt.Sprintf("%s %o", filepath.Base(name), info.Mode().Perm()))
		}
		return all
	}
	want := []string{"shop.db 600", "shop.db-shm 600", "shop.db-wal 600", "shop.db.lock 600"}
	db := use(t, path, store.MakeNew)
	addPlaner(t, db.Shop("one"), "Marble")
	if may, err := db.Widened(); may != "" || err != nil || !cmp.Equal(want, modes()) {
		t.Errorf("made: %q, others could %q, %v", modes(), may, err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o664); err != nil {
		t.Fatal(err)
	}
	db = use(t, path, store.MakeNone)
	addPlaner(t, db.Shop("one"), "Slate")
	if may, err := db.Widened(); may != "read and write" || err != nil || !cmp.Equal(want, modes()) {
		t.Errorf("taken from others: %q, who could %q, %v", modes(), may, err)
	}
}

// Only one program works on a file; one that looks on is not kept out.
func TestOneProgramAtATime(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	first := use(t, path, store.MakeNew)
	_, err := store.Use(ctx, path, store.ForBooks, store.MakeNone)
	if got := faultOf(t, path, err); got != store.FileHeld || !strings.Contains(err.Error(), fmt.Sprint(os.Getpid())) {
		t.Errorf("while the first works: %v", err)
	}
	open(t, path)
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	use(t, path, store.MakeNone)
}

// A program that is killed holds nothing any more, and its file is whole.
func TestAKillLetsGo(t *testing.T) {
	t.Parallel()
	path := os.Getenv("SETSCREW_TEST_HELD")
	if path != "" {
		use(t, path, store.MakeMissing)
		fmt.Println("held")
		time.Sleep(time.Minute)
		return
	}
	path = filepath.Join(t.TempDir(), "shop.db")
	program := exec.Command(os.Args[0], "-test.run=^TestAKillLetsGo$", "-test.v")
	program.Env = append(os.Environ(), "SETSCREW_TEST_HELD="+path)
	out, err := program.StdoutPipe()
	if err == nil {
		err = program.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	said := ""
	for buffer := make([]byte, 100); !strings.Contains(said, "held\n"); {
		n, err := out.Read(buffer)
		if err != nil {
			t.Fatalf("it said %q: %v", said, err)
		}
		said += string(buffer[:n])
	}
	_, err = store.Use(ctx, path, store.ForBooks, store.MakeNone)
	if got := faultOf(t, path, err); got != store.FileHeld {
		t.Errorf("while it works: %v", err)
	}
	if err := program.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	program.Wait() //nolint:errcheck // it was killed
	use(t, path, store.MakeNone)
}

// What a file holds is counted: what is in use and what stands.
func TestFound(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	db := use(t, path, store.MakeNew)
	if found, err := db.Found(ctx); err != nil || found != (store.Found{}) {
		t.Errorf("a new one: %+v, %v", found, err)
	}
	for _, shop := range []domain.ShopID{"one", "two"} {
		planer := addPlaner(t, db.Shop(shop), "Marble")
		report(t, db.Shop(shop), entry("tag", time.Hour, planer, domain.TagOut{Reason: domain.Reason{
			Code: domain.SaidBySomebody, Text: "x"}}))
	}
	gone := addPlaner(t, db.Shop("two"), "Slate")
	report(t, db.Shop("two"), entry("retire", time.Hour, gone, domain.MachineRetired{}))
	if found, err := db.Found(ctx); err != nil || found != (store.Found{Shops: 2, Machines: 2, Tags: 2}) {
		t.Errorf("%+v, %v", found, err)
	}
	if db.Path() != path {
		t.Errorf("path %s", db.Path())
	}
}
