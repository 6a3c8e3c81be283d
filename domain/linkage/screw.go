// Package linkage says how turning an adjuster moves a reading, and which turns
// bring readings to their targets.
package linkage

import (
	"fmt"
	"math/big"

	"setscrew/domain/quantity"
)

// Screw moves one position by its lead for each turn. "Clockwise" is as seen
// from the tool's end.
type Screw struct {
	Adjuster        string
	Lead            quantity.Value // travel in one turn, positive: 1/TPI inch, or the pitch, for a single start
	ClockwiseRaises bool
	PositiveUp      bool           // whether raising the part increases the reading
	Increment       quantity.Value // the least part of a turn that a hand sets, positive
	SenseKnown      bool           // whether somebody has confirmed ClockwiseRaises
}

// Axis is one position with its reading, its target and the screw that moves it.
type Axis struct {
	Position        string
	Reading, Target quantity.Value
	Screw           Screw
}

// Move is what to do with one screw.
type Move struct {
	Adjuster, Position string
	Exact              quantity.Value // turns that would meet the target, positive clockwise
	Turns              quantity.Value // what to turn, a multiple of the increment; zero: leave it
	Raise              bool           // whether turning so raises the part; false for no turn
	Before, Predicted  quantity.Value // the reading, and what to expect after
	First              bool           // cut to one increment, since the screw's sense was never confirmed
}

// Plan is the moves that bring readings home, in the order of the axes.
type Plan struct{ Moves []Move }

// response is the change of the reading with one turn clockwise: the lead,
// counted up or down.
func (s Screw) response() quantity.Value {
	if s.ClockwiseRaises == s.PositiveUp {
		return s.Lead
	}
	return s.Lead.Neg()
}

// Solve plans each axis by itself:
//
//	turns = (target - reading) / response,  response = ± lead
//
// rounded to the nearest multiple of the screw's increment, a tie to the
// smaller move, so a screw within half an increment of home is left alone. The
// screw's travel is lead × turns (single-start thread; ASME B1.1, ISO 261 for
// the leads). A screw whose sense is not known moves one increment at most. An
// error says which axis has a lead or an increment that is not positive.
func Solve(axes []Axis) (Plan, error) {
	var p Plan
	for _, a := range axes {
		s := a.Screw
		if !s.Lead.Valid() || s.Lead.Sign() <= 0 || !s.Increment.Valid() || s.Increment.Sign() <= 0 {
			return Plan{}, fmt.Errorf("linkage: %s: lead and increment must be positive", s.Adjuster)
		}
		exact := a.Target.Sub(a.Reading).Per(s.response())
		steps := nearest(new(big.Rat).Quo(exact, s.Increment.In(quantity.Turn)))
		m := Move{Adjuster: s.Adjuster, Position: a.Position, Exact: quantity.FromRat(exact, quantity.Turn), Before: a.Reading}
		if !s.SenseKnown && steps.CmpAbs(big.NewInt(1)) > 0 {
			steps.SetInt64(int64(steps.Sign()))
		}
		m.First = !s.SenseKnown && steps.Sign() != 0
		m.Turns = s.Increment.Mul(new(big.Rat).SetInt(steps))
		m.Raise = m.Turns.Sign() != 0 && (m.Turns.Sign() > 0) == s.ClockwiseRaises
		m.Predicted = a.Reading.Add(s.response().Mul(m.Turns.In(quantity.Turn)))
		p.Moves = append(p.Moves, m)
	}
	return p, nil
}

// nearest is the whole number nearest to r, a tie going towards zero.
func nearest(r *big.Rat) *big.Int {
	// ceil(|r| - 1/2)
	half := new(big.Rat).Sub(new(big.Rat).Abs(r), big.NewRat(1, 2))
	n := new(big.Int).Neg(new(big.Int).Div(new(big.Int).Neg(half.Num()), half.Denom()))
	if n.Sign() < 0 {
		n.SetInt64(0)
	}
	if r.Sign() < 0 {
		n.Neg(n)
	}
	return n
}
