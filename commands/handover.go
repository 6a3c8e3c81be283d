package commands

import (
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/match"
	"setscrew/domain/profile"
)

var handoverCommand = &Command{
	Name: "handover", Who: Anyone, Quiet: true, Words: 90,
	Options: []Option{machineOption, {Name: "apart", Takes: Text, Max: 200}, {Name: "lock", Takes: Text, Max: 200},
		{Name: "next", Takes: Text, Max: 200}, {Name: "moved", Takes: Text, Max: 200}, whenOption, forOption},
	Examples: []string{`/handover machine:Marble apart:"head cover off, two knives out" ` +
		`lock:"mine, the key is with me" next:"set the knives" moved:"knife projection, knife clamping"`,
		`/handover machine:Marble`},
}

// takeOverAction says that whoever presses it takes a handover over.
const takeOverAction lasting[factArg] = "take-over"

// runHandover records a handover, or shows the one that waits.
func runHandover(c *call) (Reply, error) {
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	// What it says of it: nothing at all asks for the one that waits.
	handover := domain.Handover{Apart: words.Clean(c.options["apart"]), Lock: words.Clean(c.options["lock"]),
		Next: words.Clean(c.options["next"])}
	empty := handover.Apart == "" && handover.Lock == "" && handover.Next == ""
	switch {
	case empty && st.Handover == nil:
		return Reply{Headline: c.say("handover.none", words.D{"Machine": words.User(machine.Name)}),
			Lines: []string{c.say("example", words.D{"Example": handoverCommand.Examples[0]})}}, nil
	case empty:
		return c.handover(st), nil
	case handover.Apart == "" || handover.Next == "":
		return Reply{}, &userError{key: "handover.needs", example: handoverCommand.Examples[0]}
	}
	if handover.Surfaces, err = c.movedBy(machine.Profile); err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(machine, handover)
	if err != nil {
		return Reply{}, err
	}
	recorded := c.say("handover.recorded", words.D{"Machine": words.User(machine.Name), "No": outcome.Fact.No})
	reply := Reply{Headline: recorded}
	if outcome.After.TaggedOut() {
		reply = Reply{Headline: c.outOfService(machine), Lines: []string{recorded, c.say("tag.isolates-nothing", nil)}}
	}
	reply.Lines = append(reply.Lines, c.readAgain(machine, handover.Surfaces)...)
	return reply, nil
}

// movedBy is the checks whose surfaces moved while a machine was taken apart: those
// that the option names, or all safety checks that are made while it stands still.
func (c *call) movedBy(prof *profile.Profile) (moved []string, err error) {
	typed := words.Clean(c.options["moved"])
	if typed == "" {
		for _, check := range prof.Checks {
			if check.Class == profile.Safety && !check.Running && !check.OnDemand {
				moved = append(moved, check.ID)
			}
		}
		return moved, nil
	}
	if fold(typed) == "nothing" {
		return nil, nil
	}
	// Each name by itself.
	among := checksByName(prof)
	for rest := strings.Split(typed, ","); len(rest) > 0; {
		found, taken := -1, len(rest)
		for ; taken > 0 && found < 0; taken-- { // a name may hold commas of its own
			if name := strings.Join(rest[:taken], ","); taken > 1 {
				found = match.Exact(name, among)
			} else {
				found, _ = find(name, among)
			}
		}
		if found < 0 {
			_, names := find(rest[0], among)
			if len(names) == 0 {
				for _, check := range among[:min(len(among), 3)] {
					names = append(names, check.Name)
				}
			}
			return nil, &userError{key: "handover.moved", data: words.D{"Given": words.User(strings.TrimSpace(rest[0])),
				"Checks": words.Users(names)}, example: handoverCommand.Examples[0]}
		}
		rest = rest[taken+1:]
		if !slices.Contains(moved, among[found].ID) {
			moved = append(moved, among[found].ID)
		}
	}
	return moved, nil
}

// handover shows the handover that waits, with a button to take it over.
func (c *call) handover(st domain.Status) Reply {
	return Reply{Headline: c.say("handover.headline", words.D{"Machine": words.User(st.Machine.Name)}),
		Lines: c.handoverLines(st),
		Buttons: []Button{{Label: c.say("button.takeover", nil), Style: Primary,
			Custom: takeOverAction.with(factArg(st.Handover.Fact))}}}
}

// runTakeOver records that whoever presses it goes on with what was handed over apart.
func runTakeOver(c *call, of factArg) (Reply, error) {
	outcome, err := c.reportAbout(of, domain.TakenOver{Of: domain.FactNo(of)})
	if err != nil {
		return Reply{}, err
	}
	data := words.D{"Machine": words.User(outcome.After.Machine.Name), "No": outcome.Fact.No}
	return Reply{Replaces: true, Headline: c.say("handover.taken", data),
		Lines: []string{c.say("caution.isolate", data)}}, nil
}
