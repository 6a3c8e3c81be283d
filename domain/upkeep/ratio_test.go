package upkeep_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	. "setscrew/domain/upkeep"
)

// The ratio is that of the sums, recent spans more; its uncertainty covers the
// true ratio as often as it should, over simulated shops.
func TestReport(t *testing.T) {
	now := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	span := func(days int, counted, logged float64) Span {
		return Span{now.AddDate(0, 0, -days), counted, logged}
	}
	if _, ok := Report(nil, now); ok {
		t.Error("nothing tells a ratio")
	}
	if _, ok := Report([]Span{span(1, 50, 1)}, now); ok {
		t.Error("an hour tells a ratio")
	}
	if r, ok := Report([]Span{span(0, 10, 6)}, now); !ok || math.Abs(r.Ratio-10.0/6) > 1e-12 || r.U != 0 ||
		r.Spans != 1 {
		t.Errorf("one span: %+v", r)
	}
	if r, _ := Report([]Span{span(0, 5, 6)}, now); r.Ratio != 1 {
		t.Errorf("more reported than counted: %+v", r)
	}
	// A span a half-life old counts half.
	if r, _ := Report([]Span{span(90, 30, 10), span(0, 10, 10)}, now); math.Abs(r.Ratio-25.0/15) > 1e-12 || r.U <= 0 {
		t.Errorf("an older span: %+v", r)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	covered, count := 0, 4000
	for range count {
		const truth = 1.6
		var spans []Span
		for i := range 12 {
			counted := 10 + 20*rng.Float64()
			spans = append(spans, span(i, counted, counted/truth*(1+0.15*rng.NormFloat64())))
		}
		r, _ := Report(spans, now)
		if math.Abs(r.Ratio-truth) < 2.2*r.U { // Student's t with 11 degrees of freedom, 95 %
			covered++
		}
	}
	if share := float64(covered) / float64(count); share < 0.92 || share > 0.98 {
		t.Errorf("95 %% intervals cover in %.1f %%", 100*share)
	}
}
