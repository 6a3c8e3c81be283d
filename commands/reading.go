package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var readingCommand = &Command{
	Name: readingName, Who: Anyone, Quiet: true, Words: 25, MostWords: 190,
	Options: []Option{machineOption, {Name: "check", Takes: Check, Required: true},
		{Name: "values", Takes: Text, Max: 400}, {Name: "gauge", Takes: Gauge}, {Name: "mode", Takes: Mode, Max: 60}, whenOption, forOption},
	Examples: []string{`/reading machine:Marble check:"infeed roller" values:"left 1.17 mm, right 1.04 mm"`,
		`/reading machine:Marble check:fingers values:pass`},
}

// valuesAction is the form that asks for a reading's values.
const valuesAction waiting[askedAgain] = "values"

// believeAction confirms an unlikely reading.
const believeAction waiting[turning] = "believe"

func runReading(c *call) (Reply, error) {
	m, k, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	typed := strings.TrimSpace(c.options["values"])
	if k.Inspection {
		return c.inspect(m, k, typed)
	}
	if k, err = c.inMode(m, k); err != nil {
		return Reply{}, err
	}
	if typed == "" {
		return c.askValues(m, k)
	}
	l := layout(m, c.shop, k)
	list, err := quantity.ParseList(typed, l)
	if err != nil {
		return c.askOrRefuse(err, "values", l.Positions, c.exampleValues(m, k))
	}
	gauge, err := c.gauge(m.Profile, k)
	if err != nil {
		return Reply{}, err
	}
	r := domain.Reading{Check: k.ID, Values: list.At, Gauge: gauge, Typed: words.Clean(typed), Mode: k.Mode,
		Unconfirmed: domain.Unlikely(k, list.At)}
	o, err := c.report(m, r)
	if err != nil {
		return Reply{}, err
	}
	reply := c.readingReply(o, k, r)
	if r.Unconfirmed && !o.Repeated {
		c.askUnlikely(&reply, o, k, l, list)
	}
	return reply, nil
}

// inMode is a check in the mode that is named, or in that of its latest reading.
func (c *call) inMode(m domain.Machine, k *profile.Check) (*profile.Check, error) {
	switch {
	case len(k.Modes) == 0 && c.options["mode"] != "":
		return k, &userError{key: "reading.nomode", data: words.D{"Check": capital(k.Name)}, example: c.exampleWith("mode", "")}
	case len(k.Modes) == 0:
		return k, nil
	case c.options["mode"] == "":
		snap, err := c.books.Snapshot(c, m.ID)
		if err != nil {
			return k, err
		}
		if l := snap.Latest[k.ID]; l.Reading != nil {
			return k.In(l.Reading.Mode), nil
		}
		return k, nil
	}
	among := make([]named, len(k.Modes))
	for i, x := range k.Modes {
		among[i] = named{x.ID, x.Name}
	}
	i, err := c.lookUp("mode", "mode", among)
	if err != nil {
		return k, err
	}
	return k.In(k.Modes[i].ID), nil
}

// askValues opens a form with a field a position, or says how to type more than
// a form can hold.
func (c *call) askValues(m domain.Machine, k *profile.Check) (Reply, error) {
	r := rulerFor(k, m.UnitsIn(c.shop))
	if len(k.Positions) > 5 {
		return Reply{Headline: c.say("reading.type", words.D{"Check": capital(k.Name), "Positions": strings.Join(k.Positions, ", ")}),
			Lines: []string{c.say("example", words.D{"Example": c.exampleWith("values", c.exampleValues(m, k))})}}, nil
	}
	f := &Form{Title: shorten(m.Name+", "+k.Name, 45), Custom: wait(c, valuesAction, c.asked("values", ""))}
	for _, p := range k.Positions {
		label := p
		if label == "" {
			label = k.Name
		}
		f.Fields = append(f.Fields, Field{ID: fieldID(p), Label: shorten(label, 45), Example: r.show(k.Example), Required: true})
	}
	return Reply{Headline: c.say("reading.form", words.D{"Machine": words.User(m.Name), "Check": k.Name}), Form: f}, nil
}

func runValues(c *call, a askedAgain) (Reply, error) {
	c.name, c.options, c.at = a.Name, a.Options, a.At
	m, k, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	// Each field stands for itself: a number without a unit takes the entry
	// unit there, whatever its neighbours have.
	l := layout(m, c.shop, k)
	parts := make([]string, len(k.Positions))
	for i, p := range k.Positions {
		text := c.fields[fieldID(p)]
		if list, err := quantity.ParseList(text, quantity.Layout{Context: l.Context, Positions: []string{""}}); err == nil {
			text = ""
			for _, v := range list.At[0].Repeats {
				text += " " + quantity.Typed(v, list.Unit)
			}
		}
		parts[i] = strings.TrimSpace(p + " " + strings.TrimSpace(text))
	}
	a.Options["values"] = strings.Join(parts, ", ")
	return runAgain(c, a)
}

// askUnlikely asks whether values ten times off were meant, and offers the same
// numbers in the units in which they would be likely.
func (c *call) askUnlikely(reply *Reply, o domain.Outcome, k *profile.Check, l quantity.Layout, list quantity.List) {
	offer := func(meant []quantity.At, u quantity.Unit) {
		if domain.Unlikely(k, meant) {
			return
		}
		text := make([]string, len(meant))
		for i, at := range meant {
			text[i] = at.Position
			for _, v := range at.Repeats {
				n := v.In(u)
				digits, _ := n.FloatPrec()
				text[i] += " " + n.FloatString(min(digits, 6)) + " " + string(u)
			}
		}
		a := c.asked("values", strings.TrimSpace(strings.Join(text, ", ")))
		a.Undo = o.Fact.No
		reply.Buttons = append(reply.Buttons, Button{Label: shorten(c.say("button.meant", words.D{"Values": a.Options["values"]}), 80),
			Custom: wait(c, againAction, a)})
	}
	if lowest, n := domain.Fundamental(k, list.At); n > 0 {
		offer(lowest, list.Unit)
	}
	for _, u := range []quantity.Unit{quantity.Millimetre, quantity.Thou, quantity.Inch} {
		if u.Kind() != l.Kind || u == list.Unit {
			continue
		}
		meant := make([]quantity.At, len(list.At))
		for i, at := range list.At {
			meant[i].Position = at.Position
			for _, v := range at.Repeats {
				meant[i].Repeats = append(meant[i].Repeats, quantity.FromRat(v.In(list.Unit), u))
			}
		}
		offer(meant, u)
	}
	reply.Buttons = append(reply.Buttons,
		Button{Label: c.say("button.believe", nil), Custom: wait(c, believeAction, turning{o.Fact.No})},
		Button{Label: c.say("button.withdraw", nil), Custom: wait(c, withdrawAction, turning{o.Fact.No})})
}

// runBelieve confirms that an unlikely reading is right.
func runBelieve(c *call, t turning) (Reply, error) {
	f, r, err := c.readingOf(t.Reading)
	if err != nil {
		return Reply{}, err
	}
	snap, err := c.books.Snapshot(c, f.Machine)
	if err != nil {
		return Reply{}, err
	}
	c.at = c.now
	o, err := c.report(snap.Machine, domain.ReadingConfirmed{Of: f.No})
	if err != nil {
		return Reply{}, err
	}
	k := snap.Machine.Profile.Check(r.Check).In(r.Mode)
	o.Fact.No = f.No // the reply is about the reading, not about its confirmation
	reply := c.readingReply(o, k, r)
	reply.Replaces = true
	return reply, nil
}

// inspect records that a check passes or fails.
func (c *call) inspect(m domain.Machine, k *profile.Check, typed string) (Reply, error) {
	verdict, note, _ := strings.Cut(typed, ":")
	if typed == "" {
		return Reply{Headline: c.say("inspection.ask", words.D{"Check": capital(k.Name), "How": k.Measured}),
			Buttons: []Button{c.again(c.say("button.pass", nil), "values", "pass"), c.again(c.say("button.fail", nil), "values", "fail")}}, nil
	}
	in := domain.Inspection{Check: k.ID, Note: words.Clean(note)}
	switch fold(verdict) {
	case "pass", "passes", "passed", "ok", "good", "yes":
		in.Pass = true
	case "fail", "fails", "failed", "bad", "no":
	default:
		return Reply{}, &userError{key: "inspection.words", data: words.D{"Check": capital(k.Name), "Given": words.User(typed)},
			example: c.exampleWith("values", "pass")}
	}
	o, err := c.report(m, in)
	if err != nil {
		return Reply{}, err
	}
	d := words.D{"Machine": words.User(m.Name), "Check": k.Name, "No": o.Fact.No}
	cs := o.After.Check(k.ID)
	switch {
	case cs.Latest.Fact != o.Fact.No:
		return Reply{Headline: c.say("reading.older", d)}, nil
	case in.Pass && cs.Freshness == domain.Stale:
		return Reply{Headline: c.say("reading.stale", words.D{"Machine": words.User(m.Name), "Check": k.Name,
			"From": m.Profile.Check(cs.StaleFrom).Name, "Moved": words.Time(cs.StaleBy.At, words.DateTime)})}, nil
	case in.Pass && cs.Unseconded:
		return Reply{Headline: c.say("inspection.second", d), Lines: []string{c.say("example", words.D{"Example": c.exampleWith("values", "pass", "for", "when")})}}, nil
	case in.Pass:
		r := Reply{Headline: c.say("inspection.passed", d)}
		if !cs.Due.On.IsZero() {
			r.Lines = []string{c.say("inspection.next", words.D{"On": words.Time(cs.Due.On, words.Date)})}
		}
		return r, nil
	}
	r := Reply{Headline: c.say("inspection.failed", d), Lines: c.tagLines(o)}
	if o.After.TaggedOut() {
		r.Headline = c.outOfService(m)
	}
	if k.Fail != "" {
		r.Lines = append(r.Lines, k.Fail)
	}
	r.Lines = append(r.Lines, c.say("recorded", d))
	return r, nil
}
