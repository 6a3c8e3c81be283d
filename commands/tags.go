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
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(m, domain.TagOut{Paper: words.Clean(c.options["paper"]),
		Reason: domain.Reason{Code: domain.SaidBySomebody, Text: words.Clean(c.options["reason"])}})
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.outOfService(m), Lines: []string{c.say("tag.do", nil), c.say("tag.isolates-nothing", nil)}}
	if o.Before.TaggedOut() {
		r.Lines = append(r.Lines, c.say("tag.added", words.D{"N": len(o.After.Tags)}))
	}
	r.Lines = append(r.Lines, c.say("recorded", words.D{"No": o.Fact.No}))
	return r, nil
}
