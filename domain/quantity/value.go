// Package quantity holds what a shop measures: exact values with a kind and a
// unit, read from what people type and printed as people read.
//
// A value is an exact rational number of its kind's base unit, so that 0.045 in
// typed against a limit of 0.040 in + 0.005 in lies on the limit and not beside
// it, and 1/3 in is a third of an inch.
package quantity

import (
	"fmt"
	"math/big"
	"strings"
)

// Value is an exact amount of one kind. It is immutable; its zero value is no
// value at all (Valid reports false) and takes no part in arithmetic.
type Value struct {
	kind Kind
	rat  *big.Rat // base units; never changed once set
}

// New is num/den of unit u. It panics for a zero den or an unknown unit, which
// only a programmer can write.
func New(num, den int64, u Unit) Value { return FromRat(big.NewRat(num, den), u) }

// FromRat is r of unit u; r is copied. It panics for an unknown unit.
func FromRat(r *big.Rat, u Unit) Value {
	f := u.Factor()
	if f == nil {
		panic("quantity: unknown unit " + string(u))
	}
	return Value{u.Kind(), f.Mul(f, r)}
}

// Zero is nothing of kind k.
func Zero(k Kind) Value { return Value{k, new(big.Rat)} }

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
	return new(big.Rat).Quo(v.rat, u.Factor())
}

// Float is v counted in u, rounded to the nearest float64.
func (v Value) Float(u Unit) float64 { f, _ := v.In(u).Float64(); return f }

func (v Value) with(w Value) {
	if v.kind != w.kind || v.rat == nil || w.rat == nil {
		panic(fmt.Sprintf("quantity: %s with %s", v.kind, w.kind))
	}
}

// Add is v + w. Like every operation on two values it panics if their kinds
// differ.
func (v Value) Add(w Value) Value { v.with(w); return Value{v.kind, new(big.Rat).Add(v.rat, w.rat)} }

// Sub is v - w.
func (v Value) Sub(w Value) Value { v.with(w); return Value{v.kind, new(big.Rat).Sub(v.rat, w.rat)} }

// Neg is -v.
func (v Value) Neg() Value { return Value{v.kind, new(big.Rat).Neg(v.rat)} }

// Abs is v without its sign.
func (v Value) Abs() Value { return Value{v.kind, new(big.Rat).Abs(v.rat)} }

// Mul is v scaled by r.
func (v Value) Mul(r *big.Rat) Value { return Value{v.kind, new(big.Rat).Mul(v.rat, r)} }

// Per is the pure number v / w; w must not be zero.
func (v Value) Per(w Value) *big.Rat { v.with(w); return new(big.Rat).Quo(v.rat, w.rat) }

// Cmp is -1, 0 or +1 as v is less than, equal to or greater than w.
func (v Value) Cmp(w Value) int { v.with(w); return v.rat.Cmp(w.rat) }

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

// baseUnit is the unit in which a kind's values are kept.
var baseUnit = map[Kind]Unit{Length: Metre, Duration: Second, Angle: Degree, Turns: Turn}

// Exact prints v without loss, as a fraction of the base unit where no finite
// decimal exists: "0.0010922 m", "127/15000 m". Reading it back with Parse
// gives v again.
func Exact(v Value) string {
	if !v.Valid() {
		return ""
	}
	num := v.rat.RatString()
	if n, exact := v.rat.FloatPrec(); exact {
		num = v.rat.FloatString(n)
	}
	return num + " " + string(baseUnit[v.kind])
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
	u := Unit(symbol)
	if len(num) > 4096 || strings.Trim(num, "-0123456789./") != "" {
		return fmt.Errorf("quantity: %q is not a stored value", cut(text))
	}
	r, valid := new(big.Rat).SetString(num)
	if !ok || !valid || u.Kind() == 0 || baseUnit[u.Kind()] != u {
		return fmt.Errorf("quantity: %q is not a stored value", cut(text))
	}
	*v = FromRat(r, u)
	return nil
}

// cut is the beginning of a text, for an error.
func cut(text []byte) []byte { return text[:min(len(text), 40)] }
