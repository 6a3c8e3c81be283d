package quantity

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// spoken writes out what people say in words, as numbers and marks that the scanner
// reads: "forty-six thou" is 46 thou, "three quarters of an inch" is 3/4 inch, "between
// 44 and 46" is 44 to 46. Names of places stay as they are. about reports whether
// something says that a value is not exact ("about", "~", "ish").
func spoken(in plain, places []string) (out plain, about bool) {
	speech := &speech{in: in, places: places}
	for speech.pos < len(in.text) {
		speech.next()
	}
	speech.out.from = append(speech.out.from, in.from[len(in.text)])
	speech.out.text = speech.text.String()
	return speech.out, speech.about
}

// speech is a text on its way into numbers.
type speech struct {
	in      plain
	places  []string
	pos     int
	text    strings.Builder
	out     plain
	about   bool
	between bool // the next "and" stands between the ends of a range
}

// put writes text in place of what stands from the position to end.
func (s *speech) put(text string, end int) {
	s.text.WriteString(text)
	for range len(text) {
		s.out.from = append(s.out.from, s.in.from[s.pos])
	}
	s.pos = end
}

// keep copies what stands from the position to end.
func (s *speech) keep(end int) {
	s.text.WriteString(s.in.text[s.pos:end])
	s.out.from = append(s.out.from, s.in.from[s.pos:end]...)
	s.pos = end
}

// inexact are words that say that a value is not exact.
var inexact = []string{"about", "bout", "approximately", "approx.", "approx", "around", "roughly", "circa", "ca.",
	"or so", "ungefähr", "environ"}

// next writes out what stands at the position.
func (s *speech) next() {
	at, text := s.pos, s.in.text
	char, size := utf8.DecodeRuneInString(text[at:])
	previous, _ := utf8.DecodeLastRuneInString(text[:at])
	switch {
	case char == '~' || char == '≈' || char == '≃':
		s.about = true
		s.put(" ", at+size)
		return
	case !unicode.IsLetter(char):
		s.keep(at + size)
		return
	case unicode.IsLetter(previous):
		s.keep(at + size) // inside of a word
		return
	}
	// The name of a place is nothing else.
	for _, name := range s.places {
		if end := fullName(text, at, name); end > 0 {
			s.keep(end)
			return
		}
	}
	word, end := wordIn(text, at)
	behind := previous >= '0' && previous <= '9'
	switch {
	case behind && word == "ish":
		s.about = true
		s.put("", end)
	case behind && (word == "ths" || word == "th" || word == "nds" || word == "rds"):
		s.put("", end) // 13/16ths
	case word == "between":
		s.between = true
		s.put("", end)
	case s.between && word == "and":
		s.between = false
		s.put("to", end)
	default:
		s.words(word, end)
	}
}

// words writes out words that say a number, or that it is not exact.
func (s *speech) words(word string, end int) {
	for _, phrase := range inexact {
		if after := fullName(s.in.text, s.pos, phrase); after > 0 || strings.HasSuffix(phrase, ".") &&
			strings.HasPrefix(strings.ToLower(s.in.text[s.pos:]), phrase) {
			s.about = true
			s.put("", max(after, s.pos+len(phrase)))
			return
		}
	}
	if number, after, ok := spokenNumber(s.in.text, s.pos); ok {
		if s.afterEvery() && number == strconv.Itoa(len(s.places)) && !startsUnit(s.in.text[after:]) {
			number = "" // "all four"
		}
		s.put(number, after)
		return
	}
	// "3/4 of an inch".
	if before := strings.TrimRight(s.in.text[:s.pos], " "); word == "of" && before != "" &&
		before[len(before)-1] >= '0' && before[len(before)-1] <= '9' {
		if next, after := (wordReader{s.in.text, end}).peek(); next == "a" || next == "an" {
			s.put("", after)
			return
		}
	}
	// "1 and 1/16" is a whole number and its fraction.
	rest := strings.TrimLeft(s.in.text[end:], " ")
	if before := strings.TrimRight(s.in.text[:s.pos], " "); word == "and" && wholeAtEnd(before) {
		if number, after, ok := spokenNumber(rest, 0); ok && strings.Contains(number, "/") {
			s.put(number, len(s.in.text)-len(rest)+after)
			return
		}
		if fraction(rest) {
			s.put("", len(s.in.text)-len(rest))
			return
		}
	}
	s.keep(end)
}

// afterEvery reports whether a word for all places stands before the position.
func (s *speech) afterEvery() bool {
	before := strings.ToLower(strings.TrimRight(s.in.text[:s.pos], " "))
	for _, every := range everyPlace {
		if strings.HasSuffix(before, every) {
			return true
		}
	}
	return false
}

// wholeAtEnd reports whether a text ends with a whole number.
func wholeAtEnd(text string) bool {
	before := strings.TrimRight(text, "0123456789")
	return len(before) < len(text) && !strings.HasSuffix(before, ".") && !strings.HasSuffix(before, ",") &&
		!strings.HasSuffix(before, "/")
}

// wordIn is the word that begins at a byte, in small letters, and where it ends.
func wordIn(text string, at int) (word string, end int) {
	end = at
	for _, char := range text[at:] {
		if !unicode.IsLetter(char) {
			break
		}
		end += utf8.RuneLen(char)
	}
	return strings.ToLower(text[at:end]), end
}

// cardinals are numbers in words.
var cardinals = map[string]int{"zero": 0, "nought": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6,
	"seven": 7, "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14,
	"fifteen": 15, "sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19, "twenty": 20, "thirty": 30,
	"forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90}

// Cardinal is the number that one word in small letters says, under a hundred; ok is false
// for any other word.
func Cardinal(word string) (number int, ok bool) {
	number, ok = cardinals[word]
	return number, ok
}

// denominators are what the parts of a fraction are called. A tenth and a thousandth
// are units.
var denominators = map[string]int{"half": 2, "halves": 2, "third": 3, "thirds": 3, "quarter": 4, "quarters": 4,
	"fourth": 4, "fourths": 4, "eighth": 8, "eighths": 8, "sixteenth": 16, "sixteenths": 16, "thirtysecond": 32,
	"thirtyseconds": 32, "sixtyfourth": 64, "sixtyfourths": 64}

// wordReader reads words one after another; between them may stand spaces and hyphens.
type wordReader struct {
	text string
	pos  int
}

// peek is the next word, and where it ends.
func (r wordReader) peek() (word string, end int) {
	rest := strings.TrimLeft(r.text[r.pos:], " -")
	return wordIn(r.text, len(r.text)-len(rest))
}

// spokenNumber reads a number in words: "forty-six", "one point two", "a quarter", "three
// and a half", "eleven sixteenths". One word that is a number by itself counts, "one" only
// with something behind it that makes it a number.
func spokenNumber(text string, at int) (number string, end int, ok bool) {
	reader := wordReader{text, at}
	word, first := reader.peek()
	article := word == "a" || word == "an"
	if article {
		reader.pos = first
	} else if whole, after, found := reader.cardinal(); found {
		number, reader.pos = strconv.Itoa(whole), after
	}
	if next, _ := reader.peek(); article && (next == "tenth" || next == "thou" || next == "thousandth") {
		return "1", first, true
	}
	// A fraction: "a quarter", "three quarters", "half".
	if part, after, found := reader.parts(); found {
		above := "1"
		if number != "" {
			above = number
		}
		plain := word == "half" || word == "quarter"
		return above + "/" + strconv.Itoa(part), after, number != "" || article || plain
	}
	if number == "" {
		return "", at, false
	}
	// "one point two five".
	if word, after := reader.peek(); word == "point" {
		digits := wordReader{text, after}
		decimals := ""
		for {
			next, end := digits.peek()
			value, known := cardinals[next]
			if next == "oh" || next == "o" {
				known = true
			}
			if !known || value > 99 {
				break
			}
			decimals += strconv.Itoa(value)
			digits.pos = end
		}
		if decimals != "" {
			return number + "." + decimals, digits.pos, true
		}
	}
	// "two and a half".
	if word, after := reader.peek(); word == "and" {
		rest := wordReader{text, after}
		if next, _ := rest.peek(); next == "a" || next == "an" || cardinals[next] > 0 {
			if part, end, found := spokenNumber(text, after); found && strings.Contains(part, "/") &&
				!strings.Contains(part, " ") {
				return number + " " + part, end, true
			}
		}
	}
	return number, reader.pos, word != "one" || counts(text[reader.pos:])
}

// counts reports whether what follows "one" makes it a number: a unit's word, or nothing.
func counts(rest string) bool {
	rest = strings.TrimLeft(rest, " ")
	return rest == "" || strings.HasPrefix(rest, ",") || strings.HasPrefix(rest, ";") || startsUnit(rest)
}

// startsUnit reports whether a text begins with the word for a unit.
func startsUnit(rest string) bool {
	rest = strings.TrimLeft(rest, " ")
	for _, names := range unitNames {
		for _, known := range names {
			if len(known.name) > 1 && fullName(rest, 0, known.name) > 0 {
				return true
			}
		}
	}
	return false
}

// cardinal reads a whole number under a thousand.
func (r wordReader) cardinal() (value, end int, ok bool) {
	word, after := r.peek()
	value, ok = cardinals[word]
	if !ok {
		return 0, r.pos, false
	}
	r.pos = after
	if word, after := r.peek(); word == "hundred" && value > 0 && value < 10 {
		value, r.pos = value*100, after
		next := r
		if word, after := r.peek(); word == "and" {
			next.pos = after
		}
		if rest, after, found := next.cardinal(); found && rest < 100 {
			return value + rest, after, true
		}
		return value, r.pos, true
	}
	if value >= 20 {
		if word, after := r.peek(); cardinals[word] > 0 && cardinals[word] < 10 {
			return value + cardinals[word], after, true
		}
	}
	return value, r.pos, true
}

// parts reads the word for the parts of a fraction, and "of an" behind it. A
// thirty-second has its hyphen: "thirty seconds" are another thing.
func (r wordReader) parts() (denominator, end int, ok bool) {
	word, after := r.peek()
	denominator, ok = denominators[word]
	if !ok { // "thirty-second", "64th"
		second := wordReader{r.text, after}
		next, end := second.peek()
		if denominator, ok = denominators[word+next]; ok && strings.HasPrefix(r.text[after:], "-") {
			after = end
		} else {
			rest := strings.TrimLeft(r.text[r.pos:], " -")
			denominator, ok = ordinal(rest)
			after = len(r.text) - len(rest) + len("64th")
			if ok && strings.HasPrefix(r.text[after:], "s") {
				after++
			}
		}
	}
	if !ok {
		return 0, r.pos, false
	}
	of := wordReader{r.text, after}
	if word, end := of.peek(); word == "of" {
		of.pos = end
		if word, end := of.peek(); word == "a" || word == "an" {
			return denominator, end, true
		}
	}
	return denominator, after, true
}

// ordinal reads "16th", "32nd" or "64th".
func ordinal(text string) (denominator int, ok bool) {
	for _, known := range []struct {
		typed string
		is    int
	}{{"16th", 16}, {"32nd", 32}, {"64th", 64}} {
		if strings.HasPrefix(strings.ToLower(text), known.typed) {
			return known.is, true
		}
	}
	return 0, false
}
