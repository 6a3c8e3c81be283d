package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
)

var howCommand = &Command{
	Name: howName, Who: Anyone, Quiet: true, Words: 420,
	Options: []Option{machineOption, {Name: "what", Takes: Work, Required: true, Max: 100}},
	Examples: []string{`/how machine:Marble what:"oil the feed-roller bushings"`, `/how machine:Marble what:"knives changed or reset"`,
		`/how machine:Marble what:"infeed roller"`},
}

// runHow says how something is done: cautions first, then isolation, then what
// comes off, the work, what goes back on, and the way back to power.
func runHow(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	all := works(m.Profile)
	i, err := c.lookUpItem("what", "work", all)
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("how.headline", words.D{"Machine": words.User(m.Name), "What": all[i].name})}
	material := ""
	switch item := all[i].item; item.Kind {
	case domain.ServiceItem:
		s := m.Profile.Service(item.ID)
		material = s.Material
		r.Lines = append(c.workLines(m, s.Work), c.say("why.source", words.D{"Source": s.Source}))
		r.Lines = append(r.Lines, c.say("notice.done-with", words.D{"Example": slash(serviceName, "machine", m.Name, "service", s.Name)}))
	case domain.CheckItem:
		k := m.Profile.Check(item.ID)
		r.Lines = append(c.workLines(m, profile.Work{Isolated: k.Isolated, Steps: c.checkSteps(m, k)}), c.say("why.source", words.D{"Source": k.Source}))
		values := c.exampleValues(m, k)
		if k.Inspection {
			values = "pass"
		}
		r.Lines = append(r.Lines, c.say("notice.done-with", words.D{"Example": slash(readingName, "machine", m.Name, "check", k.Name) + ` values:"` + values + `"`}))
	default:
		e := m.Profile.Event(item.ID)
		material = e.Material
		r.Lines = append(c.workLines(m, e.Work), c.say("why.source", words.D{"Source": e.Source}))
		r.Lines = append(r.Lines, c.say("notice.done-with", words.D{"Example": slash("event", "machine", m.Name, "event", e.Name)}))
	}
	shelf, err := c.shelfLines(material, false)
	r.Lines = append(r.Lines, shelf...)
	return r, err
}
