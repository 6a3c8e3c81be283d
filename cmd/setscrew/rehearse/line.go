package rehearse

import (
	"fmt"
	"strings"
	"unicode"

	"setscrew/commands"
)

// slash is a slash command as it was typed.
type slash struct {
	name    string
	options map[string]string
}

// parseSlash reads a command: its name, of one word or two, and its options. A
// value may stand in quotes, inside which \" is a quote and \\ a backslash;
// without them it reaches to the next option that the command has.
func parseSlash(line string, known []*commands.Command) (slash, error) {
	text := strings.TrimPrefix(line, "/")
	var cmd *commands.Command
	for _, c := range known {
		if rest, ok := strings.CutPrefix(text, c.Name); ok && (rest == "" || rest[0] == ' ') &&
			(cmd == nil || len(c.Name) > len(cmd.Name)) {
			cmd = c
		}
	}
	s := slash{options: map[string]string{}}
	if cmd == nil {
		s.name, _, _ = strings.Cut(text, " ")
		return s, nil // the desk says that there is no such command
	}
	s.name = cmd.Name
	rest := strings.TrimSpace(text[len(cmd.Name):])
	for rest != "" {
		name, value, ok := strings.Cut(rest, ":")
		if !ok || name == "" || strings.ContainsFunc(name,
			func(r rune) bool { return unicode.IsSpace(r) || r == '"' }) {
			return s, fmt.Errorf("%q is no option; an option is typed name:value", rest)
		}
		if _, twice := s.options[name]; twice {
			return s, fmt.Errorf("option %s is given twice", name)
		}
		var err error
		if s.options[name], rest, err = optionValue(value, cmd); err != nil {
			return s, fmt.Errorf("option %s: %w", name, err)
		}
	}
	return s, nil
}

// optionValue reads a value at the beginning of text and returns what follows.
func optionValue(text string, cmd *commands.Command) (value, rest string, err error) {
	if strings.HasPrefix(text, `"`) {
		var b strings.Builder
		for i := 1; i < len(text); i++ {
			switch c := text[i]; {
			case c == '\\' && i+1 < len(text) && (text[i+1] == '"' || text[i+1] == '\\'):
				i++
				b.WriteByte(text[i])
			case c == '"':
				return b.String(), strings.TrimSpace(text[i+1:]), nil
			default:
				b.WriteByte(c)
			}
		}
		return "", "", fmt.Errorf("a quote is not closed")
	}
	end := len(text)
	for _, o := range cmd.Options {
		if i := strings.Index(text, " "+o.Name+":"); i >= 0 && i < end {
			end = i
		}
	}
	return strings.TrimSpace(text[:end]), strings.TrimSpace(text[end:]), nil
}

// split cuts a line at spaces, but not inside quotes.
func split(line string) []string {
	var all []string
	var b strings.Builder
	quoted, any := false, false
	for _, r := range line {
		switch {
		case r == '"':
			quoted, any = !quoted, true
		case unicode.IsSpace(r) && !quoted:
			if any {
				all = append(all, b.String())
			}
			b.Reset()
			any = false
		default:
			b.WriteRune(r)
			any = true
		}
	}
	if any {
		all = append(all, b.String())
	}
	return all
}

// slug is a shop's id made from its name.
func slug(name string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(name),
		func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), "-")
}
