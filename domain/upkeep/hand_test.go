package upkeep

import (
	"errors"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/mathext"
)

func near(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if got != want && !(math.Abs(got-want) <= by) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

// With a shape of one the events to come are geometric, with two they have (n + 1)·p²·qⁿ
// as their chance; far out the gamma function's logarithm says the same.
func TestGammaPoissonByHand(t *testing.T) {
	for n := range 6 {
		near(t, "shape one", GammaPoisson{1, 3}.Chance(n, 1), 0.75*math.Pow(0.25, float64(n)), 1e-15)
		near(t, "shape two", GammaPoisson{2, 3}.Chance(n, 2), float64(n+1)*0.36*math.Pow(0.4, float64(n)), 1e-15)
	}
	lg := func(x float64) float64 { v, _ := math.Lgamma(x); return v }
	for _, n := range []int{0, 1, 700, 3000} {
		g, e := GammaPoisson{500, 2}, 3.0
		want := lg(500+float64(n)) - lg(500) - lg(float64(n)+1) + 500*math.Log(0.4) + float64(n)*math.Log(0.6)
		near(t, "shape 500", g.logChance(n, e), want, 1e-8*math.Abs(want))
	}
	if g := (GammaPoisson{2, 3}).Seen(4, 5); g != (GammaPoisson{6, 8}) || g.Mean(4) != 3 {
		t.Errorf("seen four in five: %+v, %v in four", g, g.Mean(4))
	}
	for chance, want := range map[float64]int{0.4: 0, 0.5: 0, 0.51: 1, 0.75: 1, 0.9: 3, 0.97: 5} {
		if got := (GammaPoisson{1, 1}).Most(chance, 1); got != want {
			t.Errorf("not passed with %v: %d, want %d", chance, got, want)
		}
	}
}

// Weights of the days of the week by the shrinkage that their χ² allows.
func TestWeekWeightsByHand(t *testing.T) {
	ten := [7]float64{10, 10, 10, 10, 10, 10, 10}
	for _, test := range []struct {
		name    string
		n, d, m [7]float64
	}{
		{"χ² of 20 over seven days keeps 0.8", [7]float64{20, 10, 10, 10, 10, 10, 0}, ten,
			[7]float64{1.8, 1, 1, 1, 1, 1, 0.2}},
		{"no more than chance", [7]float64{11, 10, 10, 10, 10, 10, 9}, ten, [7]float64{1, 1, 1, 1, 1, 1, 1}},
		{"six days, χ² of 5 keeps 0.4", [7]float64{15, 10, 10, 10, 10, 5, 0}, [7]float64{10, 10, 10, 10, 10, 10, 0},
			[7]float64{1.2, 1, 1, 1, 1, 0.8, 1}},
		{"days of unlike number", [7]float64{60, 0, 0, 0, 0, 0, 0}, [7]float64{20, 10, 10, 10, 10, 0, 0},
			[7]float64{1 + (1-2.0/120)*2, 1 - (1 - 2.0/120), 1 - (1 - 2.0/120), 1 - (1 - 2.0/120),
				1 - (1 - 2.0/120), 1, 1}},
		{"four days, χ² of 20 keeps 0.95", [7]float64{20, 10, 10, 0}, [7]float64{10, 10, 10, 10},
			[7]float64{1.95, 1, 1, 0.05, 1, 1, 1}},
		{"three days say nothing", [7]float64{30, 0, 0}, [7]float64{10, 10, 10}, [7]float64{1, 1, 1, 1, 1, 1, 1}},
		{"nothing happened", [7]float64{}, ten, [7]float64{1, 1, 1, 1, 1, 1, 1}},
	} {
		got := weekWeights(test.n, test.d)
		for w := range got {
			near(t, test.name, got[w], test.m[w], 1e-12)
		}
	}
}

func TestHaltonByHand(t *testing.T) {
	for _, test := range []struct {
		i, dim int
		want   float64
	}{{1, 0, 0.5}, {2, 0, 0.25}, {3, 0, 0.75}, {6, 0, 0.375}, {1, 1, 1.0 / 3}, {5, 1, 2.0/3 + 1.0/9},
		{1, 16, 1.0 / 59}, {1, 17, 1.0 / 61}, {8, 4, 8.0 / 11}} {
		near(t, "a term", halton(test.i, test.dim), test.want, 1e-15)
	}
	// Every dimension has a prime of its own, so that none runs along with another.
	last := 1
	for dim := range 18 {
		base := int(math.Round(1 / halton(1, dim)))
		for divisor := 2; divisor < base; divisor++ {
			if base%divisor == 0 {
				t.Errorf("dimension %d by %d, which is no prime", dim, base)
			}
		}
		if base <= last {
			t.Errorf("dimension %d by %d, after %d", dim, base, last)
		}
		last = base
	}
	near(t, "a normal quantile", normal(0.975), 1.9599639845400545, 1e-12)
	near(t, "the median", normal(0.5), 0, 0)
}

// The gamma quantile of Wilson and Hilferty, and how near it comes.
func TestQuantileOfALevel(t *testing.T) {
	near(t, "median", GammaPoisson{100, 10}.quantile(normal(0.5)), 10*math.Pow(1-1/900.0, 3), 1e-12)
	for _, u := range []float64{0.05, 0.5, 0.95} {
		near(t, "against the inverse", GammaPoisson{5, 2}.quantile(normal(u)), mathext.GammaIncRegInv(5, u)/2, 0.01)
	}
	near(t, "of nothing", GammaPoisson{0, 2}.quantile(normal(0.5)), 0, 0)
	near(t, "far down", GammaPoisson{0.05, 1}.quantile(normal(0.01)), 0, 0)
	f := Forecast{loose: 0.25}
	if got := f.about(GammaPoisson{4, 2}); got != (GammaPoisson{2, 1}) {
		t.Errorf("with the uncertainty of the hours: %+v", got)
	}
}

// How long levels last, by hand: one like another's ten days, give or take two, or at
// random.
func TestLifeByHand(t *testing.T) {
	tail := func(z float64) float64 { return math.Erfc(z/math.Sqrt2) / 2 }
	lives := life{like: []int{10}, reg: 0.9, mean: 20}
	a, b := lives.survives(12)
	near(t, "regular", a, 0.9*tail(1), 1e-15)
	near(t, "random", b, 0.1*math.Exp(-0.6), 1e-15)
	near(t, "ends", lives.ends(12), 1-(0.9*tail(1.5)+0.1*math.Exp(-0.65))/(a+b), 1e-15)
	a, _ = life{like: []int{10, 20}, reg: 0.8, mean: 1}.survives(12)
	near(t, "of two", a, 0.4*tail(1)+0.4*tail(-2), 1e-15)
	random := life{mean: 20}
	near(t, "ends at random", random.ends(7), 1-math.Exp(-0.05), 1e-15)
	near(t, "older than can be", life{like: []int{10}, reg: 1, mean: 20}.ends(1000), 0.05, 0)
	sure := life{like: []int{10, 20}, reg: 1, mean: 20}
	for _, test := range []struct {
		name string
		l    life
		age  int
		u, v float64
		want int
	}{
		{"at random", random, 5, 0.5, 0.5, 14}, {"at random, short", random, 5, 0.5, 0, 1},
		{"at random, at most", life{mean: 1e6}, 0, 0.5, 0.999999, 801},
		{"like the first", sure, 0, 0.25, 0.5, 10}, {"like the second", sure, 0, 0.75, 0.5, 20},
		{"of an age", life{like: []int{10}, reg: 1, mean: 20}, 9, 0.5, 0.5, 2},
		{"at its age", life{like: []int{10}, reg: 1, mean: 20}, 10, 0.5, 0.5, 1},
		// At twelve days 0.16 of those of ten are left, and 0.98 of those of twenty.
		{"of an age, like the first", sure, 12, 0.13, 0.5, 1}, {"like the second", sure, 12, 0.15, 0.5, 8},
		{"long", life{like: []int{10}, reg: 1, mean: 20}, 0, 0.5, 0.975, 14}, {"regular", lives, 0, 0.85, 0.5, 10},
		{"random", lives, 0, 0.95, 0.5, 14},
		{"overdue", life{like: []int{10}, reg: 1, mean: 20}, 13, 0.5, 0, 1},
		// A length that comes twice stands for two levels: the one between counts.
		{"the one between two alike", life{like: []int{10, 20, 10}, reg: 1, mean: 5}, 0, 0.5, 0.5, 20},
	} {
		if got := test.l.left(test.age, test.u, test.v); got != test.want {
			t.Errorf("%s: %d days more, want %d", test.name, got, test.want)
		}
	}
}

// How levels of either sort end at each age, by hand: by how those before lasted, by the
// prior's chance where none have ended, and never surer than nine in ten.
func TestEndsByHand(t *testing.T) {
	unknown := Forecast{}
	for age, end := range unknown.ends(3)[1] {
		near(t, "chance without any", end.chance, hazard, 0)
		near(t, "goes on without any", end.goesOn, math.Log(1-hazard), 1e-15)
		if age > 2 {
			t.Errorf("an age of %d in three days", age)
		}
	}
	known := Forecast{life: [2]life{{mean: 20}, {like: []int{2}, reg: 1, mean: 20}}}
	ends := known.ends(40)
	near(t, "at random", ends[0][7].chance, 1-math.Exp(-0.05), 1e-15)
	near(t, "goes on at random", ends[0][7].goesOn, -0.05, 1e-15)
	near(t, "at most", ends[1][6].chance, 0.9, 0)
	near(t, "goes on at least", ends[1][6].goesOn, math.Log(0.1), 1e-15)
}

// What a course of levels says of how long they last, and of what comes next: high
// for 30 days, low for 10, high for 20, low for 15.
func TestLivesByHand(t *testing.T) {
	high, low := GammaPoisson{5, 1}, GammaPoisson{0.5, 1}
	forecast := Forecast{fresh: GammaPoisson{1, 1}, past: []segment{{high, 30}, {low, 10}, {high, 20}, {low, 15}}}
	forecast.lives()
	want := [2]life{{like: []int{20}, reg: 0.9, mean: (28 + 30 + 20) / (7.0 + 2)},
		{like: []int{10}, reg: 0.9, mean: (28 + 10 + 15) / (7.0 + 1)}}
	if d := cmp.Diff(want, forecast.life, cmp.AllowUnexported(life{})); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if forecast.lifeOf(low).mean != want[1].mean || forecast.lifeOf(high).mean != want[0].mean ||
		forecast.low(GammaPoisson{1, 1}) {
		t.Error("low is less than usual")
	}
	for u, want := range map[float64]GammaPoisson{0: low, 0.39: low, 0.5: low, 0.79: low, 0.81: forecast.fresh} {
		if got := forecast.next(high, u); got != want {
			t.Errorf("after a high level, at %v: %+v, want %+v", u, got, want)
		}
	}
	forecast.past = forecast.past[:1]
	forecast.life = [2]life{}
	forecast.lives()
	near(t, "one level, not ended", forecast.life[0].mean, (28+30)/0.8, 1e-12)
	near(t, "none", forecast.life[1].mean, 28/0.8, 1e-12)
	if forecast.life[0].reg != 0 {
		t.Error("a level that has not ended is like none")
	}
	forecast.past = []segment{{high, 30}, {low, 10}, {high, 10}}
	sorts := forecast.sorts()
	if len(sorts) != 2 || sorts[0] != (GammaPoisson{10, 2}) || sorts[1] != (GammaPoisson{0.5, 1}) {
		t.Errorf("sorts %v", sorts)
	}
	forecast.past = []segment{{GammaPoisson{60, 10}, 30}}
	if sorts := forecast.sorts(); len(sorts) != 1 || sorts[0] != (GammaPoisson{20, 10.0 / 3}) {
		t.Errorf("a sort that is known well is taken for less: %v", sorts)
	}
}

// The chance that hours are used up, against the sum over numbers of sessions.
func TestTableOfHours(t *testing.T) {
	f := Forecast{mean: 1.5}
	for _, hours := range []float64{1, 6, 20} {
		quantiles := f.table(hours)
		near(t, "no sessions", quantiles.over(0), 0, 1e-9)
		for _, mean := range []float64{0.5, 3, 9, 15} {
			sum := math.Exp(-mean)
			for n := 1; n < 200; n++ {
				lg, _ := math.Lgamma(float64(n) + 1)
				sum += math.Exp(float64(n)*math.Log(mean)-mean-lg) * mathext.GammaIncReg(2*float64(n), hours*2/1.5)
			}
			near(t, "used up", quantiles.over(mean), 1-sum, 2e-3)
		}
		near(t, "very many sessions", quantiles.over(1e6), 1, 0)
	}
}

// The days between which something falls, by hand.
func TestRangeByHand(t *testing.T) {
	ramp := func(by, most float64) (p Passing) {
		for t := 1; t <= Horizon; t++ {
			p.By = append(p.By, math.Round(1e9*min(by*float64(t), most))/1e9)
		}
		return p
	}
	step := Passing{By: make([]float64, Horizon)}
	for i := 4; i < Horizon; i++ {
		step.By[i] = 1
	}
	for _, test := range []struct {
		name                string
		p                   Passing
		first, median, last int
	}{
		{"a tenth a day", ramp(0.1, 1), 2, 5, 9}, {"a twentieth a day", ramp(0.05, 1), 3, 10, 18},
		{"on one day", step, 5, 5, 5},
		{"a sixth to come later", ramp(0.1, 0.85), 3, 5, 0}, {"half to come later", ramp(0.1, 0.45), 1, 0, 0},
		{"hardly", ramp(0.1, 0.05), 0, 0, 0},
	} {
		first, median, last := test.p.Range()
		if first != test.first || median != test.median || last != test.last {
			t.Errorf("%s: %d, %d, %d; want %d, %d, %d", test.name, first, median, last, test.first, test.median,
				test.last)
		}
	}
	p := ramp(0.1, 1)
	if p.Day(0.1) != 1 || p.Day(0.11) != 2 || p.Day(1) != 10 || ramp(0.1, 0.5).Day(0.6) != 0 {
		t.Error("the first day by which the chance is as much")
	}
	if p.by(0) != 0 || p.by(-3) != 0 || p.by(1) != 0.1 || p.by(Horizon+9) != 1 {
		t.Error("before today it is not, and after the horizon as at its end")
	}
}

// A job's evenings: those in its window, else the last before it, else the first
// after it.
func TestWindowByHand(t *testing.T) {
	evenings := []Evening{{1, 60}, {5, 60}, {9, 60}, {12, 60}}
	for _, test := range []struct {
		opens, closes int
		notBefore     bool
		first, last   int
		inside        bool
		bits, later   uint64
	}{
		{4, 10, false, 1, 2, true, 0b0110, 0b1110}, {5, 9, true, 1, 2, true, 0b0110, 0b1110},
		{5, 5, false, 1, 1, true, 0b0010, 0b0110},
		{6, 8, false, 1, 1, false, 0b0010, 0b0110}, {6, 8, true, 2, 2, false, 0b0100, 0b1100},
		{13, 20, false, 3, 3, false, 0b1000, 0b1000},
		{13, 20, true, 0, 0, false, 0b0001, 0b0011}, {-3, 0, false, 0, 0, false, 0b0001, 0b0011},
		{0, 99, false, 0, 3, true, 0b1111, 0b1111},
	} {
		problem := VisitProblem{Evenings: evenings, Jobs: []VisitJob{{Opens: test.opens, Closes: test.closes,
			NotBefore: test.notBefore}}}
		first, last, inside := problem.window(0)
		if first != test.first || last != test.last || inside != test.inside || problem.allowed(0, 0) != test.bits ||
			problem.allowed(0,
				1) != test.later {
			t.Errorf("%d to %d, not before %v: %d to %d, %v, %b, one later %b", test.opens, test.closes, test.notBefore,
				first, last, inside, problem.allowed(0, 0), problem.allowed(0, 1))
		}
	}
	if span(0, 63) != math.MaxUint64 || span(63, 63) != 1<<63 || span(2, 4) != 0b11100 {
		t.Error("bits from one to another")
	}
}

// What a machine takes on an evening: its jobs, what they need prepared once, and the
// visit; and what being late costs.
func TestLoadByHand(t *testing.T) {
	share := newSharing(VisitProblem{
		Evenings: []Evening{{1, 60}, {5, 100}, {9, 60}}, Prep: []int{7, 100, 5}, Visit: 10,
		Jobs: []VisitJob{
			{Machine: 4, Closes: 9, Minutes: 20, Prep: []int{0}}, {Machine: 9, Closes: 1, Minutes: 99},
			{Machine: 4, Closes: 9, Minutes: 30, Prep: []int{0, 2}, After: []int{0}},
			{Machine: 4, Closes: 9, Minutes: 1},
		},
	})
	for tonight, want := range map[uint64]int{0: 0, 0b001: 20 + 7 + 10, 0b010: 30 + 7 + 5 + 10, 0b011: 50 + 12 + 10,
		0b100: 11, 0b111: 51 + 12 + 10} {
		if got := share.load(0, tonight); got != want {
			t.Errorf("jobs %03b: %d minutes, want %d", tonight, got, want)
		}
	}
	if share.after[2] != 1 || share.after[0] != 0 || share.late(1, 0) != 0 || share.late(1, 2) != 2*late {
		t.Errorf("after %v, late by two %d", share.after, share.late(1, 2))
	}
	each := []*visits{{done: []uint64{0, 0b111, 0}, cost: 3}, {done: []uint64{0, 1, 0}, cost: 4}}
	if d := cmp.Diff([]int{0, 73 + 109, 0}, share.loads(each)); d != "" || share.total(each) != 7 ||
		share.fullest(each) != 1 {
		t.Errorf("loads %s, total %d, fullest %d", d, share.total(each), share.fullest(each))
	}
	each[1].done = []uint64{1, 0, 0}
	if got := share.fullest(each); got != 0 { // 109 of 60 minutes
		t.Errorf("fullest %d, want the first", got)
	}
	each[1].done = []uint64{0, 0, 0}
	if got := share.fullest(each); got != -1 {
		t.Errorf("none is too full: %d", got)
	}
}

func TestParseUntilByHand(t *testing.T) {
	loc, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 3, 4, 10, 15, 0, 0, loc) // a Wednesday
	for in, want := range map[string]string{
		"tomorrow": "2026-03-05", "friday": "2026-03-06", "Fri": "2026-03-06", "wednesday": "2026-03-11",
		"tuesday": "2026-03-10", "until monday": "2026-03-09",
		"in 3 days": "2026-03-07", "1 day": "2026-03-05", "2 weeks": "2026-03-18", "in 1 week": "2026-03-11",
		"1 month": "2026-04-04", "in 12 months": "2027-03-04",
		"2026-03-20": "2026-03-20", "366 days": "2027-03-05", "  in  3   days ": "2026-03-07",
	} {
		got, err := ParseUntil(in, Clocks{Now: now, Loc: loc})
		if err != nil || got.Format("2006-01-02 15:04") != want+" 00:00" {
			t.Errorf("%q: %v, %v; want %s", in, got, err, want)
		}
	}
	for _, in := range []string{"", "soon", "today", "2026-03-04", "2026-03-03", "in 0 days", "367 days",
		"13 months", "2026-02-30", "2026-03-20 09:00", "3", "9999 days"} {
		if got, err := ParseUntil(in, Clocks{Now: now, Loc: loc}); err == nil {
			t.Errorf("%q: %v", in, got)
		}
	}
	if got, err := ParseWhen("5214 wk ago", Clocks{Now: now, Loc: loc}); err != nil ||
		got.Year() != 1926 { // a hundred years of 365 days
		t.Errorf("5214 weeks ago: %v, %v", got, err)
	}
	for _, in := range []string{"5215 wk ago", "2026-02-29 09:00", "2025-04-31 09:00", "2025-12-32",
		"2026-00-10 09:00", "2026-03-00 09:00", "2026-03-32", "0000-00-00"} {
		if got, err := ParseWhen(in, Clocks{Now: now, Loc: loc}); err == nil {
			t.Errorf("%q: %v", in, got)
		}
	}
	if !IsClock("9:15") || !IsClock(" At 17.30") || !IsClock("6 pm") || IsClock("monday 9:15") || IsClock("") ||
		IsClock("9") || IsClock("9:15 10:15") {
		t.Error("a time of day alone")
	}
}

// Forecasts of six histories as they stood when the study judged the model: a
// change of the model is judged by the study first, and then these are written again.
func TestForecastsStand(t *testing.T) {
	days := func(n int, use func(i int) DayUse) (history History) {
		history.First = time.Monday
		for i := range n {
			history.Days = append(history.Days, use(i))
		}
		return history
	}
	daily := days(60, func(i int) DayUse { return DayUse{1 + i%2, 1.5 * float64(1+i%2)} })
	weekly := days(120, func(i int) DayUse {
		if i%7 == 5 {
			return DayUse{4, 6}
		}
		return DayUse{i % 2, float64(i % 2)}
	})
	terms := days(200, func(i int) DayUse {
		if i/50%2 == 0 {
			return DayUse{3, 3}
		}
		return DayUse{}
	})
	closed := days(30, func(i int) DayUse {
		if i%7 > 4 {
			return DayUse{}
		}
		return DayUse{2, 2}
	})
	closed.Open = func(day int) bool { return day%7 <= 4 }
	// Used on Saturdays though it is closed then, and never on Sundays.
	though := days(60, func(i int) DayUse { return DayUse{min(1, 6-i%7), 1} })
	though.Open = func(day int) bool { return day%7 <= 4 }
	for _, test := range []struct {
		name                string
		h                   History
		hours               float64
		first, median, last int
		by                  float64 // the chance by the median's end
	}{
		{"daily", daily, 20, 7, 10, 16, 0.5766789181}, {"by the week", weekly, 30, 19, 26, 35, 0.6439657552},
		{"terms", terms, 40, 16, 27, 75, 0.5002816792},
		{"used though closed", though, 25, 22, 33, 60, 0.5099236228},
		{"closed at weekends", closed, 25, 14, 20, 36, 0.5816414084},
		{"nothing known", History{}, 10, 9, 29, 91, 0.5142203913},
	} {
		p := NewForecast(test.h, Typical{Sessions: 0.5, Hours: 1}).Passes(test.hours)
		first, median, last := p.Range()
		if first != test.first || median != test.median || last != test.last || math.Abs(p.by(median)-test.by) > 1e-6 {
			t.Errorf("{%q, %d, %d, %d, %.10f}", test.name, first, median, last, p.by(median))
		}
	}
}

// As many jobs and evenings as a plan takes, and one more of either.
func TestMostJobsAndEvenings(t *testing.T) {
	problem := func(jobs, evenings int) VisitProblem {
		largest := VisitProblem{Visit: 10}
		for e := range evenings {
			largest.Evenings = append(largest.Evenings, Evening{Day: e, Minutes: 600})
		}
		for range jobs {
			largest.Jobs = append(largest.Jobs, VisitJob{Closes: evenings, Minutes: 1})
		}
		return largest
	}
	for _, test := range []struct {
		jobs, evenings int
		want           error
	}{{MostVisitJobs, 2, nil}, {MostVisitJobs + 1, 2, ErrTooManyJobs}, {1, MostEvenings, nil},
		{1, MostEvenings + 1, ErrTooManyJobs}, {1, 0, ErrNoEvenings}, {0, 0, nil}} {
		plan, err := PlanVisits(problem(test.jobs, test.evenings))
		if !errors.Is(err, test.want) || err == nil && len(plan.At) != test.jobs {
			t.Errorf("%d jobs on %d evenings: %+v, %v; want %v", test.jobs, test.evenings, plan, err, test.want)
		}
	}
	if MostVisitJobs > 60 || MostEvenings > 64 {
		t.Error("jobs and evenings are the bits of one number")
	}
	// All in one visit: its own minutes and the jobs'.
	if plan, err := PlanVisits(problem(3, 4)); err != nil || plan.Visits != 1 || plan.Out != 3 || plan.Cost != 13 ||
		plan.Bound != 13 || plan.GaveUp || plan.Overfull != nil {
		t.Errorf("three jobs: %+v, %v", plan, err)
	}
}
