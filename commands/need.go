package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var shopNeeds = &Command{
	Name: "shop needs", Who: Steward, Quiet: true, Words: 40,
	Options:  otherOptions,
	Examples: []string{`/shop needs machine:Marble other:Marble wanted:no`},
}

// runNeeds says that a machine must not run without another, or may again.
func runNeeds(c *call) (Reply, error) {
	m, other, on, err := c.otherWanted()
	if err != nil {
		return Reply{}, err
	}
	if on && other.ID == m.ID {
		return Reply{}, &userError{key: "needs.itself", data: words.D{"Machine": words.User(m.Name)}}
	}
	o, err := c.report(m, domain.SetupChanged{Item: "needs", Setup: m.Setup.WithNeed(other.ID, on)})
	if err != nil {
		return Reply{}, err
	}
	key := "needs.off"
	if on {
		key = "needs.on"
	}
	r := Reply{Headline: c.say(key, words.D{"Machine": words.User(m.Name), "Other": words.User(other.Name), "No": o.Fact.No})}
	r.Lines = append(r.Lines, c.needLines(o.After)...)
	return r, nil
}

// otherWanted is a machine, another, and whether something between the two is
// wanted.
func (c *call) otherWanted() (m, other domain.Machine, on bool, err error) {
	if m, err = c.machine(); err == nil {
		other, err = c.machineOf("other")
	}
	return m, other, c.options["wanted"] == "yes", err
}

// otherOptions are what otherWanted reads.
var otherOptions = []Option{machineOption, {Name: "other", Takes: Machine, Required: true},
	{Name: "wanted", Takes: OneOf, OneOf: []string{"yes", "no"}, Required: true}}

// needLines say which machines that one needs are out of service.
func (w *wording) needLines(st domain.Status) []string {
	out := st.Lacks()
	if len(out) == 0 {
		return nil
	}
	var names []string
	for _, n := range out {
		names = append(names, n.Name)
	}
	return []string{w.say("needs.out", words.D{"Machine": words.User(st.Machine.Name), "Others": words.Users(names)})}
}
