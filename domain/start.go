package domain

import (
	"cmp"
	"slices"
	"time"

	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

// Start is how a machine came on the books, or what was said of it since.
type Start struct {
	State StartState `json:"state"`
	At    time.Time  `json:"at,omitzero"` // when it was said of a machine on the books; zero: when it was added
}

// StartState is what is known of a machine when it comes on the books; "" of one that
// came before that was asked.
type StartState string

// The states. A new one, or one that was moved or of which nothing is known, is being
// set up until its first release. One in use already is so until its ticks are made.
const (
	StartNew   StartState = "new"
	StartInUse StartState = "in-use"
)

// TickedAt is when a tick was made last, and by which report.
type TickedAt struct {
	Fact FactNo
	At   time.Time
}

// WithStart is s with what is said of a machine on the books from a moment on; Rev goes
// up by one. s itself is unchanged.
func (s Setup) WithStart(state StartState, at time.Time) Setup {
	s.Start = Start{state, at}
	s.Rev++
	return s
}

// started fills in whether a machine is being set up, which ticks are missing, and since
// when one that came in use already runs by its ticks. One of a kind without a serious
// hazard starts fit; one that came on the books before all this was asked stays as it is.
func started(status *Status, snap Snapshot) {
	machine := snap.Machine
	start := machine.Setup.Start
	since := machine.Added
	if start.At.After(since) {
		since = start.At
	}
	if machine.Profile.Harmless {
		if start.State == StartInUse {
			status.Began = since
		}
		return
	}
	released := snap.Released.After(start.At)
	if start.State == StartNew {
		status.SettingUp = !released
		return
	}
	// All ticks that are made: since the last of them. The first that is missing: not at all.
	var missing []profile.Tick
	for _, tick := range machine.Profile.Start {
		if made, ok := snap.Ticked[tick.ID]; !ok {
			missing = append(missing, tick)
		} else if made.At.After(since) {
			since = made.At
		}
	}
	switch {
	case len(missing) == 0 && start.State == StartInUse:
		status.Began = since
	case len(missing) == 0, released:
	case start.State == StartInUse:
		status.SettingUp, status.Missing = true, missing
	case snap.Unasked:
		status.Unproved, status.Missing = true, missing
	}
}

// SettingUpKey is the key of the tag of a machine that is being set up, which the last
// tick lifts.
const SettingUpKey = "setting-up"

// OnlySettingUp reports whether a machine is out of service for nothing but that it is
// being set up.
func (s Status) OnlySettingUp() bool {
	return s.TaggedOut() && !slices.ContainsFunc(s.Tags, func(t Tag) bool { return t.Reason.Code != BeingSetUp })
}

// admitTicked says whether a tick may be made, or why not: it is one that is missing.
func admitTicked(before Status, body Ticked) *Refusal {
	if slices.ContainsFunc(before.Missing, func(t profile.Tick) bool { return t.ID == body.Tick }) {
		return nil
	}
	return &Refusal{Code: TickNotAsked, Name: before.Machine.Name}
}

// admitStart says whether a set-up may say again how a machine stands, or why not: that
// nothing is known of it may always be said, that it is in use is what ticks are for.
func admitStart(before Status, setup Setup) *Refusal {
	if setup.Start == before.Machine.Setup.Start || setup.Start.State == StartNew {
		return nil
	}
	return &Refusal{Code: StartByTicks, Name: before.Machine.Name}
}

// completeTicked says whether a tick is the last that a machine being set up waits for.
func completeTicked(before Status, body Ticked) Ticked {
	body.Starts = before.SettingUp && len(before.Missing) == 1 && before.Missing[0].ID == body.Tick
	return body
}

// SpreadDays is over how many days what was never done on a machine that came in use
// already is spread: eight weeks.
const SpreadDays = 56

// spread is, for a machine that came in use already, the first rule of each check, and of
// each service by the calendar alone: one after another over SpreadDays, what safety hangs
// on first, of two alike what recurs sooner, then as the machine is set up. An inspection
// that a tick was as good as has its own interval from then on. It follows from the profile
// alone, so that what is done meanwhile moves nothing.
func spread(status Status, prof *profile.Profile) map[Item]profile.Rule {
	if status.Began.IsZero() {
		return nil
	}
	type due struct {
		item  Item
		class int // the graver the less
		rule  profile.Rule
	}
	// What is spread: every check that recurs, then the services by the calendar.
	days := func(rule profile.Rule) int {
		if n := rule.ShortestDays(); n > 0 {
			return n
		}
		return farthestOpening // by use alone, or by nothing
	}
	rules := map[Item]profile.Rule{}
	var all []due
	for _, id := range chainOrder(prof) {
		check := prof.Check(id)
		if check.OnDemand || check.EachUse {
			continue
		}
		if slices.ContainsFunc(prof.Start, func(t profile.Tick) bool { return t.Check == id }) && check.Every != nil {
			rules[CheckItem.Of(id)] = *check.Every
			continue
		}
		one := due{item: CheckItem.Of(id), class: 2}
		if check.Class == profile.Safety {
			one.class = 0
		}
		if check.Every != nil {
			one.rule = *check.Every
		}
		all = append(all, one)
	}
	for i := range prof.Services {
		service := &prof.Services[i]
		one := due{item: ServiceItem.Of(service.ID), rule: service.First}
		if !one.rule.Recurs() {
			one.rule = service.Every
		}
		if one.rule.ShortestDays() == 0 || one.rule.Hours.Valid() {
			continue // use spreads what falls due by use
		}
		one.class = slices.Index([]profile.ServiceClass{profile.SafetyService, profile.ImportantService,
			profile.RoutineService}, service.Class)
		all = append(all, one)
	}
	// The graver first, of two alike what recurs sooner.
	slices.SortStableFunc(all, func(a, b due) int {
		return cmp.Or(cmp.Compare(a.class, b.class), cmp.Compare(days(a.rule), days(b.rule)))
	})
	// One after another over the days.
	for i, one := range all {
		rule := one.rule
		rule.Days, rule.Months, rule.Calendar, rule.Named = max(SpreadDays*(i+1)/len(all), 1), 0, "", ""
		rule.EarlyDays = 0
		rules[one.item] = rule
	}
	return rules
}

// sooner reports whether something falls due by its own rule no later than by its place in
// the first weeks.
func sooner(own, place profile.Rule, from upkeep.Use, now time.Time, days upkeep.Days) bool {
	on := upkeep.When(own, from, now, days).On
	return !on.IsZero() && !on.After(upkeep.When(place, from, now, days).On)
}

// spreadCheck makes a check that was never made fall due at its place among the first
// weeks of a machine that came in use already, and notes what has moved it since then.
func spreadCheck(cs *CheckStatus, status Status, snap Snapshot, days upkeep.Days) {
	rule, ok := status.spread[CheckItem.Of(cs.Check.ID)]
	if !ok || cs.Freshness != Unread {
		return
	}
	from := upkeep.Use{From: upkeep.Done{At: status.Began}}
	if every := cs.Check.Every; every != nil && sooner(*every, rule, from, status.At, days) {
		rule = *every
	}
	// What moved while ticks were being made was not there when the first of them was.
	came := snap.Machine.Added
	if at := snap.Machine.Setup.Start.At; at.After(came) {
		came = at
	}
	cs.First, cs.Due = &rule, upkeep.When(rule, from, status.At, days)
	for _, id := range snap.Machine.Profile.Datums(cs.Check.ID) {
		if moved, ok := snap.Moved[id]; ok && moved.At.After(came) && moved.At.After(cs.StaleBy.At) {
			cs.StaleFrom, cs.StaleBy = id, moved
		}
	}
}

// Waits reports whether a check that was never made waits to fall due for the first time,
// on a machine that came in use already, and nothing that it hangs on has moved since: its
// ticks vouch for it until then.
func (c *CheckStatus) Waits() bool {
	return c.First != nil && c.Due.State == upkeep.NotDue && c.StaleFrom == ""
}
