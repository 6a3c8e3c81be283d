package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// ruleLine says how often a service is done.
func (w *wording) ruleLine(p *profile.Profile, s *profile.Service) string {
	var parts []string
	add := func(key string, r profile.Rule, event string) {
		if !r.Recurs() {
			return
		}
		how, several := w.interval(r)
		parts = append(parts, w.say(key, words.D{"How": how, "Several": several, "Event": event, "Day": r.Calendar != "" && !several}))
		if r.EarlyHours.Valid() || r.EarlyDays > 0 {
			early, _ := w.interval(profile.Rule{Hours: r.EarlyHours, Days: r.EarlyDays})
			parts = append(parts, w.say("rule.early", words.D{"How": early}))
		}
		if r.FromDue {
			parts = append(parts, w.say("rule.from-due", nil))
		}
	}
	switch e := p.Event(s.After); {
	case e != nil:
		add("rule.after", s.First, e.Name)
	default:
		add("rule.first", s.First, "")
	}
	add("rule.every", s.Every, "")
	var on []string
	for _, id := range s.OnProblems {
		on = append(on, p.Symptom(id).Name)
	}
	for _, id := range s.OnChecks {
		on = append(on, w.say("rule.on.check", words.D{"Check": p.Check(id).Name}))
	}
	if len(on) > 0 {
		parts = append(parts, w.say("rule.on", words.D{"Names": strings.Join(on, ", ")}))
	}
	return strings.Join(parts, " ")
}

// interval is how often a rule comes, in words, and whether that is by more than
// one of use, days and months.
func (w *wording) interval(r profile.Rule) (text string, several bool) {
	var parts []string
	if r.Hours.Valid() {
		parts = append(parts, w.say("span.hours", words.D{"Every": quantity.FormatDuration(r.Hours)}))
	}
	if r.Days > 0 {
		parts = append(parts, w.say("span.days", words.D{"N": r.Days}))
	}
	switch {
	case r.Months > 0 && r.Months%12 == 0:
		parts = append(parts, w.say("span.years", words.D{"N": r.Months / 12}))
	case r.Months > 0:
		parts = append(parts, w.say("span.months", words.D{"N": r.Months}))
	}
	if r.Calendar != "" {
		parts = append(parts, r.Named)
	}
	return strings.Join(parts, " "+w.say("span.or", nil)+" "), len(parts) > 1
}
