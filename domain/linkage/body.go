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
	n := len(adjusters)
	if n < 3 {
		return nil, fmt.Errorf("a plate on %d adjusters; at least three", n)
	}
	for i, a := range adjusters {
		for _, b := range adjusters[:i] {
			if a == b {
				return nil, errors.New("two adjusters in one place")
			}
		}
	}
	q, err := plane(adjusters)
	if err != nil {
		return nil, err
	}
	rows := make([][]float64, len(places))
	for i, at := range places {
		row := mat.NewVecDense(n, nil)
		row.MulVec(q.T(), mat.NewVecDense(3, []float64{1, at.X, at.Y}))
		rows[i] = row.RawVector().Data
	}
	return rows, nil
}

// plane is what turns heights at points into the coefficients of the
// least-squares plane through them, (BᵀB)⁻¹Bᵀ.
func plane(points []Point) (*mat.Dense, error) {
	n := len(points)
	var cx, cy, size float64
	for _, a := range points {
		cx, cy = cx+a.X/float64(n), cy+a.Y/float64(n)
	}
	for _, a := range points {
		size = max(size, math.Hypot(a.X-cx, a.Y-cy))
	}
	if size == 0 {
		return nil, errors.New("all points in one place")
	}
	// Centred and scaled, so that lengths in any unit are as well conditioned.
	b := mat.NewDense(n, 3, nil)
	for i, a := range points {
		b.SetRow(i, []float64{1, (a.X - cx) / size, (a.Y - cy) / size})
	}
	var svd mat.SVD
	if !svd.Factorize(b, mat.SVDThin) || svd.Cond() > 1e6 {
		return nil, errors.New("all points in one line")
	}
	eye := mat.NewDiagDense(n, nil)
	for i := range n {
		eye.SetDiag(i, 1)
	}
	var q mat.Dense
	svd.SolveTo(&q, eye, 3)
	// Back to x and y as given.
	for j := range n {
		c0, c1, c2 := q.At(0, j), q.At(1, j)/size, q.At(2, j)/size
		q.Set(0, j, c0-c1*cx-c2*cy)
		q.Set(1, j, c1)
		q.Set(2, j, c2)
	}
	return &q, nil
}
