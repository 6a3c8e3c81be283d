package commands

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
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

	// Fault, if set, is told of errors that no member caused, with the
	// interaction's id that the member was shown.
	Fault func(id string, err error)
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

// newDesk is a desk that answers those commands and actions. It panics if two
// commands or two actions have one name.
func newDesk(open func(domain.ShopID) Books, wakes Wakes, cat *words.Catalogue, commands []command, actions []action) *Desk {
	d := &Desk{open: open, wakes: wakes, cat: cat, byName: map[string]command{}, actions: map[string]action{}}
	for _, c := range commands {
		if d.byName[c.Name].Command != nil {
			panic("commands: two commands named " + c.Name)
		}
		d.list, d.byName[c.Name] = append(d.list, c.Command), c
	}
	for _, a := range actions {
		if d.actions[a.Name].Action != nil {
			panic("commands: two actions named " + a.Name)
		}
		d.buttons, d.actions[a.Name] = append(d.buttons, a.Action), a
	}
	return d
}

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

// Trouble words what keeps notices from a shop's channel.
func (d *Desk) Trouble(key string) string { return d.cat.In().Say(key, nil) }

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
}

// userError is a refusal that handlers return: a message and its data, worded where
// the call ends. Nothing was stored.
type userError struct {
	key     string
	data    words.D
	example string // a command that works, or ""
	buttons []Button
}

func (s *userError) Error() string { return fmt.Sprintf("refused: %s %v", s.key, s.data) }

// Run answers a slash command. It never fails: what goes wrong is worded.
func (d *Desk) Run(ctx context.Context, r Request) Reply {
	return d.run(ctx, r, time.Time{}, "")
}

func (d *Desk) run(ctx context.Context, r Request, at time.Time, pending string) Reply {
	c := &call{Context: ctx, desk: d, books: d.open(r.Shop), actor: r.Actor, id: r.ID, name: r.Name,
		options: r.Options, typed: r.Typed, wording: wording{speaker: d.cat.In(), now: r.Now}, at: at, pending: pending}
	cmd := d.byName[r.Name]
	return c.finish(func() (Reply, error) {
		if cmd.Command == nil {
			return Reply{}, &userError{key: "no-such-command", data: words.D{"Name": words.User(r.Name)}, example: "/help"}
		}
		if err := c.start(); err != nil {
			return Reply{}, err
		}
		if err := c.mayRun(cmd.Command); err != nil {
			return Reply{}, err
		}
		if err := c.checkOptions(cmd.Command); err != nil {
			return Reply{}, err
		}
		return cmd.run(c)
	}, cmd.Command == nil || cmd.Quiet)
}

// Press answers a button or a form.
func (d *Desk) Press(ctx context.Context, p Press) Reply {
	c := &call{Context: ctx, desk: d, books: d.open(p.Shop), actor: p.Actor, id: p.ID, fields: p.Fields,
		options: map[string]string{}, wording: wording{speaker: d.cat.In(), now: p.Now}}
	return c.finish(func() (Reply, error) {
		name, arg, err := parseCustom(p.Custom)
		a := d.actions[name]
		if err != nil || a.Action == nil {
			return Reply{}, noSuchButton()
		}
		c.name, c.typed = name, "press "+p.Custom
		if err := c.start(); err != nil {
			return Reply{}, err
		}
		asked := p.Actor.ID
		if a.Waits {
			w, err := c.books.Pending(ctx, arg, p.Now)
			if err != nil {
				return Reply{}, err
			}
			if w.Action != name {
				return Reply{}, noSuchButton()
			}
			asked, c.pending = w.Asked, w.ID
			arg = string(w.Args)
		}
		if !c.may(a.Who, asked) {
			return Reply{}, c.forbidden(a.Who)
		}
		return a.press(c, arg)
	}, true)
}

func (c *call) start() (err error) {
	c.shop, err = c.books.Shop(c)
	return err
}

// finish words an error, keeps what waits behind the reply's buttons, and turns
// a panic into a worded fault, so that one bad request never takes the others
// with it.
func (c *call) finish(f func() (Reply, error), quiet bool) (r Reply) {
	defer func() {
		if p := recover(); p != nil {
			c.fault(fmt.Errorf("panic: %v\n%s", p, debug.Stack()))
			r = Reply{Quiet: true, Refused: true, Headline: c.say("fault", words.D{"Ref": c.id})}
		}
	}()
	r, err := f()
	if err != nil {
		r = c.refuse(err)
	} else {
		r.Quiet = quiet
		if c.fact != nil {
			r.Lines = append(r.Lines, c.asReported(*c.fact)...)
		}
	}
	if len(c.kept) > 0 {
		if err := c.books.Keep(c, c.kept...); err != nil {
			// The report stands; only its next steps are lost, so they are not offered.
			c.fault(err)
			r.Buttons, r.Form = nil, nil
			r.Lines = append(r.Lines, c.say("fault.buttons", nil))
		}
	}
	return r
}

// fault tells the program's keeper of an error that no member caused.
func (c *call) fault(err error) {
	if c.desk.Fault != nil {
		c.desk.Fault(c.id, err)
	}
}

// refuse words what went wrong.
func (c *call) refuse(err error) Reply {
	r := Reply{Quiet: true, Refused: true}
	var s *userError
	var ref *domain.Refusal
	switch {
	case errors.As(err, &s):
		r.Headline = c.say(s.key, s.data)
		if s.example != "" {
			r.Lines = append(r.Lines, c.say("example", words.D{"Example": s.example}))
		}
		r.Buttons = s.buttons
	case errors.As(err, &ref):
		r.Headline, r.Lines = c.refusal(ref)
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		r.Headline = c.say("fault.time", nil)
	default:
		r.Headline = c.say("fault", words.D{"Ref": c.id})
		c.fault(err)
	}
	return r
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
	}
	return false
}

func (c *call) mayRun(cmd *Command) error {
	if !c.may(cmd.Who, c.actor.ID) {
		return c.forbidden(cmd.Who)
	}
	return nil
}

func (c *call) forbidden(w Who) error {
	key := map[Who]string{Asker: "forbidden.asker", Steward: "forbidden.steward", Keeper: "forbidden.keeper"}[w]
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

// checkOptions refuses options that the command lacks, required ones that are
// missing, choices that are none, and texts over their length.
func (c *call) checkOptions(cmd *Command) error {
	known := map[string]*Option{}
	for i := range cmd.Options {
		o := &cmd.Options[i]
		known[o.Name] = o
		v, given := c.options[o.Name]
		if o.Required && strings.TrimSpace(v) == "" {
			return &userError{key: "option.missing", data: words.D{"Option": o.Name}, example: c.exampleOf(cmd)}
		}
		if limit := max(o.Max, 100); given && o.Takes == Text && len([]rune(v)) > limit && o.Max != 0 || len(v) > 1000 {
			return &userError{key: "option.long", data: words.D{"Option": o.Name, "Max": limit}, example: c.exampleOf(cmd)}
		}
		if given && o.Takes == OneOf && !slices.Contains(o.OneOf, v) {
			return &userError{key: "option.choice", data: words.D{"Option": o.Name, "Choices": strings.Join(o.OneOf, ", "),
				"Given": words.User(v)}, example: c.exampleWith(o.Name, o.OneOf[0])}
		}
	}
	for name := range c.options {
		if known[name] == nil {
			return &userError{key: "option.unknown", data: words.D{"Option": words.User(name), "Command": "/" + cmd.Name}, example: c.exampleOf(cmd)}
		}
	}
	return nil
}

// customVersion begins every custom id, so that a later form of them can be
// told from this one.
const customVersion = "s1"

// custom is the custom id of an action with its argument, at most 100
// characters.
func custom(action, arg string) string { return customVersion + ":" + action + ":" + arg }

func parseCustom(id string) (action, arg string, err error) {
	parts := strings.SplitN(id, ":", 3)
	if len(parts) != 3 || parts[0] != customVersion || len(id) > 100 {
		return "", "", fmt.Errorf("custom id %q is not one of ours", id)
	}
	return parts[1], parts[2], nil
}

// pendingLife is how long a button or form may wait.
const pendingLife = 30 * 24 * time.Hour
