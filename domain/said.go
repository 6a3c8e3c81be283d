package domain

import (
	"slices"
	"strings"
	"unicode"
)

// SaidOf is what words say of an inspection.
type SaidOf int

// What words say of an inspection.
const (
	NotSaid SaidOf = iota // neither, or not surely
	SaidPasses
	SaidFails
)

// passing and failing are what people write of an inspection, each the whole of it or what
// stands before the first comma, colon, semicolon or point.
var (
	passing = []string{
		"pass", "passes", "passed", "ok", "okay", "okey", "good", "very good", "fine", "all good", "all ok",
		"all okay", "all fine", "looks good", "looks ok", "looks fine", "seems fine", "works", "worked",
		"working", "it works", "works fine", "works as it should", "tested ok", "tested good", "checked ok",
		"no issues", "no issue", "no problem", "no problems", "no faults", "no fault",
		"nothing wrong", "no damage", "no cracks", "no play", "in order", "all in order",
		"in place", "all in place", "all there", "all tight", "all bolts tight",
		"as it should be", "perfect", "great", "up to spec", "bestanden",
		"in ordnung", "alles in ordnung", "alles gut", "alles ok", "alles fest", "io", "passt", "en ordre",
		"tout va bien", "conforme", "bien", "todo bien", "correcto", "en orden",
	}
	failing = []string{
		"fail", "fails", "failed", "failing", "bad", "not ok", "not okay", "not good", "not fine",
		"not in order", "not working", "does not work", "doesnt work", "did not work", "didnt work",
		"wont work", "dont work", "not tight", "not in place", "not there", "missing", "broken", "cracked",
		"loose", "worn out", "damaged", "stuck", "no good", "faulty", "defective", "not passed",
		"did not pass", "didnt pass", "does not pass", "doesnt pass", "kaputt", "nicht in ordnung", "nicht ok",
		"nio", "defekt", "durchgefallen", "en panne", "cassé", "non conforme", "mal", "roto", "no funciona",
	}
	// doubting are words that make a pass unsure, wherever behind it they stand.
	doubting = []string{
		"but", "except", "although", "though", "however", "not", "no", "loose", "stuck", "stick", "sticks",
		"sticking", "broken", "crack", "cracked", "cracks", "missing", "slow", "slowly", "worn", "bent", "bad",
		"fail", "fails", "failed", "almost", "mostly", "maybe", "perhaps", "think", "guess", "hot", "leak",
		"leaks", "until", "was", "were", "one", "barely", "hardly", "sometimes", "aber", "nicht", "mais",
		"pas", "pero",
	}
)

// InspectionSaid is what words say of an inspection, and what else they say of it: "passed,
// all swing free" passes, with a note. What is doubtful says neither: a question, a pass
// with a but. "pass:" and "fail:" are certain whatever stands behind them.
func InspectionSaid(text string) (said SaidOf, note string) {
	plain := strings.Map(func(char rune) rune {
		switch char {
		case '’', '\'', '.', '!', '\ufe0f':
			return -1
		}
		return unicode.ToLower(char)
	}, text)
	for _, mark := range []struct{ sign, word string }{{"👍", " ok "}, {"✅", " ok "}, {"✔", " ok "}, {"👌", " ok "},
		{"❌", " fail "}, {"✖", " fail "}, {"👎", " fail "}, {"⛔", " fail "}} {
		plain = strings.ReplaceAll(plain, mark.sign, mark.word)
	}
	verdict, rest := plain, ""
	if cut := strings.IndexAny(plain, ":,;—–("); cut >= 0 {
		verdict, rest = plain[:cut], plain[cut:]
	}
	if cut := strings.IndexAny(text, ":,;—–("); cut >= 0 {
		note = strings.Trim(text[cut:], " :,;—–()")
	}
	words := strings.FieldsFunc(verdict, func(char rune) bool { return !unicode.IsLetter(char) && char != '?' })
	words = slices.Compact(words) // "good good good"
	verdict = strings.Join(words, " ")
	others := strings.FieldsFunc(rest, func(char rune) bool { return !unicode.IsLetter(char) })
	switch {
	case strings.HasPrefix(rest, ":") && verdict == "pass":
		return SaidPasses, note
	case strings.HasPrefix(rest, ":") && verdict == "fail":
		return SaidFails, note
	case strings.Contains(plain, "?"):
		return NotSaid, ""
	case slices.Contains(failing, verdict):
		return SaidFails, note
	case slices.Contains(passing, verdict), slices.Contains(passing, withoutOK(words)):
		if slices.ContainsFunc(others, func(word string) bool { return slices.Contains(doubting, word) }) {
			return NotSaid, ""
		}
		return SaidPasses, note
	}
	return NotSaid, ""
}

// withoutOK is what other words say beside an ok, as of "good 👍".
func withoutOK(words []string) string {
	others := slices.DeleteFunc(slices.Clone(words), func(word string) bool { return word == "ok" })
	return strings.Join(others, " ")
}
