package domain_test

import (
	"slices"
	"testing"
	"time"
	_ "time/tzdata"

	. "setscrew/domain"
)

// Each local day in two years has exactly one digest, at its time of day on the
// shop's clocks, on the days of the changes too: a time in the gap comes as far
// after it, of one that comes twice the first counts.
func TestNextDigest(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		zone    string
		minutes int
		days    []time.Weekday
		perWeek int
	}{
		{"Europe/Berlin", 9 * 60, nil, 7}, {"Europe/Berlin", 2*60 + 30, nil, 7}, {"America/New_York", 1*60 + 30, nil, 7}, {"America/New_York", 2*60 + 30, nil, 7},
		{"Pacific/Auckland", 0, nil, 7}, {"UTC", 23*60 + 59, nil, 7}, {"Europe/Berlin", 9 * 60, []time.Weekday{time.Monday, time.Thursday}, 2},
	} {
		s := NewShop("s")
		s.Zone, s.Digest, s.Days = c.zone, c.minutes, c.days
		begin := time.Date(2026, 1, 1, 0, 0, 0, 0, s.Location())
		end := begin.AddDate(2, 0, 0)
		seen := map[string]int{}
		shifted := 0
		for at := NextDigest(s, begin.Add(-time.Second)); at.Before(end); {
			local := at.In(s.Location())
			seen[local.Format("2006-01-02")]++
			if local.Hour()*60+local.Minute() != c.minutes {
				shifted++
			}
			if len(c.days) > 0 && !slices.Contains(c.days, local.Weekday()) {
				t.Errorf("%s: a digest on %v", c.zone, local)
			}
			next := NextDigest(s, at)
			if !next.After(at) {
				t.Fatalf("%s: after %v comes %v", c.zone, at, next)
			}
			at = next
		}
		for day, n := range seen {
			if n != 1 {
				t.Errorf("%s: %d digests on %s", c.zone, n, day)
			}
		}
		if want := 730 * c.perWeek / 7; len(seen) < want-1 || len(seen) > want+1 {
			t.Errorf("%s at %d: %d digests, want about %d", c.zone, c.minutes, len(seen), want)
		}
		if gap := c.minutes == 150; (shifted == 2) != gap || !gap && shifted != 0 {
			t.Errorf("%s at %d: %d digests at another time", c.zone, c.minutes, shifted)
		}
	}
}
