package linkage_test

import (
	"math/big"
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

// parse reads a value of a published table.
func parse(t *testing.T, text string, kind quantity.Kind) quantity.Value {
	t.Helper()
	p, err := quantity.Parse(text, quantity.Context{Kind: kind})
	if err != nil {
		t.Fatal(err)
	}
	return p.Value
}

// Turns that move a single-start thread by 0.010 in, and its travel in a turn.
func TestPublishedThreads(t *testing.T) {
	for _, row := range testdata.Published(t, "threads.csv") {
		t.Run(row["id"], func(t *testing.T) {
			lead := row["pitch_mm"] + " mm"
			if tpi := row["tpi"]; tpi != "" {
				lead = "1/" + tpi + " in"
			}
			a := infeed(thou(50)) // 0.010 in from its target
			a.Screw.Lead = parse(t, lead, quantity.Length)
			if got, want := solve(t, a).Exact.In(quantity.Turn).FloatString(6), row["turns_per_0.010in"]; got != want {
				t.Errorf("%s turns for 0.010 in, want %s", got, want)
			}
			// 1.3 turns off, in whole turns: it moves by one.
			a.Screw.Increment = turns(1, 1)
			a.Reading = a.Target.Add(a.Screw.Lead.Mul(big.NewRat(13, 10)))
			m := solve(t, a)
			if got, want := m.Before.Sub(m.Predicted).In(quantity.Thou).FloatString(6), row["thou_per_turn"]; got != want {
				t.Errorf("%s thou in %v, want %s in 1", got, m.Turns, want)
			}
		})
	}
}

// Common practice, no source: the worked examples of an infeed roller.
func TestPublishedInfeedRoller(t *testing.T) {
	for _, row := range testdata.Published(t, "linkage_infeed.csv") {
		t.Run(row["id"], func(t *testing.T) {
			m := solve(t, infeed(parse(t, row["reading"], quantity.Length)))
			exact, turn := parse(t, row["exact"], quantity.Turns), parse(t, row["turn"], quantity.Turns)
			predicted := parse(t, row["predicted"], quantity.Length)
			if !m.Exact.Equal(exact) || !m.Turns.Equal(turn) || !m.Predicted.Equal(predicted) {
				t.Errorf("exact %v, turn %v, predicted %v; want %v, %v, %v", m.Exact, m.Turns, m.Predicted, exact, turn, predicted)
			}
			if raise := turn.Sign() > 0; m.Raise != raise { // clockwise raises
				t.Errorf("raise %v, want %v", m.Raise, raise)
			}
		})
	}
}

// A screw that is left alone raises nothing, whichever way it works.
func TestNoMoveRaisesNothing(t *testing.T) {
	for _, clockwise := range []bool{true, false} {
		a := infeed(thou(40))
		a.Screw.ClockwiseRaises = clockwise
		if m := solve(t, a); m.Turns.Sign() != 0 || m.Raise {
			t.Errorf("clockwise raises %v: turn %v, raise %v; want 0, false", clockwise, m.Turns, m.Raise)
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
		first := small.Moves[0]
		if first.Turns.Abs().Cmp(a.Screw.Increment) > 0 || first.Turns.Sign() != m.Turns.Sign() || first.First != (m.Turns.Sign() != 0) {
			t.Fatalf("first move %v, first %v, of a move of %v", first.Turns, first.First, m.Turns)
		}
		if first.Predicted.Sub(a.Target).Abs().Cmp(a.Reading.Sub(a.Target).Abs()) > 0 {
			t.Fatalf("the first move makes it worse: %v", first.Predicted)
		}
	})
}
