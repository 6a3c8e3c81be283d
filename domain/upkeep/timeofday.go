package upkeep

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
)

// TimeOfDay is a time that clocks show every day: in minutes since midnight, from
// 0 (00:00) to 1439 (23:59). It is stored as that number.
type TimeOfDay int

// Clock is the time of day at an hour from 0 to 23 and a minute from 0 to 59.
func Clock(hour, minute int) TimeOfDay { return TimeOfDay(60*hour + minute) }

// ParseTimeOfDay reads a time of day as people write it: "18:00", "9:05", "6 pm", "0900", "half past eight am",
// "noon", "nine in the morning". Whatever else was typed, 24:00 among it since the day ends before it, is a *WhenError;
// it is Unsure where both halves of the day have such a time.
func ParseTimeOfDay(text string) (TimeOfDay, error) {
	said, refused := clockSaid(text)
	var times []TimeOfDay
	if refused == nil {
		times = timesOfDay(said.faces[0].moments(said.during))
	}
	switch {
	case refused != nil:
	case len(times) == 1:
		return times[0], nil
	default:
		refused = &WhenError{Code: Unsure}
		for _, t := range times {
			refused.Options = append(refused.Options, t.String())
		}
	}
	refused.Input, refused.Example = text, "18:00"
	return 0, refused
}

// clockSaid hears a text that says a time of day and nothing else.
func clockSaid(text string) (*said, *WhenError) {
	s := Clocks{Loc: time.UTC}.hear(plainWords(text))
	switch {
	case s.other != "":
		return nil, &WhenError{Code: Unreadable, Part: s.other}
	case s.hasDay() || s.last || s.next:
		return nil, &WhenError{Code: Unreadable, Part: s.dated + s.called + s.vague}
	case len(s.faces) != 1:
		return nil, &WhenError{Code: Unreadable}
	case len(s.faces[0].moments(s.during)) == 0:
		return nil, s.noClock()
	}
	return s, nil
}

// Stretch is from a time of day until another, on the next day where that is not later.
type Stretch struct{ From, Until TimeOfDay }

// String is the stretch as it is typed: "22:00-07:00".
func (s Stretch) String() string { return s.From.String() + "-" + s.Until.String() }

var stretchBetween = regexp.MustCompile(` ?- ?| (?:to|until|till|til|and|through) `)

// ParseStretch reads from when until when, as people write it: "22:00-07:00", "10pm-7am", "10 pm to 7 am",
// "from ten at night until seven in the morning", "8-22". Whatever else was typed is a *WhenError; it is Unsure where
// a half of the day was left out that matters.
func ParseStretch(text string) (Stretch, error) {
	fail := func(refused *WhenError) (Stretch, error) {
		refused.Input, refused.Example = text, "22:00-07:00"
		return Stretch{}, refused
	}
	words := strings.TrimPrefix(strings.TrimPrefix(plainWords(text), "from "), "between ")
	var found []Stretch
	var first *WhenError
	for _, at := range stretchBetween.FindAllStringIndex(words, -1) {
		from, refused := clockSaid(words[:at[0]])
		var until *said
		if refused == nil {
			until, refused = clockSaid(words[at[1]:])
		}
		if refused != nil {
			first = cmp.Or(first, refused)
			continue
		}
		// Whoever counts to twenty-four at one end does so at the other.
		begins, ends := &from.faces[0], &until.faces[0]
		if from.during == nil && until.during == nil && begins.half == 0 && ends.half == 0 {
			begins.whole = begins.whole || ends.byDay()
			ends.whole = ends.whole || begins.byDay()
		}
		for _, begin := range timesOfDay(begins.moments(from.during)) {
			for _, end := range timesOfDay(ends.moments(until.during)) {
				if one := (Stretch{begin, end}); !slices.Contains(found, one) {
					found = append(found, one)
				}
			}
		}
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) == 0 && first != nil:
		return fail(first)
	case len(found) == 0:
		return fail(&WhenError{Code: Unreadable})
	}
	asked := &WhenError{Code: Unsure}
	for _, one := range found {
		asked.Options = append(asked.Options, one.String())
	}
	return fail(asked)
}

// String is the time as it is typed, with two digits each: "09:05".
func (t TimeOfDay) String() string { return fmt.Sprintf("%02d:%02d", t/60, t%60) }

// Later is the time of day that many minutes later, past midnight on the next day's
// clocks.
func (t TimeOfDay) Later(minutes int) TimeOfDay {
	const day = 24 * 60
	return TimeOfDay(((int(t)+minutes)%day + day) % day)
}

// On is the moment at which the clocks of loc show the time on a date; a day
// outside its month counts on. See LocalTime for a time that a change of the clocks
// skips, or brings twice.
func (t TimeOfDay) On(y int, m time.Month, d int, loc *time.Location) time.Time {
	return LocalTime(y, m, d, int(t)/60, int(t)%60, loc)
}
