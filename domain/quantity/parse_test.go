package quantity_test

import (
	"errors"
	"math/big"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "setscrew/domain/quantity"
	"setscrew/testdata"
)

var kindByName = map[string]Kind{"length": Length, "duration": Duration, "angle": Angle, "turns": Turns}

func TestPublishedUnits(t *testing.T) {
	for _, row := range testdata.Published(t, "units.csv") {
		t.Run(row["id"], func(t *testing.T) {
			got, err := Parse(row["typed"], Context{Kind: kindByName[row["kind"]]})
			if err != nil {
				t.Fatal(err)
			}
			want, ok := new(big.Rat).SetString(row["expected"])
			if !ok {
				t.Fatalf("bad row %v", row)
			}
			if n := got.Value.In(Unit(row["unit"])); n.Cmp(want) != 0 {
				t.Errorf("%s is %s %s, want %s", row["typed"], n.RatString(), row["unit"], row["expected"])
			}
		})
	}
}

func TestParse(t *testing.T) {
	thou := Context{Kind: Length, Entry: Thou}
	hour := Context{Kind: Duration, Entry: Hour}
	for _, test := range []struct {
		in   string
		ctx  Context
		want Parsed
	}{
		{"0.043", Context{Length, Inch}, Parsed{New(43, 1, Thou), Inch, true, false}},
		{"43", thou, Parsed{New(43, 1, Thou), Thou, true, false}},
		{`.043"`, thou, Parsed{New(43, 1, Thou), Inch, false, false}},
		{`.043”`, thou, Parsed{New(43, 1, Thou), Inch, false, false}},
		{"43 thou", thou, Parsed{New(43, 1, Thou), Thou, false, false}},
		{"43 Thousandths", thou, Parsed{New(43, 1, Thou), Thou, false, false}},
		{"1/16 in", thou, Parsed{New(1, 16, Inch), Inch, false, false}},
		{`1 1/16"`, thou, Parsed{New(17, 16, Inch), Inch, false, false}},
		{"-1 1/16 in", thou, Parsed{New(-17, 16, Inch), Inch, false, false}},
		{"010 1/016 in", thou, Parsed{New(161, 16, Inch), Inch, false, false}},
		{"1/3 in", thou, Parsed{New(1, 3, Inch), Inch, false, false}},
		{"1.09 mm", thou, Parsed{New(109, 100, Millimetre), Millimetre, false, false}},
		{"1,09 mm", thou, Parsed{New(109, 100, Millimetre), Millimetre, false, false}},
		{"0,123 mm", thou, Parsed{New(123, 1000, Millimetre), Millimetre, false, false}},
		{"1,234.5 mm", thou, Parsed{New(12345, 10, Millimetre), Millimetre, false, false}},
		{"1,234,567 mm", thou, Parsed{New(1234567, 1, Millimetre), Millimetre, false, false}},
		{"−0.2mm", thou, Parsed{New(-2, 10, Millimetre), Millimetre, false, false}},
		{"+0.3 mm", thou, Parsed{New(3, 10, Millimetre), Millimetre, false, false}},
		{"5 μm", thou, Parsed{New(5, 1, Micrometre), Micrometre, false, false}},
		{"2 m", thou, Parsed{New(2, 1, Metre), Metre, false, false}},
		{"2 m", hour, Parsed{New(2, 1, Minute), Minute, false, false}},
		{"2h30", hour, Parsed{New(150, 1, Minute), Hour, false, false}},
		{"2 h 30 min", hour, Parsed{New(150, 1, Minute), Hour, false, false}},
		{"1h 20m 30s", hour, Parsed{New(4830, 1, Second), Hour, false, false}},
		{"-1 h 30 min", hour, Parsed{New(-90, 1, Minute), Hour, false, false}},
		{"1:30", hour, Parsed{New(90, 1, Minute), Hour, false, false}},
		{"90 min", hour, Parsed{New(90, 1, Minute), Minute, false, false}},
		{"1,5 h", hour, Parsed{New(90, 1, Minute), Hour, false, false}},
		{"1.5", hour, Parsed{New(90, 1, Minute), Hour, true, false}},
		{"1/8 turn", Context{Kind: Turns}, Parsed{New(1, 8, Turn), Turn, false, false}},
		{"2 turns", Context{Kind: Turns}, Parsed{New(2, 1, Turn), Turn, false, false}},
		{"30°", Context{Kind: Angle}, Parsed{New(30, 1, Degree), Degree, false, false}},
		{"90 deg", Context{Kind: Angle}, Parsed{New(90, 1, Degree), Degree, false, false}},
	} {
		got, err := Parse(test.in, test.ctx)
		if err != nil {
			t.Errorf("Parse(%q): %v", test.in, err)
		} else if d := cmp.Diff(test.want, got); d != "" {
			t.Errorf("Parse(%q) (-want +got):\n%s", test.in, d)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	thou := Context{Kind: Length, Entry: Thou}
	for _, test := range []struct {
		in     string
		ctx    Context
		code   string
		offset int
	}{
		{"", thou, CodeEmpty, 0},
		{"   ", thou, CodeEmpty, 3},
		{strings.Repeat("1", 401), thou, CodeTooLong, 400},
		{"1000000000000000 in", thou, CodeTooLong, 0},
		{"1 in 1000000000000000", thou, CodeTrailing, 5},
		{"2000000000000000/2 in", thou, CodeTooLong, 0},
		{"thick", thou, CodeNoNumber, 0},
		{"-", thou, CodeNoNumber, 0},
		{"1/ in", thou, CodeNoNumber, 2},
		{"1 furlong", thou, CodeUnknownUnit, 2},
		{"1", Context{Kind: Length}, CodeUnknownUnit, 1},
		{"2 h", thou, CodeWrongKind, 2},
		{"2 mil", Context{Duration, Hour}, CodeWrongKind, 2},
		{"1/0 in", thou, CodeZeroDivisor, 2},
		{"1 2/0 in", thou, CodeZeroDivisor, 4},
		{"3 5/4 in", thou, CodeTrailing, 2},
		{"1 mm 2", thou, CodeTrailing, 5},
		{"30 min 1 h", Context{Duration, Hour}, CodeTrailing, 7},
		{"30 min 20", Context{Duration, Hour}, CodeTrailing, 7},
		{"1:75", Context{Duration, Hour}, CodeTrailing, 1},
	} {
		_, err := Parse(test.in, test.ctx)
		var refusal *Refusal
		if !errors.As(err, &refusal) {
			t.Errorf("Parse(%q): %v, want a refusal", test.in, err)
			continue
		}
		if refusal.Code != test.code || refusal.Offset != test.offset {
			t.Errorf("Parse(%q): %s at %d, want %s at %d", test.in, refusal.Code, refusal.Offset, test.code,
				test.offset)
		}
		if _, err := Parse(refusal.Example, test.ctx); err != nil {
			t.Errorf("Parse(%q): its example %q does not work: %v", test.in, refusal.Example, err)
		}
	}
}

func TestParseAsks(t *testing.T) {
	for _, test := range []struct {
		in, code string
		want     []string
	}{
		{"1,234", AmbiguousComma, []string{"1.234 thou", "1234 thou"}},
		{"12,345 mm", AmbiguousComma, []string{"12.345 mm", "12345 mm"}},
		{"5 mil", AmbiguousMil, []string{"5 thou", "5 mm"}},
		{"2 tenths", AmbiguousTenth, []string{"0.0002 in", "0.2 mm"}},
		{"1,234 mil", AmbiguousComma, []string{"1.234 thou", "1234 thou", "1.234 mm", "1234 mm"}},
	} {
		_, err := Parse(test.in, Context{Length, Thou})
		var ambiguity *Ambiguity
		if !errors.As(err, &ambiguity) {
			t.Errorf("Parse(%q): %v, want a question", test.in, err)
			continue
		}
		var got []string
		for _, o := range ambiguity.Options {
			got = append(got, o.Text)
		}
		if d := cmp.Diff(test.want, got); ambiguity.Code != test.code || d != "" {
			t.Errorf("Parse(%q): %s, options (-want +got):\n%s", test.in, ambiguity.Code, d)
		}
	}
}

func list(values ...At) []At { return values }

func at(position string, u Unit, n ...int64) At {
	a := At{Position: position}
	for _, x := range n {
		a.Repeats = append(a.Repeats, New(x, 1, u))
	}
	return a
}

func TestParseList(t *testing.T) {
	sides := Layout{Context{Length, Thou}, []string{"left", "right"}}
	knives := Layout{
		Context{Length, Thou},
		[]string{"knife 1 left", "knife 1 right", "knife 2 left", "knife 2 right"},
	}
	one := Layout{Context{Length, Millimetre}, []string{""}}
	both := list(at("left", Thou, 46), at("right", Thou, 41))
	four := list(
		at("knife 1 left", Thou, 62),
		at("knife 1 right", Thou, 63),
		at("knife 2 left", Thou, 62),
		at("knife 2 right", Thou, 61),
	)
	for _, test := range []struct {
		in   string
		l    Layout
		want List
	}{
		{"left 0.046 in, right 0.041 in", sides, List{both, Inch, false, false}},
		{"right 0.041 in; left 0.046 in", sides, List{both, Inch, false, false}},
		{"46 41 thou", sides, List{both, Thou, false, false}},
		{"46 thou 41 thou", sides, List{both, Thou, false, false}},
		{"46, 41", sides, List{both, Thou, true, false}},
		{"46 41", sides, List{both, Thou, true, false}},
		{"46;41", sides, List{both, Thou, true, false}},
		{"L: 46 R: 41", sides, List{both, Thou, true, false}},
		{"l=46 r=41 thou", sides, List{both, Thou, false, false}},
		{"left 46 thou, right 41", sides, List{both, Thou, false, false}},
		{"LEFT46 RIGHT41", sides, List{}},
		{"left 46 47 46, right 41 41 42", sides, List{list(at("left", Thou, 46, 47, 46),
			at("right", Thou, 41, 41, 42)), Thou, true, false}},
		{"62 63 62 61", knives, List{four, Thou, true, false}},
		{"k1l 62 k1r 63 k2l 62 k2r 61", knives, List{four, Thou, true, false}},
		{"knife 1 left: 62, knife 1 right: 63, knife  2 LEFT: 62, knife 2 right: 61 thou", knives,
			List{four, Thou, false, false}},
		{"3 mm", one, List{list(at("", Millimetre, 3)), Millimetre, false, false}},
		{"3 4 5", one, List{list(at("", Millimetre, 3, 4, 5)), Millimetre, true, false}},
		{"left 1 1/2 thou, right 1 thou", sides, List{list(At{"left", []Value{New(3, 2, Thou)}},
			at("right", Thou, 1)), Thou, false, false}},
	} {
		got, err := ParseList(test.in, test.l)
		if test.want.At == nil {
			if err == nil {
				t.Errorf("ParseList(%q) = %v, want a refusal", test.in, got)
			}
			continue
		}
		if err != nil {
			t.Errorf("ParseList(%q): %v", test.in, err)
		} else if d := cmp.Diff(test.want, got); d != "" {
			t.Errorf("ParseList(%q) (-want +got):\n%s", test.in, d)
		}
	}
}

func TestParseListRefusesOrAsks(t *testing.T) {
	sides := Layout{Context{Length, Thou}, []string{"left", "right"}}
	for _, test := range []struct {
		in, code string
		offset   int
	}{
		{"", CodeEmpty, 0},
		{"left", CodeNoNumber, 4},
		{"left 46", CodeMissingPositions, 7},
		{"46 41 40 thou", CodeExtraValues, 6},
		{"up 46 right 41", CodeUnknownPosition, 0},
		{"46 left 41", CodeUnknownPosition, 0},
		{"left 46 left 41", CodeRepeatedPosition, 8},
		{"left 46 kg, right 41", CodeWrongKind, 8},
		{"left 1/0, right 41", CodeZeroDivisor, 7},
	} {
		_, err := ParseList(test.in, sides)
		var refusal *Refusal
		if !errors.As(err, &refusal) || refusal.Code != test.code || refusal.Offset != test.offset {
			t.Errorf("ParseList(%q): %v, want %s at %d", test.in, err, test.code, test.offset)
			continue
		}
		if _, err := ParseList(refusal.Example, sides); err != nil {
			t.Errorf("ParseList(%q): its example %q does not work: %v", test.in, refusal.Example, err)
		}
	}
	for _, test := range []struct {
		in, code string
		want     []string
	}{
		{"46 thou", AmbiguousPlaces, []string{"left 46 thou, right 46 thou"}},
		{"left 46 mil, right 41 mil", AmbiguousMil,
			[]string{"left 46 thou, right 41 thou", "left 46 mm, right 41 mm"}},
		{"left 1,234 mm, right 1 mm", AmbiguousComma,
			[]string{"left 1.234 mm, right 1 mm", "left 1234 mm, right 1 mm"}},
	} {
		_, err := ParseList(test.in, sides)
		var ambiguity *Ambiguity
		if !errors.As(err, &ambiguity) || ambiguity.Code != test.code {
			t.Errorf("ParseList(%q): %v, want a question", test.in, err)
			continue
		}
		var got []string
		for _, o := range ambiguity.Options {
			got = append(got, o.Text)
		}
		if d := cmp.Diff(test.want, got); d != "" {
			t.Errorf("ParseList(%q): options (-want +got):\n%s", test.in, d)
		}
	}
}

// decimal draws a decimal as people type it, and what it is.
func decimal(t *rapid.T, label string) (text string, value *big.Rat) {
	digits := rapid.StringMatching(`(0|[1-9][0-9]{0,3})\.[0-9]{1,6}`).Draw(t, label)
	r, ok := new(big.Rat).SetString(digits)
	if !ok {
		t.Fatalf("not a number: %s", digits)
	}
	return digits, r
}

// A value typed at a limit lies on the limit, in both systems of units, and one
// a hair beyond it does not.
func TestLimitsAreExact(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]Unit{Millimetre, Inch, Thou, Centimetre, Micrometre}).Draw(t, "unit")
		_, target := decimal(t, "target")
		_, tolerance := decimal(t, "tolerance")
		limit := FromRat(target, unit).Add(FromRat(tolerance, unit))
		sum := new(big.Rat).Add(target, tolerance)
		number, _ := sum.FloatPrec()
		typed, err := Parse(sum.FloatString(number)+" "+string(unit), Context{Kind: Length})
		if err != nil {
			t.Fatal(err)
		}
		if typed.Value.Cmp(limit) != 0 {
			t.Fatalf("%v is not at its limit %v", typed.Value, limit)
		}
		beyond, err := Parse(sum.FloatString(number)+"1 "+string(unit), Context{Kind: Length})
		if number == 0 {
			beyond, err = Parse(sum.FloatString(0)+".1 "+string(unit), Context{Kind: Length})
		}
		if err != nil {
			t.Fatal(err)
		}
		if beyond.Value.Cmp(limit) <= 0 {
			t.Fatalf("%v is not beyond %v", beyond.Value, limit)
		}
	})
}

func drawValue(t *rapid.T, label string) Value {
	unit := rapid.SampledFrom(
		[]Unit{Millimetre, Inch, Thou, Metre, Foot, Hour, Minute, Second, Degree, Turn},
	).Draw(
		t,
		label+" unit",
	)
	return New(
		rapid.Int64Range(-1e9, 1e9).Draw(t, label+" numerator"),
		rapid.Int64Range(1, 1e6).Draw(t, label+" denominator"),
		unit,
	)
}

func TestExactIsReadBack(t *testing.T) {
	t.Parallel()
	for _, v := range []Value{New(1, 3, Inch), New(0, 1, Inch), New(-7, 64, Inch), New(1, 7, Turn),
		New(22, 7, Hour)} {
		readBack(t, v)
	}
	rapid.Check(t, func(t *rapid.T) { readBack(t, drawValue(t, "value")) })
}

func readBack(tb interface{ Fatalf(string, ...any) }, value Value) {
	p, err := Parse(Exact(value), Context{Kind: value.Kind()})
	if err != nil || !p.Value.Equal(value) {
		tb.Fatalf("Parse(%q) = %v, %v; want %v", Exact(value), p.Value, err, value)
	}
	var again Value
	text, err := value.MarshalText()
	if err == nil {
		err = again.UnmarshalText(text)
	}
	if err != nil || !again.Equal(value) {
		tb.Fatalf("stored %q is read as %v, %v", text, again, err)
	}
}

// What is printed is off by at most half its last digit, and compares with
// printed limits as the value does with the limits.
func TestShownNeverContradicts(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]Unit{Millimetre, Inch, Thou}).Draw(t, "unit")
		value := New(
			rapid.Int64Range(-3000, 3000).Draw(t, "n"),
			rapid.SampledFrom([]int64{1, 3, 7, 64, 1000, 25400}).Draw(t, "d"),
			Inch,
		)
		limit := value.Add(
			New(
				rapid.Int64Range(-3, 3).Draw(t, "off"),
				rapid.SampledFrom([]int64{1, 1000, 1000000}).Draw(t, "off d"),
				Millimetre,
			),
		)
		least := rapid.IntRange(0, 3).Draw(t, "least")
		places := Decimals(value, unit, least, limit)
		number := func(x Value) *big.Rat {
			r, ok := new(big.Rat).SetString(strings.TrimSuffix(Format(x, unit, places), " "+string(unit)))
			if !ok {
				t.Fatalf("%q is no number", Format(x, unit, places))
			}
			return r
		}
		if number(value).Cmp(number(limit)) != value.Cmp(limit) {
			t.Fatalf("%s against %s contradicts %v against %v", Format(value, unit, places), Format(limit, unit,
				places), value, limit)
		}
		half := new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places)), nil))
		half.Mul(half, big.NewRat(1, 2))
		off := new(big.Rat).Sub(number(value), value.In(unit))
		if off.Abs(off).Cmp(half) > 0 {
			t.Fatalf("%s is off by more than half its last digit from %v", Format(value, unit, places), value)
		}
	})
}

func TestFormat(t *testing.T) {
	for _, test := range []struct{ got, want string }{
		{Format(New(117, 100, Millimetre), Millimetre, 2), "1.17 mm"},
		{Format(New(46, 1, Thou), Thou, 0), "46 thou"},
		{Format(New(-1, 1000, Millimetre), Millimetre, 2), "0.00 mm"},
		{Format(New(5, 1000, Millimetre), Millimetre, 2), "0.01 mm"},
		{Format(New(1, 8, Turn), Turn, 2), "1/8 turn"},
		{Format(New(-5, 4, Turn), Turn, 2), "-1 1/4 turns"},
		{Format(New(2, 1, Turn), Turn, 2), "2 turns"},
		{Format(New(12, 100, Turn), Turn, 2), "0.12 turn"},
		{Format(New(30, 1, Degree), Degree, 0), "30°"},
		{Show(New(1143, 1000, Millimetre), Millimetre, 2, New(1144, 1000, Millimetre)), "1.143 mm"},
		{Typed(New(1, 3, Inch), Inch), "1/3 in"},
		{Typed(New(117, 100, Millimetre), Millimetre), "1.17 mm"},
		{FormatDuration(New(150, 1, Minute)), "2 h 30 min"},
		{FormatDuration(New(45, 1, Minute)), "45 min"},
		{FormatDuration(New(8, 1, Hour)), "8 h"},
		{FormatDuration(New(0, 1, Hour)), "0 h"},
		{FormatDuration(New(20, 1, Second)), "20 s"},
		{FormatDuration(New(-90, 1, Minute)), "-1 h 30 min"},
	} {
		if test.got != test.want {
			t.Errorf("got %q, want %q", test.got, test.want)
		}
	}
}

// What is within a printed limit is within the limit, however few digits are printed.
func TestFormatLimit(t *testing.T) {
	for _, test := range []struct {
		limit       Value
		unit        Unit
		decimals    int
		least, most string
	}{
		{New(2, 1, Thou), Millimetre, 2, "0.06 mm", "0.05 mm"},
		{New(35, 1, Thou), Millimetre, 2, "0.89 mm", "0.88 mm"},
		{New(-3, 1, Thou), Millimetre, 2, "-0.07 mm", "-0.08 mm"},
		{New(5, 1, Millimetre), Millimetre, 1, "5.0 mm", "5.0 mm"},
		{New(0, 1, Thou), Millimetre, 2, "0.00 mm", "0.00 mm"},
		{New(-1, 1000, Millimetre), Millimetre, 0, "0 mm", "-1 mm"},
		{New(45, 1, Degree), Degree, 0, "45°", "45°"},
	} {
		if got := FormatLimit(test.limit, test.unit, test.decimals, true); got != test.least {
			t.Errorf("%v at least: %s, want %s", test.limit, got, test.least)
		}
		if got := FormatLimit(test.limit, test.unit, test.decimals, false); got != test.most {
			t.Errorf("%v at most: %s, want %s", test.limit, got, test.most)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		limit := New(rapid.Int64Range(-5000, 5000).Draw(t, "limit"), 7, Thou)
		decimals := rapid.IntRange(0, 4).Draw(t, "decimals")
		for _, least := range []bool{true, false} {
			printed, err := Parse(FormatLimit(limit, Millimetre, decimals, least), Context{Kind: Length})
			if err != nil || least && printed.Value.Cmp(limit) < 0 || !least && printed.Value.Cmp(limit) > 0 {
				t.Fatalf("%v, least %t: %v, %v", limit, least, printed.Value, err)
			}
		}
	})
}
