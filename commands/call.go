package commands

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
)

// Desk answers requests: it finds the command, sees that the member may give
// it, and words whatever comes of it.
type Desk struct {
	open    func(domain.ShopID) Books
	wakes   Wakes
	cat     *words.Catalogue
	list    []*Command
	byName  map[string]command
	buttons []*Action
	actions map[string]action
	usages  usages
	people  people
	// dangers that the books could not take
	unbooked unbooked

	// Chat, if set, is the chat that carries the commands; its adapter sets it.
	Chat Chat
	// Fault, if set, is told of errors that no member caused, with the
	// interaction's id that the member was shown.
	Fault func(id string, err error)
	// Swept, if set, is told of a sweep that did something: how many machines it judged, and
	// how many digests it had posted.
	Swept func(machines, digests int)
	// Ails, if set, lists what whoever runs Setscrew has to see to.
	Ails func() []Ail
	// Examine, if set, looks over the books' file, until ctx ends.
	Examine func(ctx context.Context, now time.Time) []domain.Finding
}

// command is a declaration with what answers it, action one with what answers a
// press, given the text that waited for it or stands in its custom id.
type (
	command struct {
		*Command
		run func(*call) (Reply, error)
	}
	action struct {
		*Action
		press func(c *call, arg string) (Reply, error)
	}
)

// Declarations lists every command in the order in which help shows them.
func (d *Desk) Declarations() []*Command { return d.list }

// Actions lists what buttons and forms do.
func (d *Desk) Actions() []*Action { return d.buttons }

// Describe is a command's description, or that of one of its options.
func (d *Desk) Describe(c *Command, option string) string {
	key := "cmd." + strings.ReplaceAll(c.Name, " ", ".")
	if option != "" {
		key = "opt." + strings.ReplaceAll(c.Name, " ", ".") + "." + option
		if !d.cat.Has(key) {
			key = "opt." + option
		}
	}
	return d.cat.In().Say(key, nil)
}

// Slow reports whether a command's reply may take longer than a chat waits, and
// whether it is quiet, which is fixed when a reply is put off.
func (d *Desk) Slow(name string) (slow, quiet bool) {
	c := d.byName[name].Command
	return c != nil && c.Slow, c == nil || c.Quiet
}

// More says where to find what a notice has no room for.
func (d *Desk) More() string { return d.cat.In().Say("notice.more", nil) }

// Unseen words an answer that could not be delivered when it was given.
func (d *Desk) Unseen(headline string) string {
	return d.cat.In().Say("trouble.unseen", words.D{"Headline": headline})
}

// DescribeGroup is the description of a command that has subcommands.
func (d *Desk) DescribeGroup(name string) string { return d.cat.In().Say("cmd."+name, nil) }

// call is one request on its way through a handler.
type call struct {
	context.Context
	wording
	desk    *Desk
	books   Books
	actor   Actor
	id      string // the interaction's
	name    string // the command's, or the action's behind a button
	options map[string]string
	fields  map[string]string // of a form
	typed   string
	at      time.Time // fixed event time of a report asked again; zero otherwise
	pending string    // the pending that a report consumes
	kept    []domain.Pending
	fact    *domain.Fact // what was reported
	hung    string       // the machine on which the report hung a tag, by name
	// a time that was given of a stop, and could not be taken
	countedNow string
	// a danger that the books could not take
	unstored *unstored
}

// userError is a refusal that handlers return: a message and its data, worded where
// the call ends. Nothing was stored.
type userError struct {
	key     string
	data    words.D
	example string // a command that works, or ""
	buttons []Button
	// it is the machine that is not known
	noMachine bool
}

func (s *userError) Error() string { return fmt.Sprintf("refused: %s %v", s.key, s.data) }

// start reads the shop's settings, which everything after needs.
func (c *call) start() (err error) {
	c.shop, err = c.books.Shop(c)
	return err
}

// chat is what carries the commands.
func (c *call) chat() Chat {
	if c.desk.Chat == nil {
		return silent{}
	}
	return c.desk.Chat
}

// fault tells the program's keeper of an error that no member caused.
func (c *call) fault(err error) {
	if c.desk.Fault != nil {
		c.desk.Fault(c.id, err)
	}
}

// may reports whether the actor satisfies a rule; asked is who was asked.
func (c *call) may(w Who, asked domain.PersonID) bool {
	switch w {
	case Anyone:
		return true
	case Asker:
		return c.actor.ID == asked || c.steward()
	case Steward:
		return c.steward()
	case Keeper:
		return c.steward() || c.actor.Manages
	case OnCall:
		return c.steward() || c.shop.OnCall(c.actor.ID, c.now)
	}
	return false
}

// mayRun refuses a command to whoever may not give it.
func (c *call) mayRun(cmd *Command) error {
	if !c.may(cmd.Who, c.actor.ID) {
		return c.forbidden(cmd.Who)
	}
	return nil
}

// forbidden refuses what a rule does not allow, and says who may.
func (c *call) forbidden(w Who) error {
	key := map[Who]string{Asker: "forbidden.asker", Steward: "forbidden.steward", Keeper: "forbidden.keeper",
		OnCall: "forbidden.oncall"}[w]
	if w != Asker && c.shop.StewardRole == "" {
		key = "forbidden.norole"
	}
	return &userError{key: key}
}

// steward reports whether the actor is a steward of the shop.
func (c *call) steward() bool {
	if c.shop.StewardRole == "" {
		return c.actor.Manages
	}
	return slices.Contains(c.actor.Roles, c.shop.StewardRole)
}
