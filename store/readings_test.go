package store_test

import (
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// Readings stand with the hours of use since the first of them, by when things
// happened and not by when they were typed.
func TestReadings(t *testing.T) {
	t.Parallel()
	db, _ := fresh(t)
	shop := db.Shop("one")
	planer := addPlaner(t, shop, "Marble")
	all := func(since time.Time) ([]domain.ReadAt, float64) {
		t.Helper()
		read, now, err := shop.Readings(ctx, planer, "infeed", since)
		if err != nil {
			t.Fatal(err)
		}
		return read, now
	}
	report(t, shop, entry("early", 2*time.Second, planer, domain.Hours{Seconds: 7200}))
	for i, key := range []string{"a", "b", "c"} {
		at := time.Duration(10*(i+1)) * time.Hour
		report(t, shop, entry(key, at, planer, infeed(t, shop, planer, int64(41+i))))
		report(t, shop, entry("h"+key, at+2*time.Hour, planer, domain.Hours{Seconds: 3600}))
	}
	late := entry("late", 15*time.Hour, planer, domain.Hours{Seconds: 1800})
	late.Recorded = start.Add(100 * time.Hour)
	report(t, shop, late)
	read, now := all(start.Add(time.Hour))
	if len(read) != 3 || read[0].Hours != 0 || read[1].Hours != 1.5 || read[2].Hours != 2.5 || now != 3.5 {
		t.Fatalf("%+v, %v", read, now)
	}
	if v := read[2].Values[0].Mean(); !v.Equal(quantity.New(43, 1, quantity.Thou)) {
		t.Errorf("the last reads %v", v)
	}
	report(t, shop, entry("undo", 101*time.Hour, planer, domain.Withdrawal{Of: read[1].Fact}))
	if read, now := all(start.Add(time.Hour)); len(read) != 2 || read[1].Hours != 2.5 || now != 3.5 {
		t.Errorf("one withdrawn: %+v, %v", read, now)
	}
	if read, _ := all(time.Time{}); len(read) != 3 { // and that of the set-up
		t.Errorf("of all time: %d", len(read))
	}
	if read, now := all(start.Add(1000 * time.Hour)); len(read) != 0 || now != 0 {
		t.Errorf("none: %v, %v", read, now)
	}
}
