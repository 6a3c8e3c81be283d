package quantity

import (
	"errors"
	"math"
	"math/big"
	"strings"
	"testing"
)

// Numbers with commas and points, by the rules at ParseList and Parse: what each is
// read as, or asked as.
func TestCommasByHand(t *testing.T) {
	for in, want := range map[string]string{
		"1,5 mm": "0.0015 m", "1,25 mm": "0.00125 m", "0,125 mm": "0.000125 m", "1234,567 mm": "1.234567 m",
		"1,2345 mm": "0.0012345 m",
		"1,5mm":     "0.0015 m", "0,5h": "1800 s",
		"1,234,567 mm": "1234.567 m", "12,345,678 mm": "12345.678 m", "1,234.5 mm": "1.2345 m",
		"123,456.5 mm": "123.4565 m", "1.5 mm": "0.0015 m",
		".5 mm": "0.0005 m", "-.5 mm": "-0.0005 m", "+2 mm": "0.002 m", "- 2 mm": "-0.002 m", "007 mm": "0.007 m",
		"1/2 mm": "0.0005 m", "3/2 mm": "0.0015 m", "1 1/2 mm": "0.0015 m", "-1 1/2 mm": "-0.0015 m",
		"01/02 mm": "0.0005 m", "0 mm": "0 m",
		"2h30": "9000 s", "1:30": "5400 s", "0:59": "3540 s", "1 h 20 min": "4800 s", "2h 5 min 10 s": "7510 s",
		"-1 h 30 min": "-5400 s", "90 min": "5400 s",
		"5' 3\"": "1.6002 m", "5'3 1/2\"": "1.6129 m",
	} {
		p, err := Parse(in, Context{Kind: kindOf(want)})
		if err != nil || Exact(p.Value) != want {
			t.Errorf("%q: %v, %v; want %s", in, p.Value, err, want)
		}
	}
	bare, err := Parse("1,5", Context{Length, Millimetre})
	if err != nil || Exact(bare.Value) != "0.0015 m" || !bare.Bare {
		t.Errorf("a comma and one digit at the end: %+v, %v", bare, err)
	}
	var a *Ambiguity
	for in, want := range map[string]string{"1,234 mm": "1.234 mm|1234 mm", "12,345 mm": "12.345 mm|12345 mm",
		"123,456 mm": "123.456 mm|123456 mm"} {
		_, err := Parse(in, Context{Kind: Length})
		if !errors.As(err, &a) || a.Code != AmbiguousComma || texts(a) != want {
			t.Errorf("%q: %v, want %s", in, err, want)
		}
	}
	for in, code := range map[string]string{
		"1/0 mm": CodeZeroDivisor, "1/00 mm": CodeZeroDivisor, "1/ mm": CodeNoNumber, "mm": CodeNoNumber,
		"1.. mm": CodeUnknownUnit, "1 mm mm": CodeTrailing,
		"3 5/4 mm": CodeUnknownUnit, "1,2,34 mm": CodeUnknownUnit, "": CodeEmpty, "  ": CodeEmpty,
		"1:60": CodeUnknownUnit,
		"1:5":  CodeUnknownUnit,
	} {
		_, err := Parse(in, Context{Kind: Length, Entry: ""})
		var r *Refusal
		if !errors.As(err, &r) || r.Code != code {
			t.Errorf("%q: %v, want %s", in, err, code)
		}
	}
}

func kindOf(stored string) Kind {
	if strings.HasSuffix(stored, " s") {
		return Duration
	}
	return Length
}

func texts(a *Ambiguity) string {
	var all []string
	for _, o := range a.Options {
		all = append(all, o.Text)
	}
	return strings.Join(all, "|")
}

// Lists by the rules at ParseList, a case for each, in the order of two positions.
func TestListsByHand(t *testing.T) {
	sides := Layout{Context{Length, Thou}, []string{"left", "right"}}
	knives := Layout{Context{Length, Thou}, []string{"knife 1 left", "knife 1 right", "knife 2 left"}}
	one := Layout{Context{Length, Thou}, []string{""}}
	bare := Layout{Context{Kind: Length}, []string{"left", "right"}}
	for _, test := range []struct {
		l        Layout
		in, want string
	}{
		{sides, "left 46 right 41", "left 46 thou, right 41 thou"},
		{sides, "L: 46 R: 41 thou", "left 46 thou, right 41 thou"},
		{sides, "right=41 left=46", "left 46 thou, right 41 thou"},
		{sides, "left 1 mm, right 2", "left 1 mm, right 2 mm"},
		{sides, "left 1, right 2 mm", "left 1 mm, right 2 mm"}, {sides, "46, 41", "left 46 thou, right 41 thou"},
		{sides, "46; 41", "left 46 thou, right 41 thou"}, {sides, "46 41 thou", "left 46 thou, right 41 thou"},
		{sides, "46 thou 41", "left 46 thou, right 41 thou"},
		{sides, "left 46 47 48 right 41", "left 46 thou 47 thou 48 thou, right 41 thou"},
		{sides, "left 1 1/16 in right 1 in", "left 1.0625 in, right 1 in"},
		{sides, "1 mm 0.05 in", "left 0.03937007874 in, right 0.05 in"},
		{knives, "k1l 62 k1r 63 k2l 61", "knife 1 left 62 thou, knife 1 right 63 thou, knife 2 left 61 thou"},
		{knives, "62 63 61", "knife 1 left 62 thou, knife 1 right 63 thou, knife 2 left 61 thou"},
		{one, "46 47 48", "46 thou 47 thou 48 thou"}, {one, "46, 47 mm", "46 mm 47 mm"}, {one, "5", "5 thou"},
	} {
		list, err := ParseList(test.in, test.l)
		if err != nil {
			t.Errorf("%q: %v", test.in, err)
			continue
		}
		var parts []string
		for _, at := range list.At {
			words := []string{at.Position}
			for _, v := range at.Repeats {
				u := list.Unit
				words = append(words, Format(v, u, 11))
			}
			parts = append(parts, strings.TrimSpace(strings.Join(words, " ")))
		}
		got := strings.Join(parts, ", ")
		plain := strings.NewReplacer("0000000000 ", " ", ".00000000000", "").Replace(got)
		if trimmed(plain) != trimmed(test.want) {
			t.Errorf("%q: %s, want %s", test.in, trimmed(plain), test.want)
		}
	}
	for _, test := range []struct {
		l        Layout
		in, code string
		at       int
		want     string
	}{
		{sides, "", CodeEmpty, 0, "a value"}, {sides, "left 46", CodeMissingPositions, 7, "right"},
		{knives, "46 47", CodeMissingPositions, 5, "knife 2 left"},
		{sides, "1, 2, 3", CodeExtraValues, 6, "left, right"},
		{sides, "left 1 left 2", CodeRepeatedPosition, 7, "each position once"},
		{sides, "1 left 2", CodeUnknownPosition, 0, "left, right"},
		{sides, "middle 1", CodeUnknownPosition, 0, "left, right"}, {one, "middle 1", CodeNoNumber, 0, "a number"},
		{bare, "1, 2", CodeUnknownUnit, 4, ""}, {knives, "k1 5", CodeUnknownPosition, 0, ""},
		{sides, "left x", CodeNoNumber, 5, ""},
	} {
		_, err := ParseList(test.in, test.l)
		var refusal *Refusal
		if !errors.As(err, &refusal) || refusal.Code != test.code || refusal.Offset != test.at || test.want != "" &&
			refusal.Want != test.want {
			t.Errorf("%q: %v, want %s at %d, %q", test.in, err, test.code, test.at, test.want)
			continue
		}
		if _, err := ParseList(refusal.Example, test.l); err != nil {
			t.Errorf("%q: its example %q: %v", test.in, refusal.Example, err)
		}
	}
	// The mean of repeats is exact.
	at := At{Repeats: []Value{New(1, 1, Thou), New(2, 1, Thou), New(2, 1, Thou)}}
	if got := at.Mean(); !got.Equal(New(5, 3, Thou)) {
		t.Errorf("a mean of %v", got)
	}
	if got := (At{Repeats: []Value{New(7, 1, Thou)}}).Mean(); !got.Equal(New(7, 1, Thou)) {
		t.Errorf("a mean of one: %v", got)
	}
}

// trimmed takes the zeros off the decimals of every word.
func trimmed(s string) string {
	words := strings.Fields(s)
	for i, w := range words {
		if strings.Contains(w, ".") {
			words[i] = strings.TrimRight(strings.TrimRight(w, "0"), ".")
		}
	}
	return strings.Join(words, " ")
}

// Limits whose deviations have a sign too many, no limits, and blanks where marks are.
func TestLimitsByHand(t *testing.T) {
	context, nominal := Context{Length, Thou}, New(40, 1, Thou)
	for in, want := range map[string]string{
		"40 +2-1": "39 42", "40 + 2 / - 1": "39 42", "+0/-2": "38 40", "1 mm ± 0.1": "", "at least 3": "3 ",
		"at most 3": " 3", "3...4": "3 4", "3 to 3": "3 3",
		"0.001 ± 0.0005 in": "0.5 1.5", "40 thou + 1/-0": "40 41",
	} {
		low, high, err := ParseLimits(in, context, nominal)
		text := func(v Value) string {
			if !v.Valid() {
				return ""
			}
			return trimmed(v.In(Thou).FloatString(6))
		}
		if got := text(low) + " " + text(high); want != "" && (err != nil || got != want) {
			t.Errorf("%q: %q, %v; want %q", in, got, err, want)
		}
	}
	for in, code := range map[string]string{"± -2": CodeOrder, "4 to 3": CodeOrder, "-2+1": CodeNoLimits,
		"+": CodeNoLimits, "40 +": CodeNoLimits, "+-": CodeEmpty, "/-1": CodeNoLimits} {
		low, high, err := ParseLimits(in, context, nominal)
		var r *Refusal
		if !errors.As(err, &r) || r.Code != code || low.Valid() || high.Valid() {
			t.Errorf("%q: %v, want %s", in, err, code)
		}
	}
	if _, _, err := ParseLimits(strings.Repeat("1", 400)+" to 2", context, nominal); err == nil {
		t.Error("more than 400 characters are read")
	}
}

func TestPrintsByHand(t *testing.T) {
	for seconds, want := range map[int64]string{0: "0 h", 20: "20 s", 59: "59 s", 60: "1 min", 89: "1 min",
		90: "2 min", 3599: "1 h", 3600: "1 h", 5400: "1 h 30 min", -5400: "-1 h 30 min", -20: "-20 s",
		90000: "25 h"} {
		if got := FormatDuration(New(seconds, 1, Second)); got != want {
			t.Errorf("%d s: %q, want %q", seconds, got, want)
		}
	}
	for _, test := range []struct {
		num, den int64
		want     string
		ok       bool
	}{{1, 8, "1/8 turn", true}, {-1, 8, "-1/8 turn", true}, {1, 1, "1 turn", true}, {9, 8, "1 1/8 turns", true},
		{2, 1, "2 turns", true}, {-9, 8, "-1 1/8 turns", true},
		{0, 1, "0 turn", true}, {1, 16, "1/16 turn", true}, {1, 32, "", false}, {1, 3, "", false}} {
		if got, ok := sixteenths(big.NewRat(test.num, test.den)); got != test.want || ok != test.ok {
			t.Errorf("%d/%d: %q, %v; want %q", test.num, test.den, got, ok, test.want)
		}
	}
	huge := new(big.Rat).SetFrac(new(big.Int).Lsh(big.NewInt(1), 80), big.NewInt(1))
	if got, ok := sixteenths(huge); ok {
		t.Errorf("more turns than can be counted: %q", got)
	}
	if got, ok := sixteenths(new(big.Rat).Inv(huge)); ok {
		t.Errorf("less of a turn than can be counted: %q", got)
	}
	if got, ok := FormatFraction(FromRat(huge, Inch), Inch, 64); ok {
		t.Errorf("more inches than can be counted: %q", got)
	}
}

// Values compare exactly where floating point cannot tell them apart, and what is
// stored is read back or refused.
func TestValuesByHand(t *testing.T) {
	tiny := FromRat(new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Exp(big.NewInt(10), big.NewInt(40), nil)), Metre)
	one, two := New(1, 3, Metre), New(2, 3, Metre)
	more := one.Add(tiny)
	if one.Cmp(more) != -1 || more.Cmp(one) != 1 || one.Cmp(one) != 0 || one.Cmp(two) != -1 || two.Cmp(one) != 1 {
		t.Error("a difference of 1e-40 m is not seen")
	}
	for _, test := range []struct {
		v, w, d Value
		minus   bool
		want    int
	}{
		{two, one, one, false, 0}, {two.Add(tiny), one, one, false, 1}, {two, one, one.Add(tiny), false, -1},
		{one, two, one, true, 0}, {one, two, one.Add(tiny), true, 1},
		{one.Sub(tiny), two, one, true, -1}, {New(5, 1, Metre), one, one, false, 1},
		{New(5, 1, Metre), New(9, 1, Metre), one, true, -1},
		{New(7, 1, Metre), New(9, 1, Metre), New(3, 1, Metre), true, 1},
		{New(7, 1, Metre), New(9, 1, Metre), New(3, 1, Metre), false, -1},
	} {
		if got := test.v.CmpSum(test.w, test.d, test.minus); got != test.want {
			t.Errorf("%v against %v and %v, minus %v: %d, want %d", test.v, test.w, test.d, test.minus, got, test.want)
		}
	}
	none := Value{}
	if !none.Equal(Value{}) || none.Equal(one) || one.Equal(none) || one.Equal(New(1, 3, Second)) ||
		!one.Equal(New(2, 6, Metre)) || none.Valid() || Exact(none) != "" {
		t.Error("absent values are equal to each other alone, and a kind is part of a value")
	}
	if one.Neg().Sign() != -1 || one.Neg().Abs().Cmp(one) != 0 || two.Per(one).Cmp(big.NewRat(2, 1)) != 0 {
		t.Error("signs and ratios")
	}
	for text, want := range map[string]Value{"": {}, "1/3 m": one, "0.5 m": New(1, 2, Metre),
		"-2 s": New(-2, 1, Second)} {
		var v Value
		if err := v.UnmarshalText([]byte(text)); err != nil || !v.Equal(want) {
			t.Errorf("%q: %v, %v", text, v, err)
		}
		if back, err := v.MarshalText(); err != nil || string(back) != text {
			t.Errorf("%q is written as %q, %v", text, back, err)
		}
	}
	for _, text := range []string{"1", "m", "1 mm", "1 furlong", "1e3 m", "0x1 m", "1/0 m", " m", "1_0 m", "1 m m",
		strings.Repeat("1", 4097) + " m"} {
		v := one
		if err := v.UnmarshalText([]byte(text)); err == nil || len(err.Error()) > 120 ||
			!strings.Contains(err.Error(), "not a stored value") || !v.Equal(one) {
			t.Errorf("%q: %v, %v", text[:min(len(text), 20)], v, err)
		}
	}
	long := strings.Repeat("1", 4096) + " m"
	var v Value
	if err := v.UnmarshalText([]byte(long)); err != nil {
		t.Errorf("4096 digits: %v", err)
	}
	for _, f := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for _, u := range []Unit{Metre, Millimetre, Celsius} {
			if v := FromFloat(f, u); v != (Value{}) {
				t.Errorf("%v %s: %+v, want no value", f, u, v)
			}
		}
	}
	if FromFloat(math.NaN(), Metre).Valid() || FromFloat(math.Inf(1), Metre).Valid() || !FromFloat(0.5,
		Inch).Equal(New(1, 2, Inch)) || !FromFloat(0.25, Metre).Equal(New(1, 4, Metre)) {
		t.Error("a float64 is taken exactly, or not at all")
	}
}

// Mixing kinds, or reckoning with a value that is absent, is a mistake of the
// program and panics.
func TestKindsAreKeptApart(t *testing.T) {
	metre, second, none := New(1, 1, Metre), New(1, 1, Second), Value{}
	for name, do := range map[string]func(){
		"sum of two kinds": func() { metre.Add(second) }, "difference": func() { metre.Sub(second) },
		"comparison": func() { metre.Cmp(second) },
		"ratio":      func() { metre.Per(second) }, "sum with nothing": func() { metre.Add(none) },
		"nothing with a sum":  func() { none.Add(metre) },
		"nothing compared":    func() { none.Cmp(none) },
		"two kinds of sum":    func() { metre.CmpSum(metre, second, false) },
		"sum of another kind": func() { metre.CmpSum(second, metre, false) },
		"another kind's unit": func() { metre.In(Second) },
		"no unit":             func() { New(1, 1, Unit("furlong")) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: it goes through", name)
				}
			}()
			do()
		}()
	}
	if z := Zero(Length); !z.Valid() || z.Sign() != 0 || z.Kind() != Length {
		t.Errorf("nothing of a length: %v", z)
	}
	for _, s := range []System{Metric, Imperial} {
		if got, ok := ParseSystem(s.String()); !ok || got != s {
			t.Errorf("%s is read as %v, %v", s, got, ok)
		}
	}
	if _, ok := ParseSystem("ells"); ok {
		t.Error("a system of ells")
	}
}
