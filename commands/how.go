package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
)

var howCommand = &Command{
	Name: howName, Who: Anyone, Quiet: true, Words: 420,
	Options: []Option{machineOption, {Name: "what", Takes: Work, Required: true, Max: 100}},
	Examples: []string{`/how machine:Marble what:"oil the feed-roller bushings"`,
		`/how machine:Marble what:"knives changed or reset"`,
		`/how machine:Marble what:"infeed roller"`},
}

// runHow says how something is done: cautions first, then isolation, then what
// comes off, the work, what goes back on, and the way back to power.
func runHow(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	all := works(machine.Profile)
	i, err := c.lookUpItem("what", "work", all)
	if err != nil {
		return Reply{}, err
	}
	// The work, where it comes from, and the command that records it.
	reply := Reply{Headline: c.say("how.headline", words.D{"Machine": words.User(machine.Name), "What": all[i].name})}
	material := ""
	switch item := all[i].item; item.Kind {
	case domain.ServiceItem:
		service := machine.Profile.Service(item.ID)
		material = service.Material
		reply.Lines = append(c.workLines(machine, service.Work), c.say("why.source", words.D{"Source": service.Source}))
		reply.Lines = append(reply.Lines,
			c.say("notice.done-with",
				words.D{"Example": slash(serviceName, "machine", machine.Name, "service", service.Name)}))
	case domain.CheckItem:
		check := machine.Profile.Check(item.ID)
		reply.Lines = append(c.workLines(machine,
			profile.Work{Isolated: check.Isolated, Steps: c.checkSteps(machine, check)}),
			c.say("why.source", words.D{"Source": check.Source}))
		values := c.exampleValues(machine, check)
		if check.Inspection {
			values = "pass"
		}
		reply.Lines = append(reply.Lines,
			c.say("notice.done-with",
				words.D{"Example": slash(readingName, "machine", machine.Name, "check", check.Name) + ` values:"` +
					values + `"`}))
	default:
		e := machine.Profile.Event(item.ID)
		material = e.Material
		reply.Lines = append(c.workLines(machine, e.Work), c.say("why.source", words.D{"Source": e.Source}))
		reply.Lines = append(reply.Lines,
			c.say("notice.done-with", words.D{"Example": slash("event", "machine", machine.Name, "event", e.Name)}))
	}
	// What of its material is on the shelf.
	shelf, err := c.shelfLines(material, false)
	reply.Lines = append(reply.Lines, shelf...)
	return reply, err
}
