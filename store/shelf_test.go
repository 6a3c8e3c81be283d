package store_test

import (
	"errors"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// A shelf holds what was counted last, less what work took since, in the order
// in which it happened; it comes out alike when it is rebuilt.
func TestShelf(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	const belts = "a matched set of belts"
	count := func(key string, after time.Duration, n int) {
		e := entry(key, after, 0, domain.StockCounted{Name: belts, Left: n})
		e.Recorded = start.Add(100 * time.Hour)
		report(t, shop, e)
	}
	change := func(key string, after time.Duration) domain.FactNo {
		e := entry(key, after, planer, domain.EventSeen{Event: "belts-changed"})
		e.Recorded = start.Add(100 * time.Hour)
		return report(t, shop, e).Fact.No
	}
	want := func(what string, n int) {
		t.Helper()
		for _, how := range []string{"", " rebuilt"} {
			all, err := shop.Shelf(ctx)
			if err != nil || len(all) != 1 || all[0].Left != n {
				t.Errorf("%s%s: %v, %v, want %d", what, how, all, err, n)
			}
			if err := shop.Rebuild(ctx); err != nil {
				t.Fatal(err)
			}
		}
	}
	change("before", time.Hour)
	count("count", 10*time.Hour, 3)
	want("counted", 3)
	no := change("after", 20*time.Hour)
	want("one taken", 2)
	change("typed late", 5*time.Hour)
	want("one taken before it was counted", 2)
	report(t, shop, entry("undo", 101*time.Hour, planer, domain.Withdrawal{Of: no}))
	want("put back", 3)
	change("again", 21*time.Hour)
	count("count again", 15*time.Hour, 1)
	want("counted between", 0)
	change("one more", 22*time.Hour)
	want("never below nothing", 0)
	count("last", 30*time.Hour, 5)
	want("counted last", 5)
}

// Entries together are all written, or none; a trial tells what would come of them
// and writes nothing, and what is remembered of the machine stays true.
func TestReportAll(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	hours := func(key string, after time.Duration) domain.Entry {
		return entry(key, after, planer, domain.Hours{Seconds: 3600})
	}
	total := func() int64 {
		snap, err := shop.Snapshot(ctx, planer)
		if err != nil {
			t.Fatal(err)
		}
		return int64(snap.Hours.Float(quantity.Second))
	}
	two := []domain.Entry{hours("a", 2*time.Hour), hours("b", 4*time.Hour)}
	out, err := shop.ReportAll(ctx, two, true)
	if err != nil || len(out) != 2 || out[1].After.Hours.Float(quantity.Hour) != 2 || total() != 0 {
		t.Fatalf("a trial: %v, %v, %d s", out, err, total())
	}
	bad := append(two[:2:2], hours("c", 4*time.Hour))
	var no *domain.Refusal
	if _, err := shop.ReportAll(ctx, bad, false); !errors.As(err, &no) || no.Code != domain.HoursTwice || total() != 0 {
		t.Fatalf("with one that is refused: %v, %d s", err, total())
	}
	if out, err = shop.ReportAll(ctx, two, false); err != nil || out[1].Fact.No != out[0].Fact.No+1 || total() != 7200 {
		t.Fatalf("both: %v, %v, %d s", out, err, total())
	}
	if out, err = shop.ReportAll(ctx, two, false); err != nil || !out[0].Repeated || !out[1].Repeated ||
		total() != 7200 {
		t.Fatalf("both again: %v, %v, %d s", out, err, total())
	}
	last := report(t, shop, hours("d", 6*time.Hour))
	if last.After.Hours.Float(quantity.Hour) != 3 {
		t.Errorf("one more: %v", last.After.Hours)
	}
}
