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

// search finds the best way to set a part's adjusters and writes it into solution. It
// returns the logarithm of the probability that its rows pass, and of that after
// another try with the gains known.
func (p Problem) search(pt part, solution *Solution) (best, again float64) {
	count, rows := len(pt.adjusters), len(pt.rows)
	// The normal equations of the weighted rows, and what uncertain gains add to them.
	weight, half := make([]float64, rows), make([]float64, rows)
	for i, row := range pt.rows {
		half[i] = p.Rows[row].half()
		weight[i] = 1 / (half[i] * half[i])
	}
	normal := make([]float64, count*count)
	right := make([]float64, count)
	noise := make([]float64, count)
	for j, ja := range pt.adjusters {
		for i, row := range pt.rows {
			goal := p.Rows[row]
			rj := goal.Response[ja]
			gain := p.Adjusters[ja].Gain
			right[j] -= weight[i] * rj * gain * (goal.Value - goal.Target)
			noise[j] += weight[i] * rj * rj * p.Adjusters[ja].GainU * p.Adjusters[ja].GainU
			for k, ka := range pt.adjusters {
				normal[j*count+k] += weight[i] * rj * gain * goal.Response[ka] * p.Adjusters[ka].Gain
			}
		}
	}
	effect := make([]float64, count)
	scratch := newScratch(count)
	// What no turning takes out, by the model alone.
	all := 1<<count - 1
	scratch.least(normal, right, nil, all, effect)
	for j, ja := range pt.adjusters {
		solution.Exact[ja] = effect[j]
	}
	for _, row := range pt.rows {
		goal := p.Rows[row]
		left := goal.Value - goal.Target
		for j, ja := range pt.adjusters {
			left += goal.Response[ja] * p.Adjusters[ja].Gain * effect[j]
		}
		solution.Left[row] = left
	}

	// Of few screws that share their rows coarse steps further off may fit together
	// better than those nearest by.
	each := 1
	switch {
	case count <= 2:
		each = 3
	case count <= 4:
		each = 2
	}
	// Every subset of the adjusters, rounded in every way about its own solution.
	ways := walk{p: p, pt: pt, half: half, best: math.Inf(-1)}
	ways.mean, ways.variance = make([]float64, (count+1)*rows), make([]float64, (count+1)*rows)
	for i, row := range pt.rows {
		goal := p.Rows[row]
		ways.mean[i], ways.variance[i] = goal.Value, goal.U*goal.U
	}
	for size := count; size >= 0; size-- { // all of them first: a good plan early prunes much
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
		ways.options = append(ways.options, []option{p.Adjusters[ja].nearest(solution.Exact[ja])})
	}
	ways.now, ways.found = candidate{}, candidate{score: math.Inf(-1)}
	if ways.choose(0); !math.IsInf(ways.found.score, -1) {
		ways.near = append(ways.near, ways.found)
	}
	// The best of all; where none can pass, the moves that leave the least.
	chosen := ways.pick()
	if chosen.logP < hopeless || len(ways.near) == 0 {
		chosen = candidate{}
		p.bounded(pt, scratch, normal, right, nil, all, effect)
		for j, ja := range pt.adjusters {
			chosen.set[j] = p.Adjusters[ja].nearest(effect[j])
		}
	}
	for j, ja := range pt.adjusters {
		solution.Turns[ja], solution.Past[ja] = chosen.set[j].turns, chosen.set[j].past
	}
	// What the rows will read, how sure that is, and with the gains known.
	best = 0
	for _, row := range pt.rows {
		goal := p.Rows[row]
		mean, variance, ideal := goal.Value, goal.U*goal.U, goal.U*goal.U
		for j, ja := range pt.adjusters {
			adjuster, option := p.Adjusters[ja], chosen.set[j]
			mean += goal.Response[ja] * adjuster.Gain * option.effect
			variance += adjuster.variance(goal.Response[ja], option)
			if option.turns != 0 {
				hand := goal.Response[ja] * adjuster.Gain * adjuster.Hand
				ideal += hand * hand
			}
		}
		solution.Predicted[row], solution.U[row] = mean, math.Sqrt(variance)
		best += logWithin(goal.Low, goal.High, mean, solution.U[row])
		again += logWithin(goal.Low, goal.High, goal.Target+solution.Left[row], math.Sqrt(ideal))
	}
	return best, again
}

// half is half the width of a row's limits, or what is between the target and
// the only one; infinite where there is none, so that the row does not count.
func (r Row) half() float64 {
	if math.IsInf(r.Low, -1) && math.IsInf(r.High, 1) {
		return math.Inf(1)
	}
	half := (r.High - r.Low) / 2
	if math.IsInf(half, 0) || math.IsNaN(half) {
		half = math.Min(math.Abs(r.High-r.Target), math.Abs(r.Target-r.Low))
	}
	if !(half > 0) || math.IsInf(half, 0) {
		return 1e-6 // a limit on the target itself: any distance counts
	}
	return half
}

// bounded solves for a subset with each adjuster kept within its travel: one
// that would leave it stays at its end, and the others are solved for again.
func (p Problem) bounded(pt part, sc *scratch, normal, right, noise []float64, subset int, effect []float64) {
	clear(effect)
	free := subset
	count := len(pt.adjusters)
	rest := sc.rest[:count]
	for free != 0 {
		// Take off what the adjusters at their ends do, and solve for those still free.
		copy(rest, right)
		for j := range count {
			if subset>>j&1 == 1 && free>>j&1 == 0 {
				for k := range count {
					rest[k] -= normal[k*count+j] * effect[j]
				}
			}
		}
		sc.least(normal, rest, noise, free, effect)
		// Stop the one that would go farthest out at its end.
		worst, over := -1, 0.0
		for j, ja := range pt.adjusters {
			if free>>j&1 == 0 {
				continue
			}
			adjuster := p.Adjusters[ja]
			_, lost, _ := adjuster.finish(effect[j])
			out := max(effect[j]-(adjuster.Most+lost), (adjuster.Least-lost)-effect[j])
			if out > 1e-12 && out > over {
				worst, over = j, out
			}
		}
		if worst < 0 {
			return
		}
		adjuster := p.Adjusters[pt.adjusters[worst]]
		effect[worst] = min(max(effect[worst], adjuster.Least), adjuster.Most)
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
			goal := &w.p.Rows[row]
			if out := max(goal.Low-mean[i], mean[i]-goal.High); out > 0 {
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
			goal := &w.p.Rows[row]
			sd := math.Sqrt(variance[i])
			if q := within(goal.Low, goal.High, mean[i], sd); q >= 0.01 {
				product *= q
			} else { // too rough by the table
				logP += logWithin(goal.Low, goal.High, mean[i], sd)
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
		off := 0.0
		for i, row := range w.pt.rows {
			x := (mean[i] - w.p.Rows[row].Target) / w.half[i]
			off += min(x*x, 1)
		}
		w.now.logP, w.now.score = logP, logP-tie/2*off/float64(rows)
		if w.now.score > w.found.score {
			w.found = w.now
		}
		w.best = max(w.best, logP)
		return
	}
	// The next adjuster, each of its options in turn.
	j := w.subset[depth]
	ja := w.pt.adjusters[j]
	adjuster := &w.p.Adjusters[ja]
	before := w.now
	for _, option := range w.options[depth] {
		nextMean, nextVariance := w.mean[(depth+1)*rows:][:rows], w.variance[(depth+1)*rows:][:rows]
		for i, row := range w.pt.rows {
			response := w.p.Rows[row].Response[ja]
			nextMean[i] = mean[i] + response*adjuster.Gain*option.effect
			nextVariance[i] = variance[i] + adjuster.variance(response, option)
		}
		w.now = before
		w.now.set[j] = option
		if option.turns != 0 {
			w.now.screws++
			w.now.turning += math.Abs(option.turns)
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
	for _, near := range w.near {
		if near.logP < most-tie {
			continue
		}
		if !found || better(near, best) {
			best, found = near, true
		}
	}
	return best
}

func better(one, other candidate) bool {
	switch {
	case one.screws != other.screws:
		return one.screws < other.screws
	case math.Abs(one.turning-other.turning) > 1e-9:
		return one.turning < other.turning
	case math.Abs(one.logP-other.logP) > 1e-9:
		return one.logP > other.logP
	}
	for j := range one.set { // a choice that does not hang on the order of the search
		if x, y := math.Abs(one.set[j].turns), math.Abs(other.set[j].turns); math.Abs(x-y) > 1e-9 {
			return x > y
		}
	}
	return false
}
