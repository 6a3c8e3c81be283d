package discordtest

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"unicode/utf8"
)

// checkMessage holds a message's body to the limits that Discord enforces. An
// edit may leave out what it does not change.
func (s *Server) checkMessage(body map[string]any, files []string, edit bool) error {
	content, _ := body["content"].(string)
	embeds, _ := body["embeds"].([]any)
	rows, _ := body["components"].([]any)
	if content == "" && len(embeds) == 0 && len(rows) == 0 && len(files) == 0 && !edit {
		return refuse(400, 50006, "Cannot send an empty message")
	}
	if n := utf8.RuneCountInString(content); n > 2000 {
		return errForm(fmt.Sprintf("content of %d characters", n))
	}
	if len(files) > 10 {
		return errForm("more than 10 files")
	}
	if err := checkEmbeds(embeds); err != nil {
		return err
	}
	return checkRows(rows)
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

func checkRows(rows []any) error {
	if len(rows) > 5 {
		return errForm("more than 5 rows")
	}
	ids := map[string]bool{}
	for _, r := range rows {
		row, _ := r.(map[string]any)
		if row["type"] != 1.0 {
			return errForm("a row of another type")
		}
		parts, _ := row["components"].([]any)
		if len(parts) < 1 || len(parts) > 5 {
			return errForm(fmt.Sprintf("a row of %d parts", len(parts)))
		}
		for _, p := range parts {
			part, _ := p.(map[string]any)
			id, _ := part["custom_id"].(string)
			label, _ := part["label"].(string)
			switch {
			case id == "" || utf8.RuneCountInString(id) > 100 || ids[id]:
				return errForm(fmt.Sprintf("custom id %q", id))
			case part["type"] == 2.0 && (label == "" || utf8.RuneCountInString(label) > 80):
				return errForm(fmt.Sprintf("button label %q", label))
			case part["type"] == 4.0 && (label == "" || utf8.RuneCountInString(label) > 45 || len(parts) != 1):
				return errForm(fmt.Sprintf("text input label %q", label))
			case part["type"] == 2.0 && (part["style"] == nil || part["style"].(float64) < 1 ||
				part["style"].(float64) > 4):
				return errForm("button style")
			}
			if v, _ := part["placeholder"].(string); utf8.RuneCountInString(v) > 100 {
				return errForm("placeholder over 100 characters")
			}
			ids[id] = true
		}
	}
	return nil
}

// checkModal holds a form to Discord's limits.
func checkModal(data map[string]any) error {
	title, _ := data["title"].(string)
	id, _ := data["custom_id"].(string)
	rows, _ := data["components"].([]any)
	if title == "" || utf8.RuneCountInString(title) > 45 || id == "" || utf8.RuneCountInString(id) > 100 ||
		len(rows) < 1 {
		return errForm(fmt.Sprintf("modal %q with %d rows", title, len(rows)))
	}
	for _, r := range rows {
		row, _ := r.(map[string]any)
		parts, _ := row["components"].([]any)
		for _, p := range parts {
			if part, _ := p.(map[string]any); part["type"] != 4.0 {
				return errForm("a form takes text inputs only")
			}
		}
	}
	return checkRows(rows)
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
	MaxLength    int           `json:"max_length"`
	Choices      []any         `json:"choices"`
	Options      []declaration `json:"options"`
}

// overwrite registers a guild's commands (or the global ones) in place of those
// that it had.
func (s *Server) overwrite(guild string, raw json.RawMessage) (any, error) {
	if guild != "" && s.guilds[guild] == nil {
		return nil, errAccess
	}
	var list []map[string]any
	var decls []declaration
	if json.Unmarshal(raw, &list) != nil || json.Unmarshal(raw, &decls) != nil {
		return nil, errForm("not a list of commands")
	}
	if len(decls) > 100 {
		return nil, errForm("more than 100 commands")
	}
	names := map[string]bool{}
	var stored []json.RawMessage
	for i, decl := range decls {
		if names[decl.Name] {
			return nil, errForm("two commands " + decl.Name)
		}
		names[decl.Name] = true
		if size, err := checkDeclaration(decl, 0); err != nil {
			return nil, err
		} else if size > 8000 {
			return nil, errForm(fmt.Sprintf("command %s of %d characters", decl.Name, size))
		}
		list[i]["id"], list[i]["application_id"], list[i]["version"] = s.newID(), AppID, "1"
		if list[i]["type"] == nil {
			list[i]["type"] = 1
		}
		one, _ := json.Marshal(list[i])
		stored = append(stored, one)
	}
	s.commands[guild] = stored
	s.overwrites++
	return nonNil(stored), nil
}

// checkDeclaration holds a command or option to Discord's limits, and counts
// its characters.
func checkDeclaration(d declaration, depth int) (int, error) {
	size := utf8.RuneCountInString(d.Name) + utf8.RuneCountInString(d.Description)
	switch {
	case !commandName.MatchString(d.Name) || lowerLetters.MatchString(d.Name):
		return 0, errForm(fmt.Sprintf("name %q", d.Name))
	case d.Description == "" || utf8.RuneCountInString(d.Description) > 100:
		return 0, errForm(fmt.Sprintf("description of %s", d.Name))
	case len(d.Options) > 25 || len(d.Choices) > 25:
		return 0, errForm(fmt.Sprintf("%s: more than 25 options or choices", d.Name))
	case d.Autocomplete && len(d.Choices) > 0:
		return 0, errForm(fmt.Sprintf("%s: autocomplete and choices", d.Name))
	case depth > 3:
		return 0, errForm(d.Name + " is nested too deep")
	}
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
	for _, c := range d.Choices {
		one, _ := c.(map[string]any)
		name, _ := one["name"].(string)
		value, _ := one["value"].(string)
		length, v := utf8.RuneCountInString(name), utf8.RuneCountInString(value)
		if length < 1 || length > 100 || v > 100 {
			return 0, errForm(fmt.Sprintf("%s: choice %q", d.Name, name))
		}
		size += length + v
	}
	return size, nil
}
