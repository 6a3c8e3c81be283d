package upkeep_test

import (
	"testing"

	"setscrew/domain/quantity"
	. "setscrew/domain/upkeep"
)

// A rule is longer than another where it may fall due later, by use or by days; later
// where its late limit lies further on.
func TestLonger(t *testing.T) {
	hrs := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }
	for _, test := range []struct {
		name          string
		was, now      Rule
		longer, later bool
	}{
		{"the same", Rule{Days: 7, LateDays: 3}, Rule{Days: 7, LateDays: 3}, false, false},
		{"more days", Rule{Days: 7}, Rule{Days: 8}, true, false},
		{"fewer", Rule{Days: 7}, Rule{Days: 6}, false, false},
		{"never", Rule{Days: 7, LateDays: 3}, Rule{}, true, true},
		{"from never", Rule{}, Rule{Days: 7}, false, false},
		{"months", Rule{Months: 6}, Rule{Months: 7}, true, false},
		{"fewer months", Rule{Months: 6}, Rule{Months: 3}, false, false},
		{"a month for 30 days", Rule{Days: 30}, Rule{Months: 1}, true, false},
		{"a month for 31 days", Rule{Days: 31}, Rule{Months: 1}, false, false},
		{"28 days for a month", Rule{Months: 1}, Rule{Days: 28}, false, false},
		{"29 days for a month", Rule{Months: 1}, Rule{Days: 29}, true, false},
		{"a year for 366 days", Rule{Days: 366}, Rule{Months: 12}, false, false},
		{"366 days for a year", Rule{Months: 12}, Rule{Days: 366}, true, false},
		{"days beside months", Rule{Days: 30, Months: 6}, Rule{Months: 6}, true, false},
		{"more hours", Rule{Hours: hrs(10)}, Rule{Hours: hrs(11)}, true, false},
		{"as many", Rule{Hours: hrs(10)}, Rule{Hours: hrs(10), Days: 90}, false, false},
		{"days for hours", Rule{Hours: hrs(10)}, Rule{Days: 1}, true, false},
		{"hours for days", Rule{Days: 1}, Rule{Hours: hrs(1)}, true, false},
		{"the same calendar", Rule{Calendar: "FREQ=MONTHLY;BYDAY=1FR"}, Rule{Calendar: "FREQ=MONTHLY;BYDAY=1FR"}, false,
			false},
		{"another", Rule{Calendar: "FREQ=MONTHLY;BYDAY=1FR"}, Rule{Calendar: "FREQ=MONTHLY;BYDAY=2FR"}, true, false},
		{"days for a calendar", Rule{Calendar: "FREQ=WEEKLY;BYDAY=FR"}, Rule{Days: 7}, false, false},
		{"more of them", Rule{Calendar: "FREQ=WEEKLY;BYDAY=FR"}, Rule{Days: 8}, true, false},
		{"a calendar for days", Rule{Days: 400}, Rule{Calendar: "FREQ=WEEKLY;BYDAY=FR"}, true, false},
		{"later", Rule{Days: 7, LateDays: 3}, Rule{Days: 7, LateDays: 4}, false, true},
		{"never late", Rule{Days: 7, LateDays: 3}, Rule{Days: 7}, false, true},
		{"late at last", Rule{Days: 7}, Rule{Days: 7, LateDays: 3}, false, false},
		{"later by use", Rule{Hours: hrs(7), LateHours: hrs(1)}, Rule{Hours: hrs(7), LateHours: hrs(2)}, false, true},
		{"never late by use", Rule{Hours: hrs(7), LateHours: hrs(1)}, Rule{Hours: hrs(7)}, false, true},
	} {
		if longer, later := test.now.Longer(test.was), test.now.Later(test.was); longer != test.longer ||
			later != test.later {
			t.Errorf("%s: longer %t, later %t", test.name, longer, later)
		}
	}
}
