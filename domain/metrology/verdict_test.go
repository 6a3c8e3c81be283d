package metrology_test

import (
	"testing"

	"pgregory.net/rapid"

	. "setscrew/domain/metrology"
	"setscrew/domain/quantity"
	"setscrew/testdata"
)

func thou(n int64) quantity.Value { return quantity.New(n, 1, quantity.Thou) }

func TestPublishedDecisionRule(t *testing.T) {
	limits := Limits{thou(0), thou(20)}
	for _, row := range testdata.Published(t, "decision.csv") {
		t.Run(row["id"], func(t *testing.T) {
			parsed, err := quantity.Parse(
				row["reading_thou"],
				quantity.Context{Kind: quantity.Length, Entry: quantity.Thou},
			)
			if err != nil {
				t.Fatal(err)
			}
			if got := Judge(parsed.Value, thou(2), limits).String(); got != row["expected"] {
				t.Errorf("%s thou is %s, want %s", row["reading_thou"], got, row["expected"])
			}
		})
	}
}

func TestPublishedAtTheLimit(t *testing.T) {
	limits := Limits{thou(35), thou(45)}
	for _, row := range testdata.Published(t, "metrology_limits.csv") {
		t.Run(row["id"], func(t *testing.T) {
			parsed, err := quantity.Parse(row["reading"], quantity.Context{Kind: quantity.Length})
			if err != nil {
				t.Fatal(err)
			}
			want := row["inside"] == "yes"
			verdict := Assess(parsed.Value, thou(1), limits, Limits{})
			if limits.Holds(parsed.Value) != want || verdict.InsideAdjust != want || (verdict.Grade == Near) != want {
				t.Errorf(
					"inside %v, verdict inside %v, grade %d; want %v",
					limits.Holds(parsed.Value),
					verdict.InsideAdjust, verdict.Grade, want,
				)
			}
		})
	}
}

func TestOneSidedLimits(t *testing.T) {
	none := quantity.Value{}
	for _, test := range []struct {
		y    int64
		l    Limits
		want Proof
	}{
		{-1000, Limits{}, Proved},
		{1000, Limits{Low: thou(0)}, Proved},
		{2, Limits{Low: thou(0)}, Proved},
		{1, Limits{Low: thou(0)}, Undecided},
		{-3, Limits{thou(0), none}, Disproved},
		{-1000, Limits{High: thou(20)}, Proved},
		{19, Limits{High: thou(20)}, Undecided},
		{23, Limits{High: thou(20)}, Disproved},
		// The gauge is coarser than the limits are wide: nothing is proved.
		{1, Limits{thou(0), thou(2)}, Undecided},
	} {
		if got := Judge(thou(test.y), thou(2), test.l); got != test.want {
			t.Errorf("%d within %v: %v, want %v", test.y, test.l, got, test.want)
		}
	}
}

// The decision table of the house, for values against adjust limits 35 to 45
// and stop limits 20 to 60 thou, U = 1 thou.
func TestGrades(t *testing.T) {
	adjust, stop := Limits{thou(35), thou(45)}, Limits{thou(20), thou(60)}
	for _, test := range []struct {
		y    int64
		want Grade
	}{
		{40, Good}, {36, Good}, {44, Good}, {35, Near}, {45, Near},
		{46, Adjust}, {34, Adjust}, {59, Adjust}, {21, Adjust},
		{60, MaybeStop}, {61, MaybeStop}, {20, MaybeStop}, {19, MaybeStop},
		{62, Stop}, {18, Stop},
	} {
		verdict := Assess(thou(test.y), thou(1), adjust, stop)
		if verdict.Grade != test.want {
			t.Errorf("%d thou: grade %d, want %d", test.y, verdict.Grade, test.want)
		}
		if verdict.InsideAdjust != (test.y >= 35 && test.y <= 45) || verdict.InsideStop != (test.y >= 20 &&
			test.y <= 60) {
			t.Errorf("%d thou: inside adjust %v, stop %v", test.y, verdict.InsideAdjust, verdict.InsideStop)
		}
	}
	if v := Assess(thou(46), thou(1), adjust, Limits{}); v.Grade != Adjust {
		t.Errorf("without stop limits: grade %d, want %d", v.Grade, Adjust)
	}
}

func TestExtremes(t *testing.T) {
	for _, test := range []struct {
		values []int64
		lo, hi int
	}{{[]int64{62, 65, 61, 62}, 2, 1}, {[]int64{5}, 0, 0}, {[]int64{5, 5}, 0, 0}, {[]int64{1, 2, 1, 2}, 0, 1}} {
		var values []quantity.Value
		for _, v := range test.values {
			values = append(values, thou(v))
		}
		if lo, hi := Extremes(values); lo != test.lo || hi != test.hi {
			t.Errorf("%v: %d, %d; want %d, %d", test.values, lo, hi, test.lo, test.hi)
		}
	}
}

func draw(t *rapid.T, label string, from, to int64) quantity.Value {
	return quantity.New(rapid.Int64Range(from, to).Draw(t, label), 1000, quantity.Thou)
}

// A value at a limit is inside, whatever the limit; and a verdict does not
// depend on the unit in which its numbers were typed.
func TestVerdictProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		low := draw(t, "low", -50000, 50000)
		high := low.Add(draw(t, "width", 0, 50000))
		value, uncertainty := draw(t, "y", -120000, 120000), draw(t, "u", 0, 20000)
		limits := Limits{low, high}
		if !limits.Holds(low) || !limits.Holds(high) {
			t.Fatalf("%v does not hold its own limits", limits)
		}
		got := Judge(value, uncertainty, limits)
		mm := func(v quantity.Value) quantity.Value {
			p, err := quantity.Parse(quantity.Typed(v, quantity.Millimetre), quantity.Context{Kind: quantity.Length})
			if err != nil {
				t.Fatal(err)
			}
			return p.Value
		}
		if typed := Judge(mm(value), mm(uncertainty), Limits{mm(low), mm(high)}); typed != got {
			t.Fatalf("in mm %v, in thou %v", typed, got)
		}
		// A whole verdict, and one of differences, likewise.
		typedLimits, none := Limits{mm(low), mm(high)}, Limits{}
		if a, b := Assess(value, uncertainty, limits, none), Assess(mm(value), mm(uncertainty), typedLimits,
			none); a.Grade != b.Grade ||
			a.InsideAdjust != b.InsideAdjust {
			t.Fatalf("in mm %+v, in thou %+v", b, a)
		}
		// With a coarser gauge the undecided zone grows: nothing is proved or
		// disproved that the better one left open.
		if coarse := Judge(value, uncertainty.Add(draw(t, "more", 0, 20000)), limits); coarse != Undecided &&
			coarse != got {
			t.Fatalf("a greater U turns %v into %v", got, coarse)
		}
		// What is proved lies inside, what is disproved outside.
		if got == Proved && !limits.Holds(value) || got == Disproved && limits.Holds(value) {
			t.Fatalf("%v of a value that lies inside: %v", got, limits.Holds(value))
		}
	})
}

// Limits lie within others where they allow nothing more, on either side.
func TestLimitsWithin(t *testing.T) {
	thou := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Thou) }
	none := quantity.Value{}
	for _, test := range []struct {
		low, high, otherLow, otherHigh quantity.Value
		want                           bool
	}{
		{thou(2), thou(8), thou(2), thou(8), true}, {thou(3), thou(7), thou(2), thou(8), true},
		{thou(1), thou(8), thou(2), thou(8), false}, {thou(2), thou(9), thou(2), thou(8), false},
		{none, thou(8), thou(2), thou(8), false}, {thou(2), none, thou(2), thou(8), false},
		{thou(1), thou(8), none, thou(8), true}, {thou(2), thou(9), thou(2), none, true},
		{none, none, none, none, true}, {none, none, thou(2), none, false}, {none, none, none, thou(8), false},
	} {
		limits, others := Limits{Low: test.low, High: test.high}, Limits{Low: test.otherLow, High: test.otherHigh}
		if got := limits.Within(others); got != test.want {
			t.Errorf("%v within %v: %v", limits, others, got)
		}
	}
}
