package commands

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/diagnosis"
)

// newDesk is a desk that answers those commands and actions. It panics if two
// commands or two actions have one name.
func newDesk(open func(domain.ShopID) Books, wakes Wakes, cat *words.Catalogue, commands []command,
	actions []action) *Desk {
	known := newLastKnown(mostLastKnown)
	cached := func(id domain.ShopID) Books { return cachedBooks{open(id), id, known} }
	desk := &Desk{open: cached, wakes: wakes, cat: cat, byName: map[string]command{}, actions: map[string]action{},
		people: newPeople()}
	for _, c := range commands {
		if desk.byName[c.Name].Command != nil {
			panic("commands: two commands named " + c.Name)
		}
		desk.list, desk.byName[c.Name] = append(desk.list, c.Command), c
	}
	for _, a := range actions {
		if desk.actions[a.Name].Action != nil {
			panic("commands: two actions named " + a.Name)
		}
		desk.buttons, desk.actions[a.Name] = append(desk.buttons, a.Action), a
	}
	return desk
}

// Run answers a slash command. It never fails: what goes wrong is worded.
func (d *Desk) Run(ctx context.Context, r Request) Reply {
	return d.run(ctx, r, time.Time{}, "")
}

// run answers a slash command; at is its event time and pending what it consumes where a
// button gives it again.
func (d *Desk) run(ctx context.Context, request Request, at time.Time, pending string) Reply {
	c := &call{Context: ctx, desk: d, books: d.open(request.Shop), actor: request.Actor, id: request.ID,
		name:    request.Name,
		options: request.Options, typed: request.Typed, wording: wording{speaker: d.cat.In(), now: request.Now},
		at: at, pending: pending}
	cmd := d.byName[request.Name]
	return c.finish(func() (Reply, error) {
		if cmd.Command == nil {
			return Reply{}, &userError{key: "no-such-command",
				data:    words.D{"Name": words.User(shorten(request.Name, buttonChars))},
				example: "/help"}
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
func (d *Desk) Press(ctx context.Context, press Press) Reply {
	c := &call{Context: ctx, desk: d, books: d.open(press.Shop), actor: press.Actor, id: press.ID, fields: press.Fields,
		options: map[string]string{}, wording: wording{speaker: d.cat.In(), now: press.Now}}
	return c.finish(func() (Reply, error) {
		name, arg, err := parseCustom(press.Custom)
		action := d.actions[name]
		if err != nil || action.Action == nil {
			return Reply{}, noSuchButton()
		}
		c.name, c.typed = name, "press "+press.Custom
		if err := c.start(); err != nil {
			return Reply{}, err
		}
		asked := press.Actor.ID
		if action.Waits {
			pending, err := c.books.Pending(ctx, arg, press.Now)
			if err != nil {
				return Reply{}, err
			}
			if pending.Action != name {
				return Reply{}, noSuchButton()
			}
			asked, c.pending = pending.Asked, pending.ID
			arg = string(pending.Args)
		}
		if !c.may(action.Who, asked) {
			return Reply{}, c.forbidden(action.Who)
		}
		return action.press(c, arg)
	}, true)
}

// SlowPress reports whether the answer to a button, by its custom id, may take longer than a
// chat waits.
func (d *Desk) SlowPress(custom string) bool {
	name, _, err := parseCustom(custom)
	a := d.actions[name].Action
	return err == nil && a != nil && a.Slow
}

// ErrPanic is what Fault is told of a panic in a request.
var ErrPanic = errors.New("panic")

// finish words an error, keeps what waits behind the reply's buttons, and turns
// a panic into a worded fault, so that one bad request never takes the others
// with it.
func (c *call) finish(handle func() (Reply, error), quiet bool) (reply Reply) {
	defer func() {
		if p := recover(); p != nil {
			c.fault(fmt.Errorf("%w: %v\n%s", ErrPanic, p, debug.Stack()))
			reply = Reply{Quiet: true, Refused: true, Headline: c.say("fault", words.D{"Ref": c.id})}
		}
	}()
	reply, err := handle()
	if err != nil {
		reply = c.refuse(err)
	} else {
		reply.Quiet = quiet
		if c.fact != nil {
			reply.Lines = append(reply.Lines, c.asReported(*c.fact)...)
		}
		if c.countedNow != "" {
			reply.Lines = append(reply.Lines, c.say("when.now", words.D{"Given": words.User(c.countedNow)}))
		}
	}
	if c.shop.ID != "" {
		c.noteSteward()
		if reply.Form == nil {
			reply.Aside = c.aside()
		}
	}
	if len(c.kept) > 0 {
		if err := c.books.Keep(c, c.kept...); err != nil {
			// The report stands; only its next steps are lost, so they are not offered.
			c.fault(fmt.Errorf("keep what waits behind the buttons of %s: %w", c.name, err))
			reply.Buttons, reply.Form = nil, nil
			if !reply.Refused {
				reply.Lines = append(reply.Lines, c.say("fault.buttons", nil))
			}
		}
	}
	return reply
}

// refuse words what went wrong.
func (c *call) refuse(err error) Reply {
	reply := Reply{Quiet: true, Refused: true}
	var refused *userError
	var ref *domain.Refusal
	var file *domain.BooksError
	danger := c.unstored
	if danger == nil && unusable(err) {
		danger = c.unheard()
	}
	switch {
	case danger != nil:
		reply = c.stopAnyway(danger, err)
		c.fault(fmt.Errorf("a danger could not be stored: %w", err))
	case errors.As(err, &refused):
		reply.Headline = c.say(refused.key, refused.data)
		if refused.example != "" {
			reply.Lines = append(reply.Lines, c.say("example", words.D{"Example": refused.example}))
		}
		reply.Buttons = refused.buttons
		reply = c.stopUnnamed(refused, reply)
	case errors.As(err, &ref):
		reply.Headline, reply.Lines = c.refusal(ref)
	case errors.As(err, &file):
		reply.Headline = c.notStored(file.Trouble)
		if c.desk.byName[c.name].Command == nil {
			// What a button would have reported is not known.
			reply.Lines = append(reply.Lines, c.say("books.danger", nil))
		}
		c.fault(fmt.Errorf("answer %s: %w", c.name, err))
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		reply.Headline = c.say("fault.time", nil)
	default:
		reply.Headline = c.say("fault", words.D{"Ref": c.id})
		c.fault(fmt.Errorf("answer %s: %w", c.name, err))
	}
	return reply
}

// checkOptions refuses options that the command lacks, required ones that are
// missing, choices that are none, and texts over their length.
func (c *call) checkOptions(cmd *Command) error {
	if err := c.checkNames(cmd); err != nil {
		return err
	}
	for i := range cmd.Options {
		option := &cmd.Options[i]
		text, given := c.options[option.Name]
		if option.Required && strings.TrimSpace(text) == "" {
			return &userError{key: "option.missing", data: words.D{"Option": option.Name}, example: c.exampleOf(cmd)}
		}
		// What the chat says of an attachment is as long as its name makes it.
		if limit := max(option.Max, 100); option.Takes != Attachment && (given && option.Takes == Text &&
			len([]rune(text)) > limit && option.Max != 0 || len(text) > 1000) {
			return &userError{key: "option.long", data: words.D{"Option": option.Name, "Max": limit},
				example: c.exampleOf(cmd)}
		}
		if given && option.Takes == OneOf && !slices.Contains(option.OneOf, text) {
			return &userError{key: "option.choice",
				data: words.D{"Option": option.Name, "Choices": strings.Join(option.OneOf, ", "),
					"Given": words.User(text)}, example: c.exampleWith(option.Name, option.OneOf[0])}
		}
	}
	return nil
}

// checkNames refuses options that the command lacks, each with the one that is nearest.
func (c *call) checkNames(cmd *Command) error {
	for _, name := range slices.Sorted(maps.Keys(c.options)) {
		if slices.ContainsFunc(cmd.Options, func(option Option) bool { return option.Name == name }) {
			continue
		}
		return &userError{key: "option.unknown", data: words.D{"Option": words.User(name), "Command": "/" + cmd.Name,
			"Near": NearOption(cmd, name)}, example: c.exampleOf(cmd)}
	}
	return nil
}

// NearOption is the option of a command that a misspelt name is one or two slips from, "" for
// none or where it is a name of few letters.
func NearOption(cmd *Command, name string) string {
	nearest, least := "", 3
	for _, option := range cmd.Options {
		if slips := diagnosis.Slips(fold(name), option.Name); slips < least && slips*3 <= len(option.Name) {
			nearest, least = option.Name, slips
		}
	}
	return nearest
}
