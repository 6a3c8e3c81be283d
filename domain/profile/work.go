package profile

import (
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/danger"
	"setscrew/domain/quantity"
)

func (l *loader) clamping(node ast.Node) *Clamping {
	keys := l.mapping(node, "row", "rows", "bolts", "passes")
	return &Clamping{
		Row:    keys.text("row", true, maxName),
		Rows:   l.count(keys, "rows"),
		Bolts:  l.count(keys, "bolts"),
		Passes: keys.texts("passes", true, maxName),
	}
}

func (l *loader) rule(node ast.Node) Rule {
	keys := l.mapping(
		node, "hours", "days", "weeks", "months", "years", "calendar", "named", "early-hours", "early-days",
		"late-hours", "late-days", "from-due",
	)
	rule := Rule{Hours: l.positive(keys, "hours", false, quantity.Duration),
		Days:     keys.whole("days", false, 1, 3660) + 7*keys.whole("weeks", false, 1, 520),
		Months:   keys.whole("months", false, 1, 120) + 12*keys.whole("years", false, 1, 10),
		Calendar: keys.text("calendar", false, 200), FromDue: keys.flag("from-due"),
		EarlyHours: l.positive(keys, "early-hours", false, quantity.Duration),
		EarlyDays:  keys.whole("early-days", false, 1, 3660),
		LateHours:  l.positive(keys, "late-hours", false, quantity.Duration),
		LateDays:   keys.whole("late-days", false, 1, 3660)}
	rule.Named = keys.text("named", rule.Calendar != "", maxName)
	if !rule.Recurs() {
		keys.missing("hours, days, weeks, months, years or calendar", "how often")
	}
	if err := rule.Check(); err != nil {
		l.failNode(keys.by["calendar"], rule.Calendar, "a rule of RFC 5545 by days, such as FREQ=MONTHLY;BYDAY=1FR")
	}
	return rule
}

// workKeys are the keys that say how something is done.
var workKeys = []string{"isolated", "minutes", "off", "material", "uses", "tools", "steps", "cautions"}

// minutesOf is how many minutes something takes, usual where it does not say.
func (l *loader) minutesOf(keys fields, usual int) int {
	if !keys.has("minutes") {
		return usual
	}
	return keys.whole("minutes", true, 1, 600)
}

func (l *loader) work(keys fields, needed bool) Work {
	if keys.has("uses") && !keys.has("material") {
		keys.missing("material", "what it takes from the shelf")
	}
	return Work{
		Isolated: keys.flag("isolated"),
		Minutes:  l.minutesOf(keys, l.minutes.Service),
		Off:      keys.texts("off", false, maxName),
		Material: keys.text("material", false, maxText),
		Uses:     keys.whole("uses", false, 1, 1000),
		Tools:    keys.texts("tools", false, maxText),
		Steps:    keys.texts("steps", needed, maxText),
		Cautions: keys.texts("cautions", false, maxText),
	}
}

func (l *loader) service(node ast.Node) Service {
	keys := l.mapping(
		node,
		append([]string{"id", "name", "class", "every", "first", "after", "on", "moves", "source"}, workKeys...)...)
	service := Service{ID: l.id(keys, "id", "service"), Name: keys.text("name", true, maxName),
		Class: ServiceClass(
			keys.word("class", true, string(RoutineService), string(ImportantService), string(SafetyService)),
		),
		After:    keys.text("after", false, 40),
		Surfaces: keys.texts("moves", false, 40),
		Source:   keys.text("source", true, maxText),
		Work:     l.work(keys, true)}
	if keys.has("every") {
		service.Every = l.rule(keys.by["every"])
	}
	if keys.has("first") {
		service.First = l.rule(keys.by["first"])
	}
	if keys.has("on") {
		on := l.mapping(keys.by["on"], "problems", "checks")
		service.OnProblems, service.OnChecks = on.texts("problems", false, 40), on.texts("checks", false, 40)
	}
	return service
}

func (l *loader) event(node ast.Node) Event {
	keys := l.mapping(node, append([]string{"id", "name", "words", "moves", "fits", "source"}, workKeys...)...)
	return Event{
		ID:       l.id(keys, "id", "event"),
		Name:     keys.text("name", true, maxName),
		Words:    keys.texts("words", false, maxName),
		Surfaces: keys.texts("moves", false, 40),
		Fits:     keys.flag("fits"),
		Source:   keys.text("source", true, maxText),
		Work:     l.work(keys, false),
	}
}

func (l *loader) symptom(node ast.Node) Symptom {
	keys := l.mapping(node, "id", "name", "danger", "hurt", "hazard", "event", "words", "advice", "ask", "then",
		"leak")
	leak := usualLeak
	if keys.has("leak") {
		leak = keys.whole("leak", true, 1, 50)
	}
	return Symptom{
		ID:     l.id(keys, "id", "symptom"),
		Name:   keys.text("name", true, maxName),
		Danger: keys.flag("danger"),
		Hurt:   keys.flag("hurt"),
		Hazard: l.hazard(keys, "hazard", false),
		Event:  keys.text("event", false, 40),
		Words:  keys.texts("words", false, maxName),
		Advice: keys.text("advice", true, maxText),
		Ask:    keys.texts("ask", false, 40),
		Then:   keys.texts("then", false, 40),
		Leak:   percent(leak),
	}
}

// danger reads what to do about one kind of danger common to all machines: first, and
// before the machine runs again.
func (l *loader) danger(node ast.Node) DangerAdvice {
	entry := l.mapping(node, "of", "advice", "then")
	of := l.hazard(entry, "of", true)
	if of != "" {
		l.id(entry, "of", "danger") // one advice for each
	}
	return DangerAdvice{of, entry.text("advice", !entry.has("then"), maxText), entry.texts("then", false, 40)}
}

// hazard reads a kind of danger common to all machines.
func (l *loader) hazard(entry fields, key string, required bool) danger.Kind {
	of := danger.Kind(entry.text(key, required, 40))
	if of == "" || slices.Contains(danger.Kinds(), of) {
		return of
	}
	kinds := make([]string, len(danger.Kinds()))
	for i, kind := range danger.Kinds() {
		kinds[i] = string(kind)
	}
	l.failNode(entry.by[key], string(of), "one of "+strings.Join(kinds, ", "))
	return ""
}
