package linkage

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Plane is the least-squares plane z = A + B x + C y through heights at points,
// and the twist: what each height differs from it.
type Plane struct {
	A, B, C float64
	Twist   []float64
}

// FitPlane finds the plane through heights, one a point. An error says that
// there are fewer than three, or all in one line.
func FitPlane(points []Point, heights []float64) (Plane, error) {
	if len(points) < 3 || len(points) != len(heights) {
		return Plane{}, fmt.Errorf("%d heights at %d points; at least three", len(heights), len(points))
	}
	dense, err := plane(points)
	if err != nil {
		return Plane{}, err
	}
	var c mat.VecDense
	c.MulVec(dense, mat.NewVecDense(len(heights), heights))
	p := Plane{A: c.AtVec(0), B: c.AtVec(1), C: c.AtVec(2)}
	for i, at := range points {
		p.Twist = append(p.Twist, heights[i]-(p.A+p.B*at.X+p.C*at.Y))
	}
	return p, nil
}

// Angles are the angles, from 0 to 2π, at which an eccentric with that throw can
// have stood, if turning it by that angle in radians changed its lift by change. From
//
//	change = e (cos θ - cos(θ + turned)) = 2 e sin(turned/2) sin(θ + turned/2)
//
// there are two, or none where no angle gives as much. A further move tells the
// two apart.
func Angles(throw, turned, change float64) []float64 {
	k := change / (2 * throw * math.Sin(turned/2))
	if !(math.Abs(k) <= 1) {
		return nil
	}
	angle := func(a float64) float64 { return math.Mod(a-turned/2+4*math.Pi, 2*math.Pi) }
	a, b := angle(math.Asin(k)), angle(math.Pi-math.Asin(k))
	if a == b {
		return []float64{a}
	}
	return []float64{min(a, b), max(a, b)}
}

// Learned is the interval from low to high, over the nominal throw, that holds
// the throw with a probability of 95 % by all that is believed since the last
// Solve, as much being left out on either side.
func (e *Eccentric) Learned() (low, high float64) {
	type cell struct{ throw, weight float64 }
	var cells []cell
	by := slices.Clone(e.belief)
	slices.SortFunc(by, func(a, b stand) int { return cmp.Compare(a.throw, b.throw) })
	for _, b := range by {
		if n := len(cells); n > 0 && b.throw-cells[n-1].throw <= e.width/2 {
			cells[n-1].weight += b.weight
		} else {
			cells = append(cells, cell{b.throw, b.weight})
		}
	}
	at := func(p float64) float64 {
		sum := 0.0
		for _, c := range cells {
			if sum+c.weight >= p {
				return (c.throw + e.width*((p-sum)/c.weight-0.5)) / e.Throw
			}
			sum += c.weight
		}
		return cells[len(cells)-1].throw / e.Throw
	}
	return at(0.025), at(0.975)
}
