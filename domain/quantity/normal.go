package quantity

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// vulgar are the fractions that have a character of their own.
var vulgar = map[rune]string{
	'½': "1/2",
	'⅓': "1/3",
	'⅔': "2/3",
	'¼': "1/4",
	'¾': "3/4",
	'⅕': "1/5",
	'⅖': "2/5",
	'⅗': "3/5",
	'⅘': "4/5",
	'⅙': "1/6",
	'⅚': "5/6",
	'⅐': "1/7",
	'⅛': "1/8",
	'⅜': "3/8",
	'⅝': "5/8",
	'⅞': "7/8",
	'⅑': "1/9",
	'⅒': "1/10",
}

// plain is what people type with the many marks for one thing made one, and for
// each of its bytes where it came from.
type plain struct {
	text string
	from []int // one more than bytes: the end
}

// simplify makes minus signs, quotes, primes and spaces plain, writes out
// fractions that are one character, and takes out thin spaces between digits that are
// no whole number and its fraction.
func simplify(in string) plain {
	var out strings.Builder
	var from []int
	put := func(s string, at int) {
		out.WriteString(s)
		for range len(s) {
			from = append(from, at)
		}
	}
	digit := func(i int) bool { return i >= 0 && i < len(in) && in[i] >= '0' && in[i] <= '9' }
	for i := 0; i < len(in); {
		char, size := utf8.DecodeRuneInString(in[i:])
		switch {
		case vulgar[char] != "":
			if digit(i - 1) {
				put(" ", i)
			}
			put(vulgar[char], i)
		case (char == '\u2009' || char == '\u202f' || char == '\u2007') && digit(i-1) && digit(i+size) &&
			!fraction(in[i+size:]):
			// a thin space parts thousands; before a fraction it parts it from the whole number
		case strings.HasPrefix(in[i:], "''"):
			put(`"`, i) // inches, as some keyboards write them
			i++
		case char == '·' && digit(i-1) && digit(i+size):
			put(".", i) // a raised point
		case (char == 'o' || char == 'O') && zeroLetter(in, i):
			put("0", i)
		default:
			put(mark(char, in[i:i+size]), i)
		}
		i += size
	}
	return plain{out.String(), append(from, len(in))}
}

// zeroLetter reports whether the letter o at a byte stands for a zero: in a run of
// digits, points and commas with at least one digit and no other letter beside it
// ("O.046", "1.1o"); "3 o'clock" is not meant.
func zeroLetter(in string, at int) bool {
	const run = "oO0123456789.,"
	from := len(strings.TrimRight(in[:at], run))
	to := len(in) - len(strings.TrimLeft(in[at:], run))
	before, _ := utf8.DecodeLastRuneInString(in[:from])
	after, _ := utf8.DecodeRuneInString(in[to:])
	return strings.ContainsAny(in[from:to], "0123456789") && !strings.ContainsRune("'’", after) &&
		!unicode.IsLetter(after) && (!unicode.IsLetter(before) || in[from] == '.')
}

// fraction reports whether a text begins with digits and the stroke of a fraction.
func fraction(text string) bool {
	after := strings.TrimLeft(text, "0123456789")
	return strings.HasPrefix(after, "/") || strings.HasPrefix(after, "⁄") || strings.HasPrefix(after, "∕")
}

// mark is the plain form of one character.
func mark(char rune, as string) string {
	switch char {
	case '−', '‐', '‑', '–', '\u2012':
		return "-"
	case '”', '“', '″', '„':
		return `"`
	case '’', '‘', '′', '´':
		return "'"
	case 'μ':
		return "µ"
	case 'º', '˚':
		return "°"
	case '⁄', '∕', '\\':
		return "/"
	case '⬅', '←':
		return " left "
	case '➡', '→':
		return " right "
	case '❌', '✖', '🚫', '👎', '❓', '⁉':
		return as // what denies or asks is not left out
	case '⋅', '∙', '•':
		return "·"
	case 'Ω':
		return "Ω"
	}
	switch {
	case unicode.IsSpace(char):
		return " "
	case unicode.IsDigit(char):
		return strconv.Itoa(digitOf(char))
	case char == '٫': // the decimal sign of Arabic digits
		return "."
	case char >= '！' && char <= '～': // as wide as a Chinese character
		return string(char - '！' + '!')
	case unicode.In(char, unicode.Cf, unicode.Me, unicode.Variation_Selector):
		return "" // marks of direction, joiners, and the frames of keys
	case char != '°' && unicode.In(char, unicode.So, unicode.Sk) && char > unicode.MaxLatin1:
		return " " // an emoji says nothing of a value
	}
	return as
}

// digitOf is the value of a decimal digit of any script: Unicode keeps the ten of each
// together, in their order.
func digitOf(char rune) int {
	zero := char
	for unicode.IsDigit(zero-1) && char-zero < 9 {
		zero--
	}
	return int(char - zero)
}

// normal is the plain form of a text.
func normal(s string) string { return simplify(s).text }
