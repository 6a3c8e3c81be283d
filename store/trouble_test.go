package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/mattn/go-sqlite3"

	"setscrew/domain"
	"setscrew/store"
)

// trouble is which one an error says, "" for none.
func trouble(err error) domain.Trouble {
	var said *domain.BooksError
	if errors.As(err, &said) {
		return said.Trouble
	}
	return ""
}

// lock holds the lock of a file for writing, as another program may, until it is let go.
func lock(t *testing.T, path string) (release func()) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+path+"?_busy_timeout=5000&_txlock=immediate")
	if err != nil {
		t.Fatal(err)
	}
	held, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	return func() {
		if err := errors.Join(held.Rollback(), db.Close()); err != nil {
			t.Error(err)
		}
	}
}

// smoke is a danger.
var smoke = domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true}

// Every way in which a file can be of no use is told by its own name, stores nothing,
// and once it is over the same entry is stored, once.
func TestTroubles(t *testing.T) {
	t.Parallel()
	on := func(broken, mended string) func(*testing.T, string, *store.DB) func() {
		return func(t *testing.T, _ string, db *store.DB) func() {
			if err := db.OnWriter(broken); err != nil {
				t.Fatal(err)
			}
			return func() {
				if err := db.OnWriter(mended); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	for _, test := range []struct {
		want domain.Trouble
		harm func(*testing.T, string, *store.DB) (mend func())
	}{
		{domain.BooksBusy, func(t *testing.T, path string, _ *store.DB) func() { return lock(t, path) }},
		{domain.BooksFull, on(`PRAGMA max_page_count = 1`, `PRAGMA max_page_count = 1000000`)},
		{domain.BooksUnreachable, on(`PRAGMA query_only = 1`, `PRAGMA query_only = 0`)},
	} {
		t.Run(string(test.want), func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "shop.db")
			copyPrepared(t, path)
			db := open(t, path)
			shop := db.Shop("one")
			danger := entry("danger", time.Hour, marble, smoke)
			danger.Typed = string(make([]byte, 1<<16)) // more than fits into a page that is there
			before := dump(t, path)
			mend := test.harm(t, path, db)
			begun := time.Now()
			_, err := shop.Report(ctx, danger)
			if took := time.Since(begun); trouble(err) != test.want || took > 4*time.Second ||
				test.want == domain.BooksBusy && took < 1500*time.Millisecond {
				t.Errorf("after %v: %v, want trouble %q", took, err, test.want)
			}
			if d := cmp.Diff(before, dump(t, path)); d != "" {
				t.Errorf("stored:\n%s", d)
			}
			mend()
			first := report(t, shop, danger)
			if again := report(t, shop, danger); !first.After.TaggedOut() || !again.Repeated ||
				again.Fact.No != first.Fact.No {
				t.Errorf("tagged out: %v; again: %v, no. %d", first.After.TaggedOut(), again.Repeated, again.Fact.No)
			}
		})
	}
}

// A file that is not sound is told as such, wherever that is met.
func TestDamagedPages(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	overwrite(t, path, "fact")
	db := open(t, path)
	shop := db.Shop("one")
	_, reported := shop.Report(ctx, entry("danger", time.Hour, marble, smoke))
	_, read := shop.Snapshot(ctx, marble)
	_, looked := shop.LastBy(ctx, "ada")
	for _, err := range []error{reported, read, looked} {
		if trouble(err) != domain.BooksDamaged {
			t.Errorf("%v, want trouble %q", err, domain.BooksDamaged)
		}
	}
}

// Whoever gives up is not kept longer by a file that is locked, be it by another
// program or by a call before it that waits for that.
func TestGivingUpOnALockedFile(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := open(t, path)
	shop := db.Shop("one")
	release := lock(t, path)
	errs := make(chan error)
	for count, within := range []time.Duration{10 * time.Second, 300 * time.Millisecond, 400 * time.Millisecond} {
		go func() {
			time.Sleep(time.Duration(count) * 50 * time.Millisecond) // each after the one before
			soon, stop := context.WithTimeout(ctx, within)
			defer stop()
			begun := time.Now()
			_, err := shop.Report(soon, entry(fmt.Sprint(count), time.Hour, marble, smoke))
			if took := time.Since(begun); err == nil || within < time.Second && took > within+time.Second/2 {
				t.Errorf("given up after %v, back after %v: %v", within, took, err)
			}
			errs <- err
		}()
	}
	for range 3 {
		if err := <-errs; trouble(err) != domain.BooksBusy {
			t.Errorf("%v, want trouble %q", err, domain.BooksBusy)
		}
	}
	// Once nobody waits for another program, one that gives up says no more than that.
	release()
	report(t, shop, entry("free", time.Hour, marble, smoke))
	over, stop := context.WithCancel(ctx)
	stop()
	db.HoldWriter(func() {
		if _, err := shop.Report(over, entry("given up", time.Hour, marble, smoke)); trouble(err) != "" ||
			!errors.Is(err, context.Canceled) {
			t.Errorf("%v, want no trouble", err)
		}
	})
}

// A call alone that is given up while the file is locked says that it is.
func TestALockIsSaid(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	shop := open(t, path).Shop("one")
	defer lock(t, path)()
	soon, stop := context.WithTimeout(ctx, 250*time.Millisecond)
	defer stop()
	if _, err := shop.Report(soon, entry("k", time.Hour, marble, smoke)); trouble(err) != domain.BooksBusy {
		t.Errorf("%v, want trouble %q", err, domain.BooksBusy)
	}
}

// Each of SQLite's errors that says that a file is of no use has its trouble; others,
// and refusals, have none.
func TestWhatSQLiteSays(t *testing.T) {
	t.Parallel()
	for code, want := range map[sqlite3.ErrNo]domain.Trouble{
		sqlite3.ErrFull: domain.BooksFull, sqlite3.ErrBusy: domain.BooksBusy, sqlite3.ErrLocked: domain.BooksBusy,
		sqlite3.ErrProtocol: domain.BooksBusy, sqlite3.ErrCorrupt: domain.BooksDamaged,
		sqlite3.ErrNotADB: domain.BooksDamaged, sqlite3.ErrIoErr: domain.BooksUnreachable,
		sqlite3.ErrReadonly: domain.BooksUnreachable, sqlite3.ErrCantOpen: domain.BooksUnreachable,
		sqlite3.ErrPerm: domain.BooksUnreachable, sqlite3.ErrConstraint: "", sqlite3.ErrError: "",
	} { // any order: each is looked at by itself
		err := store.Troubled(fmt.Errorf("write: %w", sqlite3.Error{Code: code}))
		if got := trouble(err); got != want {
			t.Errorf("%v: %q, want %q", code, got, want)
		}
		var said sqlite3.Error
		if !errors.As(err, &said) || said.Code != code {
			t.Errorf("%v: its cause is lost: %v", code, err)
		}
	}
	if err := store.Troubled(&domain.Refusal{Code: domain.NotTagged}); trouble(err) != "" {
		t.Errorf("a refusal is %v", err)
	}
	if store.Troubled(nil) != nil {
		t.Error("nothing is an error")
	}
}

// A notice that told of a danger from memory becomes the one that its report is owed:
// it is not posted again, and is edited to say that it is in the books.
func TestToldFromMemory(t *testing.T) {
	t.Parallel()
	told := domain.Told{Key: "unbooked/danger", Message: "900"}
	type owed struct {
		Op      domain.Op
		Topic   domain.Topic
		Message string // what it is about
		Booked  bool
	}
	tagOut := domain.TagOut{Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "loose knives"}}
	doubt := domain.Problem{Name: "wobbles", Doubt: true}
	pin := owed{domain.Pin, domain.TopicTagOut, "900", false}
	for _, test := range []struct {
		name   string
		before []domain.Body // reported, and posted, before
		told   domain.Told
		body   domain.Body
		want   []owed
	}{
		{"a danger", nil, told, smoke, []owed{pin, {domain.Edit, domain.TopicTagOut, "900", true}}},
		{"a tag-out", nil, told, tagOut, []owed{pin, {domain.Edit, domain.TopicTagOut, "900", true}}},
		{"what may be a danger", nil, told, doubt, []owed{{domain.Edit, domain.TopicProblem, "900", true}}},
		{"a danger of a machine that is out already", []domain.Body{tagOut}, told, smoke,
			[]owed{{domain.Edit, domain.TopicTagOut, "m1", false}, {domain.Edit, domain.TopicDanger, "900", true}}},
		{"nobody knows whether it was told", nil, domain.Told{Key: told.Key, At: start}, tagOut,
			[]owed{{domain.Post, domain.TopicTagOut, "", false}, {domain.Pin, domain.TopicTagOut, "m1", false},
				{domain.Post, domain.TopicUnbooked, "", true}, {domain.Edit, domain.TopicUnbooked, "m3", true}}},
		{"nothing was told", nil, domain.Told{}, tagOut,
			[]owed{{domain.Post, domain.TopicTagOut, "", false}, {domain.Pin, domain.TopicTagOut, "m1", false}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "shop.db")
			copyPrepared(t, path)
			db := open(t, path)
			shop := db.Shop("one")
			later := start.Add(10 * time.Hour)
			posts := 0
			// deliver posts all that is owed, and says what that was.
			deliver := func() (all []owed) {
				for {
					list, err := undelivered(db, later, 1)
					if err != nil {
						t.Fatal(err)
					}
					if len(list) == 0 {
						return all
					}
					notice := list[0]
					if notice.Notice.Key == told.Key && notice.Notice.Op == domain.Post &&
						!notice.Made.Equal(test.told.At) {
						t.Errorf("counted as made at %v, not when it was first sent", notice.Made)
					}
					all = append(all, owed{notice.Notice.Op, notice.Notice.Topic, notice.Message,
						notice.Notice.Args.Booked != 0})
					message := ""
					if posts++; notice.Notice.Op == domain.Post {
						message = fmt.Sprint("m", posts)
					}
					if err := db.Posted(ctx, notice.Shop, notice.ID, message, later); err != nil {
						t.Fatal(err)
					}
				}
			}
			deliver()
			posts = 0 // so that messages are counted from here on
			for i, b := range test.before {
				report(t, shop, entry(fmt.Sprint("before ", i), time.Hour, marble, b))
			}
			deliver()
			posts = 0
			danger := entry("danger", 2*time.Hour, marble, test.body)
			danger.Told = test.told
			report(t, shop, danger)
			if d := cmp.Diff(test.want, deliver()); d != "" {
				t.Errorf("owed (-want +got):\n%s", d)
			}
			before := dump(t, path)
			if o := report(t, shop, danger); !o.Repeated {
				t.Error("stored twice")
			}
			if d := cmp.Diff(before, dump(t, path)); d != "" {
				t.Errorf("the same again changes:\n%s", d)
			}
		})
	}
}

// An entry that was stored after all, though nobody could tell, and that was told of from
// memory meanwhile: its own notice is not posted beside.
func TestToldThoughStored(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := open(t, path)
	shop := db.Shop("one")
	danger := entry("danger", time.Hour, marble, smoke)
	report(t, shop, danger)
	danger.Recorded = danger.Recorded.Add(time.Minute)
	danger.Told = domain.Told{Key: "unbooked/danger", Message: "900"}
	if o := report(t, shop, danger); !o.Repeated {
		t.Error("stored twice")
	}
	for {
		list, err := undelivered(db, start.Add(10*time.Hour), 1)
		if err != nil {
			t.Fatal(err)
		}
		if len(list) == 0 {
			break
		}
		o := list[0]
		if o.Notice.Op == domain.Post && o.Notice.Topic == domain.TopicTagOut {
			t.Errorf("posted beside: %+v", o.Notice)
		}
		if err := db.Posted(ctx, o.Shop, o.ID, "", start.Add(10*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
}

// Where the own notice of an entry that was stored after all has been tried, nobody knows
// whether it stands: it is left to be tried again, and what told from memory remains a
// notice of its own, edited to say that it is in the books.
func TestToldThoughStoredAndTried(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := open(t, path)
	shop := db.Shop("one")
	later := start.Add(10 * time.Hour)
	next := func() (domain.Undelivered, bool) {
		t.Helper()
		list, err := undelivered(db, later, 1)
		if err != nil {
			t.Fatal(err)
		}
		if len(list) == 0 {
			return domain.Undelivered{}, false
		}
		return list[0], true
	}
	confirm := func(o domain.Undelivered) {
		t.Helper()
		if err := db.Posted(ctx, o.Shop, o.ID, "m", later); err != nil {
			t.Fatal(err)
		}
	}
	for o, more := next(); more; o, more = next() {
		confirm(o) // what the shop was owed before
	}
	danger := entry("danger", time.Hour, marble, smoke)
	report(t, shop, danger)
	own, more := next()
	if !more || own.Notice.Op != domain.Post {
		t.Fatalf("owed: %+v", own)
	}
	if err := db.Sending(ctx, own, later); err != nil {
		t.Fatal(err)
	}
	if err := db.Tried(ctx, own, later, later, "no answer", true); err != nil {
		t.Fatal(err)
	}
	danger.Recorded = danger.Recorded.Add(time.Minute)
	danger.Told = domain.Told{Key: "unbooked/danger", Message: "900"}
	if o := report(t, shop, danger); !o.Repeated {
		t.Error("stored twice")
	}
	again, edited := false, false
	for o, more := next(); more; o, more = next() {
		again = again || o.ID == own.ID
		edited = edited || o.Notice.Op == domain.Edit && o.Notice.Topic == domain.TopicUnbooked && o.Message == "900"
		confirm(o)
	}
	if !again || !edited {
		t.Errorf("its own tried again: %v, what told from memory edited: %v", again, edited)
	}
}
