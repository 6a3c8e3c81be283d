package quantity

import (
	"math/big"
	"slices"
	"strings"
)

// Kind says what a value measures; values of different kinds never mix.
type Kind uint8

// The kinds a shop reads. A Temperature stands on a scale: the difference of two
// is a TemperatureStep, and a step may be added to one.
const (
	Length Kind = iota + 1
	Duration
	Angle
	Turns
	Slope
	Force
	Torque
	Pressure
	Temperature
	TemperatureStep
	Frequency
	RotationalSpeed
	Speed
	Mass
	LinearDensity
	Volume
	Flow
	Voltage
	Current
	Resistance
	Viscosity
	Ratio
	kinds // how many there are, plus one
)

var kindNames = [kinds]string{
	Length:          "length",
	Duration:        "duration",
	Angle:           "angle",
	Turns:           "turns",
	Slope:           "slope",
	Force:           "force",
	Torque:          "torque",
	Pressure:        "pressure",
	Temperature:     "temperature",
	TemperatureStep: "temperature step",
	Frequency:       "frequency",
	RotationalSpeed: "rotational speed",
	Speed:           "speed",
	Mass:            "mass",
	LinearDensity:   "linear density",
	Volume:          "volume",
	Flow:            "flow",
	Voltage:         "voltage",
	Current:         "current",
	Resistance:      "resistance",
	Viscosity:       "viscosity",
	Ratio:           "ratio",
}

// String names the kind in English, for errors and logs.
func (k Kind) String() string {
	if k == 0 || k >= kinds {
		return "no kind"
	}
	return kindNames[k]
}

// KindNamed is the kind of that name; ok is false if there is none.
func KindNamed(name string) (k Kind, ok bool) {
	i := slices.Index(kindNames[:], name)
	return Kind(max(i, 0)), i > 0
}

// difference is the kind of the difference of two values of kind k.
func (k Kind) difference() Kind {
	if k == Temperature {
		return TemperatureStep
	}
	return k
}

// Unit is a unit by its printed symbol. Each belongs to one Kind and stands in
// an exact ratio to that kind's base unit, a temperature scale at an exact
// distance besides (NIST SP 811, Appendix B). Units whose ratio is not exact, such
// as the radian in degrees or conventional columns of mercury, are left out.
type Unit string

// The units that can be typed and printed. A gallon or a fluid ounce by itself
// is two units, and is asked about.
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
	ArcSecond  Unit = "arcsec"
	Turn       Unit = "turn"
	OClock     Unit = "o'clock" // a twelfth of a turn, clockwise from the top

	MillimetrePerMetre Unit = "mm/m"
	InchPerFoot        Unit = "in/ft"
	ThouPerInch        Unit = "thou/in"
	ThouPerFoot        Unit = "thou/ft"

	Newton        Unit = "N"
	Kilonewton    Unit = "kN"
	PoundForce    Unit = "lbf"
	KilogramForce Unit = "kgf"

	NewtonMetre    Unit = "N·m"
	PoundForceFoot Unit = "lbf·ft"
	PoundForceInch Unit = "lbf·in"

	Pascal     Unit = "Pa"
	Kilopascal Unit = "kPa"
	Megapascal Unit = "MPa"
	Bar        Unit = "bar"
	Millibar   Unit = "mbar"
	PSI        Unit = "psi"

	Kelvin         Unit = "K"
	Celsius        Unit = "°C"
	Fahrenheit     Unit = "°F"
	CelsiusStep    Unit = "Δ°C"
	FahrenheitStep Unit = "Δ°F"

	Hertz     Unit = "Hz"
	Kilohertz Unit = "kHz"
	RPM       Unit = "rpm"
	RPS       Unit = "rps"

	MetrePerSecond      Unit = "m/s"
	MetrePerMinute      Unit = "m/min"
	MillimetrePerSecond Unit = "mm/s"
	MillimetrePerMinute Unit = "mm/min"
	FootPerMinute       Unit = "ft/min"
	InchPerMinute       Unit = "in/min"

	Kilogram      Unit = "kg"
	Gram          Unit = "g"
	Pound         Unit = "lb"
	Ounce         Unit = "oz"
	KilogramMetre Unit = "kg/m"
	GramMetre     Unit = "g/m"
	PoundFoot     Unit = "lb/ft"

	Litre         Unit = "L"
	Millilitre    Unit = "mL"
	CubicMetre    Unit = "m³"
	USGallon      Unit = "US gal"
	ImpGallon     Unit = "imp gal"
	USFluidOunce  Unit = "US fl oz"
	ImpFluidOunce Unit = "imp fl oz"

	LitrePerMinute    Unit = "L/min"
	CubicMetrePerHour Unit = "m³/h"
	CubicFootPerMin   Unit = "ft³/min"

	Volt      Unit = "V"
	Millivolt Unit = "mV"
	Ampere    Unit = "A"
	Milliamp  Unit = "mA"
	Ohm       Unit = "Ω"
	Milliohm  Unit = "mΩ"
	Kiloohm   Unit = "kΩ"
	Megaohm   Unit = "MΩ"

	SquareMillimetrePerSecond Unit = "mm²/s" // a centistokes

	Percent Unit = "%"
	Whole   Unit = "1"
)

// unitFacts are what is known of a unit: how many base units one is, and where
// its zero lies.
type unitFacts struct {
	kind           Kind
	factor, offset *big.Rat
}

// The tables that define fills in.
var (
	units     = map[Unit]unitFacts{}
	baseUnit  = map[Kind]Unit{}
	unitsOf   [kinds][]Unit
	unitNames [kinds][]unitName // the longest first
)

// unitName is a name or mark for a unit as people type it, in whatever case
// unless exact: where the case tells two units apart, as in mΩ and MΩ.
type unitName struct {
	name  string
	unit  Unit
	exact bool
}

// define adds a unit; the first of a kind, with factor 1, is its base unit.
func define(unit Unit, kind Kind, factor string, names ...string) {
	f, ok := new(big.Rat).SetString(factor)
	if !ok {
		panic("quantity: factor " + factor)
	}
	units[unit] = unitFacts{kind, f, new(big.Rat)}
	if len(unitsOf[kind]) == 0 {
		baseUnit[kind] = unit
	}
	unitsOf[kind] = append(unitsOf[kind], unit)
	unitNames[kind] = append(unitNames[kind], unitName{name: normal(string(unit)), unit: unit})
	for _, n := range names {
		name(kind, unit, n)
	}
}

func name(k Kind, u Unit, n string) {
	unitNames[k] = append(unitNames[k], unitName{name: normal(n), unit: u})
}

// The pound-force is a pound at standard gravity; a psi one on a square inch.
const (
	pound      = "45359237/100000000"
	poundForce = "4448221615260500/1000000000000000" // 0.45359237 × 9.80665
)

func init() {
	// Lengths, times and angles.
	define(Metre, Length, "1", "metre", "metres", "meter", "meters")
	define(Centimetre, Length, "1/100", "centimetre", "centimetres", "centimeter", "centimeters")
	define(Millimetre, Length, "1/1000", "millimetre", "millimetres", "millimeter", "millimeters",
		"milimetre", "milimetres",
		"milimeter", "milimeters", "mms")
	define(Micrometre, Length, "1/1000000", "um", "µ", "micron", "microns", "micrometre", "micrometres")
	define(Inch, Length, "254/10000", "inch", "inches", `"`)
	define(Thou, Length, "254/10000000", "thous", "tho", "thousandth", "thousandths")
	define(Foot, Length, "3048/10000", "foot", "feet", "'")
	name(Length, mil, "mil")
	name(Length, mil, "mils")
	name(Length, tenth, "tenth")
	name(Length, tenth, "tenths")
	define(Second, Duration, "1", "sec", "secs", "second", "seconds")
	define(Minute, Duration, "60", "m", "mins", "minute", "minutes")
	define(Hour, Duration, "3600", "hr", "hrs", "hour", "hours")
	define(Day, Duration, "86400", "day", "days")
	define(Week, Duration, "604800", "w", "wks", "week", "weeks")
	define(Degree, Angle, "1", "deg", "degs", "degree", "degrees")
	define(ArcMinute, Angle, "1/60", "'", "arc minute", "arc minutes", "minute", "minutes")
	define(ArcSecond, Angle, "1/3600", `"`, "arc second", "arc seconds", "second", "seconds")
	define(Turn, Turns, "1", "turns")
	define(OClock, Turns, "1/12", "oclock")

	// Ratios and slopes; forces, torques and pressures.
	define(Whole, Ratio, "1")
	define(Percent, Ratio, "1/100", "percent", "per cent")
	define(MillimetrePerMetre, Slope, "1")
	define(InchPerFoot, Slope, "1000/12")
	define(ThouPerInch, Slope, "1")
	define(ThouPerFoot, Slope, "1/12")
	define(Newton, Force, "1", "newton", "newtons")
	define(Kilonewton, Force, "1000")
	define(PoundForce, Force, poundForce, "lb", "lbs", "pound", "pounds")
	define(KilogramForce, Force, "980665/100000", "kg")
	define(NewtonMetre, Torque, "1", "nm", "n m", "n*m")
	define(
		PoundForceFoot,
		Torque,
		times(poundForce, "3048/10000"),
		"lbf ft", "ft lbf", "ft·lbf", "ft lb", "ft·lb", "ft-lb", "lb ft", "lb·ft", "lb-ft",
	)
	define(
		PoundForceInch,
		Torque,
		times(poundForce, "254/10000"),
		"lbf in", "in lbf", "in·lbf", "in lb", "in·lb", "in-lb", "lb in", "lb·in", "lb-in",
	)
	define(Pascal, Pressure, "1")
	define(Kilopascal, Pressure, "1000", "kpa")
	define(Megapascal, Pressure, "1000000", "mpa")
	define(Bar, Pressure, "100000")
	define(Millibar, Pressure, "100")
	define(PSI, Pressure, times(poundForce, "100000000/64516"), "lbf/in²", "lbf/in2", "lb/in²", "lb/in2")
	// Temperatures and what follows them.
	define(Kelvin, Temperature, "1", "kelvin")
	define(Celsius, Temperature, "1", "c", "degc", "deg c", "celsius", "degrees celsius", "° c")
	define(Fahrenheit, Temperature, "5/9", "f", "degf", "deg f", "fahrenheit", "degrees fahrenheit", "° f")
	zero(Celsius, "27315/100")
	zero(Fahrenheit, times("45967/100", "5/9"))
	define(CelsiusStep, TemperatureStep, "1", "k")
	define(FahrenheitStep, TemperatureStep, "5/9")
	define(Hertz, Frequency, "1", "hz", "hertz", "/s")
	define(Kilohertz, Frequency, "1000", "khz")
	define(RPM, RotationalSpeed, "1", "r/min", "rev/min", "/min")
	define(RPS, RotationalSpeed, "60", "r/s", "rev/s")
	define(MetrePerSecond, Speed, "1", "mps")
	define(MetrePerMinute, Speed, "1/60")
	define(MillimetrePerSecond, Speed, "1/1000")
	define(MillimetrePerMinute, Speed, "1/60000")
	define(FootPerMinute, Speed, times("3048/10000", "1/60"), "fpm", "sfm", "sfpm", "fpm")
	define(InchPerMinute, Speed, times("254/10000", "1/60"), "ipm")
	define(Kilogram, Mass, "1", "kgs", "kilo", "kilos", "kilogram", "kilograms")
	define(Gram, Mass, "1/1000", "grams", "gram")
	define(Pound, Mass, pound, "lbs", "pound", "pounds")
	define(Ounce, Mass, times(pound, "1/16"), "ounce", "ounces")
	define(KilogramMetre, LinearDensity, "1")
	define(GramMetre, LinearDensity, "1/1000")
	define(PoundFoot, LinearDensity, times(pound, "10000/3048"))
	define(CubicMetre, Volume, "1", "m3")
	define(Litre, Volume, "1/1000", "l", "litre", "litres", "liter", "liters")
	define(
		Millilitre, Volume, "1/1000000", "ml", "cc", "cm³", "cm3", "millilitre", "millilitres", "milliliter",
		"milliliters",
	)
	define(USGallon, Volume, usGallon, "us gallon", "us gallons")
	define(ImpGallon, Volume, impGallon, "imp gallon", "imp gallons", "imperial gallon", "imperial gallons")
	define(USFluidOunce, Volume, times(usGallon, "1/128"))
	define(ImpFluidOunce, Volume, times(impGallon, "1/160"))
	// any order: each name has one unit
	for n, u := range map[string]Unit{"gal": gallon, "gallon": gallon, "gallons": gallon, "fl oz": fluidOunce,
		"floz": fluidOunce, "fluid ounce": fluidOunce, "fluid ounces": fluidOunce} {
		name(Volume, u, n)
	}
	define(LitrePerMinute, Flow, "1", "l/min", "lpm")
	define(CubicMetrePerHour, Flow, "1000/60", "m3/h")
	define(CubicFootPerMin, Flow, "28316846592/1000000000", "cfm", "ft3/min")
	define(Volt, Voltage, "1", "v", "volt", "volts")
	define(Millivolt, Voltage, "1/1000", "mv")
	define(Ampere, Current, "1", "a", "amp", "amps", "ampere", "amperes")
	define(Milliamp, Current, "1/1000", "ma")
	define(Ohm, Resistance, "1", "ohm", "ohms")
	define(Milliohm, Resistance, "1/1000", "milliohm", "milliohms")
	define(Kiloohm, Resistance, "1000", "kohm", "kiloohm", "kilohm", "kilohms")
	define(Megaohm, Resistance, "1000000", "megohm", "megohms")
	define(SquareMillimetrePerSecond, Viscosity, "1", "mm2/s", "cst", "centistokes")
	for k := range unitNames {
		for i := range unitNames[k] {
			n := &unitNames[k][i]
			n.exact = slices.ContainsFunc(
				unitNames[k],
				func(o unitName) bool { return o.unit != n.unit && strings.EqualFold(o.name, n.name) },
			)
		}
		slices.SortStableFunc(unitNames[k], func(a, b unitName) int { return len(b.name) - len(a.name) })
	}
}

// The gallons: 231 cubic inches, and 4.54609 litres.
const (
	usGallon  = "3785411784/1000000000000"
	impGallon = "454609/100000000"
)

// times multiplies two factors.
func times(a, b string) string {
	x, _ := new(big.Rat).SetString(a)
	y, _ := new(big.Rat).SetString(b)
	return x.Mul(x, y).RatString()
}

// zero says how many base units a scale's zero lies above the base's.
func zero(u Unit, offset string) {
	f := units[u]
	f.offset, _ = new(big.Rat).SetString(offset)
	units[u] = f
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
	return new(big.Rat).Set(f.factor)
}

// Step is the unit of differences between values in u: u itself, save for
// temperatures.
func (u Unit) Step() Unit {
	switch u {
	case Kelvin, Celsius:
		return CelsiusStep
	case Fahrenheit:
		return FahrenheitStep
	}
	return u
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
