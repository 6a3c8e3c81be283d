package commands

import (
	"testing"

	"setscrew/domain/quantity"
)

// How far something is slid is printed like the check's differences, or in millimetres
// where the check measures something else: a belt's tone in hertz, its motor's way not.
func TestTravel(t *testing.T) {
	for _, test := range []struct {
		scale ruler
		by    quantity.Value
		want  string
	}{
		{ruler{unit: quantity.Millimetre, decimals: 2}, quantity.New(-25, 100, quantity.Millimetre), "0.25 mm"},
		{ruler{unit: quantity.Hertz, decimals: 1}, quantity.New(-2135, 1000, quantity.Millimetre), "2.14 mm"},
		{ruler{unit: quantity.Hertz, decimals: 1}, quantity.New(3, 1, quantity.Hertz), "3.0 Hz"},
	} {
		if got := test.scale.travel(test.by); got != test.want {
			t.Errorf("%v in %s: %q, want %q", test.by, test.scale.unit, got, test.want)
		}
	}
}
