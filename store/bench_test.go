package store_test

import (
	"fmt"
	"testing"
	"time"

	"setscrew/domain"
)

// BenchmarkReport times one report of hours in the store.
func BenchmarkReport(b *testing.B) {
	db, _ := fresh(b)
	shop := db.Shop("one")
	m := addPlaner(b, shop, "Marble")
	n := 0
	for b.Loop() {
		n++
		report(b, shop, entry(fmt.Sprint("bench", n), time.Duration(n)*time.Hour, m, domain.Hours{Seconds: 1}))
	}
}
