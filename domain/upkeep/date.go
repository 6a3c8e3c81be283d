package upkeep

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// DateOrder is in which order a shop writes a date in numbers: 3/2 is 3 February or 2 March.
type DateOrder string

// The orders; a shop that has not said which is asked wherever a date could be either.
const (
	NoOrder    DateOrder = ""
	DayFirst   DateOrder = "day first"
	MonthFirst DateOrder = "month first"
)

// date is a day of the calendar; a year of 0 was not said, nor a month of 0.
type date struct {
	year  int
	month time.Month
	day   int
}

// dateOf is the date of a moment as UTC shows it.
func dateOf(t time.Time) date {
	year, month, day := t.Date()
	return date{year, month, day}
}

// noon stands for the date in arithmetic with days.
func (d date) noon() time.Time { return time.Date(d.year, d.month, d.day, 12, 0, 0, 0, time.UTC) }

// plus is the date that many days later.
func (d date) plus(days int) date { return dateOf(d.noon().AddDate(0, 0, days)) }

// plusMonths is the date that many months later, on the last day of its month where that has no
// such day.
func (d date) plusMonths(months int) date {
	month := time.Date(d.year, d.month+time.Month(months), 1, 12, 0, 0, 0, time.UTC)
	return date{month.Year(), month.Month(), min(d.day, daysIn(month.Year(), month.Month()))}
}

func (d date) before(other date) bool { return d.noon().Before(other.noon()) }

func (d date) weekday() time.Weekday { return d.noon().Weekday() }

// String is the date as ISO 8601 writes it.
func (d date) String() string { return d.noon().Format(time.DateOnly) }

// daysIn is how many days a month has.
func daysIn(year int, month time.Month) int {
	return time.Date(year, month+1, 0, 12, 0, 0, 0, time.UTC).Day()
}

// real reports whether the calendar has such a date, in some year where none was said.
func (d date) real() bool {
	year := d.year
	if year == 0 {
		year = 2000 // a leap year
	}
	return d.month >= 1 && d.month <= 12 && d.day >= 1 && d.day <= daysIn(year, d.month)
}

var monthNames = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september",
	"october", "november", "december"}

// monthNamed is the month of that name, of at least three letters of it, or of one slip from it.
func monthNamed(word string) (time.Month, bool) {
	word = strings.TrimSuffix(word, ".")
	if len(word) < 3 {
		return 0, false
	}
	for i, name := range monthNames {
		if strings.HasPrefix(name, word) || word == "sept" && i == 8 {
			return time.Month(i + 1), true
		}
	}
	found := slipped(word, monthNames)
	return time.Month(found + 1), found >= 0
}

// slipped is which name a word of five letters or more is one slip from, or -1 for none or several.
func slipped(word string, names []string) int {
	found := -1
	if len(word) < 5 {
		return found
	}
	for i, name := range names {
		if !oneSlip(word, name) {
			continue
		}
		if found >= 0 {
			return -1
		}
		found = i
	}
	return found
}

// The ways in which a date is written.
var (
	isoDate    = regexp.MustCompile(`^(\d{4})([-/.])(\d{1,2})([-/.])(\d{1,2})`)
	digitsDate = regexp.MustCompile(`^((?:19|20)\d{2})(\d{2})(\d{2})`)
	threeDate  = regexp.MustCompile(`^(\d{1,2})([-/.]) ?(\d{1,2})([-/.]) ?(\d{4}|\d{2})`)
	dottedDate = regexp.MustCompile(`^(\d{1,2})\. ?(\d{1,2})\.`)
	twoDate    = regexp.MustCompile(`^(\d{1,2})([-/.])(\d{1,2})`)
	dayMonth   = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th|\.)?(?: of)?[ -]?(\p{L}{3,})\.?`)
	monthDay   = regexp.MustCompile(`^(\p{L}{3,})\.?[ -]?(?:the )?(\d{1,2})(?:st|nd|rd|th)?`)
	yearAfter  = regexp.MustCompile(`^(?:, ?| |-|/)(?:(\d{4})|'(\d{2})|(\d{2}))`)
	nthDay     = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th)`)
)

// readDate reads a date at the beginning of a text: all that it may mean, by the order in which the
// shop writes it. None, with ok, is one that no calendar has.
func (c Clocks) readDate(text string) (dates []date, length int, ok bool) {
	begins := func(pattern *regexp.Regexp) []string {
		found := pattern.FindStringSubmatch(text)
		if found == nil {
			return nil
		}
		length = len(found[0])
		rest := text[length:]
		if !ends(text, length) && !(len(rest) > 1 && rest[0] == 't' && rest[1] >= '0' && rest[1] <= '9') {
			return nil
		}
		return found
	}
	if found := begins(isoDate); found != nil && found[2] == found[4] {
		return realDates(date{number(found[1]), time.Month(number(found[3])), number(found[5])}), length, true
	}
	if found := begins(digitsDate); found != nil {
		return realDates(date{number(found[1]), time.Month(number(found[2])), number(found[3])}), length, true
	}
	if found := begins(threeDate); found != nil && found[2] == found[4] {
		return c.ordered(number(found[1]), number(found[3]), c.year(found[5])), length, true
	}
	if found := begins(dottedDate); found != nil {
		return realDates(date{0, time.Month(number(found[2])), number(found[1])}), length, true
	}
	if found := begins(twoDate); found != nil && (found[2] != "." || len(found[3]) == 1) {
		return c.ordered(number(found[1]), number(found[3]), 0), length, true
	}
	if found := dayMonth.FindStringSubmatch(text); found != nil && ends(text, len(found[0])) || found != nil &&
		yearAfter.MatchString(text[len(found[0]):]) {
		if month, named := monthNamed(found[2]); named {
			year, more := c.yearAfter(text[len(found[0]):])
			return realDates(date{year, month, number(found[1])}), len(found[0]) + more, true
		}
	}
	if found := begins(monthDay); found != nil {
		if month, named := monthNamed(found[1]); named {
			year, more := c.yearAfter(text[length:])
			return realDates(date{year, month, number(found[2])}), length + more, true
		}
	}
	if found := begins(nthDay); found != nil {
		if day := number(found[1]); day >= 1 && day <= 31 {
			return []date{{0, 0, day}}, length, true
		}
		return nil, length, true
	}
	return nil, 0, false
}

// realDates are those that the calendar has.
func realDates(all ...date) []date {
	return slices.DeleteFunc(all, func(d date) bool { return !d.real() })
}

// ordered are the dates that two numbers and a year may mean, by the shop's order.
func (c Clocks) ordered(a, b, year int) []date {
	dayFirst, monthFirst := date{year, time.Month(b), a}, date{year, time.Month(a), b}
	switch {
	case !dayFirst.real():
		return realDates(monthFirst)
	case !monthFirst.real() || a == b || c.Dates == DayFirst:
		return realDates(dayFirst)
	case c.Dates == MonthFirst:
		return realDates(monthFirst)
	}
	return []date{dayFirst, monthFirst}
}

// year is a year as it was written, in full or by its last two digits.
func (c Clocks) year(digits string) int {
	year := number(digits)
	if len(digits) == 2 {
		year += 2000
	}
	return year
}

// yearAfter reads the year that may stand after a day and a month, and says how long it is. Two
// digits alone may be an hour unless they are too large.
func (c Clocks) yearAfter(text string) (year, length int) {
	found := yearAfter.FindStringSubmatch(text)
	if found == nil || !ends(text, len(found[0])) {
		return 0, 0
	}
	switch {
	case found[1] != "":
		year = number(found[1])
		near := c.today().year
		if strings.HasPrefix(found[0], " ") && (year < near-3 || year > near+3) && year%100 < 60 && year/100 < 24 {
			return 0, 0 // rather a time of day without its colon
		}
	case found[2] != "":
		year = 2000 + number(found[2])
	case number(found[3]) > 23:
		year = 2000 + number(found[3])
	default:
		return 0, 0
	}
	return year, len(found[0])
}

// today is the date on the shop's clocks.
func (c Clocks) today() date { return dateOf(c.Now.In(c.Loc)) }

// number reads digits that a pattern has let through.
func number(digits string) int {
	n, _ := strconv.Atoi(digits)
	return n
}

// last is when a date came last, today among it; false where it has none near.
func (d date) last(today date) (date, bool) {
	switch {
	case d.year != 0:
		return d, true
	case d.month == 0:
		for back := range 3 {
			month := date{today.year, today.month, 1}.plusMonths(-back)
			if found := (date{month.year, month.month, d.day}); found.real() && !today.before(found) {
				return found, true
			}
		}
		return d, false
	}
	for _, year := range []int{today.year, today.year - 1} {
		if found := (date{year, d.month, d.day}); found.real() && !today.before(found) {
			return found, true
		}
	}
	return d, false
}

// next is when a date comes next, today among it; false where it has none near.
func (d date) next(today date) (date, bool) {
	switch {
	case d.year != 0:
		return d, true
	case d.month == 0:
		for ahead := range 3 {
			month := date{today.year, today.month, 1}.plusMonths(ahead)
			if found := (date{month.year, month.month, d.day}); found.real() && !found.before(today) {
				return found, true
			}
		}
		return d, false
	}
	for _, year := range []int{today.year, today.year + 1} {
		if found := (date{year, d.month, d.day}); found.real() && !found.before(today) {
			return found, true
		}
	}
	return d, false
}
