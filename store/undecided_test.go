package store_test

import (
	"slices"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/store"
)

// Since when a safety value is not proved goes by its readings in the order in which they
// were taken: from the first in a row of which none proves it, whatever comes after it, and
// again when one that did was withdrawn.
func TestUndecidedSince(t *testing.T) {
	t.Parallel()
	shop, planer := withPlaner(t)
	no := 0
	tell := func(hour int, by domain.PersonID, body domain.Body) domain.FactNo {
		no++
		given := entry(string(rune('a'+no)), time.Duration(hour)*time.Hour, planer, body)
		given.Recorded, given.By, given.For = start.Add(30*time.Hour), by, by
		return report(t, shop, given).Fact.No
	}
	width := func(n int64) domain.Body {
		p := player{shop: shop}
		r, err := p.reading("knife-width", n, quantity.Thou)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	since := func(want int) {
		t.Helper()
		snap, err := shop.Snapshot(ctx, planer)
		if err != nil {
			t.Fatal(err)
		}
		at, ok := snap.Undecided["knife-width"]
		if ok != (want >= 0) || ok && !at.Equal(start.Add(time.Duration(want)*time.Hour)) {
			t.Errorf("undecided since %v (%t), want hour %d", at, ok, want)
		}
	}
	since(-1)
	tell(2, "ada", width(750))
	since(2)
	tell(4, "bo", width(750))
	since(2)
	tell(1, "bo", width(1000)) // proved before them
	since(2)
	proof := tell(6, "bo", width(1000))
	since(-1)
	tell(8, "ada", width(750))
	since(8)
	tell(7, "ada", width(750)) // typed late
	since(7)
	tell(9, "bo", domain.Withdrawal{Of: proof})
	since(2)
	tell(5, "bo", width(740)) // outside proves nothing
	since(2)
	gone := tell(7, "bo", domain.Inspection{Check: "knife-width", Pass: true})
	since(8)
	tell(9, "bo", domain.Inspection{Check: "knife-width"})
	since(2)
	tell(9, "bo", domain.Withdrawal{Of: gone})
	since(2)
	tell(10, "bo", width(760))
	since(-1)
}

// The sweep takes the machine out of service when the time has come, and not before.
func TestNotProvedInTime(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	r, err := (&player{shop: shop}).reading("knife-width", 750, quantity.Thou)
	if err != nil {
		t.Fatal(err)
	}
	report(t, shop, entry("read", time.Hour, planer, r))
	end := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	if got := wokenTags(t, db, planer, end.Add(-time.Minute)); len(got) != 0 {
		t.Errorf("tagged before: %v", got)
	}
	if got := wokenTags(t, db, planer, end); !slices.Equal(got, []domain.ReasonCode{domain.NotProved}) {
		t.Errorf("tagged for %v", got)
	}
}

// wokenTags settles what is due at a moment, and lists what one machine is tagged out for.
func wokenTags(t *testing.T, db *store.DB, machine domain.MachineID, now time.Time) (codes []domain.ReasonCode) {
	t.Helper()
	due, err := db.Due(ctx, now, 10)
	if err != nil {
		t.Fatal(err)
	}
	for _, wake := range due {
		if _, err := db.Settle(ctx, wake.Shop, wake.Machine, now); err != nil {
			t.Fatal(err)
		}
	}
	snap, err := db.Shop("one").Snapshot(ctx, machine)
	if err != nil {
		t.Fatal(err)
	}
	for _, tag := range snap.Tags {
		codes = append(codes, tag.Reason.Code)
	}
	return codes
}
