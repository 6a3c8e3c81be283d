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
			c.fault(fmt.Errorf("keep what waits behind the buttons of %s: %w", c.name, err))
			r.Buttons, r.Form = nil, nil
			r.Lines = append(r.Lines, c.say("fault.buttons", nil))
		}
	}
	return r
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
		c.fault(fmt.Errorf("answer %s: %w", c.name, err))
	}
	return r
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
	for _, name := range slices.Sorted(maps.Keys(c.options)) {
		if known[name] == nil {
			return &userError{key: "option.unknown", data: words.D{"Option": words.User(name), "Command": "/" + cmd.Name}, example: c.exampleOf(cmd)}
		}
	}
	return nil
}
