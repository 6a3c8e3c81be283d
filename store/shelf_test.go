package store_test

import (
	"testing"
	"time"

	"setscrew/domain"
)

// A shelf holds what was counted last, less what work took since, in the order
// in which it happened; it comes out alike when it is made anew.
func TestShelf(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	s := db.Shop("one")
	m := addPlaner(t, s, "Marble")
	const belts = "a matched set of belts"
	count := func(key string, after time.Duration, n int) {
		e := entry(key, after, 0, domain.StockCounted{Name: belts, Left: n})
		e.Recorded = start.Add(100 * time.Hour)
		report(t, s, e)
	}
	change := func(key string, after time.Duration) domain.FactNo {
		e := entry(key, after, m, domain.EventSeen{Event: "belts-changed"})
		e.Recorded = start.Add(100 * time.Hour)
		return report(t, s, e).Fact.No
	}
	want := func(what string, n int) {
		t.Helper()
		for _, how := range []string{"", " made anew"} {
			all, err := s.Shelf(ctx)
			if err != nil || len(all) != 1 || all[0].Left != n {
				t.Errorf("%s%s: %v, %v, want %d", what, how, all, err, n)
			}
			if err := s.Rebuild(ctx); err != nil {
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
	report(t, s, entry("undo", 101*time.Hour, m, domain.Withdrawal{Of: no}))
	want("put back", 3)
	change("again", 21*time.Hour)
	count("count again", 15*time.Hour, 1)
	want("counted between", 0)
	change("one more", 22*time.Hour)
	want("never below nothing", 0)
	count("last", 30*time.Hour, 5)
	want("counted last", 5)
}
