package quantity

import (
	"errors"
	"testing"
)

// What people say in words is a number, and nothing else is touched.
func TestSpoken(t *testing.T) {
	places := []string{"left", "knife one", "back"}
	for in, want := range map[string]string{
		"forty-six thou": "46 thou", "forty six": "46", "one hundred and five": "105", "two hundred": "200",
		"one point two five": "1.25", "zero point oh five": "0.05", "three and a half": "3 1/2", "a quarter": "1/4",
		"three quarters of an inch": "3/4 inch", "an eighth": "1/8", "eleven sixteenths": "11/16",
		"a thirty-second": "1/32", "3 thirty-seconds": "3 30-seconds", "thirty seconds": "30 seconds",
		"13/16ths": "13/16", "a 64th": "1/64", "half": "1/2", "one inch": "1 inch",
		"the left one .046": "the left one .046",
		"knife one 3":       "knife one 3", "both": "both", "1 and 1/16": "1 1/16", "1 and a half": "1 1/2",
		"1 and 2": "1 and 2", "between 44 and 46": " 44 to 46", "a tenth": "1 tenth", "two tenths": "2 tenths",
		"all three 5": "all  5", "all three thou": "all 3 thou", "third 5": "third 5", "second": "second",
		"twenty-one and a quarter": "21 1/4", "some": "some", "tone": "tone",
	} {
		got, about := spoken(simplify(in), places)
		if got.text != want || about {
			t.Errorf("%q: %q, about %t; want %q", in, got.text, about, want)
		}
		if len(got.from) != len(got.text)+1 {
			t.Errorf("%q: %d places for %d bytes", in, len(got.from), len(got.text))
		}
	}
	for in, want := range map[string]string{"about 2": " 2", "~2": " 2", "2ish": "2",
		"approx. 2": " 2", "roughly two": " 2",
		"ca. 2": " 2", "2 or so": "2 "} {
		if got, about := spoken(simplify(in), places); got.text != want || !about {
			t.Errorf("%q: %q, about %t; want %q", in, got.text, about, want)
		}
	}
}

// Lists as members type them, for two places; what is not certain is asked or refused.
func TestListsAsTyped(t *testing.T) {
	two := Layout{Context{Length, Inch}, []string{"left", "right"}}
	belts := Layout{Context{Length, Inch}, []string{"belt 1", "belt 2", "belt 3"}}
	for _, test := range []struct {
		l        Layout
		in, want string
	}{
		{two, "46 thou left, 41 right", "left 46 thou, right 41 thou"},
		{two, ".046 left .041 right", "left 0.046 in, right 0.041 in"},
		{two, "left and right .043", "left 0.043 in, right 0.043 in"},
		{two, "L&R 43 thou", "left 43 thou, right 43 thou"},
		{two, "L/R .043/.041", "left 0.043 in, right 0.041 in"},
		{two, ".046 / .041", "left 0.046 in, right 0.041 in"},
		{two, ".046 vs. .041", "left 0.046 in, right 0.041 in"},
		{two, "both .045", "left 0.045 in, right 0.045 in"},
		{two, ".045 on both sides", "left 0.045 in, right 0.045 in"},
		{two, "same on both, .044", "left 0.044 in, right 0.044 in"},
		{two, "left .046, right same", "left 0.046 in, right 0.046 in"},
		{two, ".046 46 left, 41 thou right", "left 46 thou, right 41 thou"},
		{two, "the left side is .046 and the right side is .041", "left 0.046 in, right 0.041 in"},
		{two, "left 0.046 (right 0.041)", "left 0.046 in, right 0.041 in"},
		{two, "left .046. right .041.", "left 0.046 in, right 0.041 in"},
		{two, "left .046 right .041 👍", "left 0.046 in, right 0.041 in"},
		{two, "⬅️ .046 ➡️ .041", "left 0.046 in, right 0.041 in"},
		{two, "izq .046 der .041", "left 0.046 in, right 0.041 in"},
		{two, "left O.046 right .o41", "left 0.046 in, right 0.041 in"},
		{two, "left 5'-3 1/2\", right 5'3\"", "left 5.2916666666666667 ft, right 5.25 ft"},
		{belts, "all 1/4", "belt 1 0.25 in, belt 2 0.25 in, belt 3 0.25 in"},
		{belts, "all three 1/4", "belt 1 0.25 in, belt 2 0.25 in, belt 3 0.25 in"},
		{belts, "every belt 1/4", "belt 1 0.25 in, belt 2 0.25 in, belt 3 0.25 in"},
		{belts, "#1 .2, #2 .3, #3 .4", "belt 1 0.2 in, belt 2 0.3 in, belt 3 0.4 in"},
		{belts, "1: .2 2: .3 3: .4", "belt 1 0.2 in, belt 2 0.3 in, belt 3 0.4 in"},
		{belts, "belt 2 .2, rest .3", "belt 1 0.3 in, belt 2 0.2 in, belt 3 0.3 in"},
		{belts, "belt 1 and belt 3 .2, belt 2 .3", "belt 1 0.2 in, belt 2 0.3 in, belt 3 0.2 in"},
	} {
		list, err := ParseList(test.in, test.l)
		got := ""
		for _, at := range list.At {
			if got != "" {
				got += ", "
			}
			got += at.Position + " " + decimalText(at.Repeats[len(at.Repeats)-1], list.Unit)
		}
		if err != nil || got != test.want && list.text() != test.want {
			t.Errorf("%q: %s, %v; want %s", test.in, got, err, test.want)
		}
	}
	for in, want := range map[string]string{
		"belt 1 1/4, belt 2 1/4, belt 3 1/4": AmbiguousName, ".25": AmbiguousPlaces, "all 3-4": AmbiguousRange,
	} {
		var question *Ambiguity
		if _, err := ParseList(in, belts); !errors.As(err, &question) || question.Code != want {
			t.Errorf("%q: %v, want it asked: %s", in, err, want)
		}
	}
}

func decimalText(v Value, u Unit) string {
	if digits, exact := v.In(u).FloatPrec(); exact {
		return v.In(u).FloatString(digits) + " " + string(u)
	}
	return v.In(u).FloatString(16) + " " + string(u)
}
