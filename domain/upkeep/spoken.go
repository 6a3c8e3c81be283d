package upkeep

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"setscrew/domain/quantity"
)

// ordering are the numbers of days in a month, as they are written out.
var ordering = map[string]int{
	"first": 1, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "eighth": 8, "ninth": 9, "tenth": 10,
	"eleventh": 11, "twelfth": 12, "thirteenth": 13, "fourteenth": 14, "fifteenth": 15, "sixteenth": 16,
	"seventeenth": 17, "eighteenth": 18, "nineteenth": 19, "twentieth": 20, "thirtieth": 30,
}

// quotes are the marks that people put around what they cite.
const quotes = "\"'“”„‟‘’‚‛«»‹›「」『』〝〞＂＇`"

// Unquote takes quotes off that stand around the whole of a text, in whatever language's way;
// a prime or an inch mark at its end alone stays.
func Unquote(text string) string {
	for {
		inside := strings.TrimSpace(text)
		marks := []rune(inside)
		if len(marks) < 3 || !strings.ContainsRune(quotes, marks[0]) ||
			!strings.ContainsRune(quotes, marks[len(marks)-1]) {
			return inside
		}
		text = string(marks[1 : len(marks)-1])
	}
}

// plainWords is a text in lower case and ASCII digits, without quotes around it, without
// marks that are not seen, with one space between words and numbers in digits.
func plainWords(text string) string {
	var plain strings.Builder
	for _, char := range strings.ToLower(Unquote(text)) {
		switch {
		case char >= '０' && char <= '９':
			char += '0' - '０'
		case char >= '٠' && char <= '٩':
			char += '0' - '٠'
		case char >= '۰' && char <= '۹':
			char += '0' - '۰'
		case char == '：':
			char = ':'
		case char == '’', char == '‘', char == 'ʼ':
			char = '\''
		case strings.ContainsRune("‐‑‒–—―−", char):
			char = '-'
		case unicode.IsSpace(char):
			char = ' '
		case unicode.Is(unicode.Cf, char), unicode.Is(unicode.So, char), unicode.Is(unicode.Mn, char):
			continue
		}
		plain.WriteRune(char)
	}
	return countedWords(strings.Join(strings.Fields(plain.String()), " "))
}

var letters = regexp.MustCompile(`\p{L}+`)

// countedWords puts digits in the place of numbers that are written out: "forty-five" is 45,
// "first" 1st.
func countedWords(text string) string {
	var out strings.Builder
	at, tens := 0, 0
	for _, span := range letters.FindAllStringIndex(text, -1) {
		word, between := text[span[0]:span[1]], text[at:span[0]]
		number, known := quantity.Cardinal(word)
		nth, ordinal := ordering[word]
		joins := tens > 0 && (between == " " || between == "-") && (number > 0 && number < 10 || nth > 0 && nth < 10)
		if tens > 0 && !joins {
			out.WriteString(strconv.Itoa(tens))
			tens = 0
		}
		if !joins {
			out.WriteString(between)
		}
		switch {
		case ordinal:
			out.WriteString(strconv.Itoa(tens+nth) + "th")
			tens = 0
		case known && number >= 20:
			tens = number
		case known:
			out.WriteString(strconv.Itoa(tens + number))
			tens = 0
		default:
			out.WriteString(word)
		}
		at = span[1]
	}
	if tens > 0 {
		out.WriteString(strconv.Itoa(tens))
	}
	out.WriteString(text[at:])
	return out.String()
}

// oneSlip reports whether a word is one slip of the finger from another: one letter more, less or
// other, or two that changed places.
func oneSlip(a, b string) bool {
	x, y := []rune(a), []rune(b)
	if len(x) > len(y) {
		x, y = y, x
	}
	if len(y)-len(x) > 1 {
		return false
	}
	i := 0
	for i < len(x) && x[i] == y[i] {
		i++
	}
	if len(x) < len(y) {
		return string(x[i:]) == string(y[i+1:])
	}
	if i == len(x) || string(x[i+1:]) == string(y[i+1:]) {
		return true
	}
	return i+1 < len(x) && x[i] == y[i+1] && x[i+1] == y[i] && string(x[i+2:]) == string(y[i+2:])
}
