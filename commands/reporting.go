package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var shopReporting = &Command{
	Name: "shop reporting", Who: Steward, Quiet: true, Words: 60,
	Options:  otherOptions,
	Examples: []string{`/shop reporting machine:Marble other:Marble wanted:no`},
}

// runReporting says that as many hours of a machine without a counter go
// unreported as of another, or that this is no longer assumed.
func runReporting(c *call) (Reply, error) {
	machine, other, on, err := c.otherWanted()
	if err != nil {
		return Reply{}, err
	}
	data := words.D{"Machine": words.User(machine.Name), "Other": words.User(other.Name)}
	if on && other.ID == machine.ID {
		return Reply{}, &userError{key: "reporting.itself", data: data}
	}
	setup, key := machine.Setup.WithLike(0), "reporting.off"
	if on {
		setup, key = machine.Setup.WithLike(other.ID), "reporting.on"
	}
	outcome, err := c.report(machine, domain.SetupChanged{Item: domain.Item{Kind: domain.ReportingItem}, Setup: setup})
	if err != nil {
		return Reply{}, err
	}
	data["No"] = outcome.Fact.No
	reply := Reply{Headline: c.say(key, data), Lines: c.reportingLines(outcome.After)}
	switch {
	case !on:
	case outcome.After.Counter != nil:
		reply.Lines = append(reply.Lines, c.say("reporting.own", data))
	case outcome.After.Reporting == nil:
		reply.Lines = append(reply.Lines, c.say("reporting.unknown", data))
	}
	return reply, nil
}
