package discordtest

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"unicode/utf8"
)

// Discord's types of commands and of options.
const (
	commandSlash   = 1
	commandUser    = 2
	commandMessage = 3

	optionSub         = 1
	optionGroup       = 2
	optionText        = 3
	optionInteger     = 4
	optionBoolean     = 5
	optionUser        = 6
	optionChannel     = 7
	optionRole        = 8
	optionMentionable = 9
	optionNumber      = 10
	optionFile        = 11
)

// safeInteger is the largest number, up or down, that an option takes: 2 to the 53rd.
const safeInteger = 1 << 53

// typed is what a client sends of what its user typed for an option; an error where it
// lets nobody send that.
func (d declaration) typed(text string) (any, error) {
	refused := fmt.Errorf("discordtest: a client refuses %q for %s", text, d.Name)
	var value any = text
	switch d.Type {
	case optionText:
		n := utf8.RuneCountInString(text)
		if d.MaxLength > 0 && n > d.MaxLength {
			return nil, fmt.Errorf("discordtest: a client takes %d characters for %s", d.MaxLength, d.Name)
		}
		if n < d.MinLength || n == 0 || n > 6000 {
			return nil, fmt.Errorf("discordtest: a client asks for at least %d characters for %s, at most 6,000",
				max(d.MinLength, 1), d.Name)
		}
	case optionBoolean:
		truth, err := strconv.ParseBool(text)
		if err != nil {
			return nil, refused
		}
		return truth, nil
	case optionInteger, optionNumber:
		number, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsNaN(number) || math.Abs(number) > safeInteger || d.Type == optionInteger &&
			number != math.Trunc(number) ||
			d.MinValue != nil && number < *d.MinValue || d.MaxValue != nil && number > *d.MaxValue {
			return nil, refused
		}
		value = number
	}
	if len(d.Choices) > 0 && !slices.ContainsFunc(d.Choices,
		func(c any) bool { choice, _ := c.(map[string]any); return choice["value"] == value }) {
		return nil, fmt.Errorf("discordtest: a client offers no choice %q for %s", text, d.Name)
	}
	return value, nil
}

// checkChoice holds a choice of an option of a type to Discord's rules.
func checkChoice(kind int, c any) error {
	choice, _ := c.(map[string]any)
	name, _ := choice["name"].(string)
	bad := errForm(fmt.Sprintf("choice %q of value %v", name, choice["value"]))
	if !within(name, 1, 100) {
		return bad
	}
	switch value := choice["value"].(type) {
	case string:
		if kind != optionText || utf8.RuneCountInString(value) > 100 {
			return bad
		}
	case float64:
		if kind == optionText || kind == optionInteger && value != math.Trunc(value) || math.Abs(value) > safeInteger {
			return bad
		}
	default:
		return bad
	}
	return nil
}

// filled is a form's field as a client sends it, out of what was given by custom id.
func (c component) filled(given map[string]string) (map[string]any, error) {
	value, ok := given[c.CustomID]
	if !ok {
		value = c.Value
	}
	sent := map[string]any{"type": c.Type, "custom_id": c.CustomID}
	if c.Type != typeInput {
		values := []any{}
		if value != "" {
			values = append(values, value)
		}
		if c.Type == typeTextSelect && value != "" && !slices.ContainsFunc(c.Options,
			func(option choosable) bool { return option.Value == value }) {
			return nil, fmt.Errorf("discordtest: the form offers no %q for %s", value, c.CustomID)
		}
		sent["values"] = values
		return sent, nil
	}
	needed := c.Required == nil || *c.Required
	n := utf8.RuneCountInString(value)
	if n > or(c.Longest, 4000) || n < or(c.Shortest, 0) && n > 0 || n == 0 && needed {
		return nil, fmt.Errorf("discordtest: a form takes %d to %d characters for %s, not %d", or(c.Shortest, 1),
			or(c.Longest, 4000), c.CustomID, n)
	}
	sent["value"] = value
	return sent, nil
}

// OnMessage gives a message's command, as a member finds it in a message's menu.
func (s *Server) OnMessage(g *Guild, c *Channel, m *Member, command string, message Message) (*Interaction, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.menu(g, c, m, commandMessage, command, message.ID,
		map[string]any{"messages": map[string]any{message.ID: message.json()}})
}

// OnMember gives a person's command, as a member finds it in a person's menu.
func (s *Server) OnMember(g *Guild, c *Channel, m *Member, command string, who *Member) (*Interaction, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.menu(g, c, m, commandUser, command, who.ID,
		map[string]any{"users": map[string]any{who.ID: user(who)}})
}

// menu gives a command that is found in a menu, on its target.
func (s *Server) menu(guild *Guild, channel *Channel, member *Member, kind int, command, target string,
	resolved map[string]any) (*Interaction, error) {
	for _, raw := range append(slices.Clone(s.commands[""]), s.commands[guild.ID]...) {
		var known declaration
		if err := json.Unmarshal(raw, &known); err == nil && known.Type == kind && known.Name == command {
			return s.send(guild, channel, member, 2, map[string]any{"id": known.ID, "name": command, "type": kind,
				"target_id": target,
				"resolved":  resolved}, nil), nil
		}
	}
	return nil, fmt.Errorf("discordtest: no command %q is in a menu", command)
}

// created is what a request made: its answer has another status than that to one that
// changed something.
type created struct{ what any }

var errUnknownCommand = refuse(404, 10063, "Unknown application command")

// command serves the routes of single commands.
func (s *Server) command(call *restCall) (any, error) {
	guild := call.guild()
	if guild != "" && s.guilds[guild] == nil {
		return nil, errAccess
	}
	all := s.commands[guild]
	at := -1
	var last declaration
	for i, raw := range all {
		if json.Unmarshal(raw, &last) == nil && last.ID == call.path[len(call.path)-1] {
			at = i
			break
		}
	}
	if call.r.Method != "POST" && at < 0 {
		return nil, errUnknownCommand
	}
	whole := map[string]any{}
	switch call.r.Method {
	case "GET":
		return all[at], nil
	case "DELETE":
		s.commands[guild] = slices.Delete(slices.Clone(all), at, at+1)
		return nil, nil
	case "PATCH":
		// What is not said stays.
		if err := json.Unmarshal(all[at], &whole); err != nil {
			return nil, err
		}
	}
	// any order: each is set once
	for key, value := range call.body {
		whole[key] = value
	}
	var list []any
	for i, raw := range all {
		if i == at {
			continue
		}
		var other map[string]any
		if err := json.Unmarshal(raw, &other); err != nil {
			return nil, err
		}
		// Made again under its name and type, a command takes the other's place.
		if call.r.Method == "POST" && other["name"] == whole["name"] && kindOf(other) == kindOf(whole) {
			whole["id"] = other["id"]
			continue
		}
		list = append(list, other)
	}
	fresh := len(list) == len(all)
	raw, err := json.Marshal(append(list, any(whole)))
	if err != nil {
		return nil, err
	}
	stored, err := s.overwrite(guild, raw)
	if err != nil {
		return nil, err
	}
	one := stored[len(stored)-1]
	if fresh {
		return created{one}, nil
	}
	return one, nil
}

// kindOf is a command's type.
func kindOf(command map[string]any) float64 {
	if kind, ok := command["type"].(float64); ok {
		return kind
	}
	return commandSlash
}
