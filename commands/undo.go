package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

var undoCommand = &Command{
	Name: "undo", Who: Anyone, Quiet: true, Words: 40,
	Options:  []Option{{Name: "report", Takes: Text, Max: 20}, noteOption},
	Examples: []string{`/undo`, `/undo report:12`, `/undo report:12 note:"smoke from next door"`},
}

// runUndo withdraws a report: the one of that number, or the last that the one who speaks
// typed.
func runUndo(c *call) (Reply, error) {
	if typed := strings.TrimSpace(c.options["report"]); typed != "" {
		no, err := reportNo(typed, "/undo report:12")
		if err != nil {
			return Reply{}, err
		}
		return c.undo(no)
	}
	f, err := c.books.LastBy(c, c.actor.ID)
	if err != nil {
		return Reply{}, err
	}
	return c.undo(f.No)
}

// runWithdraw withdraws the reading that it stands under.
func runWithdraw(c *call, t turning) (Reply, error) {
	r, err := c.undo(t.Reading)
	r.Replaces = true
	return r, err
}

// undo withdraws a report and says what that changes: whether its machine is out of service
// now, or still, and whether its lock is.
func (c *call) undo(no domain.FactNo) (Reply, error) {
	fact, err := c.ownReport(no)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.books.Report(c, c.withdrawal(fact, c.id, c.pending))
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
