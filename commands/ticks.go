package commands

import (
	"fmt"
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

// stateOption says how a machine came on the books, or what is known of it now.
var stateOption = Option{Name: "state", Takes: OneOf,
	OneOf: []string{string(domain.StartNew), string(domain.StartInUse)}}

// tickAction makes one tick of a machine.
const tickAction lasting[tickArg] = "tick"

// tickArg is a machine and one of the ticks of its profile. Its text is "machine.tick".
type tickArg struct {
	machine domain.MachineID
	tick    string
}

func (a tickArg) String() string { return fmt.Sprintf("%d.%s", a.machine, a.tick) }

func (tickArg) parse(text string) (tickArg, bool) {
	machine, tick, _ := strings.Cut(text, ".")
	no, ok := number(machine, 1)
	return tickArg{domain.MachineID(no), tick}, ok && tick != ""
}

// settingUpReply says of a machine that is being set up how it comes into service.
func (c *call) settingUpReply(st domain.Status) Reply {
	return Reply{Headline: c.notInService(st), Lines: []string{c.say("tag.isolates-nothing", nil),
		c.say("start.release", words.D{"Setup": slash("setup", "machine", st.Machine.Name),
			"Example": slash("release", "machine", st.Machine.Name)})}}
}

// tickReply lists the ticks of a machine, with a button for each that is missing.
func (c *call) tickReply(st domain.Status) Reply {
	prof := st.Machine.Profile
	data := words.D{"Machine": words.User(st.Machine.Name), "N": len(st.Missing)}
	reply := Reply{Headline: c.say("tick.unproved", data)}
	if st.SettingUp {
		reply.Headline = c.notInService(st)
		reply.Lines = append(reply.Lines, c.say("tick.missing", data))
	}
	reply.Lines = append(reply.Lines, c.say("tick.power", nil))
	for _, tick := range prof.Start {
		if !slices.Contains(st.Missing, tick) {
			reply.Lines = append(reply.Lines, "- "+c.say("tick.made", words.D{"Tick": capital(tick.Name)}))
			continue
		}
		reply.Lines = append(reply.Lines,
			"- "+c.say("tick.says", words.D{"Tick": capital(tick.Name), "Says": tick.Says}))
		reply.Buttons = append(reply.Buttons, Button{
			Label:  shorten(c.say("button.tick", words.D{"Tick": tick.Name}), buttonChars),
			Custom: tickAction.with(tickArg{st.Machine.ID, tick.ID})})
	}
	if st.SettingUp {
		reply.Lines = append(reply.Lines, c.say("tick.later", words.D{
			"Example": slash("shop start", "machine", st.Machine.Name)}))
	}
	return reply
}

// withFirsts is a reply that also says what is next on a machine that came in use.
func (c *call) withFirsts(reply Reply, st domain.Status) Reply {
	reply.Lines = append(reply.Lines, c.firstLines(st)...)
	if len(st.Starting) > 0 {
		reply.Lines = append(reply.Lines, c.say("add.starting", words.D{"N": len(st.Starting)}),
			c.say("add.next", nil), slash("shop confirm", "machine", st.Machine.Name))
	}
	return reply
}
