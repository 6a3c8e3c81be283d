// Package domain holds the shop's nouns and the one judgement over them,
// Assess: from what is known of a machine to everything that is said about it.
// It reads no clock, database, chat or log; time comes in as an argument.
package domain

import (
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// ShopID is a shop's id: its Discord server's.
type ShopID string

// MachineID numbers a machine within its shop, from 1; 0 is no machine.
type MachineID int64

// PersonID is a person's account id; "" stands for Setscrew itself.
type PersonID string

// FactNo numbers a shop's facts from 1 in the order in which they were
// recorded; people see it as the report's number. 0 is no fact.
type FactNo int64

// Shop is one makerspace and its settings.
type Shop struct {
	ID            ShopID
	Name          string
	Zone          string           // IANA time zone name
	Units         quantity.System  // for printing and for bare numbers
	Dates         upkeep.DateOrder `json:",omitempty"` // in which dates in numbers are read; asked where it is not set
	NoticeChannel string           // channel id for notices, "" until it is set
	StewardRole   string           // role id of the stewards, "" until it is set
	Digest        upkeep.TimeOfDay // when the daily digest goes out
	Days          []time.Weekday   // the days on which it does; every day if there are none
	Open          []time.Weekday   // the days of the week on which it is open; every day if there are none
	Closed        []upkeep.Closure // and is not, in the order of the calendar
	Hours         OpenHours        `json:",omitzero"` // of its open days; UsualHours if it is not set
	Evenings      Evenings         // when stewards work on machines
	Quiet         Quiet            // when only what cannot wait is posted
	Call          PersonID         `json:",omitempty"` // who is called about a danger that nobody sees to, or ""
	Away          []Away           `json:",omitempty"` // who is away when, soonest first; an AwaySet alone changes it
	Shims         []quantity.Value `json:",omitempty"` // thicknesses in stock; a profile's own list if there are none
	LockWait      int              `json:",omitempty"` // minutes that a lock's owner is waited for; see LockWaits
}

// NewShop is a shop before anybody changed a setting: UTC, metric, digest at
// 09:00, no channel and no steward role.
func NewShop(id ShopID) Shop {
	return Shop{ID: id, Zone: "UTC", Units: quantity.Metric, Digest: upkeep.Clock(9, 0)}
}

// zones are the time zones asked for before, by name: each is read from the system's
// files once, not for every date that is shown.
var zones sync.Map

// Location is the shop's time zone. A zone is validated before it is stored, so
// an unknown one can only mean a broken installation; UTC stands in for it.
func (s Shop) Location() *time.Location {
	if loc, ok := zones.Load(s.Zone); ok {
		return loc.(*time.Location)
	}
	loc, err := time.LoadLocation(s.Zone)
	if err != nil {
		return time.UTC
	}
	known, _ := zones.LoadOrStore(s.Zone, loc)
	return known.(*time.Location)
}

// Calendar is the shop's calendar.
func (s Shop) Calendar() upkeep.Days {
	return upkeep.Days{Loc: s.Location(), Open: s.Open, Closed: s.Closed}
}

// Clocks are what a time that is said at a moment is read by.
func (s Shop) Clocks(now time.Time) upkeep.Clocks {
	return upkeep.Clocks{Now: now, Loc: s.Location(), Dates: s.Dates}
}

// Date is a moment's date on the shop's clocks, as ISO 8601 writes it: 2026-12-24.
func (s Shop) Date(t time.Time) string { return t.In(s.Location()).Format(time.DateOnly) }

// on is the moment at which the shop's clocks show a time of day, on the day that is a
// number of days after that of a moment.
func (s Shop) on(clock upkeep.TimeOfDay, of time.Time, later int) time.Time {
	loc := s.Location()
	year, month, day := of.In(loc).Date()
	return clock.On(year, month, day+later, loc)
}

// Machine is one physical machine in a shop, with the profile it was set up
// with and the shop's own values in it.
type Machine struct {
	ID      MachineID
	Name    string
	Units   quantity.System // its own system, or 0 for the shop's
	Added   time.Time
	Retired time.Time // zero while in use
	Setup   Setup
	Profile *profile.Profile // compiled from the profile's text and Setup; nil only while being added
}

// UnitsIn is the system in which the machine's numbers are printed.
func (m Machine) UnitsIn(s Shop) quantity.System {
	if m.Units != 0 {
		return m.Units
	}
	return s.Units
}

// Setup is what a shop has said about one machine's profile. Rev counts its
// changes; every fact keeps the Rev and the profile's hash that it was judged
// by.
type Setup struct {
	Kind      string                 `json:"kind"`
	Hash      string                 `json:"hash"` // of the profile's text
	Params    profile.Params         `json:"params,omitempty"`
	Confirmed map[Item]Confirmation  `json:"confirmed,omitempty"`
	Values    map[string]CheckValues `json:"values,omitempty"`    // by the local text of a check's item
	Intervals map[Item]Interval      `json:"intervals,omitempty"` // its own
	Second    map[string]bool        `json:"second,omitempty"`    // checks that a second person confirms, by id
	Needs     []MachineID            `json:"needs,omitempty"`     // machines without which it must not run
	// Like is the machine as whose hours its own go unreported, 0 for none.
	Like  MachineID `json:"like,omitempty"`
	Start Start     `json:"start,omitzero"`
	Rev   int64     `json:"rev"`
}

// Confirmation says who checked a starting value against the maker's manual,
// and when.
type Confirmation struct {
	By PersonID  `json:"by"`
	At time.Time `json:"at"`
}

// CheckValues are a shop's own target and limits for one check; absent ones
// keep the profile's.
type CheckValues struct {
	Target quantity.Value   `json:"target"`
	Adjust metrology.Limits `json:"adjust"`
	Stop   metrology.Limits `json:"stop"`
}

// StartingValues lists the items of a profile, in its order, that no steward has
// confirmed yet: every dimension, every adjuster and every recurring service.
func (s Setup) StartingValues(prof *profile.Profile) []Item {
	var items []Item
	add := func(item Item) {
		if _, ok := s.Confirmed[item]; !ok {
			items = append(items, item)
		}
	}
	for i := range prof.Checks {
		check := &prof.Checks[i]
		switch {
		case check.Inspection:
		case len(check.Modes) == 0:
			add(CheckItem.Of(check.ID))
		default:
			for _, m := range check.Modes {
				add(CheckItem.Of(check.ID).In(m.ID))
			}
		}
	}
	for i := range prof.Adjusters {
		if a := &prof.Adjusters[i]; a.Turned() {
			add(AdjusterItem.Of(a.ID))
		}
	}
	for i := range prof.Services {
		if prof.Services[i].Recurs() {
			add(ServiceItem.Of(prof.Services[i].ID))
		}
	}
	return items
}

// Own is a profile, loaded with the machine's parameters, with the shop's own values
// and intervals in place of the profile's. The profile itself is unchanged.
func (s Setup) Own(loaded *profile.Profile) (*profile.Profile, error) {
	// Copy what is changed below, so that the loaded profile stays as it is.
	own := *loaded
	own.Checks, own.Services = slices.Clone(loaded.Checks), slices.Clone(loaded.Services)
	// Values: those of a mode go to the mode, and to the check if it is in that mode.
	for _, local := range slices.Sorted(maps.Keys(s.Values)) {
		item, err := CheckItem.Parse(local)
		if err != nil {
			return nil, fmt.Errorf("own values: %w", err)
		}
		check, at := own.Check(item.ID), -1
		if check != nil {
			check.Modes = slices.Clone(check.Modes)
			at = slices.IndexFunc(check.Modes, func(m profile.Mode) bool { return m.ID == item.Mode })
		}
		if check == nil || item.Mode != "" && at < 0 {
			return nil, fmt.Errorf("own values for a check %q that profile %s lacks", local, s.Kind)
		}
		if at >= 0 {
			of := &check.Modes[at]
			s.Values[local].into(&of.Target, &of.Adjust, &of.Stop)
		}
		if item.Mode == check.Mode {
			s.Values[local].into(&check.Target, &check.Adjust, &check.Stop)
		}
	}
	// Intervals: a service keeps whether it recurs or is done once; a check may gain a rule.
	for _, item := range slices.SortedFunc(maps.Keys(s.Intervals), compareItems) {
		interval := s.Intervals[item]
		service, check := own.Service(item.ID), own.Check(item.ID)
		switch {
		case item.Kind == ServiceItem && service != nil && service.Every.Recurs():
			service.Every = interval.into(service.Every)
		case item.Kind == ServiceItem && service != nil && service.First.Recurs():
			service.First = interval.into(service.First)
		case item.Kind == CheckItem && check != nil:
			rule := profile.Rule{}
			if check.Every != nil {
				rule = *check.Every
			}
			rule = interval.into(rule)
			check.Every = &rule
		default:
			return nil, fmt.Errorf("an interval for %s that profile %s lacks", item, s.Kind)
		}
	}
	return &own, nil
}

// into puts the values that are given in the place of others.
func (v CheckValues) into(target *quantity.Value, adjust, stop *metrology.Limits) {
	if v.Target.Valid() {
		*target = v.Target
	}
	if v.Adjust.Set() {
		*adjust = v.Adjust
	}
	if v.Stop.Set() {
		*stop = v.Stop
	}
}

// WithSecond is s with a check to be confirmed by a second person, or no longer;
// Rev goes up by one. s itself is unchanged.
func (s Setup) WithSecond(check string, on bool) Setup {
	setup := s
	setup.Second = maps.Clone(s.Second)
	if setup.Second == nil {
		setup.Second = map[string]bool{}
	}
	setup.Second[check] = on
	setup.Rev++
	return setup
}

// WithNeed is s with a machine without which this one must not run, or no longer;
// Rev goes up by one. s itself is unchanged.
func (s Setup) WithNeed(other MachineID, on bool) Setup {
	setup := s
	setup.Needs = slices.DeleteFunc(slices.Clone(s.Needs), func(id MachineID) bool { return id == other })
	if on {
		setup.Needs = append(setup.Needs, other)
	}
	setup.Rev++
	return setup
}

// WithLike is s with the machine whose reporting ratio this one borrows, 0 for
// none; Rev goes up by one. s itself is unchanged.
func (s Setup) WithLike(other MachineID) Setup {
	s.Like = other
	s.Rev++
	return s
}

// With is s with one item confirmed by a steward and, for a check, its own
// values where these are not nil; Rev goes up by one. s itself is unchanged.
func (s Setup) With(item Item, by PersonID, at time.Time, values *CheckValues) Setup {
	setup := s
	setup.Confirmed = maps.Clone(s.Confirmed)
	if setup.Confirmed == nil {
		setup.Confirmed = map[Item]Confirmation{}
	}
	setup.Confirmed[item] = Confirmation{by, at}
	if item.Kind == CheckItem && values != nil {
		setup.Values = maps.Clone(s.Values)
		if setup.Values == nil {
			setup.Values = map[string]CheckValues{}
		}
		setup.Values[item.Local()] = *values
	}
	setup.Rev++
	return setup
}
