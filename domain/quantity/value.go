// Package quantity holds what a shop measures: exact values with a kind and a
// unit, read from what people type and printed as people read.
//
// A value is an exact rational number of its kind's base unit, so that 0.045 in
// typed against a limit of 0.040 in + 0.005 in lies on the limit and not beside
// it, and 1/3 in is a third of an inch.
package quantity

import (
	"cmp"
	"fmt"
	"math"
	"math/big"
	"strings"
)

// Value is an exact amount of one kind. It is immutable; its zero value is no
// value at all (Valid reports false) and takes no part in arithmetic.
type Value struct {
	kind Kind
	rat  *big.Rat // base units; never changed once set

	// approx is rat to the nearest float64 where near says that it was worked
	// out: values that are compared again and again, as limits are, are told
	// apart by it, and exactly only where it cannot.
	approx float64
	near   bool
}

// made is a value with its approximation.
func made(k Kind, r *big.Rat) Value {
	f, _ := r.Float64()
	return Value{k, r, f, true}
}

// New is num/den of unit u. It panics for a zero den or an unknown unit, which
// only a programmer can write.
func New(num, den int64, u Unit) Value { return FromRat(big.NewRat(num, den), u) }

// FromRat is r of unit u; r is copied. It panics for an unknown unit.
func FromRat(number *big.Rat, u Unit) Value {
	facts, ok := units[u]
	if !ok {
		panic("quantity: unknown unit " + string(u))
	}
	v := new(big.Rat).Mul(number, facts.factor)
	return made(facts.kind, v.Add(v, facts.offset))
}

// Zero is nothing of kind k.
func Zero(k Kind) Value { return Value{kind: k, rat: new(big.Rat), near: true} }

// Kind is what v measures, or 0 for no value.
func (v Value) Kind() Kind { return v.kind }

// Valid reports whether v holds a value.
func (v Value) Valid() bool { return v.rat != nil }

// In is v counted in u, exactly, as a new number. It panics if u measures
// another kind.
func (v Value) In(u Unit) *big.Rat {
	if u.Kind() != v.kind || v.rat == nil {
		panic(fmt.Sprintf("quantity: %s printed in %s", v.kind, u))
	}
	f := units[u]
	n := new(big.Rat).Sub(v.rat, f.offset)
	return n.Quo(n, f.factor)
}

// Float is v counted in u, rounded to the nearest float64.
func (v Value) Float(u Unit) float64 {
	if v.near && baseUnit[v.kind] == u {
		return v.approx
	}
	f, _ := v.In(u).Float64()
	return f
}

func (v Value) with(w Value) {
	if v.kind != w.kind || v.rat == nil || w.rat == nil {
		panic(fmt.Sprintf("quantity: %s with %s", v.kind, w.kind))
	}
}

// withStep panics unless w is of v's kind or of the kind of its differences.
func (v Value) withStep(w Value) {
	if w.kind != v.kind.difference() {
		v.with(w)
	}
}

// Add is v + w; to a temperature a step is added. Like every operation on two
// values it panics if their kinds do not go together.
func (v Value) Add(w Value) Value {
	v.withStep(w)
	return Value{kind: v.kind, rat: new(big.Rat).Add(v.rat, w.rat)}
}

// Sub is v - w: of two temperatures a step, of a temperature and a step a
// temperature.
func (v Value) Sub(value Value) Value {
	kind := v.kind
	if value.kind == v.kind {
		kind = v.kind.difference()
	}
	v.withStep(value)
	return Value{kind: kind, rat: new(big.Rat).Sub(v.rat, value.rat)}
}

// Neg is -v.
func (v Value) Neg() Value { return Value{kind: v.kind, rat: new(big.Rat).Neg(v.rat)} }

// Abs is v without its sign.
func (v Value) Abs() Value { return Value{kind: v.kind, rat: new(big.Rat).Abs(v.rat)} }

// Mul is v scaled by r.
func (v Value) Mul(r *big.Rat) Value { return Value{kind: v.kind, rat: new(big.Rat).Mul(v.rat, r)} }

// Per is the pure number v / w; w must not be zero.
func (v Value) Per(w Value) *big.Rat { v.with(w); return new(big.Rat).Quo(v.rat, w.rat) }

// Cmp is -1, 0 or +1 as v is less than, equal to or greater than w.
func (v Value) Cmp(value Value) int {
	v.with(value)
	if v.near && value.near && v.approx != value.approx {
		return cmp.Compare(v.approx, value.approx) // rounding keeps the order
	}
	return v.rat.Cmp(value.rat)
}

// CmpSum compares v with w + d, or with w - d if minus: -1, 0 or +1.
func (v Value) CmpSum(value, d Value, minus bool) int {
	v.with(value)
	v.withStep(d)
	if v.near && value.near && d.near {
		by := d.approx
		if minus {
			by = -by
		}
		diff := v.approx - (value.approx + by)
		// Three roundings and two sums are off by less than this.
		if bound := 1e-15 * (math.Abs(v.approx) + math.Abs(value.approx) + math.Abs(by)); math.Abs(diff) > bound {
			return cmp.Compare(diff, 0)
		}
	}
	if minus {
		return v.rat.Cmp(new(big.Rat).Sub(value.rat, d.rat))
	}
	return v.rat.Cmp(new(big.Rat).Add(value.rat, d.rat))
}

// Sign is -1, 0 or +1.
func (v Value) Sign() int { return v.rat.Sign() }

// Equal reports whether v and w are the same amount of the same kind; two
// absent values are equal.
func (v Value) Equal(w Value) bool {
	if v.rat == nil || w.rat == nil {
		return v.rat == w.rat
	}
	return v.kind == w.kind && v.rat.Cmp(w.rat) == 0
}

// Exact prints a value without loss, as a fraction of the base unit where no finite
// decimal exists: "0.0010922 m", "127/15000 m". Reading it back with Parse
// gives the same value.
func Exact(value Value) string {
	if !value.Valid() {
		return ""
	}
	num := value.rat.RatString()
	if n, exact := value.rat.FloatPrec(); exact {
		num = value.rat.FloatString(n)
	}
	return num + " " + string(baseUnit[value.kind])
}

// String is Exact, for logs and test failures.
func (v Value) String() string { return Exact(v) }

// MarshalText writes Exact, for storage.
func (v Value) MarshalText() ([]byte, error) { return []byte(Exact(v)), nil }

// UnmarshalText reads what MarshalText wrote and nothing else; what people
// type goes through Parse.
func (v *Value) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*v = Value{}
		return nil
	}
	num, symbol, ok := strings.Cut(string(text), " ")
	unit := Unit(symbol)
	if len(num) > 4096 || strings.Trim(num, "-0123456789./") != "" {
		return fmt.Errorf("quantity: %q is not a stored value", cut(text))
	}
	r, valid := new(big.Rat).SetString(num)
	if !ok || !valid || unit.Kind() == 0 || baseUnit[unit.Kind()] != unit {
		return fmt.Errorf("quantity: %q is not a stored value", cut(text))
	}
	*v = FromRat(r, unit)
	return nil
}

// cut is the beginning of a text, for an error.
func cut(text []byte) []byte { return text[:min(len(text), 40)] }
