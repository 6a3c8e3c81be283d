package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var eventCommand = &Command{
	Name: "event", Who: Anyone, Quiet: true, Words: 25, MostWords: 100,
	Options: []Option{machineOption, {Name: "event", Takes: Event, Required: true, Max: 100}, noteOption, whenOption,
		forOption},
	Examples: []string{`/event machine:Marble event:"knives changed or reset"`,
		`/event machine:Marble event:"belts changed" when:"yesterday 17:30"`},
}

// runEvent records what happened to a machine, and says what has to be read again by it.
func runEvent(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	event, err := c.event(machine.Profile)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine,
		domain.EventSeen{Event: event.ID, Surfaces: event.Surfaces, Note: words.Clean(c.options["note"])})
	if err != nil {
		return Reply{}, err
	}
	// What it means for the machine, and what has to be read again.
	d := words.D{"Machine": words.User(machine.Name), "Event": event.Name, "No": outcome.Fact.No}
	reply := Reply{Headline: c.say("event.recorded", d)}
	if outcome.After.TaggedOut() {
		reply = Reply{Headline: c.notInService(outcome.After),
			Lines: append(c.tagLines(outcome), c.say("event.recorded", d))}
	}
	reply.Lines = append(reply.Lines, c.readAgain(machine, event.Surfaces)...)
	// What was fitted and used up, and which services begin with it.
	if event.Fits && len(outcome.After.Sets) > 0 {
		reply.Lines = append(reply.Lines,
			c.say("blades.which", words.D{"Example": slash("blades", "machine", machine.Name, "set",
				outcome.After.Sets[0].Set, "where", "fitted")}))
	}
	low, err := c.shelfLines(event.Material, true)
	if err != nil {
		return Reply{}, err
	}
	reply.Lines = append(reply.Lines, low...)
	for _, s := range outcome.After.BegunBy(event.ID, outcome.Fact.No) {
		reply.Lines = append(reply.Lines, c.dueLine(s.Service.Name, s))
	}
	return c.hearNote(reply)
}
