package quantity_test

import (
	"errors"
	"testing"

	. "setscrew/domain/quantity"
)

// Numbers that touch, or have a dash between them, never become other values; what a
// reader would understand is read, alike in a single value and in a list of one.
func TestNeverAnotherValue(t *testing.T) {
	one := Layout{Context: Context{Kind: Length, Entry: Thou}, Positions: []string{""}}
	two := Layout{Context: Context{Kind: Length, Entry: Thou}, Positions: []string{"left", "right"}}
	for in, want := range map[string]string{
		"46, - 41 thou": CodeRange, "left 38-42 thou": CodeMissingPositions, "left 38 to 42": CodeMissingPositions,
		"1.234,5": CodeTrailing, "1.000.5": CodeTrailing, "46 mm2": CodeTrailing, "46mm41mm": CodeTrailing,
		"46, left 41": CodeUnknownPosition, "left 46, 41 right": CodeNoNumber,
		"46 thou, 41 left, 40 right":     CodeUnknownPosition,
		"left .046 was .050, right .041": CodeUnknownUnit, "left 46 or 47, right 41": CodeUnknownUnit,
		"3/4/5": CodeTrailing, "left 3/4/5, right 2": CodeTrailing,
		"left ❌ 46, right 41": CodeNoNumber, "left not 46, right 41": CodeNoNumber,
	} {
		_, err := ParseList(in, two)
		var refusal *Refusal
		if !errors.As(err, &refusal) || refusal.Code != want {
			t.Errorf("%q for two places: %v, want %s", in, err, want)
		}
	}
	for in, want := range map[string]string{
		"46-41 thou": "left 46 thou, right 41 thou|left 46 thou, right 46 thou|" +
			"left 41 thou, right 41 thou",
		"46-41": "left 46 thou, right 41 thou|left 46 thou, right 46 thou|" +
			"left 41 thou, right 41 thou",
		"40 – 45 thou": "left 40 thou, right 45 thou|left 40 thou, right 40 thou|" +
			"left 45 thou, right 45 thou",
		"40 - 45": "left 40 thou, right 45 thou|left 40 thou, right 40 thou|" +
			"left 45 thou, right 45 thou",
		"40 to 45": "left 40 thou, right 45 thou|left 40 thou, right 40 thou|" +
			"left 45 thou, right 45 thou",
		"2-3 mm": "left 2 mm, right 3 mm|left 2 mm, right 2 mm|left 3 mm, right 3 mm",
		"left 38-42 thou, right 40 thou": "left 38 thou, right 40 thou|left 42 thou, right 40 thou|" +
			"left 38 thou 42 thou, right 40 thou",
		"1 5/8": "left 1.625 in, right 1.625 in", "5 ft 3 in": "left 5.25 ft, right 5.25 ft",
		"1-1/8\"": "left 1.125 in, right 1.125 in", "46": "left 46 thou, right 46 thou",
		"left between 38 and 42 thou, right 40": "left 38 thou, right 40 thou|left 42 thou, right 40 thou|" +
			"left 38 thou 42 thou, right 40 thou",
	} {
		_, err := ParseList(in, two)
		var question *Ambiguity
		if !errors.As(err, &question) || question.Code != AmbiguousRange && question.Code != AmbiguousPlaces ||
			Texts(question) != want {
			t.Errorf("%q for two places: %v, want it asked: %s", in, err, want)
		}
	}
	for in, want := range map[string]Value{
		"1-1/8\"": New(9, 8, Inch), "1-1/8 in": New(9, 8, Inch), "5 ft 3 in": New(63, 1, Inch),
		"5 feet 3 1/2 inches": New(127, 2, Inch), "5' 3\"": New(63, 1, Inch), "46.": New(46, 1, Thou),
		"46. thou": New(46, 1, Thou), ".040''": New(40, 1, Thou), "0.04 in.": New(40, 1, Thou),
		"1e-3 mm": New(1, 1000, Millimetre), "1.5E1 mm": New(15, 1, Millimetre), ",45 mm": New(45, 100, Millimetre),
		"４６": New(46, 1, Thou), "٤٦ mm": New(46, 1, Millimetre), "१.५ mm": New(3, 2, Millimetre),
		"-1-1/8 in": New(-9, 8, Inch), "1 1/8\"": New(9, 8, Inch),
	} {
		got, err := Parse(in, one.Context)
		if err != nil || !got.Value.Equal(want) {
			t.Errorf("%q: %v, %v, want %v", in, got.Value, err, want)
		}
		list, err := ParseList(in, one)
		if err != nil || len(list.At) != 1 || len(list.At[0].Repeats) != 1 || !list.At[0].Repeats[0].Equal(want) {
			t.Errorf("%q in a list: %v, %v, want %v", in, list, err, want)
		}
	}
	for in, want := range map[string][2]Value{
		"left 46. right 41.":      {New(46, 1, Thou), New(41, 1, Thou)},
		"left ,046 in right ,041": {New(46, 1, Thou), New(41, 1, Thou)},
		"46 -41 thou":             {New(46, 1, Thou), New(-41, 1, Thou)},
	} {
		list, err := ParseList(in, two)
		if err != nil || !list.At[0].Repeats[0].Equal(want[0]) || !list.At[1].Repeats[0].Equal(want[1]) {
			t.Errorf("%q: %v, %v", in, list, err)
		}
	}
	for kind, all := range map[Kind][]string{Voltage: {"12 MV"}, Current: {"5 MA"}, Pressure: {"1.2 Mbar"}} {
		for _, in := range all {
			if got, err := Parse(in, Context{Kind: kind}); err == nil {
				t.Errorf("%q is read as %v", in, got.Value)
			}
		}
	}
}
