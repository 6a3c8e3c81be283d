package upkeep

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/mathext"
)

// Passes is when a number of hours will have been used up.
func (f *Forecast) Passes(hours float64) Passing { return f.PassesEach([]float64{hours})[0] }

// PassesEach is Passes for several numbers of hours at once.
func (f *Forecast) PassesEach(hours []float64) []Passing {
	all := make([]Passing, len(hours))
	tables := make([]table, len(hours))
	open := make([]bool, len(hours)) // not sure to be used up yet
	left := 0
	// From a day on there is no doubt.
	sure := func(which, from int) {
		for day := from; day < Horizon; day++ {
			all[which].By[day] = 1
		}
	}
	// One table for each number of hours; none needed for what is used up already.
	for which, ahead := range hours {
		all[which].By = make([]float64, Horizon)
		if ahead <= 0 {
			sure(which, 0)
			continue
		}
		tables[which], open[which] = f.table(ahead), true
		left++
	}
	// Step all ways ahead together, averaging their chances, until nothing is in doubt.
	var ways [paths]way
	for i := range ways {
		ways[i] = f.way(i)
	}
	var sessions [paths]float64
	for day := 0; day < Horizon && left > 0; day++ {
		exposure := 0.0
		if f.isOpen(f.days + day) {
			exposure = f.weight[(f.first+day)%7]
		}
		for i := range ways {
			sessions[i] = ways[i].step(day, exposure)
		}
		for which, table := range tables {
			if !open[which] {
				continue
			}
			sum := 0.0
			for _, expected := range sessions {
				sum += table.over(expected)
			}
			all[which].By[day] = sum / paths
			if all[which].By[day] > 1-1e-6 {
				sure(which, day+1)
				open[which] = false
				left--
			}
		}
	}
	return all
}

// way is one way in which the level may go on: what it is, until when, and the
// sessions expected so far.
type way struct {
	sessions float64
	part     [parts]struct {
		rate  float64
		until int
	}
	at int
}

// way is the way of a number, spread over all that there are.
func (f *Forecast) way(number int) way {
	var ahead way
	spread := &spreads()[number]
	dim := 0
	next := func() even {
		dim++
		return spread[dim-1]
	}
	// The present level.
	u := next().u
	present := &f.runs[len(f.runs)-1]
	for k := range f.runs {
		if u -= f.runs[k].chance; u < 0 {
			present = &f.runs[k]
			break
		}
	}
	// Then levels of either sort in turn, each for as long as its sort lasts.
	level, age, at := present.GammaPoisson, f.days-present.began, 0
	for k := range ahead.part {
		ahead.part[k].rate = f.about(level).quantile(next().z)
		at += f.lifeOf(level).left(age, next().u, next().u)
		ahead.part[k].until = at
		level, age = f.next(level, next().u), 0
	}
	return ahead
}

// step goes on by a day and returns the sessions expected until its end.
func (w *way) step(t int, exposure float64) float64 {
	for w.at < len(w.part)-1 && t >= w.part[w.at].until {
		w.at++
	}
	w.sessions += exposure * w.part[w.at].rate
	return w.sessions
}

// even is a number evenly spread between 0 and 1, and the quantile of the normal
// distribution there.
type even struct{ u, z float64 }

// spreads are what each way is drawn by: a term of the Halton sequence, with a
// dimension for the level there is and four for each that may come.
var spreads = sync.OnceValue(func() *[paths][1 + 4*parts]even {
	var all [paths][1 + 4*parts]even
	for i := range all {
		for dim := range all[i] {
			u := halton(i+1, dim)
			all[i][dim] = even{u, normal(u)}
		}
	}
	return &all
})

// normal is a quantile of the normal distribution.
func normal(u float64) float64 { return math.Sqrt2 * math.Erfinv(2*u-1) }

// halton is a term of the Halton sequence in the base of a dimension.
func halton(i, dim int) float64 {
	base := []int{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61}[dim]
	u, f := 0.0, 1.0
	for ; i > 0; i /= base {
		f /= float64(base)
		u += f * float64(i%base)
	}
	return u
}

// table is the chance that the hours are used up, by the sessions expected.
type table struct {
	step float64
	q    []float64
}

func (f *Forecast) table(hours float64) table {
	// For each number of sessions, the chance that they take less.
	under := []float64{1}
	for n := 1; under[n-1] > 1e-9 && n < 2000; n++ {
		under = append(under, mathext.GammaIncReg(float64(n)*sessionShape, hours*sessionShape/f.mean))
	}
	const points = 128
	made := table{step: float64(len(under)) * 1.5 / points, q: make([]float64, points+1)}
	for i := range made.q {
		expected := float64(i) * made.step
		p, sum := math.Exp(-expected), 0.0
		for n := range under {
			sum += p * under[n]
			p *= expected / float64(n+1)
		}
		made.q[i] = max(0, 1-sum)
	}
	return made
}

// over is the chance at a number of sessions expected.
func (t table) over(sessions float64) float64 {
	share := sessions / t.step
	i := int(share)
	if i >= len(t.q)-1 {
		return 1
	}
	return t.q[i] + (share-float64(i))*(t.q[i+1]-t.q[i])
}
