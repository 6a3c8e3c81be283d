package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var shopSecond = &Command{
	Name: "shop second", Who: Steward, Quiet: true, Words: 90,
	Options: []Option{machineOption, {Name: "check", Takes: Check, Required: true},
		{Name: "wanted", Takes: OneOf, OneOf: []string{"yes", "no"}, Required: true},
		{Name: "why", Takes: Text, Max: 200}},
	Examples: []string{`/shop second machine:Marble check:"knife clamping" wanted:yes`},
}

// runSecondWanted stores whether a second person must confirm an inspection of a machine, or
// no longer; that it is no longer wanted waits as what loosens a safety check does.
func runSecondWanted(c *call) (Reply, error) {
	machine, check, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	if !check.Second {
		var can []string
		for _, other := range machine.Profile.Checks {
			if other.Second {
				can = append(can, other.Name)
			}
		}
		example := slash("machine", "machine", machine.Name) // its checks
		if len(can) == 0 {
			can = []string{c.say("limits.none", nil)}
		} else {
			example = c.exampleWith("check", can[0])
		}
		return Reply{}, &userError{key: "second.none", data: words.D{"Check": capital(check.Name),
			"Checks": strings.Join(can, ", ")}, example: example}
	}
	on := c.options["wanted"] == "yes"
	outcome, asked, err := c.setUp(machine, domain.SecondItem.Of(check.ID), machine.Setup.WithSecond(check.ID, on))
	if err != nil {
		return Reply{}, err
	}
	if asked != nil {
		return *asked, nil
	}
	key := "second.off"
	if on {
		key = "second.on"
	}
	return Reply{Headline: c.say(key, words.D{"Machine": words.User(machine.Name), "Check": check.Name,
		"No": outcome.Fact.No})}, nil
}
