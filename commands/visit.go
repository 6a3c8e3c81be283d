package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

func runVisit(c *call, arg visitArg) (Reply, error) {
	i := arg.visit
	f, p, err := c.visitNamed(arg)
	if err != nil {
		return Reply{}, err
	}
	r, err := c.visitSheet(f, p, i)
	if err == nil {
		r.File, err = c.visitPaper(p.Visits[i])
	}
	return r, err
}

// runVisitDone records one job of a sheet as the command for it would, and shows the
// sheet again.
func runVisitDone(c *call, arg visitArg) (Reply, error) {
	i, k := arg.visit, arg.job
	f, p, err := c.visitNamed(arg)
	switch {
	case err != nil:
		return Reply{}, err
	case k < 0:
		return Reply{}, noSuchButton()
	}
	v := p.Visits[i]
	m, st, err := c.visited(v)
	if err != nil {
		return Reply{}, err
	}
	item := v.Items[k]
	name := itemName(m.Profile, item)
	if no, ok := domain.DoneSince(st, item, f.At); ok {
		return Reply{}, &userError{key: "visits.ticked", data: words.D{"Name": capital(name), "No": no}, example: "/visits"}
	}
	again := Request{ID: c.id, Shop: c.shop.ID, Actor: c.actor, Name: serviceName, Typed: c.typed, Now: c.now,
		Options: map[string]string{"machine": m.Name, "service": item.ID}}
	if item.Kind == domain.CheckItem {
		again.Name, again.Options = readingName, map[string]string{"machine": m.Name, "check": item.ID, "values": "pass"}
	}
	did := c.desk.run(c, again, c.now, "")
	if did.Refused {
		return did, nil
	}
	r, err := c.visitSheet(f, p, i)
	if err != nil {
		return Reply{}, err
	}
	r.Replaces = true
	r.Headline, r.Lines = did.Headline, append([]string{r.Headline}, r.Lines...)
	return r, nil
}
