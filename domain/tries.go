package domain

import (
	"math"

	"setscrew/domain/linkage"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// between fills in the readings of a try, and reports whether there are both, of
// every position.
func between(one *linkage.Try, check *profile.Check, try Try) bool {
	if try.Before == nil || try.After == nil || len(try.Before.Reading.Values) != len(check.Positions) ||
		len(try.After.Reading.Values) != len(check.Positions) {
		return false
	}
	for i := range check.Positions {
		before, after := try.Before.Reading.Values[i], try.After.Reading.Values[i]
		one.Before, one.After = append(one.Before, inBase(before.Mean())), append(one.After, inBase(after.Mean()))
		one.U = append(
			one.U,
			math.Hypot(ownUncertainty(before, try.Before.Reading.Gauge),
				ownUncertainty(after, try.After.Reading.Gauge))/math.Sqrt2,
		)
	}
	return true
}

// ownUncertainty is the standard uncertainty of a reading without what it shares with
// others by the same gauge.
func ownUncertainty(at quantity.At, g GaugeUsed) float64 {
	b := metrology.Evaluate(g.Gauge, len(at.Repeats), describe(at, g).S, Level)
	sum := 0.0
	for _, l := range b.Lines {
		if !l.Shared {
			sum += l.U * l.U
		}
	}
	return math.Sqrt(sum)
}

// chained is the tries that lead, each from the reading after the one before it,
// to a reading.
func chained(tries []Try, to FactNo) []Try {
	first := len(tries)
	for first > 0 {
		x := tries[first-1]
		if x.Before == nil || x.After == nil || x.After.Fact != to {
			break
		}
		to = x.Before.Fact
		first--
	}
	return tries[first:]
}

// PairTries puts moves of one check between the readings that they were planned
// from and those that followed, all oldest first.
func PairTries(moves, readings, said []Fact) []Try {
	var all []Try
	for i, fact := range moves {
		move, ok := fact.Body.(Move)
		if !ok {
			continue
		}
		try := Try{Move: fact.No, At: fact.At, Turned: move.Turned}
		for _, report := range said {
			if answer, ok := report.Body.(MoveAnswer); ok && answer.Of == fact.No {
				try.Said = answer.Said
			}
		}
		// The reading planned from, and the first one between this move and the next.
		for _, report := range readings {
			reading, ok := report.Body.(Reading)
			if !ok {
				continue
			}
			latest := Latest{Fact: report.No, At: report.At, By: report.For, Check: reading.Check, Reading: &reading}
			switch {
			case report.No == move.Reading:
				try.Before = &latest
			case try.After == nil && report.At.After(fact.At) && (i+1 == len(moves) || !report.At.After(moves[i+1].At)):
				try.After = &latest
			}
		}
		all = append(all, try)
	}
	return all
}
