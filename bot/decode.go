package bot

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"github.com/bwmarrin/discordgo"

	"setscrew/commands"
	"setscrew/domain"
)

// errMalformed is an interaction that lacks what every interaction has: an id,
// a token, a server and a member, and its data.
var errMalformed = errors.New("malformed interaction")

// event is an interaction, read without trusting any of it.
type event struct {
	id, token, app string
	guild          domain.ShopID
	channel        string
	actor          commands.Actor
	kind           discordgo.InteractionType
	command        string            // of a slash command or completion
	options        map[string]string // as text
	focused        string            // of a completion
	custom         string            // of a button or form
	fields         map[string]string // of a form
}

// administrator and manageGuild are the permissions of those who may manage a
// server.
const (
	administrator = 1 << 3
	manageGuild   = 1 << 5
)

// decode reads an interaction, or refuses it.
func decode(interaction *discordgo.Interaction) (event, error) {
	if interaction == nil || interaction.ID == "" || interaction.Token == "" || interaction.AppID == "" ||
		interaction.GuildID == "" || interaction.Member == nil ||
		interaction.Member.User == nil || interaction.Member.User.ID == "" || interaction.Data == nil {
		return event{}, errMalformed
	}
	user := interaction.Member.User
	asked := event{id: interaction.ID, token: interaction.Token, app: interaction.AppID,
		guild: domain.ShopID(interaction.GuildID), channel: interaction.ChannelID,
		kind: interaction.Type,
		actor: commands.Actor{ID: domain.PersonID(user.ID), Name: name(interaction.Member),
			Roles:   interaction.Member.Roles,
			Manages: interaction.Member.Permissions&(administrator|manageGuild) != 0}}
	switch data := interaction.Data.(type) {
	case discordgo.ApplicationCommandInteractionData:
		if interaction.Type != discordgo.InteractionApplicationCommand &&
			interaction.Type != discordgo.InteractionApplicationCommandAutocomplete {
			return asked, errMalformed
		}
		return asked, asked.readCommand(data)
	case discordgo.MessageComponentInteractionData:
		asked.custom = data.CustomID
		return asked, nil
	case discordgo.ModalSubmitInteractionData:
		asked.custom = data.CustomID
		asked.fields = map[string]string{}
		for _, c := range data.Components {
			r, ok := c.(*discordgo.ActionsRow)
			if !ok {
				return asked, errMalformed
			}
			for _, p := range r.Components {
				t, ok := p.(*discordgo.TextInput)
				if !ok {
					return asked, errMalformed
				}
				asked.fields[t.CustomID] = t.Value
			}
		}
		return asked, nil
	}
	return asked, errMalformed
}

func name(member *discordgo.Member) string {
	switch {
	case member.Nick != "":
		return member.Nick
	case member.User.GlobalName != "":
		return member.User.GlobalName
	}
	return member.User.Username
}

// readCommand reads a command's name and its options, all as text.
func (e *event) readCommand(data discordgo.ApplicationCommandInteractionData) error {
	e.command = data.Name
	e.options = map[string]string{}
	list := data.Options
	for len(list) == 1 && list[0] != nil &&
		(list[0].Type == discordgo.ApplicationCommandOptionSubCommand ||
			list[0].Type == discordgo.ApplicationCommandOptionSubCommandGroup) {
		e.command += " " + list[0].Name
		list = list[0].Options
	}
	for _, option := range list {
		if option == nil || option.Name == "" {
			return errMalformed
		}
		switch value := option.Value.(type) {
		case string:
			e.options[option.Name] = value
			if option.Type == discordgo.ApplicationCommandOptionAttachment {
				p, err := photo(value, data.Resolved)
				if err != nil {
					return err
				}
				e.options[option.Name] = p
			}
		case float64:
			e.options[option.Name] = fmt.Sprint(value)
		case bool:
			e.options[option.Name] = fmt.Sprint(value)
		default:
			return errMalformed
		}
		if option.Focused {
			e.focused = option.Name
		}
	}
	if e.command == "" {
		return errMalformed
	}
	return nil
}

// photo is what Discord says of an attachment, as the desk takes it.
func photo(id string, r *discordgo.ApplicationCommandInteractionDataResolved) (string, error) {
	if r == nil || r.Attachments[id] == nil {
		return "", errMalformed
	}
	a := r.Attachments[id]
	text, err := json.Marshal(domain.Photo{ID: id, Name: a.Filename, URL: a.URL})
	return string(text), err
}

// typed is the command as it was given, for the audit.
func (e event) typed(list []*commands.Command) string {
	var text strings.Builder
	text.WriteString("/" + e.command)
	for _, c := range list {
		if c.Name != e.command {
			continue
		}
		for _, o := range c.Options {
			if v, ok := e.options[o.Name]; ok {
				fmt.Fprintf(&text, " %s:%q", o.Name, v)
			}
		}
	}
	return text.String()
}
