package bot

import (
	"fmt"
	"net/url"
	"strings"
	"time"
	"unicode/utf8"

	"setscrew/commands"
	"setscrew/commands/words"
)

// markdown shows guarded parts in Discord: user text with every mark escaped,
// times in each reader's own zone, people as mentions (which ping nobody, since
// no mention is allowed).
type markdown struct{}

// User escapes what Discord reads as markup, mentions or links: a backslash
// before any punctuation shows that punctuation.
func (markdown) User(s string) string {
	var escaped strings.Builder
	for _, r := range s {
		if r < utf8.RuneSelf && strings.ContainsRune("\\*_~`|>#-+:/<@[]()&", r) {
			escaped.WriteByte('\\')
		}
		escaped.WriteRune(r)
	}
	return escaped.String()
}

// Time is a timestamp that each reader sees in their own zone.
func (markdown) Time(t time.Time, style words.TimeStyle) string {
	return fmt.Sprintf("<t:%d:%c>", t.Unix(), style)
}

// Person mentions a person by account id.
func (markdown) Person(id string) string {
	return refer("<@", id)
}

// Channel names a channel by its id.
func (markdown) Channel(id string) string { return refer("<#", id) }

// Role mentions a role by its id.
func (markdown) Role(id string) string { return refer("<@&", id) }

// refer refers to what has a numeric id, behind a mark that says what it is; anything
// else is text.
func refer(mark, id string) string {
	if id == "" || strings.Trim(id, "0123456789") != "" {
		return markdown{}.User(id)
	}
	return mark + id + ">"
}

// Link links to what Discord itself keeps; any other address is left out.
func (markdown) Link(address, name string) string {
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "https" || u.User != nil ||
		(u.Host != "cdn.discordapp.com" && u.Host != "media.discordapp.net") ||
		strings.ContainsAny(address, "<>() \\") {
		return markdown{}.User(name)
	}
	return "[" + markdown{}.User(name) + "](<" + address + ">)"
}

// maxContent is the longest content of a message, in characters.
const maxContent = 2000

// lines are a reply's lines in Discord's markdown.
func lines(reply commands.Reply) []string {
	var all []string
	add := func(s string) {
		if s = words.Expand(s, markdown{}); s != "" {
			all = append(all, s)
		}
	}
	add(reply.Headline)
	for _, l := range reply.Lines {
		add(l)
	}
	if table := reply.Table; table != nil {
		for _, row := range table.Rows {
			if len(table.Head) == 0 {
				add(strings.Join(row, ": "))
				continue
			}
			add("**" + row[0] + "**: " + row[1])
			var more []string
			for i, cell := range row[min(2, len(row)):] {
				if cell != "" {
					more = append(more, table.Head[i+2]+" "+cell)
				}
			}
			add(strings.Join(more, "; "))
		}
	}
	if reply.Picture != nil {
		add(reply.Picture.Alt)
	}
	return all
}

// pages puts lines together into as few messages as hold them. A line longer
// than a message is broken at a space.
func pages(all []string) []string { return pagesOf(all, maxContent) }

// pagesOf is pages for messages of another length.
func pagesOf(all []string, maxContent int) []string {
	var list []string
	page := ""
	for _, line := range all {
		for utf8.RuneCountInString(line) > maxContent {
			runes := []rune(line)
			cut := maxContent
			for i := maxContent - 1; i > maxContent/2; i-- {
				if runes[i] == ' ' {
					cut = i
					break
				}
			}
			if page != "" {
				list, page = append(list, page), ""
			}
			list = append(list, string(runes[:cut]))
			line = strings.TrimSpace(string(runes[cut:]))
		}
		switch {
		case page == "":
			page = line
		case utf8.RuneCountInString(page)+1+utf8.RuneCountInString(line) > maxContent:
			list = append(list, page)
			page = line
		default:
			page += "\n" + line
		}
	}
	if page != "" || len(list) == 0 {
		list = append(list, page)
	}
	return list
}
