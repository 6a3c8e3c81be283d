package upkeep

import (
	"math"
	"slices"
	"time"
)

// DayUse is what was used on one day: how many times, and for how many hours in all.
type DayUse struct {
	Sessions int
	Hours    float64
}

// History is the use of a machine day by day, without gaps, oldest first.
type History struct {
	First time.Weekday // of the first day
	Days  []DayUse
	// Open reports whether the shop is open on a day, counted from the first; days
	// after the history are asked about too. Every day where it is nil.
	Open func(day int) bool
}

// Typical is the use to expect while there is little history: sessions a day,
// hours a session.
type Typical struct{ Sessions, Hours float64 }

// What the forecast assumes. Chosen by the study on seeds other than those on which
// it is judged.
const (
	typicalWeight = 1.0    // sessions that Typical counts for
	hazard        = 0.0004 // chance that the level changes from one day to the next, while it is looked for
	levelShape    = 1.0    // of the gamma distribution of a new level, about the mean of all history
	sessionWeight = 3.0    // sessions for which the typical length counts
	sessionShape  = 2.0    // of the gamma distribution of hours a session
	lookDays      = 200.0  // for which the prior of how often it changes counts
	sortShape     = 20.0   // of the gamma distribution of a level of a sort, at most
	hazardEnds    = 0.8    // ends of a level, in
	hazardOften   = 7.0    // the same where it has changed more than once
	hazardDays    = 28.0   // days for which the prior of its hazard counts
	regular       = 0.9    // chance that a level lasts as long as one like it did
	ruler         = 0.2    // standard deviation of how long, as a part of it
	asymmetry     = 8.0    // how much less it matters that a range lies evenly than that it holds 80 %
	young         = 14     // days for which a new level need not be likely to be kept in view
	paths         = 256    // ways in which the level may go on
	parts         = 4      // levels of each
)

// Forecast is the use to come, as a distribution. The model:
//
//	sessions on a day ~ Poisson(λ·m),  hours a session ~ gamma(2, mean h)
//
// with m the weight of the day of the week (0 on closed days) and λ a level that
// stays for a time and then changes. How long the present level has lasted is
// worked out day by day (Adams and MacKay, Bayesian Online Changepoint Detection,
// 2007, with the gamma-Poisson pair of which the predictive distribution is
// negative binomial). The likeliest course of levels so far tells how long high
// ones and low ones last: each ends at random, or when it is as old as one of its
// sort was when that ended, and then comes a level of the other sort, as there has
// been one, or a new one. Ways in which it may go on are spread evenly by a
// low-discrepancy sequence (Halton, 1960), so that equal histories give equal
// forecasts.
type Forecast struct {
	weight [7]float64 // of each day of the week
	first  int        // the weekday of the first day to come
	days   int        // of history
	open   func(int) bool
	mean   float64      // hours a session
	loose  float64      // relative variance of mean
	runs   []run        // how long the present level may have lasted
	spare  []run        // room for the runs of the next day
	ended  []run        // the runs that a course of levels may have gone through
	fresh  GammaPoisson // what a new one may be
	past   []segment    // the likeliest course until now, the present level last
	life   [2]life      // how long high and low levels last
}

// run is a present level that began on a day, with the chance that it did.
type run struct {
	chance float64
	GammaPoisson
	began  int
	score  float64 // of the likeliest course that ends with it, as a logarithm
	before int     // the run before it in that course, as an index of ended; -1 for none
	until  int
}

// end is the chance that a level of an age ends overnight, and the logarithm of the
// chance that it does not.
type end struct{ chance, goesOn float64 }

// segment is a level and how many days it lasted.
type segment struct {
	GammaPoisson
	days int
}

// NewForecast learns from a history.
func NewForecast(history History, typical Typical) *Forecast {
	forecast := &Forecast{
		first: (int(history.First) + len(history.Days)) % 7,
		days:  len(history.Days),
		open:  history.Open,
	}
	// Count sessions by weekday; a closed day without use tells nothing about demand.
	var sessions, days [7]float64
	total, open, hours := 0.0, 0.0, 0.0
	for i, day := range history.Days {
		hours += day.Hours
		if day.Sessions == 0 && !forecast.isOpen(i) {
			continue
		}
		weekday := (int(history.First) + i) % 7
		sessions[weekday], days[weekday] = sessions[weekday]+float64(day.Sessions), days[weekday]+1
		total, open = total+float64(day.Sessions), open+1
	}
	// Session length and level, both drawn to what is typical while there is little to go by.
	forecast.mean = (hours + sessionWeight*typical.Hours) / (total + sessionWeight)
	forecast.loose = 1 / sessionShape / (total + sessionWeight)
	level := (total + typicalWeight) / (open + typicalWeight/typical.Sessions)
	// Find the levels that there have been, first without knowing how long they tend to last.
	forecast.weight = weekWeights(sessions, days)
	forecast.fresh = GammaPoisson{levelShape, levelShape / level}
	changes := []change{{1, forecast.fresh}}
	forecast.look(history, changes)
	if len(forecast.past) > 1 {
		// Once more, with levels that last as long as they did, and change to levels
		// as there were.
		sorts := forecast.sorts()
		changes[0].chance = 1 / float64(len(sorts)+1)
		for _, sort := range sorts {
			changes = append(changes, change{changes[0].chance, sort})
		}
		forecast.lives()
		forecast.look(history, changes)
	}
	forecast.lives()
	return forecast
}

func (f *Forecast) isOpen(day int) bool { return f.open == nil || f.open(day) }

// weekWeights is the weight of each day of the week, their mean over the days 1, from
// the sessions on each and how many of each there were. What they differ by is
// shrunk by how much of it chance alone would bring (the positive-part estimator of
// James and Stein, 1961, on χ² with k - 1 degrees of freedom):
//
//	m = 1 + (1 - (k - 3)/χ²)₊·(n/(d·rate) - 1)
func weekWeights(n, d [7]float64) (m [7]float64) {
	total, days, k := 0.0, 0.0, 0.0
	for w := range 7 {
		m[w] = 1
		total, days = total+n[w], days+d[w]
		if d[w] > 0 {
			k++
		}
	}
	if total == 0 || k < 4 {
		return m
	}
	// How much more the days differ than chance alone would have them.
	chi := 0.0
	for w := range 7 {
		if d[w] > 0 {
			want := total * d[w] / days
			chi += (n[w] - want) * (n[w] - want) / want
		}
	}
	// Keep only that share of each day's difference.
	keep := max(0, 1-(k-3)/max(chi, 1e-9))
	for w := range 7 {
		if d[w] > 0 {
			m[w] = 1 + keep*(n[w]*days/(total*d[w])-1)
		}
	}
	return m
}

// change is a level that may begin when another ends, with the chance that it does.
type change struct {
	chance float64
	GammaPoisson
}

// look goes through a history and works out how long the present level may have
// lasted, and the likeliest course of levels.
func (f *Forecast) look(history History, changes []change) {
	f.runs, f.ended = f.runs[:0], f.ended[:0]
	for _, change := range changes {
		f.runs = append(f.runs,
			run{chance: 1 / float64(len(changes)), GammaPoisson: change.GammaPoisson, before: -1})
	}
	ends := f.ends(len(history.Days))
	for i, day := range history.Days {
		if day.Sessions > 0 || f.isOpen(i) {
			f.learn(i, day.Sessions, f.weight[(int(history.First)+i)%7], changes, ends)
		}
	}
	f.course()
}

// ends are how levels of either sort end, as in life, by their age up to a number of
// days.
func (f *Forecast) ends(days int) (all [2][]end) {
	known := len(f.life[0].like)+len(f.life[1].like) > 0 || f.life[0].mean > 0
	for sort, life := range f.life {
		all[sort] = make([]end, days)
		for age := range all[sort] {
			chance := hazard
			if known {
				chance = life.ends(age)
			}
			chance = min(chance, 0.9)
			all[sort][age] = end{chance, math.Log(1 - chance)}
		}
	}
	return all
}

// sorts are the low and the high level that there have been, each from all that
// lasted; either may be missing.
func (f *Forecast) sorts() (all []GammaPoisson) {
	for _, low := range []bool{false, true} {
		shape, rate := 0.0, 0.0
		for _, segment := range f.past {
			if f.low(segment.GammaPoisson) == low {
				shape, rate = shape+segment.Shape, rate+segment.Rate
			}
		}
		if shape > 0 {
			more := max(1, shape/sortShape) // levels of a sort differ
			all = append(all, GammaPoisson{shape / more, rate / more})
		}
	}
	return all
}

// learn takes one day in.
func (f *Forecast) learn(day, sessions int, exposure float64, changes []change, ends [2][]end) {
	if exposure <= 0 {
		return
	}
	// The likeliest course so far is what a level that begins today would follow.
	best := 0
	for i := range f.runs {
		if f.runs[i].score > f.runs[best].score {
			best = i
		}
	}
	before := f.runs[best]
	before.until = day
	// A level may have ended overnight, with the chance that one of its sort ends at that age.
	next := append(f.spare[:0], f.runs...)
	ended := 0.0
	for i := range next {
		one := &next[i]
		end := ends[f.sort(one.GammaPoisson)][day-one.began]
		ended += end.chance * one.chance
		one.chance *= 1 - end.chance
		one.score += end.goesOn
	}
	// What ended is shared out among the levels that may begin.
	if day > 0 {
		f.ended = append(f.ended, before)
		for _, change := range changes {
			next = append(
				next,
				run{
					chance:       change.chance * ended,
					GammaPoisson: change.GammaPoisson,
					began:        day,
					score:        before.score + math.Log(change.chance*ended),
					before:       len(f.ended) - 1,
				},
			)
		}
	}
	// See how well each explains today's sessions, and let it learn from them.
	total := 0.0
	for i := range next {
		one := &next[i]
		like := one.logChance(sessions, exposure)
		one.chance *= math.Exp(like)
		one.score += like
		one.GammaPoisson = one.Seen(sessions, exposure)
		total += one.chance
	}
	// Forget what is unlikely; young levels have had little time to prove themselves.
	kept := f.runs[:0]
	for i := range next {
		one := &next[i]
		if one.chance /= total; one.chance > 2e-3 || one.chance > 5e-5 && day-one.began < young {
			kept = append(kept, *one)
		}
	}
	f.runs, f.spare = kept, next
}

// course works out the likeliest course of levels.
func (f *Forecast) course() {
	last := f.runs[0]
	for _, one := range f.runs {
		if one.score > last.score {
			last = one
		}
	}
	last.until = f.days
	f.past = append(f.past[:0], segment{last.GammaPoisson, last.until - last.began})
	for before := last.before; before >= 0; before = f.ended[before].before {
		one := f.ended[before]
		f.past = append(f.past, segment{one.GammaPoisson, one.until - one.began})
	}
	slices.Reverse(f.past)
}

// low reports whether a level is one of the low ones.
func (f *Forecast) low(l GammaPoisson) bool { return l.Shape/l.Rate < f.fresh.Shape/f.fresh.Rate }

// sort is the place in life of the sort of a level.
func (f *Forecast) sort(l GammaPoisson) int {
	if f.low(l) {
		return 1
	}
	return 0
}

// next is the level that comes after one, by a number drawn from 0 to 1.
func (f *Forecast) next(level GammaPoisson, drawn float64) GammaPoisson {
	var other []GammaPoisson
	for _, s := range f.past {
		if f.low(s.GammaPoisson) != f.low(level) {
			other = append(other, s.GammaPoisson)
		}
	}
	if i := int(drawn * (float64(len(other)) + 0.5)); i < len(other) {
		return other[i]
	}
	return f.fresh
}

// about is a level with the doubt about the hours of a session added to its own.
func (f *Forecast) about(l GammaPoisson) GammaPoisson {
	a := 1 / (1/l.Shape + f.loose)
	return GammaPoisson{a, l.Rate * a / l.Shape}
}

// quantile is the quantile of a gamma distribution where the normal one has z (Wilson
// and Hilferty, 1931).
func (l GammaPoisson) quantile(z float64) float64 {
	if l.Shape <= 0 {
		return 0
	}
	c := 1 - 1/(9*l.Shape) + z/(3*math.Sqrt(l.Shape))
	if c <= 0 {
		return 0
	}
	return l.Shape / l.Rate * c * c * c
}
