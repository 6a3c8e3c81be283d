// Package wear fits lines through what a shop has read: how a reading drifts, how
// a gauge reads against known values.
package wear

import (
	"errors"
	"fmt"
	"math"
	"math/big"

	"gonum.org/v1/gonum/stat/distuv"
)

// Fit is a model that is linear in its coefficients, fitted by least squares.
type Fit struct {
	Coef, SE []float64   // the coefficients and their standard errors
	Cov      [][]float64 // of the coefficients
	S        float64     // residual standard deviation
	DoF      int         // points less coefficients
	RSS      float64     // residual sum of squares; with known uncertainties chi-squared
	R2       float64     // share of the variation explained; about zero where there is no constant
	Known    bool        // the points' uncertainties were known, so that S does not scale Cov
}

// precision is how many bits the normal equations are worked out in: squaring the
// condition of a design loses nothing that float64 could have held.
const precision = 400

// Errors of fits that cannot be made.
var (
	ErrFew      = errors.New("wear: fewer points than coefficients")
	ErrSingular = errors.New("wear: the points do not tell the coefficients apart")
)

// LeastSquares fits y = Σ b_j·x_j to points given row by row:
//
//	b = (XᵀWX)⁻¹XᵀWy,  s² = Σw(y - ŷ)²/(n - p),  cov b = s²(XᵀWX)⁻¹
//
// w are relative weights, nil for equal ones. The normal equations are solved in
// 400 bits. NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1 and 4.1.4.3.
func LeastSquares(x [][]float64, y, w []float64) (Fit, error) { return solve(x, y, w, false) }

// LeastSquaresKnown is the same where each y has a known standard uncertainty u:
// weights 1/u², cov b = (XᵀWX)⁻¹, and RSS is chi-squared with DoF degrees of
// freedom (ISO/TS 28037:2010, 6).
func LeastSquaresKnown(x [][]float64, y, u []float64) (Fit, error) {
	w := make([]float64, len(u))
	for i := range u {
		w[i] = 1 / (u[i] * u[i])
	}
	return solve(x, y, w, true)
}

// Line fits y = b0 + b1·x, with relative weights as LeastSquares takes them.
func Line(x, y, w []float64) (Fit, error) { return LeastSquares(powers(x, 1), y, w) }

// powers are the rows 1, x, x², … of a polynomial.
func powers(x []float64, degree int) [][]float64 {
	rows := make([][]float64, len(x))
	for i, v := range x {
		rows[i] = make([]float64, degree+1)
		rows[i][0] = 1
		for j := 1; j <= degree; j++ {
			rows[i][j] = rows[i][j-1] * v
		}
	}
	return rows
}

func num(f float64) *big.Float { return new(big.Float).SetPrec(precision).SetFloat64(f) }

func float(f *big.Float) float64 { v, _ := f.Float64(); return v }

func mul(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(precision).Mul(a, b) }

// solve fits y = Σ b_j·x_j with weights w, nil for equal ones, as LeastSquares says;
// known as LeastSquaresKnown does.
func solve(x [][]float64, y, w []float64, known bool) (Fit, error) {
	count := len(y)
	if count == 0 || len(x) != count || w != nil && len(w) != count {
		return Fit{}, fmt.Errorf("wear: %d rows, %d values, %d weights: %w", len(x), count, len(w), ErrFew)
	}
	terms := len(x[0])
	if count < terms || count == terms && !known {
		return Fit{}, ErrFew
	}
	// [XᵀWX | I] is turned into [I | (XᵀWX)⁻¹].
	normal := make([][]*big.Float, terms)
	right := make([]*big.Float, terms)
	for j := range normal {
		normal[j] = make([]*big.Float, 2*terms)
		for k := range normal[j] {
			normal[j][k] = num(0)
		}
		normal[j][terms+j] = num(1)
		right[j] = num(0)
	}
	weight := func(i int) *big.Float {
		if w == nil {
			return num(1)
		}
		return num(w[i])
	}
	for i := range x {
		for j := range terms {
			wx := mul(weight(i), num(x[i][j]))
			right[j].Add(right[j], mul(wx, num(y[i])))
			for k := range terms {
				normal[j][k].Add(normal[j][k], mul(wx, num(x[i][k])))
			}
		}
	}
	if !invert(normal) {
		return Fit{}, ErrSingular
	}
	// The coefficients, and what they leave.
	exact := make([]*big.Float, terms)
	fit := Fit{DoF: count - terms, Known: known}
	for j := range exact {
		exact[j] = num(0)
		for k := range terms {
			exact[j].Add(exact[j], mul(normal[j][terms+k], right[k]))
		}
		fit.Coef = append(fit.Coef, float(exact[j]))
	}
	rss, sum, weights, squares := num(0), num(0), num(0), num(0)
	for i := range x {
		residual := num(y[i])
		for j := range exact {
			residual.Sub(residual, mul(exact[j], num(x[i][j])))
		}
		rss.Add(rss, mul(weight(i), mul(residual, residual)))
		sum.Add(sum, mul(weight(i), num(y[i])))
		weights.Add(weights, weight(i))
		squares.Add(squares, mul(weight(i), mul(num(y[i]), num(y[i]))))
	}
	// Standard errors, scaled by the scatter unless it is known; the share explained.
	fit.RSS = float(rss)
	scale := 1.0
	if fit.DoF > 0 {
		fit.S = math.Sqrt(fit.RSS / float64(fit.DoF))
		if !known {
			scale = fit.RSS / float64(fit.DoF)
		}
	}
	for j := range terms {
		row := make([]float64, terms)
		for k := range terms {
			row[k] = scale * float(normal[j][terms+k])
		}
		fit.Cov = append(fit.Cov, row)
		fit.SE = append(fit.SE, math.Sqrt(row[j]))
	}
	total := squares
	if constant(x) {
		mean := new(big.Float).SetPrec(precision).Quo(sum, weights)
		total = new(big.Float).SetPrec(precision).Sub(squares, mul(mean, sum))
	}
	if total.Sign() > 0 {
		fit.R2 = float(new(big.Float).SetPrec(precision).Sub(num(1), new(big.Float).SetPrec(precision).Quo(rss, total)))
	}
	return fit, nil
}

// constant reports whether a design has a column of ones.
func constant(x [][]float64) bool {
	for j := range x[0] {
		all := true
		for i := range x {
			all = all && x[i][j] == 1
		}
		if all {
			return true
		}
	}
	return false
}

// invert turns the left half of a matrix into the identity and the right half into its
// inverse; false if it is singular.
func invert(matrix [][]*big.Float) bool {
	size := len(matrix)
	for j := range size {
		pivot := j
		for i := j + 1; i < size; i++ {
			if new(big.Float).Abs(matrix[i][j]).Cmp(new(big.Float).Abs(matrix[pivot][j])) > 0 {
				pivot = i
			}
		}
		matrix[j], matrix[pivot] = matrix[pivot], matrix[j]
		// What 400 bits leave of a column that depends on others is nothing.
		if matrix[j][j].Sign() == 0 || matrix[j][j].MantExp(nil) < -300 {
			return false
		}
		lead := new(big.Float).SetPrec(precision).Set(matrix[j][j])
		for k := range matrix[j] {
			matrix[j][k].Quo(matrix[j][k], lead)
		}
		for i := range size {
			if i == j || matrix[i][j].Sign() == 0 {
				continue
			}
			times := new(big.Float).SetPrec(precision).Set(matrix[i][j])
			for k := range matrix[i] {
				matrix[i][k].Sub(matrix[i][k], mul(times, matrix[j][k]))
			}
		}
	}
	return true
}

// At is the fitted value at a row, with its standard error: √(xᵀ·cov·x).
func (f Fit) At(x []float64) (value, se float64) {
	variance := 0.0
	for j := range x {
		value += f.Coef[j] * x[j]
		for k := range x {
			variance += x[j] * f.Cov[j][k] * x[k]
		}
	}
	return value, math.Sqrt(variance)
}

// Interval is value ± t·se at a level: the normal distribution's t where the points'
// uncertainties were known, Student's with the fit's degrees of freedom where their
// scatter told them.
func (f Fit) Interval(value, se, level float64) (low, high float64) {
	t := distuv.UnitNormal.Quantile((1 + level) / 2)
	if !f.Known {
		t = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(f.DoF)}.Quantile((1 + level) / 2)
	}
	return value - t*se, value + t*se
}

// Inverse is where a line reads y, the mean of m new values of standard
// uncertainty u each, with its standard uncertainty:
//
//	x = (y - b0)/b1
//	u²(x) = (u²/m + var b0 + x²·var b1 + 2x·cov(b0, b1))/b1²
//
// ISO/TS 28037:2010, 11.1; EURACHEM/CITAC Guide QUAM:2012, E.4 with the residual
// standard deviation for u.
func (f Fit) Inverse(y float64, m int, u float64) (x, ux float64) {
	b0, b1 := f.Coef[0], f.Coef[1]
	x = (y - b0) / b1
	v := u*u/float64(m) + f.Cov[0][0] + x*x*f.Cov[1][1] + 2*x*f.Cov[0][1]
	return x, math.Sqrt(v) / math.Abs(b1)
}
