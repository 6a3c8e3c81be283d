package linkage

import (
	"math"
	"math/bits"
)

// tie is how much less probable a simpler plan may be: in the logarithm of the
// probability, a hundredth of it.
const tie = 0.01

// hopeless is a probability to pass, in logarithm, under which none is sought:
// one in ten thousand. The moves are then the least-squares ones, each rounded to
// nearest, which leave the least to be seen of what they cannot take out.
const hopeless = -9.2

// candidate is one way to set all the adjusters of a part.
type candidate struct {
	logP    float64
	score   float64 // for choosing among roundings
	screws  int
	turning float64
	set     [MaxCoupled]option
}

// search finds the best way to set a part's adjusters and writes it into s. It
// returns the logarithm of the probability that its rows pass, and of that after
// another try with the gains known.
func (p Problem) search(pt part, s *Solution) (best, again float64) {
	n, rows := len(pt.adjusters), len(pt.rows)
	// The normal equations of the weighted rows, and what uncertain gains add to them.
	weight, half := make([]float64, rows), make([]float64, rows)
	for i, row := range pt.rows {
		half[i] = p.Rows[row].half()
		weight[i] = 1 / (half[i] * half[i])
	}
	normal := make([]float64, n*n)
	right := make([]float64, n)
	noise := make([]float64, n)
	for j, ja := range pt.adjusters {
		for i, row := range pt.rows {
			r := p.Rows[row]
			rj := r.Response[ja]
			g := p.Adjusters[ja].Gain
			right[j] -= weight[i] * rj * g * (r.Value - r.Target)
			noise[j] += weight[i] * rj * rj * p.Adjusters[ja].GainU * p.Adjusters[ja].GainU
			for k, ka := range pt.adjusters {
				normal[j*n+k] += weight[i] * rj * g * r.Response[ka] * p.Adjusters[ka].Gain
			}
		}
	}
	effect := make([]float64, n)
	scratch := newScratch(n)
	// What no turning takes out, by the model alone.
	all := 1<<n - 1
	scratch.least(normal, right, nil, all, effect)
	for j, ja := range pt.adjusters {
		s.Exact[ja] = effect[j]
	}
	for _, row := range pt.rows {
		r := p.Rows[row]
		left := r.Value - r.Target
		for j, ja := range pt.adjusters {
			left += r.Response[ja] * p.Adjusters[ja].Gain * effect[j]
		}
		s.Left[row] = left
	}

	// Of few screws that share their rows coarse steps further off may fit together
	// better than those nearest by.
	each := 1
	switch {
	case n <= 2:
		each = 3
	case n <= 4:
		each = 2
	}
	// Every subset of the adjusters, rounded in every way about its own solution.
	ways := walk{p: p, pt: pt, half: half, best: math.Inf(-1)}
	ways.mean, ways.variance = make([]float64, (n+1)*rows), make([]float64, (n+1)*rows)
	for i, row := range pt.rows {
		r := p.Rows[row]
		ways.mean[i], ways.variance[i] = r.Value, r.U*r.U
	}
	for size := n; size >= 0; size-- { // all of them first: a good plan early prunes much
		for subset := all; subset >= 0; subset-- {
			if bits.OnesCount(uint(subset)) != size {
				continue
			}
			p.bounded(pt, scratch, normal, right, noise, subset, effect)
			ways.subset = ways.subset[:0]
			ways.options = ways.options[:0]
			for j, ja := range pt.adjusters {
				if subset>>j&1 == 1 {
					ways.subset = append(ways.subset, j)
					ways.options = append(ways.options, p.Adjusters[ja].around(effect[j], each))
				}
			}
			ways.now, ways.found = candidate{}, candidate{score: math.Inf(-1)}
			ways.choose(0)
			if !math.IsInf(ways.found.score, -1) {
				ways.near = append(ways.near, ways.found)
			}
		}
	}
	// And each to the nearest of what all together would need, play apart.
	ways.subset, ways.options = ways.subset[:0], ways.options[:0]
	for j, ja := range pt.adjusters {
		ways.subset = append(ways.subset, j)
		ways.options = append(ways.options, []option{p.Adjusters[ja].nearest(s.Exact[ja])})
	}
	ways.now, ways.found = candidate{}, candidate{score: math.Inf(-1)}
	if ways.choose(0); !math.IsInf(ways.found.score, -1) {
		ways.near = append(ways.near, ways.found)
	}
	// The best of all; where none can pass, the moves that leave the least.
	c := ways.pick()
	if c.logP < hopeless || len(ways.near) == 0 {
		c = candidate{}
		p.bounded(pt, scratch, normal, right, nil, all, effect)
		for j, ja := range pt.adjusters {
			c.set[j] = p.Adjusters[ja].nearest(effect[j])
		}
	}
	for j, ja := range pt.adjusters {
		s.Turns[ja], s.Past[ja] = c.set[j].turns, c.set[j].past
	}
	// What the rows will read, how sure that is, and with the gains known.
	best = 0
	for _, row := range pt.rows {
		r := p.Rows[row]
		mean, variance, ideal := r.Value, r.U*r.U, r.U*r.U
		for j, ja := range pt.adjusters {
			a, o := p.Adjusters[ja], c.set[j]
			mean += r.Response[ja] * a.Gain * o.effect
			variance += a.variance(r.Response[ja], o)
			if o.turns != 0 {
				h := r.Response[ja] * a.Gain * a.Hand
				ideal += h * h
			}
		}
		s.Predicted[row], s.U[row] = mean, math.Sqrt(variance)
		best += logWithin(r.Low, r.High, mean, s.U[row])
		again += logWithin(r.Low, r.High, r.Target+s.Left[row], math.Sqrt(ideal))
	}
	return best, again
}

// half is half the width of a row's limits, or what is between the target and
// the only one; infinite where there is none, so that the row does not count.
func (r Row) half() float64 {
	if math.IsInf(r.Low, -1) && math.IsInf(r.High, 1) {
		return math.Inf(1)
	}
	h := (r.High - r.Low) / 2
	if math.IsInf(h, 0) || math.IsNaN(h) {
		h = math.Min(math.Abs(r.High-r.Target), math.Abs(r.Target-r.Low))
	}
	if !(h > 0) || math.IsInf(h, 0) {
		return 1e-6 // a limit on the target itself: any distance counts
	}
	return h
}

// bounded solves for a subset with each adjuster kept within its travel: one
// that would leave it stays at its end, and the others are solved for again.
func (p Problem) bounded(pt part, sc *scratch, normal, right, noise []float64, subset int, effect []float64) {
	clear(effect)
	free := subset
	n := len(pt.adjusters)
	rest := sc.rest[:n]
	for free != 0 {
		copy(rest, right)
		for j := range n {
			if subset>>j&1 == 1 && free>>j&1 == 0 {
				for k := range n {
					rest[k] -= normal[k*n+j] * effect[j]
				}
			}
		}
		sc.least(normal, rest, noise, free, effect)
		worst, over := -1, 0.0
		for j, ja := range pt.adjusters {
			if free>>j&1 == 0 {
				continue
			}
			a := p.Adjusters[ja]
			_, lost, _ := a.finish(effect[j])
			out := max(effect[j]-(a.Most+lost), (a.Least-lost)-effect[j])
			if out > 1e-12 && out > over {
				worst, over = j, out
			}
		}
		if worst < 0 {
			return
		}
		a := p.Adjusters[pt.adjusters[worst]]
		effect[worst] = min(max(effect[worst], a.Least), a.Most)
		free &^= 1 << worst
	}
}

// walk goes through all the ways to set a subset's adjusters.
type walk struct {
	p        Problem
	pt       part
	subset   []int
	options  [][]option
	mean     []float64 // by depth, by row
	variance []float64
	now      candidate
	half     []float64
	best     float64     // the most probable so far
	found    candidate   // the best of this subset
	near     []candidate // the best of each subset
}

func (w *walk) choose(depth int) {
	rows := len(w.pt.rows)
	mean, variance := w.mean[depth*rows:][:rows], w.variance[depth*rows:][:rows]
	if depth == len(w.subset) {
		// No row outside its limits by z is more probable than exp(-z²/2)/2.
		least := max(w.best-2*tie, w.found.score)
		most := 0.0
		for i, row := range w.pt.rows {
			r := &w.p.Rows[row]
			if out := max(r.Low-mean[i], mean[i]-r.High); out > 0 {
				most -= out*out/(2*variance[i]) + math.Ln2
			}
		}
		if most < least {
			return
		}
		// The probability that the rows pass, given up once it is too low.
		logP, product := 0.0, 1.0
		leastProduct := math.Exp(least)
		for i, row := range w.pt.rows {
			r := &w.p.Rows[row]
			sd := math.Sqrt(variance[i])
			if q := within(r.Low, r.High, mean[i], sd); q >= 0.01 {
				product *= q
			} else { // too rough by the table
				logP += logWithin(r.Low, r.High, mean[i], sd)
			}
			if product < leastProduct || logP < least {
				return
			}
		}
		logP += math.Log(product)
		if logP < least {
			return
		}
		// Of roundings as probable that nearest to the targets.
		d := 0.0
		for i, row := range w.pt.rows {
			x := (mean[i] - w.p.Rows[row].Target) / w.half[i]
			d += min(x*x, 1)
		}
		w.now.logP, w.now.score = logP, logP-tie/2*d/float64(rows)
		if w.now.score > w.found.score {
			w.found = w.now
		}
		w.best = max(w.best, logP)
		return
	}
	// The next adjuster, each of its options in turn.
	j := w.subset[depth]
	ja := w.pt.adjusters[j]
	a := &w.p.Adjusters[ja]
	before := w.now
	for _, o := range w.options[depth] {
		nextMean, nextVariance := w.mean[(depth+1)*rows:][:rows], w.variance[(depth+1)*rows:][:rows]
		for i, row := range w.pt.rows {
			x := w.p.Rows[row].Response[ja]
			nextMean[i] = mean[i] + x*a.Gain*o.effect
			nextVariance[i] = variance[i] + a.variance(x, o)
		}
		w.now = before
		w.now.set[j] = o
		if o.turns != 0 {
			w.now.screws++
			w.now.turning += math.Abs(o.turns)
		}
		w.choose(depth + 1)
	}
	w.now = before
}

// pick is the best candidate: of those within tie of the most probable that with
// the fewest screws, then the least turning, then the most probable.
func (w *walk) pick() candidate {
	var best candidate
	most := math.Inf(-1)
	for _, c := range w.near {
		most = max(most, c.logP)
	}
	found := false
	for _, c := range w.near {
		if c.logP < most-tie {
			continue
		}
		if !found || better(c, best) {
			best, found = c, true
		}
	}
	return best
}

func better(a, b candidate) bool {
	switch {
	case a.screws != b.screws:
		return a.screws < b.screws
	case math.Abs(a.turning-b.turning) > 1e-9:
		return a.turning < b.turning
	case math.Abs(a.logP-b.logP) > 1e-9:
		return a.logP > b.logP
	}
	for j := range a.set { // a choice that does not hang on the order of the search
		if x, y := math.Abs(a.set[j].turns), math.Abs(b.set[j].turns); math.Abs(x-y) > 1e-9 {
			return x > y
		}
	}
	return false
}
