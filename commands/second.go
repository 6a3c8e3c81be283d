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

// runSecondWanted says whether a second person is to confirm an inspection.
func runSecondWanted(c *call) (Reply, error) {
	machine, check, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	if !check.Second {
		var can []string
		for _, x := range machine.Profile.Checks {
			if x.Second {
				can = append(can, x.Name)
			}
		}
		if len(can) == 0 {
			can = []string{c.say("band.none", nil)}
		}
		return Reply{}, &userError{key: "second.none", data: words.D{"Check": capital(check.Name),
			"Checks": strings.Join(can, ", ")}, example: c.exampleWith("check", can[0])}
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
