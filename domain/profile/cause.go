package profile

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/quantity"
)

// Cause is what may lie behind symptoms. Its figures are starting values; a shop's
// own problems move them.
type Cause struct {
	ID, Name string
	Prior    float64            // the chance that it is present when nothing is known
	Shows    map[string]float64 // by symptom: how likely it shows it
	Answers  map[string]float64 // by question: how likely it makes the answer yes
	Test     Test
	Since    *Since             // how it grows with use; nil where it does not
	Events   map[string]float64 // by event: what one a short while ago multiplies its odds by
	// Check, where it is not "", shows it: its readings outside the adjust limits on the
	// side that Reads names, "" for any.
	Check, Reads string
	Mend         Mend
	Hurts        bool   // whoever runs the machine with it may be hurt: it is looked for first
	Advice       string // what else to do about it
	Source       string
}

// Test is how it is found out whether a cause is present.
type Test struct {
	How      string
	Minutes  int
	Isolated bool
	Finds    float64 // how likely it finds a cause that is present
	Wrongly  float64 // how likely it finds one that is not
}

// Since is what a cause grows with: use since a service was done, or an event
// happened. Its prior is the chance after those hours.
type Since struct {
	Service, Event string
	Hours          quantity.Value
}

// Mend is what takes a cause away; nothing for one that lies in how the machine is
// used.
type Mend struct{ Service, Check, Event string }

// Question is what is asked of whoever saw a symptom.
type Question struct {
	ID, Ask string
	Minutes int
	Usual   float64 // how likely yes is without any cause that makes it so
}

// Cause finds a cause by its id, or nil.
func (p *Profile) Cause(id string) *Cause {
	return at(p.Causes, func(cause *Cause) bool { return cause.ID == id })
}

// Question finds a question by its id, or nil.
func (p *Profile) Question(id string) *Question {
	return at(p.Questions, func(q *Question) bool { return q.ID == id })
}

// CausesOf lists the causes that show a symptom, in the profile's order.
func (p *Profile) CausesOf(symptom string) []*Cause {
	var all []*Cause
	for i := range p.Causes {
		if p.Causes[i].Shows[symptom] > 0 {
			all = append(all, &p.Causes[i])
		}
	}
	return all
}

// mostCauses is how many causes one symptom may have; see diagnosis.MostCauses.
const mostCauses = 14

// Usual figures of a test, and of a symptom's leak. Common practice, no source.
const (
	usualFinds   = 90
	usualWrongly = 5
	usualLeak    = 5
)

func percent(n int) float64 { return float64(n) / 100 }

// weights reads "marks 70": a name and a whole number, at most most, after it.
func (l *loader) weights(keys fields, key string, most int, scale float64) map[string]float64 {
	all := map[string]float64{}
	for _, text := range keys.texts(key, false, 60) {
		name, number, _ := strings.Cut(text, " ")
		share, err := strconv.Atoi(strings.TrimSpace(number))
		if err != nil || share < 1 || share > most {
			l.failNode(keys.by[key], strconv.Quote(text), "a name and a whole number from 1 to "+strconv.Itoa(most))
			continue
		}
		all[name] = float64(share) * scale
	}
	return all
}

func (l *loader) question(node ast.Node) Question {
	keys := l.mapping(node, "id", "ask", "minutes", "usual")
	return Question{
		ID:      l.id(keys, "id", "question"),
		Ask:     keys.text("ask", true, maxName),
		Minutes: max(keys.whole("minutes", false, 1, 60), 1),
		Usual:   percent(keys.whole("usual", true, 1, 95)),
	}
}

func (l *loader) cause(node ast.Node) Cause {
	keys := l.mapping(
		node, "id", "name", "prior", "shows", "answers", "test", "since", "events", "check", "reads", "mend",
		"hurts", "advice", "source",
	)
	cause := Cause{
		ID:      l.id(keys, "id", "cause"),
		Name:    keys.text("name", true, maxName),
		Prior:   percent(keys.whole("prior", true, 1, 90)),
		Shows:   l.weights(keys, "shows", 99, 0.01),
		Answers: l.weights(keys, "answers", 99, 0.01),
		Events:  l.weights(keys, "events", 100, 1),
		Check:   keys.text("check", false, 40),
		Hurts:   keys.flag("hurts"),
		Advice:  keys.text("advice", false, maxText),
		Source:  keys.text("source", true, maxText),
	}
	cause.Reads = keys.word("reads", false, "high", "low")
	if len(cause.Shows) == 0 {
		keys.missing("shows", "the symptoms that it shows")
	}
	// Without a test of its own it needs a check that shows it, whose test lintCauses then takes.
	cause.Test = Test{Finds: percent(usualFinds), Wrongly: percent(usualWrongly)}
	if keys.has("test") {
		test := l.mapping(keys.by["test"], "how", "minutes", "isolated", "finds", "wrongly")
		cause.Test.How, cause.Test.Minutes = test.text("how", true, maxText), test.whole("minutes", true, 1, 600)
		cause.Test.Isolated = test.flag("isolated")
		if test.has("finds") {
			cause.Test.Finds = percent(test.whole("finds", true, 1, 99))
		}
		if test.has("wrongly") {
			cause.Test.Wrongly = percent(test.whole("wrongly", true, 1, 99))
		}
	} else if cause.Check == "" {
		keys.missing("test", "how it is found out, or a check that shows it")
	}
	// What it grows with, and what takes it away.
	if keys.has("since") {
		since := l.mapping(keys.by["since"], "service", "event", "hours")
		cause.Since = &Since{
			since.text("service", false, 40),
			since.text("event", false, 40),
			l.positive(since, "hours", true, quantity.Duration),
		}
	}
	if keys.has("mend") {
		mend := l.mapping(keys.by["mend"], "service", "check", "event")
		cause.Mend = Mend{mend.text("service", false, 40), mend.text("check", false, 40), mend.text("event", false, 40)}
	}
	return cause
}

// lintCauses holds causes and questions against the rest of a profile, and gives
// those without a test of their own the check's.
func (l *loader) lintCauses(prof *Profile) {
	fail := func(what, got, want string) { l.failNode(l.at[what], got, want) }
	for i := range prof.Causes {
		cause := &prof.Causes[i]
		item := "cause:" + cause.ID
		// What it shows and what speaks for it.
		for _, id := range slices.Sorted(maps.Keys(cause.Shows)) {
			if symptom := prof.Symptom(id); symptom == nil || symptom.Hurt {
				fail(item, "shows: "+id, "a symptom's id, of nobody hurt")
			}
		}
		for _, id := range slices.Sorted(maps.Keys(cause.Answers)) {
			if prof.Question(id) == nil {
				fail(item, "answers: "+id, "a question's id")
			}
		}
		for _, id := range slices.Sorted(maps.Keys(cause.Events)) {
			if prof.Event(id) == nil {
				fail(item, "events: "+id, "an event's id")
			}
		}
		check := func(key, id string) {
			if id != "" && prof.Check(id) == nil {
				fail(item, key+": "+id, "a check's id")
			}
		}
		service := func(key, id string) {
			if id != "" && prof.Service(id) == nil {
				fail(item, key+": "+id, "a service's id")
			}
		}
		event := func(key, id string) {
			if id != "" && prof.Event(id) == nil {
				fail(item, key+": "+id, "an event's id")
			}
		}
		check("check", cause.Check)
		check("mend", cause.Mend.Check)
		service("mend", cause.Mend.Service)
		event("mend", cause.Mend.Event)
		// One way to mend it, and one thing that it comes with.
		if ways := len(slices.DeleteFunc([]string{cause.Mend.Service, cause.Mend.Check, cause.Mend.Event},
			func(s string) bool { return s == "" })); ways > 1 {
			fail(item, "two ways to mend it", "one")
		} else if ways == 0 && cause.Advice == "" {
			fail(item, "nothing that mends it", "mend, or advice")
		}
		if since := cause.Since; since != nil {
			service("since", since.Service)
			event("since", since.Event)
			if (since.Service == "") == (since.Event == "") {
				fail(item, "since", "a service or an event")
			}
		}
		// The check that shows it, which is its test where it has none of its own.
		if shown := prof.Check(cause.Check); shown != nil {
			if cause.Reads != "" && (shown.Inspection || !shown.Target.Valid() && len(shown.Modes) == 0) {
				fail(item, "reads: "+cause.Reads, "a check with a target")
			}
			if cause.Test.How == "" {
				cause.Test.How, cause.Test.Isolated = shown.Name, shown.Isolated
				cause.Test.Minutes = shown.Minutes + prof.Minutes.Gauge
				if shown.Isolated {
					cause.Test.Minutes += prof.Minutes.Isolation
				}
			}
		}
	}
	// What a symptom asks, and how many causes it may have.
	for i := range prof.Symptoms {
		symptom := &prof.Symptoms[i]
		for _, id := range symptom.Ask {
			if prof.Question(id) == nil {
				fail("symptom:"+symptom.ID, "ask: "+id, "a question's id")
			}
		}
		if causes := len(prof.CausesOf(symptom.ID)); causes > mostCauses {
			fail("symptom:"+symptom.ID, strconv.Itoa(causes)+" causes", "at most "+strconv.Itoa(mostCauses))
		}
	}
	names := map[string]bool{}
	for _, cause := range prof.Causes {
		if name := strings.ToLower(cause.Name); names[name] {
			fail("cause:"+cause.ID, "the name of another cause", "a name of its own")
		} else {
			names[name] = true
		}
	}
}
