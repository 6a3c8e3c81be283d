package wear

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// drifting are n readings of a slope and a jump, with noise.
func drifting(rng *rand.Rand, n int, slope, noise, jump float64, at int) []Point {
	var points []Point
	for i := range n {
		x := 10 * float64(i)
		y := 1 + slope*x + noise*rng.NormFloat64()
		if i > at {
			y += jump
		}
		points = append(points, Point{x, y, noise})
	}
	return points
}

// The range of hours until a limit holds as often as it says; what does not drift
// is seldom said to; a jump is not taken for a slope.
func TestFollow(t *testing.T) {
	const count, noise, slope = 10, 0.05, 0.004
	rng := rand.New(rand.NewPCG(1, 2))
	const runs = 2000
	within, proved, still, jumps := 0, 0, 0, 0
	for range runs {
		drift := Follow(drifting(rng, count, slope, noise, 0, count))
		if drift.Proved && drift.Jump == nil {
			proved++
			early, middle, late, ok := drift.Leaves(1.6, 0.8)
			if !ok || early > middle || middle > late {
				t.Fatalf("%v, %v, %v, %v", early, middle, late, ok)
			}
			if truth := 0.6/slope - drift.Last; early <= truth && truth <= late {
				within++
			}
		}
		if Follow(drifting(rng, count, 0, noise, 0, count)).Proved {
			still++
		}
		if d := Follow(drifting(rng, count, 0, noise, 0.5, 5)); d.Jump != nil && d.Jump.After == 5 &&
			math.Abs(d.Jump.By-0.5) < 0.2 &&
			!d.Proved {
			jumps++
		}
	}
	if proved < runs*8/10 {
		t.Errorf("a slope of %v standard deviations proved in %d of %d", slope*10*count/noise, proved, runs)
	}
	if share := float64(within) / float64(proved); share < 0.75 || share > 0.86 {
		t.Errorf("the limit lies within the range in %.3f of the cases, want 0.8", share)
	}
	if share := float64(still) / runs; share > 0.07 {
		t.Errorf("what does not drift is said to in %.3f of the cases", share)
	}
	if share := float64(jumps) / runs; share < 0.85 {
		t.Errorf("a jump is found in %.3f of the cases", share)
	}
}

func TestFollowFew(t *testing.T) {
	line := func(n int) (p []Point) {
		for i := range n {
			p = append(p, Point{float64(i), 1 + 0.1*float64(i), 0.01})
		}
		return p
	}
	for n, more := range []int{0: 0, 1: 3, 2: 2, 3: 1, 4: 0} {
		d := Follow(line(n))
		if n > 0 && d.More != more || d.Proved != (n >= 4) || d.Points != n {
			t.Errorf("%d readings: %+v", n, d)
		}
	}
	d := Follow(line(6))
	if early, middle, late, ok := d.Leaves(2, 0.8); !ok || math.Abs(middle-5) > 1e-9 || early > 5 || late < 5 {
		t.Errorf("%v, %v, %v, %v", early, middle, late, ok)
	}
	if _, _, _, ok := d.Leaves(0, 0.8); ok {
		t.Error("a slope leads to a limit behind it")
	}
	flat := []Point{{0, 1, 0.1}, {1, 1, 0.1}, {2, 1, 0.1}, {3, 1, 0.1}}
	if d := Follow(flat); d.Proved || d.More != -1 {
		t.Errorf("flat: %+v", d)
	}
	same := []Point{{5, 1, 0.1}, {5, 2, 0.1}, {5, 3, 0.1}}
	if d := Follow(same); d.Proved || d.More < 1 {
		t.Errorf("all at once: %+v", d)
	}
}

// Turned upside down, readings drift alike the other way; in other units too.
func TestFollowScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 12).Draw(t, "n")
		k := rapid.SampledFrom([]float64{-1, 25.4, 1e-3}).Draw(t, "scale")
		var points, scaled []Point
		for i := range n {
			x, y := float64(i)*rapid.Float64Range(1, 1.5).Draw(t, "x"), rapid.Float64Range(-1, 1).Draw(t, "y")
			points = append(points, Point{x, y, 0.2})
			scaled = append(scaled, Point{x, k * y, 0.2 * math.Abs(k)})
		}
		p, q := Follow(points), Follow(scaled)
		if p.Proved != q.Proved || p.More != q.More || (p.Jump == nil) != (q.Jump == nil) {
			t.Fatalf("%+v and %+v", p, q)
		}
	})
}
