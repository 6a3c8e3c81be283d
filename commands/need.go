package commands

import (
	"slices"

	"setscrew/commands/words"
	"setscrew/domain"
)

var shopNeeds = &Command{
	Name: "shop needs", Who: Steward, Quiet: true, Words: 40, MostWords: 90,
	Options:  append(slices.Clone(otherOptions), Option{Name: "why", Takes: Text, Max: 200}),
	Examples: []string{`/shop needs machine:Marble other:Marble wanted:no`},
}

// runNeeds says that a machine must not run without another; or that it may again, which
// takes a second person.
func runNeeds(c *call) (Reply, error) {
	machine, other, on, err := c.needWanted()
	if err != nil {
		return Reply{}, err
	}
	if on && other.ID == machine.ID {
		return Reply{}, &userError{key: "needs.itself", data: words.D{"Machine": words.User(machine.Name)}}
	}
	outcome, asked, err := c.setUp(machine, domain.Item{Kind: domain.NeedsItem}, machine.Setup.WithNeed(other.ID, on))
	if err != nil {
		return Reply{}, err
	}
	if asked != nil {
		return *asked, nil
	}
	key := "needs.off"
	if on {
		key = "needs.on"
	}
	r := Reply{Headline: c.say(key, words.D{"Machine": words.User(machine.Name), "Other": words.User(other.Name),
		"No": outcome.Fact.No})}
	r.Lines = append(r.Lines, c.needLines(outcome.After)...)
	return r, nil
}

// needWanted is otherWanted, where what is wanted no more may be a machine that was retired.
func (c *call) needWanted() (machine, other domain.Machine, on bool, err error) {
	if c.options["wanted"] == "yes" {
		return c.otherWanted()
	}
	machine, status, err := c.status()
	if err != nil {
		return machine, other, false, err
	}
	for _, need := range status.Needs {
		if need.Retired && fold(need.Name) == fold(c.options["other"]) {
			return machine, domain.Machine{ID: need.Machine, Name: need.Name}, false, nil
		}
	}
	return c.otherWanted()
}
