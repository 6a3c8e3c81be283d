package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/upkeep"
)

var bladesCommand = &Command{
	Name: "blades", Who: Anyone, Quiet: true, Words: 40, MostWords: 120,
	Options: []Option{machineOption, {Name: "set", Takes: BladeSet, Max: 40},
		{Name: "where", Takes: OneOf, OneOf: []string{string(domain.Fitted), string(domain.Spare), string(domain.Out)}},
		{Name: "back", Takes: Text, Max: 40}, noteOption, whenOption, forOption},
	Examples: []string{`/blades machine:Marble`, `/blades machine:Marble set:A where:fitted`,
		`/blades machine:Marble set:B where:out back:friday`},
}

// runBlades lists a machine's sets of knives or blades, or says where one is.
func runBlades(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	set, where := words.Clean(c.options["set"]), domain.Place(c.options["where"])
	switch {
	case set == "" && where == "" && len(st.Sets) == 0:
		return Reply{Headline: c.say("blades.none", words.D{"Machine": words.User(machine.Name)}),
			Lines: []string{c.say("example",
				words.D{"Example": slash("blades", "machine", machine.Name, "set", "A", "where", "fitted")})}}, nil
	case set == "" && where == "":
		return Reply{Headline: c.say("blades.headline", words.D{"Machine": words.User(machine.Name)}),
			Lines: c.setLines(st)}, nil
	case set == "" || where == "":
		return Reply{}, &userError{key: "blades.needs", example: slash("blades", "machine", machine.Name, "set", "A",
			"where", "fitted")}
	}
	// A set that is known keeps its spelling.
	moved := domain.SetMoved{Set: set, Where: where, Note: words.Clean(c.options["note"])}
	for _, s := range st.Sets {
		if domain.Folded(s.Set) == domain.Folded(set) {
			moved.Set = s.Set
		}
	}
	if back := c.options["back"]; back != "" {
		if where != domain.Out {
			return Reply{}, &userError{key: "blades.back", example: c.exampleWith("where", "out")}
		}
		var err error
		if moved.Back, err = upkeep.ParseUntil(back, c.shop.Clocks(c.now)); err != nil {
			return Reply{}, c.noTime(err, "back", "putoff.until")
		}
	}
	outcome, err := c.report(machine, moved)
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.say("blades.recorded",
		words.D{"Machine": words.User(machine.Name), "No": outcome.Fact.No}), Lines: c.setLines(outcome.After)}
	// That a set was fitted is an event too, which somebody has to report.
	for _, e := range machine.Profile.Events {
		if last, ok := outcome.After.Fits[e.ID]; where == domain.Fitted && e.Fits &&
			(!ok || outcome.Fact.At.Sub(last).Abs() > domain.SameVisit) {
			reply.Lines = append(reply.Lines,
				c.say("blades.event", words.D{"Example": slash("event", "machine", machine.Name, "event", e.Name)}))
		}
	}
	return c.hearNote(reply)
}
