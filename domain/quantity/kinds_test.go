package quantity_test

import (
	"errors"
	"math"
	"math/big"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "setscrew/domain/quantity"
	"setscrew/testdata"
)

func TestPublishedConversions(t *testing.T) {
	for _, row := range testdata.Published(t, "units_sp811.csv") {
		t.Run(row["id"], func(t *testing.T) {
			k, ok := KindNamed(row["kind"])
			if !ok {
				t.Fatalf("no kind %s", row["kind"])
			}
			parsed, err := Parse(row["typed"], Context{Kind: k})
			if err != nil {
				t.Fatal(err)
			}
			want, ok := new(big.Rat).SetString(row["expected"])
			if !ok {
				t.Fatalf("expected %q", row["expected"])
			}
			got := parsed.Value.In(Unit(row["unit"]))
			if row["exact"] == "yes" && got.Cmp(want) != 0 {
				t.Errorf("%s is %s %s, want %s", row["typed"], got.FloatString(20), row["unit"], row["expected"])
			}
			// A printed value is right to its last digit.
			if d, _ := want.FloatPrec(); got.FloatString(d) != want.FloatString(d) {
				t.Errorf("%s is %s %s, want %s", row["typed"], got.FloatString(d+3), row["unit"], row["expected"])
			}
		})
	}
}

// GNU units agrees to twelve digits.
func TestPublishedAgreesWithAnotherProgram(t *testing.T) {
	rows := testdata.Published(t, "units_gnu.csv")
	seen := map[string]bool{}
	for _, row := range rows {
		seen[row["kind"]] = true
		t.Run(row["id"], func(t *testing.T) {
			k, ok := KindNamed(row["kind"])
			parsed, err := Parse(row["typed"], Context{Kind: k})
			if err != nil || !ok {
				t.Fatal(err, ok)
			}
			want, err := strconv.ParseFloat(row["expected"], 64)
			if err != nil {
				t.Fatal(err)
			}
			if got := parsed.Value.Float(Unit(row["unit"])); math.Abs(got-want) > 1e-12*math.Abs(want) {
				t.Errorf("%s is %.15g %s, want %s", row["typed"], got, row["unit"], row["expected"])
			}
		})
	}
	if len(seen) != len(Kinds()) {
		t.Errorf("%d kinds of %d are compared", len(seen), len(Kinds()))
	}
}

// Every kind has a name of its own, a base unit, and a value that can be typed;
// every unit's symbol is read back as that unit.
func TestKindsAndUnits(t *testing.T) {
	if len(Kinds()) != 22 {
		t.Errorf("%d kinds", len(Kinds()))
	}
	for _, kind := range Kinds() {
		if back, ok := KindNamed(kind.String()); !ok || back != kind {
			t.Errorf("%v is read back as %v", kind, back)
		}
		base := Base(kind)
		if base.Kind() != kind || base.Factor().Cmp(big.NewRat(1, 1)) != 0 {
			t.Errorf("%v: base unit %q, factor %v", kind, base, base.Factor())
		}
		for _, unit := range UnitsOf(kind) {
			p, err := Parse("3 "+string(unit), Context{Kind: kind})
			if err != nil || p.Unit != unit || p.Bare {
				t.Errorf("3 %s is read as %+v, %v", unit, p, err)
			}
			if step := unit.Step(); kind == Temperature && step.Kind() != TemperatureStep || kind != Temperature &&
				step != unit {
				t.Errorf("the step of %s is %s", unit, step)
			}
		}
		_, err := Parse("", Context{Kind: kind})
		var r *Refusal
		if !errors.As(err, &r) {
			t.Fatalf("%v: %v", kind, err)
		}
		if _, err := Parse(r.Example, Context{Kind: kind}); err != nil {
			t.Errorf("%v: its example: %v", kind, err)
		}
	}
	if _, ok := KindNamed("sermon"); ok {
		t.Error("an unknown kind is found")
	}
	if Kind(0).String() != "no kind" || Kind(200).String() != "no kind" || Unit("furlong").Factor() != nil {
		t.Error("what does not exist has a name or a factor")
	}
}

func TestTypedForms(t *testing.T) {
	for _, test := range []struct {
		in   string
		kind Kind
		want Value
	}{
		{"½ in", Length, New(1, 2, Inch)}, {"1½ in", Length, New(3, 2, Inch)}, {"2 ⅜\"", Length, New(19, 8, Inch)},
		{"1⁄64 in", Length, New(1, 64, Inch)},
		{"5′ 3″", Length, New(63, 1, Inch)}, {"5' 3 1/2\"", Length, New(127, 2, Inch)},
		{"-5' 3\"", Length, New(-63, 1, Inch)}, {"5'", Length, New(5, 1, Foot)},
		{"−0.002 in", Length, New(-2, 1000, Inch)}, {"1\u2009234 mm", Length, New(1234, 1, Millimetre)},
		{"1\u202f234.5 mm", Length, New(12345, 10, Millimetre)},
		{"12°30'", Angle, New(25, 2, Degree)}, {"12° 30' 36\"", Angle, New(1251, 100, Degree)},
		{"12.5º", Angle, New(25, 2, Degree)}, {"90'", Angle, New(3, 2, Degree)},
		{"3 o'clock", Turns, New(1, 4, Turn)}, {"12 o’clock", Turns, New(1, 1, Turn)},
		{"¼ turn", Turns, New(1, 4, Turn)},
		{"60 psi", Pressure, New(60, 1, PSI)}, {"2 BAR", Pressure, New(2, 1, Bar)},
		{"140 °F", Temperature, New(60, 1, Celsius)}, {"140 F", Temperature, New(60, 1, Celsius)},
		{"-40 °c", Temperature, New(-40, 1, Fahrenheit)},
		{"5 lb", Force, New(5, 1, PoundForce)}, {"5 lb", Mass, New(5, 1, Pound)},
		{"12 ft-lb", Torque, New(12, 1, PoundForceFoot)}, {"12 Nm", Torque, New(12, 1, NewtonMetre)},
		{"1500 r/min", RotationalSpeed, New(25, 1, RPS)}, {"300 sfm", Speed, New(300, 1, FootPerMinute)},
		{"3 mΩ", Resistance, New(3, 1000, Ohm)}, {"3 MΩ", Resistance, New(3000000, 1, Ohm)},
		{"3 Ω", Resistance, New(3, 1, Ohm)},
		{"46 cSt", Viscosity, New(46, 1, SquareMillimetrePerSecond)}, {"12 %", Ratio, New(12, 100, Whole)},
		{"0.5 mm/m", Slope, New(1, 2, ThouPerInch)}, {"0.5 l", Volume, New(500, 1, Millilitre)},
	} {
		p, err := Parse(test.in, Context{Kind: test.kind})
		if err != nil || !p.Value.Equal(test.want) {
			t.Errorf("%q as %v: %v, %v; want %v", test.in, test.kind, p.Value, err, test.want)
		}
	}
	// In a list too.
	l, err := ParseList("left 12°30', right 13°", Layout{Context{Kind: Angle}, []string{"left", "right"}})
	if err != nil || !l.At[0].Mean().Equal(New(25, 2, Degree)) || !l.At[1].Mean().Equal(New(13, 1, Degree)) {
		t.Errorf("a list of angles: %+v, %v", l, err)
	}
}

func TestGallonsAreAsked(t *testing.T) {
	for in, want := range map[string][]string{"2 gal": {"2 US gal", "2 imp gal"},
		"8 fl oz": {"8 US fl oz", "8 imp fl oz"}} {
		_, err := Parse(in, Context{Kind: Volume})
		var ambiguity *Ambiguity
		if !errors.As(err, &ambiguity) {
			t.Errorf("%q: %v, want a question", in, err)
			continue
		}
		var got []string
		for _, o := range ambiguity.Options {
			got = append(got, o.Text)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%q (-want +got):\n%s", in, d)
		}
	}
}

// Where a refusal points, in what was typed and not in its plain form.
func TestRefusalsPointIntoWhatWasTyped(t *testing.T) {
	for _, test := range []struct{ in, at string }{{"½ furlong", "furlong"}, {"−3 furlong", "furlong"},
		{"1\u2009234 kg", "kg"}, {"5″ extra", "extra"}} {
		_, err := Parse(test.in, Context{Kind: Length})
		var r *Refusal
		if !errors.As(err, &r) || r.Input != test.in || !strings.HasPrefix(test.in[r.Offset:], test.at) {
			t.Errorf("%q: %v, want it to point at %q", test.in, err, test.at)
		}
	}
}

func TestParseLimits(t *testing.T) {
	nominal := New(40, 1, Thou)
	thou := func(tenths int64) Value { return New(tenths, 10, Thou) }
	for _, test := range []struct {
		in        string
		low, high Value
	}{
		{"0.038 to 0.042 in", thou(380), thou(420)}, {"38 to 42", thou(380), thou(420)},
		{"38 thou to 0.042 in", thou(380), thou(420)}, {"38 thou … 42 thou", thou(380), thou(420)},
		{"0.040 ± 0.005 in", thou(350), thou(450)}, {"40 thou +/- 5", thou(350), thou(450)},
		{"±5", thou(350), thou(450)},
		{"0.040 +0.002/-0.001 in", thou(390), thou(420)}, {"+0.002/-0.000 in", thou(400), thou(420)},
		{"+2 -1", thou(390), thou(420)}, {"+0.002/−0.001 in", thou(390), thou(420)}, {"+2/+1", Value{}, Value{}},
		{"at least 3 thou", thou(30), Value{}}, {"At most 3", Value{}, thou(30)},
	} {
		low, high, err := ParseLimits(test.in, Context{Length, Thou}, nominal)
		if !test.low.Valid() && !test.high.Valid() {
			if err == nil {
				t.Errorf("%q: %v to %v", test.in, low, high)
			}
			continue
		}
		if err != nil || !low.Equal(test.low) || !high.Equal(test.high) {
			t.Errorf("%q: %v to %v, %v; want %v to %v", test.in, low, high, err, test.low, test.high)
		}
	}
	for in, code := range map[string]string{"": CodeNoLimits, "5": CodeNoLimits, "42 to 38": CodeOrder,
		"± -2": CodeOrder, "lots to 4": CodeNoNumber, "1 to 2 furlong": CodeUnknownUnit,
		"1 kg to 2 thou": CodeWrongKind, "1 to lots": CodeNoNumber, "at least": CodeNoLimits,
		"at least x": CodeNoNumber, "x ± 2": CodeNoNumber, strings.Repeat("1", 401): CodeTooLong} {
		_, _, err := ParseLimits(in, Context{Length, Thou}, nominal)
		var refusal *Refusal
		if !errors.As(err, &refusal) || refusal.Code != code || refusal.Offset > len(in) {
			t.Errorf("%q: %v, want %s", in, err, code)
			continue
		}
		if _, _, err := ParseLimits(refusal.Example, Context{Length, Thou}, nominal); err != nil &&
			refusal.Code != CodeTooLong {
			t.Errorf("%q: its example: %v", in, err)
		}
	}
	if _, _, err := ParseLimits("± 2", Context{Length, Thou}, Value{}); err == nil ||
		!strings.Contains(err.Error(), CodeNoNominal) {
		t.Errorf("about nothing: %v", err)
	}
	_, _, err := ParseLimits("1,234 to 2,345 mm", Context{Length, Thou}, nominal)
	var a *Ambiguity
	if !errors.As(err, &a) {
		t.Errorf("two commas: %v", err)
	}
	// A temperature's deviation is a step.
	low, high, err := ParseLimits("60 ± 5 Δ°C", Context{Temperature, Celsius}, Value{})
	if err != nil || !low.Equal(New(55, 1, Celsius)) || !high.Equal(New(65, 1, Celsius)) {
		t.Errorf("60 ± 5 degrees: %v to %v, %v", low, high, err)
	}
}

func TestDigits(t *testing.T) {
	for _, test := range []struct {
		step Value
		unit Unit
		want int
	}{
		{New(1, 1, Thou), Inch, 3}, {New(1, 1, Thou), Millimetre, 2}, {New(1, 1, Thou), Thou, 0},
		{New(1, 100, Millimetre), Millimetre, 2}, {New(1, 100, Millimetre), Inch, 4},
		{New(1, 64, Inch), Millimetre, 1}, {New(1, 2, Millimetre), Millimetre, 1},
		{New(1, 1, Metre), Millimetre, 0}, {New(1, 1000000000, Metre), Metre, 6},
		{New(1, 2, CelsiusStep), Celsius, 1},
	} {
		if got := Digits(test.step, test.unit); got != test.want {
			t.Errorf("a step of %v in %s: %d decimals, want %d", test.step, test.unit, got, test.want)
		}
	}
}

func TestFormatFraction(t *testing.T) {
	for _, test := range []struct {
		v    Value
		want string
	}{
		{New(25, 16, Inch), "1 9/16 in"}, {New(1, 64, Inch), "1/64 in"}, {New(-3, 2, Inch), "-1 1/2 in"},
		{New(2, 1, Inch), "2 in"}, {New(0, 1, Inch), "0 in"}, {New(1, 3, Inch), ""}, {New(1, 128, Inch), ""},
		{New(1, 1, Millimetre), ""},
	} {
		if got, ok := FormatFraction(test.v, Inch, 64); got != test.want || ok != (test.want != "") {
			t.Errorf("%v: %q, %v; want %q", test.v, got, ok, test.want)
		}
	}
}

// Every unit there and back is the same value; sums and differences undo each
// other; an order holds however it is asked for.
func TestUnitProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom(Kinds()).Draw(t, "kind")
		unit, other := rapid.SampledFrom(UnitsOf(kind)).Draw(t, "unit"), rapid.SampledFrom(UnitsOf(kind)).Draw(t,
			"other")
		n := big.NewRat(rapid.Int64Range(-1e9, 1e9).Draw(t, "n"), rapid.Int64Range(1, 1000).Draw(t, "d"))
		value := FromRat(n, unit)
		if back := FromRat(value.In(other), other); !back.Equal(value) || value.In(unit).Cmp(n) != 0 {
			t.Fatalf("%v %s by way of %s is %v", n, unit, other, back)
		}
		p, err := Parse(Typed(value, unit), Context{Kind: kind})
		if err != nil || !p.Value.Equal(value) {
			t.Fatalf("%q is read as %v, %v; want %v", Typed(value, unit), p.Value, err, value)
		}
		second := FromRat(big.NewRat(rapid.Int64Range(-1e9, 1e9).Draw(t, "m"), 7), other)
		step := value.Sub(second)
		if !second.Add(step).Equal(value) || step.Sign() != value.Cmp(second) {
			t.Fatalf("%v - %v = %v", value, second, step)
		}
		if got := value.CmpSum(second, step, false); got != 0 {
			t.Fatalf("%v against %v + %v: %d", value, second, step, got)
		}
		more := FromRat(big.NewRat(rapid.Int64Range(-10, 10).Draw(t, "more"), 1e9), Base(step.Kind()))
		if got, want := value.CmpSum(second, step.Add(more), false), -more.Sign(); got != want {
			t.Fatalf("%v against %v + %v: %d, want %d", value, second, step.Add(more), got, want)
		}
	})
}

func FuzzParseLimits(f *testing.F) {
	for _, s := range []string{"0.038 to 0.042 in", "0.040 ± 0.002 in", "+0.002/-0.000", "at least 1 mm", "1 to",
		"± 1,234", "at most ½ in"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		context := Context{Length, Thou}
		low, high, err := ParseLimits(text, context, New(40, 1, Thou))
		var refusal *Refusal
		var a *Ambiguity
		switch {
		case errors.As(err, &a):
			if len(a.Options) < 2 {
				t.Fatalf("%q: a question with %d answers", text, len(a.Options))
			}
		case errors.As(err, &refusal):
			if refusal.Offset < 0 || refusal.Offset > len(text) {
				t.Fatalf("%q: offset %d", text, refusal.Offset)
			}
			if _, _, err := ParseLimits(refusal.Example, context, Value{}); err != nil {
				t.Fatalf("%q: example %q: %v", text, refusal.Example, err)
			}
		case err != nil:
			t.Fatalf("%q: %v is neither refusal nor question", text, err)
		case !low.Valid() && !high.Valid():
			t.Fatalf("%q: no limit at all", text)
		case low.Valid() && high.Valid() && low.Cmp(high) > 0:
			t.Fatalf("%q: %v to %v", text, low, high)
		}
	})
}
