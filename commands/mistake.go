package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

// mistakeAction takes back a stop that was pressed by mistake.
const mistakeAction lasting[factArg] = "mistake"

func runMistake(c *call, of factArg) (Reply, error) {
	machine, err := c.aboutMachine(of)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine, domain.Mistake{Of: domain.FactNo(of)})
	if err != nil {
		return Reply{}, err
	}
	data := words.D{"Machine": words.User(machine.Name), "No": outcome.Fact.No, "Of": domain.FactNo(of)}
	if outcome.After.TaggedOut() {
		return Reply{Replaces: true, Headline: c.outOfService(machine),
			Lines: []string{c.say("mistake.still", data)}}, nil
	}
	return Reply{Replaces: true, Headline: c.say("mistake.done", data),
		Lines: []string{c.say("release.tell", nil)}}, nil
}

// aboutMachine is the machine that a report is about.
func (c *call) aboutMachine(of factArg) (domain.Machine, error) {
	fact, err := c.books.Fact(c, domain.FactNo(of))
	if err != nil {
		return domain.Machine{}, err
	}
	snap, err := c.books.Snapshot(c, fact.Machine)
	return snap.Machine, err
}
