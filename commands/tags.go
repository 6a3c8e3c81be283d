package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var tagoutCommand = &Command{
	Name: tagoutName, Who: Anyone, Quiet: true, Words: 60,
	Options: []Option{machineOption, {Name: "reason", Takes: Text, Required: true, Max: 200},
		{Name: "paper", Takes: Text, Max: 40}, whenOption, forOption},
	Examples: []string{`/tagout machine:Marble reason:"knives look loose"`},
}

func runTagout(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine, domain.TagOut{Paper: words.Clean(c.options["paper"]),
		Reason: domain.Reason{Code: domain.SaidBySomebody, Text: words.Clean(c.options["reason"])}})
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.outOfService(machine),
		Lines: []string{c.say("tag.do", nil), c.say("tag.isolates-nothing", nil)}}
	if joined := c.joinedLine(outcome); joined != "" {
		reply.Lines = append(reply.Lines, joined)
		return reply, nil
	}
	if outcome.Before.TaggedOut() {
		reply.Lines = append(reply.Lines, c.say("tag.added", words.D{"N": len(outcome.After.Tags)}))
	}
	reply.Lines = append(reply.Lines, c.say("recorded", words.D{"No": outcome.Fact.No}))
	return reply, nil
}
