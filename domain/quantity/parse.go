package quantity

import (
	"errors"
	"fmt"
	"slices"
)

// Context says what is expected where a value is typed.
type Context struct {
	Kind  Kind
	Entry Unit // the unit that a bare number takes; "" where a unit must be given
}

// Parsed is a value as it was typed.
type Parsed struct {
	Value Value
	Unit  Unit // the unit it was given in
	Bare  bool // no unit was given, so it took Context.Entry
	About bool // it was said not to be exact: "about 46 thou"
}

// Refusal is input that has no meaning here. Nothing of it is taken.
type Refusal struct {
	Input   string
	Offset  int    // the byte of Input at which it went wrong
	Code    string // one of the Code constants
	Want    string // what was wanted there
	Example string // input that works in the same place
}

// Error says what was wrong, for logs; people are told in words of the
// catalogue.
func (r *Refusal) Error() string {
	return fmt.Sprintf("%q: %s at byte %d, want %s, such as %q", r.Input, r.Code, r.Offset, r.Want, r.Example)
}

// The codes of refusals.
const (
	CodeEmpty            = "empty"
	CodeTooLong          = "too-long"
	CodeNoNumber         = "no-number"
	CodeUnknownUnit      = "unknown-unit"
	CodeWrongKind        = "wrong-kind"
	CodeZeroDivisor      = "zero-divisor"
	CodeTrailing         = "trailing"
	CodeRange            = "range"
	CodeMissingPositions = "missing-positions"
	CodeExtraValues      = "extra-values"
	CodeUnknownPosition  = "unknown-position"
	CodeRepeatedPosition = "repeated-position"
)

// Ambiguity is input that can be read in more than one way. Each option's text
// says one of them and has only that meaning.
type Ambiguity struct {
	Input   string
	Code    string // one of the Ambiguous constants
	Options []Option
}

// Error says what can be read in two ways, for logs.
func (a *Ambiguity) Error() string { return fmt.Sprintf("%q: %s, %v", a.Input, a.Code, a.Options) }

// BySize reports whether the ways of reading it differ by the unit or the decimal point, so
// that what is likely tells them apart.
func (a *Ambiguity) BySize() bool {
	switch a.Code {
	case AmbiguousMil, AmbiguousTenth, AmbiguousComma, AmbiguousSpace, AmbiguousSlash, AmbiguousFraction:
		return true
	}
	return false
}

// Option is one way of reading an ambiguous input, typed out.
type Option struct{ Text string }

// The codes of ambiguities: a mil is 0.001 in to some and 1 mm to others; a
// tenth is 0.0001 in or 0.1 mm; in 1,234 the comma is a decimal comma or parts
// thousands; a gallon or a fluid ounce is the United States' or the imperial one; 38-42 is one end of a range or
// the other; a space parts thousands or values; a stroke is a fraction's or parts values;
// a bare fraction is of an inch or of the unit that a bare number takes; the number at the
// end of a place's name may belong to the value; one value may hold for several places.
const (
	AmbiguousMil   = "mil"
	AmbiguousTenth = "tenth"
	AmbiguousComma = "comma"

	AmbiguousGallon     = "gallon"
	AmbiguousFluidOunce = "fluid-ounce"

	AmbiguousRange    = "range"
	AmbiguousSpace    = "space"
	AmbiguousSlash    = "slash"
	AmbiguousFraction = "fraction"
	AmbiguousName     = "name"
	AmbiguousPlaces   = "places"
)

// wanted are a unit or two of each kind, for refusals, and a value of it that
// can be typed.
var wanted = [kinds]struct{ units, example string }{
	Length: {
		"mm, thou or in",
		"1.09 mm",
	}, Duration: {"h or min", "1.5 h"}, Angle: {"deg", "30 deg"}, Turns: {"turn", "1/8 turn"},
	Slope: {
		"mm/m or in/ft",
		"0.5 mm/m",
	}, Force: {"N or lbf", "5 N"}, Torque: {"N·m or lbf·ft", "12 N·m"}, Pressure: {"bar, kPa or psi", "60 psi"},
	Temperature: {
		"°C or °F",
		"60 °C",
	}, TemperatureStep: {"Δ°C", "5 Δ°C"}, Frequency: {"Hz", "50 Hz"}, RotationalSpeed: {"rpm", "1500 rpm"},
	Speed: {
		"m/s, m/min or ft/min",
		"20 m/min",
	}, Mass: {"kg or lb", "2 kg"}, LinearDensity: {"kg/m or lb/ft", "0.11 kg/m"},
	Volume: {"L, mL or US gal", "1.5 L"},
	Flow: {
		"L/min or ft³/min",
		"30 L/min",
	}, Voltage: {"V", "230 V"}, Current: {"A", "10 A"}, Resistance: {"Ω or ohm", "0.1 ohm"},
	Viscosity: {"mm²/s", "46 mm²/s"}, Ratio: {"%", "12 %"},
}

// unitWanted names a unit of each kind, for refusals.
func unitWanted(k Kind) string { return wanted[k].units }

// example is a value that can be typed in that context.
func (c Context) example() string {
	switch c.Entry {
	case Inch:
		return "0.043 in"
	case Thou:
		return "43 thou"
	}
	return wanted[c.Kind].example
}

// Parse reads one value: a number with a unit, or without one where the context
// has an entry unit. What has no meaning is a *Refusal, what has two an
// *Ambiguity. Durations may be written in parts: "2h30", "1 h 20 min", "1:30".
func Parse(text string, context Context) (Parsed, error) {
	var met []string
	read := func(ch choice) (Parsed, error) {
		scanner := scan(text, context.Kind, ch)
		parsed, err := scanner.whole(context)
		met = scanner.met
		if refusal := (*Refusal)(nil); errors.As(err, &refusal) {
			refusal.Example = context.example()
		}
		return parsed, err
	}
	parsed, err := read(choice{})
	if len(met) == 0 {
		return parsed, err
	}
	question, differ := &Ambiguity{Input: text, Code: met[0]}, slices.Contains(met, AmbiguousRange)
	var first Parsed
	valid := 0
	for _, ch := range choices(met) {
		other, wrong := read(ch)
		if wrong != nil {
			continue // what would be no value is not meant
		}
		if len(question.Options) == 0 {
			first = other
		}
		differ, valid = differ || !other.Value.Equal(first.Value), valid+1
		question.add(Typed(other.Value, other.Unit))
	}
	if question.Code == AmbiguousRange && valid > 1 && len(question.Options) == 1 {
		differ = false // from 0 to 0
	}
	switch {
	case len(question.Options) == 0:
		return Parsed{}, err
	case !differ:
		return first, nil // nothing is nothing in any unit
	}
	return Parsed{}, question
}

func (a *Ambiguity) add(text string) {
	if o := (Option{text}); !slices.Contains(a.Options, o) {
		a.Options = append(a.Options, o)
	}
}

// choices lists every way of reading the ambiguities met.
func choices(met []string) []choice {
	all := []choice{{}}
	for _, code := range met {
		for _, one := range all[:len(all):len(all)] {
			switch code {
			case AmbiguousRange: // three ways
				second := one
				second.end = 1
				all, one.end = append(all, second), 2
			case AmbiguousSpace:
				one.joined = true
			case AmbiguousSlash:
				one.apart = true
			case AmbiguousFraction:
				one.entry = true
			case AmbiguousPlaces:
				one.all = true
			case AmbiguousName:
			case AmbiguousComma:
				one.thousands = true
			case AmbiguousMil:
				one.metricMil = true
			case AmbiguousTenth:
				one.metricTen = true
			case AmbiguousGallon, AmbiguousFluidOunce:
				one.imperial = true
			}
			all = append(all, one)
		}
	}
	return all
}
