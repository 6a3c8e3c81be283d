package linkage_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	. "setscrew/domain/linkage"
	"setscrew/testdata"
)

func numbers(t *testing.T, text string) []float64 {
	t.Helper()
	var all []float64
	for _, f := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ';' }) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, v)
	}
	return all
}

func TestPublishedMechanics(t *testing.T) {
	degrees := func(a float64) float64 { return a * 180 / math.Pi }
	for _, row := range testdata.Published(t, "mechanics.csv") {
		t.Run(row["id"], func(t *testing.T) {
			in, want := numbers(t, row["inputs"]), numbers(t, row["expected"])
			var got []float64
			switch row["what"] {
			case "plane":
				var at []Point
				var z []float64
				for i := 0; i < len(in); i += 3 {
					at, z = append(at, Point{in[i], in[i+1]}), append(z, in[i+2])
				}
				p, err := FitPlane(at, z)
				if err != nil {
					t.Fatal(err)
				}
				got = append([]float64{p.A, p.B, p.C}, p.Twist...)
			case "lift":
				got = []float64{Lift(in[0], in[1]*math.Pi/180)}
			case "open belt":
				got = []float64{OpenBelt(in[0], in[1], in[2])}
			case "open belt exact":
				got = []float64{OpenBeltExact(in[0], in[1], in[2])}
			case "span":
				got = []float64{Span(in[0], in[1], in[2])}
			case "deflection":
				got = []float64{Deflection(in[0])}
			case "tension by frequency":
				got = []float64{TensionByFrequency(in[0], in[1], in[2])}
			case "tension by force":
				got = []float64{TensionByForce(in[0], in[1], in[2])}
			case "set-over":
				got = []float64{SetOver(in[0], in[1], in[2], in[3])}
			case "taper in degrees":
				got = []float64{degrees(Taper(in[0], in[1], in[2]))}
			case "tilt in degrees":
				a, err := Tilt([]float64{in[0], in[2]}, []float64{in[1], in[3]})
				if err != nil {
					t.Fatal(err)
				}
				got = []float64{degrees(a)}
			case "bar":
				r, err := Bar([2]float64{in[0], in[1]}, in[2:3])
				if err != nil {
					t.Fatal(err)
				}
				got = []float64{r[0][0]*in[3] + r[0][1]*in[4]}
			case "plate centroid":
				r, err := Plate([]Point{{in[0], in[1]}, {in[2], in[3]}, {in[4], in[5]}}, []Point{{in[6], in[7]}})
				if err != nil {
					t.Fatal(err)
				}
				got = r[0]
			default:
				t.Fatalf("no formula %q", row["what"])
			}
			digits := int(numbers(t, row["digits"])[0])
			if len(got) != len(want) {
				t.Fatalf("%v, want %v", got, want)
			}
			for i := range got {
				if math.Abs(got[i]-want[i]) > 0.5000001*math.Pow10(-digits) {
					t.Errorf("%v, want %v to %d decimals", got[i], want[i], digits)
				}
			}
		})
	}
}

func TestGeometryRefused(t *testing.T) {
	if _, err := Bar([2]float64{3, 3}, []float64{1}); err == nil {
		t.Error("a bar on two adjusters in one place")
	}
	for name, at := range map[string][]Point{
		"too few":      {{0, 0}, {1, 0}},
		"in one line":  {{0, 0}, {1, 1}, {2, 2}},
		"in one place": {{0, 0}, {1, 0}, {0, 0}},
	} {
		if _, err := Plate(at, []Point{{0, 0}}); err == nil {
			t.Errorf("a plate on adjusters %s", name)
		}
	}
	if _, err := FitPlane([]Point{{0, 0}, {0, 0}, {0, 0}}, []float64{1, 2, 3}); err == nil {
		t.Error("a plane through one place")
	}
	if _, err := FitPlane([]Point{{0, 0}, {1, 0}, {0, 1}}, []float64{1, 2}); err == nil {
		t.Error("a plane with a height missing")
	}
	for _, c := range [][2][]float64{{{0}, {1}}, {{1, 1}, {0, 2}}, {{0, 1}, {1}}} {
		if a, err := Tilt(c[0], c[1]); err == nil {
			t.Errorf("a tilt of %v from %v", a, c)
		}
	}
}

// Two readings leave two angles; a third tells them apart.
func TestAngles(t *testing.T) {
	const tiny, start, turned = 0.5, 1.1, 0.4
	change := Lift(tiny, start+turned) - Lift(tiny, start)
	both := Angles(tiny, turned, change)
	if len(both) != 2 {
		t.Fatalf("%v, want two angles", both)
	}
	further := Lift(tiny, start+3*turned) - Lift(tiny, start)
	right := 0
	for _, angle := range both {
		if math.Abs(Lift(tiny, angle+turned)-Lift(tiny, angle)-change) > 1e-12 {
			t.Errorf("at %v the lift does not change by %v", angle, change)
		}
		if math.Abs(Lift(tiny, angle+3*turned)-Lift(tiny, angle)-further) < 1e-9 {
			right++
			if math.Abs(angle-start) > 1e-9 {
				t.Errorf("the third reading leaves %v, want %v", angle, start)
			}
		}
	}
	if right != 1 {
		t.Errorf("a third reading leaves %d angles", right)
	}
	if got := Angles(tiny, turned, 3*tiny); got != nil {
		t.Errorf("more than it has: %v", got)
	}
	if got := Angles(1, math.Pi, 2); len(got) != 1 {
		t.Errorf("from the bottom to the top: %v, want one angle", got)
	}
}

func TestStack(t *testing.T) {
	stock := map[int]int{500: 2, 200: 2, 100: 5, 50: 5, 25: 2}
	for _, test := range []struct {
		thickness int
		want      []int
		sum       int
	}{
		{1000, []int{500, 500}, 1000}, {300, []int{200, 100}, 300}, {800, []int{500, 200, 100}, 800},
		{400, []int{200, 200}, 400}, {75, []int{50, 25}, 75}, {60, []int{50}, 50}, {10, nil, 0},
		{13, []int{25}, 25}, {0, nil, 0}, {-5, nil, 0},
		{5000, []int{500, 500, 200, 200, 100, 100, 100, 100, 100, 50, 50, 50, 50, 50, 25, 25}, 2200},
	} {
		got, sum := Stack(test.thickness, stock)
		if len(got) != len(test.want) || sum != test.sum {
			t.Errorf("%d: %v (%d), want %v (%d)", test.thickness, got, sum, test.want, test.sum)
			continue
		}
		for i := range got {
			if got[i] != test.want[i] {
				t.Errorf("%d: %v, want %v", test.thickness, got, test.want)
				break
			}
		}
	}
	if got, _ := Stack(100, nil); got != nil {
		t.Errorf("from no stock: %v", got)
	}
}

func TestHarmonic(t *testing.T) {
	for _, test := range []struct {
		measured, expected float64
		want               int
	}{{50, 50, 0}, {101, 50, 2}, {148, 50, 3}, {205, 50, 4}, {60, 50, 0}, {80, 50, 0}, {25, 50, 0}, {0, 50, 0},
		{400, 50, 0}} {
		if got := Harmonic(test.measured, test.expected); got != test.want {
			t.Errorf("%v Hz where %v Hz was expected: harmonic %d, want %d", test.measured, test.expected, got,
				test.want)
		}
	}
}

// Moving the motor as far as TravelForTension says stretches the belt as much as
// the tension asks.
func TestTravelForTension(t *testing.T) {
	const large, small, centres, stiffness = 0.25, 0.10, 0.5, 50000.0 // m, N
	travel := TravelForTension(200, 300, stiffness, large, small, centres)
	longer := OpenBeltExact(large, small, centres+travel) - OpenBeltExact(large, small, centres)
	if got := stiffness * longer / OpenBeltExact(large, small, centres); math.Abs(got-100) > 0.1 {
		t.Errorf("%v N more by moving %v m, want 100", got, travel)
	}
}

func TestNextCap(t *testing.T) {
	mark := func(h float64) CapReport { return CapReport{Height: h, Marks: true} }
	stutter := func(h float64) CapReport { return CapReport{Height: h, Stutters: true} }
	const sixteenth = 1.0 / 16
	for _, test := range []struct {
		name    string
		reports []CapReport
		now     float64
		want    CapAdvice
	}{
		{"nothing", nil, 2 * sixteenth, CapAdvice{NothingToAvoid: true, LowAt: -1, HighAt: -1}},
		{"marks", []CapReport{mark(2 * sixteenth)}, 2 * sixteenth,
			CapAdvice{Low: 2 * sixteenth, Next: 3 * sixteenth, Move: true, LowAt: 0, HighAt: -1}},
		{"stutters", []CapReport{stutter(3 * sixteenth)}, 3 * sixteenth,
			CapAdvice{High: 3 * sixteenth, Next: 2 * sixteenth, Move: true, LowAt: -1, HighAt: 0}},
		{"between", []CapReport{mark(sixteenth), stutter(4 * sixteenth)}, 4 * sixteenth,
			CapAdvice{Low: sixteenth, High: 4 * sixteenth, Next: 3 * sixteenth, Move: true, LowAt: 0, HighAt: 1}},
		{"there already", []CapReport{mark(sixteenth), stutter(4 * sixteenth)}, 3 * sixteenth,
			CapAdvice{Low: sixteenth, High: 4 * sixteenth, LowAt: 0, HighAt: 1}},
		{"no step left", []CapReport{mark(2 * sixteenth), stutter(3 * sixteenth)}, 3 * sixteenth,
			CapAdvice{Low: 2 * sixteenth, High: 3 * sixteenth, NoStep: true, LowAt: 0, HighAt: 1}},
		{"contradiction", []CapReport{mark(3 * sixteenth), stutter(2 * sixteenth)}, 3 * sixteenth,
			CapAdvice{Low: 3 * sixteenth, High: 2 * sixteenth, Contradiction: true, LowAt: 0, HighAt: 1}},
		{"both at once", []CapReport{{2 * sixteenth, true, true}}, 2 * sixteenth,
			CapAdvice{Low: 2 * sixteenth, High: 2 * sixteenth, Contradiction: true}},
		{"end of travel", []CapReport{mark(5 * sixteenth)}, 5 * sixteenth,
			CapAdvice{Low: 5 * sixteenth, NoStep: true, LowAt: 0, HighAt: -1}},
	} {
		got := NextCap(test.reports, test.now, 0, 5*sixteenth, sixteenth)
		if test.want.LowAt < 0 {
			test.want.Low = math.Inf(-1)
		}
		if test.want.HighAt < 0 {
			test.want.High = math.Inf(1)
		}
		if got != test.want {
			t.Errorf("%s: %+v, want %+v", test.name, got, test.want)
		}
	}
}
