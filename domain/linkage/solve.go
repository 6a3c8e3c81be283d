// Package linkage says how turning an adjuster moves a reading, and which turns
// bring readings to their targets.
package linkage

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Problem is what a plan is made for: rows that should come home, and adjusters
// that move them. All rows are in one unit; turns are positive clockwise as seen
// from the tool's end.
type Problem struct {
	Rows      []Row
	Adjusters []Adjuster
}

// Row is one thing that should come home: a position's reading, or how far it is
// from the others.
type Row struct {
	Value     float64
	Target    float64
	Low, High float64   // adjust limits; infinite where there is none
	U         float64   // standard uncertainty of Value
	Response  []float64 // nominal change of Value with one turn clockwise of each adjuster
}

// Adjuster is what a plan needs to know of a screw or its like.
type Adjuster struct {
	Increment   float64 // the least part of a turn that a hand sets, positive
	Useful      float64 // the least turn worth making; Increment if less
	Least, Most float64 // how far it may go from where it stands: Least ≤ 0 ≤ Most
	Gain, GainU float64 // its real response over the nominal one, and the standard uncertainty of that
	Play, PlayU float64 // turns lost when it is reversed, and their standard uncertainty
	Approach    int     // the way to finish every move: +1 clockwise, -1 counter-clockwise, 0 any
	Engaged     int     // the way that it was last turned; 0 where nobody knows
	Hand        float64 // standard uncertainty of one turn set by hand, in turns
}

// Solution is what to do, and what to expect.
type Solution struct {
	Turns     []float64 // by adjuster: a whole number of increments
	Past      []float64 // by adjuster: how far to go past before coming back, 0 for none
	Exact     []float64 // by adjuster: the turns that all screws together would need, not rounded
	Predicted []float64 // by row
	U         []float64 // by row: standard uncertainty of Predicted
	Left      []float64 // by row: what no turning takes out, value minus target
	Pass      float64   // the probability that every row is within its limits after it
	Tries     float64   // the expected number of tries, this one among them; 0 where nothing is to be done
}

// MaxCoupled is how many adjusters may move the same rows. The search goes
// through all their subsets.
const MaxCoupled = 10

// tie is how much less probable a simpler plan may be: in the logarithm of the
// probability, a hundredth of it.
const tie = 0.01

// hopeless is a probability to pass, in logarithm, under which none is sought:
// one in ten thousand. The moves are then the least-squares ones, each rounded to
// nearest, which leave the least to be seen of what they cannot take out.
const hopeless = -9.2

// Solve finds the moves that bring every row home. In this order it wants: the
// probability that all rows pass after this try, up to a hundredth of it; the
// fewest screws; the least turning.
//
// For each subset of the adjusters the moves that make the expected weighted sum
// of squares least are found,
//
//	minimise  Σ w (r + Σ R g e)² + Σ w R² u(g)² e²,   w = 1/half-width²,
//
// with r the value less its target, R the response, g the gain and e the
// effective turn (what is left of a turn after the play that it must take up
// first); each is rounded up and down to its increment (of up to four screws that share rows also
// to those next to them), and of all roundings
// that is taken which predicts best. The probability is the product over the
// rows of Φ((high - p)/u) - Φ((low - p)/u), with p the predicted value and
//
//	u² = u(value)² + Σ R² (u(g)² e² + g² (n·u(hand)² + u(play)²)),
//
// n the turns made by hand (two for past and back). Rows are taken as
// independent, which counts what their gains share as if each row had its own.
//
// Adjusters that share no row are planned by themselves. An error says which
// adjuster or row cannot be reckoned with.
func (p Problem) Solve() (Solution, error) {
	n, m := len(p.Adjusters), len(p.Rows)
	s := Solution{Turns: make([]float64, n), Past: make([]float64, n), Exact: make([]float64, n),
		Predicted: make([]float64, m), U: make([]float64, m), Left: make([]float64, m), Pass: 1}
	if err := p.check(); err != nil {
		return s, err
	}
	ideal := 1.0
	for _, part := range p.parts() {
		if len(part.adjusters) > MaxCoupled {
			return s, fmt.Errorf("linkage: %d adjusters move the same positions; at most %d", len(part.adjusters), MaxCoupled)
		}
		best, again := p.search(part, &s)
		s.Pass *= math.Exp(best)
		ideal *= math.Exp(again)
	}
	if slices.ContainsFunc(s.Turns, func(t float64) bool { return t != 0 }) {
		s.Tries = 1 + (1-s.Pass)/max(ideal, 0.01)
	}
	return s, nil
}

func (p Problem) check() error {
	for j, a := range p.Adjusters {
		switch {
		case !(a.Increment > 0):
			return fmt.Errorf("linkage: adjuster %d: its increment must be positive", j+1)
		case !(a.Gain != 0) || math.IsNaN(a.Gain) || a.GainU < 0 || a.Play < 0 || a.PlayU < 0 || a.Hand < 0:
			return fmt.Errorf("linkage: adjuster %d: a gain other than 0 and no uncertainty under 0", j+1)
		case !(a.Least <= 0 && a.Most >= 0):
			return fmt.Errorf("linkage: adjuster %d: where it stands must lie within its travel", j+1)
		}
	}
	for i, r := range p.Rows {
		if len(r.Response) != len(p.Adjusters) {
			return fmt.Errorf("linkage: row %d: %d responses for %d adjusters", i+1, len(r.Response), len(p.Adjusters))
		}
		for _, v := range append([]float64{r.Value, r.Target, r.U}, r.Response...) {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("linkage: row %d: not a number", i+1)
			}
		}
	}
	return nil
}

// part is adjusters and the rows that they move, which no other adjusters move.
type part struct{ adjusters, rows []int }

// parts takes the problem apart. A row that nothing moves is a part by itself.
func (p Problem) parts() []part {
	owner := make([]int, len(p.Adjusters)) // the lowest adjuster of its part
	for j := range owner {
		owner[j] = j
	}
	root := func(j int) int {
		for owner[j] != j {
			j = owner[j]
		}
		return j
	}
	for _, r := range p.Rows {
		first := -1
		for j, x := range r.Response {
			switch {
			case x == 0:
			case first < 0:
				first = root(j)
			default:
				a, b := min(first, root(j)), max(first, root(j))
				owner[b], first = a, a
			}
		}
	}
	var all []part
	at := map[int]int{}
	for j := range owner {
		r := root(j)
		if r == j {
			at[j] = len(all)
			all = append(all, part{})
		}
		all[at[r]].adjusters = append(all[at[r]].adjusters, j)
	}
	for i, r := range p.Rows {
		j := slices.IndexFunc(r.Response, func(x float64) bool { return x != 0 })
		if j < 0 {
			all = append(all, part{rows: []int{i}})
			continue
		}
		k := at[root(j)]
		all[k].rows = append(all[k].rows, i)
	}
	return all
}

// option is one way to set an adjuster.
type option struct {
	turns, past float64
	effect      float64 // turns, less the play expected to be lost
	doubt       float64 // variance of effect, by hand and by play
}

// finish is the way in which a turn ends, and what it loses by play.
func (a Adjuster) finish(turns float64) (way int, lost, variance float64) {
	way = a.Approach
	if way == 0 {
		way = sign(turns)
	}
	switch {
	case way == 0 || a.Engaged == way:
		return way, 0, 0
	case a.Engaged == 0: // uniform from none of it to all of it
		return way, a.Play / 2, a.Play*a.Play/12 + a.PlayU*a.PlayU/3
	}
	return way, a.Play, a.PlayU * a.PlayU
}

// set is what turning so far brings.
func (a Adjuster) set(turns float64) option {
	o := option{turns: turns}
	if turns == 0 {
		return o
	}
	way, lost, variance := a.finish(turns)
	hands := 1.0
	if a.Approach != 0 && sign(turns) != a.Approach {
		o.past = a.Increment * math.Ceil((a.Play+2*a.PlayU)/a.Increment-1e-9)
		o.past = max(o.past, a.Increment)
		hands = 2
	}
	o.effect = turns - float64(way)*lost
	o.doubt = hands*a.Hand*a.Hand + variance
	return o
}

// around are the settings next to an exact effective turn: so many multiples of
// the increment below and as many above, within the travel, and no turn in place
// of one that is too small to be worth making.
func (a Adjuster) around(effect float64, each int) []option {
	way, lost, _ := a.finish(effect)
	turns := effect + float64(way)*lost
	var all []option
	add := func(t float64) {
		// Not past the ends of its travel.
		if t > a.Most {
			t = a.Increment * math.Floor(a.Most/a.Increment+1e-9)
		}
		if t < a.Least {
			t = a.Increment * math.Ceil(a.Least/a.Increment-1e-9)
		}
		if !slices.ContainsFunc(all, func(o option) bool { return o.turns == t }) {
			all = append(all, a.set(t))
		}
	}
	down, up := math.Floor(turns/a.Increment)-float64(each-1), math.Ceil(turns/a.Increment)+float64(each-1)
	for n := down; n <= up; n++ {
		t := a.Increment * n
		if least := a.useful(); math.Abs(t) < least-1e-9 && t != 0 {
			add(0)
			t = math.Copysign(least, t)
		}
		add(t)
	}
	return all
}

// nearest is the setting nearest to so many turns that is within the travel and
// worth making.
func (a Adjuster) nearest(turns float64) option {
	t := a.Increment * math.Round(min(max(turns, a.Least), a.Most)/a.Increment)
	if t > a.Most || t < a.Least {
		t -= math.Copysign(a.Increment, t)
	}
	if math.Abs(t) < a.useful()-1e-9 {
		t = 0
	}
	return a.set(t)
}

// useful is the least turn worth making, in whole increments.
func (a Adjuster) useful() float64 {
	return a.Increment * math.Ceil(max(a.Useful, a.Increment)/a.Increment-1e-9)
}

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
// another go with the gains known.
func (p Problem) search(pt part, s *Solution) (best, again float64) {
	n, m := len(pt.adjusters), len(pt.rows)
	weight, half := make([]float64, m), make([]float64, m)
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
	w := walk{p: p, pt: pt, half: half, best: math.Inf(-1)}
	w.mean, w.variance = make([]float64, (n+1)*m), make([]float64, (n+1)*m)
	for i, row := range pt.rows {
		r := p.Rows[row]
		w.mean[i], w.variance[i] = r.Value, r.U*r.U
	}
	for size := n; size >= 0; size-- { // all of them first: a good plan early prunes much
		for subset := all; subset >= 0; subset-- {
			if bits.OnesCount(uint(subset)) != size {
				continue
			}
			p.bounded(pt, scratch, normal, right, noise, subset, effect)
			w.subset = w.subset[:0]
			w.options = w.options[:0]
			for j, ja := range pt.adjusters {
				if subset>>j&1 == 1 {
					w.subset = append(w.subset, j)
					w.options = append(w.options, p.Adjusters[ja].around(effect[j], each))
				}
			}
			w.now, w.found = candidate{}, candidate{score: math.Inf(-1)}
			w.choose(0)
			if !math.IsInf(w.found.score, -1) {
				w.near = append(w.near, w.found)
			}
		}
	}
	// And each to the nearest of what all together would need, play apart.
	w.subset, w.options = w.subset[:0], w.options[:0]
	for j, ja := range pt.adjusters {
		w.subset = append(w.subset, j)
		w.options = append(w.options, []option{p.Adjusters[ja].nearest(s.Exact[ja])})
	}
	w.now, w.found = candidate{}, candidate{score: math.Inf(-1)}
	if w.choose(0); !math.IsInf(w.found.score, -1) {
		w.near = append(w.near, w.found)
	}
	c := w.pick()
	if c.logP < hopeless || len(w.near) == 0 {
		c = candidate{}
		p.bounded(pt, scratch, normal, right, nil, all, effect)
		for j, ja := range pt.adjusters {
			c.set[j] = p.Adjusters[ja].nearest(effect[j])
		}
	}
	for j, ja := range pt.adjusters {
		s.Turns[ja], s.Past[ja] = c.set[j].turns, c.set[j].past
	}
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

// variance is what an adjuster so set adds to the variance of a row.
func (a Adjuster) variance(response float64, o option) float64 {
	if o.turns == 0 {
		return 0
	}
	return response * response * (a.GainU*a.GainU*o.effect*o.effect + a.Gain*a.Gain*o.doubt)
}

// bounded solves for a subset with each adjuster kept within its travel: one
// that would leave it stays at its end, and the others are solved for anew.
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
	m := len(w.pt.rows)
	mean, variance := w.mean[depth*m:][:m], w.variance[depth*m:][:m]
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
		d := 0.0
		for i, row := range w.pt.rows {
			x := (mean[i] - w.p.Rows[row].Target) / w.half[i]
			d += min(x*x, 1)
		}
		w.now.logP, w.now.score = logP, logP-tie/2*d/float64(m)
		if w.now.score > w.found.score {
			w.found = w.now
		}
		w.best = max(w.best, logP)
		return
	}
	j := w.subset[depth]
	ja := w.pt.adjusters[j]
	a := &w.p.Adjusters[ja]
	before := w.now
	for _, o := range w.options[depth] {
		nextMean, nextVariance := w.mean[(depth+1)*m:][:m], w.variance[(depth+1)*m:][:m]
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

var unit = distuv.UnitNormal

// logWithin is the logarithm of the probability that a normal variable with that
// mean and standard deviation lies between two limits, either of which may be
// infinite:
//
//	ln(Φ((high - mean)/sd) - Φ((low - mean)/sd))
//
// Far outside, where that is too small for floating point, it goes on as
// -z²/2 - ln(z√2π) of the nearer limit does. Without any deviation it is 0
// within and -∞ far outside.
func logWithin(low, high, mean, sd float64) float64 {
	if math.IsInf(low, -1) && math.IsInf(high, 1) {
		return 0
	}
	if floor := 1e-9 * (math.Abs(mean) + 1e-3); sd < floor {
		sd = floor
	}
	a, b := (low-mean)/sd, (high-mean)/sd
	if a > 0 { // by symmetry, the nearer limit on the right
		a, b = -b, -a
	}
	// Now a < 0 or both; if b < 0 the variable is far to the right of both.
	if b < -30 {
		return -b*b/2 - math.Log(-b*math.Sqrt(2*math.Pi))
	}
	if b < 0 {
		return math.Log(unit.CDF(b) - unit.CDF(a))
	}
	return math.Log1p(-unit.CDF(a) - unit.CDF(-b))
}

// scratch is room for solving small systems.
type scratch struct {
	m, x, rest []float64
	at         []int
}

func newScratch(n int) *scratch {
	return &scratch{make([]float64, n*n), make([]float64, n), make([]float64, n), make([]int, 0, n)}
}

// least solves (normal + diag(noise)) x = right over a subset by Cholesky
// factorisation, and writes x into effect at the subset's places. What is not
// determined takes the smallest moves: 1e-9 of the diagonal is added to it.
func (s *scratch) least(normal, right, noise []float64, subset int, effect []float64) {
	n := len(right)
	s.at = s.at[:0]
	for j := range n {
		if subset>>j&1 == 1 {
			s.at = append(s.at, j)
		}
	}
	k := len(s.at)
	m, x := s.m[:k*k], s.x[:k]
	for a, j := range s.at {
		x[a] = right[j]
		for b, l := range s.at[:a+1] {
			v := normal[j*n+l]
			if a == b {
				v *= 1 + 1e-9
				if noise != nil {
					v += noise[j]
				}
			}
			for c := range b {
				v -= m[a*k+c] * m[b*k+c]
			}
			if a == b {
				m[a*k+a] = math.Sqrt(max(v, 1e-300))
			} else {
				m[a*k+b] = v / m[b*k+b]
			}
		}
	}
	for a := range k {
		for c := range a {
			x[a] -= m[a*k+c] * x[c]
		}
		x[a] /= m[a*k+a]
	}
	for a := k - 1; a >= 0; a-- {
		for c := a + 1; c < k; c++ {
			x[a] -= m[c*k+a] * x[c]
		}
		x[a] /= m[a*k+a]
	}
	for a, j := range s.at {
		effect[j] = x[a]
	}
}

func sign(x float64) int {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}
