package store_test

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain"
	"setscrew/store"
)

// onMarble is the shop of a copy of the prepared file, with what holds all shops.
func onMarble(t *testing.T) (*store.DB, *store.Shop) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	copyPrepared(t, path)
	db := open(t, path)
	return db, db.Shop("one")
}

// smoking is a report of danger.
var smoking = domain.Problem{Symptom: "smoke", Name: "smoke", Danger: true}

// callsAt lists the calls about dangers that nobody sees to, posted at a moment.
func callsAt(t *testing.T, db *store.DB, now time.Time) (keys []string) {
	t.Helper()
	for _, key := range posts(t, db, now) {
		if strings.Contains(key, "/unseen/") {
			keys = append(keys, key)
		}
	}
	return keys
}

// settle judges the planer at a moment and says when it wants to be judged again.
func settle(t *testing.T, db *store.DB, now time.Time) time.Time {
	t.Helper()
	status, err := db.Settle(ctx, "one", marble, now)
	if err != nil {
		t.Fatal(err)
	}
	return status.Wake
}

// A danger that nobody says they see to is called about once, when the machine wakes for
// it; what was said meanwhile, or shown by a steward's report, keeps the call from being
// made, unless it is taken back.
func TestADangerIsCalledAboutOnce(t *testing.T) {
	t.Parallel()
	at := time.Hour
	steward := func(key string, after time.Duration, body domain.Body) domain.Entry {
		e := entry(key, after, marble, body)
		e.Steward, e.By, e.For = true, "wren", "wren"
		return e
	}
	seen := func(of domain.FactNo) domain.Entry { return steward("seen", at+time.Minute, domain.SeenTo{Of: of}) }
	service := func(domain.FactNo) domain.Entry {
		return steward("service", at+time.Minute, domain.ServiceDone{Service: "bushings"})
	}
	for _, test := range []struct {
		name   string
		first  func(tag domain.FactNo) domain.Entry // nil for nothing
		undo   bool                                 // it is taken back
		called bool
		by     domain.PersonID
	}{
		{"nobody", nil, false, true, ""},
		{"said", seen, false, false, "wren"},
		{"said and taken back", seen, true, true, ""},
		{"not shown by a service, which may be routine", service, false, true, ""},
		{"a member's service", func(domain.FactNo) domain.Entry {
			return entry("service", at+time.Minute, marble, domain.ServiceDone{Service: "bushings"})
		}, false, true, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			db, shop := onMarble(t)
			outcome := report(t, shop, entry("danger", at, marble, smoking))
			tag := outcome.Hung[0].Fact
			if test.first != nil {
				outcome = report(t, shop, test.first(tag))
			}
			if test.undo {
				outcome = report(t, shop, entry("undo", at+2*time.Minute, 0, domain.Withdrawal{Of: outcome.Fact.No}))
			}
			var by domain.PersonID
			if outcome.After.Seen != nil {
				by = outcome.After.Seen.By
			}
			if by != test.by {
				t.Errorf("seen to by %q, want %q", by, test.by)
			}
			due := start.Add(at).Add(domain.SeenWithin)
			if woken := outcome.After.Wake.Equal(due); woken != test.called {
				t.Errorf("wakes at %v", outcome.After.Wake)
			}
			settle(t, db, due.Add(-time.Millisecond))
			if got := callsAt(t, db, due); got != nil {
				t.Errorf("called too soon: %v", got)
			}
			settle(t, db, due)
			settle(t, db, due.Add(time.Minute))
			var want []string
			if test.called {
				want = []string{fmt.Sprintf("m1/unseen/%d", tag)}
			}
			if d := cmp.Diff(want, callsAt(t, db, due.Add(time.Minute))); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			settle(t, db, due.Add(48*time.Hour))
			if got := callsAt(t, db, due.Add(48*time.Hour)); got != nil {
				t.Errorf("called twice: %v", got)
			}
		})
	}
}

// Days away and the other settings are set at once without either being lost; what is made
// again from the facts is the same.
func TestAwayBesideSettings(t *testing.T) {
	t.Parallel()
	_, shop := onMarble(t)
	settings, err := shop.Shop(ctx)
	if err != nil {
		t.Fatal(err)
	}
	away := domain.Away{Person: "wren", From: "2026-03-02", Until: "2026-03-09", Deputy: "bo"}
	report(t, shop, entry("away", time.Hour, 0, domain.AwaySet{Away: away}))
	settings.Call = "ada" // as it was read before
	report(t, shop, entry("settings", 2*time.Hour, 0, domain.ShopSet{Shop: settings}))
	read := func() domain.Shop {
		t.Helper()
		got, err := shop.Shop(ctx)
		if err != nil || got.Call != "ada" || !slices.Equal(got.Away, []domain.Away{away}) {
			t.Errorf("%+v, %v", got, err)
		}
		snap, err := shop.Snapshot(ctx, marble)
		if d := cmp.Diff(got, snap.Shop); err != nil || d != "" {
			t.Errorf("the machine's shop differs, %v:\n%s", err, d)
		}
		return got
	}
	before := read()
	if err := shop.Rebuild(ctx); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(before, read()); d != "" {
		t.Errorf("made again (-before +after):\n%s", d)
	}
}

// photographed is a reading's photo at an address.
func photographed(n int) domain.Body {
	return domain.Inspection{Check: "fingers", Pass: true,
		Photo: &domain.Photo{ID: fmt.Sprint(n), Name: "a.jpg", URL: fmt.Sprint("https://cdn.discordapp.com/", n)}}
}

// A photo is wanted from the report's own transaction on, kept once it was fetched, and
// gone when its notice is posted; one that cannot be had is wanted no more.
func TestPhotosAreKeptUntilPosted(t *testing.T) {
	t.Parallel()
	db, shop := onMarble(t)
	no := report(t, shop, entry("one", time.Hour, marble, photographed(1))).Fact.No
	report(t, shop, entry("two", 2*time.Hour, marble, photographed(2)))
	key := fmt.Sprintf("m1/photo/%d", no)
	wanted, err := db.PhotosWanted(ctx, 10)
	if err != nil || len(wanted) != 2 ||
		wanted[0] != (domain.PhotoWanted{Shop: "one", Key: key, URL: "https://cdn.discordapp.com/1"}) {
		t.Fatalf("%+v, %v", wanted, err)
	}
	if data, url, err := db.Photo(ctx, "one", key); err != nil || data != nil || url != wanted[0].URL {
		t.Errorf("not fetched yet: %q from %q, %v", data, url, err)
	}
	if data, url, err := db.Photo(ctx, "two", key); err != nil || data != nil || url != "" {
		t.Errorf("of another shop: %q from %q, %v", data, url, err)
	}
	if err := db.KeepPhoto(ctx, "one", key, []byte("picture")); err != nil {
		t.Fatal(err)
	}
	if err := db.KeepPhoto(ctx, "one", wanted[1].Key, nil); err != nil {
		t.Fatal(err)
	}
	if left, err := db.PhotosWanted(ctx, 10); err != nil || len(left) != 0 {
		t.Errorf("still wanted: %+v, %v", left, err)
	}
	if data, url, err := db.Photo(ctx, "one", key); err != nil || !bytes.Equal(data, []byte("picture")) || url != "" {
		t.Errorf("%q from %q, %v", data, url, err)
	}
	if got := posts(t, db, start.Add(3*time.Hour)); !slices.Contains(got, key) {
		t.Fatalf("posted %v", got)
	}
	if data, url, err := db.Photo(ctx, "one", key); err != nil || data != nil || url != "" {
		t.Errorf("posted, and still there: %q from %q, %v", data, url, err)
	}
	report(t, shop, entry("one", time.Hour, marble, photographed(1)))
	if left, err := db.PhotosWanted(ctx, 10); err != nil || len(left) != 0 {
		t.Errorf("wanted again: %+v, %v", left, err)
	}
}

// A shop keeps the latest photos, no other shop's go for them, and none is kept for more
// than thirty days.
func TestPhotosAreBounded(t *testing.T) {
	t.Parallel()
	db, shop := onMarble(t)
	other := db.Shop("two")
	addPlaner(t, other, "Slate")
	report(t, other, entry("other", time.Minute, marble, photographed(0)))
	for n := range 45 {
		report(t, shop, entry(fmt.Sprint("k", n), time.Duration(n+1)*time.Hour, marble, photographed(n)))
	}
	wanted, err := db.PhotosWanted(ctx, 100)
	if err != nil || len(wanted) != 41 || wanted[0].Shop != "two" || wanted[1].URL != "https://cdn.discordapp.com/5" {
		t.Errorf("%d wanted, %+v, %v", len(wanted), wanted[:min(2, len(wanted))], err)
	}
	month := 30 * 24 * time.Hour
	report(t, shop, entry("later", month+10*time.Hour, marble, photographed(99)))
	if wanted, err = db.PhotosWanted(ctx, 100); err != nil || wanted[0].URL != "https://cdn.discordapp.com/10" {
		t.Errorf("after thirty days: %+v, %v", wanted[:min(2, len(wanted))], err)
	}
}
