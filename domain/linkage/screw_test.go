package linkage_test

import (
	"math"
	"math/big"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	. "setscrew/domain/linkage"
	"setscrew/domain/quantity"
	"setscrew/testdata"
)

func thou(n int64) quantity.Value     { return quantity.New(n, 1, quantity.Thou) }
func turns(n, d int64) quantity.Value { return quantity.New(n, d, quantity.Turn) }

// The infeed roller's screw: 1/4-20, clockwise raises, readings positive down.
func infeed(reading quantity.Value) Axis {
	return Axis{Position: "left", Reading: reading, Target: thou(40), Screw: Screw{Adjuster: "infeed-left", Lead: thou(50),
		ClockwiseRaises: true, PositiveUp: false, Increment: turns(1, 8), SenseKnown: true}}
}

func solve(t *testing.T, a Axis) Move {
	t.Helper()
	p, err := Solve([]Axis{a})
	if err != nil {
		t.Fatal(err)
	}
	return p.Moves[0]
}

// Turns that move a single-start thread by 0.010 in, and its travel in a turn.
func TestPublishedThreads(t *testing.T) {
	for _, row := range testdata.Published(t, "threads.csv") {
		t.Run(row["id"], func(t *testing.T) {
			var lead quantity.Value
			if tpi := row["tpi"]; tpi != "" {
				n, err := strconv.ParseInt(tpi, 10, 64)
				if err != nil {
					t.Fatal(err)
				}
				lead = quantity.New(1, n, quantity.Inch)
			} else {
				p, err := quantity.Parse(row["pitch_mm"]+" mm", quantity.Context{Kind: quantity.Length})
				if err != nil {
					t.Fatal(err)
				}
				lead = p.Value
			}
			a := infeed(thou(50))
			a.Screw.Lead = lead
			near(t, "thou a turn", lead.Float(quantity.Thou), row["thou_per_turn"], 5e-4)
			near(t, "turns for 0.010 in", solve(t, a).Exact.Float(quantity.Turn), row["turns_per_0.010in"], 5e-7)
		})
	}
}

func near(t *testing.T, what string, got float64, want string, within float64) {
	t.Helper()
	w, err := strconv.ParseFloat(want, 64)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got-w) > within+1e-12 {
		t.Errorf("%s: %v, want %s", what, got, want)
	}
}

// Common practice, no source: the worked examples of an infeed roller.
func TestInfeedRoller(t *testing.T) {
	for _, c := range []struct {
		thou             int64
		exact, do        quantity.Value
		raise            bool
		predictedHundred int64 // hundredths of a thou
	}{
		{46, turns(12, 100), turns(1, 8), true, 3975},
		{41, turns(2, 100), turns(0, 1), false, 4100},
		{34, turns(-12, 100), turns(-1, 8), false, 4025},
		{40, turns(0, 1), turns(0, 1), false, 4000},
		{60, turns(4, 10), turns(3, 8), true, 4125},
	} {
		m := solve(t, infeed(thou(c.thou)))
		if !m.Exact.Equal(c.exact) || !m.Turns.Equal(c.do) || m.Turns.Sign() != 0 && m.Raise != c.raise ||
			!m.Predicted.Equal(quantity.New(c.predictedHundred, 100, quantity.Thou)) {
			t.Errorf("read %d thou: exact %v, turn %v, raise %v, predicted %v; want %+v", c.thou, m.Exact, m.Turns, m.Raise, m.Predicted, c)
		}
	}
}

func TestTieGoesToTheSmallerMove(t *testing.T) {
	// 3.125 thou off is half of an eighth of a turn.
	if m := solve(t, infeed(quantity.New(43125, 1000, quantity.Thou))); m.Turns.Sign() != 0 {
		t.Errorf("half an increment off: %v", m.Turns)
	}
	if m := solve(t, infeed(quantity.New(43126, 1000, quantity.Thou))); !m.Turns.Equal(turns(1, 8)) {
		t.Errorf("a hair more than half an increment off: %v", m.Turns)
	}
}

func TestUnknownSenseStartsSmall(t *testing.T) {
	a := infeed(thou(60))
	a.Screw.SenseKnown = false
	if m := solve(t, a); !m.Turns.Equal(turns(1, 8)) || !m.First || !m.Predicted.Equal(quantity.New(5375, 100, quantity.Thou)) {
		t.Errorf("turn %v, first %v, predicted %v", m.Turns, m.First, m.Predicted)
	}
	a.Reading = thou(40)
	if m := solve(t, a); m.First || m.Turns.Sign() != 0 {
		t.Errorf("on target: turn %v, first %v", m.Turns, m.First)
	}
}

func TestSolveRefusesWhatCannotTurn(t *testing.T) {
	for _, change := range []func(*Screw){
		func(s *Screw) { s.Lead = quantity.Value{} }, func(s *Screw) { s.Lead = thou(0) }, func(s *Screw) { s.Lead = thou(-1) },
		func(s *Screw) { s.Increment = turns(0, 1) }, func(s *Screw) { s.Increment = quantity.Value{} },
	} {
		a := infeed(thou(46))
		change(&a.Screw)
		if _, err := Solve([]Axis{a}); err == nil {
			t.Errorf("%+v was solved", a.Screw)
		}
	}
}

// The prediction is off target by at most half an increment's travel, and a
// move never makes things worse.
func TestPlanProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := Axis{Reading: quantity.New(rapid.Int64Range(-200000, 200000).Draw(t, "reading"), 1000, quantity.Thou), Target: thou(rapid.Int64Range(-50, 50).Draw(t, "target")),
			Screw: Screw{Lead: quantity.New(1, rapid.Int64Range(10, 80).Draw(t, "tpi"), quantity.Inch), ClockwiseRaises: rapid.Bool().Draw(t, "raises"),
				PositiveUp: rapid.Bool().Draw(t, "up"), Increment: turns(1, rapid.Int64Range(1, 32).Draw(t, "increment")), SenseKnown: true}}
		p, err := Solve([]Axis{a})
		if err != nil {
			t.Fatal(err)
		}
		m := p.Moves[0]
		half := a.Screw.Lead.Mul(a.Screw.Increment.In(quantity.Turn)).Mul(big.NewRat(1, 2))
		after := m.Predicted.Sub(a.Target).Abs()
		if after.Cmp(half) > 0 {
			t.Fatalf("predicted %v from target, more than half a step %v", after, half)
		}
		if after.Cmp(a.Reading.Sub(a.Target).Abs()) > 0 {
			t.Fatalf("the move makes it worse: %v", after)
		}
		if steps := m.Turns.Per(a.Screw.Increment); !steps.IsInt() {
			t.Fatalf("%v is no multiple of %v", m.Turns, a.Screw.Increment)
		}
		raised := (m.Turns.Sign() > 0) == a.Screw.ClockwiseRaises
		if m.Turns.Sign() != 0 && (m.Raise != raised || (m.Predicted.Cmp(m.Before) > 0) != (raised == a.Screw.PositiveUp)) {
			t.Fatalf("raise %v, from %v to %v", m.Raise, m.Before, m.Predicted)
		}
		a.Screw.SenseKnown = false
		small, err := Solve([]Axis{a})
		if err != nil {
			t.Fatal(err)
		}
		if small.Moves[0].Turns.Abs().Cmp(a.Screw.Increment) > 0 {
			t.Fatalf("first move %v is more than one step", small.Moves[0].Turns)
		}
	})
}
