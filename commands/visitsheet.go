package commands

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"setscrew/commands/paper"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
)

// visited is a visit's machine.
func (c *call) visited(v domain.Visit) (domain.Machine, domain.Status, error) {
	snap, err := c.books.Snapshot(c, v.Machine)
	if err != nil {
		return domain.Machine{}, domain.Status{}, err
	}
	st := domain.Assess(snap, c.now)
	if !st.Machine.Retired.IsZero() {
		return domain.Machine{}, st, &domain.Refusal{Code: domain.MachineIsRetired, Name: st.Machine.Name}
	}
	return st.Machine, st, nil
}

// together is the work of services and checks in one: what they need once, and the
// steps of each under its name.
type together struct {
	work  profile.Work // all of it, without steps
	parts []part
}

// part is one piece of work in a visit.
type part struct {
	name     string
	steps    []string
	isolated bool
	running  bool
	reading  string // the check's id where it is measured, "" otherwise
}

// together puts the work of a visit together.
func (w *wording) together(machine domain.Machine, items []domain.Item) (work together, materials []string) {
	add := func(to *[]string, more []string) {
		for _, x := range more {
			if !slices.Contains(*to, x) {
				*to = append(*to, x)
			}
		}
	}
	// Each piece without what all share, which is collected once.
	for _, item := range items {
		if service := machine.Profile.Service(item.ID); item.Kind == domain.ServiceItem && service != nil {
			work.work.Isolated = work.work.Isolated || service.Isolated
			add(&work.work.Tools, service.Tools)
			add(&work.work.Cautions, service.Cautions)
			add(&work.work.Off, service.Off)
			if service.Material != "" {
				add(&materials, []string{service.Material})
			}
			bare := service.Work
			bare.Isolated, bare.Off = false, nil
			work.parts = append(work.parts,
				part{name: service.Name, steps: w.workSteps(machine, bare), isolated: service.Isolated})
		}
		if check := machine.Profile.Check(item.ID); item.Kind == domain.CheckItem && check != nil {
			work.work.Isolated = work.work.Isolated || check.Isolated
			piece := part{name: check.Name, steps: w.checkSteps(machine, check), isolated: check.Isolated,
				running: check.Running}
			if !check.Inspection {
				piece.reading = check.ID
				add(&work.work.Tools, []string{machine.Profile.Gauge(check.Gauge).Name})
			}
			work.parts = append(work.parts, piece)
		}
	}
	return work, materials
}

// visitSteps is what is done in a visit, in order, what is shared once: lines with a
// number are steps, the others name the work that follows.
func (w *wording) visitSteps(machine domain.Machine, work together, named func(*part) string) (heads []string,
	steps [][]string) {
	put := func(head string, s []string) { heads, steps = append(heads, head), append(steps, s) }
	bare := profile.Work{Isolated: work.work.Isolated, Off: work.work.Off}
	shared := w.workSteps(machine, bare)
	before := len(machine.Profile.Isolation.Before)
	if !bare.Isolated {
		before = 0
	}
	off := 0
	if len(bare.Off) > 0 {
		off = 1
	}
	if before+off > 0 {
		put("", shared[:before+off])
	}
	back := false
	for _, piece := range work.parts {
		if !piece.isolated && !back && before+off > 0 {
			put("", shared[before+off:])
			back = true
		}
		head := named(&piece) // which may leave steps out
		put(head, piece.steps)
	}
	if !back && before+off > 0 {
		put("", shared[before+off:])
	}
	return heads, steps
}

// mostTicks is how many jobs of a sheet have a button.
const mostTicks = 20

// takeVisitsAction makes a proposal the shop's plan; visitAction shows the sheet of
// one of its visits; visitDoneAction ticks one job of a sheet off.
const (
	takeVisitsAction waiting[domain.VisitsPlanned] = "take-visits"
	visitAction      lasting[visitArg]             = "visit"
	visitDoneAction  lasting[visitArg]             = "visit-done"
)

// visitSheet is what to do in a visit, with a button for each job that a tap can
// tell of.
func (c *call) visitSheet(fact domain.Fact, plan domain.VisitsPlanned, i int) (Reply, error) {
	visit := plan.Visits[i]
	machine, st, err := c.visited(visit)
	if err != nil {
		return Reply{}, err
	}
	// What to have at hand.
	work, materials := c.together(machine, visit.Items)
	reply := Reply{Headline: c.say("visits.sheet", words.D{"No": i + 1, "Machine": words.User(machine.Name),
		"At": words.Time(visit.At, words.DateTime), "Minutes": minutesText(visit.Minutes)}),
		Lines: c.workHead(machine, work.work)}
	for _, x := range materials {
		reply.Lines = append(reply.Lines, c.say("how.material", words.D{"Items": x}))
		shelf, err := c.shelfLines(x, false)
		if err != nil {
			return Reply{}, err
		}
		reply.Lines = append(reply.Lines, shelf...)
	}
	// The jobs in order; one that a tap can tell of has a button.
	job := -1
	heads, steps := c.visitSteps(machine, work, func(piece *part) string {
		job++
		no, done := domain.DoneSince(st, visit.Items[job], fact.At)
		switch {
		case done:
			piece.steps = nil
			return c.say("visits.part.done", words.D{"Name": capital(piece.name), "No": no})
		case piece.reading != "":
			return c.say("visits.part.read",
				words.D{"Name": capital(piece.name), "Example": slash(readingName, "machine", machine.Name, "check",
					piece.name) + ` values:"` + c.exampleValues(machine, machine.Profile.Check(piece.reading)) + `"`})
		case len(reply.Buttons) < mostTicks:
			key := "button.visit.done"
			if visit.Items[job].Kind == domain.CheckItem {
				key = "button.visit.pass"
			}
			reply.Buttons = append(reply.Buttons, Button{
				Label:  shorten(c.say(key, words.D{"Name": piece.name}), buttonChars),
				Custom: visitDoneAction.with(visitArg{fact.No, i, job})})
		}
		return c.say("visits.part", words.D{"Name": capital(piece.name)})
	})
	// All steps, counted through.
	step := 0
	for j, head := range heads {
		if head != "" {
			reply.Lines = append(reply.Lines, head)
		}
		for _, s := range steps[j] {
			step++
			reply.Lines = append(reply.Lines, strconv.Itoa(step)+". "+s)
		}
	}
	reply.Lines = append(reply.Lines, c.readAfter(machine, visit.Items)...)
	reply.Lines = append(reply.Lines, c.workFoot(machine, work.work)...)
	return reply, nil
}

// visitToTake is the sheet of a visit with the page to take along.
func (c *call) visitToTake(fact domain.Fact, plan domain.VisitsPlanned, i int) (Reply, error) {
	reply, err := c.visitSheet(fact, plan, i)
	if err == nil {
		reply.File, err = c.visitPaper(plan.Visits[i])
	}
	return reply, err
}

// readAfter says what has to be read after a visit whose work moves it.
func (w *wording) readAfter(machine domain.Machine, items []domain.Item) []string {
	var moves, names []string
	for _, item := range items {
		if s := machine.Profile.Service(item.ID); item.Kind == domain.ServiceItem && s != nil {
			moves = append(moves, s.Surfaces...)
		}
	}
	for _, id := range machine.Profile.Moved(moves) {
		if !slices.Contains(items, domain.CheckItem.Of(id)) {
			names = append(names, machine.Profile.Check(id).Name)
		}
	}
	if len(names) == 0 {
		return nil
	}
	return []string{w.say("visits.after", words.D{"Checks": strings.Join(names, ", ")})}
}

// visitPaper is a visit's sheet as a page to tick off with a pen.
func (c *call) visitPaper(visit domain.Visit) (*File, error) {
	machine, _, err := c.visited(visit)
	if err != nil {
		return nil, err
	}
	plain := func(s string) string { return words.Expand(s, onPaper{c.shop}) }
	work, materials := c.together(machine, visit.Items)
	page := paper.Page{Title: plain(c.say("paper.visit", words.D{"Machine": words.User(machine.Name)})), Made: c.now,
		Under: plain(c.say("paper.visit.under", words.D{"At": words.Time(visit.At, words.DateTime),
			"Minutes": minutesText(visit.Minutes), "Shop": words.User(c.shop.Name)})),
		Shares: []float64{1, 11, 2}, Heads: []string{"", plain(c.say("paper.col.step", nil)),
			plain(c.say("paper.col.done", nil))}}
	// What to have at hand.
	for _, x := range c.workHead(machine, work.work) {
		page.Notes = append(page.Notes, plain(x))
	}
	for _, x := range materials {
		page.Notes = append(page.Notes, plain(c.say("how.material", words.D{"Items": x})))
		shelf, err := c.shelfLines(x, false)
		if err != nil {
			return nil, err
		}
		for _, s := range shelf {
			page.Notes = append(page.Notes, plain(s))
		}
	}
	// The steps, to tick off.
	heads, steps := c.visitSteps(machine, work, func(p *part) string { return capital(p.name) })
	step := 0
	for j, head := range heads {
		if head != "" {
			page.Rows = append(page.Rows, []string{"", head + ":", ""})
		}
		for _, s := range steps[j] {
			step++
			page.Rows = append(page.Rows, []string{strconv.Itoa(step), plain(s), ""})
		}
	}
	for _, s := range append(c.readAfter(machine, visit.Items), c.workFoot(machine, work.work)...) {
		page.After = append(page.After, plain(s))
	}
	pdf, err := paper.PDF(page)
	if err != nil {
		return nil, err
	}
	return &File{Name: fmt.Sprintf("visit-%s.pdf", c.shop.Date(visit.At)),
		Type: "application/pdf", Data: pdf}, nil
}
