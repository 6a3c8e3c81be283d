package profile

import (
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/danger"
	"setscrew/domain/quantity"
)

func (l *loader) clamping(n ast.Node) *Clamping {
	f := l.mapping(n, "row", "rows", "bolts", "passes")
	return &Clamping{
		Row:    f.text("row", true, maxName),
		Rows:   l.count(f, "rows"),
		Bolts:  l.count(f, "bolts"),
		Passes: f.texts("passes", true, maxName),
	}
}

func (l *loader) rule(n ast.Node) Rule {
	f := l.mapping(
		n, "hours", "days", "weeks", "months", "years", "calendar", "named", "early-hours", "early-days",
		"late-hours", "late-days", "from-due",
	)
	r := Rule{Hours: l.positive(f, "hours", false, quantity.Duration),
		Days:     f.whole("days", false, 1, 3660) + 7*f.whole("weeks", false, 1, 520),
		Months:   f.whole("months", false, 1, 120) + 12*f.whole("years", false, 1, 10),
		Calendar: f.text("calendar", false, 200), FromDue: f.flag("from-due"),
		EarlyHours: l.positive(
			f, "early-hours", false, quantity.Duration,
		), EarlyDays: f.whole("early-days", false, 1, 3660),
		LateHours: l.positive(
			f, "late-hours", false, quantity.Duration,
		), LateDays: f.whole("late-days", false, 1, 3660)}
	r.Named = f.text("named", r.Calendar != "", maxName)
	if !r.Recurs() {
		f.missing("hours, days, weeks, months, years or calendar", "how often")
	}
	if err := r.Check(); err != nil {
		l.failNode(f.by["calendar"], r.Calendar, "a rule of RFC 5545 by days, such as FREQ=MONTHLY;BYDAY=1FR")
	}
	return r
}

// workKeys are the keys that say how something is done.
var workKeys = []string{"isolated", "minutes", "off", "material", "uses", "tools", "steps", "cautions"}

// minutesOf is how many minutes something takes, usual where it does not say.
func (l *loader) minutesOf(f fields, usual int) int {
	if !f.has("minutes") {
		return usual
	}
	return f.whole("minutes", true, 1, 600)
}

func (l *loader) work(f fields, needed bool) Work {
	if f.has("uses") && !f.has("material") {
		f.missing("material", "what it takes from the shelf")
	}
	return Work{
		Isolated: f.flag("isolated"),
		Minutes:  l.minutesOf(f, l.minutes.Service),
		Off:      f.texts("off", false, maxName),
		Material: f.text("material", false, maxText),
		Uses:     f.whole("uses", false, 1, 1000),
		Tools: f.texts(
			"tools", false, maxText,
		),
		Steps:    f.texts("steps", needed, maxText),
		Cautions: f.texts("cautions", false, maxText),
	}
}

func (l *loader) service(n ast.Node) Service {
	f := l.mapping(
		n,
		append([]string{"id", "name", "class", "every", "first", "after", "on", "moves", "source"}, workKeys...)...)
	s := Service{ID: l.id(f, "id", "service"), Name: f.text("name", true, maxName),
		Class: ServiceClass(
			f.word("class", true, string(RoutineService), string(ImportantService), string(SafetyService)),
		),
		After: f.text(
			"after", false, 40,
		), Surfaces: f.texts("moves", false, 40), Source: f.text("source", true, maxText), Work: l.work(f, true)}
	if f.has("every") {
		s.Every = l.rule(f.by["every"])
	}
	if f.has("first") {
		s.First = l.rule(f.by["first"])
	}
	if f.has("on") {
		on := l.mapping(f.by["on"], "problems", "checks")
		s.OnProblems, s.OnChecks = on.texts("problems", false, 40), on.texts("checks", false, 40)
	}
	return s
}

func (l *loader) event(n ast.Node) Event {
	f := l.mapping(n, append([]string{"id", "name", "words", "moves", "fits", "source"}, workKeys...)...)
	return Event{
		ID:    l.id(f, "id", "event"),
		Name:  f.text("name", true, maxName),
		Words: f.texts("words", false, maxName),
		Surfaces: f.texts(
			"moves", false, 40,
		),
		Fits:   f.flag("fits"),
		Source: f.text("source", true, maxText),
		Work:   l.work(f, false),
	}
}

func (l *loader) symptom(n ast.Node) Symptom {
	f := l.mapping(n, "id", "name", "danger", "hurt", "event", "words", "advice", "ask", "leak")
	leak := usualLeak
	if f.has("leak") {
		leak = f.whole("leak", true, 1, 50)
	}
	return Symptom{
		ID:     l.id(f, "id", "symptom"),
		Name:   f.text("name", true, maxName),
		Danger: f.flag("danger"),
		Hurt:   f.flag("hurt"),
		Event: f.text(
			"event", false, 40,
		),
		Words:  f.texts("words", false, maxName),
		Advice: f.text("advice", true, maxText),
		Ask:    f.texts("ask", false, 40),
		Leak:   percent(leak),
	}
}

// danger reads what to do about one kind of danger common to all machines.
func (l *loader) danger(n ast.Node) DangerAdvice {
	f := l.mapping(n, "of", "advice")
	var kinds []string
	for _, kind := range danger.Kinds() {
		kinds = append(kinds, string(kind))
	}
	of := f.text("of", true, 40)
	if !slices.Contains(kinds, of) {
		l.failNode(f.by["of"], of, "one of "+strings.Join(kinds, ", "))
	}
	return DangerAdvice{danger.Kind(l.id(f, "of", "danger")), f.text("advice", true, maxText)}
}
