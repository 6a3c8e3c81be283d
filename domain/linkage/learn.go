package linkage

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Try is one try at a set of adjusters: turned by hand, between two readings.
type Try struct {
	Turns, Past   []float64 // by adjuster, as they were made
	Before, After []float64 // by row
	U             []float64 // by row: standard uncertainty of one reading, without what both share
}

// Seen is what one try by itself says of an adjuster.
type Seen struct {
	Turned   bool    // it was turned, and the readings can tell
	Gain     float64 // its response over the nominal one, by this try alone
	U        float64 // standard uncertainty of Gain
	Expected float64 // what was expected of it before
	Spread   float64 // standard uncertainty of Expected
}

// Backwards reports whether the adjuster surely moved the wrong way.
func (s Seen) Backwards() bool { return s.Turned && s.Gain < -2*s.U && s.Gain < -0.2 }

// Odd reports whether the adjuster moved otherwise than was expected of it,
// by more than three times the uncertainty of that.
func (s Seen) Odd() bool {
	return s.Turned && math.Abs(s.Gain-s.Expected) > 3*math.Hypot(s.U, s.Spread)
}

// Believed reports whether a try may be learned from: it is as expected, or at
// least within a quarter and four times the nominal response, the sign alike. What
// lies outside is something else than a screw's own way: another one was turned,
// it slipped, or a reading is wrong.
func (s Seen) Believed() bool {
	const times = 4.0
	g := s.Gain * float64(sign(s.Expected))
	return !s.Odd() || g > 1/times && g < times
}

// Learner estimates the real response of each adjuster from what its turns have
// done. Its state is, for each adjuster, its gain g (its response over the
// nominal one) and its lost motion c = g·play, normal with a common covariance.
// A try from reading y to y' has
//
//	y' - y = Σ R (g a - d·f·c) + noise,   d the way it finished,
//
// with a the turns, f the share of the play that had to be taken up (1 on a
// reversal, 0 if it went on, 1/2 where nobody knows), which is linear in the
// state: recursive least squares with covariance (the Kalman filter of a state
// that stays; Kalman 1960, from memory). The noise is that of both readings and
// of each turn by hand.
type Learner struct {
	adjusters []Adjuster // as they stand, with what was learned
	state     *mat.VecDense
	cov       *mat.SymDense
}

// NewLearner begins with what is known of the adjusters: their gains and plays,
// and the uncertainties of these, are the prior.
func NewLearner(adjusters []Adjuster) *Learner {
	count := len(adjusters)
	learner := &Learner{
		append([]Adjuster(nil), adjusters...), mat.NewVecDense(2*count, nil), mat.NewSymDense(2*count, nil),
	}
	for j, adjuster := range adjusters {
		learner.state.SetVec(j, adjuster.Gain)
		learner.state.SetVec(count+j, adjuster.Gain*adjuster.Play)
		variance := adjuster.GainU * adjuster.GainU
		learner.cov.SetSym(j, j, variance)
		learner.cov.SetSym(j, count+j, adjuster.Play*variance)
		learner.cov.SetSym(count+j, count+j,
			adjuster.Play*adjuster.Play*variance+adjuster.Gain*adjuster.Gain*adjuster.PlayU*adjuster.PlayU)
	}
	return learner
}

// Adjusters are the adjusters as they stand: their gains and plays as learned,
// and the way each was last turned.
func (l *Learner) Adjusters() []Adjuster { return append([]Adjuster(nil), l.adjusters...) }

// ways are, for each adjuster, how much effect a turn has per unit of gain and of
// lost motion, and the variance of the rest in turns.
func (l *Learner) ways(try Try) (gain, lost, variance []float64) {
	count := len(l.adjusters)
	gain, lost, variance = make([]float64, count), make([]float64, count), make([]float64, count)
	for j, adjuster := range l.adjusters {
		turns := try.Turns[j]
		if turns == 0 {
			continue
		}
		way := sign(turns)
		if try.Past[j] > 0 {
			way = -sign(turns) // it came back
		}
		gain[j] = turns
		hands := 1.0
		if try.Past[j] > 0 {
			hands = 2
		}
		variance[j] = hands * adjuster.Hand * adjuster.Hand
		switch adjuster.Engaged {
		case way:
		case 0:
			lost[j] = -float64(way) / 2
			variance[j] += adjuster.Play * adjuster.Play / 12
		default:
			lost[j] = -float64(way)
		}
	}
	return gain, lost, variance
}

// Look says what one try by itself shows of each adjuster, before anything is
// learned from it: generalised least squares with hardly any prior.
func (l *Learner) Look(try Try, response [][]float64) []Seen {
	count, rows := len(l.adjusters), len(try.After)
	gain, lost, variance := l.ways(try)
	seen := make([]Seen, count)
	const broad = 10.0 // prior standard deviation of a gain
	info := mat.NewSymDense(count, nil)
	right := mat.NewVecDense(count, nil)
	for j := range count {
		info.SetSym(j, j, 1/(broad*broad))
	}
	// The change of each row, freed of what play is believed to have taken from it.
	for i := range rows {
		spread := 2*try.U[i]*try.U[i] + 1e-18
		change := try.After[i] - try.Before[i]
		for j := range count {
			x := response[i][j]
			spread += x * x * (variance[j]*l.adjusters[j].Gain*l.adjusters[j].Gain +
				lost[j]*lost[j]*l.cov.At(count+j, count+j))
			change -= x * lost[j] * l.state.AtVec(count+j)
		}
		for j := range count {
			x := response[i][j] * gain[j]
			right.SetVec(j, right.AtVec(j)+x*change/spread)
			for k := j; k < count; k++ {
				info.SetSym(j, k, info.At(j, k)+x*response[i][k]*gain[k]/spread)
			}
		}
	}
	// Nothing is shown where the rows cannot tell the adjusters apart.
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		return seen
	}
	var est mat.VecDense
	var cov mat.SymDense
	if chol.SolveVecTo(&est, right) != nil || chol.InverseTo(&cov) != nil {
		return seen
	}
	// An estimate hardly better than the broad prior says nothing of its adjuster.
	for j := range count {
		u := math.Sqrt(cov.At(j, j))
		seen[j] = Seen{Turned: try.Turns[j] != 0 && u < broad/2, Gain: est.AtVec(j), U: u,
			Expected: l.state.AtVec(j), Spread: math.Sqrt(l.cov.At(j, j))}
	}
	return seen
}

// Learn takes in what a try shows.
func (l *Learner) Learn(try Try, response [][]float64) {
	count, rows := len(l.adjusters), len(try.After)
	gain, lost, variance := l.ways(try)
	// The model of this try: what each gain and lost motion does to each row.
	design := mat.NewDense(rows, 2*count, nil)
	noise := mat.NewSymDense(rows, nil)
	change := mat.NewVecDense(rows, nil)
	for i := range rows {
		change.SetVec(i, try.After[i]-try.Before[i])
		for j := range count {
			design.Set(i, j, response[i][j]*gain[j])
			design.Set(i, count+j, response[i][j]*lost[j])
		}
		// Rows share the error of a turn by hand; each has that of its readings alone.
		for k := i; k < rows; k++ {
			covariance := 0.0
			if i == k {
				covariance = 2*try.U[i]*try.U[i] + 1e-18
			}
			for j := range count {
				covariance += response[i][j] * response[k][j] * variance[j] * l.adjusters[j].Gain * l.adjusters[j].Gain
			}
			noise.SetSym(i, k, covariance)
		}
	}
	// How far the state follows what was seen, against what it was sure of (the Kalman gain).
	var crossed, total mat.Dense
	crossed.Mul(l.cov, design.T())
	total.Mul(design, &crossed)
	total.Add(&total, noise)
	var lu mat.LU
	lu.Factorize(&total)
	var follow, expected, moved mat.Dense
	if lu.SolveTo(&follow, true, crossed.T()) != nil {
		return // nothing that can be told apart
	}
	// Correct the state by what the readings are off, and be that much surer of it.
	expected.Mul(design, l.state)
	var off mat.VecDense
	off.SubVec(change, expected.ColView(0))
	moved.Mul(follow.T(), &off)
	l.state.AddVec(l.state, moved.ColView(0))
	var less mat.Dense
	less.Mul(&crossed, &follow)
	for i := range 2 * count {
		for j := i; j < 2*count; j++ {
			l.cov.SetSym(i, j, l.cov.At(i, j)-(less.At(i, j)+less.At(j, i))/2)
		}
	}
	// Put what was learned back into the adjusters' own terms.
	l.engage(try)
	for j := range l.adjusters {
		adjuster := &l.adjusters[j]
		if learned := l.state.AtVec(j); math.Abs(learned) >= 0.05 { // less is no screw that can be planned with
			adjuster.Gain = learned
			adjuster.Play = max(l.state.AtVec(count+j)/learned, 0)
		}
		adjuster.GainU = math.Sqrt(max(l.cov.At(j, j), 0))
		play := adjuster.Play
		variance := l.cov.At(count+j, count+j) - 2*play*l.cov.At(j, count+j) + play*play*l.cov.At(j, j)
		adjuster.PlayU = math.Sqrt(max(variance, 0)) / math.Abs(adjuster.Gain)
	}
}

// Skip notes the way that the adjusters were turned in a try that nothing is
// learned from.
func (l *Learner) Skip(g Try) { l.engage(g) }

func (l *Learner) engage(g Try) {
	for j := range l.adjusters {
		switch turned := g.Turns[j]; {
		case turned == 0:
		case g.Past[j] > 0:
			l.adjusters[j].Engaged = -sign(turned)
		default:
			l.adjusters[j].Engaged = sign(turned)
		}
	}
}
