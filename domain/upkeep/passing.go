package upkeep

import "math"

// Horizon is how many days a forecast looks ahead at most.
const Horizon = 400

// Passing is when hours of use will have been used up: for each day to come, the
// chance that it is by the end of that day.
type Passing struct {
	By []float64 // By[0] is today's end, the first day to come
}

// Day is the first day, from 1 for the first to come, by whose end the chance is at
// least so much; 0 where no day of the horizon is.
func (p Passing) Day(chance float64) int {
	for t, x := range p.By {
		if x >= chance {
			return t + 1
		}
	}
	return 0
}

// by is the chance that it is by the end of a day, from 1 for the first to come; 0
// before that.
func (p Passing) by(day int) float64 {
	if day < 1 {
		return 0
	}
	return p.By[min(day, len(p.By))-1]
}

// Range is the days between which it falls with a chance as near to 80 % as whole
// days allow, the rest shared between before and after; and the median, the first
// day by which it is as likely as not. 0 stands for a day beyond the horizon.
func (p Passing) Range() (first, median, last int) {
	lo, median, hi := p.Day(0.1), p.Day(0.5), p.Day(0.9)
	if lo == 0 {
		return 0, 0, 0
	}
	best := math.Inf(1)
	if median == 0 {
		return lo, 0, 0
	}
	until := hi + 7
	if hi == 0 {
		until = median // beyond the horizon, whatever comes
	}
	for age := max(1, lo-7); age <= median; age++ {
		try := func(b int, by float64) {
			before := p.by(age - 1)
			miss := math.Abs(by-before-0.8) + math.Abs(before+by-1)/asymmetry
			if miss < best-1e-12 || miss < best+1e-12 && age > first { // of ranges as good the shortest
				best, first, last = miss, age, b
			}
		}
		if hi == 0 {
			try(0, 1)
			continue
		}
		for b := median; b <= min(until, len(p.By)); b++ {
			try(b, p.by(b))
		}
	}
	return first, median, last
}
