package linkage_test

import (
	"math"
	"math/rand/v2"
	"testing"

	. "setscrew/domain/linkage"
)

// A try shows something of what was turned and nothing of what was not.
func TestLook(t *testing.T) {
	a := free
	a.GainU, a.Hand = 0.1, 4.0/360
	l := NewLearner([]Adjuster{a, a})
	seen := l.Look(
		Try{
			Turns:  []float64{0.125, 0},
			Past:   []float64{0, 0},
			Before: []float64{6, 1},
			After:  []float64{6, 1},
			U:      []float64{0.1, 0.1},
		},
		[][]float64{{-50, 0}, {0, -50}},
	)
	if s := seen[0]; !s.Turned || math.Abs(s.Gain) > 0.01 || s.U > 0.2 || !s.Odd() || s.Believed() || s.Backwards() {
		t.Errorf("turned, and nothing moved: %+v", s)
	}
	if seen[1].Turned {
		t.Errorf("not turned: %+v", seen[1])
	}
}

func TestBackwards(t *testing.T) {
	a := free
	a.GainU, a.Hand = 0.17, 0.01
	learner := NewLearner([]Adjuster{a})
	try := Try{
		Turns:  []float64{0.5},
		Past:   []float64{0},
		Before: []float64{1},
		After:  []float64{0.52},
		U:      []float64{0.01},
	}
	if s := learner.Look(try, [][]float64{{1}})[0]; !s.Backwards() || !s.Odd() || !s.Turned {
		t.Errorf("half a turn on brought half back: %+v", s)
	}
	try.After[0] = 1.05
	if s := learner.Look(try, [][]float64{{1}})[0]; s.Backwards() || !s.Odd() {
		t.Errorf("it hardly moved: %+v", s)
	}
	try.After[0] = 1.45
	if s := learner.Look(try, [][]float64{{1}})[0]; s.Backwards() || s.Odd() {
		t.Errorf("it moved nearly as it should: %+v", s)
	}
	learner.Learn(try, [][]float64{{1}})
	if got := learner.Adjusters()[0]; got.Gain > 0.95 || got.Gain < 0.88 || got.GainU > 0.05 || got.Engaged != 1 {
		t.Errorf("learned %+v", got)
	}
	// One that was not turned teaches nothing.
	before := learner.Adjusters()[0]
	learner.Learn(
		Try{Turns: []float64{0}, Past: []float64{0}, Before: []float64{1}, After: []float64{0}, U: []float64{0.01}},
		[][]float64{{1}},
	)
	if got := learner.Adjusters()[0]; math.Abs(got.Gain-before.Gain) > 1e-12 || got.Engaged != 1 {
		t.Errorf("untouched it taught %+v", got)
	}
}

// Play is learned from reversals, and then used.
func TestPlayIsLearned(t *testing.T) {
	const play, gain = 0.08, 1.1
	a := free
	a.Increment, a.GainU, a.Play, a.PlayU, a.Hand = 1.0/60, 0.17, 0.05, 0.03, 0.002
	learner := NewLearner([]Adjuster{a})
	rng := rand.New(rand.NewPCG(1, 2))
	mach := &machine{
		response: [][]float64{{1}},
		gain:     []float64{gain},
		play:     []float64{play},
		offset:   []float64{0},
		nut:      []float64{0},
		angle:    []float64{0.02},
	}
	mach.by = []*rand.Rand{rng}
	readings := mach.truth()
	for k := range 12 {
		turn := 0.5
		if k%2 == 1 {
			turn = -0.5
		}
		mach.turn(0, turn-hand*0)
		z := mach.truth()
		learner.Learn(Try{Turns: []float64{turn}, Past: []float64{0}, Before: readings, After: z,
			U: []float64{0.001}}, mach.response)
		readings = z
	}
	if got := learner.Adjusters()[0]; math.Abs(got.Gain-gain) > 3*got.GainU+0.02 ||
		math.Abs(got.Play-play) > 3*got.PlayU+0.02 ||
		got.PlayU > 0.02 {
		t.Errorf("learned %+v, want gain %v and play %v", got, gain, play)
	}
}
