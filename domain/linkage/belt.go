package linkage

import "math"

// OpenBelt is the length of an open belt over two pulleys with those diameters
// at that distance of their centres, all in one unit:
//
//	L ≈ 2 C + π (D + d)/2 + (D - d)²/(4 C)
//
// (handbook formula; it neglects terms of the fourth order in (D - d)/2C).
func OpenBelt(large, small, centres float64) float64 {
	d := large - small
	return 2*centres + math.Pi*(large+small)/2 + d*d/(4*centres)
}

// OpenBeltExact is the same without approximation:
//
//	L = 2 C cos a + D (π/2 + a) + d (π/2 - a),   sin a = (D - d)/(2 C)
func OpenBeltExact(large, small, centres float64) float64 {
	a := math.Asin((large - small) / (2 * centres))
	return 2*centres*math.Cos(a) + large*(math.Pi/2+a) + small*(math.Pi/2-a)
}

// Span is the free length of the belt between its two pulleys:
// √(C² - ((D - d)/2)²) (elementary geometry).
func Span(large, small, centres float64) float64 {
	h := (large - small) / 2
	return math.Sqrt(centres*centres - h*h)
}

// Deflection is how far a belt of that free span is to give at its middle under
// the force that its maker or the trade names, 1/64 of the span (Bloch and
// Geitner, Practical Machinery Management, figure 7-14).
func Deflection(span float64) float64 { return span / 64 }

// TensionByForce is a belt's tension from the force that deflects its free span
// at the middle: F L/(4 δ), of a string (elementary statics; it neglects the
// belt's stiffness and what it stretches).
func TensionByForce(force, span, deflection float64) float64 { return force * span / (4 * deflection) }

// TensionByFrequency is a belt's static tension in newtons from its mass per
// length in kg/m, its free span in metres and the natural frequency of the span
// in hertz: T = 4 m L² f², of a string (the same handbooks; stiffness neglected).
func TensionByFrequency(mass, span, frequency float64) float64 {
	return 4 * mass * span * span * frequency * frequency
}

// Harmonic says which harmonic of the frequency expected a measured one fits
// better than the fundamental, 2 to 4, or 0: a phone often hears the octave. It
// fits within a tenth of it, where the fundamental is off by more than a third.
func Harmonic(measured, expected float64) int {
	if !(measured > 0 && expected > 0) || math.Abs(measured/expected-1) < 1.0/3 {
		return 0
	}
	for n := 2; n <= 4; n++ {
		if math.Abs(measured/(float64(n)*expected)-1) <= 0.1 {
			return n
		}
	}
	return 0
}

// TravelForTension is how far a motor must be moved away so that an open belt's
// tension changes from one to another, from the belt's strain stiffness (tension
// for a strain of one), its length and how much longer it must be for each unit
// of travel (two for pulleys of one size, less with the angle of the spans):
//
//	travel = (to - from)/stiffness · length / (dL/dC),   dL/dC = 2 √(1 - ((D - d)/2C)²)
//
// all lengths in one unit, tensions and stiffness in one other.
func TravelForTension(from, to, stiffness, large, small, centres float64) float64 {
	h := (large - small) / (2 * centres)
	return (to - from) / stiffness * OpenBeltExact(large, small, centres) / (2 * math.Sqrt(1-h*h))
}
