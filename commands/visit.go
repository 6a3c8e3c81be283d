package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

// runVisit shows the sheet of one visit of the plan, with its page to take along.
func runVisit(c *call, arg visitArg) (Reply, error) {
	if arg.job >= 0 {
		return Reply{}, noSuchButton()
	}
	fact, plan, err := c.visitNamed(arg)
	if err != nil {
		return Reply{}, err
	}
	return c.visitToTake(fact, plan, arg.visit)
}

// runVisitDone records one job of a sheet as the command for it would, and shows the
// sheet again.
func runVisitDone(c *call, arg visitArg) (Reply, error) {
	which, job := arg.visit, arg.job
	fact, plan, err := c.visitNamed(arg)
	switch {
	case err != nil:
		return Reply{}, err
	case job < 0:
		return Reply{}, noSuchButton()
	}
	// The job, unless it is done already.
	visit := plan.Visits[which]
	machine, st, err := c.visited(visit)
	if err != nil {
		return Reply{}, err
	}
	item := visit.Items[job]
	name := itemName(machine.Profile, item)
	if no, ok := domain.DoneSince(st, item, fact.At); ok {
		return Reply{}, &userError{key: "visits.ticked", data: words.D{"Name": capital(name), "No": no},
			example: "/visits"}
	}
	// The command that records it; what that refuses is refused here.
	again := Request{ID: c.id, Shop: c.shop.ID, Actor: c.actor, Name: serviceName, Typed: c.typed, Now: c.now,
		Options: map[string]string{"machine": machine.Name, "service": item.ID}}
	if item.Kind == domain.CheckItem {
		again.Name, again.Options = readingName, map[string]string{"machine": machine.Name, "check": item.ID,
			"values": "pass"}
	}
	did := c.desk.run(c, again, c.now, "")
	if did.Refused {
		return did, nil
	}
	// The sheet as it is now, below what was recorded.
	reply, err := c.visitSheet(fact, plan, which)
	if err != nil {
		return Reply{}, err
	}
	reply.Replaces = true
	reply.Headline, reply.Lines = did.Headline, append([]string{reply.Headline}, reply.Lines...)
	return reply, nil
}
