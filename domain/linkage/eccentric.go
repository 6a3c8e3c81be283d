package linkage

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Lift is how far an eccentric with that throw has lifted at an angle from the
// bottom of its travel, in radians: e (1 - cos θ) (elementary geometry).
func Lift(throw, angle float64) float64 { return throw * (1 - math.Cos(angle)) }

// Eccentric is an eccentric with all that is known of it.
type Eccentric struct {
	Adjuster           // its gain is the real throw over the nominal one; Response of a row is per unit of lift
	Throw    float64   // nominal
	Rising   bool      // it stands on the side on which turning clockwise raises
	Turned   []float64 // the turns it stood at, one a reading, from the first, clockwise positive
	belief   []stand
	width    float64 // between two throws believed in
	now      float64 // its lift by the last reading, from an unknown zero
}

// stand is one way in which an eccentric may stand now.
type stand struct {
	start, throw float64 // the angle at the first reading
	cos, sin     float64 // of the angle now
	weight       float64
}

// The grid over which an eccentric's angle and throw are sought.
const (
	angleSteps = 48
	throwSteps = 5
)

// Eccentrics is what a plan with eccentrics is made for: at least as many
// positions as eccentrics, read as often as they were turned and once before.
type Eccentrics struct {
	Each     []Eccentric
	Body     [][]float64 // by position, by eccentric: what a lift of one moves it
	Readings [][]float64 // oldest first; by position
	U        float64     // standard uncertainty of one value
	Target   []float64   // by position
	Low      []float64
	High     []float64
}

// Reach is how near an eccentric can come to where it should be.
type Reach struct {
	Out  bool    // its target lies out of its reach, surely
	Most float64 // what is missing then, at its top or bottom, in the readings' unit
}

// Solve finds the turns that bring the positions home with the greatest
// probability. The readings are taken apart into the lift of each eccentric by
// least squares over the body. What is known of an eccentric is a weight for each
// angle and throw on a grid,
//
//	weight = exp(-½ Σ ((y - c - e (1 - cos(θ + turned)))/u)²),
//
// with c, the unknown zero, at its best for each (Bayes' rule with flat priors
// over the angle, over the throw within ±√3 of its uncertainty, and over c). Of
// all turns of up to half a turn either way that is chosen which most likely
// brings the lift within its limits, over all that weight. An error says what
// cannot be reckoned with.
func (p Eccentrics) Solve() (Solution, []Reach, error) {
	count, positions := len(p.Each), len(p.Body)
	solution := Solution{Turns: make([]float64, count), Past: make([]float64, count), Exact: make([]float64, count),
		Predicted: make([]float64, positions), U: make([]float64, positions), Left: make([]float64, positions), Pass: 1}
	reach := make([]Reach, count)
	if count == 0 || positions < count || len(p.Readings) == 0 {
		return solution, reach, fmt.Errorf(
			"linkage: %d eccentrics read at %d positions; as many positions at least, and one reading",
			count, positions,
		)
	}
	// What takes readings apart into the lift of each eccentric.
	body := mat.NewDense(positions, count, nil)
	for i, row := range p.Body {
		body.SetRow(i, row)
	}
	var apart mat.Dense
	eye := mat.NewDiagDense(positions, nil)
	for i := range positions {
		eye.SetDiag(i, 1)
	}
	if err := apart.Solve(body, eye); err != nil {
		return solution, reach, fmt.Errorf("linkage: the positions do not tell the eccentrics apart: %w", err)
	}
	// lift is the value of one eccentric in what stands at the positions.
	lift := func(j int, at []float64) float64 {
		value := 0.0
		for i := range positions {
			value += apart.At(j, i) * at[i]
		}
		return value
	}
	// Each by itself: where it may stand, and its likeliest turns.
	options := make([][]choice, count)
	best := make([]choice, count)
	for j := range p.Each {
		eccentric := &p.Each[j]
		variance := 0.0
		for i := range positions {
			variance += apart.At(j, i) * apart.At(j, i) * p.U * p.U
		}
		seen := make([]float64, len(p.Readings))
		for k, reading := range p.Readings {
			seen[k] = lift(j, reading)
		}
		eccentric.learn(seen, math.Sqrt(variance))
		low, high := p.limits(j, lift)
		options[j], best[j] = eccentric.choose(low-eccentric.now, high-eccentric.now, math.Sqrt(variance))
		reach[j] = eccentric.reach((low+high)/2-eccentric.now, (high-low)/2)
	}
	// All together, and what that brings.
	solution.Pass = p.together(options, best)
	ideal := 1.0
	for j, chosen := range best {
		solution.Turns[j], solution.Past[j], solution.Exact[j] = chosen.turns, chosen.past, chosen.turns
		ideal *= chosen.ideal
	}
	for i := range positions {
		solution.Predicted[i], solution.U[i] = p.expect(i, best)
	}
	if slices.ContainsFunc(solution.Turns, func(t float64) bool { return t != 0 }) {
		solution.Tries = 1 + (1-solution.Pass)/max(ideal, 0.01)
	}
	return solution, reach, nil
}

// expect is what a position will read after the turns chosen, and its standard
// uncertainty.
func (p Eccentrics) expect(i int, turned []choice) (mean, u float64) {
	mean = p.Readings[len(p.Readings)-1][i]
	variance := p.U * p.U
	for j, picked := range turned {
		mean += p.Body[i][j] * picked.change
		variance += p.Body[i][j] * p.Body[i][j] * picked.spread * picked.spread
	}
	return mean, math.Sqrt(variance)
}

// together goes over the choices once more, now by the positions, where what
// they change is known well enough to be taken as normal. It returns the
// probability that all positions pass.
func (p Eccentrics) together(options [][]choice, best []choice) float64 {
	for j, picked := range best {
		for i := range p.Body {
			if half := (p.High[i] - p.Low[i]) / 2; math.Abs(p.Body[i][j])*picked.spread > half {
				return product(best)
			}
		}
	}
	pass := func() float64 {
		all := 1.0
		for i := range p.Body {
			mean, u := p.expect(i, best)
			all *= within(p.Low[i], p.High[i], mean, u)
		}
		return all
	}
	now := pass()
	for range 2 {
		for j := range best {
			for _, option := range options[j] {
				was := best[j]
				best[j] = option
				if next := pass(); next > now*1.001 {
					now = next
				} else {
					best[j] = was
				}
			}
		}
	}
	return now
}

func product(best []choice) float64 {
	all := 1.0
	for _, b := range best {
		all *= b.pass
	}
	return all
}

// limits are those of one eccentric's lift: the target taken apart, and such
// a half-width that positions are within theirs where all lifts are.
func (p Eccentrics) limits(j int, lift func(int, []float64) float64) (low, high float64) {
	half := math.Inf(1)
	for i := range p.Body {
		if x := math.Abs(p.Body[i][j]); x > 1e-9 {
			all := 0.0
			for _, y := range p.Body[i] {
				all += math.Abs(y)
			}
			half = min(half, min(p.High[i]-p.Target[i], p.Target[i]-p.Low[i])/all)
		}
	}
	target := lift(j, p.Target)
	return target - half, target + half
}

// learn weighs the ways in which the eccentric may stand by its readings: over a
// coarse grid, and once it was turned over a finer one where that says anything.
func (e *Eccentric) learn(seen []float64, uncertainty float64) {
	e.now = seen[len(seen)-1]
	to := 2 * math.Pi
	if e.Rising {
		to = math.Pi
	}
	// Lay the grid: over the angles, and over the throw where it is uncertain.
	angleStep, throwStep := to/angleSteps, 0.0
	throws := []float64{e.Throw * e.Gain}
	if spread := math.Sqrt(3) * e.GainU; spread > 0 {
		throwStep = 2 * spread * throws[0] / throwSteps
		middle := throws[0]
		throws = throws[:0]
		for t := range throwSteps {
			throws = append(throws, middle+throwStep*(float64(t)-(throwSteps-1)/2.0))
		}
	}
	e.belief = e.belief[:0]
	for step := range angleSteps {
		for _, throw := range throws {
			e.belief = append(e.belief, stand{start: angleStep * (float64(step) + 0.5), throw: throw})
		}
	}
	e.width = throwStep
	e.weigh(seen, uncertainty, angleStep)
	if len(seen) == 1 {
		return
	}
	// Up to nine in place of each that is still likely, a third as far apart.
	finer := make([]stand, 0, 9*len(e.belief))
	for _, one := range e.belief {
		for aside := -1.0; aside <= 1; aside++ {
			for longer := -1.0; longer <= 1; longer++ {
				if longer == 0 || throwStep > 0 {
					start, throw := one.start+aside*angleStep/3, one.throw+longer*throwStep/3
					finer = append(finer, stand{start: start, throw: throw})
				}
			}
		}
	}
	e.belief, e.width = finer, throwStep/3
	e.weigh(seen, uncertainty, angleStep/3)
}

// weigh works out the weights of all that is believed, and drops what is less
// than a four-hundredth as likely as the best.
func (e *Eccentric) weigh(seen []float64, uncertainty, angleStep float64) {
	greatest := math.Inf(-1)
	lost, slack := e.lostFirst()
	lift, variance := make([]float64, len(seen)), make([]float64, len(seen))
	for i := range e.belief {
		one := &e.belief[i]
		zero, sum := 0.0, 0.0
		// The lift that it should have shown at each reading, and how sure that is.
		for k, value := range seen {
			angle := one.start + 2*math.Pi*e.Turned[k]
			if k == 0 {
				angle += 2 * math.Pi * lost // what the first turn lost moves this reading against the others
			}
			one.sin, one.cos = math.Sincos(angle)
			lift[k] = -one.throw * one.cos
			slope := 2 * math.Pi * one.throw * one.sin
			variance[k] = uncertainty*uncertainty + slope*slope*2*e.Hand*e.Hand +
				one.throw*one.throw*angleStep*angleStep/12
			if k == 0 {
				variance[k] += slope * slope * slack
			}
			zero += (value - lift[k]) / variance[k]
			sum += 1 / variance[k]
		}
		zero /= sum
		// How badly that fits the readings.
		chi := 0.0
		for k, value := range seen {
			off := value - zero - lift[k]
			chi += off*off/variance[k] + math.Log(variance[k])
		}
		one.weight = -chi / 2
		greatest = max(greatest, one.weight)
	}
	// Keep what is worth keeping; the weights then add up to 1.
	total := 0.0
	kept := e.belief[:0]
	for _, one := range e.belief {
		if one.weight -= greatest; one.weight > -6 || len(seen) == 1 {
			one.weight = math.Exp(one.weight)
			if len(seen) == 1 {
				one.weight = 1 // one reading says nothing
			}
			total += one.weight
			kept = append(kept, one)
		}
	}
	for i := range kept {
		kept[i].weight /= total
	}
	e.belief = kept
}

// lostFirst is what the first turn is expected to have lost to play, in turns,
// and the variance of that.
func (e *Eccentric) lostFirst() (lost, variance float64) {
	for k := 1; k < len(e.Turned); k++ {
		way := e.Approach
		if way == 0 {
			way = sign(e.Turned[k] - e.Turned[k-1])
		}
		if way != 0 {
			return float64(way) * e.Play / 2, e.Play*e.Play/12 + e.PlayU*e.PlayU/3
		}
	}
	return 0, 0
}

// choice is one turn of an eccentric, and what it brings.
type choice struct {
	turns, past, pass, ideal, change, spread float64
}

// move is what a turn changes the lift by where an eccentric stands in one way, and
// the variance of that.
type move struct{ change, variance float64 }

// reaches is within for a variance: quicker where the mean is far from the limits.
func reaches(low, high, mean, variance float64) float64 {
	if out := max(low-mean, mean-high); out > 0 && out*out > 49*variance {
		return 0 // as within has it beyond seven standard deviations
	}
	return within(low, high, mean, math.Sqrt(variance))
}

// choose finds the turn that most likely brings the lift within limits given
// from where it is; of those within a hundredth of it, the least. It returns
// those, too, that are at least half as likely.
func (e *Eccentric) choose(low, high, uncertainty float64) (options []choice, best choice) {
	best.pass = -1
	moves := make([]move, len(e.belief))
	try := func(k int) {
		// What cannot be set, or is not worth setting, is no choice.
		turn := float64(k) * e.Increment
		if math.Abs(turn) < e.Useful-1e-9 && k != 0 || turn > e.Most || turn < e.Least {
			return
		}
		// The chance that it brings the lift within its limits, over all the ways in which
		// it may stand; given up once what is left of them cannot make it half of the best.
		set := e.set(turn)
		pass, left, enough := 0.0, 1.0, best.pass/2-1e-9
		sin, cos := math.Sincos(2 * math.Pi * set.effect)
		for i, one := range e.belief {
			change := one.throw * (one.cos - (one.cos*cos - one.sin*sin))
			slope := 2 * math.Pi * one.throw * (one.sin*cos + one.cos*sin)
			variance := slope * slope * set.variance
			moves[i] = move{change, variance}
			pass += one.weight * reaches(low, high, change, uncertainty*uncertainty+variance)
			if left -= one.weight; pass+left < enough {
				return
			}
		}
		// What it changes, on the average.
		var mean, square float64
		for i, one := range e.belief {
			mean += one.weight * moves[i].change
			square += one.weight * (moves[i].change*moves[i].change + moves[i].variance)
		}
		// Ideal is what such a turn would reach if the stand were known and the aim perfect.
		slope := 2 * math.Pi * e.Throw * e.Gain
		made := choice{
			turns:  set.turns,
			past:   set.past,
			pass:   pass,
			change: mean,
			spread: math.Sqrt(max(square-mean*mean, 0)),
			ideal:  within(low, high, (low+high)/2, math.Hypot(uncertainty, slope*e.Hand)),
		}
		if turn == 0 {
			made.ideal = 1
		}
		options = append(options, made)
		if pass > best.pass*1.01 {
			best = made
		}
	}
	// Every second increment, the smaller first, then those next to the best.
	steps := int(math.Floor(0.5/e.Increment + 1e-9))
	try(0)
	for k := 2; k <= steps; k += 2 {
		try(k)
		try(-k)
	}
	near := int(math.Round(best.turns / e.Increment))
	try(near - 1)
	try(near + 1)
	return slices.DeleteFunc(options, func(c choice) bool { return c.pass < best.pass/2 }), best
}

// reach says whether a change of lift can be had, by all that is believed.
func (e *Eccentric) reach(change, half float64) Reach {
	out, missing := 0.0, 0.0
	for _, one := range e.belief {
		up, down := one.throw*(1+one.cos), -one.throw*(1-one.cos)
		if over := max(change-up, down-change); over > half {
			out += one.weight
			missing += one.weight * over
		}
	}
	if out < 0.95 {
		return Reach{}
	}
	return Reach{true, missing / out}
}
