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
func (w *wording) together(m domain.Machine, items []domain.Item) (t together, materials []string) {
	add := func(to *[]string, more []string) {
		for _, x := range more {
			if !slices.Contains(*to, x) {
				*to = append(*to, x)
			}
		}
	}
	for _, item := range items {
		if s := m.Profile.Service(item.ID); item.Kind == domain.ServiceItem && s != nil {
			t.work.Isolated = t.work.Isolated || s.Isolated
			add(&t.work.Tools, s.Tools)
			add(&t.work.Cautions, s.Cautions)
			add(&t.work.Off, s.Off)
			if s.Material != "" {
				add(&materials, []string{s.Material})
			}
			bare := s.Work
			bare.Isolated, bare.Off = false, nil
			t.parts = append(t.parts, part{name: s.Name, steps: w.workSteps(m, bare), isolated: s.Isolated})
		}
		if k := m.Profile.Check(item.ID); item.Kind == domain.CheckItem && k != nil {
			t.work.Isolated = t.work.Isolated || k.Isolated
			p := part{name: k.Name, steps: w.checkSteps(m, k), isolated: k.Isolated, running: k.Running}
			if !k.Inspection {
				p.reading = k.ID
				add(&t.work.Tools, []string{m.Profile.Gauge(k.Gauge).Name})
			}
			t.parts = append(t.parts, p)
		}
	}
	return t, materials
}

// visitSteps is what is done in a visit, in order, what is shared once: lines with a
// number are steps, the others name the work that follows.
func (w *wording) visitSteps(m domain.Machine, t together, named func(*part) string) (heads []string, steps [][]string) {
	put := func(head string, s []string) { heads, steps = append(heads, head), append(steps, s) }
	bare := profile.Work{Isolated: t.work.Isolated, Off: t.work.Off}
	shared := w.workSteps(m, bare)
	before := len(m.Profile.Isolation.Before)
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
	for _, p := range t.parts {
		if !p.isolated && !back && before+off > 0 {
			put("", shared[before+off:])
			back = true
		}
		head := named(&p) // which may leave steps out
		put(head, p.steps)
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
func (c *call) visitSheet(f domain.Fact, plan domain.VisitsPlanned, i int) (Reply, error) {
	v := plan.Visits[i]
	m, st, err := c.visited(v)
	if err != nil {
		return Reply{}, err
	}
	t, materials := c.together(m, v.Items)
	r := Reply{Headline: c.say("visits.sheet", words.D{"No": i + 1, "Machine": words.User(m.Name), "At": words.Time(v.At, words.DateTime), "Minutes": minutesText(v.Minutes)}),
		Lines: c.workHead(m, t.work)}
	for _, x := range materials {
		r.Lines = append(r.Lines, c.say("how.material", words.D{"Items": x}))
		shelf, err := c.shelfLines(x, false)
		if err != nil {
			return Reply{}, err
		}
		r.Lines = append(r.Lines, shelf...)
	}
	k := -1
	heads, steps := c.visitSteps(m, t, func(p *part) string {
		k++
		no, done := domain.DoneSince(st, v.Items[k], f.At)
		switch {
		case done:
			p.steps = nil
			return c.say("visits.part.done", words.D{"Name": capital(p.name), "No": no})
		case p.reading != "":
			return c.say("visits.part.read", words.D{"Name": capital(p.name), "Example": slash(readingName, "machine", m.Name, "check", p.name) + ` values:"` + c.exampleValues(m, m.Profile.Check(p.reading)) + `"`})
		case len(r.Buttons) < mostTicks:
			key := "button.visit.done"
			if v.Items[k].Kind == domain.CheckItem {
				key = "button.visit.pass"
			}
			r.Buttons = append(r.Buttons, Button{Label: shorten(c.say(key, words.D{"Name": p.name}), 80), Custom: visitDoneAction.with(visitArg{f.No, i, k})})
		}
		return c.say("visits.part", words.D{"Name": capital(p.name)})
	})
	n := 0
	for j, head := range heads {
		if head != "" {
			r.Lines = append(r.Lines, head)
		}
		for _, s := range steps[j] {
			n++
			r.Lines = append(r.Lines, strconv.Itoa(n)+". "+s)
		}
	}
	r.Lines = append(r.Lines, c.readAfter(m, v.Items)...)
	r.Lines = append(r.Lines, c.workFoot(m, t.work)...)
	return r, nil
}

// readAfter says what has to be read after a visit whose work moves it.
func (w *wording) readAfter(m domain.Machine, items []domain.Item) []string {
	var moves, names []string
	for _, item := range items {
		if s := m.Profile.Service(item.ID); item.Kind == domain.ServiceItem && s != nil {
			moves = append(moves, s.Surfaces...)
		}
	}
	for _, id := range m.Profile.Moved(moves) {
		if !slices.Contains(items, domain.CheckItem.Of(id)) {
			names = append(names, m.Profile.Check(id).Name)
		}
	}
	if len(names) == 0 {
		return nil
	}
	return []string{w.say("visits.after", words.D{"Checks": strings.Join(names, ", ")})}
}

// visitPaper is a visit's sheet as a page to tick off with a pen.
func (c *call) visitPaper(v domain.Visit) (*File, error) {
	m, _, err := c.visited(v)
	if err != nil {
		return nil, err
	}
	plain := func(s string) string { return words.Expand(s, onPaper{c.shop}) }
	t, materials := c.together(m, v.Items)
	p := paper.Page{Title: plain(c.say("paper.visit", words.D{"Machine": words.User(m.Name)})), Made: c.now,
		Under:  plain(c.say("paper.visit.under", words.D{"At": words.Time(v.At, words.DateTime), "Minutes": minutesText(v.Minutes), "Shop": words.User(c.shop.Name)})),
		Shares: []float64{1, 11, 2}, Heads: []string{"", plain(c.say("paper.col.step", nil)), plain(c.say("paper.col.done", nil))}}
	for _, x := range c.workHead(m, t.work) {
		p.Notes = append(p.Notes, plain(x))
	}
	for _, x := range materials {
		p.Notes = append(p.Notes, plain(c.say("how.material", words.D{"Items": x})))
		shelf, err := c.shelfLines(x, false)
		if err != nil {
			return nil, err
		}
		for _, s := range shelf {
			p.Notes = append(p.Notes, plain(s))
		}
	}
	heads, steps := c.visitSteps(m, t, func(p *part) string { return capital(p.name) })
	n := 0
	for j, head := range heads {
		if head != "" {
			p.Rows = append(p.Rows, []string{"", head + ":", ""})
		}
		for _, s := range steps[j] {
			n++
			p.Rows = append(p.Rows, []string{strconv.Itoa(n), plain(s), ""})
		}
	}
	for _, s := range append(c.readAfter(m, v.Items), c.workFoot(m, t.work)...) {
		p.After = append(p.After, plain(s))
	}
	pdf, err := paper.PDF(p)
	if err != nil {
		return nil, err
	}
	return &File{Name: fmt.Sprintf("visit-%s.pdf", v.At.In(c.shop.Location()).Format("2006-01-02")), Type: "application/pdf", Data: pdf}, nil
}
