// Package metrology decides what a reading proves, given the gauge it was taken
// with.
package metrology

import "setscrew/domain/quantity"

// Limits are the least and the greatest value allowed, both allowed themselves.
// Either may be absent (not Valid).
type Limits struct {
	Low  quantity.Value `json:"low"`
	High quantity.Value `json:"high"`
}

// Set reports whether there is any limit.
func (l Limits) Set() bool { return l.Low.Valid() || l.High.Valid() }

// Holds reports whether y lies within l; a value at a limit does.
func (l Limits) Holds(y quantity.Value) bool {
	return (!l.Low.Valid() || l.Low.Cmp(y) <= 0) && (!l.High.Valid() || y.Cmp(l.High) <= 0)
}

// Within reports whether limits allow nothing that others do not.
func (l Limits) Within(others Limits) bool {
	return (!others.Low.Valid() || l.Low.Valid() && others.Low.Cmp(l.Low) <= 0) &&
		(!others.High.Valid() || l.High.Valid() && l.High.Cmp(others.High) <= 0)
}

// Proof says what a reading proves of its lying within limits.
type Proof uint8

// The proofs.
const (
	Disproved Proof = iota
	Undecided
	Proved
)

// String is "disproved", "undecided" or "proved".
func (p Proof) String() string { return [...]string{"disproved", "undecided", "proved"}[p] }

// Judge says whether a reading y with expanded uncertainty U lies within limits
// L (low) and H (high):
//
//	proved      L + U ≤ y ≤ H - U
//	disproved   y < L - U  or  y > H + U
//	undecided   otherwise
//
// With no limits at all it is proved. With one, the other side's condition
// falls away. The simple decision rule of ISO 14253-1; with k = 2 its coverage
// is about 95 %.
func Judge(value, u quantity.Value, limits Limits) Proof {
	proof := Proved
	if limits.Low.Valid() {
		if value.CmpSum(limits.Low, u, true) < 0 {
			return Disproved
		}
		if value.CmpSum(limits.Low, u, false) < 0 {
			proof = Undecided
		}
	}
	if limits.High.Valid() {
		if value.CmpSum(limits.High, u, false) > 0 {
			return Disproved
		}
		if value.CmpSum(limits.High, u, true) > 0 {
			proof = Undecided
		}
	}
	return proof
}

// Grade is a verdict in one word, from best to worst.
type Grade uint8

// The grades. Good: proved within the adjust limits. Near: inside them, not
// proved. Adjust: outside them, proved within the stop limits. MaybeStop: neither
// proved within nor proved outside the stop limits. Stop: proved outside them.
const (
	Good Grade = iota
	Near
	Adjust
	MaybeStop
	Stop
)

// Verdict is what a value says against its adjust and stop limits. The Inside
// fields compare the value as it was read; the Proof fields allow for its
// uncertainty.
type Verdict struct {
	Grade                  Grade
	InsideAdjust           bool
	InsideStop             bool
	AdjustProof, StopProof Proof
	Value, Uncertainty     quantity.Value
	Adjust, Stop           Limits
}

// Assess judges a value with expanded uncertainty u against its adjust and its
// stop limits.
func Assess(y, u quantity.Value, adjust, stop Limits) Verdict {
	verdict := Verdict{Value: y, Uncertainty: u, Adjust: adjust, Stop: stop,
		InsideAdjust: adjust.Holds(y), InsideStop: stop.Holds(y),
		AdjustProof: Judge(y, u, adjust), StopProof: Judge(y, u, stop)}
	switch {
	case verdict.StopProof == Disproved:
		verdict.Grade = Stop
	case verdict.StopProof == Undecided:
		verdict.Grade = MaybeStop
	case !verdict.InsideAdjust:
		verdict.Grade = Adjust
	case verdict.AdjustProof != Proved:
		verdict.Grade = Near
	}
	return verdict
}

// Extremes are the places of the least and of the greatest of values, the first
// of several. It needs at least one value.
func Extremes(values []quantity.Value) (lo, hi int) {
	for i, x := range values {
		if x.Cmp(values[lo]) < 0 {
			lo = i
		}
		if x.Cmp(values[hi]) > 0 {
			hi = i
		}
	}
	return lo, hi
}
