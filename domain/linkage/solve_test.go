package linkage_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	. "setscrew/domain/linkage"
)

var free = Adjuster{Increment: 1.0 / 16, Least: math.Inf(-1), Most: math.Inf(1), Gain: 1}

// A row that no machine reads, so far off that one increment more is no number more, is
// solved all the same, and as far as the travel goes.
func TestSolveFarOff(t *testing.T) {
	for _, value := range []float64{1e6, 1e15, 1e20, 1e100} {
		a := free
		a.Most = 2
		problem := Problem{Rows: []Row{{Value: -value, Low: -1, High: 1, U: 1, Response: []float64{1}}},
			Adjusters: []Adjuster{a}}
		s, err := problem.Solve()
		if err != nil || s.Turns[0] != 2 {
			t.Errorf("%v off: %v turns, %v", value, s.Turns, err)
		}
		problem.Adjusters[0].Most = math.Inf(1)
		if s, err := problem.Solve(); err != nil || !(math.Abs(s.Turns[0]/value-1) < 1e-3) {
			t.Errorf("%v off, as far as it takes: %v turns, %v", value, s.Turns, err)
		}
	}
}

// random draws a problem of up to most adjusters, each near a place of its
// own and moving its neighbours too.
func random(t *rapid.T, most int) Problem {
	count := rapid.IntRange(1, most).Draw(t, "adjusters")
	problem := Problem{}
	for range count {
		adjuster := free
		adjuster.Increment = 1 / float64(rapid.IntRange(4, 60).Draw(t, "increment"))
		adjuster.GainU = rapid.SampledFrom([]float64{0, 0.05, 0.17}).Draw(t, "gain")
		adjuster.Hand = rapid.SampledFrom([]float64{0, 0.01}).Draw(t, "hand")
		if rapid.Bool().Draw(t, "play") {
			adjuster.Play, adjuster.PlayU = 0.05, 0.02
			adjuster.Approach = rapid.IntRange(-1, 1).Draw(t, "approach")
			adjuster.Engaged = rapid.IntRange(-1, 1).Draw(t, "engaged")
		}
		problem.Adjusters = append(problem.Adjusters, adjuster)
	}
	for i := range count {
		row := Row{
			Value:    rapid.Float64Range(-1, 1).Draw(t, "value"),
			Target:   rapid.Float64Range(-0.2, 0.2).Draw(t, "target"),
			U:        rapid.SampledFrom([]float64{0.002, 0.01}).Draw(t, "u"),
			Response: make([]float64, count),
		}
		half := rapid.Float64Range(0.03, 0.1).Draw(t, "half")
		row.Low, row.High = row.Target-half, row.Target+half
		for j := range row.Response {
			row.Response[j] = rapid.Float64Range(-0.15, 0.15).Draw(t, "coupling")
			if i == j {
				row.Response[j] = rapid.Float64Range(0.7, 1.3).Draw(t, "own")
			}
		}
		problem.Rows = append(problem.Rows, row)
	}
	return problem
}

func solved(t interface{ Fatal(...any) }, p Problem) Solution {
	s, err := p.Solve()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The plan before it is rounded, put through the model, gives the targets.
func TestExactPlanMeetsTheTarget(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		problem := random(t, 4)
		solution := solved(t, problem)
		for i, row := range problem.Rows {
			v := row.Value
			for j, x := range solution.Exact {
				v += row.Response[j] * problem.Adjusters[j].Gain * x
			}
			if math.Abs(v-row.Target) > 1e-6 {
				t.Fatalf("row %d comes to %v, want %v", i, v, row.Target)
			}
			if math.Abs(solution.Left[i]) > 1e-6 {
				t.Fatalf("row %d keeps %v though as many screws as rows move it", i, solution.Left[i])
			}
		}
	})
}

// judge is the objective of a plan by itself: the same as Solve's, written a second time
// from its docstring.
func judge(problem Problem, turns []float64) (logP float64, screws int, turning float64) {
	type done struct{ effect, variance float64 }
	all := make([]done, len(turns))
	for j, turn := range turns {
		adjuster := problem.Adjusters[j]
		if turn == 0 {
			continue
		}
		screws, turning = screws+1, turning+math.Abs(turn)
		way := adjuster.Approach
		if way == 0 {
			way = int(math.Copysign(1, turn))
		}
		lost, value := 0.0, 0.0
		switch adjuster.Engaged {
		case way:
		case 0:
			lost, value = adjuster.Play/2, adjuster.Play*adjuster.Play/12+adjuster.PlayU*adjuster.PlayU/3
		default:
			lost, value = adjuster.Play, adjuster.PlayU*adjuster.PlayU
		}
		hands := 1.0
		if adjuster.Approach != 0 && float64(adjuster.Approach)*turn < 0 {
			hands = 2
		}
		all[j] = done{turn - float64(way)*lost, hands*adjuster.Hand*adjuster.Hand + value}
	}
	for _, row := range problem.Rows {
		mean, variance := row.Value, row.U*row.U
		for j, a := range problem.Adjusters {
			x := row.Response[j]
			mean += x * a.Gain * all[j].effect
			variance += x * x * (a.GainU*a.GainU*all[j].effect*all[j].effect + a.Gain*a.Gain*all[j].variance)
		}
		sd := math.Sqrt(variance)
		logP += math.Log(
			math.Max(0.5*(math.Erf((row.High-mean)/sd/math.Sqrt2)-math.Erf((row.Low-mean)/sd/math.Sqrt2)), 1e-300),
		)
	}
	return logP, screws, turning
}

// The rounded plan is never worse by the objective than the nearest rounding of
// the exact one, and its probability is that of its own moves.
func TestNeverWorseThanNearestRounding(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		problem := random(t, 4)
		solution := solved(t, problem)
		nearest := make([]float64, len(solution.Exact))
		for j, x := range solution.Exact {
			nearest[j] = problem.Adjusters[j].Increment * math.Round(x/problem.Adjusters[j].Increment)
		}
		ours, _, _ := judge(problem, solution.Turns)
		theirs, _, _ := judge(problem, nearest)
		if ours < theirs-0.016 && theirs > -9 {
			t.Fatalf("ln P %v, nearest rounding %v", ours, theirs)
		}
		if ours > -20 && math.Abs(math.Log(solution.Pass)-ours) > 1e-6 {
			t.Fatalf("it says ln P = %v, its moves give %v", math.Log(solution.Pass), ours)
		}
	})
}

// The search is as good as trying every setting within reach.
func TestSearchEqualsBruteForce(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		problem := random(t, 2)
		for j := range problem.Adjusters {
			problem.Adjusters[j].Increment = 1 / float64(rapid.IntRange(4, 12).Draw(t, "coarse"))
			problem.Adjusters[j].GainU = 0
		}
		solution := solved(t, problem)
		ours, _, _ := judge(problem, solution.Turns)
		best := math.Inf(-1)
		turns := make([]float64, len(problem.Adjusters))
		var try func(int)
		try = func(j int) {
			if j == len(turns) {
				v, _, _ := judge(problem, turns)
				best = max(best, v)
				return
			}
			inc := problem.Adjusters[j].Increment
			at := math.Round(solution.Exact[j] / inc)
			for k := at - 3; k <= at+3; k++ {
				turns[j] = k * inc
				try(j + 1)
			}
			turns[j] = 0
			try(j + 1)
		}
		try(0)
		if best > -9 && ours < best-0.016 {
			t.Fatalf("ln P %v by %v, brute force %v", ours, solution.Turns, best)
		}
	})
}

// One machine told in inches and in millimetres gives one plan.
func TestUnitsDoNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		problem := random(t, 3)
		scaled := Problem{Adjusters: problem.Adjusters}
		for _, r := range problem.Rows {
			const k = 25.4
			s := Row{r.Value * k, r.Target * k, r.Low * k, r.High * k, r.U * k, nil}
			for _, x := range r.Response {
				s.Response = append(s.Response, x*k)
			}
			scaled.Rows = append(scaled.Rows, s)
		}
		solution, again := solved(t, problem), solved(t, scaled)
		for j := range solution.Turns {
			if math.Abs(solution.Turns[j]-again.Turns[j]) > 1e-9 || math.Abs(solution.Past[j]-again.Past[j]) > 1e-9 {
				t.Fatalf("in inches %v, in millimetres %v", solution.Turns, again.Turns)
			}
		}
		if math.Abs(solution.Pass-again.Pass) > 1e-6 {
			t.Fatalf("P %v and %v", solution.Pass, again.Pass)
		}
	})
}

// one is a single screw that reads so much from home.
func one(a Adjuster, value float64) Problem {
	return Problem{
		Adjusters: []Adjuster{a},
		Rows:      []Row{{Value: value, Low: -0.1, High: 0.1, U: 0.01, Response: []float64{1}}},
	}
}

func TestTravelEnds(t *testing.T) {
	adjuster := free
	adjuster.Most = 0.3
	s := solved(t, one(adjuster, -1))
	if s.Turns[0] != 0.25 { // the last sixteenth within its travel
		t.Errorf("%v turns, want 0.25", s.Turns[0])
	}
	// The other end of the bar does what this one cannot.
	bar, err := Bar([2]float64{0, 1}, []float64{0.3, 0.7})
	if err != nil {
		t.Fatal(err)
	}
	p := Problem{Adjusters: []Adjuster{adjuster, free}}
	for _, r := range bar {
		p.Rows = append(p.Rows, Row{Value: -1, Low: -0.1, High: 0.1, U: 0.01, Response: r})
	}
	if s := solved(t, p); s.Turns[0] != 0.25 || s.Turns[1] <= 1 {
		t.Errorf("turns %v: the free end should do more than the 1 it would do alone", s.Turns)
	}
}

func TestSmallestUsefulTurn(t *testing.T) {
	a := free
	a.Useful = 0.25
	for _, c := range []struct{ value, want float64 }{{-0.15, 0.25}, {-0.05, 0}, {-0.5, 0.5}} {
		if s := solved(t, one(a, c.value)); s.Turns[0] != c.want {
			t.Errorf("from %v: %v turns, want %v", c.value, s.Turns[0], c.want)
		}
	}
}

func TestPastAndBack(t *testing.T) {
	adjuster := free
	adjuster.Play, adjuster.PlayU, adjuster.Approach, adjuster.Engaged = 0.05, 0.02, 1, 1
	if s := solved(t, one(adjuster, -0.5)); s.Turns[0] != 0.5 || s.Past[0] != 0 {
		t.Errorf("towards the side of approach: %v, past by %v", s.Turns, s.Past)
	}
	// 0.09 turn of play at most, rounded up to whole increments.
	if s := solved(t, one(adjuster, 0.5)); s.Turns[0] != -0.5 || s.Past[0] != 0.125 {
		t.Errorf("against it: %v, past by %v, want -0.5 past by 0.125", s.Turns, s.Past)
	}
	// Where no side is named, a reversal turns on by the play.
	adjuster.Approach, adjuster.Engaged = 0, 1
	adjuster.Play = 0.125
	if s := solved(t, one(adjuster, 0.5)); s.Turns[0] != -0.625 || s.Past[0] != 0 {
		t.Errorf("reversed: %v, past by %v, want -0.625", s.Turns, s.Past)
	}
}

func TestFewestScrews(t *testing.T) {
	// Two screws under one reading do the same; one is enough.
	problem := Problem{
		Adjusters: []Adjuster{free, free},
		Rows:      []Row{{Value: 0.5, Low: -0.1, High: 0.1, U: 0.01, Response: []float64{1, 1}}},
	}
	if s := solved(t, problem); s.Turns[0] != -0.5 || s.Turns[1] != 0 {
		t.Errorf("turns %v, want one screw", s.Turns)
	}
	// All at home: none.
	problem.Rows[0].Value = 0.02
	if s := solved(t, problem); s.Turns[0] != 0 || s.Turns[1] != 0 || s.Tries != 0 {
		t.Errorf("at home: turns %v, %v tries", s.Turns, s.Tries)
	}
}

// What no screw takes out of a plate on four is said.
func TestTwistIsLeft(t *testing.T) {
	corners := []Point{{0, 0}, {1, 0}, {1, 1}, {0, 1}}
	response, err := Plate(corners, corners)
	if err != nil {
		t.Fatal(err)
	}
	p := Problem{Adjusters: []Adjuster{free, free, free, free}}
	for i, twist := range []float64{0.5, -0.5, 0.5, -0.5} {
		p.Rows = append(p.Rows, Row{Value: twist, Low: -0.1, High: 0.1, U: 0.01, Response: response[i]})
	}
	s := solved(t, p)
	for i, want := range []float64{0.5, -0.5, 0.5, -0.5} {
		if math.Abs(s.Left[i]-want) > 1e-6 {
			t.Errorf("left %v, want the twist", s.Left)
			break
		}
	}
}

func TestProblemsRefused(t *testing.T) {
	good := one(free, 1)
	for name, change := range map[string]func(*Problem){
		"no increment":        func(p *Problem) { p.Adjusters[0].Increment = 0 },
		"no gain":             func(p *Problem) { p.Adjusters[0].Gain = 0 },
		"outside its travel":  func(p *Problem) { p.Adjusters[0].Most = -1 },
		"a response too many": func(p *Problem) { p.Rows[0].Response = []float64{1, 2} },
		"not a number":        func(p *Problem) { p.Rows[0].Value = math.NaN() },
		"too many coupled": func(p *Problem) {
			for range MaxCoupled {
				p.Adjusters = append(p.Adjusters, free)
				p.Rows[0].Response = append(p.Rows[0].Response, 1)
			}
		},
	} {
		p := Problem{append([]Row(nil), good.Rows...), append([]Adjuster(nil), good.Adjusters...)}
		change(&p)
		if _, err := p.Solve(); err == nil {
			t.Errorf("%s: solved", name)
		}
	}
}

// An eccentric whose target lies out of reach says so, and how near it comes.
func TestOutOfReach(t *testing.T) {
	eccentric := Eccentric{Adjuster: free, Throw: 1, Turned: []float64{0, 0.25, 0.5}}
	start := 0.3
	pair := Eccentrics{
		Each:   []Eccentric{eccentric},
		Body:   [][]float64{{1}},
		U:      0.001,
		Target: []float64{5},
		Low:    []float64{4.9},
		High:   []float64{5.1},
	}
	for _, turned := range eccentric.Turned {
		pair.Readings = append(pair.Readings, []float64{Lift(1, start+2*math.Pi*turned)})
	}
	solution, reach, err := pair.Solve()
	if err != nil {
		t.Fatal(err)
	}
	if !reach[0].Out || math.Abs(reach[0].Most-3) > 0.05 || solution.Pass > 0.01 {
		t.Errorf("a lift of 5 from a throw of 1: %+v, P %v; want 3 missing", reach[0], solution.Pass)
	}
	pair.Target, pair.Low, pair.High = []float64{1.5}, []float64{1.45}, []float64{1.55}
	solution, reach, err = pair.Solve()
	if err != nil {
		t.Fatal(err)
	}
	if reach[0].Out || solution.Pass < 0.5 || math.Abs(solution.Predicted[0]-1.5) > 0.1 {
		t.Errorf("a lift of 1.5: %+v, %+v", solution, reach[0])
	}
	pair.Readings = nil
	if _, _, err := pair.Solve(); err == nil {
		t.Error("solved without a reading")
	}
}

// After one move the angle is one of two; the plan's next move tells them apart.
func TestTwoAnglesThenOne(t *testing.T) {
	for _, start := range []float64{1.0, 2.6, 4.2, 5.5} {
		e := Eccentric{Adjuster: free, Throw: 1, Turned: []float64{0}}
		e.Increment = 1.0 / 60
		pair := Eccentrics{
			Each:   []Eccentric{e},
			Body:   [][]float64{{1}},
			U:      0.005,
			Target: []float64{1},
			Low:    []float64{0.94},
			High:   []float64{1.06},
		}
		at := start
		pair.Readings = [][]float64{{Lift(1, at)}}
		for tries := 0; math.Abs(Lift(1, at)-1) > 0.06; tries++ {
			if tries == 6 {
				t.Fatalf("from %v it is not home after %d tries: %v", start, tries, pair.Readings)
			}
			solution, _, err := pair.Solve()
			if err != nil {
				t.Fatal(err)
			}
			at += 2 * math.Pi * solution.Turns[0]
			turned := pair.Each[0].Turned
			pair.Each[0].Turned = append(turned, turned[len(turned)-1]+solution.Turns[0])
			pair.Readings = append(pair.Readings, []float64{Lift(1, at)})
		}
	}
}

// BenchmarkPlan plans for 8 adjusters and 16 positions.
func BenchmarkPlan(b *testing.B) {
	rng := rand.New(rand.NewPCG(3, 4))
	var adjusters []Adjuster
	var at, places []Point
	for j := range 8 {
		a := free
		a.Increment, a.GainU, a.Play, a.PlayU, a.Approach, a.Hand = 1.0/16, 0.17, 0.05, 0.03, 1, 0.01
		adjusters = append(adjusters, a)
		at = append(at, Point{float64(j % 4), float64(j / 4)})
	}
	for i := range 16 {
		places = append(places, Point{float64(i%8)*0.4 + 0.1, float64(i/8)*0.8 + 0.1})
	}
	body, err := Plate(at, places)
	if err != nil {
		b.Fatal(err)
	}
	problem := Problem{Adjusters: adjusters}
	for i := range places {
		problem.Rows = append(
			problem.Rows,
			Row{Value: rng.NormFloat64() * 0.1, Low: -0.05, High: 0.05, U: 0.005, Response: body[i]},
		)
	}
	// The floor: one rounding, each to the nearest, put through the model.
	const often = 5000
	s := solved(b, problem)
	turns := make([]float64, len(adjusters))
	began := time.Now()
	for range often {
		for j, x := range s.Exact {
			turns[j] = math.Round(x*16) / 16
		}
		judge(problem, turns)
	}
	floor := float64(time.Since(began).Nanoseconds()) / often
	for b.Loop() {
		if _, err := problem.Solve(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/floor, "×-one-rounding")
}
