package metrology_test

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	. "setscrew/domain/metrology"
	"setscrew/domain/quantity"
	"setscrew/testdata"
)

func number(t testing.TB, text string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// pairs reads "5.8/24 3.9/5".
func pairs(t testing.TB, text string) (first, second []float64) {
	t.Helper()
	for _, f := range strings.Fields(text) {
		x, y, _ := strings.Cut(f, "/")
		first, second = append(first, number(t, x)), append(second, number(t, y))
	}
	return first, second
}

func TestPublishedUncertainty(t *testing.T) {
	for _, row := range testdata.Published(t, "metrology_gum.csv") {
		t.Run(row["id"], func(t *testing.T) {
			var in []float64
			if !strings.Contains(row["inputs"], "/") {
				for _, f := range strings.Fields(row["inputs"]) {
					in = append(in, number(t, f))
				}
			}
			var got float64
			switch row["what"] {
			case "combine":
				got = Combine(in)
			case "dof":
				got = EffectiveDoF(pairs(t, row["inputs"]))
			case "coverage":
				got = Coverage(in[0], in[1])
			case "rectangular":
				got = Rectangular(in[0])
			case "resolution":
				b := Evaluate(Gauge{Resolution: quantity.FromFloat(in[0], quantity.Metre)}, 1, 0, 0.95)
				got = b.Combined
			case "expand":
				got = Coverage(0.95, math.Inf(1)) * Combine(in)
			case "caliper":
				got = Combine([]float64{Rectangular(in[0]), Rectangular(in[1]), in[2]})
			case "below":
				got = Conformance(in[0], in[1], math.Inf(1), math.Inf(-1), in[2])
			case "consumer":
				got = RisksOf(in[0], in[1], in[2], [2]float64{in[3], in[4]}, [2]float64{in[5], in[6]}).Consumer
			case "producer":
				got = RisksOf(in[0], in[1], in[2], [2]float64{in[3], in[4]}, [2]float64{in[5], in[6]}).Producer
			case "pool":
				ss, nu := pairs(t, row["inputs"])
				for i := range ss { // the handbook gives sums of squares
					ss[i] = math.Sqrt(ss[i] / nu[i])
				}
				got = pooled(ss)
			case "grubbs-one":
				got = Grubbs(int(in[0]), 2*in[1])
			default:
				t.Fatalf("nothing works out %q", row["what"])
			}
			if want := number(t, row["expected"]); math.Abs(got-want) > number(t, row["within"]) {
				t.Errorf(
					"%s of %s: %.10g, want %s ± %s",
					row["what"],
					row["inputs"],
					got,
					row["expected"],
					row["within"],
				)
			}
		})
	}
}

func aiag(t testing.TB) Study {
	t.Helper()
	study := Study{}
	for _, row := range testdata.Published(t, "metrology_aiag.csv") {
		part, k := int(number(t, row["part"]))-1, int(number(t, row["op"]))-1
		for len(study) <= part {
			study = append(study, nil)
		}
		for len(study[part]) <= k {
			study[part] = append(study[part], nil)
		}
		study[part][k] = append(study[part][k], number(t, row["y"]))
	}
	return study
}

func TestPublishedGaugeStudy(t *testing.T) {
	result, err := Analyse(aiag(t))
	if err != nil {
		t.Fatal(err)
	}
	if !result.Pooled || result.Interaction.DoF != 18 || result.Equipment.DoF != 60 || result.RepeatabilityDoF != 78 {
		t.Errorf(
			"pooled %v, degrees of freedom %v, %v, %v", result.Pooled, result.Interaction.DoF, result.Equipment.DoF,
			result.RepeatabilityDoF,
		)
	}
	got := map[string]float64{
		"ss_part": result.Part.SS, "ss_person": result.Person.SS, "ss_interaction": result.Interaction.SS,
		"ss_equipment": result.Equipment.SS, "ss_total": result.Total.SS, "f_interaction": result.Interaction.F,
		"p_interaction": result.Interaction.P, "repeatability": result.Repeatability,
		"reproducibility": result.Reproducibility, "gauge": result.Gauge, "parts": result.PartSpread,
		"spread": result.Spread, "percent": result.Percent,
		"distinct":  float64(result.Distinct),
		"equipment": math.Sqrt(result.Equipment.MS),
	}
	for _, row := range testdata.Published(t, "metrology_study.csv") {
		t.Run(row["id"], func(t *testing.T) {
			value, ok := got[row["quantity"]]
			if !ok {
				t.Fatalf("nothing works out %s", row["quantity"])
			}
			within := 0.5000001 * math.Pow(10, -number(t, row["digits"]))
			if want := number(t, row["expected"]); math.Abs(value-want) > within {
				t.Errorf("%s is %.8g, want %s", row["quantity"], value, row["expected"])
			}
		})
	}
}

func TestIncompleteStudies(t *testing.T) {
	whole := Study{{{1, 2}, {1, 2}}, {{3, 4}, {3, 4}}}
	for name, test := range map[string]struct {
		s            Study
		part, person int
	}{
		"none":              {nil, -1, -1},
		"one part":          {whole[:1], -1, -1},
		"one trial":         {Study{{{1}, {2}}, {{3}, {4}}}, -1, -1},
		"no people":         {Study{{}, {}}, -1, -1},
		"a person lacks":    {Study{{{1, 2}, {1, 2}}, {{3, 4}}}, 1, 1},
		"a trial lacks":     {Study{{{1, 2}, {1, 2}}, {{3, 4}, {3}}}, 1, 1},
		"a person too many": {Study{{{1, 2}}, {{3, 4}, {3, 4}}}, 1, 1},
	} {
		_, err := Analyse(test.s)
		var i *Incomplete
		if !errors.As(err, &i) || i.Part != test.part || i.Person != test.person {
			t.Errorf("%s: %v", name, err)
		}
	}
	if r, err := Analyse(whole); err != nil || r.Reproducibility != 0 ||
		math.Abs(r.Repeatability-math.Sqrt(4*0.5/5)) > 1e-12 {
		t.Errorf("two parts, two people who agree: %+v, %v", r, err)
	}
	if r, err := Analyse(Study{{{1, 2}}, {{3, 4}}}); err != nil || r.Reproducibility != 0 ||
		math.Abs(r.Repeatability-math.Sqrt(0.5)) > 1e-12 ||
		r.Person.DoF != 0 {
		t.Errorf("one person: %+v, %v", r, err)
	}
	// Nothing spreads at all: nothing is divided by nothing.
	if r, err := Analyse(Study{{{1, 1}, {1, 1}}, {{1, 1}, {1, 1}}}); err != nil || r.Percent != 0 ||
		r.Distinct != 1 ||
		math.IsNaN(r.Spread) {
		t.Errorf("all alike: %+v, %v", r, err)
	}
	// An interaction that counts is not pooled, and is the people's.
	if r, err := Analyse(Study{{{1, 1.01}, {2, 2.01}}, {{2, 2.01}, {1, 1.01}}}); err != nil || r.Pooled ||
		r.Reproducibility < 0.5 {
		t.Errorf("an interaction: %+v, %v", r, err)
	}
}

func TestFit(t *testing.T) {
	for _, test := range []struct {
		percent float64
		want    Fitness
	}{{0, FitGood}, {9.99, FitGood}, {10, FitBarely}, {30, FitBarely}, {30.01, FitNot}} {
		if got := Fit(test.percent); got != test.want {
			t.Errorf("%v %%: %s, want %s", test.percent, got, test.want)
		}
	}
	if got := (StudyResult{Gauge: 0.1}).PercentOfTolerance(6); got != 10 {
		t.Errorf("0.1 of a tolerance of 6: %v %%", got)
	}
}

// The parts of a budget, by what is known of the gauge and how often was read.
func TestBudget(t *testing.T) {
	mm := func(f float64) quantity.Value { return quantity.FromFloat(f, quantity.Millimetre) }
	step := 0.01 / math.Sqrt(12)
	for _, test := range []struct {
		name  string
		g     Gauge
		n     int
		s     float64 // mm
		lines string
		u     float64 // mm
		dof   float64
	}{
		{"stated", Gauge{Resolution: mm(0.01), Uncertainty: mm(0.02), Coverage: 2}, 1, 0, "uncertainty resolution",
			math.Hypot(0.01, step), math.Inf(1)},
		{"zeroed", Gauge{Resolution: mm(0.01), Uncertainty: mm(0.02), Coverage: 2, Zeroed: true}, 1, 0,
			"uncertainty resolution zero", math.Sqrt(1e-4 + 2*step*step), math.Inf(1)},
		{"error", Gauge{Resolution: mm(0.01), Error: mm(0.03)}, 1, 0, "error resolution",
			math.Sqrt(3e-4 + step*step), math.Inf(1)},
		{"repeats", Gauge{Resolution: mm(0.01), Error: mm(0.03)}, 4, 0.02, "error resolution repeats",
			math.Sqrt(3e-4 + step*step + 1e-4), 3 * math.Pow(3e-4+step*step+1e-4, 2) / 1e-8},
		{"studied", Gauge{Resolution: mm(0.01), Error: mm(0.03), Repeatability: mm(0.02), DoF: 78}, 4, 0.5,
			"error resolution studied", math.Sqrt(3e-4 + step*step + 1e-4),
			78 * math.Pow(3e-4+step*step+1e-4, 2) / 1e-8},
	} {
		budget := Evaluate(test.g, test.n, test.s/1000, 0.95)
		var parts []string
		for _, l := range budget.Lines {
			parts = append(parts, string(l.Part))
		}
		if got := strings.Join(parts, " "); got != test.lines {
			t.Errorf("%s: lines %s, want %s", test.name, got, test.lines)
		}
		if math.Abs(budget.Combined*1000-test.u) > 1e-9 || math.Abs(budget.DoF-test.dof) > 1e-6*test.dof {
			t.Errorf("%s: u %v mm, ν %v; want %v, %v", test.name, budget.Combined*1000, budget.DoF, test.u, test.dof)
		}
		if math.Abs(budget.Expanded-budget.K*budget.Combined) > 1e-15 ||
			math.Abs(budget.U().Float(quantity.Metre)-budget.Expanded) > 1e-18 {
			t.Errorf("%s: U %v, k %v", test.name, budget.Expanded, budget.K)
		}
	}
	// What a gauge's step and own error leave, no number of repeats takes away.
	many := Evaluate(Gauge{Resolution: mm(0.01), Error: mm(0.03)}, 1_000_000, 0.00002, 0.95)
	if floor := math.Sqrt(3e-4+step*step) / 1000; many.Combined < floor {
		t.Errorf("a million repeats leave %v m, less than %v", many.Combined, floor)
	}
}

// What two readings with one gauge share cancels in their difference.
func TestDifferenceOfTwo(t *testing.T) {
	mm := func(f float64) quantity.Value { return quantity.FromFloat(f, quantity.Millimetre) }
	step := 0.01 / math.Sqrt(12)
	for _, test := range []struct {
		name   string
		g      Gauge
		shared bool
		u      float64
	}{
		{"a stated error is shared", Gauge{Resolution: mm(0.01), Error: mm(0.03)}, true, math.Sqrt2 * step},
		{"a stated uncertainty is not", Gauge{Resolution: mm(0.01), Uncertainty: mm(0.02), Coverage: 2}, false,
			math.Sqrt(2*1e-4 + 2*step*step)},
		{"unless the repeatability is known beside it",
			Gauge{Resolution: mm(0.01), Uncertainty: mm(0.02), Coverage: 2, Repeatability: mm(0.01), DoF: 9}, true,
			math.Sqrt(2*1e-4 + 2*step*step)},
	} {
		one := Evaluate(test.g, 1, 0, 0.95)
		d, shared := Difference(one, one)
		if shared != test.shared || math.Abs(d.Combined*1000-test.u) > 1e-12 {
			t.Errorf("%s: shared %v, u %v; want %v, %v", test.name, shared, d.Combined*1000, test.shared, test.u)
		}
	}
}

func TestCalibration(t *testing.T) {
	on := time.Date(2026, 1, 10, 12, 0, 0, 0, time.UTC)
	end := on.AddDate(0, 0, 365)
	for _, test := range []struct {
		c    Calibration
		now  time.Time
		want bool
	}{{Calibration{}, end, false}, {Calibration{On: on}, end, false}, {Calibration{Days: 365}, end, false},
		{Calibration{on, -1}, end, false},
		{Calibration{on, 365}, end.Add(-time.Second), false}, {Calibration{on, 365}, end, true}} {
		if since, got := test.c.Overdue(test.now); got != test.want || got && !since.Equal(end) {
			t.Errorf("%+v at %v: %v since %v", test.c, test.now, got, since)
		}
	}
}

func TestDescribe(t *testing.T) {
	for _, test := range []struct {
		values  []float64
		mean, s float64
		outlier int
	}{
		{nil, 0, 0, -1}, {[]float64{5}, 5, 0, -1}, {[]float64{46, 47, 46}, 139.0 / 3, 0.57735, -1},
		{[]float64{5, 5, 5, 5}, 5, 0, -1},
		// NIST/SEMATECH e-Handbook, 1.3.5.17.1 (from memory, recomputed): the last
		// stands apart.
		{[]float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}, 206.43375, 15.8525, 7},
	} {
		r := Describe(test.values, 1)
		if r.N != len(test.values) || math.Abs(r.Mean-test.mean) > 1e-9 || math.Abs(r.S-test.s) > 1e-4 ||
			r.Outlier != test.outlier {
			t.Errorf("%v: %+v", test.values, r)
		}
	}
}

func TestSettle(t *testing.T) {
	limits := Limits{thou(35), thou(45)}
	coarse := Gauge{Resolution: thou(1), Uncertainty: thou(3), Coverage: 2}
	fine := Gauge{Resolution: quantity.New(1, 10, quantity.Thou), Error: quantity.New(2, 10, quantity.Thou)}
	studied := Gauge{
		Resolution:    quantity.New(1, 10, quantity.Thou),
		Error:         quantity.New(2, 10, quantity.Thou),
		Repeatability: quantity.New(8, 10, quantity.Thou),
		DoF:           30,
	}
	near := quantity.New(445, 10, quantity.Thou) // half a thou inside
	for _, test := range []struct {
		name    string
		y       quantity.Value
		g       Gauge
		n       int
		s       float64 // thou
		repeats int
		gauges  int
	}{
		{"one reading with a coarse gauge: its spread is not known", near, coarse, 1, 0, 0, 1},
		{"its own doubt is too great for any number", near, coarse, 3, 0.1, 0, 1},
		{"a spread that averages out", near, studied, 1, 0, 14, 1},
		{"a hair from the limit", quantity.New(44999, 1000, quantity.Thou), studied, 1, 0, 0, 0},
		{"at the limit", thou(45), studied, 1, 0, 0, 0},
	} {
		s := test.s * 25.4e-6
		got := Settle(test.y, limits, test.g, Evaluate(test.g, test.n, s, 0.95), s, []Gauge{fine, coarse})
		if got.Repeats != test.repeats || len(got.Gauges) != test.gauges {
			t.Errorf("%s: %+v, want %d repeats, %d gauges", test.name, got, test.repeats, test.gauges)
		}
	}
}

// A value is the likelier to conform the further it lies inside; the zone where
// conformity is proved shrinks, and the undecided zone grows, with uncertainty.
func TestConformanceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-10, 10).Draw(t, "low")
		high := low + rapid.Float64Range(0.1, 10).Draw(t, "width")
		uncertainty := rapid.Float64Range(0.001, 5).Draw(t, "u")
		nu := rapid.SampledFrom([]float64{1, 3, 30, math.Inf(1)}).Draw(t, "nu")
		middle := (low + high) / 2
		farther := rapid.Float64Range(0, 20).Draw(t, "a")
		b := rapid.Float64Range(0, farther).Draw(t, "b")
		for _, side := range []float64{-1, 1} {
			far, near := Conformance(middle+side*farther, uncertainty, nu, low, high), Conformance(middle+side*b,
				uncertainty, nu, low, high)
			if far > near+1e-9 {
				t.Fatalf("at %v from the middle %v, at %v %v", farther, far, b, near)
			}
		}
		if p := Conformance(middle, uncertainty, nu, low, math.Inf(1)) + Conformance(middle, uncertainty, nu,
			math.Inf(-1),
			low); math.Abs(
			p-1,
		) > 1e-9 {
			t.Fatalf("above and below add up to %v", p)
		}
		limits := Limits{thou(35), thou(45)}
		value := quantity.New(rapid.Int64Range(25000, 55000).Draw(t, "v"), 1000, quantity.Thou)
		small := quantity.New(rapid.Int64Range(0, 4000).Draw(t, "small"), 1000, quantity.Thou)
		large := small.Add(quantity.New(rapid.Int64Range(0, 4000).Draw(t, "more"), 1000, quantity.Thou))
		zone := limits.Accept(large)
		if Judge(value, large, limits) == Proved && (Judge(value, small, limits) != Proved || !zone.Holds(value)) {
			t.Fatalf("%v is proved with U = %v and not with %v", value, large, small)
		}
		if Judge(value, small, limits) == Undecided && Judge(value, large, limits) != Undecided {
			t.Fatalf("%v is decided with U = %v and not with %v", value, large, small)
		}
		if out := limits.Accept(large.Neg()); out.Holds(value) == (Judge(value, large, limits) == Disproved) {
			t.Fatalf("%v: guarded rejection and the decision rule differ", value)
		}
	})
}

// A verdict does not depend on the unit in which things were typed.
func TestVerdictsDoNotDependOnUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(0, 100000).Draw(t, "value")
		inch := quantity.New(n, 1_000_000, quantity.Inch)
		metric := quantity.New(n*254, 10_000_000, quantity.Millimetre)
		step := rapid.Int64Range(1, 20).Draw(t, "step")
		g := func(v quantity.Value) Gauge { return Gauge{Resolution: v, Error: v.Add(v)} }
		inInches := Evaluate(g(quantity.New(step, 10000, quantity.Inch)), 1, 0, 0.95)
		budget := Evaluate(g(quantity.New(step*254, 100000, quantity.Millimetre)), 1, 0, 0.95)
		l := Limits{thou(35), thou(45)}
		m := Limits{quantity.New(889, 1000, quantity.Millimetre), quantity.New(1143, 1000, quantity.Millimetre)}
		if x, y := Assess(inch, inInches.U(), l, Limits{}), Assess(metric, budget.U(), m,
			Limits{}); x.Grade != y.Grade ||
			x.InsideAdjust != y.InsideAdjust ||
			math.Abs(inInches.Probability(inch, l)-budget.Probability(metric, m)) > 1e-12 {
			t.Fatalf("in inches %+v, in millimetres %+v", x, y)
		}
	})
}

// A verdict with its budget. The floor in the same run is what the exact
// comparison of the value with four limits costs.
func BenchmarkVerdict(b *testing.B) {
	adjust, stop := Limits{thou(35), thou(45)}, Limits{thou(20), thou(60)}
	gauge := Gauge{Resolution: thou(1), Error: thou(1), Zeroed: true}
	value := quantity.New(4385, 100, quantity.Thou)
	b.Run("verdict", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if v := Assess(value, Evaluate(gauge, 1, 0, 0.95).U(), adjust, stop); v.Grade != Near {
				b.Fatal(v.Grade)
			}
		}
	})
	b.Run("floor", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if !adjust.Holds(value) || !stop.Holds(value) {
				b.Fatal("outside")
			}
		}
	})
}

// pooled is the standard deviation of groups of one size together.
func pooled(s []float64) float64 { return Combine(s) / math.Sqrt(float64(len(s))) }
