package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var shopLoosen = &Command{
	Name: "shop loosen", Who: Steward, Quiet: true, Exact: true, Words: 120,
	Options:  []Option{machineOption, {Name: "note", Takes: Text, Max: 200}},
	Examples: []string{`/shop loosen machine:Marble`, `/shop loosen machine:Marble note:"read in the manual, page 12"`},
}

// loosenAction puts a change of a set-up in force that loosens a safety check and waits.
const loosenAction lasting[factArg] = "loosen"

// runLoosen shows the change of a machine's set-up that waits, or puts it in force.
func runLoosen(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	asked := st.Loosening
	if asked == nil {
		return Reply{Headline: c.say("loosen.none", words.D{"Machine": words.User(machine.Name)})}, nil
	}
	if c.options["note"] != "" {
		return c.putInForce(machine, asked, words.Clean(c.options["note"]))
	}
	reply := Reply{Headline: c.say("loosen.waits", words.D{"Machine": words.User(machine.Name),
		"By": words.Person(string(asked.By)), "No": asked.Fact}), Lines: c.waitingLines(machine, asked)}
	if asked.By != c.actor.ID {
		reply.Buttons = []Button{{Label: c.say("button.loosen", nil), Style: Grave,
			Custom: loosenAction.with(factArg(asked.Fact))}}
	}
	reply.Lines = append(reply.Lines, c.say("caution.manual", nil))
	return reply, nil
}

// runPutInForce puts the change that a button is about in force, if it waits still.
func runPutInForce(c *call, of factArg) (Reply, error) {
	fact, _, snap, err := aboutA[domain.LooseningAsked](c, domain.FactNo(of))
	if err != nil {
		return Reply{}, err
	}
	st := domain.Assess(snap, c.now)
	if st.Loosening == nil || st.Loosening.Fact != fact.No {
		return Reply{}, &domain.Refusal{Code: domain.LooseningGone, Name: snap.Machine.Name, Fact: fact.No}
	}
	reply, err := c.putInForce(snap.Machine, st.Loosening, "")
	reply.Replaces = true
	return reply, err
}

// putInForce changes a machine's set-up as it was asked for.
func (c *call) putInForce(machine domain.Machine, asked *domain.LooseningBy, note string) (Reply, error) {
	alone, err := c.onlySteward()
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine, domain.SetupChanged{Item: asked.Item, Setup: asked.Setup, Loosens: asked.Fact,
		Note: note, Alone: alone})
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.say("loosen.in-force", words.D{"Machine": words.User(machine.Name),
		"No": outcome.Fact.No}), Lines: c.loosenLines(asked.Loosens)}
	reply.Lines = append(reply.Lines, c.say("caution.manual", nil))
	return reply, nil
}
