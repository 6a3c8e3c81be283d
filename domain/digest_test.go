package domain_test

import (
	"slices"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	. "setscrew/domain"
	"setscrew/domain/upkeep"
)

// Each local day in two years has exactly one digest, at its time of day on the
// shop's clocks, on the days of the changes too: a time in the gap comes as far
// after it, of one that comes twice the first counts.
func TestNextDigest(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		zone    string
		minutes int
		days    []time.Weekday
		perWeek int
	}{
		{"Europe/Berlin", 9 * 60, nil, 7}, {"Europe/Berlin", 2*60 + 30, nil, 7},
		{"America/New_York", 1*60 + 30, nil, 7}, {"America/New_York", 2*60 + 30, nil, 7},
		{"Pacific/Auckland", 0, nil, 7}, {"UTC", 23*60 + 59, nil, 7},
		{"Europe/Berlin", 9 * 60, []time.Weekday{time.Monday, time.Thursday}, 2},
	} {
		shop := NewShop("s")
		shop.Zone, shop.Digest, shop.Days = test.zone, upkeep.TimeOfDay(test.minutes), test.days
		begin := time.Date(2026, 1, 1, 0, 0, 0, 0, shop.Location())
		end := begin.AddDate(2, 0, 0)
		seen := map[string]int{}
		shifted := 0
		for at := NextDigest(shop, begin.Add(-time.Second)); at.Before(end); {
			local := at.In(shop.Location())
			seen[local.Format("2006-01-02")]++
			if local.Hour()*60+local.Minute() != test.minutes {
				shifted++
			}
			if len(test.days) > 0 && !slices.Contains(test.days, local.Weekday()) {
				t.Errorf("%s: a digest on %v", test.zone, local)
			}
			next := NextDigest(shop, at)
			if !next.After(at) {
				t.Fatalf("%s: after %v comes %v", test.zone, at, next)
			}
			at = next
		}
		for day, n := range seen {
			if n != 1 {
				t.Errorf("%s: %d digests on %s", test.zone, n, day)
			}
		}
		if want := 730 * test.perWeek / 7; len(seen) < want-1 || len(seen) > want+1 {
			t.Errorf("%s at %d: %d digests, want about %d", test.zone, test.minutes, len(seen), want)
		}
		if gap := test.minutes == 150; (shifted == 2) != gap || !gap && shifted != 0 {
			t.Errorf("%s at %d: %d digests at another time", test.zone, test.minutes, shifted)
		}
	}
}

// The digest before a moment is before it, and none lies between the two.
func TestLastDigest(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		shop := NewShop("s")
		shop.Zone = rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "America/New_York", "Pacific/Auckland"}).Draw(t,
			"zone")
		shop.Digest = upkeep.TimeOfDay(rapid.IntRange(0, 24*60-1).Draw(t, "minutes"))
		shop.Days = rapid.SliceOfNDistinct(rapid.SampledFrom([]time.Weekday{0, 1, 2, 3, 4, 5, 6}), 0, 7,
			rapid.ID).Draw(t, "days")
		before := time.Unix(rapid.Int64Range(1767225600, 1830297600).Draw(t, "at"), 0)
		last := LastDigest(shop, before)
		if !last.Before(before) || NextDigest(shop, last).Before(before) ||
			!NextDigest(shop, last.Add(-time.Second)).Equal(last) {
			t.Fatalf("before %v: %v, then %v", before, last, NextDigest(shop, last))
		}
	})
}

// Quiet hours, past midnight or not, hold at every minute whose time of day on the
// shop's clocks lies in them, and end at their end; a change of the clocks moves
// neither.
func TestQuietUntil(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		shop := NewShop("s")
		shop.Zone = rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "America/New_York"}).Draw(t, "zone")
		shop.Quiet = Quiet{upkeep.TimeOfDay(rapid.IntRange(4*60, 24*60-1).Draw(t, "from")),
			upkeep.TimeOfDay(rapid.IntRange(4*60, 24*60-1).Draw(t, "until"))}
		at := time.Unix(rapid.Int64Range(1767225600, 1830297600).Draw(t, "at")/60*60, 0).In(shop.Location())
		minute := upkeep.Clock(at.Hour(), at.Minute())
		in := shop.Quiet.From <= minute && minute < shop.Quiet.Until
		if shop.Quiet.Until < shop.Quiet.From {
			in = minute >= shop.Quiet.From || minute < shop.Quiet.Until
		}
		until := shop.QuietUntil(at).In(shop.Location())
		switch {
		case shop.Quiet.From == shop.Quiet.Until:
			in = false
		case in && (!until.After(at) || until.Sub(at) > 25*time.Hour ||
			upkeep.Clock(until.Hour(), until.Minute()) != shop.Quiet.Until):
			t.Fatalf("at %v, quiet until %v", at, until)
		}
		if in == until.IsZero() {
			t.Fatalf("%v at %v: until %v", shop.Quiet, at, until)
		}
	})
}
