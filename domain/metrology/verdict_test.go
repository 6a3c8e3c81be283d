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
			p, err := quantity.Parse(row["reading_thou"], quantity.Context{Kind: quantity.Length, Entry: quantity.Thou})
			if err != nil {
				t.Fatal(err)
			}
			if got := Judge(p.Value, thou(2), limits).String(); got != row["expected"] {
				t.Errorf("%s thou is %s, want %s", row["reading_thou"], got, row["expected"])
			}
		})
	}
}

func TestPublishedAtTheLimit(t *testing.T) {
	l := Limits{thou(35), thou(45)}
	for _, row := range testdata.Published(t, "metrology_limits.csv") {
		t.Run(row["id"], func(t *testing.T) {
			p, err := quantity.Parse(row["reading"], quantity.Context{Kind: quantity.Length})
			if err != nil {
				t.Fatal(err)
			}
			want := row["inside"] == "yes"
			v := Assess(p.Value, thou(1), l, Limits{})
			if l.Holds(p.Value) != want || v.InsideAdjust != want || (v.Grade == Near) != want {
				t.Errorf("inside %v, verdict inside %v, grade %d; want %v", l.Holds(p.Value), v.InsideAdjust, v.Grade, want)
			}
		})
	}
}

func TestOneSidedLimits(t *testing.T) {
	none := quantity.Value{}
	for _, c := range []struct {
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
		if got := Judge(thou(c.y), thou(2), c.l); got != c.want {
			t.Errorf("%d within %v: %v, want %v", c.y, c.l, got, c.want)
		}
	}
}

// The decision table of the house, for values against adjust limits 35 to 45
// and stop limits 20 to 60 thou, U = 1 thou.
func TestGrades(t *testing.T) {
	adjust, stop := Limits{thou(35), thou(45)}, Limits{thou(20), thou(60)}
	for _, c := range []struct {
		y    int64
		want Grade
	}{
		{40, Good}, {36, Good}, {44, Good}, {35, Near}, {45, Near},
		{46, Adjust}, {34, Adjust}, {59, Adjust}, {21, Adjust},
		{60, Doubtful}, {61, Doubtful}, {20, Doubtful}, {19, Doubtful},
		{62, Stop}, {18, Stop},
	} {
		v := Assess(thou(c.y), thou(1), adjust, stop)
		if v.Grade != c.want {
			t.Errorf("%d thou: grade %d, want %d", c.y, v.Grade, c.want)
		}
		if v.InsideAdjust != (c.y >= 35 && c.y <= 45) || v.InsideStop != (c.y >= 20 && c.y <= 60) {
			t.Errorf("%d thou: inside adjust %v, stop %v", c.y, v.InsideAdjust, v.InsideStop)
		}
	}
	if v := Assess(thou(46), thou(1), adjust, Limits{}); v.Grade != Adjust {
		t.Errorf("without stop limits: grade %d, want %d", v.Grade, Adjust)
	}
}

func TestDifference(t *testing.T) {
	v, lo, hi := Difference([]quantity.Value{thou(62), thou(65), thou(61), thou(62)}, thou(1), thou(2), thou(10))
	if lo != 2 || hi != 1 || !v.Value.Equal(thou(4)) || v.Grade != Adjust {
		t.Errorf("lo %d, hi %d, difference %v, grade %d; want 2, 1, 4 thou, %d", lo, hi, v.Value, v.Grade, Adjust)
	}
	// U of a difference is √2 times a reading's: 1.41 thou, so 11.4 thou against
	// 10 is undecided and 11.5 proved.
	for _, c := range []struct {
		tenths int64
		want   Grade
	}{{114, Doubtful}, {115, Stop}} {
		v, _, _ := Difference([]quantity.Value{thou(0), quantity.New(c.tenths, 10, quantity.Thou)}, thou(1), thou(2), thou(10))
		if v.Grade != c.want {
			t.Errorf("difference of %d/10 thou: grade %d, want %d", c.tenths, v.Grade, c.want)
		}
	}
	if v, _, _ := Difference([]quantity.Value{thou(5)}, thou(1), thou(2), quantity.Value{}); v.Value.Sign() != 0 || v.Grade != Good {
		t.Errorf("one value: difference %v, grade %d", v.Value, v.Grade)
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
		y, u := draw(t, "y", -120000, 120000), draw(t, "u", 0, 20000)
		l := Limits{low, high}
		if !l.Holds(low) || !l.Holds(high) {
			t.Fatalf("%v does not hold its own limits", l)
		}
		got := Judge(y, u, l)
		mm := func(v quantity.Value) quantity.Value {
			p, err := quantity.Parse(quantity.Typed(v, quantity.Millimetre), quantity.Context{Kind: quantity.Length})
			if err != nil {
				t.Fatal(err)
			}
			return p.Value
		}
		if typed := Judge(mm(y), mm(u), Limits{mm(low), mm(high)}); typed != got {
			t.Fatalf("in mm %v, in thou %v", typed, got)
		}
		// A whole verdict, and one of differences, likewise.
		typedLimits, none := Limits{mm(low), mm(high)}, Limits{}
		if a, b := Assess(y, u, l, none), Assess(mm(y), mm(u), typedLimits, none); a.Grade != b.Grade || a.InsideAdjust != b.InsideAdjust {
			t.Fatalf("in mm %+v, in thou %+v", b, a)
		}
		a, alo, ahi := Difference([]quantity.Value{y, low}, u, high.Abs(), quantity.Value{})
		b, blo, bhi := Difference([]quantity.Value{mm(y), mm(low)}, mm(u), mm(high.Abs()), quantity.Value{})
		if a.Grade != b.Grade || alo != blo || ahi != bhi {
			t.Fatalf("difference in mm %+v, in thou %+v", b, a)
		}
		// With a coarser gauge the undecided zone grows: nothing is proved or
		// disproved that the better one left open.
		if coarse := Judge(y, u.Add(draw(t, "more", 0, 20000)), l); coarse != Undecided && coarse != got {
			t.Fatalf("a greater U turns %v into %v", got, coarse)
		}
		// What is proved lies inside, what is disproved outside.
		if got == Proved && !l.Holds(y) || got == Disproved && l.Holds(y) {
			t.Fatalf("%v of a value that lies inside: %v", got, l.Holds(y))
		}
	})
}

func TestExpandedMeanIsTheGaugesOwn(t *testing.T) {
	g := Gauge{Resolution: thou(1), Uncertainty: thou(2), Coverage: 2}
	for n := 1; n < 20; n += 6 {
		if got := ExpandedMean(g, n); !got.Equal(thou(2)) {
			t.Errorf("of %d repeats %v, want 2 thou", n, got)
		}
	}
}
