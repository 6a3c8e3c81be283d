package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var handoverCommand = &Command{
	Name: "handover", Who: Anyone, Quiet: true, Words: 60,
	Options: []Option{machineOption, {Name: "apart", Takes: Text, Max: 200}, {Name: "lock", Takes: Text, Max: 200},
		{Name: "next", Takes: Text, Max: 200}, whenOption, forOption},
	Examples: []string{`/handover machine:Marble apart:"head cover off, two knives out" ` +
		`lock:"mine, key in the tin" next:"set the knives"`, `/handover machine:Marble`},
}

// takeOverAction says that whoever presses it takes a handover over.
const takeOverAction lasting[factArg] = "take-over"

// runHandover records a handover, or shows the one that waits.
func runHandover(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	handover := domain.Handover{Apart: words.Clean(c.options["apart"]), Lock: words.Clean(c.options["lock"]),
		Next: words.Clean(c.options["next"])}
	switch {
	case handover == domain.Handover{} && st.Handover == nil:
		return Reply{Headline: c.say("handover.none", words.D{"Machine": words.User(machine.Name)}),
			Lines: []string{c.say("example", words.D{"Example": handoverCommand.Examples[0]})}}, nil
	case handover == domain.Handover{}:
		return c.handover(st), nil
	case handover.Apart == "" || handover.Next == "":
		return Reply{}, &userError{key: "handover.needs", example: handoverCommand.Examples[0]}
	}
	o, err := c.report(machine, handover)
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.say("handover.recorded", words.D{"Machine": words.User(machine.Name), "No": o.Fact.No})}
	if !o.After.TaggedOut() {
		reply.Lines = append(reply.Lines, c.say("problem.tagout", words.D{}))
		reply.Buttons = []Button{c.tagoutButton(machine, handover.Apart)}
	}
	return reply, nil
}

// handover shows the handover that waits, with a button to take it over.
func (c *call) handover(st domain.Status) Reply {
	return Reply{Headline: c.say("handover.headline", words.D{"Machine": words.User(st.Machine.Name)}),
		Lines: c.handoverLines(st),
		Buttons: []Button{{Label: c.say("button.takeover", nil), Style: Primary,
			Custom: takeOverAction.with(factArg(st.Handover.Fact))}}}
}

func runTakeOver(c *call, of factArg) (Reply, error) {
	no := domain.FactNo(of)
	f, err := c.books.Fact(c, no)
	if err != nil {
		return Reply{}, err
	}
	snap, err := c.books.Snapshot(c, f.Machine)
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(snap.Machine, domain.TakenOver{Of: no})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true,
		Headline: c.say("handover.taken", words.D{"Machine": words.User(snap.Machine.Name), "No": o.Fact.No}),
		Lines:    []string{c.say("caution.isolate", words.D{"Machine": words.User(snap.Machine.Name)})}}, nil
}
