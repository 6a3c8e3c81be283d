package commands

import (
	"strconv"

	"setscrew/commands/words"
	"setscrew/domain"
)

var extendCommand = &Command{
	Name: "extend", Who: Steward, Quiet: true, Words: 40,
	Options: []Option{machineOption, {Name: "check", Takes: Check, Required: true},
		{Name: "days", Takes: Text, Required: true, Max: 4}, {Name: "why", Takes: Text, Required: true, Max: 200}},
	Examples: []string{`/extend machine:Marble check:"emergency stop" days:3 why:"wren is ill until Friday"`},
}

// runExtend moves the late limit of an inspection by days, once until it is made.
func runExtend(c *call) (Reply, error) {
	machine, check, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	days, ok := number(c.options["days"], 1)
	if !ok || days > mostDays {
		return Reply{}, &userError{key: "extend.days", data: words.D{"Given": words.User(c.options["days"])},
			example: c.exampleWith("days", "3")}
	}
	outcome, err := c.report(machine, domain.Extended{Check: check.ID, Days: int(days),
		Why: words.Clean(c.options["why"])})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Headline: c.say("extend.done", words.D{"Machine": words.User(machine.Name), "Check": check.Name,
		"Days": strconv.FormatInt(days, 10), "At": words.Time(outcome.After.Check(check.ID).TagsAt, words.DateTime),
		"No": outcome.Fact.No})}, nil
}

// mostDays is the most days that anybody may type.
const mostDays = 3660
