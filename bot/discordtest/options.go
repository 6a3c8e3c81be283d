package discordtest

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// commandData is a command's data as a client sends it.
func (s *Server) commandData(guild *Guild, command string, options map[string]string, focused string) (map[string]any,
	error) {
	path := strings.Fields(command)
	for _, raw := range append(slices.Clone(s.commands[""]), s.commands[guild.ID]...) {
		var known declaration
		if err := json.Unmarshal(raw, &known); err != nil || known.Type != commandSlash || known.Name != path[0] {
			continue
		}
		// Down through groups to what takes options.
		at := known
		for _, name := range path[1:] {
			below := slices.IndexFunc(at.Options,
				func(o declaration) bool { return o.Name == name && (o.Type == optionSub || o.Type == optionGroup) })
			if below < 0 {
				return nil, fmt.Errorf("discordtest: no subcommand %q", command)
			}
			at = at.Options[below]
		}
		if slices.ContainsFunc(at.Options, func(o declaration) bool { return o.Type <= optionGroup }) ||
			at.Type == optionGroup && len(path) > 1 {
			return nil, fmt.Errorf("discordtest: /%s is a group, and no command", command)
		}
		resolved := map[string]any{}
		options, err := s.optionData(guild, at.Options, options, focused, resolved)
		if err != nil {
			return nil, err
		}
		// And up again: a subcommand stands as the only option of what it belongs to.
		for depth := len(path) - 1; depth > 0; depth-- {
			kind := optionSub
			if depth < len(path)-1 {
				kind = optionGroup
			}
			options = []any{map[string]any{"name": path[depth], "type": kind, "options": options}}
		}
		data := map[string]any{"id": known.ID, "name": known.Name, "type": commandSlash, "options": options}
		if len(resolved) > 0 {
			data["resolved"] = resolved
		}
		return data, nil
	}
	return nil, fmt.Errorf("discordtest: no command %q is registered", command)
}

func (s *Server) optionData(guild *Guild, known []declaration, options map[string]string, focused string,
	resolved map[string]any) ([]any, error) {
	list := []any{}
	given := maps.Clone(options)
	for _, option := range known {
		// What is left out may be, unless it is required.
		value, ok := given[option.Name]
		delete(given, option.Name)
		if !ok {
			if option.Required && focused == "" {
				return nil, fmt.Errorf("discordtest: a client asks for %s before it sends", option.Name)
			}
			continue
		}
		// What is sent depends on the option's type; what it names is resolved beside it.
		sent := map[string]any{"name": option.Name, "type": option.Type, "value": value}
		switch {
		case option.Name == focused:
			sent["focused"] = true // half-typed values come as text whatever their type
		case option.Type <= optionBoolean || option.Type == optionNumber:
			typed, err := option.typed(value)
			if err != nil {
				return nil, err
			}
			sent["value"] = typed
		case option.Type == optionUser, option.Type == optionMentionable && guild.Members[value] != nil:
			member := guild.Members[value]
			if member == nil {
				return nil, fmt.Errorf("discordtest: a client offers no member %q for %s", value, option.Name)
			}
			put(resolved, "users", value, user(member))
		case option.Type == optionChannel:
			channel := s.channels[value]
			if channel == nil || channel.Guild != guild.ID ||
				len(option.ChannelTypes) > 0 && !slices.Contains(option.ChannelTypes, 0) {
				return nil, fmt.Errorf("discordtest: a client offers no channel %q for %s", value, option.Name)
			}
			put(resolved, "channels", value, map[string]any{"id": channel.ID, "name": channel.Name, "type": 0,
				"permissions": "0"})
		case option.Type == optionRole || option.Type == optionMentionable:
			name := guild.Roles[value]
			if value == guild.ID {
				name = "@everyone"
			}
			if name == "" {
				return nil, fmt.Errorf("discordtest: a client offers no role %q for %s", value, option.Name)
			}
			put(resolved, "roles", value, map[string]any{"id": value, "name": name,
				"permissions": "0",
				"color":       0, "hoist": false, "position": 1, "managed": false,
				"mentionable": guild.state(value).mentionable})
		case option.Type == optionFile:
			id := s.newID()
			file := s.link("ephemeral-attachments", id, value, s.attachment(), ephemeralLinkLife)
			file["content_type"], file["ephemeral"] = "image/png", true
			put(resolved, "attachments", id, file)
			sent["value"] = id
		}
		list = append(list, sent)
	}
	// What was given and is no option.
	for _, name := range slices.Sorted(maps.Keys(given)) {
		return nil, fmt.Errorf("discordtest: a client knows no option %q", name)
	}
	return list, nil
}

// put adds what is said of an id to what is resolved.
func put(resolved map[string]any, kind, id string, what any) {
	all, _ := resolved[kind].(map[string]any)
	if all == nil {
		all = map[string]any{}
		resolved[kind] = all
	}
	all[id] = what
}

// checkChoices holds a completion's choices to Discord's rules; their values are of the
// type of the option that is typed.
func (i *Interaction) checkChoices(choices []any) ([]string, error) {
	if len(choices) > 25 {
		return nil, errForm("more than 25 choices")
	}
	values := []string{}
	for _, c := range choices {
		if err := checkChoice(i.typing, c); err != nil {
			return nil, err
		}
		choice, _ := c.(map[string]any)
		values = append(values, fmt.Sprint(choice["value"]))
	}
	return values, nil
}
