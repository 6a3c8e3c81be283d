package metrology

import (
	"math"
	"sync"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"setscrew/domain/quantity"
)

// Gauge is a measuring instrument. Either Error or Uncertainty is given.
type Gauge struct {
	Resolution  quantity.Value `json:"resolution"`  // the smallest step that it shows
	Uncertainty quantity.Value `json:"uncertainty"` // expanded, U; or
	Error       quantity.Value `json:"error"`       // maximum permissible error, ±
	// Coverage is k, by which Uncertainty is expanded (JCGM 100:2008, 6.2.1: U = k·u).
	Coverage float64 `json:"coverage"`
	// Zeroed says that a reading is taken from a zero, so that the step counts twice.
	Zeroed        bool           `json:"zeroed,omitempty"`
	Repeatability quantity.Value `json:"repeatability"` // standard deviation of one reading, absent if never studied
	DoF           float64        `json:"dof,omitempty"` // degrees of freedom of Repeatability
}

// Part is one source of uncertainty.
type Part string

// The parts of a budget.
const (
	PartUncertainty Part = "uncertainty" // the gauge's stated uncertainty
	PartError       Part = "error"       // its maximum permissible error
	PartResolution  Part = "resolution"  // its step
	PartZero        Part = "zero"        // its step once more, at the zero
	PartStudied     Part = "studied"     // how it repeats, by a study
	PartRepeats     Part = "repeats"     // how these readings repeat
)

// Line is one line of a budget, in base units of the kind that is measured.
type Line struct {
	Part   Part
	U      float64 // standard uncertainty of the mean
	DoF    float64 // degrees of freedom, infinite where it is known
	Shared bool    // the same in every reading with the gauge, so that it cancels in a difference
}

// Budget is how much a mean of repeats may be off.
type Budget struct {
	Kind     quantity.Kind
	Lines    []Line
	N        int     // repeats
	Combined float64 // standard uncertainty
	DoF      float64 // effective
	Level    float64 // coverage probability of Expanded
	K        float64
	Expanded float64
}

// U is the expanded uncertainty as a value.
func (b Budget) U() quantity.Value { return quantity.FromFloat(b.Expanded, quantity.Base(b.Kind)) }

// Evaluate makes the budget of the mean of n repeats with standard deviation s
// (in base units, of no account for one reading), at a coverage probability:
//
//	stated uncertainty   U/k                               ∞
//	permissible error    a/√3 (rectangular)                ∞
//	resolution           d/√12 (rectangular), twice with a zero
//	repeatability        s_r/√n as studied, ν as studied;
//	                     else s/√n with n - 1, for n > 1
//	u = √Σu_i²,  ν = u⁴/Σ(u_i⁴/ν_i),  U = t_p(ν)·u
//
// What repeats cannot average out, the gauge's own error and its step, stays
// whatever n. The gauge's stated error is shared between readings with it; its
// stated uncertainty only where its repeatability is known beside it, since it
// holds that too otherwise. JCGM 100:2008, 4.3.7, 4.2.3, F.2.2.1, G.4 and G.6.4.
func Evaluate(gauge Gauge, n int, s, level float64) Budget {
	budget := Budget{Kind: gauge.Resolution.Kind(), N: max(n, 1), Level: level}
	if budget.Kind == 0 {
		budget.Kind = gauge.Uncertainty.Kind()
	}
	base := quantity.Base(budget.Kind)
	inf := math.Inf(1)
	budget.Lines = make([]Line, 0, 4)
	random := gauge.Repeatability.Valid() || n > 1
	switch {
	case gauge.Error.Valid():
		budget.Lines = append(budget.Lines, Line{PartError, Rectangular(gauge.Error.Float(base)), inf, true})
	case gauge.Uncertainty.Valid() && gauge.Coverage > 0:
		u := gauge.Uncertainty.Float(base) / gauge.Coverage
		budget.Lines = append(budget.Lines, Line{PartUncertainty, u, inf, random})
	}
	if gauge.Resolution.Valid() {
		step := Rectangular(gauge.Resolution.Float(base) / 2)
		budget.Lines = append(budget.Lines, Line{PartResolution, step, inf, false})
		if gauge.Zeroed {
			budget.Lines = append(budget.Lines, Line{PartZero, step, inf, false})
		}
	}
	root := math.Sqrt(float64(budget.N))
	switch {
	case gauge.Repeatability.Valid():
		u := gauge.Repeatability.Float(base) / root
		budget.Lines = append(budget.Lines, Line{PartStudied, u, dof(gauge.DoF), false})
	case n > 1:
		budget.Lines = append(budget.Lines, Line{PartRepeats, s / root, float64(n - 1), false})
	}
	return budget.finish()
}

// dof is degrees of freedom as given, infinite if none are.
func dof(nu float64) float64 {
	if nu <= 0 {
		return math.Inf(1)
	}
	return nu
}

// finish combines a budget's lines and expands them.
func (b Budget) finish() Budget {
	u, nu := make([]float64, len(b.Lines)), make([]float64, len(b.Lines))
	for i, l := range b.Lines {
		u[i], nu[i] = l.U, l.DoF
	}
	b.Combined, b.DoF = Combine(u), EffectiveDoF(u, nu)
	b.K = Coverage(b.Level, b.DoF)
	b.Expanded = b.K * b.Combined
	return b
}

// Difference is the budget of the difference of two means taken with one gauge:
// what both share cancels (covariance u_i·u_j with correlation 1), the rest
// counts twice:
//
//	u² = Σ_shared (u_i - u_j)² + Σ_other (u_i² + u_j²)
//
// shared reports whether anything cancelled. JCGM 100:2008, 5.2.2, equation 13.
func Difference(one, other Budget) (diff Budget, shared bool) {
	diff = Budget{Kind: one.Kind, Level: one.Level, N: min(one.N, other.N)}
	for _, line := range one.Lines {
		if line.Shared {
			shared = true
			continue
		}
		diff.Lines = append(diff.Lines, line)
	}
	for _, l := range other.Lines {
		if !l.Shared {
			diff.Lines = append(diff.Lines, l)
		}
	}
	return diff.finish(), shared
}

// Combine is the combined standard uncertainty of parts that do not depend on
// each other: the root of the sum of their squares (JCGM 100:2008, 5.1.2,
// equation 10, with sensitivities in u).
func Combine(u []float64) float64 {
	sum := 0.0
	for _, x := range u {
		sum += x * x
	}
	return math.Sqrt(sum)
}

// EffectiveDoF is the effective degrees of freedom of a combined uncertainty,
//
//	ν = (Σu_i²)² / Σ(u_i⁴/ν_i)
//
// infinite if no part has finite ones. JCGM 100:2008, G.4.1, equation G.2b
// (Welch and Satterthwaite).
func EffectiveDoF(u, nu []float64) float64 {
	squares, fourths := 0.0, 0.0
	for i, x := range u {
		squares += x * x
		if !math.IsInf(nu[i], 1) {
			fourths += x * x * x * x / nu[i]
		}
	}
	if fourths == 0 {
		return math.Inf(1)
	}
	return squares * squares / fourths
}

// coverages holds the factors that were worked out before.
var coverages sync.Map

type coverageKey struct {
	level float64
	nu    int
}

// mostDoF is from where on Student's t is taken as normal: at one million the
// two differ by less than 1e-5.
const mostDoF = 1_000_000

// Coverage is the factor k that expands a standard uncertainty to an interval of
// that coverage probability (0 < level < 1): Student's t with the degrees of
// freedom cut down to a whole number, or at least one; the normal distribution's
// where they are infinite. JCGM 100:2008, G.3.2, G.4.1, Table G.2. Factors are
// kept once they are worked out.
func Coverage(level, nu float64) float64 {
	key := coverageKey{level, mostDoF}
	if nu < mostDoF {
		key.nu = max(int(nu+1e-9), 1)
	}
	if k, ok := coverages.Load(key); ok {
		return k.(float64)
	}
	p := (1 + level) / 2
	k := distuv.UnitNormal.Quantile(p)
	if key.nu < mostDoF {
		k = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(key.nu)}.Quantile(p)
	}
	coverages.Store(key, k)
	return k
}

// Rectangular is the standard uncertainty of a value that lies within ± a, anywhere
// as likely as elsewhere: a/√3 (JCGM 100:2008, 4.3.7).
func Rectangular(a float64) float64 { return a / math.Sqrt(3) }

// Calibration says when a gauge was last calibrated and how long that holds.
type Calibration struct {
	On   time.Time
	Days int // 0: no interval
}

// Overdue reports whether a calibration had run out at a moment, and when it
// did: Days after On. It is said; it never widens a budget.
func (c Calibration) Overdue(now time.Time) (since time.Time, overdue bool) {
	if c.On.IsZero() || c.Days <= 0 {
		return time.Time{}, false
	}
	since = c.On.AddDate(0, 0, c.Days)
	return since, !now.Before(since)
}
