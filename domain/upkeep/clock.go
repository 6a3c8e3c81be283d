package upkeep

import (
	"regexp"
	"slices"
	"strings"
)

// part is a part of the day by its name: from when it is, and a time that stands for it.
type part struct {
	name  string
	from  TimeOfDay
	usual TimeOfDay
}

// The parts of a day. What hours they are is common practice, no source.
var (
	morning   = &part{"morning", Clock(4, 0), Clock(9, 0)}
	afternoon = &part{"afternoon", Clock(12, 0), Clock(15, 0)}
	evening   = &part{"evening", Clock(17, 0), Clock(19, 0)}
	night     = &part{"night", Clock(18, 0), Clock(22, 0)}
)

var dayParts = map[string]*part{
	"morning": morning, "morn": morning, "afternoon": afternoon, "arvo": afternoon, "evening": evening, "eve": evening,
	"night": night, "tonight": night,
}

// face is a time as a clock face or a display was read.
type face struct {
	text         string
	hour, minute int
	half         byte // 'a' or 'p' where it was said, else 0
	minutes      bool // they were said
	whole        bool // by twenty-four hours: with a leading zero, or an h
	other        int  // an hour that it may be instead of the one read ("half 7"), 0 for none
}

// moment is a time of day; next counts days after the one that was named, for a night that goes on.
type moment struct {
	at   TimeOfDay
	next int
}

// byDay reports whether it can only count to twenty-four.
func (f face) byDay() bool {
	return f.half == 0 && (f.whole && !f.named() || f.hour > 12 || f.hour == 0)
}

// named reports whether it is noon or midnight by its name.
func (f face) named() bool { return namedFace.MatchString(f.text) }

// moments are all times that a face may mean on a part of a day, or on any where that is nil;
// none if no clock shows it.
func (f face) moments(during *part) []moment {
	if f.other > 0 {
		other := f
		f.other, other.hour, other.other = 0, f.other, 0
		return append(f.moments(during), other.moments(during)...)
	}
	at := func(hour int) moment { return moment{Clock(hour%24, f.minute), hour / 24} }
	twelve := f.hour >= 1 && f.hour <= 12
	switch {
	case f.hour > 23, f.minute > 59, f.half != 0 && !twelve:
		return nil
	case f.half == 'a':
		return one(during, at(f.hour%12))
	case f.half == 'p':
		return one(during, at(f.hour%12+12))
	case during != nil && twelve && !f.whole:
		return f.onPart(during, at)
	case during != nil:
		return one(during, at(f.hour))
	case f.whole, f.hour > 11, f.hour == 0, f.minutes && f.hour > 7:
		return []moment{at(f.hour)}
	}
	return []moment{at(f.hour), at(f.hour + 12)}
}

// onPart is which of the two hours so called lies in a part of a day.
func (f face) onPart(during *part, at func(int) moment) []moment {
	switch {
	case during == morning && f.hour < 12:
		return []moment{at(f.hour)}
	case during == afternoon && (f.hour == 12 || f.hour < 8):
		return []moment{at(f.hour%12 + 12)}
	case during == evening && f.hour > 3 && f.hour < 12, during == night && f.hour > 5 && f.hour < 12:
		return []moment{at(f.hour + 12)}
	case (during == evening || during == night) && f.hour == 12:
		return []moment{at(24)}
	case during == night && f.hour < 6:
		return []moment{at(f.hour + 24)}
	}
	return nil
}

// one is a moment in whatever part of the day it lies; none if it lies in another.
func one(during *part, m moment) []moment {
	hour := int(m.at) / 60
	fits := true
	switch during {
	case morning:
		fits = hour < 12
	case afternoon:
		fits = hour >= 12 && hour < 20
	case evening:
		fits = hour >= 15
	case night:
		if hour < 6 {
			return []moment{{m.at, 1}}
		}
		fits = hour >= 18
	}
	if !fits {
		return nil
	}
	return []moment{m}
}

// The ways in which a time of day is written, looked for in this order where one may begin.
var (
	spokenFace = regexp.MustCompile(`^(half|quarter|\d{1,2})(?: min(?:ute)?s?)? (past|after|to|before) (\d{1,2})` +
		`(?: ?([ap])\.? ?m\.?| o'? ?clock)?`)
	halfFace  = regexp.MustCompile(`^half (\d{1,2})(?: ?([ap])\.? ?m\.?)?`)
	colonFace = regexp.MustCompile(`^(\d{1,2})(:|\.| ?h ?)(\d{2})(?::\d{2}(?:\.\d+)?)?` +
		`(?: ?([ap])(?:\.? ?m)?\b\.?| ?uhr| ?h)?`)
	hourFace   = regexp.MustCompile(`^(\d{1,2})(?: ?([ap])(?:\.? ?m)?\b\.?| ?(h)| ?(uhr)| o'? ?clock)`)
	digitsFace = regexp.MustCompile(`^(\d{1,2})(\d{2})(?: ?([ap])(?:\.? ?m)?\b\.?| ?(h|hrs|hours|uhr))?`)
	namedFace  = regexp.MustCompile(`^(?:noon|midday|midnight)`)
	bareFace   = regexp.MustCompile(`^(\d{1,2})`)
)

// ends reports whether what was taken of a text ends where a word or a number does.
func ends(text string, length int) bool {
	if length >= len(text) {
		return true
	}
	next := text[length]
	return next == ' ' || next == ',' || next == ';' || (next == '.' || next == ':' || next == '-') &&
		(length+1 >= len(text) || text[length+1] == ' ')
}

// readFace reads a time of day at the beginning of a text that is no bare number.
func readFace(text string) (read face, length int, ok bool) {
	take := func(pattern *regexp.Regexp) []string {
		found := pattern.FindStringSubmatch(text)
		if found == nil || !ends(text, len(found[0])) {
			return nil
		}
		length = len(found[0])
		read.text = strings.TrimSpace(found[0])
		return found
	}
	switch {
	case namedFace.MatchString(text):
		found := take(namedFace)
		if found == nil {
			return read, 0, false
		}
		if found[0] != "midnight" {
			read.hour = 12
		}
		read.whole, read.minutes = true, true
		return read, length, true
	case spokenFace.MatchString(text):
		if found := take(spokenFace); found != nil {
			return read.spoken(found), length, true
		}
	case halfFace.MatchString(text):
		if found := take(halfFace); found != nil {
			// Half past it to some, half an hour before it to others.
			read.hour, read.minute, read.minutes, read.half = number(found[1]), 30, true, first(found[2])
			read.other = (read.hour+10)%12 + 1
			return read, length, read.hour > 0 && read.hour < 13
		}
	}
	if found := take(colonFace); found != nil {
		read.hour, read.minute, read.minutes, read.half = number(found[1]), number(found[3]), true, first(found[4])
		read.whole = read.half == 0 && (len(found[1]) == 2 && found[1][0] == '0' ||
			found[2] != ":" && found[2] != "." ||
			strings.HasSuffix(found[0], "uhr") || strings.HasSuffix(found[0], "h"))
		return read, length, true
	}
	if found := take(digitsFace); found != nil && (found[3] != "" || found[4] != "" || len(found[0]) == 4) {
		read.hour, read.minute, read.minutes, read.half = number(found[1]), number(found[2]), true, first(found[3])
		read.whole = read.half == 0
		return read, length, true
	}
	if found := take(hourFace); found != nil {
		read.hour, read.half, read.whole = number(found[1]), first(found[2]), found[3] != "" || found[4] != ""
		return read, length, true
	}
	return read, 0, false
}

// spoken is a time said by minutes past or before an hour.
func (f face) spoken(found []string) face {
	minutes := 0
	switch found[1] {
	case "half":
		minutes = 30
	case "quarter":
		minutes = 15
	default:
		minutes = number(found[1])
	}
	f.hour, f.minute, f.minutes, f.half = number(found[3]), minutes, true, first(found[4])
	if f.hour == 0 || f.hour > 12 {
		f.whole = f.half == 0
	}
	if (found[2] == "to" || found[2] == "before") && minutes > 0 && minutes < 60 {
		f.minute = 60 - minutes
		switch {
		case f.whole:
			f.hour = (f.hour + 23) % 24
		case f.hour == 12 && f.half != 0:
			f.hour, f.half = 11, 'a'+'p'-f.half // before noon it is morning
		default:
			f.hour = (f.hour+10)%12 + 1
		}
	}
	if !f.whole && f.half == 0 {
		f.minutes = f.hour == 12 // which half of the day is not said
	}
	return f
}

// first is the first byte of a text, or 0.
func first(text string) byte {
	if text == "" {
		return 0
	}
	return text[0]
}

// timesOfDay are the times that moments show, each once.
func timesOfDay(all []moment) []TimeOfDay {
	var times []TimeOfDay
	for _, m := range all {
		if !slices.Contains(times, m.at) {
			times = append(times, m.at)
		}
	}
	return times
}
