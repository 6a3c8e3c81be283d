package upkeep

import (
	"fmt"
	"regexp"
	"strings"

	"setscrew/domain/quantity"
)

// CodeVague is the code of a quantity.Refusal for a length of time that says no number.
const CodeVague = "vague"

var (
	roughBefore = regexp.MustCompile(`^(?:(?:about|around|approx\.?|approximately|roughly|circa|ca\.?|bout|` +
		`maybe|perhaps|probably|nearly|almost|some|say|just (?:over|under)|a bit (?:over|under)) |[~≈] ?)+`)
	roughAfter = regexp.MustCompile(`(?: or so| or thereabouts| roughly| approx\.?| approximately|` +
		` give or take|,? about)$`)
	roughWithin = regexp.MustCompile(`([0-9a-z])-?ish\b`)
	idleBefore  = regexp.MustCompile(`^(?:it )?(?:ran |used |ran for |for |run |running )+`)
	idleAfter   = regexp.MustCompile(`(?: of (?:use|running|run ?time)| in all| in total| altogether|[.!])$`)
	noNumber    = regexp.MustCompile(`^(?:a few|few|several|some|many|lots(?: of)?|` +
		`a lot(?: of)?|all|most|half a|the whole)` +
		`(?: (?:minutes|hours|hrs|the|day|morning|afternoon|evening|night|days|weeks))*$`)
	eitherUse = regexp.MustCompile(`^([0-9.]+) ?(?:[a-z]*) ?(?:or|to|-) ?([0-9.]+) ?([a-z]+)?$`)
	twoPlaces = regexp.MustCompile(`^(\d+):(\d{2}):(\d{2})$`)
	anHour    = regexp.MustCompile(`\ban? (?:full |whole |good )?(hours?|hr|minute|min)\b`)
	coupleOf  = regexp.MustCompile(`^(?:a )?couple (?:of )?`)
	hourWord  = regexp.MustCompile(`(\d|\b)(?:horus|houres|huors|hous|houre|hour's)\b`)
	isoUse    = regexp.MustCompile(`^pt(?:(\d+)h)?(?:(\d+)m)?$`)
	andParts  = regexp.MustCompile(`(h|hr|hrs|hours?|minutes?|mins?|min),? (?:and|&|\+) `)
	partHour  = regexp.MustCompile(`^(?:an? |1 )?(half|quarter|third|3th)(?: (?:of )?)?(?:an? )?(?: ?(?:hour|hr|h))$`)
	quarters  = regexp.MustCompile(`^(?:3|three)[ -]?quarters?(?: of)?(?: an?)? (?:hour|hr|h)$|^3/4 of an hour$`)
	andPart   = regexp.MustCompile(`^(?:(\d+)|an?)?(?: ?(?:hours?|hrs?|h))?,? ?(?:and |& ?)?` +
		`(?:an? )?(half|quarter|third|3th|3 quarters?|1/2|1/4|3/4|½|¼|¾|⅓|⅔)(?: (?:of )?an)?(?: ?(?:hours?|hrs?|h))?$`)
	plusParts = regexp.MustCompile(` ?\+ ?| plus |,? then (?:another )?| and (?:then )?(?:another )`)
	hourTail  = regexp.MustCompile(`^(\d+) ?(?:hours?|hrs?) (\d{1,2})$`)
)

// parts of an hour in minutes.
var hourParts = map[string]int{"half": 30, "quarter": 15, "third": 20, "3th": 20,
	"3 quarters": 45, "3 quarter": 45, "1/2": 30,
	"1/4": 15, "3/4": 45, "½": 30, "¼": 15, "¾": 45, "⅓": 20, "⅔": 40}

// ParseRan reads how long something ran, as people write it: whatever quantity.Parse reads of a duration, and in words:
// "half an hour", "an hour and a half", "two", "1 h 1/2", "1:30:00", "about 2", "90 min or so". A number alone is of
// that unit; of none, "", it is a *quantity.Refusal. Like quantity.Parse it refuses with a *quantity.Refusal and asks
// with a *quantity.Ambiguity.
func ParseRan(text string, unit quantity.Unit) (quantity.Parsed, error) {
	words, about := roughly(plainWords(text))
	context := quantity.Context{Kind: quantity.Duration, Entry: unit}
	read := func(plain string) (quantity.Parsed, error) {
		parsed, err := quantity.Parse(plain, context)
		parsed.About = about
		return parsed, err
	}
	if noNumber.MatchString(words) {
		return quantity.Parsed{}, &quantity.Refusal{Input: text, Code: CodeVague, Want: "a number of hours or minutes",
			Example: "1.5 h"}
	}
	if found := eitherUse.FindStringSubmatch(words); found != nil && (strings.Contains(words, "or") ||
		strings.Contains(words, "to") || strings.Contains(words, "-")) {
		named := found[3]
		if named == "" && unit != "" {
			named = string(unit)
		}
		asked := &quantity.Ambiguity{Input: text, Code: quantity.AmbiguousRange}
		for _, one := range found[1:3] {
			parsed, err := read(one + " " + named)
			if err != nil {
				return quantity.Parsed{}, err
			}
			asked.Options = append(asked.Options, quantity.Option{Text: quantity.Typed(parsed.Value, parsed.Unit)})
		}
		return quantity.Parsed{}, asked
	}
	plain, ok := numbered(words)
	if !ok {
		use, err := read(words)
		if err != nil {
			// What it says of the words as they were typed.
			if _, asTyped := quantity.Parse(Unquote(text), context); asTyped != nil {
				err = asTyped
			}
		}
		return use, err
	}
	// Several lengths, one after the other.
	total, err := read(plain[0])
	for _, part := range plain[1:] {
		if err != nil {
			break
		}
		var more quantity.Parsed
		if more, err = read(part); err == nil {
			total.Value, total.Bare = total.Value.Add(more.Value), total.Bare && more.Bare
		}
	}
	return total, err
}

// roughly takes what says that a length is so roughly, and what says nothing, from around it.
func roughly(words string) (rest string, about bool) {
	for {
		next := words
		if found := roughBefore.FindString(next); found != "" {
			next, about = next[len(found):], true
		}
		if found := roughAfter.FindString(next); found != "" {
			next, about = strings.TrimSuffix(next, found), true
		}
		if roughWithin.MatchString(next) {
			next, about = roughWithin.ReplaceAllString(next, "$1"), true
		}
		next = idleAfter.ReplaceAllString(idleBefore.ReplaceAllString(next, ""), "")
		if found := coupleOf.FindString(next); found != "" {
			next, about = "2 "+next[len(found):], true
		}
		if next = strings.TrimSpace(next); next == words {
			return words, about
		}
		words = next
	}
}

// numbered is a length in words as lengths in numbers that quantity reads, one after the other; false where it is not
// in words.
func numbered(words string) (plain []string, ok bool) {
	for _, part := range plusParts.Split(words, -1) {
		part = strings.TrimSpace(part)
		changed := hourWord.ReplaceAllString(part, "${1}hours")
		changed = andParts.ReplaceAllString(changed, "$1 ")
		if minutes, found := minutesIn(changed); found {
			changed = fmt.Sprintf("%d min", minutes)
		}
		if found := twoPlaces.FindStringSubmatch(changed); found != nil && number(found[2]) < 60 &&
			number(found[3]) < 60 {
			changed = fmt.Sprintf("%d s", 3600*number(found[1])+60*number(found[2])+number(found[3]))
		}
		if found := isoUse.FindStringSubmatch(changed); found != nil && changed != "pt" {
			changed = fmt.Sprintf("%d min", 60*number(found[1])+number(found[2]))
		}
		if found := hourTail.FindStringSubmatch(changed); found != nil && number(found[2]) < 60 {
			changed = fmt.Sprintf("%d min", 60*number(found[1])+number(found[2]))
		}
		changed = anHour.ReplaceAllString(changed, "1 $1")
		ok = ok || changed != part
		plain = append(plain, changed)
	}
	return plain, ok || len(plain) > 1
}

// minutesIn are the minutes of a length that is said by parts of an hour.
func minutesIn(words string) (minutes int, ok bool) {
	if found := partHour.FindStringSubmatch(words); found != nil {
		return hourParts[found[1]], true
	}
	if quarters.MatchString(words) {
		return 45, true
	}
	found := andPart.FindStringSubmatch(words)
	if found == nil {
		return 0, false
	}
	// Some hours and a part of one: with the hour named on either side, or "and" between.
	hours := 1
	if found[1] != "" {
		hours = number(found[1])
	}
	named := strings.ContainsAny(strings.TrimSuffix(words, found[2]), "hd") || strings.Contains(words, "and ")
	if !named || strings.HasPrefix(words, found[2]) || hours > 1000 {
		return 0, false
	}
	return 60*hours + hourParts[found[2]], true
}
