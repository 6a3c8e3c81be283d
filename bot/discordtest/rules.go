package discordtest

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

// checkMessage holds a message's body to the limits that Discord enforces. An edit of a
// message may leave out what it does not change; before is nil for a new one.
func (s *Server) checkMessage(body map[string]any, files []upload, before *Message) error {
	content, embeds, parts, flags := body["content"], list(body, "embeds"), list(body, "components"), 0
	attached := len(files)
	if f, ok := body["flags"].(float64); ok {
		flags = int(f)
	}
	// What an edit leaves out stays.
	if before != nil {
		flags |= before.flags & flagComponents // cannot be taken back
		if _, ok := body["content"]; !ok {
			content = before.Content
		}
		if _, ok := body["components"]; !ok && before.Components != nil {
			json.Unmarshal(before.Components, &parts) //nolint:errcheck // it was taken as JSON
		}
		if _, ok := body["embeds"]; !ok {
			embeds = list(before.body, "embeds")
		}
		attached += len(before.Files)
	}
	text, _ := content.(string)
	if err := checkMentions(body); err != nil {
		return err
	}
	if len(files) > 10 {
		return errForm("more than 10 files")
	}
	if flags&flagComponents != 0 {
		if text != "" || len(embeds) > 0 {
			return errForm("content or embeds beside components of the second version")
		}
		return checkSecondVersion(parts)
	}
	if strings.TrimSpace(text) == "" && len(embeds) == 0 && len(parts) == 0 && attached == 0 {
		return refuse(400, 50006, "Cannot send an empty message")
	}
	if n := utf8.RuneCountInString(text); n > 2000 {
		return errForm(fmt.Sprintf("content of %d characters", n))
	}
	if err := checkEmbeds(embeds); err != nil {
		return err
	}
	return checkRows(parts)
}

// list is a key's list, nil if it has none.
func list(of map[string]any, key string) []any {
	all, _ := of[key].([]any)
	return all
}

var snowflake = regexp.MustCompile(`^\d{1,20}$`)

// checkMentions holds allowed_mentions to Discord's rules: whom it lists by id it does not
// allow as a whole too.
func checkMentions(body map[string]any) error {
	allowed, _ := body["allowed_mentions"].(map[string]any)
	parsed := map[any]bool{}
	for _, kind := range list(allowed, "parse") {
		if kind != "users" && kind != "roles" && kind != "everyone" || parsed[kind] {
			return errForm(fmt.Sprintf("parse of %v", kind))
		}
		parsed[kind] = true
	}
	for _, kind := range []string{"users", "roles"} {
		ids := list(allowed, kind)
		switch {
		case len(ids) > 0 && parsed[kind]:
			return errForm(fmt.Sprintf("parse: [%q] and %s: [ids...] are mutually exclusive.", kind, kind))
		case len(ids) > 100:
			return errForm(fmt.Sprintf("%d %s", len(ids), kind))
		}
		seen := map[any]bool{}
		for _, id := range ids {
			if text, _ := id.(string); !snowflake.MatchString(text) || seen[id] {
				return errForm(fmt.Sprintf("%s: value %q is not snowflake, or stands there twice", kind, id))
			}
			seen[id] = true
		}
	}
	return nil
}

// checkEmbeds holds a message's embeds to Discord's limits, one by one and together.
func checkEmbeds(embeds []any) error {
	total := 0
	var err error
	holds := func(in any, key string, most int) {
		m, _ := in.(map[string]any)
		text, _ := m[key].(string)
		n := utf8.RuneCountInString(text)
		if n > most && err == nil {
			err = errForm(fmt.Sprintf("embed's %s of %d characters", key, n))
		}
		total += n
	}
	for _, e := range embeds {
		embed, _ := e.(map[string]any)
		holds(embed, "title", 256)
		holds(embed, "description", 4096)
		holds(embed["footer"], "text", 2048)
		fields, _ := embed["fields"].([]any)
		for _, f := range fields {
			holds(f, "name", 256)
			holds(f, "value", 1024)
		}
		if len(fields) > 25 && err == nil {
			err = errForm(fmt.Sprintf("embed of %d fields", len(fields)))
		}
	}
	if err == nil && (len(embeds) > 10 || total > 6000) {
		err = errForm(fmt.Sprintf("%d embeds of %d characters", len(embeds), total))
	}
	return err
}

var (
	commandName  = regexp.MustCompile(`^[-_\p{L}\p{N}]{1,32}$`)
	lowerLetters = regexp.MustCompile(`\p{Lu}`)
)

// declaration is a command or an option as it is registered.
type declaration struct {
	ID           string        `json:"id"`
	Name         string        `json:"name"`
	Description  string        `json:"description"`
	Type         int           `json:"type"`
	Required     bool          `json:"required"`
	Autocomplete bool          `json:"autocomplete"`
	MinLength    int           `json:"min_length"`
	MaxLength    int           `json:"max_length"`
	MinValue     *float64      `json:"min_value"`
	MaxValue     *float64      `json:"max_value"`
	ChannelTypes []int         `json:"channel_types"`
	Choices      []any         `json:"choices"`
	Options      []declaration `json:"options"`
}

// mostCommands is how many commands of each type there may be.
var mostCommands = map[int]int{commandSlash: 100, commandUser: 15, commandMessage: 15}

// overwrite registers a guild's commands (or the global ones) in place of those
// that it had.
func (s *Server) overwrite(guild string, raw json.RawMessage) ([]json.RawMessage, error) {
	if guild != "" && s.guilds[guild] == nil {
		return nil, errAccess
	}
	var list []map[string]any
	var decls []declaration
	if json.Unmarshal(raw, &list) != nil || json.Unmarshal(raw, &decls) != nil {
		return nil, errForm("not a list of commands")
	}
	type named struct {
		kind int
		name string
	}
	names := map[named]bool{}
	count := map[int]int{}
	var stored []json.RawMessage
	for i, decl := range decls {
		if decl.Type == 0 {
			decl.Type = commandSlash
		}
		count[decl.Type]++
		if names[named{decl.Type, decl.Name}] {
			return nil, errForm("two commands " + decl.Name)
		}
		names[named{decl.Type, decl.Name}] = true
		if err := checkCommand(decl); err != nil {
			return nil, err
		}
		if count[decl.Type] > mostCommands[decl.Type] {
			return nil, errForm(fmt.Sprintf("%d commands of type %d", count[decl.Type], decl.Type))
		}
		if list[i]["id"] == nil {
			list[i]["id"] = s.newID()
		}
		list[i]["application_id"], list[i]["version"], list[i]["type"] = AppID, "1", decl.Type
		one, err := json.Marshal(list[i])
		if err != nil {
			return nil, err
		}
		stored = append(stored, one)
	}
	s.commands[guild] = stored
	return stored, nil
}

// checkCommand holds a command to Discord's limits.
func checkCommand(d declaration) error {
	switch d.Type {
	case commandSlash:
		size, err := checkDeclaration(d, 0)
		if err == nil && size > 8000 {
			err = errForm(fmt.Sprintf("command %s of %d characters", d.Name, size))
		}
		return err
	case commandUser, commandMessage:
		// What stands in a menu has a name that may have blanks, and nothing else.
		if !within(d.Name, 1, 32) || d.Description != "" || len(d.Options) > 0 {
			return errForm(fmt.Sprintf("command %q of a menu", d.Name))
		}
		return nil
	}
	return errForm(fmt.Sprintf("command %s of type %d", d.Name, d.Type))
}

// checkBounds holds what an option says of its values to its type.
func checkBounds(d declaration) error {
	number := d.Type == optionInteger || d.Type == optionNumber
	text := d.Type == optionText
	whole := func(f *float64) bool {
		return f == nil || math.Abs(*f) <= safeInteger && (d.Type == optionNumber || *f == math.Trunc(*f))
	}
	bad := func(what string) error { return errForm(fmt.Sprintf("%s of type %d: %s", d.Name, d.Type, what)) }
	switch {
	case (d.MinValue != nil || d.MaxValue != nil) && !number:
		return bad("bounds of a number")
	case !whole(d.MinValue) || !whole(d.MaxValue),
		d.MinValue != nil && d.MaxValue != nil && *d.MinValue > *d.MaxValue:
		return bad("its bounds")
	case (d.MinLength != 0 || d.MaxLength != 0) && !text:
		return bad("lengths of a text")
	case d.MinLength < 0 || d.MinLength > 6000 || d.MaxLength < 0 || d.MaxLength > 6000 ||
		d.MaxLength > 0 && d.MinLength > d.MaxLength:
		return bad("its lengths")
	case len(d.ChannelTypes) > 0 && d.Type != optionChannel:
		return bad("types of channels")
	case (d.Autocomplete || len(d.Choices) > 0) && !number && !text:
		return bad("choices")
	case len(d.Options) > 0 && d.Type != optionSub && d.Type != optionGroup:
		return bad("options")
	}
	return nil
}

// checkDeclaration holds a command or option to Discord's limits, and counts
// its characters.
func checkDeclaration(d declaration, depth int) (int, error) {
	// The command or option itself.
	size := utf8.RuneCountInString(d.Name) + utf8.RuneCountInString(d.Description)
	switch {
	case !commandName.MatchString(d.Name) || lowerLetters.MatchString(d.Name):
		return 0, errForm(fmt.Sprintf("name %q", d.Name))
	case !within(d.Description, 1, 100):
		return 0, errForm(fmt.Sprintf("description of %s", d.Name))
	case len(d.Options) > 25 || len(d.Choices) > 25:
		return 0, errForm(fmt.Sprintf("%s: more than 25 options or choices", d.Name))
	case d.Autocomplete && len(d.Choices) > 0:
		return 0, errForm(fmt.Sprintf("%s: autocomplete and choices", d.Name))
	case depth > 0 && d.Type == optionGroup && (len(d.Options) == 0 || slices.ContainsFunc(d.Options,
		func(o declaration) bool { return o.Type != optionSub })):
		return 0, errForm(d.Name + " is a group of something else than subcommands")
	case depth > 0 && d.Type == optionSub && slices.ContainsFunc(d.Options,
		func(o declaration) bool { return o.Type <= optionGroup }):
		return 0, errForm(d.Name + " is nested too deep")
	case d.Required && (d.Type == optionSub || d.Type == optionGroup) && depth > 0:
		return 0, errForm(d.Name + " is a subcommand that is required")
	}
	if depth > 0 {
		if err := checkBounds(d); err != nil {
			return 0, err
		}
	}
	// Its options: the required ones first, no two of one name, subcommands by themselves.
	optional := false
	seen := map[string]bool{}
	for _, option := range d.Options {
		if option.Required && optional {
			return 0, errForm(fmt.Sprintf("%s: required %s after an optional one", d.Name, option.Name))
		}
		if seen[option.Name] || option.Type < 1 || option.Type > 11 {
			return 0, errForm(fmt.Sprintf("%s: option %s of type %d", d.Name, option.Name, option.Type))
		}
		seen[option.Name] = true
		optional = optional || !option.Required && option.Type > 2
		length, err := checkDeclaration(option, depth+1)
		if err != nil {
			return 0, err
		}
		size += length
	}
	if below := slices.IndexFunc(d.Options, func(option declaration) bool { return option.Type < 3 }); below >= 0 &&
		slices.ContainsFunc(d.Options, func(option declaration) bool { return option.Type > 2 }) {
		return 0, errForm(fmt.Sprintf("%s: %s beside other options", d.Name, d.Options[below].Name))
	}
	// Its choices.
	for _, c := range d.Choices {
		if err := checkChoice(d.Type, c); err != nil {
			return 0, err
		}
		choice, _ := c.(map[string]any)
		name, _ := choice["name"].(string)
		value, _ := choice["value"].(string)
		size += utf8.RuneCountInString(name) + utf8.RuneCountInString(value)
	}
	return size, nil
}
