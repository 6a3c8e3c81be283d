// Package linkage says how turning an adjuster moves a reading, and which turns
// bring readings to their targets.
package linkage

import (
	"fmt"
	"math"
	"slices"
)

// Problem is what a plan is made for: rows that should come home, and adjusters
// that move them. All rows are in one unit; turns are positive clockwise as seen
// from the tool's end.
type Problem struct {
	Rows      []Row
	Adjusters []Adjuster
}

// Row is one thing that should come home: a position's reading, or how far it is
// from the others.
type Row struct {
	Value     float64
	Target    float64
	Low, High float64   // adjust limits; infinite where there is none
	U         float64   // standard uncertainty of Value
	Response  []float64 // nominal change of Value with one turn clockwise of each adjuster
}

// Adjuster is what a plan needs to know of a screw or its like.
type Adjuster struct {
	Increment   float64 // the least part of a turn that a hand sets, positive
	Useful      float64 // the least turn worth making; Increment if less
	Least, Most float64 // how far it may go from where it stands: Least ≤ 0 ≤ Most
	Gain, GainU float64 // its real response over the nominal one, and the standard uncertainty of that
	Play, PlayU float64 // turns lost when it is reversed, and their standard uncertainty
	Approach    int     // the way to finish every move: +1 clockwise, -1 counter-clockwise, 0 any
	Engaged     int     // the way that it was last turned; 0 where nobody knows
	Hand        float64 // standard uncertainty of one turn set by hand, in turns
}

// Solution is what to do, and what to expect.
type Solution struct {
	Turns     []float64 // by adjuster: a whole number of increments
	Past      []float64 // by adjuster: how far to go past before coming back, 0 for none
	Exact     []float64 // by adjuster: the turns that all screws together would need, not rounded
	Predicted []float64 // by row
	U         []float64 // by row: standard uncertainty of Predicted
	Left      []float64 // by row: what no turning takes out, value minus target
	Pass      float64   // the probability that every row is within its limits after it
	Tries     float64   // the expected number of tries, this one among them; 0 where there is nothing to do
}

// MaxCoupled is how many adjusters may move the same rows. The search goes
// through all their subsets.
const MaxCoupled = 10

// Solve finds the moves that bring every row home. In this order it wants: the
// probability that all rows pass after this try, up to a hundredth of it; the
// fewest screws; the least turning.
//
// For each subset of the adjusters the moves that make the expected weighted sum
// of squares least are found,
//
//	minimise  Σ w (r + Σ R g e)² + Σ w R² u(g)² e²,   w = 1/half-width²,
//
// with r the value less its target, R the response, g the gain and e the
// effective turn (what is left of a turn after the play that it must take up
// first); each is rounded up and down to its increment (of up to four screws that share rows also
// to those next to them), and of all roundings
// that is taken which predicts best. The probability is the product over the
// rows of Φ((high - p)/u) - Φ((low - p)/u), with p the predicted value and
//
//	u² = u(value)² + Σ R² (u(g)² e² + g² (n·u(hand)² + u(play)²)),
//
// n the turns made by hand (two for past and back). Rows are taken as
// independent, which counts what their gains share as if each row had its own.
//
// Adjusters that share no row are planned by themselves. An error says which
// adjuster or row cannot be reckoned with.
func (p Problem) Solve() (Solution, error) {
	count, rows := len(p.Adjusters), len(p.Rows)
	solution := Solution{Turns: make([]float64, count), Past: make([]float64, count), Exact: make([]float64, count),
		Predicted: make([]float64, rows), U: make([]float64, rows), Left: make([]float64, rows), Pass: 1}
	if err := p.check(); err != nil {
		return solution, err
	}
	ideal := 1.0
	for _, part := range p.parts() {
		if len(part.adjusters) > MaxCoupled {
			return solution, fmt.Errorf(
				"linkage: %d adjusters move the same positions; at most %d",
				len(part.adjusters),
				MaxCoupled,
			)
		}
		best, again := p.search(part, &solution)
		solution.Pass *= math.Exp(best)
		ideal *= math.Exp(again)
	}
	if slices.ContainsFunc(solution.Turns, func(t float64) bool { return t != 0 }) {
		solution.Tries = 1 + (1-solution.Pass)/max(ideal, 0.01)
	}
	return solution, nil
}

func (p Problem) check() error {
	for j, adjuster := range p.Adjusters {
		switch {
		case !(adjuster.Increment > 0):
			return fmt.Errorf("linkage: adjuster %d: its increment must be positive", j+1)
		case !(adjuster.Gain != 0) || math.IsNaN(adjuster.Gain) || adjuster.GainU < 0 || adjuster.Play < 0 ||
			adjuster.PlayU < 0 || adjuster.Hand < 0:
			return fmt.Errorf("linkage: adjuster %d: a gain other than 0 and no uncertainty under 0", j+1)
		case !(adjuster.Least <= 0 && adjuster.Most >= 0):
			return fmt.Errorf("linkage: adjuster %d: where it stands must lie within its travel", j+1)
		}
	}
	for i, row := range p.Rows {
		if len(row.Response) != len(p.Adjusters) {
			return fmt.Errorf(
				"linkage: row %d: %d responses for %d adjusters",
				i+1,
				len(row.Response),
				len(p.Adjusters),
			)
		}
		for _, value := range append([]float64{row.Value, row.Target, row.U}, row.Response...) {
			if math.IsNaN(value) || math.IsInf(value, 0) {
				return fmt.Errorf("linkage: row %d: not a number", i+1)
			}
		}
	}
	return nil
}

// part is adjusters and the rows that they move, which no other adjusters move.
type part struct{ adjusters, rows []int }

// parts takes the problem apart. A row that nothing moves is a part by itself.
func (p Problem) parts() []part {
	// Join the adjusters that share a row, each group known by its lowest.
	owner := make([]int, len(p.Adjusters)) // the lowest adjuster of its part
	for j := range owner {
		owner[j] = j
	}
	root := func(j int) int {
		for owner[j] != j {
			j = owner[j]
		}
		return j
	}
	for _, row := range p.Rows {
		first := -1
		for j, x := range row.Response {
			switch {
			case x == 0:
			case first < 0:
				first = root(j)
			default:
				a, b := min(first, root(j)), max(first, root(j))
				owner[b], first = a, a
			}
		}
	}
	// Number the groups in the order of their lowest adjusters.
	var all []part
	at := map[int]int{}
	for j := range owner {
		lowest := root(j)
		if lowest == j {
			at[j] = len(all)
			all = append(all, part{})
		}
		all[at[lowest]].adjusters = append(all[at[lowest]].adjusters, j)
	}
	// Give each row to the group of any adjuster that moves it.
	for i, row := range p.Rows {
		j := slices.IndexFunc(row.Response, func(x float64) bool { return x != 0 })
		if j < 0 {
			all = append(all, part{rows: []int{i}})
			continue
		}
		number := at[root(j)]
		all[number].rows = append(all[number].rows, i)
	}
	return all
}

func sign(x float64) int {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}
