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
func between(one *linkage.Try, c *profile.Check, try Try) bool {
	if try.Before == nil || try.After == nil || len(try.Before.Reading.Values) != len(c.Positions) ||
		len(try.After.Reading.Values) != len(c.Positions) {
		return false
	}
	for i := range c.Positions {
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
		m, ok := fact.Body.(Move)
		if !ok {
			continue
		}
		try := Try{Move: fact.No, At: fact.At, Turned: m.Turned}
		for _, s := range said {
			if b, ok := s.Body.(MoveAnswer); ok && b.Of == fact.No {
				try.Said = b.Said
			}
		}
		for _, r := range readings {
			b, ok := r.Body.(Reading)
			if !ok {
				continue
			}
			l := Latest{Fact: r.No, At: r.At, By: r.For, Check: b.Check, Reading: &b}
			switch {
			case r.No == m.Reading:
				try.Before = &l
			case try.After == nil && r.At.After(fact.At) && (i+1 == len(moves) || !r.At.After(moves[i+1].At)):
				try.After = &l
			}
		}
		all = append(all, try)
	}
	return all
}
