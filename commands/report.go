package commands

import (
	"errors"

	"setscrew/commands/words"
	"setscrew/domain"
)

// entry is a report by the one who speaks, about the machine, at the time said.
func (c *call) entry(m domain.Machine, body domain.Body) (domain.Entry, error) {
	at, err := c.eventTime()
	if err != nil {
		return domain.Entry{}, err
	}
	if at.Before(m.Added) && m.ID != 0 {
		return domain.Entry{}, &userError{key: "when.before", data: words.D{"Machine": words.User(m.Name),
			"Added": words.Time(m.Added, words.DateTime)}, example: c.exampleWith("when", "")}
	}
	e := domain.Entry{Key: c.id, Pending: c.pending, Machine: m.ID, SetupRev: m.Setup.Rev, At: at, Recorded: c.now,
		By: c.actor.ID, For: c.actor.ID, Typed: c.typed, Body: body, Sure: c.options["sure"] == "yes"}
	if p := c.options["for"]; p != "" {
		e.For = domain.PersonID(p)
	}
	return e, nil
}

// report writes a report and returns what came of it.
func (c *call) report(m domain.Machine, body domain.Body) (domain.Outcome, error) {
	e, err := c.entry(m, body)
	if err != nil {
		return domain.Outcome{}, err
	}
	o, err := c.books.Report(c, e)
	if err == nil {
		c.fact = &o.Fact
	}
	return o, err
}

// runAgain gives a command in the place of the button or form that was used.
func runAgain(c *call, a askedAgain) (Reply, error) {
	waiting := c.pending
	r := c.desk.run(c, Request{ID: c.id, Shop: c.shop.ID, Actor: c.actor, Name: a.Name, Options: a.Options,
		Typed: c.typed, Now: c.now}, a.At, waiting)
	if !r.Refused {
		// Commands that store nothing consume the button here; for the others
		// their report has, and this says so again.
		if err := c.books.Use(c, waiting, c.id, c.now); err != nil {
			return Reply{}, err
		}
		r.Replaces = true
		if a.Undo != 0 {
			return r, c.withdraw(a.Undo)
		}
	}
	return r, nil
}

// withdraw voids the report that another has just taken the place of. One that
// is withdrawn already is left so.
func (c *call) withdraw(no domain.FactNo) error {
	f, err := c.books.Fact(c, no)
	if err != nil {
		return err
	}
	_, err = c.books.Report(c, domain.Entry{Key: c.id + "/undo", Machine: f.Machine, At: c.now, Recorded: c.now, By: c.actor.ID, For: c.actor.ID,
		Typed: c.typed, Body: domain.Withdrawal{Of: no}})
	var r *domain.Refusal
	if errors.As(err, &r) && r.Code == domain.WithdrawnBefore {
		return nil
	}
	return err
}
