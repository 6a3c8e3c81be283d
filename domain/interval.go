package domain

import (
	"maps"

	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Interval is a shop's own interval of a service or a check, whichever of its
// parts comes first.
type Interval struct {
	Hours  quantity.Value `json:"hours"` // of use
	Days   int            `json:"days,omitempty"`
	Months int            `json:"months,omitempty"`
}

// into puts the interval in the place of a rule's own. The windows around its due
// points stay, but for those by use or by days where it has no such part.
func (v Interval) into(rule profile.Rule) profile.Rule {
	rule.Hours, rule.Days, rule.Months, rule.Calendar, rule.Named = v.Hours, v.Days, v.Months, "", ""
	if !v.Hours.Valid() {
		rule.EarlyHours, rule.LateHours = quantity.Value{}, quantity.Value{}
	}
	if v.Days == 0 && v.Months == 0 {
		rule.EarlyDays, rule.LateDays = 0, 0
	}
	return rule
}

// BadInterval says why an item of a profile cannot have an interval, "" where it
// can: "each-use" for an inspection made before each use; "days" for a check that
// would not be by days or months alone; "safety" for a
// service that tags a machine out, whose late limit the interval would lose;
// "none" where the profile has none to go back to and there is none to set.
func BadInterval(prof *profile.Profile, item Item, interval *Interval) string {
	if item.Kind == CheckItem {
		if check := prof.Check(item.ID); check != nil && check.EachUse {
			return "each-use"
		}
		if interval != nil && (interval.Hours.Valid() || interval.Months > 0) {
			return "days"
		}
		return ""
	}
	service := prof.Service(item.ID)
	rule := service.Every
	if !rule.Recurs() {
		rule = service.First
	}
	switch {
	case !rule.Recurs():
		return "none"
	case interval != nil && service.Class == profile.SafetyService &&
		(rule.LateHours.Valid() && !interval.Hours.Valid() || rule.LateDays > 0 && interval.Days+interval.Months == 0):
		return "safety"
	}
	return ""
}

// WithInterval is s with an item's interval, or the profile's again where interval is nil.
// Rev goes up by one. s itself is unchanged.
func (s Setup) WithInterval(item Item, interval *Interval) Setup {
	setup := s
	setup.Intervals = maps.Clone(s.Intervals)
	if setup.Intervals == nil {
		setup.Intervals = map[Item]Interval{}
	}
	delete(setup.Intervals, item)
	if interval != nil {
		setup.Intervals[item] = *interval
	}
	setup.Rev++
	return setup
}
