package store_test

import (
	"strings"
	"testing"
	"time"

	"setscrew/domain"
)

// The most urgent goes first, and so does what it waits for of its own machine; each
// shop's by itself.
func TestOutboxUrgency(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	a, granite := addPlaner(t, shop, "Marble"), addPlaner(t, shop, "Granite")
	hums := domain.Problem{Name: "hums"}
	report(t, shop, entry("a", time.Hour, a, hums))
	report(t, shop, entry("b", time.Hour, granite, hums))
	now := start.Add(time.Hour)
	heads := func(shop domain.ShopID, at time.Time) string {
		owed, err := db.Undelivered(ctx, shop, at, 10)
		if err != nil {
			t.Fatal(err)
		}
		var keys []string
		for _, o := range owed {
			keys = append(keys, o.Notice.Key)
		}
		return strings.Join(keys, " ")
	}
	if got := heads("one", now); got != "m1/problem/41 m2/problem/42" {
		t.Fatalf("alike: %s", got)
	}
	report(t, shop, entry("out", time.Hour, granite, hangsTag))
	owed, err := db.Undelivered(ctx, "one", now, 10)
	if err != nil || heads("one", now) != "m2/problem/42 m1/problem/41" || owed[0].Urgency != domain.UrgentDanger ||
		owed[1].Urgency != domain.Routine {
		t.Errorf("with a tag behind the second machine's: %s, %+v, %v", heads("one", now), owed, err)
	}
	if got := heads("two", now); got != "" {
		t.Errorf("another shop owes %s", got)
	}
	if shops, err := db.ShopsUndelivered(ctx, now); err != nil || len(shops) != 1 || shops[0] != "one" {
		t.Errorf("owing: %v, %v", shops, err)
	}
	// What was tried waits, and what was posted is owed no more.
	if next, ok, err := db.NextTry(ctx, now); ok || err != nil {
		t.Errorf("before anything failed the next try is at %v, %v", next, err)
	}
	later := now.Add(90 * time.Second)
	if err := db.Tried(ctx, owed[0], now, later, "no", false); err != nil {
		t.Fatal(err)
	}
	if err := db.Posted(ctx, "one", owed[1].ID, "m", now); err != nil {
		t.Fatal(err)
	}
	if next, ok, err := db.NextTry(ctx, now); !ok || err != nil || !next.Equal(later) {
		t.Errorf("the next try is at %v, %v, %v; want %v", next, ok, err, later)
	}
	if _, ok, err := db.NextTry(ctx, later); ok || err != nil {
		t.Errorf("at that moment it is still ahead, %v", err)
	}
	if got := heads("one", now); got != "" {
		t.Errorf("meanwhile %s", got)
	}
	if got := heads("one", later); got != "m2/problem/42" {
		t.Errorf("later: %s", got)
	}
}
