package domain

import (
	"slices"

	"setscrew/domain/metrology"
	"setscrew/domain/upkeep"
)

// Problem finds an open problem by its key, or nil.
func (s Status) Problem(key string) *OpenProblem {
	for i := range s.Problems {
		if s.Problems[i].Key == key {
			return &s.Problems[i]
		}
	}
	return nil
}

// NewTag is the oldest standing tag that is not among those known by their
// numbers, or nil.
func (s Status) NewTag(known []FactNo) *Tag {
	for i := range s.Tags {
		if !slices.Contains(known, s.Tags[i].Fact) {
			return &s.Tags[i]
		}
	}
	return nil
}

// DueServices lists the services that are due or late, as Services has them.
func (s Status) DueServices() []ServiceStatus {
	return s.services(func(x ServiceStatus) bool { return x.Due.State != upkeep.NotDue })
}

// ServicesByUse lists the services that fall due by use, by how soon they do.
func (s Status) ServicesByUse() []ServiceStatus {
	return s.services(func(x ServiceStatus) bool { return x.Due.Left.Valid() })
}

// BegunBy lists the services that are counted from an event since a report of it.
func (s Status) BegunBy(event string, report FactNo) []ServiceStatus {
	return s.services(func(x ServiceStatus) bool { return x.Service.After == event && x.Began.Fact == report })
}

// services lists those of its services for which is holds.
func (s Status) services(is func(ServiceStatus) bool) []ServiceStatus {
	var all []ServiceStatus
	for _, x := range s.Services {
		if is(x) {
			all = append(all, x)
		}
	}
	return all
}

// DueChecks lists the checks that are due or late by the calendar, as Checks has
// them.
func (s Status) DueChecks() []*CheckStatus {
	return s.checks(func(c *CheckStatus) bool { return c.Due.State != upkeep.NotDue })
}

// RecurringChecks lists the checks that fall due by the calendar, due or not, but for
// FirstChecks.
func (s Status) RecurringChecks() []*CheckStatus {
	return s.checks(func(c *CheckStatus) bool { return c.Rule() != nil && !c.Waits() })
}

// FirstChecks lists the checks that fall due for the first time on a machine that came in
// use already, and are not due yet, soonest first.
func (s Status) FirstChecks() []*CheckStatus {
	first := s.checks((*CheckStatus).Waits)
	slices.SortStableFunc(first, func(a, b *CheckStatus) int { return a.Due.On.Compare(b.Due.On) })
	return first
}

// EachUseChecks lists the inspections that are made before each use.
func (s Status) EachUseChecks() []*CheckStatus {
	return s.checks(func(cs *CheckStatus) bool { return cs.Check.EachUse })
}

// FreshChecks lists the checks whose last reading may be relied on.
func (s Status) FreshChecks() []*CheckStatus {
	return s.checks(func(c *CheckStatus) bool { return c.Freshness == Fresh })
}

// AllRead reports whether the last reading of every check may be relied on, but for
// those that nothing asks for.
func (s Status) AllRead() bool {
	return !slices.ContainsFunc(s.Checks, func(c CheckStatus) bool { return c.Freshness != Fresh && !c.Idle() })
}

// UnreadChecks lists the checks that were never read, but for those that nothing asks for
// and those of which it is said when they are made first.
func (s Status) UnreadChecks() []*CheckStatus {
	return s.checks(func(c *CheckStatus) bool { return c.Freshness == Unread && !c.Idle() && !c.Waits() })
}

// MovedChecks lists the stale checks whose own surface was moved.
func (s Status) MovedChecks() []*CheckStatus {
	return s.checks(func(c *CheckStatus) bool { return c.Freshness == Stale && c.StaleFrom == c.Check.ID })
}

// PredictedFrom lists the stale checks of which it is known what they should
// read, since the check that they follow has been read again.
func (s Status) PredictedFrom(check string) []*CheckStatus {
	return s.checks(func(c *CheckStatus) bool { return c.Predicted != nil && c.Check.Follows.Check == check })
}

// checks lists those of its checks for which is holds.
func (s Status) checks(is func(*CheckStatus) bool) []*CheckStatus {
	var all []*CheckStatus
	for i := range s.Checks {
		if c := &s.Checks[i]; is(c) {
			all = append(all, c)
		}
	}
	return all
}

// StaleGroup is the checks that are stale because another's surface was moved.
type StaleGroup struct {
	From   string // the id of the check whose surface it was
	Checks []*CheckStatus
}

// StaleGroups lists what is stale because something else was moved, by what that
// was, in the order in which Checks has the first of each.
func (s Status) StaleGroups() []StaleGroup {
	var all []StaleGroup
	for _, cs := range s.checks(func(c *CheckStatus) bool {
		return c.Freshness == Stale &&
			c.StaleFrom != c.Check.ID
	}) {
		i := slices.IndexFunc(all, func(g StaleGroup) bool { return g.From == cs.StaleFrom })
		if i < 0 {
			i, all = len(all), append(all, StaleGroup{From: cs.StaleFrom})
		}
		all[i].Checks = append(all[i].Checks, cs)
	}
	return all
}

// CheckNamed finds a check's status by its name, or nil.
func (s Status) CheckNamed(name string) *CheckStatus {
	if all := s.checks(func(c *CheckStatus) bool { return c.Check.Name == name }); len(all) > 0 {
		return all[0]
	}
	return nil
}

// MostDue is the most pressing state of all its services and checks.
func (s Status) MostDue() upkeep.State {
	most := upkeep.NotDue
	for _, x := range s.Services {
		most = max(most, x.Due.State)
	}
	for _, c := range s.Checks {
		most = max(most, c.Due.State)
	}
	return most
}

// WorstGrade is the worst grade of the readings that may be relied on.
func (s Status) WorstGrade() metrology.Grade {
	worst := metrology.Good
	for _, c := range s.FreshChecks() {
		worst = max(worst, c.Grade)
	}
	return worst
}

// Advises reports whether any check has that advice.
func (s Status) Advises(a Advice) bool {
	return slices.ContainsFunc(s.Checks, func(c CheckStatus) bool { return c.Advice == a })
}

// CheckNames lists the names of checks.
func CheckNames(all []*CheckStatus) []string {
	var names []string
	for _, c := range all {
		names = append(names, c.Check.Name)
	}
	return names
}

// Doubts are the problems that may be dangerous, of which nobody has said whether they
// are.
func (s Status) Doubts() (all []OpenProblem) {
	for _, p := range s.Problems {
		if p.Doubt {
			all = append(all, p)
		}
	}
	return all
}
