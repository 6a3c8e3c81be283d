package domain

import (
	"math"

	"setscrew/domain/linkage"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// slide plans what is slackened, slid and tightened: every position outside its
// limits to its target.
func (cs *CheckStatus) slide(geared *gear) *Plan {
	check := cs.Check
	if !check.Target.Valid() {
		return nil
	}
	solution := linkage.Solution{
		Turns: make([]float64, len(geared.turned)),
		Past:  make([]float64, len(geared.turned)),
		Exact: make([]float64, len(geared.turned)),
		Pass:  1,
		Tries: 1,
	}
	// Without a move every position would read what it reads now.
	plan := &Plan{Check: check.ID, Drive: profile.Slide}
	for _, position := range cs.At {
		solution.Predicted = append(solution.Predicted, inBase(position.Verdict.Value))
		solution.U = append(solution.U, position.Budget.Combined)
	}
	// Slide each part by what the position that it moves most is off.
	travel := quantity.Base(check.Kind()).Step().Kind()
	if check.Body != nil && check.Body.Kind == profile.Belt {
		travel = quantity.Length // of the motor, whatever the belt is read by
	}
	by := make([]quantity.Value, len(geared.turned))
	for j := range geared.turned {
		// The position that it moves most.
		most := 0
		for i := range geared.response {
			if math.Abs(geared.response[i][j]) > math.Abs(geared.response[most][j]) {
				most = i
			}
		}
		by[j] = quantity.Zero(travel)
		off := cs.unlikeOff(most)
		if off == 0 || geared.response[most][j] == 0 {
			continue
		}
		by[j] = exactly(-off/geared.response[most][j], travel)
		for i := range solution.Predicted {
			solution.Predicted[i] -= off * geared.response[i][j] / geared.response[most][j]
		}
	}
	// The chance that all positions come out within their limits.
	for i, r := range cs.rows(geared.response) {
		if i < len(cs.At) {
			solution.Pass *= within(r.Low, r.High, solution.Predicted[i], math.Sqrt2*solution.U[i])
		}
	}
	// Take the wording from the general plan, but the distances from here.
	filled := cs.planned(geared, solution)
	plan.Moves, plan.Expect, plan.Pass = filled.Moves, filled.Expect, solution.Pass
	for j := range plan.Moves {
		plan.Moves[j].By, plan.Moves[j].Grow = by[j], by[j].Sign() > 0
	}
	plan.Tries = 1 + (1-solution.Pass)/max(solution.Pass, 0.1)
	return plan
}

// stacked makes up a thickness from shims, each as often as there are pieces.
func stacked(thickness quantity.Value, stock []quantity.Value) []quantity.Value {
	const pieces = 8 // of each, where nobody counted them
	um, of := map[int]int{}, map[int]quantity.Value{}
	for _, v := range stock {
		n := int(math.Round(v.Float(quantity.Micrometre)))
		um[n], of[n] = pieces, v
	}
	stack, _ := linkage.Stack(int(math.Round(thickness.Float(quantity.Micrometre))), um)
	var all []quantity.Value
	for _, n := range stack {
		all = append(all, of[n])
	}
	return all
}

// shims is the shop's stock of shims, or that which the profile takes for it.
func (s Shop) shims(a *profile.Adjuster) []quantity.Value {
	if len(s.Shims) > 0 {
		return s.Shims
	}
	return a.Stock
}
