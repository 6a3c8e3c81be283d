package commands

import (
	"regexp"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var shopInterval = &Command{
	Name: "shop interval", Who: Steward, Quiet: true, Words: 60,
	Options:  []Option{machineOption, {Name: "what", Takes: Work, Required: true}, {Name: "every", Takes: Text, Required: true, Max: 60}},
	Examples: []string{`/shop interval machine:Marble what:bushings every:"10 h"`, `/shop interval machine:Marble what:columns every:"40 h or 6 months"`, `/shop interval machine:Marble what:bushings every:profile`},
}

// runInterval sets how often a service or a check is due on one machine.
func runInterval(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	var among []named
	for _, n := range works(m.Profile) {
		if !strings.HasPrefix(n.id, "event:") {
			among = append(among, n)
		}
	}
	i, err := c.lookUp("what", "work", among)
	if err != nil {
		return Reply{}, err
	}
	item := among[i].id
	var every *domain.Interval
	if typed := c.options["every"]; fold(typed) != "profile" {
		v, ok := readInterval(typed)
		if !ok {
			return Reply{}, &userError{key: "interval.unreadable", data: words.D{"Given": words.User(typed)}, example: c.exampleWith("every", "10 h")}
		}
		every = &v
	}
	if why := domain.BadInterval(m.Profile, item, every); why != "" {
		s := &userError{key: "interval." + why, data: words.D{"Name": capital(among[i].name)}}
		switch why {
		case "days":
			s.example = c.exampleWith("every", "7 days")
		case "safety":
			s.example = c.exampleWith("every", "profile")
		}
		return Reply{}, s
	}
	o, err := c.report(m, domain.SetupChanged{Item: item, Setup: m.Setup.WithInterval(item, every)})
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("interval.set", words.D{"Machine": words.User(m.Name), "Name": among[i].name, "No": o.Fact.No})}
	p := o.After.Machine.Profile
	kind, id, _ := strings.Cut(item, ":")
	if kind+":" == domain.ServiceItem("") {
		r.Lines = append(r.Lines, c.ruleLine(p, p.Service(id)))
		if st := o.After.Service(id); st != nil {
			r.Lines = append(r.Lines, c.dueLine(among[i].name, *st))
		}
		return r, nil
	}
	if k := o.After.Check(id); k.Check.Every != nil {
		r.Lines = append(r.Lines, c.dueAt(among[i].name, k.Due))
	}
	return r, nil
}

// spanText is one span of an interval as it is typed.
var spanText = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) ?(h|hours?|d|days?|weeks?|months?|years?)$`)

// readInterval reads "10 h", "3 weeks", "40 h or 6 months".
func readInterval(typed string) (v domain.Interval, ok bool) {
	for _, part := range strings.Split(strings.ReplaceAll(fold(typed), " or ", ","), ",") {
		f := spanText.FindStringSubmatch(strings.TrimSpace(part))
		if f == nil {
			return v, false
		}
		if f[2][0] == 'h' {
			p, err := quantity.Parse(f[1]+" h", quantity.Context{Kind: quantity.Duration})
			if err != nil || v.Hours.Valid() || p.Value.Sign() <= 0 || p.Value.Cmp(quantity.New(10000, 1, quantity.Hour)) > 0 {
				return v, false
			}
			v.Hours = p.Value
			continue
		}
		n, err := strconv.Atoi(f[1])
		to, each, most := &v.Days, 1, 3660
		switch f[2][0] {
		case 'w':
			each = 7
		case 'm':
			to, most = &v.Months, 120
		case 'y':
			to, each, most = &v.Months, 12, 120
		}
		if err != nil || n < 1 || n*each > most || *to != 0 {
			return v, false
		}
		*to = n * each
	}
	return v, true
}

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
