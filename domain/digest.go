package domain

import (
	"slices"
	"time"

	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// DigestItem is one thing that a daily digest has to say.
type DigestItem struct {
	Code    DigestCode     `json:"code"`
	Machine string         `json:"machine"`
	Name    string         `json:"name,omitempty"` // of the check or service
	From    string         `json:"from,omitempty"` // the datum that moved
	At      time.Time      `json:"at,omitzero"`    // since when
	Left    quantity.Value `json:"left"`           // hours of use, negative when over
	Fact    FactNo         `json:"fact,omitempty"`
	N       int            `json:"n,omitempty"` // reports of a problem
}

// DigestCode is the kind of item.
type DigestCode string

// The kinds of item, in the order in which they are said.
const (
	DigestTagged  DigestCode = "tagged"
	DigestLate    DigestCode = "late"
	DigestDue     DigestCode = "due"
	DigestAdjust  DigestCode = "adjust"
	DigestStale   DigestCode = "stale"
	DigestWaiting DigestCode = "waiting"
	DigestProblem DigestCode = "problem"
)

var digestOrder = []DigestCode{DigestTagged, DigestLate, DigestDue, DigestAdjust, DigestStale, DigestWaiting, DigestProblem}

// Digest lists what the stewards are to know today of the shop's machines, the
// gravest first; none if there is nothing to say.
func Digest(machines []Status) []DigestItem {
	var items []DigestItem
	for _, s := range machines {
		m := s.Machine.Name
		if s.TaggedOut() {
			items = append(items, DigestItem{Code: DigestTagged, Machine: m, At: s.Tags[0].At})
		}
		add := func(name string, d upkeep.Due) {
			switch d.State {
			case upkeep.Late:
				items = append(items, DigestItem{Code: DigestLate, Machine: m, Name: name, Left: d.Left})
			case upkeep.DueNow:
				items = append(items, DigestItem{Code: DigestDue, Machine: m, Name: name, Left: d.Left})
			}
		}
		for _, sv := range s.Services {
			if sv.PutOff != nil {
				continue
			}
			add(sv.Service.Name, sv.Due)
		}
		for _, c := range s.Checks {
			add(c.Check.Name, c.Due)
			switch {
			case c.Freshness == Stale:
				items = append(items, DigestItem{Code: DigestStale, Machine: m, Name: c.Check.Name, From: s.Machine.Profile.Check(c.StaleFrom).Name})
			case c.Advice == AdvicePlan, c.Advice == AdviceMeasure, c.Advice == AdviceMeasureToday:
				items = append(items, DigestItem{Code: DigestAdjust, Machine: m, Name: c.Check.Name, Fact: c.Latest.Fact})
			}
		}
		for _, w := range s.Waiting {
			items = append(items, DigestItem{Code: DigestWaiting, Machine: m, Name: s.Machine.Profile.Check(w.Check).Name, Fact: w.Fact})
		}
		for _, p := range s.Problems {
			items = append(items, DigestItem{Code: DigestProblem, Machine: m, Name: p.Name, Fact: p.First, N: p.Reports})
		}
	}
	slices.SortStableFunc(items, func(a, b DigestItem) int {
		return slices.Index(digestOrder, a.Code) - slices.Index(digestOrder, b.Code)
	})
	return items
}

// DigestNotice is the digest of the day of now, owed once that day; ok is false
// if there is nothing to say.
func DigestNotice(shop Shop, machines []Status, now time.Time) (n Notice, ok bool) {
	items := Digest(machines)
	day := now.In(shop.Location()).Format("2006-01-02")
	return Notice{Key: "digest/" + day, Op: Post, Topic: TopicDigest,
		Args: NoticeArgs{V: NoticeVersion, At: now, Units: shop.Units, Digest: items}}, len(items) > 0
}

// NextDigest is the next moment after a given one at which the shop's daily
// digest falls due: its time of day on its clocks, on one of its days.
func NextDigest(s Shop, after time.Time) time.Time {
	loc := s.Location()
	y, m, d := after.In(loc).Date()
	for i := range 9 {
		t := upkeep.LocalTime(y, m, d+i, s.Digest/60, s.Digest%60, loc)
		day := time.Date(y, m, d+i, 12, 0, 0, 0, time.UTC).Weekday()
		if t.After(after) && (len(s.Days) == 0 || slices.Contains(s.Days, day)) {
			return t
		}
	}
	return time.Time{} // no day at all, which settings do not allow
}
