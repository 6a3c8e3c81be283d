package commands

import (
	"fmt"

	"setscrew/commands/words"
	"setscrew/domain"
)

// seeToAction says that whoever presses it sees to the dangers on a machine.
const seeToAction lasting[alarmArg] = "seeto"

// alarmArg is a machine, and the danger on it that a button is about, by the report that
// stands for it. Its text is "machine.danger".
type alarmArg struct {
	machine domain.MachineID
	danger  domain.FactNo
}

func (a alarmArg) String() string { return fmt.Sprintf("%d.%d", a.machine, a.danger) }

func (alarmArg) parse(text string) (alarmArg, bool) {
	machine, danger, ok := parseOfMachine(text, 1)
	return alarmArg{machine, danger}, ok
}

// seeToButton is the button by which somebody says that they see to a danger.
func (w *wording) seeToButton(machine domain.MachineID, danger domain.FactNo) Button {
	return Button{Label: w.say("button.seeto", nil), Style: Primary,
		Custom: seeToAction.with(alarmArg{machine, danger})}
}

// runSeeTo records that the one who speaks sees to the dangers that stand on a machine.
func runSeeTo(c *call, of alarmArg) (Reply, error) {
	snap, err := c.books.Snapshot(c, of.machine)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(snap.Machine, domain.SeenTo{Of: of.danger})
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.say("seen.done", words.D{"Machine": words.User(snap.Machine.Name)})}
	stays := "seen.doubt"
	if outcome.After.TaggedOut() {
		stays = "seen.stays"
	}
	reply.Lines = []string{c.say(stays, nil), c.say("seen.undo", words.D{"No": outcome.Fact.No})}
	return reply, nil
}
