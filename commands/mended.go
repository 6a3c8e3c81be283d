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

func runMended(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	among := make([]named, len(st.Problems))
	for i, p := range st.Problems {
		among[i] = named{p.Key, p.Name}
	}
	i, err := c.lookUp("problem", "problem", among)
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
