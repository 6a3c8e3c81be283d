package metrology

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"setscrew/domain/quantity"
)

// Conformance is the probability that what was measured lies within limits, for
// a mean y with standard uncertainty u > 0 and ν degrees of freedom:
//
//	p = F((H - y)/u) - F((L - y)/u)
//
// with F Student's distribution of ν, the normal one where ν is infinite; an
// absent limit lies at infinity. JCGM 106:2012, 7.2 to 7.4. y, u, low and high
// are in one unit.
func Conformance(y, u, nu, low, high float64) float64 {
	cdf := distuv.UnitNormal.CDF
	if nu < mostDoF {
		cdf = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.CDF
	}
	p := 1.0
	if !math.IsInf(high, 1) {
		p = cdf((high - y) / u)
	}
	if !math.IsInf(low, -1) {
		p -= cdf((low - y) / u)
	}
	return min(max(p, 0), 1)
}

// ends are limits as numbers of base units, infinite where absent.
func (l Limits) ends(base quantity.Unit) (low, high float64) {
	low, high = math.Inf(-1), math.Inf(1)
	if l.Low.Valid() {
		low = l.Low.Float(base)
	}
	if l.High.Valid() {
		high = l.High.Float(base)
	}
	return low, high
}

// Probability is how likely a mean with a budget lies within limits, for show: it
// decides nothing. A budget without uncertainty gives 0 or 1.
func (b Budget) Probability(mean quantity.Value, l Limits) float64 {
	base := quantity.Base(mean.Kind())
	low, high := l.ends(base)
	if b.Combined == 0 {
		if l.Holds(mean) {
			return 1
		}
		return 0
	}
	return Conformance(mean.Float(base), b.Combined, b.DoF, low, high)
}

// Accept is the acceptance zone of limits with a guard band w on each side:
// L + w to H - w. It may be empty, its low end above its high one. With w = U it
// is guarded acceptance (JCGM 106:2012, 8.3.2); with a negative w, guarded
// rejection (8.3.3), what lies outside it being rejected.
func (l Limits) Accept(value quantity.Value) Limits {
	accepted := l
	if l.Low.Valid() {
		accepted.Low = l.Low.Add(value)
	}
	if l.High.Valid() {
		accepted.High = l.High.Sub(value)
	}
	return accepted
}

// Risks are what a decision rule lets go wrong over many pieces of a process.
type Risks struct {
	Consumer float64 // outside the tolerance, and accepted
	Producer float64 // inside it, and rejected
}

// RisksOf works out the global risks of accepting what is measured from low to
// high (the acceptance zone), where the true values spread normally about mean
// with standard deviation spread, and a measurement has standard uncertainty u:
//
//	R_C = ∫ outside tolerance  φ(η; mean, spread) · P(accept | η) dη
//	R_P = ∫ inside tolerance   φ(η; mean, spread) · (1 - P(accept | η)) dη
//	P(accept | η) = Φ((high - η)/u) - Φ((low - η)/u)
//
// JCGM 106:2012, 9.5, equations 17 to 20. All in one unit; spread and u positive.
// The integrals reach to ten spreads.
func RisksOf(mean, spread, u float64, tolerance, acceptance [2]float64) Risks {
	process := distuv.Normal{Mu: mean, Sigma: spread}
	accept := func(eta float64) float64 {
		return distuv.UnitNormal.CDF((acceptance[1]-eta)/u) - distuv.UnitNormal.CDF((acceptance[0]-eta)/u)
	}
	over := func(density func(float64) float64, from, to float64) float64 {
		from, to = max(from, mean-10*spread), min(to, mean+10*spread)
		if from >= to {
			return 0
		}
		// In pieces no wider than the narrower of the two bells.
		n := int(math.Ceil((to - from) / min(spread, u)))
		n = min(max(n, 1), 400)
		sum, step := 0.0, (to-from)/float64(n)
		for i := range n {
			sum += quad.Fixed(density, from+float64(i)*step, from+float64(i+1)*step, 16, nil, 0)
		}
		return sum
	}
	taken := func(eta float64) float64 { return process.Prob(eta) * accept(eta) }
	refused := func(eta float64) float64 { return process.Prob(eta) * (1 - accept(eta)) }
	return Risks{
		Consumer: over(taken, math.Inf(-1), tolerance[0]) + over(taken, tolerance[1], math.Inf(1)),
		Producer: over(refused, tolerance[0], tolerance[1]),
	}
}

// Settling is what would settle a value that is too close to a limit to tell.
type Settling struct {
	Repeats int   // how many readings at the place would do, 0 if repeats cannot or do not help
	Gauges  []int // which of the other gauges would do with one reading
}

// mostRepeats is how many repeats are ever asked for.
const mostRepeats = 20

// Settle says what would settle whether y lies within limits, which its budget
// leaves undecided: repeats with the gauge, if its spread is known (its
// standard deviation sd in base units, from the repeats there are; or by a study), or
// one reading with another gauge. It takes for granted that the mean stays where it is.
func Settle(y quantity.Value, limits Limits, gauge Gauge, budget Budget, sd float64, others []Gauge) Settling {
	var out Settling
	base := quantity.Base(y.Kind())
	low, high := limits.ends(base)
	at := y.Float(base)
	// The expanded uncertainty must be less than the distance to the nearer limit.
	room := min(math.Abs(at-low), math.Abs(high-at))
	if room == 0 {
		return out // at the limit itself nothing but another value decides
	}
	if gauge.Repeatability.Valid() || budget.N > 1 {
		// More repeats than were taken, with what is known of the spread now.
		known := gauge
		if !known.Repeatability.Valid() {
			known.Repeatability, known.DoF = quantity.FromFloat(sd, quantity.Base(budget.Kind)), float64(budget.N-1)
		}
		for n := budget.N + 1; n <= mostRepeats; n++ {
			if Evaluate(known, n, 0, budget.Level).Expanded < room {
				out.Repeats = n
				break
			}
		}
	}
	// One reading with a better gauge may do as well.
	for i, other := range others {
		if Evaluate(other, 1, 0, budget.Level).Expanded < room {
			out.Gauges = append(out.Gauges, i)
		}
	}
	return out
}
