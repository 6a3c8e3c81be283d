package quantity

import "math/big"

// Base is the unit in which a kind's values are kept.
func Base(k Kind) Unit { return baseUnit[k] }

// FromFloat is f of unit u, exactly as the float64 holds it; no value if f is
// not finite. It is for what is worked out in floating point, such as an
// uncertainty; what people type is exact.
func FromFloat(f float64, u Unit) Value {
	r := new(big.Rat).SetFloat64(f)
	if r == nil {
		return Value{}
	}
	if baseUnit[u.Kind()] == u {
		return Value{u.Kind(), r, f, true}
	}
	return FromRat(r, u)
}
