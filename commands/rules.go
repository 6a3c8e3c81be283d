package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// ruleLine says how often a service is done.
func (w *wording) ruleLine(prof *profile.Profile, service *profile.Service) string {
	var parts []string
	add := func(key string, rule profile.Rule, event string) {
		if !rule.Recurs() {
			return
		}
		how, several := w.interval(rule)
		parts = append(parts, w.say(key,
			words.D{"How": how, "Several": several, "Event": event, "Day": rule.Calendar != "" && !several}))
		if rule.EarlyHours.Valid() || rule.EarlyDays > 0 {
			early, _ := w.interval(profile.Rule{Hours: rule.EarlyHours, Days: rule.EarlyDays})
			parts = append(parts, w.say("rule.early", words.D{"How": early}))
		}
		if rule.FromDue {
			parts = append(parts, w.say("rule.from-due", nil))
		}
	}
	// By use and calendar, the first time and after.
	switch e := prof.Event(service.After); {
	case e != nil:
		add("rule.after", service.First, e.Name)
	default:
		add("rule.first", service.First, "")
	}
	add("rule.every", service.Every, "")
	// And by what else asks for it.
	var on []string
	for _, id := range service.OnProblems {
		on = append(on, prof.Symptom(id).Name)
	}
	for _, id := range service.OnChecks {
		on = append(on, w.say("rule.on.check", words.D{"Check": prof.Check(id).Name}))
	}
	if len(on) > 0 {
		parts = append(parts, w.say("rule.on", words.D{"Names": strings.Join(on, ", ")}))
	}
	return strings.Join(parts, " ")
}

// interval is how often a rule comes, in words, and whether that is by more than
// one of use, days and months.
func (w *wording) interval(rule profile.Rule) (text string, several bool) {
	var parts []string
	if rule.Hours.Valid() {
		parts = append(parts, w.say("span.hours", words.D{"Every": quantity.FormatDuration(rule.Hours)}))
	}
	if rule.Days > 0 {
		parts = append(parts, w.say("span.days", words.D{"N": rule.Days}))
	}
	switch {
	case rule.Months > 0 && rule.Months%12 == 0:
		parts = append(parts, w.say("span.years", words.D{"N": rule.Months / 12}))
	case rule.Months > 0:
		parts = append(parts, w.say("span.months", words.D{"N": rule.Months}))
	}
	if rule.Calendar != "" {
		parts = append(parts, rule.Named)
	}
	return strings.Join(parts, " "+w.say("span.or", nil)+" "), len(parts) > 1
}
