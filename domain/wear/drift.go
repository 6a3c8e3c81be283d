package wear

import "math"

// Point is a reading Y with its standard uncertainty U, after X hours of use.
type Point struct{ X, Y, U float64 }

// Drift is how a reading changes with use.
type Drift struct {
	Points int     // that it rests on: those since the last jump
	Line   Fit     // through them; of no account while there are fewer than three
	Last   float64 // hours of use at the last of them
	Proved bool    // the slope is proved different from nothing
	// More is how many readings more it takes until a slope like this one would be
	// proved, if they come as often as so far and are as good; 0 where it is proved,
	// -1 for very many.
	More int
	Jump *Jump // where the readings jumped last, nil if they did not
}

// Jump is a change of level between two readings, more likely than a slope.
type Jump struct {
	After int     // the index of the last point before it
	By    float64 // how far
}

// Least is how many readings a slope rests on at the least, and MostMore how many
// more are spoken of. Common practice, no source.
const (
	Least    = 4
	MostMore = 20
)

// level is the coverage at which a slope is proved.
const level = 0.95

// Follow fits a line through readings in the order in which they were taken, by
// weighted least squares with known uncertainties (ISO/TS 28037:2010, 6), scaled by
// the scatter where that is more than they allow:
//
//	|b|/s(b) against the coverage factor at 95 %
//
// Where two levels with a jump between them fit better than one line, by Akaike's
// criterion for small samples (χ² + 2k + 2k(k + 1)/(n - k - 1), k = 2 and 3; from
// memory), what lies before the jump is left out.
func Follow(points []Point) Drift {
	drift := Drift{Points: len(points)}
	if len(points) == 0 {
		return drift
	}
	drift.Last = points[len(points)-1].X
	if j := jump(points); j != nil {
		drift.Jump = j
		points = points[j.After+1:]
		drift.Points = len(points)
	}
	if drift.Points < 3 {
		drift.More = Least - drift.Points
		return drift
	}
	fit, err := line(points)
	if err != nil {
		drift.More = max(Least-drift.Points, 1)
		return drift
	}
	drift.Line = fit
	low, high := fit.Interval(fit.Coef[1], fit.SE[1], level)
	need := (high - low) / 2
	slope := math.Abs(fit.Coef[1])
	switch {
	case drift.Points >= Least && (low > 0 || high < 0):
		drift.Proved = true
	case slope == 0:
		drift.More = -1
	default:
		// The standard error of a slope falls as n to the power of three halves.
		n := float64(drift.Points) * math.Pow(need/slope, 2.0/3)
		drift.More = max(int(math.Ceil(n))-drift.Points, Least-drift.Points, 1)
		if drift.More > MostMore {
			drift.More = -1
		}
	}
	return drift
}

// line is a line through points, with the covariance of the known uncertainties or
// of the scatter, whichever is more.
func line(points []Point) (Fit, error) {
	var xs, ys, us, weights []float64
	for _, point := range points {
		xs, ys = append(xs, point.X), append(ys, point.Y)
		us, weights = append(us, point.U), append(weights, 1/(point.U*point.U))
	}
	fitted, err := LeastSquaresKnown(powers(xs, 1), ys, us)
	if err != nil {
		return fitted, err
	}
	if fitted.S > 1 {
		return Line(xs, ys, weights)
	}
	return fitted, nil
}

// jump finds the likeliest jump, nil where a line fits as well.
func jump(points []Point) *Jump {
	count := len(points)
	if count < 5 {
		return nil
	}
	straight, err := line(points)
	if err != nil {
		return nil
	}
	penalty := func(k float64) float64 { return 2*k + 2*k*(k+1)/(float64(count)-k-1) }
	var best *Jump
	least := straight.RSS + penalty(2)
	for i := 1; i < count-2; i++ { // two readings on each side at the least
		before, chiBefore := mean(points[:i+1])
		after, chiAfter := mean(points[i+1:])
		if chi := chiBefore + chiAfter + penalty(3); chi < least-2 {
			least, best = chi, &Jump{After: i, By: after - before}
		}
	}
	return best
}

// mean is a weighted mean, and χ² about it.
func mean(points []Point) (average, chi float64) {
	sum, weights := 0.0, 0.0
	for _, point := range points {
		weight := 1 / (point.U * point.U)
		sum, weights = sum+weight*point.Y, weights+weight
	}
	average = sum / weights
	for _, point := range points {
		chi += (point.Y - average) * (point.Y - average) / (point.U * point.U)
	}
	return average, chi
}

// Leaves is after how many hours of use more than at the last reading the line
// reaches a limit: as likely as not, and the range that holds it at a level (Inverse,
// on the line itself). ok is false while no slope is proved, or where it leads away
// from the limit. early is 0 where the range reaches the limit already; late is
// infinite where the slope may be too small.
func (d Drift) Leaves(limit, level float64) (early, middle, late float64, ok bool) {
	if !d.Proved {
		return 0, 0, 0, false
	}
	at, _ := d.Line.At([]float64{1, d.Last})
	slope := d.Line.Coef[1]
	if (limit-at)*slope < 0 {
		return 0, 0, 0, false
	}
	// Where the band of the line's own uncertainty meets the limit (Fieller).
	cross := func(sign float64) float64 {
		lo, hi := d.Last, d.Last
		past := func(x float64) bool {
			value, se := d.Line.At([]float64{1, x})
			value, high := d.Line.Interval(value, se, level)
			if sign*slope > 0 {
				value = high
			}
			return (limit-value)*slope <= 0
		}
		if past(lo) {
			return 0
		}
		for step := 1.0; !past(hi); step *= 2 {
			if hi = d.Last + step; step > 1e7 {
				return math.Inf(1)
			}
		}
		for range 60 {
			if m := (lo + hi) / 2; past(m) {
				hi = m
			} else {
				lo = m
			}
		}
		return hi - d.Last
	}
	x, _ := d.Line.Inverse(limit, 1, 0)
	return cross(1), max(x-d.Last, 0), cross(-1), true
}
