package store_test

import (
	"fmt"
	"testing"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// teller reports of one machine what happened some hours after the start, typed
// when all of it was over; first is the counter's first reading.
type teller struct {
	at    func(hours int, b domain.Body) domain.FactNo
	first domain.FactNo
}

// Between two readings of the counter a machine ran for what the counter says,
// whatever was reported, typed late or withdrawn there.
func TestUseBetweenTwoReadingsOfTheCounter(t *testing.T) {
	t.Parallel()
	const hour = 3600
	for _, test := range []struct {
		name  string
		do    func(tell teller)
		total int64 // seconds of use in all
	}{
		{"nothing was reported", func(teller) {}, 2 * hour},
		{"half of it was reported", func(tell teller) {
			tell.at(11, domain.Hours{Seconds: hour})
		}, 2 * hour},
		{"a second of it was reported", func(tell teller) { tell.at(11, domain.Hours{Seconds: 1}) }, 2 * hour},
		{"a second of it was reported, and is withdrawn", func(tell teller) {
			h := tell.at(11, domain.Hours{Seconds: 1})
			tell.at(101, domain.Withdrawal{Of: h})
		}, 2 * hour},
		{"what was reported is withdrawn", func(tell teller) {
			h := tell.at(11, domain.Hours{Seconds: hour})
			tell.at(101, domain.Withdrawal{Of: h})
		}, 2 * hour},
		{"more than it was reported: people are believed", func(tell teller) {
			tell.at(11, domain.Hours{Seconds: 3 * hour})
		}, 3 * hour},
		{"of two reports one is withdrawn", func(tell teller) {
			h := tell.at(11, domain.Hours{Seconds: 3 * hour})
			tell.at(12, domain.Hours{Seconds: hour / 2})
			tell.at(101, domain.Withdrawal{Of: h})
		}, 2 * hour},
		{"the first reading is withdrawn: nothing tells what went before", func(tell teller) {
			tell.at(101, domain.Withdrawal{Of: tell.first})
		}, 0},
		{"a reading between them", func(tell teller) {
			tell.at(15, domain.CounterRead{Seconds: 11 * hour})
		}, 2 * hour},
		{"a reading between them, withdrawn", func(tell teller) {
			between := tell.at(15, domain.CounterRead{Seconds: 11 * hour})
			tell.at(101, domain.Withdrawal{Of: between})
		}, 2 * hour},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			shop, planer := withPlaner(t)
			tell := teller{at: func(hours int, b domain.Body) domain.FactNo {
				t.Helper()
				e := entry(fmt.Sprintf("%d %T", hours, b), time.Duration(hours)*time.Hour, planer, b)
				e.Recorded, e.Sure = start.Add(101*time.Hour), true
				return report(t, shop, e).Fact.No
			}}
			tell.first = tell.at(10, domain.CounterRead{Seconds: 10 * hour})
			tell.at(20, domain.CounterRead{Seconds: 12 * hour})
			test.do(tell)
			for _, how := range []string{"", ", derived again"} {
				if got := int64(snapshot(t, shop, planer).Hours.Float(quantity.Second)); got != test.total {
					t.Errorf("%d s of use%s, want %d", got, how, test.total)
				}
				if err := shop.Rebuild(ctx); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}
