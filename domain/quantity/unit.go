package quantity

import "math/big"

// Kind says what a value measures; values of different kinds never mix.
type Kind uint8

// The kinds a shop reads.
const (
	Length Kind = iota + 1
	Duration
	Angle
	Turns
)

// String names the kind in English, for errors and logs.
func (k Kind) String() string {
	switch k {
	case Length:
		return "length"
	case Duration:
		return "duration"
	case Angle:
		return "angle"
	case Turns:
		return "turns"
	}
	return "no kind"
}

// Unit is a unit by its printed symbol. Each belongs to one Kind and stands in
// an exact ratio to that kind's base unit: the metre, the second, the degree
// and the turn (NIST SP 811, Appendix B: 1 in = 25.4 mm exactly).
type Unit string

// The units that can be typed and printed.
const (
	Metre      Unit = "m"
	Centimetre Unit = "cm"
	Millimetre Unit = "mm"
	Micrometre Unit = "µm"
	Inch       Unit = "in"
	Thou       Unit = "thou" // a thousandth of an inch
	Foot       Unit = "ft"
	Second     Unit = "s"
	Minute     Unit = "min"
	Hour       Unit = "h"
	Day        Unit = "d"
	Week       Unit = "wk"
	Degree     Unit = "°"
	ArcMinute  Unit = "arcmin"
	Turn       Unit = "turn"
)

type unitFacts struct {
	kind     Kind
	num, den int64 // base units in one of this unit
}

var units = map[Unit]unitFacts{
	Metre:      {Length, 1, 1},
	Centimetre: {Length, 1, 100},
	Millimetre: {Length, 1, 1000},
	Micrometre: {Length, 1, 1000000},
	Inch:       {Length, 254, 10000},
	Thou:       {Length, 254, 10000000},
	Foot:       {Length, 3048, 10000},
	Second:     {Duration, 1, 1},
	Minute:     {Duration, 60, 1},
	Hour:       {Duration, 3600, 1},
	Day:        {Duration, 86400, 1},
	Week:       {Duration, 604800, 1},
	Degree:     {Angle, 1, 1},
	ArcMinute:  {Angle, 1, 60},
	Turn:       {Turns, 1, 1},
}

// Kind is what the unit measures, or 0 for a unit that does not exist.
func (u Unit) Kind() Kind { return units[u].kind }

// Factor is how many base units of its kind one u holds, exactly. It is nil
// for a unit that does not exist.
func (u Unit) Factor() *big.Rat {
	f, ok := units[u]
	if !ok {
		return nil
	}
	return big.NewRat(f.num, f.den)
}

// System is a shop's preference for printing and for bare numbers.
type System uint8

// The two systems of units.
const (
	Metric System = iota + 1
	Imperial
)

// String is the system's name as it is typed and stored: "metric" or "inch".
func (s System) String() string {
	switch s {
	case Metric:
		return "metric"
	case Imperial:
		return "inch"
	}
	return "no system"
}

// ParseSystem reads "metric" or "inch"; ok is false for anything else.
func ParseSystem(text string) (s System, ok bool) {
	switch text {
	case "metric":
		return Metric, true
	case "inch":
		return Imperial, true
	}
	return 0, false
}
