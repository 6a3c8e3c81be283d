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
	for _, c := range []struct {
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
		s := NewShop("s")
		s.Zone, s.Digest, s.Days = c.zone, upkeep.TimeOfDay(c.minutes), c.days
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

// The digest before a moment is before it, and none lies between the two.
func TestLastDigest(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := NewShop("s")
		s.Zone = rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "America/New_York", "Pacific/Auckland"}).Draw(t,
			"zone")
		s.Digest = upkeep.TimeOfDay(rapid.IntRange(0, 24*60-1).Draw(t, "minutes"))
		s.Days = rapid.SliceOfNDistinct(rapid.SampledFrom([]time.Weekday{0, 1, 2, 3, 4, 5, 6}), 0, 7,
			rapid.ID).Draw(t, "days")
		before := time.Unix(rapid.Int64Range(1767225600, 1830297600).Draw(t, "at"), 0)
		last := LastDigest(s, before)
		if !last.Before(before) || NextDigest(s, last).Before(before) ||
			!NextDigest(s, last.Add(-time.Second)).Equal(last) {
			t.Fatalf("before %v: %v, then %v", before, last, NextDigest(s, last))
		}
	})
}

// Quiet hours, past midnight or not, hold at every minute whose time of day on the
// shop's clocks lies in them, and end at their end; a change of the clocks moves
// neither.
func TestQuietUntil(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := NewShop("s")
		s.Zone = rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "America/New_York"}).Draw(t, "zone")
		s.Quiet = Quiet{upkeep.TimeOfDay(rapid.IntRange(4*60, 24*60-1).Draw(t, "from")),
			upkeep.TimeOfDay(rapid.IntRange(4*60, 24*60-1).Draw(t, "until"))}
		at := time.Unix(rapid.Int64Range(1767225600, 1830297600).Draw(t, "at")/60*60, 0).In(s.Location())
		minute := upkeep.Clock(at.Hour(), at.Minute())
		in := s.Quiet.From <= minute && minute < s.Quiet.Until
		if s.Quiet.Until < s.Quiet.From {
			in = minute >= s.Quiet.From || minute < s.Quiet.Until
		}
		until := s.QuietUntil(at).In(s.Location())
		switch {
		case s.Quiet.From == s.Quiet.Until:
			in = false
		case in && (!until.After(at) || until.Sub(at) > 25*time.Hour ||
			upkeep.Clock(until.Hour(), until.Minute()) != s.Quiet.Until):
			t.Fatalf("at %v, quiet until %v", at, until)
		}
		if in == until.IsZero() {
			t.Fatalf("%v at %v: until %v", s.Quiet, at, until)
		}
	})
}
