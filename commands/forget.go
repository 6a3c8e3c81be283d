package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var forgetCommand = &Command{
	Name: "forget", Who: Anyone, Quiet: true, Words: 110, MostWords: 190,
	Options:  []Option{forOption},
	Examples: []string{`/forget`, `/forget for:bo`},
}

// forgetAction takes a person out of the books.
const forgetAction waiting[forgetting] = "forget"

// forgetting is a person who waits to be taken out of the books.
type forgetting struct {
	Who domain.PersonID `json:"who"`
}

// mostKept is how many of the reports that stay are told.
const mostKept = 5

// runForget says what would be taken out of the books about a person, and what stays; nothing
// is done yet.
func runForget(c *call) (Reply, error) {
	who := c.forWhom()
	if err := c.mayForget(who); err != nil {
		return Reply{}, err
	}
	of, err := c.books.Forgettable(c, who, c.now)
	if err != nil {
		return Reply{}, err
	}
	data := c.forgetData(who, of)
	label := c.say("button.forget", data)
	reply := Reply{Headline: c.say("forget.ask", data), Lines: []string{c.say("forget.goes", data)}}
	c.keptLines(&reply, of)
	reply.Lines = append(reply.Lines, c.say("forget.copies", nil), c.say("forget.channel", nil),
		c.say("forget.stored", nil))
	reply.Buttons = []Button{{Label: label, Style: Grave, Custom: wait(c, forgetAction, forgetting{who})}}
	return reply, nil
}

// mayForget refuses a person whom somebody else than they themselves or a steward would have
// forgotten, and one who was.
func (c *call) mayForget(who domain.PersonID) error {
	switch {
	case who.Former() || who == "":
		return &userError{key: "forget.nobody", example: forgetCommand.Examples[0]}
	case who != c.actor.ID && !c.steward():
		return &userError{key: "forget.others", example: forgetCommand.Examples[0]}
	}
	return nil
}

// runForgotten takes the person out of the books, and says what stays until when.
func runForgotten(c *call, w forgetting) (Reply, error) {
	if err := c.mayForget(w.Who); err != nil {
		return Reply{}, err
	}
	of, err := c.books.Forget(c, w.Who, c.actor.ID, c.pending, c.id, c.now)
	if err != nil {
		return Reply{}, err
	}
	c.desk.people.forget(personKey{c.shop.ID, w.Who})
	reply := Reply{Replaces: true, Headline: c.say("forget.done", c.forgetData(w.Who, of))}
	c.keptLines(&reply, of)
	reply.Lines = append(reply.Lines, c.say("forget.copies", nil))
	return reply, nil
}

// forgetData is what the words about somebody who is forgotten need.
func (c *call) forgetData(who domain.PersonID, of domain.Forgetting) words.D {
	return words.D{"Self": who == c.actor.ID, "By": words.Person(string(who)), "Reports": of.Reports}
}

// keptLines adds what stays under a person's name, and until when.
func (c *call) keptLines(reply *Reply, of domain.Forgetting) {
	for i, kept := range of.Kept {
		if i == mostKept {
			reply.Lines = append(reply.Lines, c.say("forget.more", words.D{"Left": len(of.Kept) - i}))
			break
		}
		reply.Lines = append(reply.Lines, c.say("forget.kept."+string(kept.For), words.D{
			"Machine": words.User(kept.Machine), "No": kept.Fact, "Check": kept.Name}))
	}
	if len(of.Kept) > 0 {
		reply.Lines = append(reply.Lines, c.say("forget.rest", nil))
	}
}
