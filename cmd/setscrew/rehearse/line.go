package rehearse

import (
	"fmt"
	"regexp"
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
	// The longest name that fits, since one command's name may begin another's.
	var cmd *commands.Command
	for _, one := range known {
		if rest, ok := strings.CutPrefix(text, one.Name); ok && (rest == "" || rest[0] == ' ') &&
			(cmd == nil || len(one.Name) > len(cmd.Name)) {
			cmd = one
		}
	}
	typed := slash{options: map[string]string{}}
	if cmd == nil {
		typed.name, _, _ = strings.Cut(text, " ")
		return typed, nil // the desk says that there is no such command
	}
	typed.name = cmd.Name
	rest := strings.TrimSpace(text[len(cmd.Name):])
	for rest != "" {
		name, value, ok := strings.Cut(rest, ":")
		if !ok || name == "" || strings.ContainsFunc(name,
			func(r rune) bool { return unicode.IsSpace(r) || r == '"' }) {
			return typed, fmt.Errorf("%q is no option; an option is typed name:value", rest)
		}
		if _, twice := typed.options[name]; twice {
			return typed, fmt.Errorf("option %s is given twice", name)
		}
		var err error
		if typed.options[name], rest, err = optionValue(value, cmd); err != nil {
			return typed, fmt.Errorf("option %s: %w", name, err)
		}
	}
	return typed, nil
}

// optionValue reads a value at the beginning of text and returns what follows.
func optionValue(text string, cmd *commands.Command) (value, rest string, err error) {
	if strings.HasPrefix(text, `"`) {
		var out strings.Builder
		for i := 1; i < len(text); i++ {
			switch char := text[i]; {
			case char == '\\' && i+1 < len(text) && (text[i+1] == '"' || text[i+1] == '\\'):
				i++
				out.WriteByte(text[i])
			case char == '"':
				return out.String(), strings.TrimSpace(text[i+1:]), nil
			default:
				out.WriteByte(char)
			}
		}
		return "", "", fmt.Errorf("a quote is not closed")
	}
	end := len(text)
	for _, option := range cmd.Options {
		if i := strings.Index(text, " "+option.Name+":"); i >= 0 && i < end {
			end = i
		}
	}
	// A misspelt option's name is one, too; the desk says which was meant.
	for _, found := range optionLike.FindAllStringSubmatchIndex(text[:end], -1) {
		if name := text[found[2]:found[3]]; len(name) > 3 && commands.NearOption(cmd, name) != "" {
			end = found[0]
			break
		}
	}
	return strings.TrimSpace(text[:end]), strings.TrimSpace(text[end:]), nil
}

// optionLike is what looks like an option behind a value.
var optionLike = regexp.MustCompile(` ([a-z]+):`)

// split cuts a line at spaces, but not inside quotes.
func split(line string) []string {
	var all []string
	var word strings.Builder
	quoted, any := false, false
	for _, char := range line {
		switch {
		case char == '"':
			quoted, any = !quoted, true
		case unicode.IsSpace(char) && !quoted:
			if any {
				all = append(all, word.String())
			}
			word.Reset()
			any = false
		default:
			word.WriteRune(char)
			any = true
		}
	}
	if any {
		all = append(all, word.String())
	}
	return all
}

// slug is a shop's id made from its name.
func slug(name string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(name),
		func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), "-")
}
