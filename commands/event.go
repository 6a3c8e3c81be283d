package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var eventCommand = &Command{
	Name: "event", Who: Anyone, Quiet: true, Words: 25, MostWords: 100,
	Options:  []Option{machineOption, {Name: "event", Takes: Event, Required: true, Max: 100}, noteOption, whenOption, forOption},
	Examples: []string{`/event machine:Marble event:"knives changed or reset"`, `/event machine:Marble event:"belts changed" when:"yesterday 17:30"`},
}

func runEvent(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	e, err := c.event(m.Profile)
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(m, domain.EventSeen{Event: e.ID, Surfaces: e.Surfaces, Note: words.Clean(c.options["note"])})
	if err != nil {
		return Reply{}, err
	}
	d := words.D{"Machine": words.User(m.Name), "Event": e.Name, "No": o.Fact.No}
	r := Reply{Headline: c.say("event.recorded", d)}
	if o.After.TaggedOut() {
		r = Reply{Headline: c.outOfService(m), Lines: append(c.tagLines(o), c.say("event.recorded", d))}
	}
	r.Lines = append(r.Lines, c.readAgain(m, e.Surfaces)...)
	if e.Fits && len(o.After.Sets) > 0 {
		r.Lines = append(r.Lines, c.say("blades.which", words.D{"Example": slash("blades", "machine", m.Name, "set", o.After.Sets[0].Set) + " where:fitted"}))
	}
	low, err := c.shelfLines(e.Material, true)
	if err != nil {
		return Reply{}, err
	}
	r.Lines = append(r.Lines, low...)
	for _, s := range o.After.BegunBy(e.ID, o.Fact.No) {
		r.Lines = append(r.Lines, c.dueLine(s.Service.Name, s))
	}
	return r, nil
}
