package quantity

import (
	"fmt"
	"math/big"
	"strings"
)

// Format prints v in a unit to a number of decimals, halves rounded away from zero:
// "1.17 mm", "46 thou", "30°". Turns that are whole sixteenths are printed as
// such whatever the decimals: "1/8 turn", "1 1/4 turns".
func Format(v Value, unit Unit, decimals int) string {
	amount := v.In(unit)
	if unit == Turn {
		if text, ok := sixteenths(amount); ok {
			return text
		}
	}
	text := amount.FloatString(max(decimals, 0))
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	if unit == Degree {
		return text + string(unit)
	}
	return text + " " + string(unit)
}

// FormatLimit prints a limit in a unit to a number of decimals, on its safe side: a least
// value rounded up, a greatest one down. What is within the printed limit is within the
// real one.
func FormatLimit(limit Value, unit Unit, decimals int, least bool) string {
	scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(decimals, 0))), nil)
	amount := limit.In(unit)
	scaled := new(big.Int).Mul(amount.Num(), scale)
	whole, rest := new(big.Int).DivMod(scaled, amount.Denom(), new(big.Int)) // rounded down
	if least && rest.Sign() > 0 {
		whole.Add(whole, big.NewInt(1))
	}
	return Format(FromRat(new(big.Rat).SetFrac(whole, scale), unit), unit, decimals)
}

// sixteenths prints a number of turns as a fraction, if it is a multiple of a
// sixteenth.
func sixteenths(number *big.Rat) (string, bool) {
	den := number.Denom().Int64()
	if !number.Denom().IsInt64() || !number.Num().IsInt64() || 16%den != 0 {
		return "", false
	}
	num := number.Num().Int64()
	sign := ""
	if num < 0 {
		sign, num = "-", -num
	}
	whole, part := num/den, num%den
	unit := "turn"
	if num > den {
		unit = "turns"
	}
	switch {
	case part == 0:
		return fmt.Sprintf("%s%d %s", sign, whole, unit), true
	case whole == 0:
		return fmt.Sprintf("%s%d/%d %s", sign, part, den, unit), true
	}
	return fmt.Sprintf("%s%d %d/%d %s", sign, whole, part, den, unit), true
}

// Decimals is the least number of decimals, at least least, to which v and each
// of against must be printed so that the printed values compare as the values
// do: a reading just past a limit never looks as if it lay on it.
func Decimals(v Value, u Unit, least int, against ...Value) int {
	for d := least; ; d++ {
		if agrees(v, u, d, against) {
			return d
		}
	}
}

func agrees(v Value, u Unit, decimals int, against []Value) bool {
	printed := rounded(v, u, decimals)
	for _, a := range against {
		if a.Valid() && printed.Cmp(rounded(a, u, decimals)) != v.Cmp(a) {
			return false
		}
	}
	return true
}

func rounded(v Value, u Unit, decimals int) *big.Rat {
	r, _ := new(big.Rat).SetString(v.In(u).FloatString(decimals))
	return r
}

// Digits is how many decimals a gauge's reading has in u: the fewest with which
// its smallest step is more than a unit of the last of them, at most six. A step
// of 0.001 in is shown to 3 decimals of an inch and 2 of a millimetre, one of
// 0.01 mm to 2 of a millimetre and 4 of an inch.
func Digits(step Value, u Unit) int {
	n := step.In(u.Step())
	n.Abs(n)
	last := big.NewRat(1, 1)
	for d := range 6 {
		if n.Cmp(last) >= 0 {
			return d
		}
		last.Mul(last, big.NewRat(1, 10))
	}
	return 6
}

// FormatFraction prints v in a unit as a whole number and a fraction of at most that
// denominator, a power of two, as it stands on a rule or a drill: "1 9/16 in". ok
// is false where v is no such fraction.
func FormatFraction(v Value, unit Unit, denominator int64) (text string, ok bool) {
	number := v.In(unit)
	if !number.Num().IsInt64() || !number.Denom().IsInt64() || denominator%number.Denom().Int64() != 0 {
		return "", false
	}
	sign := ""
	num, den := number.Num().Int64(), number.Denom().Int64()
	if num < 0 {
		sign, num = "-", -num
	}
	switch whole, part := num/den, num%den; {
	case part == 0:
		return fmt.Sprintf("%s%d %s", sign, whole, unit), true
	case whole == 0:
		return fmt.Sprintf("%s%d/%d %s", sign, part, den, unit), true
	default:
		return fmt.Sprintf("%s%d %d/%d %s", sign, whole, part, den, unit), true
	}
}

// Show prints v to as many decimals as Decimals says.
func Show(v Value, u Unit, least int, against ...Value) string {
	return Format(v, u, Decimals(v, u, least, against...))
}

// Typed prints v in a unit without loss, as somebody might have typed it: a decimal
// where a finite one exists, else a whole number and a fraction.
func Typed(v Value, unit Unit) string {
	number := v.In(unit)
	if decimals, exact := number.FloatPrec(); exact {
		return number.FloatString(decimals) + " " + string(unit)
	}
	sign := ""
	if number.Sign() < 0 {
		sign, number = "-", number.Neg(number)
	}
	whole, above := new(big.Int).QuoRem(number.Num(), number.Denom(), new(big.Int))
	text := above.String() + "/" + number.Denom().String()
	if whole.Sign() > 0 {
		text = whole.String() + " " + text
	}
	return sign + text + " " + string(unit)
}

// FormatDuration prints a duration in hours and minutes, to the nearest minute,
// and one of less than a minute in seconds: "2 h 30 min", "45 min", "20 s".
func FormatDuration(value Value) string {
	if value.Sign() < 0 {
		return "-" + FormatDuration(value.Neg())
	}
	if value.Sign() > 0 && value.Cmp(New(1, 1, Minute)) < 0 {
		return Format(value, Second, 0)
	}
	total, _ := new(big.Int).SetString(value.In(Minute).FloatString(0), 10)
	hours, minutes := new(big.Int).DivMod(total, big.NewInt(60), new(big.Int))
	switch {
	case minutes.Sign() == 0:
		return hours.String() + " h"
	case hours.Sign() == 0:
		return minutes.String() + " min"
	}
	return hours.String() + " h " + minutes.String() + " min"
}
