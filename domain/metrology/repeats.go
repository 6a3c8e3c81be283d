package metrology

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Repeats describes values read again and again at one place.
type Repeats struct {
	N       int
	Mean, S float64 // S is the experimental standard deviation, 0 for one value
	Outlier int     // the place of one that stands apart, or -1
}

// Describe works out the mean and the experimental standard deviation of values
// (JCGM 100:2008, 4.2.1 and 4.2.2), and whether one stands apart by Grubbs' test
// at 5 % (two-sided, for three values or more) and by more than two steps of the
// gauge, since values that jump by whole steps fail that test for nothing. An
// outlier is named, never left out of the others. Values and step are in one unit.
func Describe(values []float64, step float64) Repeats {
	repeats := Repeats{N: len(values), Outlier: -1}
	switch repeats.N {
	case 0:
		return repeats
	case 1:
		repeats.Mean = values[0]
		return repeats
	}
	repeats.Mean, repeats.S = stat.MeanStdDev(values, nil)
	if repeats.N < 3 || repeats.S == 0 {
		return repeats
	}
	worst, at := 0.0, -1
	for i, v := range values {
		if d := math.Abs(v - repeats.Mean); d > worst {
			worst, at = d, i
		}
	}
	if worst > 2*step && worst/repeats.S > Grubbs(repeats.N, 0.05) {
		repeats.Outlier = at
	}
	return repeats
}

// Grubbs is the critical value of the greatest distance from the mean, in
// standard deviations, of n ≥ 3 normal values at significance alpha, two-sided:
//
//	(n - 1)/√n · √(t²/(n - 2 + t²)),  t = t(1 - alpha/(2n), n - 2)
//
// Grubbs (1969); NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1.
func Grubbs(n int, alpha float64) float64 {
	f := float64(n)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: f - 2}.Quantile(1 - alpha/(2*f))
	return (f - 1) / math.Sqrt(f) * math.Sqrt(t*t/(f-2+t*t))
}
