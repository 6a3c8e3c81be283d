package bot

import (
	"context"
	"fmt"
	"reflect"
	"strings"

	"github.com/bwmarrin/discordgo"

	"setscrew/commands"
)

// declared is a command, or an option of one, as Discord is told of it.
type declared struct {
	Type         int        `json:"type"`
	Name         string     `json:"name"`
	Description  string     `json:"description"`
	Contexts     []int      `json:"contexts,omitempty"`
	Required     bool       `json:"required,omitempty"`
	Autocomplete bool       `json:"autocomplete,omitempty"`
	MaxLength    int        `json:"max_length,omitempty"`
	ChannelTypes []int      `json:"channel_types,omitempty"`
	Choices      []choice   `json:"choices,omitempty"`
	Options      []declared `json:"options,omitempty"`
}

// Discord's types of options.
const (
	optionSub     = 1
	optionText    = 3
	optionUser    = 6
	optionChannel = 7
	optionRole    = 8
	optionFile    = 11
)

// inServers is the context in which commands work: servers only.
const inServers = 0

// declare converts the desk's declarations to Discord's form.
func declare(desk *commands.Desk) []declared {
	var all []declared
	index := map[string]int{}
	for _, command := range desk.Declarations() {
		var options []declared
		for _, taken := range command.Options {
			options = append(options, option(desk, command, taken))
		}
		group, sub, nested := strings.Cut(command.Name, " ")
		if !nested {
			all = append(all, declared{Type: 1, Name: command.Name, Description: desk.Describe(command, ""),
				Contexts: []int{inServers}, Options: options})
			continue
		}
		at, ok := index[group]
		if !ok {
			at = len(all)
			index[group] = at
			all = append(all, declared{Type: 1, Name: group, Description: desk.DescribeGroup(group),
				Contexts: []int{inServers}})
		}
		all[at].Options = append(all[at].Options,
			declared{Type: optionSub, Name: sub, Description: desk.Describe(command, ""), Options: options})
	}
	return all
}

func option(d *commands.Desk, c *commands.Command, o commands.Option) declared {
	shown := declared{Type: optionText, Name: o.Name, Description: d.Describe(c, o.Name), Required: o.Required,
		MaxLength: o.Max}
	switch o.Takes {
	case commands.Text:
	case commands.Person:
		shown.Type = optionUser
	case commands.Attachment:
		shown.Type = optionFile
	case commands.Role:
		shown.Type = optionRole
	case commands.Channel:
		shown.Type, shown.ChannelTypes = optionChannel, []int{0}
	case commands.OneOf:
		for _, v := range o.OneOf {
			shown.Choices = append(shown.Choices, choice{v, v})
		}
	default:
		shown.Autocomplete = true
	}
	return shown
}

// register tells Discord of the commands, in bulk, if what it knows differs.
// changed says whether it did.
func register(ctx context.Context, session *discordgo.Session, app string, want []declared) (changed bool, err error) {
	have, err := registered(ctx, session, app)
	if err != nil {
		return false, err
	}
	if sameCommands(have, want) {
		return false, nil
	}
	url := discordgo.EndpointApplicationGlobalCommands(app)
	if _, err := session.RequestWithBucketID("PUT", url, want, url, discordgo.WithContext(ctx)); err != nil {
		return false, fmt.Errorf("register commands: %w", err)
	}
	return true, nil
}

// sameCommands compares what Discord knows with what it should, whatever the
// order of the commands; the order of options counts.
func sameCommands(have, want []declared) bool {
	by := map[string]declared{}
	for _, d := range have {
		by[d.Name] = d
	}
	if len(by) != len(want) {
		return false
	}
	for _, w := range want {
		if h, ok := by[w.Name]; !ok || !reflect.DeepEqual(h, w) {
			return false
		}
	}
	return true
}
