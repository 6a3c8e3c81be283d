package linkage

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

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
	below, above := (low-mean)/sd, (high-mean)/sd
	if below > 0 { // by symmetry, the nearer limit on the right
		below, above = -above, -below
	}
	// Now a < 0 or both; if b < 0 the variable is far to the right of both.
	if above < -30 {
		return -above*above/2 - math.Log(-above*math.Sqrt(2*math.Pi))
	}
	if above < 0 {
		return math.Log(unit.CDF(above) - unit.CDF(below))
	}
	return math.Log1p(-unit.CDF(below) - unit.CDF(-above))
}

// within is the probability that a normal variable lies between two limits.
func within(low, high, mean, sd float64) float64 {
	sd = max(sd, 1e-12)
	below, above := (low-mean)/sd, (high-mean)/sd
	switch {
	case below > 7 || above < -7:
		return 0
	case below < -7 && above > 7:
		return 1
	}
	return phi(above) - phi(below)
}

// phi is Φ between the points of a table, good to 2e-6.
func phi(z float64) float64 {
	z = min(max(z, -phiEnd), phiEnd)
	at := (z + phiEnd) * phiSteps
	i := min(int(at), len(phiTable)-2)
	return phiTable[i] + (at-float64(i))*(phiTable[i+1]-phiTable[i])
}

const (
	phiEnd   = 7
	phiSteps = 128 // to one
)

var phiTable = func() (t [2*phiEnd*phiSteps + 1]float64) {
	for i := range t {
		t[i] = unit.CDF(float64(i)/phiSteps - phiEnd)
	}
	return t
}()
