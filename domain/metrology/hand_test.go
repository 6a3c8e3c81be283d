package metrology_test

import (
	"math"
	"math/big"
	"strings"
	"testing"

	. "setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if got != want && !(math.Abs(got-want) <= 1e-9*max(math.Abs(want), 1)) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// A study worked out by hand: cells 2, 3, 8 and 13 with ± 1 in each, so that every
// sum of squares is a whole number. The chances are those of Student's t with one
// and with four degrees of freedom, which have closed forms.
func TestStudyByHand(t *testing.T) {
	result, err := Analyse(Study{{{1, 3}, {2, 4}}, {{7, 9}, {12, 14}}})
	if err != nil {
		t.Fatal(err)
	}
	cauchy := func(t float64) float64 { return 1 - 2/math.Pi*math.Atan(t) }
	for _, test := range []struct {
		what string
		got  Source
		want Source
	}{
		{"part", result.Part, Source{SS: 128, DoF: 1, MS: 128, F: 16, P: cauchy(4)}},
		{"person", result.Person, Source{SS: 18, DoF: 1, MS: 18, F: 2.25, P: cauchy(1.5)}},
		{"interaction", result.Interaction, Source{SS: 8, DoF: 1, MS: 8, F: 4, P: 1 - 1.25/math.Sqrt2}},
		{"equipment", result.Equipment, Source{SS: 8, DoF: 4, MS: 2}},
		{"total", result.Total, Source{SS: 162, DoF: 7}},
	} {
		near(t, test.what+" SS", test.got.SS, test.want.SS)
		near(t, test.what+" DoF", test.got.DoF, test.want.DoF)
		near(t, test.what+" MS", test.got.MS, test.want.MS)
		near(t, test.what+" F", test.got.F, test.want.F)
		near(t, test.what+" P", test.got.P, test.want.P)
	}
	if result.Pooled {
		t.Error("an interaction that counts is pooled")
	}
	near(t, "repeatability", result.Repeatability, math.Sqrt2)
	near(t, "its degrees of freedom", result.RepeatabilityDoF, 4)
	near(t, "reproducibility", result.Reproducibility, math.Sqrt(2.5+3))
	near(t, "gauge", result.Gauge, math.Sqrt(7.5))
	near(t, "parts", result.PartSpread, math.Sqrt(30))
	near(t, "spread", result.Spread, math.Sqrt(37.5))
	near(t, "percent", result.Percent, 100*math.Sqrt(0.2))
	if result.Distinct != 2 { // 1.41 · 2
		t.Errorf("%d categories, want 2", result.Distinct)
	}
}

// Without an interaction it is pooled; three parts, two people and four trials, so
// that none of the counts can stand for another.
func TestPooledStudyByHand(t *testing.T) {
	var s Study
	for _, part := range []float64{0, 10, 20} {
		s = append(s, [][]float64{{part - 1, part + 1, part - 1, part + 1}, {part, part + 2, part, part + 2}})
	}
	result, err := Analyse(s)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "part SS", result.Part.SS, 8*200)
	near(t, "person SS", result.Person.SS, 12*0.5)
	near(t, "interaction SS", result.Interaction.SS, 0)
	near(t, "interaction DoF", result.Interaction.DoF, 2)
	near(t, "interaction P", result.Interaction.P, 1)
	near(t, "equipment SS", result.Equipment.SS, 24)
	near(t, "equipment DoF", result.Equipment.DoF, 18)
	near(t, "total SS", result.Total.SS, 1630)
	near(t, "total DoF", result.Total.DoF, 23)
	if !result.Pooled {
		t.Fatal("no interaction, and not pooled")
	}
	near(t, "noise", result.Repeatability*result.Repeatability, 1.2)
	near(t, "its degrees of freedom", result.RepeatabilityDoF, 20)
	near(t, "F of part", result.Part.F, 800/1.2)
	near(t, "F of person", result.Person.F, 6/1.2)
	near(t, "people", result.Reproducibility*result.Reproducibility, (6-1.2)/12)
	near(t, "parts", result.PartSpread*result.PartSpread, (800-1.2)/8)
	near(t, "gauge", result.Gauge*result.Gauge, 1.6)
	if result.Distinct != 11 { // 1.41 · √(99.85/1.6) = 11.14
		t.Errorf("%d categories, want 11", result.Distinct)
	}
}

// An interaction as large as the noise has a p-value of 0.374 and is pooled.
func TestSmallInteractionIsPooled(t *testing.T) {
	result, err := Analyse(Study{{{0.5, 2.5}, {2.5, 4.5}}, {{7.5, 9.5}, {11.5, 13.5}}})
	if err != nil || !result.Pooled {
		t.Fatalf("%+v, %v", result, err)
	}
	near(t, "its F", result.Interaction.F, 1)
	near(t, "its chance", result.Interaction.P, 1-(1/math.Sqrt(5))*(1+0.5*4/5))
	near(t, "noise", result.Repeatability*result.Repeatability, (8+2)/5.0)
}

// With one person nothing is between people, and nothing is tested against it.
func TestStudyByOnePerson(t *testing.T) {
	result, err := Analyse(Study{{{1, 2}}, {{3, 4}}})
	if err != nil || result.Person != (Source{}) || result.Interaction != (Source{}) || !result.Pooled {
		t.Fatalf("%+v, %v", result, err)
	}
	near(t, "reproducibility", result.Reproducibility, 0)
	near(t, "gauge", result.Gauge, math.Sqrt(0.5))
	near(t, "F of part", result.Part.F, 8)
	// Parts that differ less than the noise have no spread of their own.
	if r, err := Analyse(Study{{{1, 5}}, {{2, 5}}}); err != nil || r.PartSpread != 0 || r.Distinct != 1 ||
		r.Percent != 100 {
		t.Errorf("parts alike: %+v, %v", r, err)
	}
	// Nothing spreads: nothing is tested.
	if r, err := Analyse(Study{{{1, 1}, {1, 1}}, {{1, 1}, {1, 1}}}); err != nil || r.Part.F != 0 || r.Part.P != 0 ||
		r.Gauge != 0 {
		t.Errorf("all alike: %+v, %v", r, err)
	}
	_, err = Analyse(Study{{{1, 2}, {1, 2}}, {{3, 4}, {3}}})
	if err == nil || !strings.Contains(err.Error(), "2 parts, 2 people, 2 trials: part 2, person 2 lacks") {
		t.Errorf("a trial lacks: %v", err)
	}
}

// Critical values of Grubbs' test: printed in the NIST/SEMATECH e-Handbook,
// 1.3.5.17.1 (2.032, one-sided, from memory) and, for three values, the greatest
// distance that there can be, (n - 1)/√n, which the formula nearly reaches.
func TestPublishedGrubbs(t *testing.T) {
	if got := Grubbs(8, 2*0.05); math.Abs(got-2.032) > 5e-4 {
		t.Errorf("eight values, one-sided: %v, want 2.032", got)
	}
	// For n = 3 Student's t has one degree of freedom and a closed form.
	x := math.Tan(math.Pi * (0.5 - 0.05/6))
	if got, want := Grubbs(3, 0.05), 2/math.Sqrt(3)*math.Sqrt(x*x/(1+x*x)); math.Abs(got-want) > 1e-9 {
		t.Errorf("three values: %v, want %v", got, want)
	}
}

// An outlier is more than two steps of the gauge away, beyond the critical value at
// 5 %, and one of three values or more; of several it is the farthest, on either side.
func TestOutliers(t *testing.T) {
	seven := []float64{0, 0, 0, 0, 0, 0, 0, 1} // the last is 7/8 from the mean
	for _, test := range []struct {
		values []float64
		step   float64
		want   int
	}{
		{seven, 0.4, 7}, {seven, 7.0 / 16, -1}, {seven, 1, -1},
		{[]float64{-1, 0, 0, 0, 0, 0, 0, 0}, 0.1, 0},
		{[]float64{-1, -0.5, 0, 0, 0, 0.5, 1, 2.622}, 0.1, -1}, // 2.080, between the values at 5 % and 10 %
		{[]float64{-1, -0.5, 0, 0, 0, 0.5, 1, 2.9}, 0.1, 7},    // 2.138, beyond 2.127
		{[]float64{0, 9}, 0.1, -1}, {[]float64{0, 0, 9}, 0.1, 2},
	} {
		r := Describe(test.values, test.step)
		if r.Outlier != test.want || r.N != len(test.values) {
			t.Errorf("%v by a step of %v: outlier %d, want %d", test.values, test.step, r.Outlier, test.want)
		}
	}
	if r := Describe([]float64{5}, 1); r != (Repeats{N: 1, Mean: 5, Outlier: -1}) {
		t.Errorf("one value: %+v", r)
	}
	if r := Describe([]float64{4, 6}, 1); r.Mean != 5 || math.Abs(r.S-math.Sqrt2) > 1e-12 {
		t.Errorf("two values: %+v", r)
	}
}

// Degrees of freedom are cut down to a whole number, at least one (but for what is
// a whole number within rounding), and are infinite from a million on.
func TestCoverageByDegreesOfFreedom(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct{ nu, same float64 }{
		{2.99, 2}, {3 - 1e-10, 3}, {3 - 1e-8, 2}, {0.3, 1}, {1.9, 1}, {1e6, inf}, {2e6, inf},
	} {
		if got, want := Coverage(0.95, c.nu), Coverage(0.95, c.same); got != want {
			t.Errorf("%v degrees of freedom: %v, want that of %v, %v", c.nu, got, c.same, want)
		}
	}
	near(t, "one degree of freedom", Coverage(0.95, 1), math.Tan(0.475*math.Pi))
	if Coverage(0.95, 999_999) <= Coverage(0.95, inf) || Coverage(0.99, 5) <= Coverage(0.95, 5) {
		t.Error("fewer degrees of freedom, or a higher level, should expand more")
	}
	near(t, "parts of nothing", EffectiveDoF([]float64{0}, []float64{5}), inf)
	near(t, "two parts", EffectiveDoF([]float64{3, 4}, []float64{9, inf}), 625/(81.0/9))
	near(t, "combined", Combine([]float64{3, 4, 12}), 13)
}

// A budget takes its kind from the stated uncertainty where no step is known, and
// counts at least one reading; without degrees of freedom a study counts as certain.
func TestBudgetOfLittle(t *testing.T) {
	mm := func(f float64) quantity.Value { return quantity.FromFloat(f, quantity.Millimetre) }
	budget := Evaluate(Gauge{Uncertainty: mm(0.02), Coverage: 2}, 0, 0, 0.95)
	if budget.Kind != quantity.Length || budget.N != 1 || len(budget.Lines) != 1 || !math.IsInf(budget.DoF, 1) {
		t.Errorf("without a step: %+v", budget)
	}
	near(t, "its uncertainty, mm", 1000*budget.Combined, 0.01)
	if b := Evaluate(Gauge{Resolution: mm(0.01), Uncertainty: mm(0.02)}, 1, 0, 0.95); len(b.Lines) != 1 {
		t.Errorf("an uncertainty without its factor: %+v", b.Lines)
	}
	if b := Evaluate(Gauge{Resolution: mm(0.01), Coverage: 2}, 1, 0, 0.95); len(b.Lines) != 1 {
		t.Errorf("a factor without its uncertainty: %+v", b.Lines)
	}
	budget = Evaluate(Gauge{Resolution: mm(0.01), Repeatability: mm(0.02)}, 1, 0, 0.95)
	if !math.IsInf(budget.DoF, 1) || math.Abs(budget.K-1.959963985) > 1e-8 {
		t.Errorf("studied, of unknown degrees of freedom: %+v", budget)
	}
	if budget.N != 1 {
		t.Errorf("one reading counts as %d", budget.N)
	}
	// A stated uncertainty is shared where what repeats show stands beside it.
	for n, want := range []bool{false, false, true, true} {
		if l := Evaluate(Gauge{Resolution: mm(0.01), Uncertainty: mm(0.02), Coverage: 2}, n, 1e-5,
			0.95).Lines[0]; l.Shared != want {
			t.Errorf("%d readings: %+v", n, l)
		}
	}
	// What is shared counts once whichever of the two means has it, and the
	// difference rests on the fewer readings.
	few, many := Evaluate(Gauge{Resolution: mm(0.01), Error: mm(0.03)}, 2, 2e-5, 0.95),
		Evaluate(Gauge{Resolution: mm(0.01), Error: mm(0.03)}, 8, 2e-5, 0.95)
	d, shared := Difference(many, few)
	if d.N != 2 || !shared || len(d.Lines) != 4 || d.Level != 0.95 {
		t.Errorf("a difference: %+v, %v", d, shared)
	}
	near(t, "its uncertainty, mm", 1000*d.Combined, math.Sqrt(2*1e-4/12+4e-4/2+4e-4/8))
}

// Chances with closed forms: the normal distribution's and, with one degree of
// freedom, Cauchy's.
func TestConformanceByHand(t *testing.T) {
	inf := math.Inf(1)
	for _, test := range []struct{ y, nu, low, high, want float64 }{
		{0, inf, -1, 1, math.Erf(1 / math.Sqrt2)}, {0, inf, -inf, 0, 0.5}, {0, inf, 0, inf, 0.5},
		{0, inf, -1, inf, 0.5 + math.Erf(1/math.Sqrt2)/2}, {0, inf, -inf, inf, 1}, {0, inf, 2, 1, 0},
		{0, 1, -1, 1, 0.5}, {0, 1, -1, inf, 0.75}, {0, 1, -inf, -1, 0.25}, {3, 1, 3, 4, 0.25},
	} {
		near(t, "the chance", Conformance(test.y, 1, test.nu, test.low, test.high), test.want)
	}
	near(t, "with a step of two", Conformance(1, 2, 1, -1, 3), 0.5)
	// A budget's own: one limit, both, and nothing uncertain.
	mm := func(f float64) quantity.Value { return quantity.FromFloat(f, quantity.Millimetre) }
	budget := Budget{Kind: quantity.Length, Combined: 1e-3, DoF: 1}
	near(t, "a low limit", budget.Probability(mm(1), Limits{Low: mm(0)}), 0.75)
	near(t, "a high limit", budget.Probability(mm(1), Limits{High: mm(0)}), 0.25)
	near(t, "both", budget.Probability(mm(1), Limits{mm(0), mm(2)}), 0.5)
	budget.Combined = 0
	near(t, "certain, at the limit", budget.Probability(mm(2), Limits{mm(0), mm(2)}), 1)
	near(t, "certain, outside", budget.Probability(mm(3), Limits{mm(0), mm(2)}), 0)
}

// Without uncertainty to speak of nothing goes wrong that the zone does not ask for;
// limits beyond ten spreads let nothing go wrong at all.
func TestRisksByHand(t *testing.T) {
	risks := RisksOf(0, 1, 1e-3, [2]float64{-1, 1}, [2]float64{-1, 1})
	if risks.Consumer > 1e-3 || risks.Producer > 1e-3 || risks.Consumer <= 0 || risks.Producer <= 0 {
		t.Errorf("nearly certain: %+v", risks)
	}
	// A zone half as wide rejects what lies between: Φ from ½ to 1, on both sides.
	risks = RisksOf(0, 1, 1e-3, [2]float64{-1, 1}, [2]float64{-0.5, 0.5})
	if want := math.Erf(1/math.Sqrt2) - math.Erf(0.5/math.Sqrt2); math.Abs(risks.Producer-want) > 1e-6 ||
		risks.Consumer > 1e-9 {
		t.Errorf("a narrow zone: %+v, want %v rejected", risks, want)
	}
	// Shifted and scaled together, risks stay.
	a, b := RisksOf(1, 2, 0.5, [2]float64{-1, 4}, [2]float64{0, 3.5}),
		RisksOf(110, 20, 5, [2]float64{90, 140}, [2]float64{100, 135})
	near(t, "consumer's risk in other units", b.Consumer, a.Consumer)
	near(t, "producer's risk in other units", b.Producer, a.Producer)
	if r := RisksOf(0, 1, 0.5, [2]float64{-20, 20}, [2]float64{-20, 20}); r.Consumer != 0 || r.Producer > 1e-12 {
		t.Errorf("far limits: %+v", r)
	}
	// All that is measured is accepted: everything outside is, and nothing is rejected.
	if r := RisksOf(0, 1, 0.5, [2]float64{-1, 1}, [2]float64{-99,
		99}); math.Abs(r.Consumer-math.Erfc(1/math.Sqrt2)) > 1e-9 || r.Producer > 1e-12 {
		t.Errorf("accepting all: %+v", r)
	}
}

// The number of repeats is the first that does, up to twenty, on either side of
// either limit; a gauge would do where one reading with it does.
func TestSettleTakesTheFirstThatDoes(t *testing.T) {
	gauge := Gauge{Resolution: quantity.New(1, 10, quantity.Thou), Repeatability: quantity.New(8, 10, quantity.Thou),
		DoF: 30}
	budget := Evaluate(gauge, 1, 0, 0.95)
	in := func(n int) float64 { return Evaluate(gauge, n, 0, 0.95).Expanded }
	limits := Limits{thou(35), thou(45)}
	for _, count := range []int{2, 3, 7, 19, 20, 21} {
		room := quantity.FromFloat((in(count)+in(count-1))/2, quantity.Metre) // n do, one fewer does not
		want := count
		if count > 20 {
			want = 0
		}
		for _, test := range []struct {
			y quantity.Value
			l Limits
		}{
			{thou(45).Sub(room), limits}, {thou(45).Add(room), limits}, {thou(35).Add(room), limits},
			{thou(35).Sub(room), limits},
			{thou(45).Sub(room), Limits{High: thou(45)}}, {thou(35).Sub(room), Limits{Low: thou(35)}},
		} {
			if got := Settle(test.y, test.l, gauge, budget, 0, nil); got.Repeats != want || got.Gauges != nil {
				t.Errorf("%d repeats do at %v: %+v", count, test.y, got)
			}
		}
	}
	// The spread of the repeats there are, with one degree of freedom less than they.
	s := 0.8 * 25.4e-6
	plain := Gauge{Resolution: gauge.Resolution}
	known := Gauge{Resolution: gauge.Resolution, Repeatability: quantity.FromFloat(s, quantity.Metre), DoF: 3}
	room := (Evaluate(known, 9, 0, 0.95).Expanded + Evaluate(known, 8, 0, 0.95).Expanded) / 2
	y := thou(45).Sub(quantity.FromFloat(room, quantity.Metre))
	if got := Settle(y, limits, plain, Evaluate(plain, 4, s, 0.95), s,
		[]Gauge{plain, gauge, plain}); got.Repeats != 9 || len(got.Gauges) != 2 || got.Gauges[0] != 0 ||
		got.Gauges[1] != 2 {
		t.Errorf("four repeats so far: %+v, want 9, and the gauges 0 and 2", got)
	}
}

// What settles a value proves it within the limits or outside them, by Judge: a gauge
// whose uncertainty just reaches the limit from outside proves nothing.
func TestWhatSettlesProves(t *testing.T) {
	better := Gauge{Resolution: quantity.New(1, 10, quantity.Thou)}
	budget := Evaluate(better, 1, 0, 0.95)
	zero := quantity.Zero(quantity.Length)
	limits := Limits{Low: zero}
	reach := budget.U()
	for name, value := range map[string]quantity.Value{
		"just outside": reach.Neg(),
		"farther out":  reach.Neg().Sub(thou(1)),
		"just inside":  reach.Add(thou(1)),
		"nearer":       reach.Mul(big.NewRat(1, 2)),
	} {
		settled := len(Settle(value, limits, Gauge{Resolution: thou(5)}, Evaluate(Gauge{Resolution: thou(5)}, 1, 0,
			0.95),
			0, []Gauge{better}).Gauges) > 0
		if proof := Judge(value, budget.U(), limits); settled != (proof != Undecided) {
			t.Errorf("%s, at %v: it settles %v, and it is %v", name, value, settled, proof)
		}
	}
	// Nor do repeats whose uncertainty just reaches it: one more does.
	studied := Gauge{Resolution: quantity.New(1, 10, quantity.Thou), Repeatability: thou(2), DoF: 30}
	for n := 3; n < 6; n++ {
		y := Evaluate(studied, n, 0, 0.95).U().Neg()
		if got := Settle(y, limits, studied, Evaluate(studied, 1, 0, 0.95), 0, nil); got.Repeats != n+1 {
			t.Errorf("outside by the uncertainty of %d repeats: %d settle it, want %d", n, got.Repeats, n+1)
		}
	}
}

func TestAccept(t *testing.T) {
	value := thou(2)
	for _, test := range []struct{ of, want Limits }{
		{Limits{thou(35), thou(45)}, Limits{thou(37), thou(43)}},
		{Limits{Low: thou(35)}, Limits{Low: thou(37)}}, {Limits{High: thou(45)}, Limits{High: thou(43)}},
		{Limits{}, Limits{}},
	} {
		got := test.of.Accept(value)
		same := func(a, b quantity.Value) bool { return a.Valid() == b.Valid() && (!a.Valid() || a.Equal(b)) }
		if !same(got.Low, test.want.Low) || !same(got.High, test.want.High) {
			t.Errorf("%v with 2 thou to spare: %v, want %v", test.of, got, test.want)
		}
	}
	if (Limits{}).Set() || !(Limits{Low: value}).Set() || !(Limits{High: value}).Set() {
		t.Error("a limit is not seen, or one that is not there")
	}
}
