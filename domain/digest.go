package domain

import (
	"math/big"
	"slices"
	"strings"
	"time"

	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// DigestItem is one thing that a daily digest has to say.
type DigestItem struct {
	Code    DigestCode `json:"code"`
	Machine string     `json:"machine,omitempty"`
	// Name is of the check (or checks, with commas), service, gauge, set or thing on the shelf.
	Name string         `json:"name,omitempty"`
	From string         `json:"from,omitempty"` // the surface that moved
	At   time.Time      `json:"at,omitzero"`    // since when, or when it falls due
	Left quantity.Value `json:"left"`           // hours of use, negative when over
	Fact FactNo         `json:"fact,omitempty"`
	// N is the reports of a problem, days of a tag, checks not read for long, pieces left.
	N int `json:"n,omitempty"`
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
	DigestVisit   DigestCode = "visit" // planned for today
	DigestSoon    DigestCode = "soon"  // falls due within its lead time
	DigestSetUp   DigestCode = "setting-up"
	DigestBack    DigestCode = "back"  // a set of knives that should be back
	DigestGauge   DigestCode = "gauge" // a calibration that has run out
	DigestBuy     DigestCode = "buy"
	DigestLong    DigestCode = "long" // checks not read for long
)

var digestOrder = []DigestCode{
	DigestTagged,
	DigestLate,
	DigestDue,
	DigestAdjust,
	DigestStale,
	DigestWaiting,
	DigestProblem,
	DigestVisit,
	DigestSoon,
	DigestSetUp,
	DigestBack,
	DigestGauge,
	DigestBuy,
	DigestLong,
}

// pressing reports whether an item is said every day. The others are said on the
// day on which they become true, where a day makes them so; after that once a
// week, or beside one that is pressing.
func (c DigestCode) pressing() bool {
	return slices.Index(digestOrder, c) <= slices.Index(digestOrder, DigestProblem)
}

// How long before it falls due a service or a check is spoken of, by class: so
// many days, but at most a fifth of its interval, or such a part of its hours of
// use. Common practice, no source.
var (
	leadDays = map[profile.ServiceClass]int{
		profile.RoutineService:   2,
		profile.ImportantService: 5,
		profile.SafetyService:    7,
	}
	leadShare = map[profile.ServiceClass]*big.Rat{
		profile.RoutineService:   big.NewRat(1, 10),
		profile.ImportantService: big.NewRat(1, 5),
		profile.SafetyService:    big.NewRat(1, 5),
	}
)

// A check that has no interval of its own is not read for long after LongUnread;
// one never read, once its machine has been on the books for NewMachine. Common
// practice, no source.
const (
	LongUnread = 180 * 24 * time.Hour
	NewMachine = 14 * 24 * time.Hour
)

// lead is how many days before its day what follows a rule is spoken of.
func lead(class profile.ServiceClass, r profile.Rule) int {
	days := r.Days + 30*r.Months
	if days == 0 {
		days = 30 // a calendar's
	}
	return min(leadDays[class], days/5)
}

// Shopwide is what a digest is made from.
type Shopwide struct {
	Shop     Shop
	Machines []Status
	Shelf    []Shelf
	Gauges   []OwnGauge
	Visits   VisitsPlanned // the shop's plan
	Planned  time.Time     // when it was taken
}

// Digest lists what the stewards are to know at a moment, the gravest first.
// since is the digest before: news tells whether anything is pressing, or has
// become true since then.
func Digest(shopwide Shopwide, since, now time.Time) (items []DigestItem, news bool) {
	add := func(item DigestItem, became time.Time) {
		items = append(items, item)
		news = news || item.Code.pressing() || became.After(since) && !became.After(now)
	}
	// Each machine in the order of the list; their items are sorted by gravity at the end.
	for _, status := range shopwide.Machines {
		text := status.Machine.Name
		if status.OnlySettingUp() {
			add(DigestItem{Code: DigestSetUp, Machine: text, At: status.Tags[0].At}, status.Tags[0].At)
		} else if status.TaggedOut() {
			at := status.Tags[0].At
			add(DigestItem{Code: DigestTagged, Machine: text, At: at, N: int(now.Sub(at).Hours() / 24)}, at)
		}
		// Services and timed checks fall due by the same rule, each class with its own lead.
		due := func(name string, interval upkeep.Due, rule profile.Rule, class profile.ServiceClass) {
			lead := interval.On.AddDate(0, 0, -lead(class, rule))
			switch {
			case interval.State == upkeep.Late:
				add(DigestItem{Code: DigestLate, Machine: text, Name: name, Left: interval.Left}, now)
			case interval.State == upkeep.DueNow:
				add(DigestItem{Code: DigestDue, Machine: text, Name: name, Left: interval.Left}, now)
			case !interval.On.IsZero() && !lead.After(now):
				add(DigestItem{Code: DigestSoon, Machine: text, Name: name, At: interval.On}, lead)
			case interval.Left.Valid() && interval.Left.Cmp(rule.Hours.Mul(leadShare[class])) <= 0:
				add(DigestItem{Code: DigestSoon, Machine: text, Name: name, Left: interval.Left}, time.Time{})
			}
		}
		// What somebody put off is not nagged about until that runs out.
		services, checks := status.Services, status.Checks
		if status.SettingUp {
			services, checks = nil, nil // a release asks for them
		}
		for _, sv := range services {
			if sv.PutOff == nil {
				due(sv.Service.Name, sv.Due, sv.Rule, sv.Service.Class)
			}
		}
		// Stale checks are one item for each check that moved them, those long unread one for all.
		var long, moved []string
		again := map[string][]string{} // checks by what they are measured from
		for _, check := range checks {
			class := profile.RoutineService
			if check.Check.Class == profile.Safety {
				class = profile.SafetyService
			}
			switch {
			case check.First != nil && class == profile.RoutineService:
				if check.Due.State != upkeep.NotDue {
					long = append(long, check.Check.Name)
				}
			case check.Rule() != nil:
				due(check.Check.Name, check.Due, *check.Rule(), class)
			}
			switch {
			case check.Freshness == Stale:
				if again[check.StaleFrom] == nil {
					moved = append(moved, check.StaleFrom)
				}
				again[check.StaleFrom] = append(again[check.StaleFrom], check.Check.Name)
			case check.Advice == AdvicePlan, check.Advice == AdviceMeasure, check.Advice == AdviceMeasureToday:
				add(DigestItem{Code: DigestAdjust, Machine: text, Name: check.Check.Name, Fact: check.Latest.Fact}, now)
			case check.Rule() == nil && !check.Check.OnDemand && !check.Check.EachUse &&
				(check.Freshness == Unread && now.Sub(status.Machine.Added) >= NewMachine ||
					check.Freshness == Fresh && now.Sub(check.Latest.At) >= LongUnread):
				long = append(long, check.Check.Name)
			}
		}
		// One line for all that the same datum made stale, in the order in which it was met.
		for _, from := range moved {
			stale := DigestItem{
				Code:    DigestStale,
				Machine: text,
				Name:    strings.Join(again[from], ", "),
				From:    status.Machine.Profile.Check(from).Name,
			}
			add(stale, now)
		}
		if len(long) > 0 {
			add(DigestItem{Code: DigestLong, Machine: text, Name: long[0], N: len(long)}, time.Time{})
		}
		// What waits for somebody: readings to confirm, problems to mend, parts to bring back.
		for _, reading := range status.Waiting {
			name := status.Machine.Profile.Check(reading.Check).Name
			add(DigestItem{Code: DigestWaiting, Machine: text, Name: name, Fact: reading.Fact}, now)
		}
		for _, problem := range status.Problems {
			item := DigestItem{Code: DigestProblem, Machine: text, Name: problem.Name, Fact: problem.First,
				N: problem.Reports}
			add(item, now)
		}
		for _, set := range status.Sets {
			if set.Overdue(now) {
				add(DigestItem{Code: DigestBack, Machine: text, Name: set.Set, At: set.Back}, set.Back)
			}
		}
	}
	// The shop's own affairs: calibration, the visits planned for today, what to buy.
	for _, gauge := range shopwide.Gauges {
		if at, over := gauge.Calibration().Overdue(now); over {
			add(DigestItem{Code: DigestGauge, Name: gauge.Name, At: at}, at)
		}
	}
	for _, visit := range shopwide.Visits.Visits {
		today := shopwide.Shop.Date(visit.At) == shopwide.Shop.Date(now)
		machine := slices.IndexFunc(shopwide.Machines, func(s Status) bool { return s.Machine.ID == visit.Machine })
		if machine < 0 || !today || now.After(visit.At) {
			continue
		}
		// Work that somebody has done since the plan was made no longer needs the visit.
		left := 0
		for _, item := range visit.Items {
			if _, ok := DoneSince(shopwide.Machines[machine], item, shopwide.Planned); !ok {
				left++
			}
		}
		if left > 0 {
			name := shopwide.Machines[machine].Machine.Name
			add(DigestItem{Code: DigestVisit, Machine: name, At: visit.At, N: left}, now)
		}
	}
	for _, s := range shopwide.Shelf {
		if s.ToBuy() {
			add(DigestItem{Code: DigestBuy, Name: s.Name, N: s.Left}, s.At)
		}
	}
	// Stable, so that items as grave as one another keep the order of the machines.
	slices.SortStableFunc(items, func(a, b DigestItem) int {
		return slices.Index(digestOrder, a.Code) - slices.Index(digestOrder, b.Code)
	})
	return items, news
}

// calls reports whether the stewards are called for an item that the digest of the day
// before did not have, or had as less grave. They were called already for what took a
// machine out of service; what is not pressing waits for the week's call.
func (i DigestItem) calls(said []DigestItem) bool {
	if i.Code == DigestTagged || !i.Code.pressing() && i.Code != DigestVisit {
		return false
	}
	before := slices.IndexFunc(said, func(earlier DigestItem) bool {
		due := earlier.Code == i.Code || earlier.Code == DigestLate && i.Code == DigestDue
		switch i.Code {
		case DigestStale:
			return due && earlier.Machine == i.Machine && earlier.From == i.From && subset(i.Name, earlier.Name)
		case DigestWaiting, DigestProblem:
			return due && earlier.Fact == i.Fact && earlier.N >= i.N
		case DigestVisit:
			return due && earlier.Machine == i.Machine && earlier.At.Equal(i.At)
		}
		return due && earlier.Machine == i.Machine && earlier.Name == i.Name
	})
	return before < 0
}

// subset reports whether all names of a list with commas stand in another.
func subset(names, among string) bool {
	all := strings.Split(among, ", ")
	return !slices.ContainsFunc(strings.Split(names, ", "), func(n string) bool { return !slices.Contains(all, n) })
}

// digestCalls reports whether a digest calls the stewards: for what is new or worse
// since the digest of the day before, and otherwise a week after the last that did, or
// the first. Of what is late and took its machine out of service they know by its tag.
func digestCalls(shopwide Shopwide, before NoticeArgs, items []DigestItem, since, now time.Time) bool {
	if !slices.ContainsFunc(items, func(item DigestItem) bool { return item.Code != DigestSetUp }) {
		return false // nobody is called to machines that are being set up
	}
	if !before.Pinged.IsZero() && !now.Before(shopwide.Shop.Calendar().Midnight(before.Pinged, 7)) {
		return true
	}
	said := before.Digest
	if before.At.Before(since) {
		said = nil // the day before nothing was pressing
	}
	return slices.ContainsFunc(items, func(item DigestItem) bool {
		return item.calls(said) && !(item.Code == DigestLate && overdueTagged(shopwide.Machines, item))
	})
}

// overdueTagged reports whether a machine is out of service for what an item says is late.
func overdueTagged(machines []Status, item DigestItem) bool {
	return slices.ContainsFunc(machines, func(s Status) bool {
		return s.Machine.Name == item.Machine && slices.ContainsFunc(s.Tags, func(t Tag) bool {
			return (t.Reason.Code == CheckOverdue || t.Reason.Code == ServiceOverdue) && t.Reason.Name == item.Name
		})
	})
}

// DigestNotice is the digest of the day of now, owed once that day, since being
// when the one before fell due and before the last that was owed. ok is false if there
// is nothing to say: nothing at all, or
// nothing pressing and nothing new, and not the first digest of a week (ISO 8601:
// from Monday).
func DigestNotice(shopwide Shopwide, before NoticeArgs, since, now time.Time) (notice Notice, ok bool) {
	items, news := Digest(shopwide, since, now)
	loc := shopwide.Shop.Location()
	week := func(t time.Time) [2]int { y, n := t.In(loc).ISOWeek(); return [2]int{y, n} }
	day := now.In(loc).Format("2006-01-02")
	calls, pinged := digestCalls(shopwide, before, items, since, now), before.Pinged
	if calls || pinged.IsZero() {
		pinged = now
	}
	return Notice{Key: "digest/" + day, Op: Post, Topic: TopicDigest,
		Args: NoticeArgs{
			V:      NoticeVersion,
			At:     now,
			Units:  shopwide.Shop.Units,
			Digest: items,
			Pings:  calls,
			Pinged: pinged,
		}}, len(items) > 0 && (news || week(since) != week(now))
}

// NextDigest is the next moment after a given one at which the shop's daily
// digest falls due: its time of day on its clocks, on one of its days.
func NextDigest(shop Shop, after time.Time) time.Time {
	for later := range 9 {
		falls := shop.on(shop.Digest, after, later)
		day := shop.on(upkeep.Clock(12, 0), after, later).Weekday()
		if falls.After(after) && (len(shop.Days) == 0 || slices.Contains(shop.Days, day)) {
			return falls
		}
	}
	return time.Time{} // no day at all, which settings do not allow
}

// LastDigest is the last moment before a given one at which the shop's daily
// digest fell due.
func LastDigest(s Shop, before time.Time) time.Time {
	from := before.AddDate(0, 0, -9)
	for {
		next := NextDigest(s, from)
		if next.IsZero() || !next.Before(before) {
			return from
		}
		from = next
	}
}

// Quiet is the hours of a day, on the shop's clocks, in which only what cannot
// wait is posted: past midnight where Until is before From; none where they are
// alike.
type Quiet struct {
	From  upkeep.TimeOfDay `json:"from"`
	Until upkeep.TimeOfDay `json:"until"`
}

// QuietUntil is when the quiet hours end that a moment lies in; zero if it lies in
// none.
func (s Shop) QuietUntil(now time.Time) time.Time {
	if s.Quiet.From == s.Quiet.Until {
		return time.Time{}
	}
	for _, day := range []int{-1, 0} {
		from := s.on(s.Quiet.From, now, day)
		end := day
		if s.Quiet.Until < s.Quiet.From {
			end++
		}
		until := s.on(s.Quiet.Until, now, end)
		if !now.Before(from) && now.Before(until) {
			return until
		}
	}
	return time.Time{}
}

// Urgent reports whether a notice is posted in quiet hours too: whatever says that
// a machine stands still, may be dangerous, is tried out, runs again or ran when it
// should not, what shows it, and what is told of another's lock, since a time runs.
func (n Notice) Urgent() bool {
	if n.Urgency() == UrgentDanger {
		return true
	}
	switch n.Topic {
	case TopicPhoto:
		return n.Args.Now
	case TopicTagOut, TopicBack, TopicTest, TopicTestEnded, TopicRanTagged, TopicMeasureNow, TopicUnseen, TopicDanger,
		TopicLockAsked, TopicLockNoted, TopicLockKept, TopicLockOff:
		return true
	}
	return false
}
