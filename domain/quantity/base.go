package quantity

import "math/big"

// Base is the unit in which a kind's values are kept.
func Base(k Kind) Unit { return baseUnit[k] }

// FromFloat is a number of a unit, exactly as the float64 holds it; no value if
// it is not finite. It is for what is worked out in floating point, such as an
// uncertainty; what people type is exact.
func FromFloat(number float64, unit Unit) Value {
	exact := new(big.Rat).SetFloat64(number)
	if exact == nil {
		return Value{}
	}
	if baseUnit[unit.Kind()] == unit {
		return Value{unit.Kind(), exact, number, true}
	}
	return FromRat(exact, unit)
}
