package commands

import (
	"errors"
	"slices"
	"strconv"
	"strings"

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
	f, plan, found, err := c.plan()
	if err != nil {
		return Reply{}, err
	}
	given := words.Clean(c.options["visit"])
	switch {
	case given != "":
		n, err := strconv.Atoi(given)
		if err != nil || !found || n < 1 || n > len(plan.Visits) {
			return Reply{}, &userError{key: "visits.which", data: words.D{"Given": words.User(given), "Most": len(plan.Visits)}, example: "/visits"}
		}
		r, err := c.visitSheet(f, plan, n-1)
		if err == nil {
			r.File, err = c.visitPaper(plan.Visits[n-1])
		}
		return r, err
	case found && c.options["new"] != "yes":
		return c.visitsTaken(f, plan)
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
	wants := make([][]domain.Wanted, len(all))
	for i, st := range all {
		var u *domain.Usage
		if len(st.ServicesByUse()) > 0 {
			if u, err = c.usage(st); err != nil {
				return Reply{}, err
			}
		}
		wants[i] = domain.Wants(st, u)
	}
	p, err := domain.ProposeVisits(c.shop, all, wants, c.now)
	switch {
	case errors.Is(err, upkeep.ErrNoEvenings):
		return Reply{}, &userError{key: "visits.closed", example: `/shop settings evenings:"thu 18:00-21:00"`}
	case err != nil:
		return Reply{}, err
	case p.Jobs == 0:
		return Reply{Headline: c.say("visits.nothing", nil)}, nil
	}
	r := Reply{Headline: c.say("visits.proposed", words.D{"N": len(p.Visits), "Jobs": p.Jobs, "Machines": len(all)}),
		Lines: []string{c.say("visits.out", words.D{"Out": minutesText(p.Out), "Alone": minutesText(p.Alone)})}}
	switch {
	case slices.ContainsFunc(p.Visits, func(v domain.Visit) bool { return v.Short }):
		r.Lines = append(r.Lines, c.say("visits.full", nil))
	case p.GaveUp:
		r.Lines = append(r.Lines, c.say("visits.gaveup", nil))
	case p.Bound < p.Cost:
		r.Lines = append(r.Lines, c.say("visits.bound", words.D{"Most": minutesText(p.Cost - p.Bound)}))
	default:
		r.Lines = append(r.Lines, c.say("visits.best", nil))
	}
	for i, v := range p.Visits[:min(len(p.Visits), mostVisits)] {
		st := all[slices.IndexFunc(all, func(st domain.Status) bool { return st.Machine.ID == v.Machine })]
		r.Lines = append(r.Lines, c.visitLine(st, i, v, nil))
	}
	if more := len(p.Visits) - mostVisits; more > 0 {
		r.Lines = append(r.Lines, c.say("visits.more", words.D{"N": more, "Until": words.Time(p.Visits[len(p.Visits)-1].At, words.Date)}))
	}
	r.Lines = append(r.Lines, c.say("visits.once", nil))
	r.Buttons = []Button{{Label: c.say("button.take-visits", nil), Style: Primary, Custom: wait(c, takeVisitsAction, domain.VisitsPlanned{Visits: p.Visits})}}
	return r, nil
}

// visitLine is one visit of a plan. since is the plan's moment where it is the
// shop's already.
func (w *wording) visitLine(st domain.Status, i int, v domain.Visit, since *domain.Fact) string {
	names := workNames(st.Machine, v.Items)
	done := 0
	for k, item := range v.Items {
		if since != nil {
			if _, ok := domain.DoneSince(st, item, since.At); ok {
				done++
				names[k] = w.say("visits.item.done", words.D{"Name": names[k]})
				continue
			}
		}
		switch {
		case slices.Contains(v.Early, item):
			names[k] = w.say("visits.item.early", words.D{"Name": names[k]})
		case slices.Contains(v.Late, item):
			names[k] = w.say("visits.item.late", words.D{"Name": names[k]})
		}
	}
	line := w.say("visits.line", words.D{"No": i + 1, "Machine": words.User(st.Machine.Name), "At": words.Time(v.At, words.DateTime),
		"Minutes": minutesText(v.Minutes), "What": strings.Join(names, ", ")})
	if done == len(v.Items) {
		line = w.say("visits.line.done", words.D{"No": i + 1, "Machine": words.User(st.Machine.Name), "At": words.Time(v.At, words.DateTime)})
	} else if v.Short {
		line += " " + w.say("visits.short", nil)
	}
	return line
}

func runTakeVisits(c *call, p domain.VisitsPlanned) (Reply, error) {
	if len(p.Visits) == 0 {
		return Reply{}, noSuchButton()
	}
	o, err := c.report(domain.Machine{}, p)
	if err != nil {
		return Reply{}, err
	}
	r, err := c.visitsTaken(o.Fact, p)
	r.Replaces = true
	r.Headline = c.say("visits.taken", words.D{"N": len(p.Visits), "No": o.Fact.No})
	return r, err
}

// mostVisits is how many visits a reply lists: in a plan taken, those next to come.
const mostVisits = 10

// mostSheets is how many visits have a button for their sheet.
const mostSheets = 5

// visitsTaken shows the shop's plan and how far it is.
func (c *call) visitsTaken(f domain.Fact, p domain.VisitsPlanned) (Reply, error) {
	all, err := c.statuses()
	if err != nil {
		return Reply{}, err
	}
	r := Reply{}
	over, more := 0, 0
	for i, v := range p.Visits {
		if len(r.Lines) == mostVisits {
			more++
			continue
		}
		k := slices.IndexFunc(all, func(st domain.Status) bool { return st.Machine.ID == v.Machine })
		if k < 0 {
			r.Lines = append(r.Lines, c.say("visits.gone", words.D{"No": i + 1, "Machine": words.User(v.Name)}))
			over++
			continue
		}
		line := c.visitLine(all[k], i, v, &f)
		if !slices.ContainsFunc(v.Items, func(item domain.Item) bool { _, ok := domain.DoneSince(all[k], item, f.At); return !ok }) {
			over++
			if len(p.Visits) <= mostVisits {
				r.Lines = append(r.Lines, line)
			}
			continue
		}
		r.Lines = append(r.Lines, line)
		if len(r.Buttons) < mostSheets {
			r.Buttons = append(r.Buttons, Button{Label: shorten(c.say("button.visit", words.D{"No": i + 1, "Machine": words.Clean(v.Name)}), 80), Custom: visitAction.with(visitArg{f.No, i, -1})})
		}
	}
	if more > 0 {
		r.Lines = append(r.Lines, c.say("visits.more", words.D{"N": more, "Until": words.Time(p.Visits[len(p.Visits)-1].At, words.Date)}))
	}
	r.Headline = c.say("visits.headline", words.D{"N": len(p.Visits), "Over": over, "No": f.No, "At": words.Time(f.At, words.Date)})
	r.Lines = append(r.Lines, c.say("visits.anew", words.D{"Example": "/visits new:yes"}))
	return r, nil
}
