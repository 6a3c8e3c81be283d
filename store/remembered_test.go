package store_test

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/store"
)

// What could not be delivered, what people were told and what was found out of a channel are
// there when the file is opened again; an old answer is not, nor is one of which its person
// was told.
func TestRemembered(t *testing.T) {
	t.Parallel()
	db, path := fresh(t)
	again := func() {
		t.Helper()
		do(t, db.Close())
		var err error
		db, err = store.Open(ctx, path)
		do(t, err)
		t.Cleanup(func() { db.Close() })
	}
	missed := func(p domain.PersonID, said string, at time.Duration) domain.Unseen {
		one := domain.Unseen{Shop: "one", Person: p, Said: said, At: start.Add(at)}
		do(t, db.KeepUnseen(ctx, one))
		return one
	}
	missed("ada", "1 h logged", 0)
	want := []domain.Unseen{missed("ada", "2 h logged", time.Hour), missed("bo", "tagged out", 2*time.Hour)}
	missed("chidi", "read", time.Hour)
	missed("chidi", "", 2*time.Hour)
	do(t, db.Shop("one").NoteTold(ctx, "wren", "pins", start))
	do(t, db.NoteTrouble(ctx, "one", []byte(`{"a": 1}`)))
	do(t, db.NoteTrouble(ctx, "one", []byte(`{"b": 1}`)))
	do(t, db.NoteTrouble(ctx, "two", []byte(`{"c": 1}`)))
	do(t, db.NoteTrouble(ctx, "two", nil))
	again()
	got, err := db.Unseen(ctx, start.Add(3*time.Hour))
	if d := cmp.Diff(want, got); d != "" || err != nil {
		t.Errorf("%v %s", err, d)
	}
	if got, err := db.Unseen(ctx, start.Add(time.Hour+domain.UnseenKept)); err != nil || len(got) != 1 {
		t.Errorf("a month later: %v, %v", got, err)
	}
	if told, err := db.Shop("one").Told(ctx, "wren"); err != nil || told != "pins" {
		t.Errorf("told %q, %v", told, err)
	}
	if all, err := db.Troubles(ctx); err != nil || len(all) != 1 || string(all["one"]) != `{"b": 1}` {
		t.Errorf("%s, %v", all, err)
	}
}

// What is kept of people has an end: of a shop those about whom something was noted last.
func TestRememberedHasAnEnd(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	for i := range 1005 {
		do(t, db.Shop("one").NoteTold(ctx, domain.PersonID(fmt.Sprint("p", i)), "pins",
			start.Add(time.Duration(i)*time.Second)))
	}
	for p, want := range map[domain.PersonID]string{"p4": "", "p5": "pins", "p1004": "pins"} { // any order
		if told, err := db.Shop("one").Told(ctx, p); err != nil || told != want {
			t.Errorf("%s: %q, %v", p, told, err)
		}
	}
}

// A tag-out that could not be posted is known until it is.
func TestUntold(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db, err := store.Open(ctx, path)
	do(t, err)
	t.Cleanup(func() { db.Close() })
	report(t, db.Shop("one"), entry("stop", time.Hour, marble, domain.TagOut{
		Reason: domain.Reason{Code: domain.SaidBySomebody, Text: "loose"}}))
	now := start.Add(2 * time.Hour)
	untold := func() []domain.Undelivered {
		t.Helper()
		all, err := db.Untold(ctx)
		do(t, err)
		return all
	}
	if all := untold(); len(all) != 0 {
		t.Errorf("before it was tried: %+v", all)
	}
	post := func(fails bool) {
		t.Helper()
		for {
			owed, err := db.Undelivered(ctx, "one", now, 10)
			do(t, err)
			if len(owed) == 0 {
				return
			}
			for _, one := range owed {
				if fails {
					do(t, db.Tried(ctx, one, now, now.Add(time.Minute), "refused", false))
				} else {
					do(t, db.Posted(ctx, one.Shop, one.ID, "1", now))
				}
			}
		}
	}
	post(true)
	all := untold()
	if len(all) != 1 || all[0].Shop != "one" || all[0].Notice.Args.Machine != "Marble" ||
		len(all[0].Notice.Args.Tags) == 0 || all[0].Notice.Args.Tags[0].By == "" {
		t.Errorf("refused: %+v", all)
	}
	now = now.Add(time.Hour)
	post(false)
	if all := untold(); len(all) != 0 {
		t.Errorf("posted: %+v", all)
	}
}
