package upkeep

// Longer reports whether work by a rule may fall due later than by another that it takes
// the place of: after more use or more days, or no more by use or by days at all. Where
// that hangs on the calendar (a month against 30 days, other days named) it is taken for
// longer.
func (r Rule) Longer(before Rule) bool {
	if before.Hours.Valid() && (!r.Hours.Valid() || r.Hours.Cmp(before.Hours) > 0) {
		return true
	}
	switch {
	case !before.dated():
		return false
	case !r.dated():
		return true
	case r.Days == before.Days && r.Months == before.Months && r.Calendar == before.Calendar:
		return false
	case r.Days+before.Days == 0 && r.Calendar == "" && before.Calendar == "":
		return r.Months > before.Months
	}
	most := r.mostDays()
	return most == 0 || most > before.leastDays()
}

// mostDays is how many days at most pass by days and months before the work falls due; 0
// for a rule by neither.
func (r Rule) mostDays() int {
	most := r.Days
	if months := r.Months/12*366 + r.Months%12*31; months > 0 && (most == 0 || months < most) {
		most = months
	}
	return most
}

// leastDays is how many days at least do, those of a calendar too.
func (r Rule) leastDays() int {
	least := r.ShortestDays()
	if months := r.Months/12*365 + r.Months%12*28; months > 0 && months < least {
		least = months
	}
	return least
}

// Later reports whether work by a rule may be done later past its due point than by
// another that it takes the place of: where it is never late is later than any limit.
func (r Rule) Later(before Rule) bool {
	return before.LateDays > 0 && (r.LateDays == 0 || r.LateDays > before.LateDays) ||
		before.LateHours.Valid() && (!r.LateHours.Valid() || r.LateHours.Cmp(before.LateHours) > 0)
}
