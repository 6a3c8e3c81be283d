package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

// mistakeAction takes back a stop that was pressed by mistake.
const mistakeAction lasting[factArg] = "mistake"

// runMistake takes a stop back, and says whether the machine is in service by that.
func runMistake(c *call, of factArg) (Reply, error) {
	outcome, err := c.reportAbout(of, domain.Mistake{Of: domain.FactNo(of)})
	if err != nil {
		return Reply{}, err
	}
	machine := outcome.After.Machine
	data := words.D{"Machine": words.User(machine.Name), "No": outcome.Fact.No, "Of": domain.FactNo(of)}
	if outcome.After.TaggedOut() {
		return Reply{Replaces: true, Headline: c.outOfService(machine),
			Lines: []string{c.say("mistake.still", data)}}, nil
	}
	return Reply{Replaces: true, Headline: c.say("mistake.done", data),
		Lines: []string{c.say("release.tell", nil)}}, nil
}
