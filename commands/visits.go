package commands

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/upkeep"
)

var visitsCommand = &Command{
	Name: "visits", Who: Anyone, Quiet: true, Slow: true, Words: 60, MostWords: 800,
	Options:  []Option{{Name: "visit", Takes: Text, Max: 4}, {Name: "new", Takes: OneOf, OneOf: []string{"yes"}}},
	Examples: []string{`/visits`, `/visits visit:1`, `/visits new:yes`},
}

// runVisits shows the shop's plan of visits, the sheet of one of them, or a
// proposal.
func runVisits(c *call) (Reply, error) {
	fact, plan, found, err := c.plan()
	if err != nil {
		return Reply{}, err
	}
	given := words.Clean(c.options["visit"])
	switch {
	case given != "":
		number, err := strconv.Atoi(given)
		if err != nil || !found || number < 1 || number > len(plan.Visits) {
			return Reply{}, &userError{key: "visits.which",
				data: words.D{"Given": words.User(given), "Most": len(plan.Visits)}, example: "/visits"}
		}
		return c.visitToTake(fact, plan, number-1)
	case found && c.options["new"] != "yes":
		return c.visitsTaken(fact, plan)
	}
	return c.proposeVisits()
}

// proposeVisits plans the next quarter and offers the plan.
func (c *call) proposeVisits() (Reply, error) {
	if c.shop.Evenings.Minutes == 0 {
		return Reply{}, &userError{key: "visits.evenings", example: `/shop settings evenings:"thu 18:00-21:00"`}
	}
	all, err := c.statuses()
	if err != nil {
		return Reply{}, err
	}
	if len(all) == 0 {
		return Reply{Headline: c.say("none.machine", nil)}, nil
	}
	if err := c.learnUsages(all); err != nil {
		return Reply{}, err
	}
	// What each machine wants done within a quarter.
	wants := make([][]domain.Wanted, len(all))
	for i, st := range all {
		var usage *domain.Usage
		if len(st.ServicesByUse()) > 0 {
			if usage, err = c.usage(st); err != nil {
				return Reply{}, err
			}
		}
		wants[i] = domain.Wants(st, usage)
	}
	// The visits that this comes down to.
	proposal, err := domain.ProposeVisits(c.shop, all, wants, c.now)
	switch {
	case errors.Is(err, upkeep.ErrNoEvenings):
		return Reply{}, &userError{key: "visits.closed", example: `/shop settings evenings:"thu 18:00-21:00"`}
	case err != nil:
		return Reply{}, err
	case proposal.Jobs == 0:
		return Reply{Headline: c.say("visits.nothing", nil)}, nil
	}
	// What they cost, how good the plan is, and the first of them.
	reply := Reply{Headline: c.say("visits.proposed",
		words.D{"N": len(proposal.Visits), "Jobs": proposal.Jobs, "Machines": len(all)}),
		Lines: []string{c.say("visits.out",
			words.D{"Out": minutesText(proposal.Out), "Alone": minutesText(proposal.Alone)})}}
	switch {
	case slices.ContainsFunc(proposal.Visits, func(v domain.Visit) bool { return v.Short }):
		reply.Lines = append(reply.Lines, c.say("visits.full", nil))
	case proposal.GaveUp:
		reply.Lines = append(reply.Lines, c.say("visits.gaveup", nil))
	case proposal.Bound < proposal.Cost:
		reply.Lines = append(reply.Lines,
			c.say("visits.bound", words.D{"Most": minutesText(proposal.Cost - proposal.Bound)}))
	default:
		reply.Lines = append(reply.Lines, c.say("visits.best", nil))
	}
	for i, v := range proposal.Visits[:min(len(proposal.Visits), mostVisits)] {
		st := all[slices.IndexFunc(all, func(st domain.Status) bool { return st.Machine.ID == v.Machine })]
		reply.Lines = append(reply.Lines, c.visitLine(st, i, v, nil))
	}
	if more := len(proposal.Visits) - mostVisits; more > 0 {
		reply.Lines = append(reply.Lines,
			c.say("visits.more", words.D{"N": more, "Until": words.Time(proposal.Visits[len(proposal.Visits)-1].At,
				words.Date)}))
	}
	reply.Lines = append(reply.Lines, c.say("visits.once", nil))
	reply.Buttons = []Button{{Label: c.say("button.take-visits", nil), Style: Primary,
		Custom: wait(c, takeVisitsAction, domain.VisitsPlanned{Visits: proposal.Visits})}}
	return reply, nil
}

// visitLine is one visit of a plan. since is the plan's moment where it is the
// shop's already.
func (w *wording) visitLine(st domain.Status, i int, visit domain.Visit, since *domain.Fact) string {
	names := workNames(st.Machine, visit.Items)
	done := 0
	for at, item := range visit.Items {
		if since != nil {
			if _, ok := domain.DoneSince(st, item, since.At); ok {
				done++
				names[at] = w.say("visits.item.done", words.D{"Name": names[at]})
				continue
			}
		}
		switch {
		case slices.Contains(visit.Early, item):
			names[at] = w.say("visits.item.early", words.D{"Name": names[at]})
		case slices.Contains(visit.Late, item):
			names[at] = w.say("visits.item.late", words.D{"Name": names[at]})
		}
	}
	line := w.say("visits.line", words.D{"No": i + 1, "Machine": words.User(st.Machine.Name),
		"At":      words.Time(visit.At, words.DateTime),
		"Minutes": minutesText(visit.Minutes), "What": strings.Join(names, ", ")})
	if done == len(visit.Items) {
		line = w.say("visits.line.done", words.D{"No": i + 1, "Machine": words.User(st.Machine.Name),
			"At": words.Time(visit.At, words.DateTime)})
	} else if visit.Short {
		line += " " + w.say("visits.short", nil)
	}
	return line
}

// runTakeVisits makes a proposal the shop's plan, in the place of the one before.
func runTakeVisits(c *call, plan domain.VisitsPlanned) (Reply, error) {
	machines, err := c.books.Machines(c)
	if err != nil {
		return Reply{}, err
	}
	if len(plan.Visits) == 0 || slices.ContainsFunc(plan.Visits,
		func(v domain.Visit) bool { return !mayVisit(machines, v, c.now) }) {
		return Reply{}, noSuchButton()
	}
	outcome, err := c.report(domain.Machine{}, plan)
	if err != nil {
		return Reply{}, err
	}
	r, err := c.visitsTaken(outcome.Fact, plan)
	r.Replaces = true
	r.Headline = c.say("visits.taken", words.D{"N": len(plan.Visits), "No": outcome.Fact.No})
	return r, err
}

// mayVisit reports whether a visit can be planned: of a machine that the shop has under
// that name, for work of its profile, within the months to come.
func mayVisit(machines []domain.Machine, visit domain.Visit, now time.Time) bool {
	at := slices.IndexFunc(machines, func(m domain.Machine) bool { return m.ID == visit.Machine })
	if at < 0 || machines[at].Name != visit.Name || len(visit.Items) == 0 || visit.Minutes < 0 ||
		visit.Minutes > 24*60 || visit.At.Before(now.Add(-pendingLife)) || visit.At.After(now.AddDate(1, 0, 0)) {
		return false
	}
	prof := machines[at].Profile
	known := func(item domain.Item) bool {
		return item.Kind == domain.ServiceItem && prof.Service(item.ID) != nil ||
			item.Kind == domain.CheckItem && prof.Check(item.ID) != nil
	}
	planned := func(item domain.Item) bool { return slices.Contains(visit.Items, item) }
	return !slices.ContainsFunc(visit.Items, func(item domain.Item) bool { return !known(item) }) &&
		!slices.ContainsFunc(visit.Early, func(item domain.Item) bool { return !planned(item) }) &&
		!slices.ContainsFunc(visit.Late, func(item domain.Item) bool { return !planned(item) })
}

// mostVisits is how many visits a reply lists: in a plan taken, those next to come.
const mostVisits = 10

// mostSheets is how many visits have a button for their sheet.
const mostSheets = 5

// visitsTaken shows the shop's plan and how far it is.
func (c *call) visitsTaken(fact domain.Fact, plan domain.VisitsPlanned) (Reply, error) {
	all, err := c.statuses()
	if err != nil {
		return Reply{}, err
	}
	// Those to come, with how far each is; those that are over are left out of a long plan.
	reply := Reply{}
	over, more := 0, 0
	for i, visit := range plan.Visits {
		if len(reply.Lines) == mostVisits {
			more++
			continue
		}
		at := slices.IndexFunc(all, func(st domain.Status) bool { return st.Machine.ID == visit.Machine })
		if at < 0 {
			reply.Lines = append(reply.Lines,
				c.say("visits.gone", words.D{"No": i + 1, "Machine": words.User(visit.Name)}))
			over++
			continue
		}
		line := c.visitLine(all[at], i, visit, &fact)
		if !slices.ContainsFunc(visit.Items,
			func(item domain.Item) bool { _, ok := domain.DoneSince(all[at], item, fact.At); return !ok }) {
			over++
			if len(plan.Visits) <= mostVisits {
				reply.Lines = append(reply.Lines, line)
			}
			continue
		}
		reply.Lines = append(reply.Lines, line)
		if len(reply.Buttons) < mostSheets {
			reply.Buttons = append(reply.Buttons,
				Button{Label: shorten(c.say("button.visit", words.D{"No": i + 1, "Machine": words.Clean(visit.Name)}),
					buttonChars), Custom: visitAction.with(visitArg{fact.No, i, -1})})
		}
	}
	// What is left out, how much is over, and how to plan again.
	if more > 0 {
		reply.Lines = append(reply.Lines,
			c.say("visits.more", words.D{"N": more,
				"Until": words.Time(plan.Visits[len(plan.Visits)-1].At, words.Date)}))
	}
	reply.Headline = c.say("visits.headline",
		words.D{"N": len(plan.Visits), "Over": over, "No": fact.No, "At": words.Time(fact.At, words.Date)})
	reply.Lines = append(reply.Lines, c.say("visits.again", words.D{"Example": "/visits new:yes"}))
	return reply, nil
}
