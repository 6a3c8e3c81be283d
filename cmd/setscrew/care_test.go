package main

import (
	"context"
	"log/slog"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"setscrew/commands"
	"setscrew/store"
)

// caredFor are books in use, with what looks after them and the log that it writes.
func caredFor(t *testing.T) (looks *care, log *strings.Builder, path string) {
	t.Helper()
	path = newBooks(t)
	db, err := store.Use(context.Background(), path, store.ForBooks, store.MakeNone)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	log = &strings.Builder{}
	looks = newCare(db, "", slog.New(slog.NewTextHandler(log, nil)))
	looks.place = time.UTC
	return looks, log, path
}

// minute does what is done each minute.
func minute(looks *care, now time.Time) {
	for _, job := range looks.jobs() {
		job(context.Background(), now)
	}
}

// said takes what the log says since it was last looked at, without times.
func said(log *strings.Builder) string {
	defer log.Reset()
	return log.String()
}

// The books are copied at once, then each night, and what is kept is thinned. A copy that
// fails is tried again after an hour, and told once it is late, to stewards too, until
// there is one.
func TestCopiedEveryNight(t *testing.T) {
	t.Parallel()
	looks, log, path := caredFor(t)
	copies := func() int {
		t.Helper()
		all, err := store.Copies(path, looks.folder)
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	begin := time.Date(2026, 3, 2, 20, 0, 0, 0, time.UTC)
	looks.logCopies(begin)
	if got := said(log); !strings.Contains(got, "no copy of the books yet") || strings.Contains(got, "error=") {
		t.Errorf("at the start: %s", got)
	}
	for now := begin; now.Before(begin.Add(48 * time.Hour)); now = now.Add(10 * time.Minute) {
		minute(looks, now)
	}
	if got := said(log); copies() != 3 || strings.Count(got, "the books are copied") != 3 ||
		!strings.Contains(got, "shop-20260304T033000Z.db") ||
		strings.Count(got, "the books are sound") != 1 || len(looks.Ails()) != 0 {
		t.Errorf("%d copies, %v; %s", copies(), looks.Ails(), got)
	}
	// Something stands in the way of the next.
	if err := os.Rename(looks.folder, looks.folder+".away"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(looks.folder, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	later := begin.Add(48 * time.Hour)
	for now := later; now.Before(later.Add(12 * time.Hour)); now = now.Add(10 * time.Minute) {
		minute(looks, now)
	}
	if got := strings.Count(said(log), "the books could not be copied"); got != 12 {
		t.Errorf("tried %d times in 12 hours", got)
	}
	if got := looks.Ails(); !slices.Equal(got, []commands.Ail{commands.AilCopy}) {
		t.Errorf("ails: %v", got)
	}
	if err := os.Remove(looks.folder); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(looks.folder+".away", looks.folder); err != nil {
		t.Fatal(err)
	}
	minute(looks, later.Add(14*time.Hour))
	if got := said(log); copies() != 4 || len(looks.Ails()) != 0 || !strings.Contains(got, "have a copy again") {
		t.Errorf("%d copies, %v; %s", copies(), looks.Ails(), got)
	}
	looks.logCopies(later.Add(15 * time.Hour))
	if got := said(log); !strings.Contains(got, `books" copy=shop-20260305T100000Z.db age=1h0m0s`) {
		t.Errorf("at another start: %s", got)
	}
}

// An old copy is told once, and so is that there is none.
func TestLateCopiesAreTold(t *testing.T) {
	t.Parallel()
	looks, log, path := caredFor(t)
	now := time.Date(2026, 3, 2, 20, 0, 0, 0, time.UTC)
	if err := os.WriteFile(looks.folder, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	minute(looks, now)
	minute(looks, now.Add(time.Minute))
	if got := said(log); strings.Count(got, `level=WARN msg="there is no copy of the books"`) != 1 {
		t.Errorf("none: %s", got)
	}
	if err := os.Remove(looks.folder); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Backup(context.Background(), path, looks.folder, now.Add(-40*time.Hour)); err != nil {
		t.Fatal(err)
	}
	looks.late = false
	minute(looks, now.Add(2*time.Minute)) // before another is tried
	minute(looks, now.Add(3*time.Minute))
	if got := said(log); strings.Count(got, `level=WARN msg="the last copy of the books is old"`) != 1 ||
		!strings.Contains(got, "age=40h0m0s") {
		t.Errorf("an old one: %s", got)
	}
}

// That the file was moved, and that it is damaged, is told once when it begins, and to
// stewards until it is over.
func TestWhatAilsTheBooksIsTold(t *testing.T) {
	t.Parallel()
	looks, log, path := caredFor(t)
	now := time.Date(2026, 3, 2, 20, 0, 0, 0, time.UTC)
	minute(looks, now)
	said(log)
	if err := os.Rename(path, path+"x"); err != nil {
		t.Fatal(err)
	}
	minute(looks, now.Add(time.Minute))
	minute(looks, now.Add(2*time.Minute))
	if got := said(log); strings.Count(got, "trouble=moved") != 1 || !slices.Equal(looks.Ails(),
		[]commands.Ail{commands.AilMoved}) {
		t.Errorf("moved: %v, %s", looks.Ails(), got)
	}
	if err := os.Rename(path+"x", path); err != nil {
		t.Fatal(err)
	}
	minute(looks, now.Add(3*time.Minute))
	if got := said(log); !strings.Contains(got, "the books are right again") || len(looks.Ails()) != 0 {
		t.Errorf("back: %v, %s", looks.Ails(), got)
	}
	// A copy that is found damaged has the file itself looked through.
	if err := looks.db.Close(); err != nil {
		t.Fatal(err)
	}
	spoil(t, path)
	db, err := store.Use(context.Background(), path, store.ForBooks, store.MakeNone)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	looks.db = db
	minute(looks, now.Add(24*time.Hour))
	minute(looks, now.Add(24*time.Hour+time.Minute))
	if got := said(log); !strings.Contains(got, "the books could not be copied") ||
		!strings.Contains(got, "the books are not sound") || !slices.Equal(looks.Ails(),
		[]commands.Ail{commands.AilDamaged}) {
		t.Errorf("damaged: %v, %s", looks.Ails(), got)
	}
}

// spoil overwrites a page of a file, that of an index that nothing reads at the start.
func spoil(t *testing.T, path string) {
	t.Helper()
	var root, size int64
	ask(t, path, &root, `SELECT rootpage FROM sqlite_schema WHERE name = 'fact_by'`)
	ask(t, path, &size, `PRAGMA page_size`)
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err == nil {
		_, err = file.WriteAt(slices.Repeat([]byte{0xa5}, int(size)), (root-1)*size)
		file.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
}
