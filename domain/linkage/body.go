package linkage

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Point is a place on a bar (Y is 0) or on a plate, in any one unit of length.
type Point struct{ X, Y float64 }

// Bar says how much a rigid bar on two adjusters moves at each place where it is
// read, for a move of one at each adjuster:
//
//	at x, (x2 - x)/(x2 - x1) of the first and (x - x1)/(x2 - x1) of the second
//
// A place beyond an adjuster moves against the other one (a lever; elementary
// geometry). The result has a row for each place. An error says that the two
// adjusters stand in one place.
func Bar(adjusters [2]float64, places []float64) ([][]float64, error) {
	span := adjusters[1] - adjusters[0]
	if span == 0 {
		return nil, errors.New("two adjusters in one place")
	}
	rows := make([][]float64, len(places))
	for i, x := range places {
		t := (x - adjusters[0]) / span
		rows[i] = []float64{1 - t, t}
	}
	return rows, nil
}

// Plate says how much a rigid plate on three or more adjusters moves at each
// place where it is read, for a move of one at each adjuster. The plate takes
// the least-squares plane through the heights of its adjusters; on three it goes
// through them:
//
//	row = [1 x y] (BᵀB)⁻¹ Bᵀ,   B the rows [1 x y] of the adjusters
//
// The result has a row for each place. An error says that there are too few
// adjusters, that two stand in one place, or all in one line.
func Plate(adjusters, places []Point) ([][]float64, error) {
	count := len(adjusters)
	if count < 3 {
		return nil, fmt.Errorf("a plate on %d adjusters; at least three", count)
	}
	for i, adjuster := range adjusters {
		for _, other := range adjusters[:i] {
			if adjuster == other {
				return nil, errors.New("two adjusters in one place")
			}
		}
	}
	flat, err := plane(adjusters)
	if err != nil {
		return nil, err
	}
	rows := make([][]float64, len(places))
	for i, at := range places {
		row := mat.NewVecDense(count, nil)
		row.MulVec(flat.T(), mat.NewVecDense(3, []float64{1, at.X, at.Y}))
		rows[i] = row.RawVector().Data
	}
	return rows, nil
}

// plane is what turns heights at points into the coefficients of the
// least-squares plane through them, (BᵀB)⁻¹Bᵀ.
func plane(points []Point) (*mat.Dense, error) {
	count := len(points)
	var cx, cy, size float64
	for _, point := range points {
		cx, cy = cx+point.X/float64(count), cy+point.Y/float64(count)
	}
	for _, point := range points {
		size = max(size, math.Hypot(point.X-cx, point.Y-cy))
	}
	if size == 0 {
		return nil, errors.New("all points in one place")
	}
	// Centred and scaled, so that lengths in any unit are as well conditioned.
	design := mat.NewDense(count, 3, nil)
	for i, point := range points {
		design.SetRow(i, []float64{1, (point.X - cx) / size, (point.Y - cy) / size})
	}
	var svd mat.SVD
	if !svd.Factorize(design, mat.SVDThin) || svd.Cond() > 1e6 {
		return nil, errors.New("all points in one line")
	}
	eye := mat.NewDiagDense(count, nil)
	for i := range count {
		eye.SetDiag(i, 1)
	}
	var coefficients mat.Dense
	svd.SolveTo(&coefficients, eye, 3)
	// Back to x and y as given.
	for j := range count {
		c0, c1, c2 := coefficients.At(0, j), coefficients.At(1, j)/size, coefficients.At(2, j)/size
		coefficients.Set(0, j, c0-c1*cx-c2*cy)
		coefficients.Set(1, j, c1)
		coefficients.Set(2, j, c2)
	}
	return &coefficients, nil
}
