package quantity

import (
	"errors"
	"math/big"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// refused is the code and the place of a refusal, "" where there is none.
func refused(err error) (code string, at int) {
	var refusal *Refusal
	if errors.As(err, &refusal) {
		return refusal.Code, refusal.Offset
	}
	return "", -1
}

// 400 bytes are read wherever something is typed, blanks among them; one more is refused
// at the first that is too many, whatever it says.
func TestLongestInput(t *testing.T) {
	context := Context{Length, Thou}
	for name, read := range map[string]func(pad string) error{
		"a value": func(pad string) error {
			parsed, err := Parse("5"+pad, context)
			if err == nil && !parsed.Value.Equal(New(5, 1, Thou)) {
				t.Errorf("a value with blanks behind it: %v", parsed.Value)
			}
			return err
		},
		"a list": func(pad string) error {
			list, err := ParseList("5"+pad, Layout{context, []string{""}})
			if err == nil && !list.At[0].Repeats[0].Equal(New(5, 1, Thou)) {
				t.Errorf("a list with blanks behind it: %v", list)
			}
			return err
		},
		"limits": func(pad string) error {
			low, high, err := ParseLimits("3 to 5"+pad[5:], context, Value{})
			if err == nil && (!low.Equal(New(3, 1, Thou)) || !high.Equal(New(5, 1, Thou))) {
				t.Errorf("limits with blanks behind them: %v to %v", low, high)
			}
			return err
		},
	} {
		if err := read(strings.Repeat(" ", 399)); err != nil {
			t.Errorf("%s of 400 bytes: %v", name, err)
		}
		if code, at := refused(read(strings.Repeat(" ", 400))); code != CodeTooLong || at != 400 {
			t.Errorf("%s of 401 bytes: %q at %d", name, code, at)
		}
	}
}

// Behind thousands parted by commas a point has digits, any of them; without digits it ends
// a sentence, or is not ours.
func TestPointBehindThousands(t *testing.T) {
	for in, want := range map[string]string{"1,234.05 mm": "1.23405 m", "1,234.9 mm": "1.2349 m",
		"12,345.678 mm": "12.345678 m", "1,234,567.0 mm": "1234.567 m"} {
		parsed, err := Parse(in, Context{Kind: Length})
		if err != nil || Exact(parsed.Value) != want {
			t.Errorf("%q: %v, %v; want %s", in, parsed.Value, err, want)
		}
	}
	for in, at := range map[string]int{"1,234. mm": 5, "1,234./2 mm": 5} {
		if code, got := refused(second(Parse(in, Context{Length, Millimetre}))); code != CodeTrailing || got != at {
			t.Errorf("%q: %q at %d, want %s at %d", in, code, got, CodeTrailing, at)
		}
	}
}

func second[T any](_ T, err error) error { return err }

// Only a proper fraction joins a whole number.
func TestOnlyAProperFractionJoins(t *testing.T) {
	context := Context{Length, Millimetre}
	for in, want := range map[string]string{"3 3/4 mm": "0.00375 m", "0 1/2 mm": "0.0005 m",
		"3 0/4": "0.003 m"} {
		if parsed, err := Parse(in, context); err != nil || Exact(parsed.Value) != want {
			t.Errorf("%q: %v, %v; want %s", in, parsed.Value, err, want)
		}
	}
	for _, in := range []string{"3 4/4", "3 5/4", "3 8/4"} {
		if code, at := refused(second(Parse(in, context))); code != CodeTrailing || at != 2 {
			t.Errorf("%q: %q at %d", in, code, at)
		}
	}
	// At a single position the two are repeats.
	list, err := ParseList("3 4/4", Layout{context, []string{""}})
	if err != nil || len(list.At[0].Repeats) != 2 || !list.At[0].Repeats[1].Equal(New(1, 1, Millimetre)) {
		t.Errorf("three, and four quarters: %v, %v", list, err)
	}
}

// Positions are known by their whole names, by what only one of them begins with, and by
// initials; a name at the very end is a name still, that a value must follow.
func TestNamesOfPositions(t *testing.T) {
	layout := Layout{Context{Length, Thou}, []string{"left", "left back", "knife 1 left", "right"}}
	for in, want := range map[string]int{
		"left 1": 0, "LEFT 1": 0, "left back 1": 1, "left  back 1": 1, "lb 1": 1, "k1l 1": 2, "kni 1": 2, "k 1": 2,
		"r 1": 3, "rig: 1": 3, "knife 1 left=1": 2,
	} {
		scanner := &listScanner{scanner: scan(in, Length, choice{}), l: layout}
		if got, end := scanner.positionAt(0); got != want || strings.TrimLeft(in[end:], " :=") != "1" {
			t.Errorf("%q: position %d until %d, want %d", in, got, end, want)
		}
	}
	for _, in := range []string{"lef 1", "l 1", "leftover 1", "left1", "1", "k2l 1", "rightt 1", ""} {
		scanner := &listScanner{scanner: scan(in, Length, choice{}), l: layout}
		if got, _ := scanner.positionAt(0); got != -1 {
			t.Errorf("%q: position %d", in, got)
		}
	}
	two := Layout{Context{Length, Thou}, []string{"left", "left back"}}
	for in, want := range map[string]int{"left back 1 left": 16, "left 1 left back": 16} {
		if code, at := refused(second(ParseList(in, two))); code != CodeNoNumber || at != want {
			t.Errorf("%q: %q at %d, want %s at %d", in, code, at, CodeNoNumber, want)
		}
	}
}

// A word that is no position's name is refused with the names there are; where the one
// position has none, a number is wanted.
func TestWordsThatAreNoName(t *testing.T) {
	for position, want := range map[string]Refusal{
		"":       {Code: CodeNoNumber, Want: "a number", Example: "43 thou"},
		"height": {Code: CodeUnknownPosition, Want: "height", Example: "height 43 thou"},
	} {
		_, err := ParseList("middle 1", Layout{Context{Length, Thou}, []string{position}})
		var got *Refusal
		if !errors.As(err, &got) || got.Code != want.Code || got.Want != want.Want || got.Example != want.Example {
			t.Errorf("a position called %q: %v", position, err)
		}
	}
}

// What stands behind a duration and begins no further part of it is something more.
func TestBehindADuration(t *testing.T) {
	for in, at := range map[string]int{"2h x": 3, "1:30 h": 5, "2 h : 5": 4, "2h/2": 2} {
		if code, got := refused(second(Parse(in, Context{Kind: Duration}))); code != CodeTrailing || got != at {
			t.Errorf("%q: %q at %d, want %s at %d", in, code, got, CodeTrailing, at)
		}
	}
}

// A thin space parts digits and is a blank anywhere else, at the very end too.
func TestThinSpaces(t *testing.T) {
	for in, want := range map[string]string{"5\u2009": "0.005 m", "1\u2009234": "1.234 m",
		"1\u202f234\u2007": "1.234 m",
		"\u20095":          "0.005 m", "5\u2009mm": "0.005 m"} {
		if parsed, err := Parse(in, Context{Length, Millimetre}); err != nil || Exact(parsed.Value) != want {
			t.Errorf("%q: %v, %v; want %s", in, parsed.Value, err, want)
		}
	}
}

// Kinds and systems are known by the names they give, and by no other; what was never
// set is none of them.
func TestNamesOfKindsAndSystems(t *testing.T) {
	for k := Kind(1); k < kinds; k++ {
		if got, ok := KindNamed(k.String()); !ok || got != k {
			t.Errorf("%s is read as %s, %v", k, got, ok)
		}
	}
	for _, name := range []string{"", "no kind", "ells"} {
		if got, ok := KindNamed(name); ok || got != 0 {
			t.Errorf("a kind called %q: %s, %v", name, got, ok)
		}
		if got, ok := ParseSystem(name); ok || got != 0 {
			t.Errorf("a system called %q: %s, %v", name, got, ok)
		}
	}
	if Kind(0).String() != "no kind" || kinds.String() != "no kind" || System(0).String() != "no system" {
		t.Errorf("what was never set: %s, %s, %s", Kind(0), kinds, System(0))
	}
	if Metric.String() != "metric" || Imperial.String() != "inch" {
		t.Errorf("%s and %s", Metric, Imperial)
	}
}

// A value compares with a sum or a difference as exact arithmetic has it, however near
// the two come and whatever cancels.
func TestSumsCompareExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) *big.Rat {
			n := rapid.Int64Range(-1_000_000, 1_000_000).Draw(t, name)
			return big.NewRat(n, rapid.SampledFrom([]int64{1, 3, 7, 1000, 999_983}).Draw(t, name+" over"))
		}
		rat, diff, minus := draw("w"), draw("d"), rapid.Bool().Draw(t, "minus")
		sum := new(big.Rat).Add(rat, diff)
		if minus {
			sum.Sub(rat, diff)
		}
		// From nothing to well beyond what floating point can tell.
		off := new(big.Rat).SetFrac(big.NewInt(rapid.Int64Range(-9, 9).Draw(t, "off")),
			new(big.Int).Exp(big.NewInt(10), big.NewInt(rapid.Int64Range(0, 22).Draw(t, "digits")), nil))
		value := new(big.Rat).Add(sum, off)
		got := FromRat(value, Metre).CmpSum(FromRat(rat, Metre), FromRat(diff, Metre), minus)
		if got != off.Sign() {
			t.Fatalf("%s against %s and %s, minus %v: %d, want %d", value, rat, diff, minus, got, off.Sign())
		}
		if a, b := FromRat(value, Metre), FromRat(sum, Metre); a.Cmp(b) != off.Sign() || b.Cmp(a) != -off.Sign() {
			t.Fatalf("%s against %s: %d, want %d", value, sum, a.Cmp(b), off.Sign())
		}
	})
}

// What can be read in two ways is asked about once for both limits, each with its own
// number, and only as the limits can be.
func TestLimitsReadInTwoWays(t *testing.T) {
	context := Context{Kind: Length, Entry: Thou}
	for in, want := range map[string][]string{
		"5 mil to 8 mil":     {"5 thou to 8 thou", "5 mm to 8 mm"},
		"5 mil to 15 mil":    {"5 thou to 15 thou", "5 mm to 15 mm"},
		"5 to 8 mil":         {"5 to 8 thou", "5 to 8 mm"},
		"8 thou to 15 mil":   {"8 thou to 15 thou", "8 thou to 15 mm"},
		"15 mil ± 5 mil":     {"15 thou ± 5 thou", "15 mm ± 5 mm"},
		"15 mil +5/-5 mil":   {"15 thou +5/-5 thou", "15 mm +5/-5 mm"},
		"15 +5 mil/-1 mil":   {"15 +5 thou/-1 thou", "15 +5 mm/-1 mm"},
		"at most 5 mil":      {"at most 5 thou", "at most 5 mm"},
		"1,234 to 2,345 mm":  {"1.234 mm to 2.345 mm", "1234 mm to 2345 mm"},
		"1 tenth to 2 mil":   {"0.0001 in to 2 thou", "0.0001 in to 2 mm", "0.1 mm to 2 mm"},
		"5 mil to 5 mil":     {"5 thou to 5 thou", "5 mm to 5 mm"},
		"  5 mil to 8 mil  ": {"5 thou to 8 thou", "5 mm to 8 mm"},
	} {
		_, _, err := ParseLimits(in, context, Value{})
		var ambiguity *Ambiguity
		if !errors.As(err, &ambiguity) || ambiguity.Input != in {
			t.Errorf("%q: %v, want a question", in, err)
			continue
		}
		var got []string
		for _, option := range ambiguity.Options {
			got = append(got, option.Text)
			if _, _, err := ParseLimits(option.Text, context, Value{}); err != nil {
				t.Errorf("%q: its option %q: %v", in, option.Text, err)
			}
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%q (-want +got):\n%s", in, d)
		}
	}
	// In either unit the lower limit comes first.
	_, _, err := ParseLimits("15 mil to 5 mil", context, Value{})
	if refusal := (*Refusal)(nil); !errors.As(err, &refusal) || refusal.Code != CodeOrder {
		t.Errorf("the wrong way round: %v", err)
	}
	// Nothing is nothing in any unit; where only one reading puts the limits in order it is that.
	for in, want := range map[string]string{"0 mil to 8 thou": "0 m to 0.0002032 m", "at least 0 mil": "0 m to ",
		"50 mil to 1 in": "0.00127 m to 0.0254 m"} {
		low, high, err := ParseLimits(in, context, Value{})
		if got := Exact(low) + " to " + Exact(high); err != nil || got != want {
			t.Errorf("%q: %s, %v; want %s", in, got, err, want)
		}
	}
}

// A thin space before a fraction parts it from the whole number, as any other does.
func TestThinSpaceBeforeAFraction(t *testing.T) {
	context := Context{Kind: Length, Entry: Inch}
	for _, in := range []string{"1\u20091/8", "1\u202f1/8", "1\u20071/8", "1\u20091⁄8", "1\u20091∕8", "1\u2009⅛",
		"1\u200918/144"} {
		if got, err := Parse(in+" in", context); err != nil || !got.Value.Equal(New(9, 8, Inch)) {
			t.Errorf("%q: %v, %v; want 1.125 in", in, got.Value, err)
		}
	}
	if got, err := Parse("1\u2009234/8 in", context); err == nil {
		t.Errorf("a fraction that is none: %v", got.Value)
	}
}
