package commands

import (
	"errors"
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var shopCheck = &Command{
	Name: checkName, Who: Keeper, Quiet: true, Slow: true, Words: 40, MostWords: 110,
	Examples: []string{`/shop check`},
}

// A phone's screen, for an answer that has more to say than it holds.
const (
	screenLines = 12
	lineChars   = 40
)

// runCheck says of each thing that has to be in order whether it is, or what to do: first
// what to do, as much of it as a phone shows, then what is fine.
func runCheck(c *call) (Reply, error) {
	var todo []string
	var fine, silent, hidden []domain.Look
	found := c.lookOver()
	for _, look := range domain.Looks() {
		switch done := found[look]; {
		case len(done.todo) > 0:
			todo = append(todo, strings.Join(done.todo, " "))
		case done.looked:
			fine = append(fine, look)
		case done.silent, slices.Contains(accountLooks, look):
			silent = append(silent, look)
		default:
			hidden = append(hidden, look)
		}
	}
	reply := Reply{Headline: c.say("check.well", nil)}
	if len(todo) > 0 {
		reply.Headline = c.say("check.todo", words.D{"N": len(todo)})
	}
	// What stands below, for which room is left.
	var below []string
	for _, group := range []struct {
		key   string
		looks []domain.Look
	}{{"check.fine", fine}, {"check.silent", silent}, {"check.hidden", hidden}} {
		if len(group.looks) > 0 {
			below = append(below, c.say(group.key, words.D{"Names": c.lookNames(group.looks)}))
		}
	}
	room := screenLines - 2 // the headline, and how much more there is to do
	for _, line := range below {
		room -= onPhone(line)
	}
	for i, line := range todo {
		if room -= onPhone(line); room < 0 && i > 0 {
			reply.Lines = append(reply.Lines, c.say("check.more", words.D{"Left": len(todo) - i}))
			break
		}
		reply.Lines = append(reply.Lines, line)
	}
	reply.Lines = append(reply.Lines, below...)
	return reply, nil
}

// onPhone is how many lines of a phone a text takes.
func onPhone(text string) int { return (len([]rune(text)) + lineChars - 1) / lineChars }

// accountLooks are those of which only the chat can tell.
var accountLooks = []domain.Look{domain.LookToken, domain.LookCommands, domain.LookClock}

// lookNames names looks.
func (c *call) lookNames(all []domain.Look) string {
	names := make([]string, len(all))
	for i, look := range all {
		names[i] = c.say("look."+string(look), nil)
	}
	return strings.Join(names, ", ")
}

// looked is what came of one look: what to do, nothing where all is well.
type looked struct {
	looked bool
	silent bool // the chat has not told
	todo   []string
}

// lookOver looks at all that has to be in order.
func (c *call) lookOver() map[domain.Look]looked {
	all := map[domain.Look]looked{}
	c.lookAtServer(all)
	findings := c.chat().Examine(c)
	if c.desk.Examine != nil {
		findings = append(findings, c.desk.Examine(c, c.now)...)
	}
	for _, found := range findings {
		one := looked{looked: true}
		if found.Err != nil {
			one.todo = []string{c.say(todoKey(found), nil)}
		}
		all[found.Look] = one
	}
	return all
}

// lookAtServer looks at the channel for notices and the stewards' role.
func (c *call) lookAtServer(all map[domain.Look]looked) {
	chat, shop := c.chat(), c.shop
	todo := func(look domain.Look, line string) {
		all[look] = looked{looked: true, todo: append(all[look].todo, line)}
	}
	if shop.NoticeChannel == "" {
		todo(domain.LookChannel, c.say("check.channel", nil))
	} else {
		access := chat.Channel(shop.ID, shop.NoticeChannel)
		all[domain.LookChannel] = looked{looked: !access.Unknown, silent: access.Unknown}
		all[domain.LookPosting] = looked{looked: !access.Unknown && !access.Gone, silent: access.Unknown}
	}
	if shop.StewardRole == "" {
		todo(domain.LookRole, c.say("check.role", nil))
	} else {
		access := chat.Role(shop.ID, shop.StewardRole, shop.NoticeChannel)
		all[domain.LookRole] = looked{looked: !access.Unknown, silent: access.Unknown}
		all[domain.LookPings] = looked{looked: !access.Unknown && !access.Gone, silent: access.Unknown}
		if n, known := chat.Holders(c, shop.ID, shop.StewardRole); known && n == 0 && !access.Gone {
			todo(domain.LookRole, c.say("check.nobody", nil))
		}
	}
	for _, ails := range c.ailments(shop) {
		todo(ails.look, strings.Join(c.ailmentLines(shop, ails), " "))
	}
}

// todoKey is the message that says what to do about a finding, the same that stewards are
// told beside answers where there is one.
func todoKey(found domain.Finding) string {
	var said *domain.BooksError
	switch {
	case found.Look == domain.LookSpace:
		return string(AilFull)
	case found.Look == domain.LookPages:
		return string(AilDamaged)
	case found.Look == domain.LookCopies:
		return string(AilCopy)
	case found.Look == domain.LookFile && errors.As(found.Err, &said) && said.Trouble == domain.BooksMoved:
		return string(AilMoved)
	case found.Look == domain.LookFile && errors.As(found.Err, &said) && said.Trouble == domain.BooksDamaged:
		return string(AilDamaged)
	case found.Look == domain.LookFile:
		return string(AilUnreachable)
	}
	return "check." + string(found.Look)
}
