// Package words is what Setscrew says: the message catalogue, and the guarding
// of what people wrote inside it.
package words

import (
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"setscrew/domain"
)

// A guarded part of a text is a kind, a payload and an end, in characters of
// the private use area that no user text keeps (Clean removes them).
const (
	guardUser    = '\uE000'
	guardTime    = '\uE001'
	guardPerson  = '\uE002'
	guardLink    = '\uE003'
	guardChannel = '\uE004'
	guardRole    = '\uE005'
	guardEnd     = '\uE00F'
)

// User guards what a person wrote, so that no medium lets it ping, format or
// reorder anything. It is cleaned first.
func User(s string) string {
	return string(guardUser) + Clean(s) + string(guardEnd)
}

// Users guards names that people gave, with commas between them.
func Users(names []string) string {
	all := make([]string, len(names))
	for i, n := range names {
		all[i] = User(n)
	}
	return strings.Join(all, ", ")
}

// Clean takes out of user text what no medium should show: control, format and
// private-use characters, among them bidirectional controls; any white space
// becomes one space. What remains is otherwise as it was written.
func Clean(s string) string {
	var text strings.Builder
	space := false
	for _, char := range s {
		switch {
		case unicode.IsSpace(char):
			space = text.Len() > 0
			continue
		case char == utf8.RuneError, unicode.IsControl(char), unicode.Is(unicode.Cf, char),
			unicode.Is(unicode.Co, char):
			continue
		}
		if space {
			text.WriteByte(' ')
			space = false
		}
		text.WriteRune(char)
	}
	return text.String()
}

// TimeStyle is how a moment is shown.
type TimeStyle byte

// A moment as date and time, as a date alone, or as so long ago.
const (
	DateTime TimeStyle = 'f'
	Date     TimeStyle = 'D'
	Ago      TimeStyle = 'R'
)

// Time guards a moment; each medium shows it in its reader's way.
func Time(t time.Time, style TimeStyle) string {
	return string(guardTime) + string(style) + strconv.FormatInt(t.Unix(), 10) + string(guardEnd)
}

// Person guards the mention of a person by account id; no medium lets it ping. One who was
// forgotten is named as domain.FormerMember by every medium.
func Person(id string) string {
	return string(guardPerson) + Clean(id) + string(guardEnd)
}

// Channel guards the name of a channel, by its id.
func Channel(id string) string {
	return string(guardChannel) + Clean(id) + string(guardEnd)
}

// Role guards the mention of a role by its id; no medium lets it ping.
func Role(id string) string {
	return string(guardRole) + Clean(id) + string(guardEnd)
}

// Link guards a link to what the chat itself keeps, with a name that people
// gave it. A medium that has no links, or that does not know the address as its
// own, shows the name.
func Link(address, name string) string {
	return string(guardLink) + strings.ReplaceAll(Clean(address), " ", "") + " " + Clean(name) + string(guardEnd)
}

// Medium turns guarded parts into what is shown.
type Medium interface {
	User(text string) string
	Time(t time.Time, style TimeStyle) string
	Person(id string) string
	Channel(id string) string
	Role(id string) string
	Link(address, name string) string
}

// Expand replaces every guarded part of s by what m makes of it.
func Expand(text string, medium Medium) string {
	var out strings.Builder
	for text != "" {
		i := strings.IndexFunc(text, func(r rune) bool { return r >= guardUser && r <= guardRole })
		if i < 0 {
			out.WriteString(text)
			break
		}
		out.WriteString(text[:i])
		kind, n := utf8.DecodeRuneInString(text[i:])
		text = text[i+n:]
		payload, rest, _ := strings.Cut(text, string(guardEnd))
		text = rest
		switch kind {
		case guardUser:
			out.WriteString(medium.User(payload))
		case guardLink:
			address, name, _ := strings.Cut(payload, " ")
			out.WriteString(medium.Link(address, name))
		case guardPerson:
			if domain.PersonID(payload).Former() {
				out.WriteString(domain.FormerMember)
				break
			}
			out.WriteString(medium.Person(payload))
		case guardChannel:
			out.WriteString(medium.Channel(payload))
		case guardRole:
			out.WriteString(medium.Role(payload))
		case guardTime:
			if payload == "" {
				break
			}
			sec, err := strconv.ParseInt(payload[1:], 10, 64)
			if err != nil {
				break
			}
			out.WriteString(medium.Time(time.Unix(sec, 0), TimeStyle(payload[0])))
		}
	}
	return out.String()
}
