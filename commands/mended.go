package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var mendedCommand = &Command{
	Name: mendedName, Who: Steward, Quiet: true, Words: 25,
	Options: []Option{machineOption, {Name: "problem", Takes: OpenProblem, Required: true, Max: 200}, noteOption,
		whenOption, forOption},
	Examples: []string{`/mended machine:Marble problem:snipe note:"bed rollers lowered"`},
}

// runMended records that a problem is mended: its message in the channel is closed, and
// whoever reported it is told.
func runMended(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	i, err := c.lookUp("problem", "problem",
		namedIn(st.Problems, func(p *domain.OpenProblem) named { return named{ID: p.Key, Name: p.Name} }))
	if err != nil {
		return Reply{}, err
	}
	problem := st.Problems[i]
	outcome, err := c.report(machine,
		domain.Mended{Key: problem.Key, Name: problem.Name, Note: words.Clean(c.options["note"])})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Headline: c.say("mended.done", words.D{"Machine": words.User(machine.Name),
		"Problem": words.User(problem.Name), "N": problem.Reports, "No": outcome.Fact.No})}, nil
}
