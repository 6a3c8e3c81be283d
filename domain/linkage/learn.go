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

// Odd reports whether the adjuster moved otherwise than was to be expected of
// it, by more than three times the uncertainty of that.
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
	n := len(adjusters)
	l := &Learner{append([]Adjuster(nil), adjusters...), mat.NewVecDense(2*n, nil), mat.NewSymDense(2*n, nil)}
	for j, a := range adjusters {
		l.state.SetVec(j, a.Gain)
		l.state.SetVec(n+j, a.Gain*a.Play)
		v := a.GainU * a.GainU
		l.cov.SetSym(j, j, v)
		l.cov.SetSym(j, n+j, a.Play*v)
		l.cov.SetSym(n+j, n+j, a.Play*a.Play*v+a.Gain*a.Gain*a.PlayU*a.PlayU)
	}
	return l
}

// Adjusters are the adjusters as they stand: their gains and plays as learned,
// and the way each was last turned.
func (l *Learner) Adjusters() []Adjuster { return append([]Adjuster(nil), l.adjusters...) }

// ways are, for each adjuster, how much effect a turn has per unit of gain and of
// lost motion, and the variance of the rest in turns.
func (l *Learner) ways(g Try) (gain, lost, variance []float64) {
	n := len(l.adjusters)
	gain, lost, variance = make([]float64, n), make([]float64, n), make([]float64, n)
	for j, a := range l.adjusters {
		t := g.Turns[j]
		if t == 0 {
			continue
		}
		way := sign(t)
		if g.Past[j] > 0 {
			way = -sign(t) // it came back
		}
		gain[j] = t
		hands := 1.0
		if g.Past[j] > 0 {
			hands = 2
		}
		variance[j] = hands * a.Hand * a.Hand
		switch a.Engaged {
		case way:
		case 0:
			lost[j] = -float64(way) / 2
			variance[j] += a.Play * a.Play / 12
		default:
			lost[j] = -float64(way)
		}
	}
	return gain, lost, variance
}

// Look says what one try by itself shows of each adjuster, before anything is
// learned from it: generalised least squares with hardly any prior.
func (l *Learner) Look(g Try, response [][]float64) []Seen {
	n, m := len(l.adjusters), len(g.After)
	gain, lost, variance := l.ways(g)
	seen := make([]Seen, n)
	const broad = 10.0 // prior standard deviation of a gain
	info := mat.NewSymDense(n, nil)
	right := mat.NewVecDense(n, nil)
	for j := range n {
		info.SetSym(j, j, 1/(broad*broad))
	}
	for i := range m {
		v := 2*g.U[i]*g.U[i] + 1e-18
		y := g.After[i] - g.Before[i]
		for j := range n {
			x := response[i][j]
			v += x * x * (variance[j]*l.adjusters[j].Gain*l.adjusters[j].Gain + lost[j]*lost[j]*l.cov.At(n+j, n+j))
			y -= x * lost[j] * l.state.AtVec(n+j)
		}
		for j := range n {
			x := response[i][j] * gain[j]
			right.SetVec(j, right.AtVec(j)+x*y/v)
			for k := j; k < n; k++ {
				info.SetSym(j, k, info.At(j, k)+x*response[i][k]*gain[k]/v)
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		return seen
	}
	var est mat.VecDense
	var cov mat.SymDense
	if chol.SolveVecTo(&est, right) != nil || chol.InverseTo(&cov) != nil {
		return seen
	}
	for j := range n {
		u := math.Sqrt(cov.At(j, j))
		seen[j] = Seen{Turned: g.Turns[j] != 0 && u < broad/2, Gain: est.AtVec(j), U: u,
			Expected: l.state.AtVec(j), Spread: math.Sqrt(l.cov.At(j, j))}
	}
	return seen
}

// Learn takes in what a try shows.
func (l *Learner) Learn(g Try, response [][]float64) {
	n, m := len(l.adjusters), len(g.After)
	gain, lost, variance := l.ways(g)
	design := mat.NewDense(m, 2*n, nil)
	noise := mat.NewSymDense(m, nil)
	change := mat.NewVecDense(m, nil)
	for i := range m {
		change.SetVec(i, g.After[i]-g.Before[i])
		for j := range n {
			design.Set(i, j, response[i][j]*gain[j])
			design.Set(i, n+j, response[i][j]*lost[j])
		}
		for k := i; k < m; k++ {
			v := 0.0
			if i == k {
				v = 2*g.U[i]*g.U[i] + 1e-18
			}
			for j := range n {
				v += response[i][j] * response[k][j] * variance[j] * l.adjusters[j].Gain * l.adjusters[j].Gain
			}
			noise.SetSym(i, k, v)
		}
	}
	var ph, s mat.Dense
	ph.Mul(l.cov, design.T())
	s.Mul(design, &ph)
	s.Add(&s, noise)
	var lu mat.LU
	lu.Factorize(&s)
	var k, expected, moved mat.Dense
	if lu.SolveTo(&k, true, ph.T()) != nil {
		return // nothing that can be told apart
	}
	expected.Mul(design, l.state)
	var off mat.VecDense
	off.SubVec(change, expected.ColView(0))
	moved.Mul(k.T(), &off)
	l.state.AddVec(l.state, moved.ColView(0))
	var less mat.Dense
	less.Mul(&ph, &k)
	for i := range 2 * n {
		for j := i; j < 2*n; j++ {
			l.cov.SetSym(i, j, l.cov.At(i, j)-(less.At(i, j)+less.At(j, i))/2)
		}
	}
	l.engage(g)
	for j := range l.adjusters {
		a := &l.adjusters[j]
		if g := l.state.AtVec(j); math.Abs(g) >= 0.05 { // less is no screw that can be planned with
			a.Gain = g
			a.Play = max(l.state.AtVec(n+j)/g, 0)
		}
		a.GainU = math.Sqrt(max(l.cov.At(j, j), 0))
		a.PlayU = math.Sqrt(
			max(l.cov.At(n+j, n+j)-2*a.Play*l.cov.At(j, n+j)+a.Play*a.Play*l.cov.At(j, j), 0),
		) / math.Abs(
			a.Gain,
		)
	}
}

// Skip notes the way that the adjusters were turned in a try that nothing is
// learned from.
func (l *Learner) Skip(g Try) { l.engage(g) }

func (l *Learner) engage(g Try) {
	for j := range l.adjusters {
		switch t := g.Turns[j]; {
		case t == 0:
		case g.Past[j] > 0:
			l.adjusters[j].Engaged = -sign(t)
		default:
			l.adjusters[j].Engaged = sign(t)
		}
	}
}
