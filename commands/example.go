package commands

import (
	"maps"
	"slices"
	"strings"

	"setscrew/commands/words"
)

// exampleWith is the command as it was given, with one option replaced, or left
// out where value is "", and others left out: an example that works.
func (c *call) exampleWith(option, value string, without ...string) string {
	given := c.options
	defer func() { c.options = given }()
	c.options = maps.Clone(given)
	c.options[option] = value
	return c.exampleWithout(without...)
}

// exampleWithout is the command as it was given, with some options left out.
func (c *call) exampleWithout(options ...string) string {
	cmd := c.desk.byName[c.name].Command
	if cmd == nil {
		return ""
	}
	var text strings.Builder
	text.WriteString("/" + cmd.Name)
	for _, option := range cmd.Options {
		typed := c.options[option.Name]
		if typed == "" || slices.Contains(options, option.Name) {
			continue
		}
		typed = words.User(typed)
		if strings.ContainsAny(typed, " ,\"") {
			typed = `"` + strings.ReplaceAll(typed, `"`, `\"`) + `"`
		}
		text.WriteString(" " + option.Name + ":" + typed)
	}
	return text.String()
}

// exampleOf is a command's first example, for a machine that this shop has.
func (c *call) exampleOf(cmd *Command) string { return c.forThisShop(cmd.Examples[0]) }

// demoMachine is the machine that the declarations' examples name.
const demoMachine = "machine:Marble"

// forThisShop is an example with the shop's first machine in the place of the demo
// shop's.
func (c *call) forThisShop(example string) string {
	if !strings.Contains(example, demoMachine) {
		return example
	}
	all, err := c.books.Machines(c)
	if err != nil || len(all) == 0 || machineNamed(all, "Marble") != nil {
		return example
	}
	return strings.ReplaceAll(example, demoMachine, "machine:"+quoted(all[0].Name))
}
