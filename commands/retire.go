package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var shopRetire = &Command{
	Name: "shop retire", Who: Steward, Quiet: true, Exact: true, Words: 25,
	Options:  []Option{machineOption},
	Examples: []string{`/shop retire machine:Marble`},
}

// retiring is a machine whose retirement waits to be confirmed.
type retiring struct {
	Machine domain.MachineID `json:"machine"`
}

// retireAction takes a machine off the books.
const retireAction waiting[retiring] = "retire"

// runRetire asks whether a machine really goes off the books; nothing is stored yet.
func runRetire(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	return Reply{Headline: c.say("retire.ask", words.D{"Machine": words.User(machine.Name)}),
		Buttons: []Button{{Label: c.say("button.retire", words.D{"Machine": words.Clean(machine.Name)}), Style: Grave,
			Custom: wait(c, retireAction, retiring{machine.ID})}}}, nil
}

// runRetired takes the machine off the books. Its facts stay.
func runRetired(c *call, w retiring) (Reply, error) {
	snap, err := c.books.Snapshot(c, w.Machine)
	if err != nil {
		return Reply{}, err
	}
	if _, err := c.report(snap.Machine, domain.MachineRetired{}); err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.say("retire.done", words.D{"Machine": words.User(snap.Machine.Name)})}, nil
}
