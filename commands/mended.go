package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var mendedCommand = &Command{
	Name: mendedName, Who: Steward, Quiet: true, Words: 25,
	Options:  []Option{machineOption, {Name: "problem", Takes: OpenProblem, Required: true, Max: 200}, noteOption, whenOption, forOption},
	Examples: []string{`/mended machine:Marble problem:snipe note:"bed rollers lowered"`},
}

func runMended(c *call) (Reply, error) {
	m, st, err := c.status()
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
	p := st.Problems[i]
	o, err := c.report(m, domain.Mended{Key: p.Key, Name: p.Name, Note: words.Clean(c.options["note"])})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Headline: c.say("mended.done", words.D{"Machine": words.User(m.Name), "Problem": words.User(p.Name), "N": p.Reports, "No": o.Fact.No})}, nil
}
