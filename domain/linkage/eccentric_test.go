package linkage

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestLostFirst(t *testing.T) {
	for _, test := range []struct {
		approach       int
		turned         []float64
		lost, variance float64
	}{
		{0, nil, 0, 0}, {0, []float64{0}, 0, 0}, {0, []float64{0, 0}, 0, 0},
		{0, []float64{0, 0.5}, 0.1, 0.04/12 + 3e-4},
		{0, []float64{0, -0.5}, -0.1, 0.04/12 + 3e-4}, {-1, []float64{0, 0.5}, -0.1, 0.04/12 + 3e-4},
		{0, []float64{1, 1, 0.5}, -0.1, 0.04/12 + 3e-4}, {1, []float64{0}, 0, 0},
	} {
		e := Eccentric{Adjuster: Adjuster{Play: 0.2, PlayU: 0.03, Approach: test.approach}, Turned: test.turned}
		lost, variance := e.lostFirst()
		near(t, "lost", lost, test.lost, 1e-15)
		near(t, "variance", variance, test.variance, 1e-15)
	}
}

// The interval of a throw by cells of belief, 2.5 % left out on either side: of cells
// 0.9, 1 and 1.1 with a quarter, a half and a quarter, a tenth wide, 0.86 to 1.14.
func TestLearnedByHand(t *testing.T) {
	eccentric := Eccentric{Throw: 2, width: 0.2, belief: []stand{{throw: 2.2, weight: 0.25}, {throw: 1.8, weight: 0.1},
		{throw: 2, weight: 0.5}, {throw: 1.8, weight: 0.15}}}
	low, high := eccentric.Learned()
	near(t, "low", low, 0.86, 1e-12)
	near(t, "high", high, 1.14, 1e-12)
	eccentric.belief, eccentric.width = []stand{{throw: 1.8, weight: 1}}, 0
	low, high = eccentric.Learned()
	near(t, "known, low", low, 0.9, 1e-12)
	near(t, "known, high", high, 0.9, 1e-12)
}

// What lies beyond the top or the bottom by more than half the limits is out of
// reach, where 95 % of the belief say so.
func TestReachByHand(t *testing.T) {
	middle, bottom := stand{throw: 1, cos: 0, weight: 1}, stand{throw: 1, cos: 1, weight: 1}
	mixed := func(w float64) []stand {
		a, b := middle, bottom
		a.weight, b.weight = w, 1-w
		return []stand{a, b}
	}
	for _, test := range []struct {
		belief       []stand
		change, half float64
		want         Reach
	}{
		{[]stand{middle}, 1.5, 0.2, Reach{true, 0.5}}, {[]stand{middle}, -1.5, 0.2, Reach{true, 0.5}},
		{[]stand{middle}, 1.1, 0.2, Reach{}},
		{[]stand{middle}, 0.9, 0, Reach{}}, {[]stand{bottom}, 1.9, 0.05, Reach{}},
		{[]stand{bottom}, -0.5, 0.1, Reach{true, 0.5}}, {[]stand{bottom}, 2.5, 0.1, Reach{true, 0.5}},
		{mixed(0.94), 1.5, 0.2, Reach{}}, {mixed(0.96), 1.5, 0.2, Reach{true, 0.5}},
	} {
		e := Eccentric{belief: test.belief}
		got := e.reach(test.change, test.half)
		if got.Out != test.want.Out || math.Abs(got.Most-test.want.Most) > 1e-12 {
			t.Errorf("%+v: %+v", test, got)
		}
	}
}

// A half-width of one eccentric's lift keeps positions within their limits where all
// lifts are within theirs: the limits over the sum of a row's weights.
func TestLimitsOfALift(t *testing.T) {
	pair := Eccentrics{Body: [][]float64{{1, -0.5}, {0, 2}}, Target: []float64{3, 5}, Low: []float64{2.7, 4},
		High: []float64{3.6, 5.4}}
	lift := func(j int, at []float64) float64 { return at[j] }
	for j, want := range []struct{ target, half float64 }{{3, 0.3 / 1.5}, {5, 0.2}} {
		low, high := pair.limits(j, lift)
		near(t, "low", low, want.target-want.half, 1e-12)
		near(t, "high", high, want.target+want.half, 1e-12)
	}
	pair.Body[1][1] = 4 // now its row is the narrower: 0.4/4
	low, _ := pair.limits(1, lift)
	near(t, "by the narrower row", low, 5-0.1, 1e-12)
}

// From the bottom a quarter of a turn lifts by the throw; within the travel, and not
// less than is worth making; of turns as likely the least.
func TestChooseByHand(t *testing.T) {
	at := func(angle float64) []stand {
		return []stand{{throw: 1, cos: math.Cos(angle), sin: math.Sin(angle),
			weight: 1}}
	}
	for _, test := range []struct {
		name        string
		angle       float64
		low, high   float64
		least, most float64
		useful      float64
		want        float64
	}{
		{"from the bottom", 0, 0.9, 1.1, -1, 1, 0, 0.25}, {"the other way round", 0, 0.9, 1.1, -1, 0.2, 0, -0.25},
		{"from a quarter on", math.Pi / 2, 0.9, 1.1, -1, 1, 0, 0.25},
		{"from a quarter back", math.Pi / 2, -1.1, -0.9, -1, 1, 0, -0.25},
		{"from three quarters", 3 * math.Pi / 2, 0.9, 1.1, -1, 1, 0, -0.25},
		{"home already", 0, -0.1, 0.1, -1, 1, 0, 0},
		{"too small", 0, 0.05, 0.12, -1, 1, 0.09, 0}, {"just enough", 0, 0.05, 0.12, -1, 1, 0.0625, -0.0625},
	} {
		e := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 16, Gain: 1, Least: test.least, Most: test.most,
			Useful: test.useful}, Throw: 1, belief: at(test.angle)}
		options, best := e.choose(test.low, test.high, 0.01)
		if best.turns != test.want {
			t.Errorf("%s: %v turns, want %v", test.name, best.turns, test.want)
		}
		change := math.Cos(test.angle) - math.Cos(test.angle+2*math.Pi*best.turns)
		near(t, test.name+": change", best.change, change, 1e-12)
		near(t, test.name+": its spread", best.spread, 0, 1e-6)
		near(t, test.name+": chance", best.pass,
			(math.Erf((test.high-change)/0.01/math.Sqrt2)-math.Erf((test.low-change)/0.01/math.Sqrt2))/2, 1e-5)
		for _, o := range options {
			if o.pass < best.pass/2 || o.turns > test.most || o.turns < test.least || o.turns != 0 &&
				math.Abs(o.turns) < test.useful {
				t.Errorf("%s: %+v among the options", test.name, o)
			}
		}
	}
	// Half a turn is tried too: from the bottom to the top, twice the throw.
	half := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 16, Gain: 1, Least: -1, Most: 1}, Throw: 1, belief: at(0)}
	if _, best := half.choose(1.99, 2.01, 0.001); math.Abs(best.turns) != 0.5 {
		t.Errorf("from the bottom to the top: %v turns, want half a turn", best.turns)
	}
	// Neither end of the travel is passed, wherever the goal lies.
	for _, angle := range []float64{math.Pi / 2, 3 * math.Pi / 2} {
		held := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 16, Gain: 1, Least: -0.125, Most: 0.125}, Throw: 1,
			belief: at(angle)}
		for _, goal := range []float64{-1, 1} {
			options, best := held.choose(goal-0.1, goal+0.1, 0.3)
			for _, o := range append(options, best) {
				if math.Abs(o.turns) > 0.125 {
					t.Errorf("from %v to %v: %v turns, past the travel", angle, goal, o.turns)
				}
			}
			if way := goal * math.Sin(angle); math.Abs(best.turns-0.125*way) > 1e-9 {
				t.Errorf("from %v to %v: %v turns, want all of the travel", angle, goal, best.turns)
			}
		}
	}
	// An odd number of increments is tried beside the best of the even ones.
	odd := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 16, Gain: 1, Least: -1, Most: 1}, Throw: 1, belief: at(0)}
	if _, best := odd.choose(0.55, 0.7, 0.05); best.turns != 0.1875 {
		t.Errorf("between two even numbers: %v turns, want 0.1875", best.turns)
	}
	// A hand's uncertainty spreads the change by the slope there, 2π throws a turn.
	e := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 16, Gain: 1, Least: -1, Most: 1, Hand: 0.01}, Throw: 1,
		belief: at(0)}
	_, best := e.choose(0.9, 1.1, 0.01)
	near(t, "spread by hand", best.spread, 2*math.Pi*0.01, 1e-9)
	near(t, "chance by hand", best.pass, math.Erf(0.1/math.Hypot(0.01, 2*math.Pi*0.01)/math.Sqrt2), 1e-5)
	near(t, "ideal", best.ideal, best.pass, 1e-9)
}

// Readings of a known eccentric leave it known: where it stands, how far it throws,
// and what a turn will bring.
func TestEccentricIsLearned(t *testing.T) {
	const start, throw = 0.8, 1.05
	turned := []float64{0, 0.125, -0.125, 0.25, 0.375}
	e := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 64, Least: -1, Most: 1, Gain: 1, GainU: 0.1}, Throw: 1,
		Turned: turned}
	pair := Eccentrics{Each: []Eccentric{e}, Body: [][]float64{{1}}, U: 0.003, Target: []float64{0}}
	reading := func(turns float64) float64 { return 5 + Lift(throw, start+2*math.Pi*turns) }
	for _, x := range turned {
		pair.Readings = append(pair.Readings, []float64{reading(x)})
	}
	goal := 5 + Lift(throw, start+2*math.Pi*0.1875)
	pair.Target, pair.Low, pair.High = []float64{goal}, []float64{goal - 0.05}, []float64{goal + 0.05}
	solution, reach, err := pair.Solve()
	if err != nil || reach[0].Out {
		t.Fatal(err, reach)
	}
	if got := reading(0.375 + solution.Turns[0]); math.Abs(got-goal) > 0.05 ||
		math.Abs(solution.Predicted[0]-got) > 0.02 ||
		solution.Pass < 0.8 {
		t.Errorf("%v turns bring it to %v, predicted %v with chance %v; want %v", solution.Turns[0], got,
			solution.Predicted[0],
			solution.Pass, goal)
	}
	if solution.Tries < 1 || solution.Tries > 1+(1-solution.Pass)/0.9 {
		t.Errorf("%v tries, with a chance of %v", solution.Tries, solution.Pass)
	}
	low, high := pair.Each[0].Learned()
	if !(low < throw && throw < high && high-low < 0.08) {
		t.Errorf("the throw lies between %v and %v, want about %v", low, high, throw)
	}
	if pair.Each[0].now != reading(0.375) {
		t.Errorf("it stands at %v", pair.Each[0].now)
	}
	// On the rising side only half of the angles are thought of.
	pair.Each[0].Rising = true
	if _, _, err := pair.Solve(); err != nil {
		t.Fatal(err)
	}
	for _, b := range pair.Each[0].belief {
		if b.start > math.Pi+0.1 || b.start < -0.1 {
			t.Errorf("rising, and started at %v", b.start)
		}
	}
	for name, change := range map[string]func(*Eccentrics){
		"no eccentric": func(p *Eccentrics) { p.Each = nil }, "no reading": func(p *Eccentrics) { p.Readings = nil },
		"fewer positions": func(p *Eccentrics) { p.Body = nil },
		"told apart by nothing": func(p *Eccentrics) {
			p.Each, p.Body = append(p.Each, p.Each[0]), [][]float64{{1, 1}, {1, 1}}
		},
	} {
		q := pair
		change(&q)
		if _, _, err := q.Solve(); err == nil {
			t.Errorf("%s: solved", name)
		}
	}
}

// With one reading nothing is known but what the sides allow: every angle is as likely as
// any other, and every throw within ±√3 of its uncertainty about the gain.
func TestFlatPriors(t *testing.T) {
	for _, rising := range []bool{false, true} {
		eccentric := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 16, Least: -1, Most: 1, Gain: 1.25, GainU: 0.1},
			Throw:  2,
			Turned: []float64{0}, Rising: rising}
		eccentric.learn([]float64{7}, 0.01)
		to := 2 * math.Pi
		if rising {
			to = math.Pi
		}
		var total, start, rather, least, most float64
		least = math.Inf(1)
		for _, one := range eccentric.belief {
			total, start = total+one.weight, start+one.weight*one.start
			least, most = min(least, one.start), max(most, one.start)
			if one.start < to/4 {
				rather += one.weight
			}
			near(t, "each as likely", one.weight, 1/float64(len(eccentric.belief)), 1e-12)
			near(t, "where it stands", math.Hypot(one.cos-math.Cos(one.start), one.sin-math.Sin(one.start)), 0, 1e-12)
		}
		near(t, "all of it", total, 1, 1e-9)
		near(t, "the middle of the angles", start, to/2, 1e-9)
		near(t, "a quarter of them", rather, 0.25, 1e-9)
		if least < 0 || least > to/40 || most > to || most < to-to/40 {
			t.Errorf("rising %v: angles from %v to %v, want 0 to %v", rising, least, most, to)
		}
		// 95 % of the flat throws, over the nominal one.
		low, high := eccentric.Learned()
		near(t, "the least throw", low, 1.25*(1-0.95*math.Sqrt(3)*0.1), 1e-9)
		near(t, "the greatest throw", high, 1.25*(1+0.95*math.Sqrt(3)*0.1), 1e-9)
	}
	// Readings too rough to tell anything leave it as it was, over the finer grid too.
	flat := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 16, Least: -1, Most: 1, Gain: 1, GainU: 0.1}, Throw: 1,
		Turned: []float64{0, 0.25}}
	flat.learn([]float64{7, 8}, 1e4)
	low, high := flat.Learned()
	near(t, "the least throw still", low, 1-0.95*math.Sqrt(3)*0.1, 1e-3)
	near(t, "the greatest throw still", high, 1+0.95*math.Sqrt(3)*0.1, 1e-3)
	if flat.now != 8 {
		t.Errorf("it stands at %v by its last reading, 8", flat.now)
	}
}

// What positions will read, and how sure that is, by what each lift moves them.
func TestExpectByHand(t *testing.T) {
	eccentrics := Eccentrics{Body: [][]float64{{0.5, 2}, {0, -3}}, Readings: [][]float64{{9, 9}, {1, 2}}, U: 0.1}
	turned := []choice{{change: 0.4, spread: 0.2}, {change: -0.1, spread: 0.05}}
	for i, want := range []struct{ mean, u float64 }{
		{1 + 0.2 - 0.2, math.Sqrt(0.01 + 0.01 + 0.01)}, {2 + 0.3, math.Sqrt(0.01 + 0.0225)},
	} {
		mean, u := eccentrics.expect(i, turned)
		near(t, "mean", mean, want.mean, 1e-12)
		near(t, "its uncertainty", u, want.u, 1e-12)
	}
}

// What stands at its target, with room about it, is left alone by one reading; and the
// chance is that of the reading alone.
func TestOneReadingAtHome(t *testing.T) {
	e := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 16, Least: -1, Most: 1, Gain: 1, Hand: 0.01}, Throw: 1,
		Turned: []float64{0}}
	p := Eccentrics{Each: []Eccentric{e}, Body: [][]float64{{1}}, U: 0.1, Readings: [][]float64{{5}},
		Target: []float64{5}, Low: []float64{4.8}, High: []float64{5.2}}
	solution, reach, err := p.Solve()
	if err != nil || solution.Turns[0] != 0 || solution.Past[0] != 0 || solution.Tries != 0 || reach[0] != (Reach{}) {
		t.Fatalf("at home: %+v, %+v, %v", solution, reach, err)
	}
	near(t, "chance", solution.Pass, math.Erf(2/math.Sqrt2), 1e-5)
	near(t, "predicted", solution.Predicted[0], 5, 1e-12)
	near(t, "its uncertainty", solution.U[0], 0.1, 1e-12)
}

// Giving hopeless turns up early changes nothing: the best, and all that are at least
// half as likely, are those of going through every turn to its end.
func TestChooseAgainstEveryTurn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		eccentric := Eccentric{Throw: 1, Adjuster: Adjuster{Increment: 1.0 / 32, Least: -1, Most: 1, Gain: 1,
			Hand: rapid.Float64Range(0, 0.03).Draw(t, "hand")}}
		total := 0.0
		for range rapid.IntRange(1, 40).Draw(t, "ways") {
			angle := rapid.Float64Range(0, 2*math.Pi).Draw(t, "angle")
			one := stand{throw: rapid.Float64Range(0.7, 1.3).Draw(t, "throw"), cos: math.Cos(angle),
				sin: math.Sin(angle), weight: rapid.Float64Range(0.01, 1).Draw(t, "weight")}
			total += one.weight
			eccentric.belief = append(eccentric.belief, one)
		}
		for i := range eccentric.belief {
			eccentric.belief[i].weight /= total
		}
		low := rapid.Float64Range(-2, 2).Draw(t, "low")
		high := low + rapid.Float64Range(0.01, 0.3).Draw(t, "wide")
		uncertainty := rapid.Float64Range(0.001, 0.1).Draw(t, "u")
		// The chance, the mean change and its spread after a number of turns.
		after := func(turns float64) (pass, mean, spread float64) {
			square := 0.0
			for _, one := range eccentric.belief {
				angle := math.Atan2(one.sin, one.cos) + 2*math.Pi*turns
				change := one.throw * (one.cos - math.Cos(angle))
				slope, hand := 2*math.Pi*one.throw*math.Sin(angle), 0.0
				if turns != 0 {
					hand = eccentric.Hand
				}
				pass += one.weight * math.Exp(logWithin(low, high, change, math.Hypot(uncertainty, slope*hand)))
				mean += one.weight * change
				square += one.weight * (change*change + slope*slope*hand*hand)
			}
			return pass, mean, math.Sqrt(max(square-mean*mean, 0))
		}
		options, best := eccentric.choose(low, high, uncertainty)
		told := map[float64]bool{}
		for _, option := range append(options, best) {
			told[option.turns] = true
			pass, mean, spread := after(option.turns)
			if math.Abs(option.pass-pass) > 1e-5 || math.Abs(option.change-mean) > 1e-9 ||
				math.Abs(option.spread-spread) > 1e-6 {
				t.Fatalf("%v turns: %+v, want %v, %v, %v", option.turns, option, pass, mean, spread)
			}
		}
		for k := -16; k <= 16; k += 2 { // every second increment, to half a turn
			turns := float64(k) / 32
			pass, _, _ := after(turns)
			if pass > best.pass*1.02+1e-4 {
				t.Fatalf("%v turns with %v, though %v with %v would do", best.turns, best.pass, turns, pass)
			}
			if pass > best.pass/2+1e-4 && !told[turns] {
				t.Fatalf("%v turns with %v is no choice beside %v", turns, pass, best.pass)
			}
		}
	})
}
