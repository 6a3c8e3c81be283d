package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var undoCommand = &Command{
	Name: "undo", Who: Anyone, Quiet: true, Words: 40,
	Options:  []Option{{Name: "report", Takes: Text, Max: 20}},
	Examples: []string{`/undo`, `/undo report:12`},
}

func runUndo(c *call) (Reply, error) {
	if typed := strings.TrimSpace(c.options["report"]); typed != "" {
		no, err := reportNo(typed)
		if err != nil {
			return Reply{}, &userError{key: "report.number", data: words.D{"Given": words.User(typed)},
				example: "/undo report:12"}
		}
		return c.undo(no)
	}
	f, err := c.books.LastBy(c, c.actor.ID)
	if err != nil {
		return Reply{}, err
	}
	return c.undo(f.No)
}

func runWithdraw(c *call, t turning) (Reply, error) {
	r, err := c.undo(t.Reading)
	r.Replaces = true
	return r, err
}

func (c *call) undo(no domain.FactNo) (Reply, error) {
	fact, err := c.ownReport(no)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.books.Report(c, domain.Entry{Key: c.id, Pending: c.pending, Machine: fact.Machine, At: c.now,
		Recorded: c.now, By: c.actor.ID,
		For: c.actor.ID, Typed: c.typed, Body: domain.Withdrawal{Of: no}})
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.say("undo.done", words.D{"No": no, "What": c.factLine(fact, outcome.After.Machine)})}
	switch {
	case !outcome.Before.TaggedOut() && outcome.After.TaggedOut():
		reply.Lines = append(reply.Lines, c.notInService(outcome.After))
	case outcome.After.TaggedOut():
		reply.Lines = append(reply.Lines,
			c.say("undo.tagged", words.D{"Machine": words.User(outcome.After.Machine.Name)}))
	}
	if b, ok := fact.Body.(domain.TagOut); ok && b.Reason.Code == domain.LockOn && len(outcome.After.Locks()) > 0 {
		reply.Lines = append(reply.Lines, c.say("undo.lock",
			words.D{"Example": slash(lockName, "machine", outcome.After.Machine.Name)}))
	}
	return reply, nil
}
