package upkeep

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"setscrew/domain/quantity"
)

// Clocks are what a time is read by: the moment at which it is said, the shop's zone, and in which
// order the shop writes dates in numbers.
type Clocks struct {
	Now   time.Time
	Loc   *time.Location
	Dates DateOrder
}

// WhenCode names why a time could not be taken.
type WhenCode string

// The codes: it cannot be read, has not come yet, or is over; the calendar has no such date, or no
// clock shows such a time; it names no day, or is too far away; it may be one of several, among which is asked.
const (
	Unreadable WhenCode = "unreadable"
	Future     WhenCode = "future"
	Past       WhenCode = "past"
	NoDate     WhenCode = "no-date"
	NoClock    WhenCode = "no-clock"
	Vague      WhenCode = "vague"
	Far        WhenCode = "far"
	Unsure     WhenCode = "unsure"
)

// WhenError is a time that cannot be taken as it stands. Part is what of it was wrong; Example can be
// taken and keeps what was right. Options are what it may mean, each written so that it means that
// alone; there are none unless it is Unsure, or was likely meant to be another.
type WhenError struct {
	Input   string
	Code    WhenCode
	Part    string
	Example string
	Options []string
}

// Error says what was wrong, for logs.
func (e *WhenError) Error() string {
	return fmt.Sprintf("time %q: %s %q, %v; such as %q", e.Input, e.Code, e.Part, e.Options, e.Example)
}

var weekdays = map[string]time.Weekday{
	"sunday": 0, "sun": 0, "monday": 1, "mon": 1, "tuesday": 2, "tue": 2, "tues": 2, "wednesday": 3, "wed": 3,
	"weds": 3, "thursday": 4, "thu": 4, "thur": 4, "thurs": 4, "friday": 5, "fri": 5, "saturday": 6, "sat": 6,
}

// ReadWeekday is the day of the week of that name, of its first three letters, in the plural, or of one slip from it.
func ReadWeekday(word string) (time.Weekday, bool) {
	word = strings.TrimSuffix(strings.ToLower(word), ".")
	if day, ok := weekdays[word]; ok {
		return day, true
	}
	if day, ok := weekdays[strings.TrimSuffix(word, "s")]; ok {
		return day, true
	}
	found := slipped(word, dayNames)
	return time.Weekday(max(found, 0)), found >= 0
}

var dayNames = []string{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"}

// What words do in a time: nothing, or they say that it is about then.
var (
	idleWords = map[string]bool{"at": true, "on": true, "the": true, "of": true, "in": true, "by": true, "that": true,
		"and": true, "from": true, "this": true, "day": true}
	roughWords = map[string]bool{"about": true, "around": true, "approx": true, "approximately": true, "roughly": true,
		"circa": true, "ca": true, "bout": true, "early": true, "late": true, "ish": true}
	// Days by their distance from today.
	nearDays = map[string]int{"today": 0, "yesterday": -1, "yday": -1, "tomorrow": 1, "tmrw": 1}
	// What can be one slip away.
	slipWords = []string{"today", "yesterday", "tomorrow", "morning", "afternoon", "evening", "night", "tonight",
		"around", "about"}
	vagueWords = map[string]bool{"week": true, "weekend": true, "month": true, "year": true, "other": true,
		"recently": true, "lately": true}
)

// said is what was said of a time.
type said struct {
	by Clocks

	faces  []face
	bare   bool // the last face is a number alone
	during *part
	dates  []date // what a date may mean
	dated  string // as it was written, "" for none
	amiss  string // a date that no calendar has
	near   *int   // days from today
	called string // the day by its words, as they were written
	named  *time.Weekday
	last   bool
	next   bool
	vague  string
	rough  bool
	other  string // the first that means nothing
}

// hear reads what a text says of a time, in whatever order.
func (c Clocks) hear(text string) *said {
	s := &said{by: c}
	for {
		text = strings.TrimLeft(text, " ,;@~≈")
		if text == "" {
			return s
		}
		text = text[s.take(text):]
		if strings.HasPrefix(text, "- ") || strings.HasPrefix(text, ". ") || strings.HasPrefix(text, ": ") ||
			text == "." || text == "-" || text == ":" {
			text = text[1:]
		}
	}
}

var (
	oneWord      = regexp.MustCompile(`^[\p{L}'][\p{L}']*\.?`)
	beforeBefore = regexp.MustCompile(`^(?:the )?day before yesterday\b`)
	afterNext    = regexp.MustCompile(`^(?:the )?day after tomorrow\b`)
)

// take reads the beginning of a text and says how much of it.
func (s *said) take(text string) int {
	if found := beforeBefore.FindString(text); found != "" {
		s.nearly(-2, found)
		return len(found)
	}
	if found := afterNext.FindString(text); found != "" {
		s.nearly(2, found)
		return len(found)
	}
	if dates, length, ok := s.by.readDate(text); ok {
		s.date(dates, text[:length])
		if rest := text[length:]; len(rest) > 1 && rest[0] == 't' {
			length++
		}
		return length
	}
	if read, length, ok := readFace(text); ok {
		s.face(read)
		return length
	}
	if found := bareFace.FindString(text); found != "" && ends(text, len(found)) {
		s.face(face{text: found, hour: number(found), whole: found[0] == '0'})
		s.bare = true
		return len(found)
	}
	if found := oneWord.FindString(text); found != "" {
		s.word(strings.TrimSuffix(strings.TrimSuffix(found, "."), "'s"))
		return len(found)
	}
	word, _, _ := strings.Cut(text, " ")
	s.unknown(word)
	return len(word)
}

// face takes a time of day; of two, one with a dot between may be a date.
func (s *said) face(read face) {
	s.faces = append(s.faces, read)
	if len(s.faces) < 2 || s.hasDay() {
		return
	}
	for i, read := range s.faces {
		if dates := read.asDate(); len(dates) > 0 {
			s.faces = slices.Delete(s.faces, i, i+1)
			s.date(dates, read.text)
			return
		}
	}
}

// asDate are the dates that a time of day with a dot between may be: those who write one so say
// the day first.
func (f face) asDate() []date {
	if !strings.Contains(f.text, ".") || f.half != 0 {
		return nil
	}
	return realDates(date{0, time.Month(f.minute), f.hour})
}

// hasDay reports whether a day was said.
func (s *said) hasDay() bool {
	return s.dated != "" || s.near != nil || s.named != nil || s.vague != ""
}

// date takes a date.
func (s *said) date(dates []date, written string) {
	switch {
	case s.dated != "":
		s.unknown(written)
		return
	case len(dates) == 0:
		s.amiss = written
	}
	s.dates, s.dated = dates, written
}

// nearly takes a day by its distance from today.
func (s *said) nearly(days int, written string) {
	if s.near != nil || s.named != nil {
		s.unknown(written)
	}
	s.near, s.called = &days, written
}

// unknown keeps the first that means nothing.
func (s *said) unknown(written string) {
	if s.other == "" {
		s.other = written
	}
}

// word takes a word.
func (s *said) word(word string) {
	if i := slipped(word, slipWords); i >= 0 {
		word = slipWords[i]
	}
	if days, ok := nearDays[word]; ok {
		s.nearly(days, word)
		return
	}
	if during, ok := dayParts[word]; ok {
		if s.during != nil {
			s.unknown(word)
		}
		s.during = during
		if word == "tonight" {
			s.nearly(0, word)
		}
		return
	}
	switch {
	case word == "last" || word == "past" || word == "previous":
		s.last = true
		return
	case word == "next" || word == "coming":
		s.next = true
		return
	case roughWords[word]:
		s.rough = true
		return
	case idleWords[word]:
		return
	case vagueWords[word]:
		s.vague = word
		return
	}
	if _, ok := monthNamed(word); ok {
		s.vague = word
		return
	}
	weekday, ok := ReadWeekday(word)
	if !ok || s.named != nil || s.near != nil {
		s.unknown(word)
		return
	}
	s.named, s.called = &weekday, word
}

// ParseWhen reads when something happened, as people write it, on the shop's
// clocks: "" or "now", "40 min ago", "an hour and a half ago", "17:30" or "5:30 pm" (today),
// "today 9:15", "yesterday 17:30", "yesterday evening", "monday 10:00" and "last monday" (the last one),
// "2 Mar 18:00", "march 2 6pm" (the last one), "2026-03-02 09:00", "2/3" in the shop's order. A day
// without a time is taken at noon, or now if that is earlier; one with a part of it at that part's usual time.
// Whatever is not read so, has not happened yet, or may be one of several is a *WhenError.
func ParseWhen(text string, by Clocks) (time.Time, error) {
	words := plainWords(text)
	switch words {
	case "", "now", "just now", "right now", "a moment ago":
		return by.Now, nil
	}
	if when, code := by.ago(words); code != "" {
		return when, by.fail(text, code, words, "40 min ago")
	} else if !when.IsZero() {
		return when, nil
	}
	s := by.hear(words)
	when, refused := s.happened()
	if refused == nil {
		return when, nil
	}
	refused.Input = text
	refused.Example = s.example(func(example string) bool {
		_, refused := by.hear(plainWords(example)).happened()
		return refused == nil
	})
	return time.Time{}, refused
}

// fail is a refusal where there is a code.
func (c Clocks) fail(text string, code WhenCode, part, example string) error {
	if code == "" {
		return nil
	}
	return &WhenError{Input: text, Code: code, Part: part, Example: example}
}

// happened is the time in the past that was said.
func (s *said) happened() (time.Time, *WhenError) {
	if refused := s.sound(); refused != nil {
		return time.Time{}, refused
	}
	if s.next {
		return time.Time{}, &WhenError{Code: Future}
	}
	days, refused := s.lastDays()
	if refused != nil {
		return time.Time{}, refused
	}
	all, refused := s.times(days)
	if refused != nil {
		return time.Time{}, refused
	}
	if dates := s.dotted(); len(dates) > 0 {
		// A date with a dot between, as much as a time.
		other := &said{by: s.by, dates: dates, dated: s.faces[0].text}
		if t, refused := other.happened(); refused == nil {
			all = append(all, t)
		}
	}
	been := slices.DeleteFunc(slices.Clone(all), func(t time.Time) bool { return t.After(s.by.Now) })
	if s.near == nil && !s.hasDay() && s.during == nil && len(s.faces) == 1 && len(all) == 2 && len(been) == 1 &&
		s.faces[0].minutes && s.faces[0].hour < 8 {
		// Before dawn today, or yesterday in the afternoon.
		been = append(been, all[1].In(s.by.Loc).AddDate(0, 0, -1))
	}
	switch len(been) {
	case 0:
		refused := &WhenError{Code: Future}
		if !s.hasDay() {
			for _, t := range all {
				refused.Options = append(refused.Options, s.by.written(t.In(s.by.Loc).AddDate(0, 0, -1)))
			}
		} else if s.dated != "" && len(s.dates) > 0 && s.dates[0].year == 0 {
			for _, t := range all {
				refused.Options = append(refused.Options, s.by.written(t.In(s.by.Loc).AddDate(-1, 0, 0)))
			}
		}
		return time.Time{}, refused
	case 1:
		return been[0], nil
	}
	return time.Time{}, s.question(been)
}

// dotted are the dates that a time of day which is all that was said may be instead.
func (s *said) dotted() []date {
	if s.hasDay() || s.during != nil || len(s.faces) != 1 {
		return nil
	}
	return s.faces[0].asDate()
}

// question asks which of several was meant.
func (s *said) question(all []time.Time) *WhenError {
	asked := &WhenError{Code: Unsure}
	slices.SortFunc(all, time.Time.Compare)
	for _, t := range all {
		if text := s.by.written(t); !slices.Contains(asked.Options, text) {
			asked.Options = append(asked.Options, text)
		}
	}
	return asked
}

// written is a moment so that it is read as that and nothing else.
func (c Clocks) written(t time.Time) string { return t.In(c.Loc).Format("2006-01-02 15:04") }

// sound refuses what no reading of the day can mend.
func (s *said) sound() *WhenError {
	switch {
	case s.other != "":
		return &WhenError{Code: Unreadable, Part: s.other}
	case s.amiss != "":
		return &WhenError{Code: NoDate, Part: s.amiss}
	case len(s.faces) > 1:
		return &WhenError{Code: Unreadable, Part: s.faces[1].text}
	case s.near != nil && s.dated != "":
		return &WhenError{Code: Unreadable, Part: s.dated}
	case s.vague != "" && (s.vague != "weekend" || s.dated != "" || s.named != nil || s.near != nil):
		return &WhenError{Code: Vague, Part: s.vague}
	case len(s.faces) == 0 && !s.hasDay() && s.during == nil:
		return &WhenError{Code: Unreadable}
	case s.last && s.named == nil && s.during == nil && s.vague == "" || s.last && s.near != nil:
		return &WhenError{Code: Unreadable, Part: "last"}
	}
	return nil
}

// lastDays are the days that may be meant by one in the past.
func (s *said) lastDays() ([]date, *WhenError) {
	today := s.by.today()
	switch {
	case s.vague == "weekend":
		sunday := today.plus(-int(today.weekday()))
		if sunday == today && s.last {
			sunday = today.plus(-7)
		}
		return []date{sunday.plus(-1), sunday}, nil
	case s.dated != "":
		var days []date
		for _, d := range s.dates {
			last, ok := d.last(today)
			if !ok {
				return nil, &WhenError{Code: NoDate, Part: s.dated}
			}
			if next, _ := d.next(today); d.year == 0 && d.month != 0 && next.before(today.plus(90)) {
				last = next
			}
			days = append(days, last)
		}
		return s.onNamed(days)
	case s.named != nil:
		back := today.plus(-((int(today.weekday()) - int(*s.named) + 7) % 7))
		switch {
		case back != today:
			return []date{back}, nil
		case s.last:
			return []date{today.plus(-7)}, nil
		}
		return []date{today.plus(-7), today}, nil
	case s.near != nil:
		return []date{today.plus(*s.near)}, nil
	case s.last:
		return []date{today.plus(-1)}, nil
	}
	return []date{today}, nil
}

// onNamed keeps the days that fall on the day of the week that was named beside a date; where none
// does, either may be wrong.
func (s *said) onNamed(days []date) ([]date, *WhenError) {
	if s.named == nil {
		return days, nil
	}
	fit := slices.DeleteFunc(slices.Clone(days), func(d date) bool { return d.weekday() != *s.named })
	if len(fit) > 0 {
		return fit, nil
	}
	var may []time.Time
	for _, d := range days {
		// The date, and the days so called on either side of it.
		before := d.plus(-((int(d.weekday()) - int(*s.named) + 7) % 7))
		for _, day := range []date{d, before, before.plus(7)} {
			times, refused := s.times([]date{day})
			if refused != nil {
				return nil, refused
			}
			for _, t := range times {
				if !t.After(s.by.Now) {
					may = append(may, t)
				}
			}
		}
	}
	if len(may) == 0 {
		return nil, &WhenError{Code: Future}
	}
	asked := s.question(may)
	asked.Part = s.called
	return nil, asked
}

// times are the moments on those days that were said, each once, in order.
func (s *said) times(days []date) ([]time.Time, *WhenError) {
	var all []time.Time
	for _, d := range days {
		moments := []moment{{Clock(12, 0), 0}}
		switch {
		case len(s.faces) > 0:
			moments = s.faces[0].moments(s.during)
			if len(moments) == 0 {
				return nil, s.noClock()
			}
			if s.faces[0].text == "midnight" && s.during == nil {
				moments = []moment{{0, 0}, {0, 1}} // at which end of the day
			}
		case s.during != nil:
			moments[0].at = s.during.usual
		}
		for _, m := range moments {
			t := m.at.On(d.year, d.month, d.day+m.next, s.by.Loc)
			if len(s.faces) == 0 && t.After(s.by.Now) && d == s.by.today() && (s.during == nil ||
				!s.during.from.On(d.year, d.month, d.day, s.by.Loc).After(s.by.Now)) {
				t = s.by.Now // it has begun
			}
			all = append(all, t)
		}
	}
	slices.SortFunc(all, time.Time.Compare)
	return slices.CompactFunc(all, time.Time.Equal), nil
}

// noClock refuses a time that no clock shows; one past noon by both ways of counting was likely meant.
func (s *said) noClock() *WhenError {
	read := s.faces[0]
	refused := &WhenError{Code: NoClock, Part: read.text}
	if read.half == 'p' && read.hour > 12 && read.hour < 24 && read.minute < 60 && !s.hasDay() {
		refused.Options = []string{Clock(read.hour, read.minute).String()}
	}
	return refused
}

// example is a time that works and keeps what was right of what was said.
func (s *said) example(works func(string) bool) string {
	clock := "17:30"
	if len(s.faces) > 0 {
		if all := s.faces[0].moments(s.during); len(all) > 0 {
			clock = all[len(all)-1].at.String()
		}
	} else if s.during != nil {
		clock = s.during.name
	}
	days := []string{"yesterday"}
	switch {
	case s.dated != "" && s.amiss == "":
		days = []string{s.dated, "yesterday"}
	case s.called != "":
		days = []string{s.called, "last " + s.called, "yesterday"}
	}
	for _, day := range days {
		if works(day + " " + clock) {
			return day + " " + clock
		}
	}
	return "40 min ago"
}

// IsClock reports whether a text is a time of day alone, whatever day it is of.
func IsClock(text string) bool {
	s := Clocks{Loc: time.UTC}.hear(plainWords(text))
	return len(s.faces) == 1 && !s.bare && !s.hasDay() && s.other == "" && s.during == nil
}

var agoText = regexp.MustCompile(`^(.+?) ago\b(.*)$`)

// ago is a time so long ago, or zero where a text says none.
func (c Clocks) ago(text string) (time.Time, WhenCode) {
	found := agoText.FindStringSubmatch(text)
	if found == nil {
		return time.Time{}, ""
	}
	span, ok := readSpan(found[1])
	if !ok {
		return time.Time{}, Unreadable
	}
	then := c.today().plusMonths(-span.months).plus(-span.days)
	clock := c.hear(found[2])
	switch {
	case clock.hasDay() || clock.other != "" || clock.during != nil || len(clock.faces) > 1 || clock.last || clock.next:
		return time.Time{}, Unreadable
	case then.before(c.today().plus(-100 * 365)):
		return time.Time{}, Unreadable
	case len(clock.faces) == 1:
		moments := clock.faces[0].moments(nil)
		if len(moments) != 1 || !span.dated() {
			return time.Time{}, Unreadable
		}
		return moments[0].at.On(then.year, then.month, then.day, c.Loc), ""
	case span.dated():
		now := c.Now.In(c.Loc)
		return LocalTime(then.year, then.month, then.day, now.Hour(), now.Minute(), c.Loc).
			Add(time.Duration(now.Second()) * time.Second), ""
	}
	return c.Now.Add(-span.exact).Truncate(time.Second), ""
}

// length is a length of time: of the calendar, or exact.
type length struct {
	months, days int
	exact        time.Duration
}

// dated reports whether it is of the calendar.
func (l length) dated() bool { return l.months > 0 || l.days > 0 }

var spanText = regexp.MustCompile(`^(?:about |around |roughly |~ ?)?(\d{1,5}|an?|a couple of|couple of) ?` +
	`(days?|d|weeks?|wks?|fortnights?|months?|mos?|years?|yrs?)$`)

// readSpan reads a length of time with its unit: "3 days", "a month", "2h30", "an hour and a half".
func readSpan(text string) (length, bool) {
	if found := spanText.FindStringSubmatch(text); found != nil {
		count := 1
		switch {
		case strings.Contains(found[1], "couple"):
			count = 2
		case found[1][0] != 'a':
			count = number(found[1])
		}
		if count == 0 {
			return length{}, false
		}
		switch found[2][0] {
		case 'd':
			return length{days: count}, true
		case 'w':
			return length{days: 7 * count}, true
		case 'f':
			return length{days: 14 * count}, true
		case 'm':
			return length{months: count}, true
		}
		return length{months: 12 * count}, true
	}
	// A bare number would leave the unit to be guessed.
	use, err := ParseRan(text, "")
	if err != nil || use.Bare || use.Value.Sign() < 0 {
		return length{}, false
	}
	seconds := use.Value.Float(quantity.Second)
	if seconds > 100*365*24*3600 {
		return length{}, false
	}
	return length{exact: time.Duration(seconds * float64(time.Second))}, true
}

// ParseUntil reads a day to come, as people write it, on the shop's clocks:
// "tomorrow", "friday" (the next one), "in 3 days", "2 weeks", "a month", "20 march", "2026-03-20", "20/3" in the
// shop's order. It is the first moment of that day, after now and at most a year on; anything else is a *WhenError.
// A month from the 31st is the last day of a month that has none.
func ParseUntil(text string, by Clocks) (time.Time, error) {
	day, err := by.nextDay(strings.TrimPrefix(plainWords(text), "until "), text)
	if err != nil {
		return time.Time{}, err
	}
	until := LocalTime(day.year, day.month, day.day, 0, 0, by.Loc)
	switch {
	case !until.After(by.Now):
		return time.Time{}, by.fail(text, Past, "", "in 3 days")
	case until.After(by.Now.AddDate(1, 0, 1)):
		return time.Time{}, by.fail(text, Far, "", "in 3 days")
	}
	return until, nil
}

// ParseDay reads a day, as ParseUntil does, but one that is over as well where its year is said. It is written as ISO
// 8601 does: 2026-12-24.
func ParseDay(text string, by Clocks) (string, error) {
	day, err := by.nextDay(plainWords(text), text)
	if err != nil {
		return "", err
	}
	return day.String(), nil
}

// nextDay is the day to come that words say.
func (c Clocks) nextDay(words, text string) (date, error) {
	ahead := strings.TrimPrefix(words, "in ")
	if span, ok := readSpan(strings.TrimSuffix(strings.TrimSuffix(ahead, " from now"), "' time")); ok && span.dated() {
		return c.today().plusMonths(span.months).plus(span.days), nil
	}
	s := c.hear(words)
	days, refused := s.nextDays()
	if refused == nil && len(days) == 1 {
		return days[0], nil
	}
	if refused == nil {
		refused = &WhenError{Code: Unsure}
		for _, d := range days {
			refused.Options = append(refused.Options, d.String())
		}
	}
	refused.Input, refused.Example = text, "in 3 days"
	if s.named != nil {
		refused.Example = s.called
	}
	return date{}, refused
}

// nextDays are the days to come that may be meant.
func (s *said) nextDays() ([]date, *WhenError) {
	today := s.by.today()
	if refused := s.sound(); refused != nil && refused.Part != "last" {
		return nil, refused
	}
	switch {
	case len(s.faces) > 0:
		return nil, &WhenError{Code: Unreadable, Part: s.faces[0].text}
	case s.during != nil:
		return nil, &WhenError{Code: Unreadable, Part: s.during.name}
	case s.last:
		return nil, &WhenError{Code: Past}
	case s.dated != "":
		var days []date
		for _, d := range s.dates {
			next, ok := d.next(today)
			if !ok {
				return nil, &WhenError{Code: NoDate, Part: s.dated}
			}
			days = append(days, next)
		}
		if s.named != nil {
			fit := slices.DeleteFunc(slices.Clone(days), func(d date) bool { return d.weekday() != *s.named })
			if len(fit) == 0 {
				return append(days, today.plus((int(*s.named)-int(today.weekday())+6)%7+1)), nil
			}
			days = fit
		}
		return days, nil
	case s.named != nil:
		next := today.plus((int(*s.named)-int(today.weekday())+6)%7 + 1)
		if s.next && next.noon().Sub(today.noon()) < 7*24*time.Hour {
			return []date{next, next.plus(7)}, nil // this one, or that of next week
		}
		return []date{next}, nil
	case s.near != nil:
		return []date{today.plus(*s.near)}, nil
	case s.vague == "weekend":
		saturday := today.plus((6-int(today.weekday())+6)%7 + 1)
		return []date{saturday, saturday.plus(1)}, nil
	}
	return nil, &WhenError{Code: Vague}
}
