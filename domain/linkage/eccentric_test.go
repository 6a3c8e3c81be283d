package linkage

import (
	"math"
	"testing"
)

func TestLostFirst(t *testing.T) {
	for _, c := range []struct {
		approach       int
		turned         []float64
		lost, variance float64
	}{
		{0, nil, 0, 0}, {0, []float64{0}, 0, 0}, {0, []float64{0, 0}, 0, 0},
		{0, []float64{0, 0.5}, 0.1, 0.04/12 + 3e-4},
		{0, []float64{0, -0.5}, -0.1, 0.04/12 + 3e-4}, {-1, []float64{0, 0.5}, -0.1, 0.04/12 + 3e-4},
		{0, []float64{1, 1, 0.5}, -0.1, 0.04/12 + 3e-4}, {1, []float64{0}, 0, 0},
	} {
		e := Eccentric{Adjuster: Adjuster{Play: 0.2, PlayU: 0.03, Approach: c.approach}, Turned: c.turned}
		lost, variance := e.lostFirst()
		near(t, "lost", lost, c.lost, 1e-15)
		near(t, "variance", variance, c.variance, 1e-15)
	}
}

// The interval of a throw by cells of belief, 2.5 % left out on either side: of cells
// 0.9, 1 and 1.1 with a quarter, a half and a quarter, a tenth wide, 0.86 to 1.14.
func TestLearnedByHand(t *testing.T) {
	e := Eccentric{Throw: 2, width: 0.2, belief: []stand{{throw: 2.2, weight: 0.25}, {throw: 1.8, weight: 0.1},
		{throw: 2, weight: 0.5}, {throw: 1.8, weight: 0.15}}}
	low, high := e.Learned()
	near(t, "low", low, 0.86, 1e-12)
	near(t, "high", high, 1.14, 1e-12)
	e.belief, e.width = []stand{{throw: 1.8, weight: 1}}, 0
	low, high = e.Learned()
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
	for _, c := range []struct {
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
		e := Eccentric{belief: c.belief}
		got := e.reach(c.change, c.half)
		if got.Out != c.want.Out || math.Abs(got.Most-c.want.Most) > 1e-12 {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}

// A half-width of one eccentric's lift keeps positions within their limits where all
// lifts are within theirs: the limits over the sum of a row's weights.
func TestLimitsOfALift(t *testing.T) {
	p := Eccentrics{Body: [][]float64{{1, -0.5}, {0, 2}}, Target: []float64{3, 5}, Low: []float64{2.7, 4},
		High: []float64{3.6, 5.4}}
	lift := func(j int, at []float64) float64 { return at[j] }
	for j, want := range []struct{ target, half float64 }{{3, 0.3 / 1.5}, {5, 0.2}} {
		low, high := p.limits(j, lift)
		near(t, "low", low, want.target-want.half, 1e-12)
		near(t, "high", high, want.target+want.half, 1e-12)
	}
	p.Body[1][1] = 4 // now its row is the narrower: 0.4/4
	low, _ := p.limits(1, lift)
	near(t, "by the narrower row", low, 5-0.1, 1e-12)
}

// From the bottom a quarter of a turn lifts by the throw; within the travel, and not
// less than is worth making; of turns as likely the least.
func TestChooseByHand(t *testing.T) {
	at := func(angle float64) []stand {
		return []stand{{throw: 1, cos: math.Cos(angle), sin: math.Sin(angle),
			weight: 1}}
	}
	for _, c := range []struct {
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
		e := Eccentric{Adjuster: Adjuster{Increment: 1.0 / 16, Gain: 1, Least: c.least, Most: c.most,
			Useful: c.useful}, Throw: 1, belief: at(c.angle)}
		options, best := e.choose(c.low, c.high, 0.01)
		if best.turns != c.want {
			t.Errorf("%s: %v turns, want %v", c.name, best.turns, c.want)
		}
		change := math.Cos(c.angle) - math.Cos(c.angle+2*math.Pi*best.turns)
		near(t, c.name+": change", best.change, change, 1e-12)
		near(t, c.name+": its spread", best.spread, 0, 1e-6)
		near(t, c.name+": chance", best.pass,
			(math.Erf((c.high-change)/0.01/math.Sqrt2)-math.Erf((c.low-change)/0.01/math.Sqrt2))/2, 1e-5)
		for _, o := range options {
			if o.pass < best.pass/2 || o.turns > c.most || o.turns < c.least || o.turns != 0 &&
				math.Abs(o.turns) < c.useful {
				t.Errorf("%s: %+v among the options", c.name, o)
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
	p := Eccentrics{Each: []Eccentric{e}, Body: [][]float64{{1}}, U: 0.003, Target: []float64{0}}
	reading := func(turns float64) float64 { return 5 + Lift(throw, start+2*math.Pi*turns) }
	for _, x := range turned {
		p.Readings = append(p.Readings, []float64{reading(x)})
	}
	goal := 5 + Lift(throw, start+2*math.Pi*0.1875)
	p.Target, p.Low, p.High = []float64{goal}, []float64{goal - 0.05}, []float64{goal + 0.05}
	s, reach, err := p.Solve()
	if err != nil || reach[0].Out {
		t.Fatal(err, reach)
	}
	if got := reading(0.375 + s.Turns[0]); math.Abs(got-goal) > 0.05 || math.Abs(s.Predicted[0]-got) > 0.02 ||
		s.Pass < 0.8 {
		t.Errorf("%v turns bring it to %v, predicted %v with chance %v; want %v", s.Turns[0], got, s.Predicted[0],
			s.Pass, goal)
	}
	if s.Tries < 1 || s.Tries > 1+(1-s.Pass)/0.9 {
		t.Errorf("%v tries, with a chance of %v", s.Tries, s.Pass)
	}
	low, high := p.Each[0].Learned()
	if !(low < throw && throw < high && high-low < 0.08) {
		t.Errorf("the throw lies between %v and %v, want about %v", low, high, throw)
	}
	if p.Each[0].now != reading(0.375) {
		t.Errorf("it stands at %v", p.Each[0].now)
	}
	// On the rising side only half of the angles are thought of.
	p.Each[0].Rising = true
	if _, _, err := p.Solve(); err != nil {
		t.Fatal(err)
	}
	for _, b := range p.Each[0].belief {
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
		q := p
		change(&q)
		if _, _, err := q.Solve(); err == nil {
			t.Errorf("%s: solved", name)
		}
	}
}
