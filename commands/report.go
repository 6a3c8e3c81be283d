package commands

import (
	"errors"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/upkeep"
)

// eventTime is when what is reported happened: what the option "when" says, or
// now.
func (c *call) eventTime() (time.Time, error) {
	if !c.at.IsZero() {
		return c.at, nil
	}
	t, err := upkeep.ParseWhen(c.options["when"], c.now, c.shop.Location())
	var w *upkeep.WhenError
	if errors.As(err, &w) {
		return t, &userError{key: "when." + string(w.Code), data: words.D{"Given": words.User(w.Input)}, example: c.exampleWith("when", "")}
	}
	return t, err
}

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

// asReported says of whom and of when a report is, where that is not of the one
// who typed it and of now.
func (w *wording) asReported(f domain.Fact) []string {
	d := words.D{"For": words.Person(string(f.For)), "At": words.Time(f.At, words.DateTime)}
	late, other := f.Recorded.Sub(f.At) > 5*time.Minute, f.For != f.By
	switch {
	case late && other:
		return []string{w.say("report.as.both", d)}
	case late:
		return []string{w.say("report.as", d)}
	case other:
		return []string{w.say("report.as.for", d)}
	}
	return nil
}

// tagLines says what a report's tags mean for the reader, first of all.
func (w *wording) tagLines(o domain.Outcome) []string {
	var lines []string
	for _, t := range o.Hung {
		lines = append(lines, w.say("tag.hung", words.D{"Reason": w.reason(t.Reason)}))
	}
	if len(o.Hung) > 0 {
		lines = append(lines, w.say("tag.isolates-nothing", nil))
	}
	return lines
}

// outOfService heads a reply about a machine that is tagged out.
func (w *wording) outOfService(m domain.Machine) string {
	return w.say("tag.headline", words.D{"Machine": words.User(m.Name)})
}

// askedAgain is a command waiting to be given again with a corrected option.
type askedAgain struct {
	Name    string            `json:"name"`
	Options map[string]string `json:"options"`
	At      time.Time         `json:"at,omitzero"` // the event time as it was first understood
	Undo    domain.FactNo     `json:"undo,omitempty"`
}

// againAction gives a command again, as a button's answer to a question.
const againAction waiting[askedAgain] = "again"

// again is a button that gives this command again with one option replaced.
func (c *call) again(label, option, value string) Button {
	return Button{Label: shorten(label, 80), Custom: wait(c, againAction, c.asked(option, value))}
}

func (c *call) asked(option, value string) askedAgain {
	a := askedAgain{Name: c.name, Options: map[string]string{}, At: c.at}
	for k, v := range c.options {
		a.Options[k] = v
	}
	a.Options[option] = value
	if a.At.IsZero() {
		if t, err := c.eventTime(); err == nil {
			a.At = t
		}
	}
	delete(a.Options, "when")
	return a
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

// shorten cuts a label to n characters.
func shorten(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}
