package commands

import (
	"strings"

	"setscrew/commands/words"
)

var helpCommand = &Command{
	Name: "help", Who: Anyone, Quiet: true, Words: 495,
	Options:  []Option{{Name: "command", Takes: CommandName}},
	Examples: []string{`/help`, `/help command:reading`},
}

// runHelp lists the commands that whoever asks may give, or explains one of them.
func runHelp(c *call) (Reply, error) {
	// All commands that whoever asks may give.
	if c.options["command"] == "" {
		reply := Reply{Headline: c.say("help.headline", nil)}
		for _, cmd := range c.desk.list {
			if c.may(cmd.Who, c.actor.ID) {
				reply.Lines = append(reply.Lines, "/"+cmd.Name+": "+c.desk.Describe(cmd, ""))
			}
		}
		reply.Lines = append(reply.Lines, c.say("help.more", nil), c.say("tag.isolates-nothing", nil),
			c.say("caution.manual", nil))
		return reply, nil
	}
	i, err := c.lookUp("command", "command",
		namedIn(c.desk.list, func(cmd **Command) named { return named{ID: "/" + (*cmd).Name, Name: (*cmd).Name} }))
	if err != nil {
		return Reply{}, err
	}
	// One command: its options, who may give it, and examples.
	cmd := c.desk.list[i]
	answer := Reply{Headline: "/" + cmd.Name + ": " + c.desk.Describe(cmd, "")}
	for _, option := range cmd.Options {
		line := option.Name + ": " + c.desk.Describe(cmd, option.Name)
		if len(option.OneOf) > 0 {
			line += " (" + strings.Join(option.OneOf, ", ") + ")"
		}
		if !option.Required {
			line = c.say("help.optional", words.D{"Option": line})
		}
		answer.Lines = append(answer.Lines, line)
	}
	if cmd.Who != Anyone {
		answer.Lines = append(answer.Lines, c.say("help.stewards", nil))
	}
	answer.Lines = append(answer.Lines, c.say("help.examples", words.D{"N": len(cmd.Examples)}))
	for _, e := range cmd.Examples {
		answer.Lines = append(answer.Lines, c.forThisShop(e))
	}
	return answer, nil
}
