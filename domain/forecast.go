package domain

import (
	"time"

	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

// LookBack is how many days of use a forecast learns from.
const LookBack = 180

// Usage is how a machine is used, day by day, and what may be expected of it.
type Usage struct {
	days     upkeep.Days
	today    time.Time // the first day to come: its first moment
	forecast *upkeep.Forecast
	ratio    float64
	Sessions int     // reported in the days looked back on
	Hours    float64 // in all of them
	Days     int     // how many of them the machine was on the books
}

// Busyness is how much a shop uses its machines: sessions told of, against those that
// their profiles expect in the same time.
type Busyness struct{ Sessions, Expected float64 }

// levelWeight is how many sessions as expected a level begins with.
const levelWeight = 20

// With is the level with one machine more that had that many sessions within LookBack
// days before now.
func (l Busyness) With(m Machine, sessions int, now time.Time) Busyness {
	days := min(now.Sub(m.Added).Hours()/24, LookBack)
	return Busyness{l.Sessions + float64(sessions), l.Expected + max(days, 0)*m.Profile.Typical.Sessions}
}

// Ratio is what use to expect of a machine that has no history is multiplied by,
//
//	(sessions + 20) / (expected + 20),
//
// the mean of a gamma-Poisson posterior from a prior of mean 1 (source: any text on
// conjugate priors).
func (l Busyness) Ratio() float64 { return (l.Sessions + levelWeight) / (l.Expected + levelWeight) }

// NewUsage learns from the runs told of a machine that ended within LookBack days
// before now. While they are few, its profile's typical use counts, at the level of
// the shop's other machines. Days to come begin with that of now. Hours reported count
// for as many more as the counter shows to go unreported.
func NewUsage(st Status, runs []Run, others Busyness, now time.Time) *Usage {
	cal := st.Shop.Calendar()
	usage := &Usage{days: cal, today: cal.Midnight(now, 0), ratio: 1}
	if st.Reporting != nil {
		usage.ratio = st.Reporting.Ratio
	}
	// History begins LookBack days ago, or on the day on which the machine came.
	first := cal.Midnight(now, -LookBack)
	if st.Machine.Added.After(first) {
		first = cal.Midnight(st.Machine.Added, 0)
	}
	history := upkeep.History{First: first.In(cal.Loc).Weekday()}
	var ends []time.Time
	for at := first; at.Before(usage.today); {
		at = cal.Midnight(first, len(ends)+1)
		ends = append(ends, at)
	}
	history.Days = make([]upkeep.DayUse, len(ends))
	// Each run counts on the day on which it ended; ends are in order, so the first match is it.
	for _, run := range runs {
		for i, end := range ends {
			if !run.Until.Before(first) && run.Until.Before(end) {
				hours := run.Used.Hours()
				day := &history.Days[i]
				day.Sessions, day.Hours = day.Sessions+1, day.Hours+hours
				usage.Sessions, usage.Hours = usage.Sessions+1, usage.Hours+hours
				break
			}
		}
	}
	usage.Days = len(ends)
	// With few runs of its own, typical use fills in, scaled to how busy this shop is.
	history.Open = func(day int) bool { return cal.IsOpen(cal.Midnight(first, day)) }
	typical := st.Machine.Profile.Typical
	usage.forecast = upkeep.NewForecast(
		history,
		upkeep.Typical{Sessions: typical.Sessions * others.Ratio(), Hours: typical.Hours.Float(quantity.Hour)},
	)
	return usage
}

// Likely is when a number of hours of use will have been used up: the range of days
// that holds it with a chance of about 80 %, and the middle one. A zero time is a day
// beyond the horizon of upkeep.Horizon days.
type Likely struct{ First, Median, Last time.Time }

// When is when hours of use will have been used up.
func (u *Usage) When(left quantity.Value) Likely {
	first, median, last := u.passing(left).Range()
	return Likely{u.day(first), u.day(median), u.day(last)}
}

// WhenEach is When for several numbers of hours, at once.
func (u *Usage) WhenEach(left []quantity.Value) []Likely {
	hours := make([]float64, len(left))
	for i, l := range left {
		hours[i] = l.Float(quantity.Hour) / u.ratio
	}
	all := make([]Likely, len(left))
	for i, p := range u.forecast.PassesEach(hours) {
		first, median, last := p.Range()
		all[i] = Likely{u.day(first), u.day(median), u.day(last)}
	}
	return all
}

// Before is the chance that hours of use are used up before the first moment of a
// day.
func (u *Usage) Before(left quantity.Value, day time.Time) float64 {
	days := int(day.Sub(u.today).Hours()/24 + 0.5)
	passing := u.passing(left)
	switch {
	case days <= 0:
		return 0
	case days > len(passing.By):
		days = len(passing.By)
	}
	return passing.By[days-1]
}

func (u *Usage) passing(left quantity.Value) upkeep.Passing {
	return u.forecast.Passes(left.Float(quantity.Hour) / u.ratio)
}

// day is a day to come, from 1 for today; zero for 0.
func (u *Usage) day(n int) time.Time {
	if n == 0 {
		return time.Time{}
	}
	return u.days.Midnight(u.today, n-1)
}
