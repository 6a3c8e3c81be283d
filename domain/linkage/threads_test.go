package linkage_test

import (
	"strconv"
	"testing"

	. "setscrew/domain/linkage"
	"setscrew/domain/quantity"
	"setscrew/testdata"
)

// parse reads a value of a published table in a unit.
func parse(t *testing.T, text string, unit quantity.Unit) float64 {
	t.Helper()
	p, err := quantity.Parse(text, quantity.Context{Kind: unit.Kind()})
	if err != nil {
		t.Fatal(err)
	}
	return p.Value.Float(unit)
}

func sixths(f float64) string { return strconv.FormatFloat(f, 'f', 6, 64) }

// screw is one that moves one position by its lead each turn.
func screw(lead, off, increment float64) Problem {
	a := free
	a.Increment = increment
	return Problem{Adjusters: []Adjuster{a}, Rows: []Row{{Value: off, Low: -5, High: 5, Response: []float64{lead}}}}
}

// Turns that move a single-start thread by 0.010 in, and its travel in a turn.
func TestPublishedThreads(t *testing.T) {
	for _, row := range testdata.Published(t, "threads.csv") {
		t.Run(row["id"], func(t *testing.T) {
			pitch := row["pitch_mm"] + " mm"
			if tpi := row["tpi"]; tpi != "" {
				pitch = "1/" + tpi + " in"
			}
			lead := parse(t, pitch, quantity.Thou)
			solution := solved(t, screw(lead, -10, 1.0/64))
			if got, want := sixths(solution.Exact[0]), row["turns_per_0.010in"]; got != want {
				t.Errorf("%s turns for 0.010 in, want %s", got, want)
			}
			// 1.3 turns off, in whole turns: it moves by one.
			solution = solved(t, screw(lead, -1.3*lead, 1))
			if got, want := sixths(solution.Predicted[0]+1.3*lead), row["thou_per_turn"]; got != want ||
				solution.Turns[0] != 1 {
				t.Errorf("%s thou in %v turns, want %s in 1", got, solution.Turns[0], want)
			}
		})
	}
}

// Common practice, no source: the worked examples of an infeed roller.
func TestPublishedInfeedRoller(t *testing.T) {
	for _, row := range testdata.Published(t, "linkage_infeed.csv") {
		t.Run(row["id"], func(t *testing.T) {
			p := screw(-50, parse(t, row["reading"], quantity.Thou)-40, 1.0/8)
			solution := solved(t, p)
			exact, turn := parse(t, row["exact"], quantity.Turn), parse(t, row["turn"], quantity.Turn)
			predicted := parse(t, row["predicted"], quantity.Thou) - 40
			if sixths(solution.Exact[0]) != sixths(exact) || solution.Turns[0] != turn ||
				sixths(solution.Predicted[0]) != sixths(predicted) {
				t.Errorf(
					"exact %v, turn %v, predicted %v; want %v, %v, %v",
					solution.Exact[0],
					solution.Turns[0],
					solution.Predicted[0],
					exact, turn, predicted,
				)
			}
		})
	}
}
