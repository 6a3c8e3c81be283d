package wear

import (
	"math"
	"math/big"

	"gonum.org/v1/gonum/stat/distuv"
)

// MeanSD is the mean and the standard deviation (n - 1) of values, summed in 400
// bits. It needs two values.
func MeanSD(values []float64) (mean, sd float64) {
	m, squares := moments(values)
	return float(m), math.Sqrt(float(squares) / float64(len(values)-1))
}

// moments are the mean and the sum of squares about it.
func moments(values []float64) (mean, squares *big.Float) {
	sum := num(0)
	for _, v := range values {
		sum.Add(sum, num(v))
	}
	mean = new(big.Float).SetPrec(precision).Quo(sum, num(float64(len(values))))
	squares = num(0)
	for _, v := range values {
		d := new(big.Float).SetPrec(precision).Sub(num(v), mean)
		squares.Add(squares, mul(d, d))
	}
	return mean, squares
}

// Autocorrelation is how values go with those lag places before them:
//
//	r = Σ(y_i - ȳ)(y_{i+lag} - ȳ)/Σ(y_i - ȳ)²
//
// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.12.
func Autocorrelation(values []float64, lag int) float64 {
	mean, squares := moments(values)
	sum := num(0)
	for i := 0; i+lag < len(values); i++ {
		a := new(big.Float).SetPrec(precision).Sub(num(values[i]), mean)
		b := new(big.Float).SetPrec(precision).Sub(num(values[i+lag]), mean)
		sum.Add(sum, mul(a, b))
	}
	return float(new(big.Float).SetPrec(precision).Quo(sum, squares))
}

// MeanInterval is a mean's confidence interval: mean ± t(n - 1)·s/√n (NIST/SEMATECH
// e-Handbook of Statistical Methods, 1.3.5.2).
func MeanInterval(values []float64, level float64) (low, high float64) {
	mean, sd := MeanSD(values)
	n := float64(len(values))
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile((1 + level) / 2)
	return mean - t*sd/math.Sqrt(n), mean + t*sd/math.Sqrt(n)
}

// Groups is a one-way analysis of variance.
type Groups struct {
	SSB, SSW   float64 // between groups, within them
	DoFB, DoFW int
	F, P       float64
	R2, S      float64 // share between groups; residual standard deviation
}

// OneWay tells the spread between groups from that within them (NIST/SEMATECH
// e-Handbook of Statistical Methods, 7.4.3). It needs two groups and more values
// than groups.
func OneWay(groups [][]float64) Groups {
	var all []float64
	within := num(0)
	for _, g := range groups {
		all = append(all, g...)
		_, squares := moments(g)
		within.Add(within, squares)
	}
	_, total := moments(all)
	between := new(big.Float).SetPrec(precision).Sub(total, within)
	g := Groups{SSB: float(between), SSW: float(within), DoFB: len(groups) - 1, DoFW: len(all) - len(groups)}
	g.S = math.Sqrt(g.SSW / float64(g.DoFW))
	g.R2 = float(new(big.Float).SetPrec(precision).Quo(between, total))
	g.F = g.SSB / float64(g.DoFB) / (g.SSW / float64(g.DoFW))
	g.P = distuv.F{D1: float64(g.DoFB), D2: float64(g.DoFW)}.Survival(g.F)
	return g
}
