package commands

import (
	"errors"

	"setscrew/commands/words"
	"setscrew/domain"
)

// entry is a report by the one who speaks, about the machine, at the time said.
func (c *call) entry(machine domain.Machine, body domain.Body) (domain.Entry, error) {
	at, err := c.eventTime()
	early := err == nil && at.Before(machine.Added) && machine.ID != 0
	if domain.StopsMachine(body) && (err != nil || early) {
		// A stop does not wait for a time that can be read: it counts from now.
		at, err, early = c.now, nil, false
		c.countedNow = c.options["when"]
	}
	if err != nil {
		return domain.Entry{}, err
	}
	if early {
		return domain.Entry{}, &userError{key: "when.before", data: words.D{"Machine": words.User(machine.Name),
			"Added": words.Time(machine.Added, words.DateTime)}, example: c.exampleWith("when", "")}
	}
	report := domain.Entry{Key: c.id, Pending: c.pending, Machine: machine.ID, SetupRev: machine.Setup.Rev, At: at,
		Recorded: c.now,
		By:       c.actor.ID, For: c.forWhom(), Typed: c.typed, Body: body, Sure: c.options["sure"] == "yes",
		Steward: c.steward()}
	return report, nil
}

// report writes a report and returns what came of it.
func (c *call) report(machine domain.Machine, body domain.Body) (domain.Outcome, error) {
	entry, err := c.entry(machine, body)
	if err != nil {
		return domain.Outcome{}, err
	}
	return c.reportEntry(machine, entry)
}

// reportEntry writes a report that is made already.
func (c *call) reportEntry(machine domain.Machine, entry domain.Entry) (domain.Outcome, error) {
	outcome, err := c.books.Report(c, entry)
	if err == nil && !outcome.Joined {
		c.fact = &outcome.Fact
		if len(outcome.Hung) > 0 && !(outcome.Before.Machine.ID == 0 && outcome.After.OnlySettingUp()) {
			c.hung = outcome.After.Machine.Name
		}
	}
	if err != nil {
		c.keepDanger(machine, entry, err)
	}
	return outcome, err
}

// reportAbout writes a report of the machine that an earlier report is about.
func (c *call) reportAbout(of factArg, body domain.Body) (domain.Outcome, error) {
	_, snap, err := c.aboutFact(domain.FactNo(of))
	if err != nil {
		return domain.Outcome{}, err
	}
	return c.report(snap.Machine, body)
}

// wouldRefuse is why a report by the one who speaks would be refused of a machine as it
// stands, nil where it would not: so that nobody is asked for what is not taken then.
func (c *call) wouldRefuse(st domain.Status, body domain.Body) *domain.Refusal {
	return domain.Admit(st, domain.Entry{By: c.actor.ID, Recorded: c.now, Steward: c.steward(), Body: body})
}

// runAgain gives a command in the place of the button or form that was used.
func runAgain(c *call, asked askedAgain) (Reply, error) {
	// What it stands for was asked in the past, and takes the place of a report of theirs.
	if asked.At.After(c.now) {
		return Reply{}, noSuchButton()
	}
	if asked.Undo != 0 {
		if _, err := c.ownReport(asked.Undo); err != nil {
			return Reply{}, err
		}
	}
	waiting := c.pending
	reply := c.desk.run(c, Request{ID: c.id, Shop: c.shop.ID, Actor: c.actor, Name: asked.Name, Options: asked.Options,
		Typed: c.typed, Now: c.now}, asked.At, waiting)
	if !reply.Refused {
		// Commands that store nothing consume the button here; for the others
		// their report has, and this says so again.
		if err := c.books.Use(c, waiting, c.id, c.now); err != nil {
			return Reply{}, err
		}
		reply.Replaces = true
		if asked.Undo != 0 {
			return reply, c.withdraw(asked.Undo)
		}
	}
	return reply, nil
}

// ownReport is the report of that number, which the one who speaks may withdraw: it is
// theirs, or they are a steward.
func (c *call) ownReport(no domain.FactNo) (domain.Fact, error) {
	fact, err := c.books.Fact(c, no)
	if err == nil && fact.By != c.actor.ID && !c.steward() {
		err = &domain.Refusal{Code: domain.OthersReport, Fact: no}
	}
	return fact, err
}

// withdraw voids the report that another has just taken the place of. One that
// is withdrawn already is left so.
func (c *call) withdraw(no domain.FactNo) error {
	fact, err := c.books.Fact(c, no)
	if err != nil {
		return err
	}
	_, err = c.books.Report(c, c.withdrawal(fact, c.id+"/undo", ""))
	var refused *domain.Refusal
	if errors.As(err, &refused) && refused.Code == domain.WithdrawnBefore {
		return nil
	}
	return err
}

// withdrawal is the entry by which the one who speaks withdraws a report now.
func (c *call) withdrawal(fact domain.Fact, key, pending string) domain.Entry {
	return domain.Entry{Key: key, Pending: pending, Machine: fact.Machine, At: c.now, Recorded: c.now, By: c.actor.ID,
		For: c.actor.ID, Typed: c.typed, Body: domain.Withdrawal{Of: fact.No, Note: words.Clean(c.options["note"])}}
}
