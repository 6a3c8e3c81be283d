package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var shopStart = &Command{
	Name: "shop start", Who: Steward, Quiet: true, Words: 190,
	Options:  []Option{machineOption, stateOption},
	Examples: []string{`/shop start machine:Marble`},
}

// runStart says what proves that a machine may run: its ticks, or a release; or that
// nothing is known of it.
func runStart(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	state := domain.StartState(c.options[stateOption.Name])
	data := words.D{"Machine": words.User(machine.Name), "Example": slash("shop start", "machine", machine.Name)}
	switch {
	case machine.Profile.Harmless:
		return Reply{Headline: c.say("start.harmless", data)}, nil
	case state == domain.StartNew:
	case len(st.Missing) > 0:
		return c.tickReply(st), nil
	case !st.SettingUp:
		return Reply{Headline: c.say("start.proved", data), Lines: []string{c.say("start.moved", data)}}, nil
	case state == "":
		return c.settingUpReply(st), nil
	}
	// Of one on the books it is said that nothing is known of it: it was moved, or is not
	// as it was. That one which is being set up is in use after all is refused.
	outcome, err := c.report(machine, domain.SetupChanged{Item: domain.Item{Kind: domain.StartItem},
		Setup: machine.Setup.WithStart(state, c.now)})
	if err != nil {
		return Reply{}, err
	}
	reply := c.settingUpReply(outcome.After)
	reply.Lines = append(reply.Lines, c.say("recorded", words.D{"No": outcome.Fact.No}))
	return reply, nil
}

// runTick makes one tick. With the last the machine is in service, unless something else
// keeps it out.
func runTick(c *call, of tickArg) (Reply, error) {
	snap, err := c.books.Snapshot(c, of.machine)
	if err != nil {
		return Reply{}, err
	}
	made := snap.Machine.Profile.Tick(of.tick)
	if made == nil {
		return Reply{}, noSuchButton()
	}
	outcome, err := c.report(snap.Machine, domain.Ticked{Tick: made.ID, Name: made.Name, Says: made.Says})
	if err != nil {
		return Reply{}, err
	}
	reply := c.tickedReply(outcome.After)
	reply.Replaces = true
	return reply, nil
}

// tickedReply says what a tick has come to.
func (c *call) tickedReply(st domain.Status) Reply {
	data := words.D{"Machine": words.User(st.Machine.Name)}
	switch {
	case len(st.Missing) > 0:
		return c.tickReply(st)
	case st.TaggedOut():
		return Reply{Headline: c.notInService(st),
			Lines: append([]string{c.say("tick.all", nil)}, c.standingLines(st.Tags)...)}
	}
	reply := Reply{Headline: c.say("tick.starts", data), Lines: []string{c.say("tick.all", nil)}}
	return c.withFirsts(reply, st)
}
