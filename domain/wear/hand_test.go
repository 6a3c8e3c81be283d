package wear

import (
	"errors"
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if got != want && !(math.Abs(got-want) <= 1e-9*max(math.Abs(want), 1)) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// four are points whose line is y = 0.1 + 0.6 x, with residuals -0.1, 0.3, -0.3, 0.1.
var four = struct{ x, y []float64 }{[]float64{0, 1, 2, 3}, []float64{0, 1, 1, 2}}

// A line worked out by hand: Sxx = 5, RSS = 0.2, s² = 0.1.
func TestLineByHand(t *testing.T) {
	fit, err := Line(four.x, four.y, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "b0", fit.Coef[0], 0.1)
	near(t, "b1", fit.Coef[1], 0.6)
	near(t, "RSS", fit.RSS, 0.2)
	near(t, "s", fit.S, math.Sqrt(0.1))
	near(t, "var b0", fit.Cov[0][0], 0.1*(1.0/4+2.25/5))
	near(t, "var b1", fit.Cov[1][1], 0.1/5)
	near(t, "cov", fit.Cov[0][1], -0.1*1.5/5)
	near(t, "cov", fit.Cov[1][0], fit.Cov[0][1])
	near(t, "se b0", fit.SE[0], math.Sqrt(0.07))
	near(t, "se b1", fit.SE[1], math.Sqrt(0.02))
	near(t, "R²", fit.R2, 0.9)
	if fit.DoF != 2 || fit.Known {
		t.Errorf("degrees of freedom %d, known %v", fit.DoF, fit.Known)
	}
	y, se := fit.At([]float64{1, 4})
	near(t, "at 4", y, 2.5)
	near(t, "its error", se, math.Sqrt(0.15))
	low, high := fit.Interval(2.5, 0.5, 0.95) // Student's t of two degrees: √2·0.95/√(1 - 0.95²)
	k := math.Sqrt2 * 0.95 / math.Sqrt(1-0.95*0.95)
	near(t, "low", low, 2.5-0.5*k)
	near(t, "high", high, 2.5+0.5*k)
	x, u := fit.Inverse(1.3, 2, 0.2)
	near(t, "where it reads 1.3", x, 2)
	near(t, "its uncertainty", u, math.Sqrt(0.04/2+0.07+4*0.02-4*0.03)/0.6)
	fit.Coef[1] = -0.6
	if _, down := fit.Inverse(1.3, 2, 0.2); !(down > 0) {
		t.Errorf("of a falling line: %v", down)
	}
}

// Known uncertainties are not scaled by the scatter; weights are the like of points
// that come several times.
func TestKnownAndWeightedByHand(t *testing.T) {
	fit, err := LeastSquaresKnown(powers(four.x, 1), four.y, []float64{0.5, 0.5, 0.5, 0.5})
	if err != nil || !fit.Known {
		t.Fatal(fit, err)
	}
	near(t, "chi-squared", fit.RSS, 0.8)
	near(t, "s", fit.S, math.Sqrt(0.4))
	near(t, "var b1", fit.Cov[1][1], 0.25/5)
	near(t, "se b1", fit.SE[1], 0.5/math.Sqrt(5))
	low, high := fit.Interval(1, 1, 0.95)
	near(t, "half of the interval", (high-low)/2, 1.9599639845400545)
	// As many known points as coefficients will do.
	if fit, err = LeastSquaresKnown(powers([]float64{0, 1}, 1), []float64{1, 3},
		[]float64{1, 1}); err != nil || fit.DoF != 0 || fit.S != 0 {
		t.Errorf("two known points: %+v, %v", fit, err)
	}
	near(t, "through both", fit.Coef[1], 2)
	near(t, "var b1", fit.Cov[1][1], 2)
	fit, err = LeastSquares([][]float64{{1}, {1}}, []float64{0, 3}, []float64{1, 2})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "weighted mean", fit.Coef[0], 2)
	near(t, "weighted RSS", fit.RSS, 6)
	near(t, "its variance", fit.Cov[0][0], 6.0/3)
	near(t, "R² of a constant", fit.R2, 0)
	// Without a constant R² is about zero.
	fit, err = LeastSquares([][]float64{{1}, {2}}, []float64{2, 5}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slope", fit.Coef[0], 2.4)
	near(t, "R² about zero", fit.R2, 1-0.2/29)
	if fit, err = Polynomial([]float64{0, 1, 2, 3}, []float64{1, 2, 5, 10}, 2); err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{1, 0, 1} {
		near(t, "coefficient of a parabola", fit.Coef[i], want)
	}
	for name, test := range map[string]struct {
		x    [][]float64
		y, w []float64
		want error
	}{
		"nothing": {nil, nil, nil, ErrFew}, "rows lack": {[][]float64{{1}}, []float64{1, 2}, nil, ErrFew},
		"weights lack": {[][]float64{{1}, {1}}, []float64{1, 2}, []float64{1}, ErrFew},
		"as many":      {[][]float64{{1, 0}, {1, 1}}, []float64{1, 2}, nil, ErrFew},
		"too few":      {[][]float64{{1, 0}}, []float64{1}, nil, ErrFew},
		"one place":    {[][]float64{{1, 2}, {1, 2}, {1, 2}}, []float64{1, 2, 3}, nil, ErrSingular},
	} {
		if _, err := LeastSquares(test.x, test.y, test.w); !errors.Is(err, test.want) {
			t.Errorf("%s: %v, want %v", name, err, test.want)
		}
	}
}

// sloped are readings on a line without scatter, one an hour.
func sloped(n int, slope, u float64) (all []Point) {
	for i := range n {
		all = append(all, Point{float64(i), 1 + slope*float64(i), u})
	}
	return all
}

// How many readings more it takes, by hand: of four readings an hour apart the
// slope's error is u/√5, and it falls as n to the power of three halves.
func TestMoreReadingsByHand(t *testing.T) {
	const uncertainty = 0.1
	need := 1.9599639845400545 * uncertainty / math.Sqrt(5)
	for _, test := range []struct {
		times  float64 // that the slope is too small
		proved bool
		more   int
	}{
		{0.999, true, 0}, {1.001, false, 1}, {2, false, 3}, // 4 · 2^(2/3) = 6.35
		{math.Pow(23.99/4, 1.5), false, 20}, {math.Pow(24.01/4, 1.5), false, -1}, {1e6, false, -1},
	} {
		for _, sign := range []float64{1, -1} {
			d := Follow(sloped(4, sign*need/test.times, uncertainty))
			if d.Proved != test.proved || d.More != test.more || d.Points != 4 || d.Last != 3 || d.Jump != nil {
				t.Errorf("%v times too small: %+v, want %v, %d more", test.times, d, test.proved, test.more)
			}
		}
	}
	// Three readings never prove; one more is the least that is asked for.
	if d := Follow(sloped(3, 1, 1e-3)); d.Proved || d.More != 1 {
		t.Errorf("three readings: %+v", d)
	}
	same := []Point{{5, 1, 0.1}, {5, 2, 0.1}, {5, 3, 0.1}, {5, 3, 0.1}}
	if d := Follow(same); d.Proved || d.More != 1 {
		t.Errorf("four at once: %+v", d)
	}
	if d := Follow(nil); d.Points != 0 || d.More != 0 || d.Proved {
		t.Errorf("nothing: %+v", d)
	}
}

// More scatter than the uncertainties allow scales the slope's error, and counts by
// Student's t: t of two degrees times √0.02 is 0.608, more than the slope of 0.6.
func TestScatterScales(t *testing.T) {
	points := func(u float64) (all []Point) {
		for i := range four.x {
			all = append(all, Point{four.x[i], four.y[i], u})
		}
		return all
	}
	drift := Follow(points(0.1))
	if drift.Proved || drift.More != 1 {
		t.Errorf("much scatter: %+v", drift)
	}
	near(t, "scaled variance", drift.Line.Cov[1][1], 0.02)
	near(t, "scaled error", drift.Line.SE[1], math.Sqrt(0.02))
	near(t, "scaled covariance", drift.Line.Cov[0][1], -0.03)
	drift = Follow(points(0.32)) // χ² = 1.95 for two degrees
	if !drift.Proved {
		t.Errorf("allowed scatter: %+v", drift)
	}
	near(t, "unscaled variance", drift.Line.Cov[1][1], 0.32*0.32/5)
}

// A jump is taken where its criterion is the less by more than two. Of six readings
// the penalties are 8 and 18, so that a χ² of the line of 12 decides; of five, 10
// and 30, so that it is 22. The χ² of the levels is nothing.
func TestJumpByHand(t *testing.T) {
	readings := func(u float64, y ...float64) (all []Point) {
		for i, v := range y {
			all = append(all, Point{float64(i), v, u})
		}
		return all
	}
	six, five := []float64{0, 0, 0, 1, 1, 1}, []float64{0, 0, 0, 1, 1}
	for _, test := range []struct {
		y       []float64
		rss, at float64 // the line's, and the χ² that decides
	}{{six, 1.5 - 4.5*4.5/17.5, 12}, {five, 1.2 - 0.9, 22}} {
		for _, side := range []float64{0.1, -0.1} {
			j := jump(readings(math.Sqrt(test.rss/(test.at+side)), test.y...))
			if (j != nil) != (side > 0) || j != nil && (j.After != 2 || math.Abs(j.By-1) > 1e-12) {
				t.Errorf("%d readings, %v beside: %+v", len(test.y), side, j)
			}
		}
	}
	if j := jump(readings(1e-3, 0, 0, 1, 1)); j != nil {
		t.Errorf("four readings: %+v", j)
	}
	if j := jump(readings(1e-3, 0, 0, 1, 1, 1, 1)); j == nil || j.After != 1 || j.By < 0.99 {
		t.Errorf("after two: %+v", j)
	}
	if j := jump(readings(1e-3, 1, 1, 1, 1, 0, 0)); j == nil || j.After != 3 || j.By > -0.99 {
		t.Errorf("before two, downwards: %+v", j)
	}
	// What rests on the readings since: two, so that two are missing.
	d := Follow(readings(1e-2, 0, 0, 0, 0, 1, 1))
	if d.Jump == nil || d.Points != 2 || d.More != 2 || d.Last != 5 {
		t.Errorf("followed: %+v", d)
	}
	m, chi := mean([]Point{{0, 1, 1}, {0, 4, 2}})
	near(t, "weighted mean", m, 1.6)
	near(t, "its chi-squared", chi, 0.36+1.44)
}

// At the ends of the range the band of the line meets the limit; upside down all is
// alike.
func TestLeavesMeetsTheBand(t *testing.T) {
	const quantile80 = 1.2815515655446004 // of the normal distribution, 80 % within
	for _, sign := range []float64{1, -1} {
		drift := Follow(sloped(6, sign*0.1, 0.05))
		limit := 1 + sign*1.0 // at 10 hours
		early, middle, late, ok := drift.Leaves(limit, 0.8)
		if !ok || !(early < middle && middle < late) {
			t.Fatalf("%v, %v, %v, %v", early, middle, late, ok)
		}
		near(t, "middle", middle, 5)
		for side, after := range map[float64]float64{1: early, -1: late} {
			y, se := drift.Line.At([]float64{1, drift.Last + after})
			if met := y + side*sign*quantile80*se; math.Abs(met-limit) > 1e-6 {
				t.Errorf("after %v hours the band is at %v, want %v", after, met, limit)
			}
		}
		// Surely enough, the slope may be too small ever to reach it.
		unsure := Follow(sloped(6, sign*0.1, 0.15)) // 2.8 standard errors
		if _, _, late, ok := unsure.Leaves(limit, 0.999); !ok || !math.IsInf(late, 1) {
			t.Errorf("at a level of 99.9 %%: late %v, %v", late, ok)
		}
		// The line stands at the limit: it may have passed it already.
		at, _ := drift.Line.At([]float64{1, drift.Last})
		early, middle, late, ok = drift.Leaves(at, 0.8)
		if !ok || early != 0 || math.Abs(middle) > 1e-9 || !(late > 0) {
			t.Errorf("at the limit: %v, %v, %v, %v", early, middle, late, ok)
		}
		if _, _, _, ok := drift.Leaves(at-sign*0.01, 0.8); ok {
			t.Error("a limit that lies behind")
		}
		// Far ahead, in hours of use by the hundred thousand.
		if _, middle, late, ok := drift.Leaves(1+sign*1e5,
			0.1); !ok || math.Abs(middle-(1e6-5)) > 1 || !(late > middle) || math.IsInf(late, 1) {
			t.Errorf("far ahead: %v, %v, %v", middle, late, ok)
		}
		if _, _, _, ok := Follow(sloped(3, sign*0.1, 0.001)).Leaves(limit, 0.8); ok {
			t.Error("a slope that is not proved reaches a limit")
		}
	}
}

// A fit of nothing but a constant is a mean, with its standard deviation and its
// interval by Student's t.
func TestMeanByHand(t *testing.T) {
	fit, err := LeastSquares(powers([]float64{0, 0, 0}, 0), []float64{4, 6, 8}, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", fit.Coef[0], 6)
	near(t, "standard deviation", fit.S, 2)
	fit, err = LeastSquares(powers([]float64{0, 0}, 0), []float64{4, 6}, nil)
	if err != nil {
		t.Fatal(err)
	}
	low, high := fit.Interval(fit.Coef[0], fit.SE[0], 0.95)
	near(t, "low", low, 5-math.Tan(0.475*math.Pi))
	near(t, "high", high, 5+math.Tan(0.475*math.Pi))
}
