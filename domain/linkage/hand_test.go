package linkage

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/mat"
)

func near(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if got != want && !(math.Abs(got-want) <= by) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

var endless = Adjuster{Increment: 0.25, Least: math.Inf(-1), Most: math.Inf(1), Gain: 1}

// How a turn ends and what it loses: nothing where it goes on the way that it was
// last turned, all of the play on a reversal, half where nobody knows.
func TestFinish(t *testing.T) {
	for _, test := range []struct {
		approach, engaged int
		turns             float64
		way               int
		lost, variance    float64
	}{
		{0, 1, 0.5, 1, 0, 0}, {0, -1, 0.5, 1, 0.2, 9e-4}, {0, 0, 0.5, 1, 0.1, 0.04/12 + 3e-4},
		{0, -1, -0.5, -1, 0, 0}, {0, 1, -0.5, -1, 0.2, 9e-4}, {0, 0, 0, 0, 0, 0},
		{0, 1, 0, 0, 0, 0}, {0, -1, 0, 0, 0, 0}, // no turn loses nothing
		{-1, -1, 0.5, -1, 0, 0}, {1, -1, -0.5, 1, 0.2, 9e-4}, {1, 0, 0, 1, 0.1, 0.04/12 + 3e-4},
	} {
		a := Adjuster{Play: 0.2, PlayU: 0.03, Approach: test.approach, Engaged: test.engaged}
		way, lost, variance := a.finish(test.turns)
		if way != test.way {
			t.Errorf("%+v: way %d", test, way)
		}
		near(t, "lost", lost, test.lost, 1e-15)
		near(t, "variance", variance, test.variance, 1e-15)
	}
}

// What a turn brings: against the side of approach it goes past by the play and two
// uncertainties of it, in whole increments, at least one, and is made by hand twice.
func TestSetByHand(t *testing.T) {
	for _, test := range []struct {
		play, u, turns         float64
		past, effect, variance float64
	}{
		{0.3, 0.05, 0, 0, 0, 0}, {0.3, 0.05, 1, 0, 1, 1e-4}, {0.3, 0.05, -1, 0.5, -1, 2e-4},
		{0, 0, -1, 0.25, -1, 2e-4}, {0.5, 0, -1, 0.5, -1, 2e-4}, {0.26, 0, -1, 0.5, -1, 2e-4},
	} {
		adjuster := endless
		adjuster.Play, adjuster.PlayU, adjuster.Hand, adjuster.Approach, adjuster.Engaged = test.play, test.u, 0.01,
			1, 1
		o := adjuster.set(test.turns)
		near(t, "turns", o.turns, test.turns, 0)
		near(t, "past", o.past, test.past, 1e-15)
		near(t, "effect", o.effect, test.effect, 1e-15)
		near(t, "variance", o.variance, test.variance, 1e-15)
		// The other way round everything turns its sign.
		adjuster.Approach, adjuster.Engaged = -1, -1
		near(t, "effect the other way", adjuster.set(-test.turns).effect, -test.effect, 1e-15)
		near(t, "past the other way", adjuster.set(-test.turns).past, test.past, 1e-15)
	}
	a := endless
	a.Play, a.Engaged = 0.2, -1
	near(t, "after a reversal", a.set(1).effect, 0.8, 1e-15)
}

func TestAroundAndNearest(t *testing.T) {
	for _, test := range []struct {
		name   string
		change func(*Adjuster)
		effect float64
		each   int
		want   []float64
	}{
		{"between", nil, 0.6, 1, []float64{0.5, 0.75}}, {"on one", nil, 0.5, 1, []float64{0.5}},
		{"two each way", nil, 0.6, 2, []float64{0.25, 0.5, 0.75, 1}},
		{"downwards", nil, -0.6, 1, []float64{-0.75, -0.5}},
		{"the end", func(a *Adjuster) { a.Most = 0.7 }, 0.6, 1, []float64{0.5}},
		{"the end on an increment", func(a *Adjuster) { a.Most = 0.75 - 1e-12 }, 2, 1, []float64{0.75}},
		{"the other end", func(a *Adjuster) { a.Least = -0.7 }, -0.6, 1, []float64{-0.5}},
		{"the other end on an increment", func(a *Adjuster) { a.Least = -0.75 + 1e-12 }, -2, 1, []float64{-0.75}},
		{"too small to be useful", func(a *Adjuster) { a.Useful = 0.45 }, 0.3, 1, []float64{0, 0.5}},
		{"as small as is useful", func(a *Adjuster) { a.Useful = 0.25 }, 0.3, 1, []float64{0.25, 0.5}},
		{"small and back", func(a *Adjuster) { a.Useful = 0.45 }, -0.3, 1, []float64{-0.5, 0}},
		{"play to take up", func(a *Adjuster) { a.Play, a.Engaged = 0.2, -1 }, 0.6, 1, []float64{0.75, 1}},
		{"play the other way", func(a *Adjuster) { a.Play, a.Engaged = 0.2, 1 }, -0.6, 1, []float64{-1, -0.75}},
	} {
		adjuster := endless
		if test.change != nil {
			test.change(&adjuster)
		}
		got := map[float64]bool{}
		for _, o := range adjuster.around(test.effect, test.each) {
			if got[o.turns] {
				t.Errorf("%s: %v twice", test.name, o.turns)
			}
			got[o.turns] = true
		}
		for _, want := range test.want {
			if !got[want] || len(got) != len(test.want) {
				t.Errorf("%s: %v, want %v", test.name, got, test.want)
			}
		}
	}
	// An end of the travel that is an increment can be reached.
	whole := endless
	whole.Least, whole.Most = -0.75, 0.5
	near(t, "the upper end", whole.nearest(2).turns, 0.5, 0)
	near(t, "the lower end", whole.nearest(-2).turns, -0.75, 0)
	bounded, coarse := endless, endless
	bounded.Least, bounded.Most, coarse.Useful = -0.7, 0.7, 0.45
	for _, test := range []struct {
		a           Adjuster
		turns, want float64
	}{
		{endless, 0.6, 0.5}, {endless, 0.63, 0.75}, {endless, -0.63, -0.75}, {bounded, 0.9, 0.5},
		{bounded, -0.9, -0.5},
		{bounded, 0.3, 0.25}, {coarse, 0.3, 0}, {coarse, -0.3, 0}, {coarse, 0.4, 0.5},
	} {
		near(t, "nearest", test.a.nearest(test.turns).turns, test.want, 0)
	}
	for useful, want := range map[float64]float64{0: 0.25, 0.1: 0.25, 0.25: 0.25, 0.26: 0.5, 0.5: 0.5} {
		a := endless
		a.Useful = useful
		near(t, "useful", a.useful(), want, 0)
	}
}

func TestHalfOfLimits(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct{ low, high, target, want float64 }{
		{1, 4, 2, 1.5}, {-inf, 4, 2, 2}, {1, inf, 4, 3}, {-inf, inf, 2, inf}, {2, 2, 2, 1e-6}, {2, inf, 2, 1e-6},
	} {
		near(t, "half", Row{Low: c.low, High: c.high, Target: c.target}.half(), c.want, 1e-15)
	}
}

// The chance between two limits against the error function: in logarithm, far out
// too, and by the table.
func TestWithinByErrorFunction(t *testing.T) {
	inf := math.Inf(1)
	for _, test := range []struct{ low, high, mean, sd float64 }{
		{-1, 1, 0, 1}, {0, inf, 0, 1}, {-inf, 0, 0, 1}, {2, 3, 0, 1}, {-3, -2, 0, 1}, {4, 9, 5, 2}, {5, inf, 0, 1},
		{-inf, -5, 0, 1},
		{1, 2, 5, 0.5}, {-0.5, 8, 0, 1}, {-8, 0.5, 0, 1}, {-6.9, 7.1, 0, 1},
	} {
		a, b := (test.low-test.mean)/test.sd, (test.high-test.mean)/test.sd
		want := (math.Erfc(a/math.Sqrt2) - math.Erfc(b/math.Sqrt2)) / 2
		if a < 0 && b <= 0 {
			want = (math.Erfc(-b/math.Sqrt2) - math.Erfc(-a/math.Sqrt2)) / 2
		}
		near(t, "in logarithm", logWithin(test.low, test.high, test.mean, test.sd), math.Log(want), 1e-9)
		near(t, "by the table", within(test.low, test.high, test.mean, test.sd), want, 4e-6)
	}
	near(t, "no limits", logWithin(-inf, inf, 3, 1), 0, 0)
	for _, z := range []float64{30.5, 36} {
		want := math.Log(math.Erfc(z/math.Sqrt2) / 2)
		near(t, "far above", logWithin(z, inf, 0, 1), want, 2e-3)
		near(t, "far below", logWithin(-inf, -z, 0, 1), want, 2e-3)
	}
	near(t, "certain within", logWithin(-1, 1, 0.5, 0), 0, 0)
	if p := logWithin(-1, 1, 1.5, 0); p > -1e10 {
		t.Errorf("certain outside: %v", p)
	}
	near(t, "certain within, by the table", within(-1, 1, 0.5, 0), 1, 0)
	near(t, "certain outside, by the table", within(-1, 1, 1.5, 0), 0, 0)
	near(t, "all of it", within(-8, 8, 0, 1), 1, 0)
	near(t, "none of it", within(8, 9, 0, 1), 0, 0)
	near(t, "nor of it", within(-9, -8, 0, 1), 0, 0)
}

// Systems solved by hand: whole, a part of it, with noise on the diagonal, and one
// that is not determined, which takes the smallest moves.
func TestLeastByHand(t *testing.T) {
	normal, right := []float64{4, 2, 2, 3}, []float64{2, 5}
	for _, test := range []struct {
		name   string
		normal []float64
		right  []float64
		noise  []float64
		subset int
		want   []float64
	}{
		{"both", normal, right, nil, 3, []float64{-0.5, 2}}, {"the first", normal, right, nil, 1, []float64{0.5, 7}},
		{"the second", normal, right, nil, 2, []float64{7, 5.0 / 3}},
		{"none", normal, right, nil, 0, []float64{7, 7}},
		{"with noise", normal, right, []float64{1, 2}, 3, []float64{0, 1}},
		{"undetermined", []float64{1, 1, 1, 1}, []float64{2, 2}, nil, 3, []float64{1, 1}},
		{"three", []float64{2, 1, 0, 1, 3, 1, 0, 1, 4}, []float64{4, 10, 14}, nil, 7, []float64{1, 2, 3}},
	} {
		effect := []float64{7, 7, 7}[:len(test.right)]
		newScratch(len(test.right)).least(test.normal, test.right, test.noise, test.subset, effect)
		for j, want := range test.want {
			near(t, test.name, effect[j], want, 1e-6)
		}
	}
}

// One that would leave its travel stays at its end, and the others make up for it;
// play that a turn must take up first lies within the travel.
func TestBoundedByHand(t *testing.T) {
	coupled := []float64{1, 0.5, 0.5, 1}
	for _, test := range []struct {
		name   string
		change func(*Adjuster)
		right  []float64
		subset int
		want   []float64
	}{
		{"free", func(*Adjuster) {}, []float64{1, 1}, 3, []float64{2.0 / 3, 2.0 / 3}},
		{"at the top", func(a *Adjuster) { a.Most = 0.3 }, []float64{1, 1}, 3, []float64{0.3, 0.85}},
		{"at the bottom", func(a *Adjuster) { a.Least = -0.3 }, []float64{-1, -1}, 3, []float64{-0.3, -0.85}},
		{"not turned", func(a *Adjuster) { a.Most = 0.3 }, []float64{1, 1}, 2, []float64{0, 1}},
		{"play", func(a *Adjuster) { a.Most, a.Play, a.Engaged = 0.6, 0.1, 1 }, []float64{1, 1}, 3,
			[]float64{0.6, 0.7}},
		{"play to take up", func(a *Adjuster) { a.Most, a.Play, a.Engaged = 0.6, 0.1, -1 }, []float64{1, 1}, 3,
			[]float64{2.0 / 3, 2.0 / 3}},
	} {
		p := Problem{Adjusters: []Adjuster{endless, endless}}
		test.change(&p.Adjusters[0])
		effect := []float64{9, 9}
		p.bounded(part{adjusters: []int{0, 1}}, newScratch(2), coupled, test.right, nil, test.subset, effect)
		for j, want := range test.want {
			near(t, test.name, effect[j], want, 1e-6)
		}
	}
}

// Of candidates within a hundredth of the most probable: the fewest screws, then the
// least turning, then the most probable, then the one that turns the first screw more.
func TestPickByHand(t *testing.T) {
	set := func(first, second float64) (s [MaxCoupled]option) {
		s[0].turns, s[1].turns = first, second
		return s
	}
	for _, test := range []struct {
		name string
		near []candidate
		want int
	}{
		{"the most probable by more than a hundredth", []candidate{{logP: -0.011, screws: 1}, {logP: 0, screws: 2}},
			1},
		{"as good as the most probable", []candidate{{logP: 0, screws: 2}, {logP: -0.009, screws: 1}}, 1},
		{"less turning", []candidate{{screws: 2, turning: 2}, {screws: 2, turning: 1}}, 1},
		{"fewer screws before less turning", []candidate{{screws: 1, turning: 2}, {screws: 2, turning: 1}}, 0},
		{"more probable", []candidate{{logP: -0.005, turning: 1}, {logP: 0, turning: 1}}, 1},
		{"less turning before more probable", []candidate{{logP: 0, turning: 2}, {logP: -0.005, turning: 1}}, 1},
		{"the first turned more", []candidate{{set: set(1, 2)}, {set: set(2, 1)}}, 1},
		{"either way round", []candidate{{set: set(1, -2)}, {set: set(-2, 1)}}, 1},
		{"alike", []candidate{{set: set(1, 2)}, {set: set(1, 2)}}, 0},
		{"within rounding", []candidate{{screws: 1, turning: 1, logP: -0.005},
			{screws: 1, turning: 1 + 1e-12, logP: 0}}, 1},
	} {
		for _, swapped := range []bool{false, true} {
			all, want := test.near, test.near[test.want]
			if swapped {
				all = []candidate{test.near[1], test.near[0]}
			}
			if got := (&walk{near: all}).pick(); got != want {
				t.Errorf("%s, swapped %v: %+v, want %+v", test.name, swapped, got, want)
			}
		}
	}
}

// One screw worked out by hand: a lead of two, a gain of 0.8, half a turn.
func TestPlanByHand(t *testing.T) {
	a := Adjuster{Increment: 1.0 / 16, Least: math.Inf(-1), Most: math.Inf(1), Gain: 0.8, GainU: 0.1, Hand: 0.02}
	problem := Problem{Adjusters: []Adjuster{a}, Rows: []Row{{Value: -0.79, Target: 0.01, Low: -0.1, High: 0.12,
		U:        0.01,
		Response: []float64{2}}}}
	solution, err := problem.Solve()
	if err != nil {
		t.Fatal(err)
	}
	variance := 1e-4 + 4*(0.01*0.25+0.64*4e-4)
	chance := func(variance float64) float64 { return math.Erf(0.11 / math.Sqrt(2*variance)) }
	near(t, "turns", solution.Turns[0], 0.5, 0)
	near(t, "exact", solution.Exact[0], 0.5, 1e-8)
	near(t, "predicted", solution.Predicted[0], 0.01, 1e-12)
	near(t, "its uncertainty", solution.U[0], math.Sqrt(variance), 1e-12)
	near(t, "left", solution.Left[0], 0, 1e-8)
	near(t, "pass", solution.Pass, chance(variance), 1e-9)
	near(t, "tries", solution.Tries, 1+(1-chance(variance))/chance(1e-4+4*0.64*4e-4), 1e-6)
	// A row that nothing moves keeps its own chance, and lowers that of all.
	problem.Rows = append(problem.Rows, Row{Value: 0.1, Low: -1, High: 0.1, U: 0.01, Response: []float64{0}})
	if solution, err = problem.Solve(); err != nil {
		t.Fatal(err)
	}
	near(t, "pass of both", solution.Pass, chance(variance)/2, 1e-9)
	near(t, "left of what nothing moves", solution.Left[1], 0.1, 1e-12)
	// What cannot pass is still brought as near as the screw can.
	problem.Rows = problem.Rows[:1]
	problem.Adjusters[0].Most = 0.25
	problem.Rows[0].U = 1e-3
	problem.Adjusters[0].GainU, problem.Adjusters[0].Hand = 0, 0
	if solution, err = problem.Solve(); err != nil || solution.Turns[0] != 0.25 || solution.Pass > 1e-4 {
		t.Errorf("out of reach: %+v, %v", solution, err)
	}
}

// What is within its limits as surely as can be is left alone, however far its target:
// fewer screws cannot be than none.
func TestNothingToDo(t *testing.T) {
	for count := 1; count <= 5; count++ {
		problem := Problem{}
		for i := range count {
			a := endless
			a.GainU, a.Hand = 0.1, 0.01
			problem.Adjusters = append(problem.Adjusters, a)
			row := Row{Value: 5.1, Low: -20, High: 20, U: 0.01, Response: make([]float64, count)}
			for j := range row.Response {
				row.Response[j] = 0.1
			}
			row.Response[i] = 1
			problem.Rows = append(problem.Rows, row)
		}
		solution, err := problem.Solve()
		if err != nil || solution.Tries != 0 || math.Abs(solution.Pass-1) > 1e-9 {
			t.Fatalf("%d screws: %+v, %v", count, solution, err)
		}
		for j := range count {
			if solution.Turns[j] != 0 || solution.Past[j] != 0 || solution.Exact[j] == 0 {
				t.Errorf("%d screws: %v turned, exactly %v", count, solution.Turns, solution.Exact)
			}
			near(t, "predicted as it stands", solution.Predicted[j], 5.1, 1e-12)
			near(t, "its uncertainty", solution.U[j], 0.01, 1e-12)
		}
	}
}

func TestSeen(t *testing.T) {
	for _, test := range []struct {
		s                        Seen
		backwards, odd, believed bool
	}{
		{Seen{Turned: true, Gain: -0.5, U: 0.2, Expected: 1, Spread: 0.1}, true, true, false},
		{Seen{Turned: true, Gain: -0.3, U: 0.2, Expected: 1, Spread: 0.4}, false, false, true},
		{Seen{Turned: true, Gain: -0.25, U: 0.1, Expected: 1, Spread: 0.1}, true, true, false},
		{Seen{Turned: true, Gain: -0.19, U: 0.01, Expected: 1, Spread: 0.1}, false, true, false},
		{Seen{Turned: true, Gain: -0.21, U: 0.01, Expected: 1, Spread: 0.1}, true, true, false},
		{Seen{Gain: -0.5, U: 0.1, Expected: 1, Spread: 0.1}, false, false, true},
		{Seen{Turned: true, Gain: 0.26, U: 0.01, Expected: 1, Spread: 0.01}, false, true, true},
		{Seen{Turned: true, Gain: 0.24, U: 0.01, Expected: 1, Spread: 0.01}, false, true, false},
		{Seen{Turned: true, Gain: 3.9, U: 0.01, Expected: 1, Spread: 0.01}, false, true, true},
		{Seen{Turned: true, Gain: 4.1, U: 0.01, Expected: 1, Spread: 0.01}, false, true, false},
		{Seen{Turned: true, Gain: -0.5, U: 0.01, Expected: -1, Spread: 0.01}, true, true, true},
		{Seen{Turned: true, Gain: 0.5, U: 0.01, Expected: -1, Spread: 0.01}, false, true, false},
		{Seen{Turned: true, Gain: 1.14, U: 0.03, Expected: 1, Spread: 0.04}, false, false, true}, // three of 0.05
		{Seen{Turned: true, Gain: 1.16, U: 0.03, Expected: 1, Spread: 0.04}, false, true, true},
	} {
		if test.s.Backwards() != test.backwards || test.s.Odd() != test.odd || test.s.Believed() != test.believed {
			t.Errorf("%+v: %v, %v, %v", test.s, test.s.Backwards(), test.s.Odd(), test.s.Believed())
		}
	}
}

// What a try teaches, by Kalman's formulas worked out by hand for one screw.
func TestLearnByHand(t *testing.T) {
	one := func(turns, past, change float64) Try {
		return Try{Turns: []float64{turns}, Past: []float64{past}, Before: []float64{2},
			After: []float64{2 + change}, U: []float64{0.1}}
	}
	learned := func(a Adjuster, g Try) (Adjuster, Seen) {
		l := NewLearner([]Adjuster{a})
		seen := l.Look(g, [][]float64{{1}})[0]
		l.Learn(g, [][]float64{{1}})
		return l.Adjusters()[0], seen
	}
	adjuster := endless
	adjuster.GainU = 0.2
	// 0.9 where 1 was expected, noise 2·0.01: two thirds of the way.
	other, seen := learned(adjuster, one(1, 0, 0.9))
	near(t, "gain", other.Gain, 1-0.1*2/3, 1e-9)
	near(t, "its uncertainty", other.GainU, math.Sqrt(0.04/3), 1e-9)
	near(t, "seen alone", seen.Gain, 0.9, 1e-3)
	near(t, "its uncertainty alone", seen.U, math.Sqrt(0.02), 1e-3)
	near(t, "expected", seen.Expected, 1, 1e-12)
	near(t, "its spread", seen.Spread, 0.2, 1e-12)
	if other.Engaged != 1 || !seen.Turned {
		t.Errorf("engaged %d, %+v", other.Engaged, seen)
	}
	// The hand's share of the noise counts once, and twice for past and back.
	adjuster.Hand = 0.1
	other, _ = learned(adjuster, one(1, 0, 0.9))
	near(t, "gain by hand", other.Gain, 1-0.1*4/7, 1e-9)
	other, seen = learned(adjuster, one(1, 0.25, 0.9))
	near(t, "gain past and back", other.Gain, 1-0.1*0.5, 1e-9)
	near(t, "noise past and back", seen.U, math.Sqrt(0.04), 1e-3)
	if other.Engaged != -1 {
		t.Errorf("it came back, engaged %d", other.Engaged)
	}
	// Half of the play may be lost where nobody knows: 0.9 is as expected.
	adjuster.Hand, adjuster.Play = 0, 0.2
	other, _ = learned(adjuster, one(1, 0, 0.9))
	near(t, "gain with play", other.Gain, 1, 1e-9)
	near(t, "its uncertainty", other.GainU*other.GainU, 0.04-0.036*0.036/(0.0324+0.02+0.04/12), 1e-9)
	near(t, "play", other.Play, 0.2, 1e-9)
	// All of it on a reversal, none where it goes on.
	adjuster.Engaged = -1
	other, _ = learned(adjuster, one(1, 0, 0.8))
	near(t, "gain after a reversal", other.Gain, 1, 1e-9)
	near(t, "its uncertainty", other.GainU*other.GainU, 0.04-0.032*0.032/(0.0256+0.02), 1e-9)
	adjuster.Engaged = 1
	other, _ = learned(adjuster, one(1, 0, 1))
	near(t, "gain going on", other.Gain, 1, 1e-9)
	near(t, "its uncertainty", other.GainU*other.GainU, 0.04/3, 1e-9)
	// What goes past and comes back ends the other way: against the way that it was turned
	// before it gains the play, which was taken up on that side; in the same way nothing.
	other, _ = learned(adjuster, one(1, 0.25, 1.2))
	near(t, "gain where it came back", other.Gain, 1, 1e-9)
	near(t, "its uncertainty", other.GainU*other.GainU, 0.04-0.048*0.048/(0.0576+0.02), 1e-9)
	adjuster.Engaged = -1
	other, _ = learned(adjuster, one(1, 0.25, 1))
	near(t, "gain where it came back to the same side", other.Gain, 1, 1e-9)
	near(t, "its uncertainty", other.GainU*other.GainU, 0.04/3, 1e-9)
	// A play that is uncertain by itself is learned on reversals.
	adjuster.GainU, adjuster.PlayU, adjuster.Engaged = 0, 0.1, -1
	other, _ = learned(adjuster, one(1, 0, 0.7))
	near(t, "play learned", other.Play, 0.2+0.1/3, 1e-9)
	near(t, "its uncertainty", other.PlayU*other.PlayU, 0.01-0.01*0.01/0.03, 1e-9)
	// Looked at alone, what the play leaves uncertain is noise, and what it is expected
	// to lose is taken out.
	_, seen = learned(adjuster, one(1, 0, 0.8))
	near(t, "seen after a reversal", seen.Gain, 1, 1e-3)
	near(t, "its uncertainty alone", seen.U, math.Sqrt(0.02+0.01), 1e-3)
	// Less than a twentieth is no screw: the gain stays.
	adjuster = endless
	adjuster.GainU = 10
	if other, _ = learned(adjuster, one(1, 0, 0)); other.Gain != 1 {
		t.Errorf("nothing moved: %+v", other)
	}
	// Nothing turned, nothing learned; what is skipped is engaged all the same.
	l := NewLearner([]Adjuster{adjuster, adjuster, adjuster})
	l.Skip(Try{Turns: []float64{1, -1, 0}, Past: []float64{0, 0.1, 0}})
	if got := l.Adjusters(); got[0].Engaged != 1 || got[1].Engaged != 1 || got[2].Engaged != 0 || got[0].Gain != 1 {
		t.Errorf("skipped: %+v", got)
	}
}

// The prior of gain and lost motion: c = g·play, so that they vary together.
func TestPriorByHand(t *testing.T) {
	a := endless
	a.Gain, a.GainU, a.Play, a.PlayU = 2, 0.1, 0.3, 0.05
	learner := NewLearner([]Adjuster{endless, a})
	want := mat.NewSymDense(4, []float64{0, 0, 0, 0, 0, 0.01, 0, 0.003, 0, 0, 0, 0, 0, 0.003, 0,
		0.09*0.01 + 4*0.0025})
	for i := range 4 {
		for j := range 4 {
			near(t, "prior covariance", learner.cov.At(i, j), want.At(i, j), 1e-15)
		}
	}
	for i, want := range []float64{1, 2, 0, 0.6} {
		near(t, "prior", learner.state.AtVec(i), want, 1e-15)
	}
}

// A harmonic within a tenth, where the fundamental is off by more than a third; and
// nothing of what cannot be measured.
func TestHarmonicByHand(t *testing.T) {
	for _, test := range []struct {
		measured, expected float64
		want               int
	}{
		{109.9, 50, 2}, {110.1, 50, 0}, {90, 50, 2}, {89.9, 50, 0}, {164.9, 50, 3}, {135, 50, 3}, {134.9, 50, 0},
		{219.9, 50, 4}, {180, 50, 4}, {250, 50, 0},
		{66, 50, 0}, {-100, -50, 0}, {100, 0, 0}, {0, 0, 0}, {math.Inf(1), 50, 0}, {100, -50, 0},
	} {
		if got := Harmonic(test.measured, test.expected); got != test.want {
			t.Errorf("%v where %v was expected: %d, want %d", test.measured, test.expected, got, test.want)
		}
	}
}

// Between bounds that do not fall on steps, the step nearest to the middle that lies
// strictly between them; past the travel none.
func TestNextCapByHand(t *testing.T) {
	mark, stutter := func(h float64) CapReport { return CapReport{Height: h, Marks: true} },
		func(h float64) CapReport { return CapReport{Height: h, Stutters: true} }
	for _, test := range []struct {
		name        string
		reports     []CapReport
		now         float64
		next        float64
		move        bool
		lowAt, hiAt int
	}{
		{"middle", []CapReport{mark(1), stutter(6)}, 6, 4, true, 0, 1},
		{"middle on a step", []CapReport{mark(1), stutter(5)}, 5, 3, true, 0, 1},
		{"a step up", []CapReport{mark(1.6), stutter(2.3)}, 2.3, 2, true, 0, 1},
		{"rounded onto the bound", []CapReport{mark(1), stutter(2.4)}, 1, 2, true, 0, 1},
		{"rounded onto the upper bound", []CapReport{mark(0.6), stutter(2)}, 2, 1, true, 0, 1},
		{"nothing between", []CapReport{mark(1.2), stutter(1.8)}, 1.2, 0, false, 0, 1},
		{"the last of equal reports", []CapReport{mark(1), mark(1), stutter(5), stutter(5)}, 5, 3, true, 1, 3},
		{"the tighter of unlike ones", []CapReport{mark(2), mark(1), stutter(5), stutter(6)}, 5, 4, true, 0, 2},
		{"at the end of its travel", []CapReport{stutter(0)}, 0, 0, false, -1, 0},
		{"at the top", []CapReport{mark(8)}, 8, 0, false, 0, -1},
		{"a step down", []CapReport{stutter(3)}, 3, 2, true, -1, 0},
		{"a step up of one bound", []CapReport{mark(3)}, 3, 4, true, 0, -1},
	} {
		a := NextCap(test.reports, test.now, 0, 8, 1)
		if a.Next != test.next || a.Move != test.move || a.NoStep == test.move || a.LowAt != test.lowAt ||
			a.HighAt != test.hiAt ||
			a.Contradiction || a.NothingToAvoid {
			t.Errorf("%s: %+v", test.name, a)
		}
	}
	// It stands between the bounds: at a bound it does not.
	for now, stands := range map[float64]bool{1: false, 1.5: true, 5: true, 6: false, 7: false, 0: false} {
		a := NextCap([]CapReport{mark(1), stutter(6)}, now, 0, 8, 1)
		if stands == (a.Move || a.NoStep) {
			t.Errorf("at %v: %+v", now, a)
		}
	}
}

// The stack nearest to a thickness, with the fewest pieces; against every stack that
// the stock allows.
func TestStackByBruteForce(t *testing.T) {
	for _, stock := range []map[int]int{{3: 2, 5: 1, 7: 2}, {2: 3, 4: 2, 6: 1}, {1: 1, 10: 3}, {5: 300},
		{4: 0, -3: 2, 9: 1}} {
		for thickness := -1; thickness <= 40; thickness++ {
			best, fewest := 0, 0
			var try func(sizes []int, sum, n int)
			try = func(sizes []int, sum, count int) {
				d, e := abs(sum-thickness), abs(best-thickness)
				if count > 0 && (d < e || d == e && count < fewest) {
					best, fewest = sum, count
				}
				if len(sizes) > 0 {
					for k := 0; k <= min(stock[sizes[0]], 9); k++ {
						try(sizes[1:], sum+k*sizes[0], count+k)
					}
				}
			}
			var sizes []int
			for _, s := range []int{1, 2, 3, 4, 5, 6, 7, 9, 10} {
				if stock[s] > 0 {
					sizes = append(sizes, s)
				}
			}
			if thickness > 0 {
				try(sizes, 0, 0)
			}
			pieces, sum := Stack(thickness, stock)
			total, used := 0, map[int]int{}
			for i, p := range pieces {
				total += p
				if used[p]++; used[p] > stock[p] || i > 0 && p > pieces[i-1] {
					t.Errorf("%d from %v: %v", thickness, stock, pieces)
				}
			}
			if total != sum || abs(sum-thickness) != abs(best-thickness) && thickness > 0 || len(pieces) > fewest {
				t.Errorf("%d from %v: %v (%d), want %d in %d pieces", thickness, stock, pieces, sum, best, fewest)
			}
		}
	}
	if pieces, sum := Stack(-100, map[int]int{5: 1}); pieces != nil || sum != 0 {
		t.Errorf("less than nothing: %v", pieces)
	}
	// No more than 255 of a thickness, and nothing for what is beyond a metre.
	if pieces, sum := Stack(1300, map[int]int{5: 300}); len(pieces) != 255 || sum != 1275 {
		t.Errorf("300 pieces: %d, %d", len(pieces), sum)
	}
	if pieces, _ := Stack(1<<20+1, map[int]int{1 << 20: 1}); pieces != nil {
		t.Errorf("beyond a metre: %v", pieces)
	}
	if pieces, sum := Stack(1<<20, map[int]int{1 << 20: 1}); len(pieces) != 1 || sum != 1<<20 {
		t.Errorf("a metre: %v", pieces)
	}
}

// Each thing that a problem may lack is said with the number of its adjuster or row.
func TestRefusalsByHand(t *testing.T) {
	good := func() Problem {
		return Problem{Adjusters: []Adjuster{endless, endless},
			Rows: []Row{{Value: 1, Low: -1, High: 1, Response: []float64{1, 0}}}}
	}
	for name, test := range map[string]struct {
		spoil func(*Problem)
		want  string
	}{
		"increment":    {func(p *Problem) { p.Adjusters[1].Increment = 0 }, "adjuster 2: its increment"},
		"no increment": {func(p *Problem) { p.Adjusters[1].Increment = math.NaN() }, "adjuster 2: its increment"},
		"gain":         {func(p *Problem) { p.Adjusters[1].Gain = 0 }, "adjuster 2: a gain"},
		"no gain":      {func(p *Problem) { p.Adjusters[1].Gain = math.NaN() }, "adjuster 2: a gain"},
		"gain's u":     {func(p *Problem) { p.Adjusters[0].GainU = -1 }, "adjuster 1: a gain"},
		"play":         {func(p *Problem) { p.Adjusters[0].Play = -1 }, "adjuster 1: a gain"},
		"play's u":     {func(p *Problem) { p.Adjusters[0].PlayU = -1 }, "adjuster 1: a gain"},
		"hand":         {func(p *Problem) { p.Adjusters[0].Hand = -1 }, "adjuster 1: a gain"},
		"most":         {func(p *Problem) { p.Adjusters[0].Most = -1 }, "adjuster 1: where it stands"},
		"least":        {func(p *Problem) { p.Adjusters[0].Least = 1 }, "adjuster 1: where it stands"},
		"response":     {func(p *Problem) { p.Rows[0].Response = []float64{1} }, "row 1: 1 responses for 2"},
		"value":        {func(p *Problem) { p.Rows[0].Value = math.Inf(1) }, "row 1: not a number"},
		"target":       {func(p *Problem) { p.Rows[0].Target = math.NaN() }, "row 1: not a number"},
		"uncertainty":  {func(p *Problem) { p.Rows[0].U = math.NaN() }, "row 1: not a number"},
		"response's":   {func(p *Problem) { p.Rows[0].Response[1] = math.Inf(-1) }, "row 1: not a number"},
	} {
		p := good()
		test.spoil(&p)
		if _, err := p.Solve(); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: %v, want %q", name, err, test.want)
		}
	}
	if _, err := good().Solve(); err != nil {
		t.Error(err)
	}
	// Adjusters that share no row, even by way of others, are apart.
	p := Problem{Adjusters: make([]Adjuster, 5), Rows: []Row{{Response: []float64{0, 1, 0, 1, 0}},
		{Response: []float64{0, 0, 0, 1, 1}}, {Response: make([]float64, 5)}, {Response: []float64{1, 0, 0, 0, 0}}}}
	parts := p.parts()
	want := []part{{[]int{0}, []int{3}}, {[]int{1, 3, 4}, []int{0, 1}}, {[]int{2}, nil}, {nil, []int{2}}}
	if d := cmp.Diff(want, parts, cmp.AllowUnexported(part{})); d != "" {
		t.Errorf("parts (-want +got):\n%s", d)
	}
}
