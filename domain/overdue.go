package domain

import (
	"slices"
	"time"

	"setscrew/domain/profile"
	"setscrew/domain/upkeep"
)

// tagsAt fills in when the machine is taken out of service for each safety inspection
// and safety service that no tag stands for: shortly before the first opening at which
// it is past its late limit, and where that was missed, before the next.
func tagsAt(status *Status) {
	at := func(item Item, due upkeep.Due) time.Time {
		from := due.LateOn
		switch {
		case slices.ContainsFunc(status.Tags, func(t Tag) bool { return t.Cause == overdueKey(item) }):
			return time.Time{}
		case due.State == upkeep.Late:
			from = status.At
		case from.IsZero():
			return time.Time{} // it has no late limit, or one by use alone
		}
		tagging, _ := status.Shop.NextTagging(from)
		return tagging
	}
	for i := range status.Checks {
		if cs := &status.Checks[i]; cs.Check.TagsOut() {
			cs.TagsAt = at(CheckItem.Of(cs.Check.ID), cs.Due)
		}
	}
	for i := range status.Services {
		if sv := &status.Services[i]; sv.Service.Class == profile.SafetyService {
			sv.TagsAt = at(ServiceItem.Of(sv.Service.ID), sv.Due)
		}
	}
}

// overdueNow reports whether a machine is taken out of service now for what is due so.
func overdueNow(status Status, due upkeep.Due, tagsAt time.Time) bool {
	return due.State == upkeep.Late && !tagsAt.IsZero() && !tagsAt.After(status.At)
}

// warnDays are how many days before a machine is taken out of service for what is
// overdue that is said, the first first.
var warnDays = []int{7, 3, 1}

// Warning is what a machine will soon be taken out of service for.
type Warning struct {
	At    time.Time // since when there was something new to warn of
	Items []WarnedItem
}

// WarnedItem is an inspection or a service that takes the machine out of service
// unless it is done before a moment.
type WarnedItem struct {
	Item   Item      `json:"item"`
	Name   string    `json:"name"`
	TagsAt time.Time `json:"at"`
	// Extends says that a steward may still extend it, by how many days at most; 0
	// for not.
	Extends int `json:"extends,omitempty"`
}

// same reports whether two items are the same, to be done by the same moment.
func (w WarnedItem) same(other WarnedItem) bool {
	return w.Item == other.Item && w.Name == other.Name && w.Extends == other.Extends && w.TagsAt.Equal(other.TagsAt)
}

// warnings calls a function for each item that a machine will be taken out of service
// for at a known moment, with when that is said: some of warnDays before it, but not
// before it is time to speak of the item at all.
func warnings(status Status, each func(item WarnedItem, at []time.Time)) {
	before := func(tagging time.Time, due upkeep.Due, rule profile.Rule) (at []time.Time) {
		for _, days := range warnDays {
			when := tagging.In(status.Shop.Location()).AddDate(0, 0, -days)
			if !when.Before(due.On.AddDate(0, 0, -lead(profile.SafetyService, rule))) {
				at = append(at, when)
			}
		}
		return at
	}
	item := func(item WarnedItem, due upkeep.Due, rule profile.Rule, extended *ExtendedBy, from time.Time) {
		if item.TagsAt.IsZero() || due.On.IsZero() {
			return
		}
		at := before(item.TagsAt, due, rule)
		if extended != nil { // until then it was said by the date before
			tagging, _ := status.Shop.NextTagging(from)
			at = slices.DeleteFunc(at, func(t time.Time) bool { return !t.After(extended.At) })
			at = append(slices.DeleteFunc(before(tagging, due, rule),
				func(t time.Time) bool { return t.After(extended.At) }), at...)
		}
		each(item, at)
	}
	for i := range status.Checks {
		if cs := &status.Checks[i]; cs.Check.Every != nil {
			extends := MostExtended(*cs.Check.Every)
			if cannotExtend(cs) != "" {
				extends = 0
			}
			item(WarnedItem{CheckItem.Of(cs.Check.ID), cs.Check.Name, cs.TagsAt, extends}, cs.Due, *cs.Check.Every,
				cs.Extended, cs.LateWas)
		}
	}
	for _, sv := range status.Services {
		item(WarnedItem{ServiceItem.Of(sv.Service.ID), sv.Service.Name, sv.TagsAt, 0}, sv.Due, sv.Rule,
			nil, time.Time{})
	}
}

// warned is what a machine that is in service is warned of, soonest first.
func warned(status Status) *Warning {
	if status.TaggedOut() {
		return nil
	}
	var warning Warning
	warnings(status, func(item WarnedItem, all []time.Time) {
		var last time.Time
		for _, at := range all {
			if !at.After(status.At) {
				last = at
			}
		}
		if last.IsZero() {
			return
		}
		warning.Items = append(warning.Items, item)
		if last.After(warning.At) {
			warning.At = last
		}
	})
	if len(warning.Items) == 0 {
		return nil
	}
	slices.SortStableFunc(warning.Items, func(a, b WarnedItem) int { return a.TagsAt.Compare(b.TagsAt) })
	return &warning
}

// nextWarning is the next moment at which there is something new to warn of; zero if
// there is none, or nothing to warn of while it is out of service.
func nextWarning(status Status) time.Time {
	var next time.Time
	if status.TaggedOut() {
		return next
	}
	warnings(status, func(_ WarnedItem, all []time.Time) {
		for _, at := range all {
			if at.After(status.At) && (next.IsZero() || at.Before(next)) {
				next = at
			}
		}
	})
	return next
}

// MostExtended is by how many days an inspection with a rule is extended at most: a
// quarter of its interval, in whole days.
func MostExtended(rule profile.Rule) int { return rule.ShortestDays() / 4 }

// cannotExtend says why an inspection is not extended, "" where it can be.
func cannotExtend(cs *CheckStatus) Code {
	switch {
	case !cs.Check.TagsOut() || MostExtended(*cs.Check.Every) == 0:
		return NotExtended
	case cs.Check.Authority:
		return AuthorityDate
	case cs.Freshness != Fresh || cs.Failed || cs.Unseconded:
		return NotPassed
	case cs.Extended != nil:
		return ExtendedBefore
	}
	return ""
}

// admitExtended says whether an inspection is extended so, or why not: one that takes
// the machine out of service by a date of the shop's own, on the strength of its last
// pass, once until it is made again, by at most a quarter of its interval.
func admitExtended(before Status, body Extended) *Refusal {
	cs := before.Check(body.Check)
	if cs == nil {
		return &Refusal{Code: NotExtended, Name: body.Check}
	}
	refusal := &Refusal{Code: cannotExtend(cs), Name: cs.Check.Name}
	switch {
	case refusal.Code == ExtendedBefore:
		refusal.Fact = cs.Extended.Fact
	case refusal.Code != "":
	case body.Days < 1 || body.Days > MostExtended(*cs.Check.Every):
		refusal.Code, refusal.N = ExtendedTooFar, MostExtended(*cs.Check.Every)
	default:
		return nil
	}
	return refusal
}
