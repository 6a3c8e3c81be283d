package commands

import (
	"math"
	"math/big"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// fold is a name as it is compared: without case, and without space around it.
func fold(s string) string { return strings.ToLower(strings.TrimSpace(words.Clean(s))) }

// capital makes a sentence's first letter a capital.
func capital(text string) string {
	if text == "" {
		return ""
	}
	r, n := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(r)) + text[n:]
}

// shorten cuts a label to n characters.
func shorten(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return string(r[:most-1]) + "…"
}

// slash is a command as it is given: its name, then options and their values in
// turn, quoted where they have to be.
func slash(name string, given ...string) string {
	text := "/" + name
	for i := 0; i < len(given); i += 2 {
		text += " " + given[i] + ":" + quoted(given[i+1])
	}
	return text
}

// quoted is a name as a command's option takes it.
func quoted(name string) string {
	if strings.ContainsAny(name, ` "`) {
		return words.User(`"` + strings.ReplaceAll(name, `"`, `\"`) + `"`)
	}
	return words.User(name)
}

// machineLabel names a machine on a button, where no text is marked up.
func machineLabel(m domain.Machine) words.D { return words.D{"Machine": words.Clean(m.Name)} }

// percent prints a probability for people: never as a certainty.
func percent(probability float64) string {
	switch {
	case probability > 0.995:
		return "over 99 %"
	case probability < 0.005:
		return "under 1 %"
	}
	return strconv.FormatFloat(100*probability, 'f', 0, 64) + " %"
}

// short prints a small quantity to two significant digits.
func short(value quantity.Value, unit quantity.Unit) string {
	f, _ := value.Abs().In(unit).Float64()
	d := 0
	for x := f; x < 10 && d < 7 && f > 0; x *= 10 {
		d++
	}
	return quantity.Format(value, unit, d)
}

// sum adds lengths up.
func sum(all []quantity.Value) quantity.Value {
	total := quantity.Zero(quantity.Length)
	for _, v := range all {
		total = total.Add(v)
	}
	return total
}

// turnsText prints turns of an adjuster so that a hand can make them: in
// sixteenths, in another simple fraction that its increment has, else in degrees.
func turnsText(a *profile.Adjuster, value quantity.Value) string {
	const simple = 12
	n, step := value.In(quantity.Turn), a.Increment.In(quantity.Turn)
	if step.Denom().Int64() > simple && 16%step.Denom().Int64() != 0 {
		return quantity.Format(quantity.FromRat(new(big.Rat).Mul(n, big.NewRat(360, 1)), quantity.Degree),
			quantity.Degree, 0)
	}
	if text, ok := quantity.FormatFraction(value, quantity.Turn, step.Denom().Int64()); ok &&
		16%step.Denom().Int64() != 0 {
		return text
	}
	return quantity.Format(value, quantity.Turn, 2)
}

// minutesText prints a number of minutes.
func minutesText(n int) string {
	return quantity.FormatDuration(quantity.New(int64(n), 1, quantity.Minute))
}

// wholeHours is a number of hours as a sheet says it: whole from ten on.
func wholeHours(hours float64) string {
	decimals := 1
	if hours >= 10 {
		decimals = 0
	}
	return strings.TrimSuffix(strconv.FormatFloat(hours, 'f', decimals, 64), ".0") + " h"
}

// signedHours prints a duration with its sign, which FormatDuration leaves out.
func signedHours(v quantity.Value) string {
	if v.Sign() < 0 {
		return "-" + quantity.FormatDuration(v.Abs())
	}
	return quantity.FormatDuration(v)
}

// counterText is what a counter showed, to a tenth of an hour as counters do.
func counterText(b domain.CounterRead) string {
	return quantity.Format(b.Shown(), quantity.Hour, 1)
}

// oddsText prints a factor to two figures.
func oddsText(x float64) string {
	digits := max(0, 1-int(math.Floor(math.Log10(x))))
	return strconv.FormatFloat(x, 'f', min(digits, 3), 64)
}

// fieldID is a position's name as a form's field: "knife 1 left" is
// "knife_1_left".
func fieldID(position string) string {
	if position == "" {
		return "value"
	}
	return strings.ReplaceAll(position, " ", "_")
}

// wordAt is the word of a text that begins at that byte, or the rest of the
// text where none does.
func wordAt(text string, at int) string {
	rest := text[min(at, len(text)):]
	if i := strings.IndexAny(rest, " ,;"); i > 0 {
		return rest[:i]
	}
	return rest
}
