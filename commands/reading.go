package commands

import (
	"errors"
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var readingCommand = &Command{
	Name: readingName, Who: Anyone, Quiet: true, Words: 25, MostWords: 190,
	Options: []Option{machineOption, {Name: "check", Takes: Check, Required: true},
		{Name: "values", Takes: Text, Max: 400}, {Name: "gauge", Takes: Gauge}, {Name: "mode", Takes: Mode, Max: 60},
		photoOption, whenOption, forOption},
	Examples: []string{`/reading machine:Marble check:"infeed roller" values:"left 1.17 mm, right 1.04 mm"`,
		`/reading machine:Marble check:fingers values:pass`},
}

// valuesAction is the form that asks for a reading's values.
const valuesAction waiting[askedAgain] = "values"

// believeAction confirms an unlikely reading.
const believeAction waiting[turning] = "believe"

// runReading records what a check reads, or that it passes or fails, and says what to do;
// where nothing was typed it asks for that.
func runReading(c *call) (Reply, error) {
	machine, check, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	// Whether it passes, or its values, which a form asks for.
	typed := strings.TrimSpace(c.options["values"])
	if check.Inspection {
		return c.inspect(machine, check, typed)
	}
	if check, err = c.inMode(machine, check); err != nil {
		return Reply{}, err
	}
	if typedGoNoGo(typed) {
		return c.goNoGo(machine, check, typed)
	}
	if typed == "" {
		return c.askValues(machine, check)
	}
	// The values at their positions, and with what they were read.
	form := layout(machine, c.shop, check)
	list, err := readList(check, typed, form)
	if said, _ := domain.InspectionSaid(typed); err != nil && said != domain.NotSaid {
		return Reply{}, &userError{key: "reading.word", data: words.D{"Given": words.User(typed)},
			example: c.exampleWith("values", c.exampleValues(machine, check)),
			buttons: []Button{c.again(c.say("button.values", nil), "values", "")}}
	}
	if err != nil {
		return c.askOrRefuse(err, "values", form.Positions, c.exampleValues(machine, check))
	}
	gauge, err := c.gauge(machine.Profile, check)
	if err != nil {
		return Reply{}, err
	}
	// What was read, and what to do about it.
	reading := domain.Reading{Check: check.ID, Values: list.At, Gauge: gauge, Typed: words.Clean(typed),
		Mode: check.Mode, Photo: photo(c.options["photo"]),
		Unconfirmed: domain.Unlikely(check, list.At)}
	outcome, err := c.report(machine, reading)
	if err != nil {
		return Reply{}, err
	}
	reply := c.readingReply(outcome, check, reading)
	if list.About {
		reply.Lines = append(reply.Lines, c.say("reading.about", nil))
	}
	if reading.Unconfirmed && !outcome.Repeated {
		c.askUnlikely(&reply, outcome, check, form, list)
	}
	return reply, nil
}

// readList reads the values of a check. Of what can be read in two ways only those count
// that are likely; where one is left alone that a slip of the unit or the decimal point
// tells from the others, and that stops nothing, it is taken.
func readList(check *profile.Check, typed string, form quantity.Layout) (quantity.List, error) {
	list, err := quantity.ParseList(typed, form)
	var question *quantity.Ambiguity
	if !errors.As(err, &question) {
		return list, err
	}
	var likely []quantity.Option
	for _, option := range question.Options {
		read, wrong := quantity.ParseList(option.Text, form)
		if wrong == nil && !domain.Unlikely(check, read.At) {
			likely, list = append(likely, option), read
		}
	}
	stops := slices.ContainsFunc(list.At, func(at quantity.At) bool {
		return slices.ContainsFunc(at.Repeats, func(read quantity.Value) bool { return !check.Stop.Holds(read) })
	})
	switch {
	case len(likely) == 1 && stops: // it is asked, with all that it may be
	case len(likely) == 1 && question.BySize():
		return list, nil
	case len(likely) > 0:
		question.Options = likely
	}
	return quantity.List{}, question
}

// inMode is a check in the mode that is named, or in that of its latest reading.
func (c *call) inMode(machine domain.Machine, check *profile.Check) (*profile.Check, error) {
	switch {
	case len(check.Modes) == 0 && c.options["mode"] != "":
		return check, &userError{key: "reading.nomode", data: words.D{"Check": capital(check.Name)},
			example: c.exampleWith("mode", "")}
	case len(check.Modes) == 0:
		return check, nil
	case c.options["mode"] == "":
		snap, err := c.books.Snapshot(c, machine.ID)
		if err != nil {
			return check, err
		}
		if l := snap.Latest[check.ID]; l.Reading != nil {
			return check.In(l.Reading.Mode), nil
		}
		return check, nil
	}
	i, err := c.lookUp("mode", "mode",
		namedIn(check.Modes, func(m *profile.Mode) named { return named{ID: m.ID, Name: m.Name} }))
	if err != nil {
		return check, err
	}
	return check.In(check.Modes[i].ID), nil
}

// askValues opens a form with a field a position, or says how to type more than
// a form can hold.
func (c *call) askValues(machine domain.Machine, check *profile.Check) (Reply, error) {
	scale := rulerFor(check, machine.UnitsIn(c.shop))
	if len(check.Positions) > 5 {
		return Reply{Headline: c.say("reading.type",
			words.D{"Check": capital(check.Name), "Positions": strings.Join(check.Positions, ", ")}),
			Lines: []string{c.say("example",
				words.D{"Example": c.exampleWith("values", c.exampleValues(machine, check))})}}, nil
	}
	form := &Form{Title: shorten(machine.Name+", "+check.Name, formChars),
		Custom: wait(c, valuesAction, c.asked("values", ""))}
	for _, text := range check.Positions {
		label := text
		if label == "" {
			label = check.Name
		}
		form.Fields = append(form.Fields,
			Field{ID: fieldID(text), Label: shorten(label, formChars), Example: scale.show(check.Example),
				Required: true})
	}
	return Reply{Headline: c.say("reading.form", words.D{"Machine": words.User(machine.Name), "Check": check.Name}),
		Form: form}, nil
}

// runValues takes the form that askValues opened: its fields become the option "values" of
// the reading that asked for them.
func runValues(c *call, asked askedAgain) (Reply, error) {
	c.name, c.options, c.at = asked.Name, asked.Options, asked.At
	if asked.Name != readingName {
		return Reply{}, noSuchButton()
	}
	if err := c.checkOptions(readingCommand); err != nil {
		return Reply{}, err
	}
	machine, check, err := c.checkNamed()
	if err != nil {
		return Reply{}, err
	}
	// Each field stands for itself: a number without a unit takes the entry
	// unit there, whatever its neighbours have.
	places := layout(machine, c.shop, check)
	parts := make([]string, len(check.Positions))
	for i, typed := range check.Positions {
		text := c.fields[fieldID(typed)]
		if list, err := quantity.ParseList(text,
			quantity.Layout{Context: places.Context, Positions: []string{""}}); err == nil {
			text = ""
			for _, v := range list.At[0].Repeats {
				text += " " + quantity.Typed(v, list.Unit)
			}
		}
		parts[i] = strings.TrimSpace(typed + " " + strings.TrimSpace(text))
	}
	asked.Options["values"] = strings.Join(parts, ", ")
	return runAgain(c, asked)
}

// mostMeant is how many readings are offered for an unlikely one.
const mostMeant = 3

// askUnlikely asks whether unlikely values were meant, and offers the same numbers in the
// units in which they would be likely, then what else may have slipped.
func (c *call) askUnlikely(reply *Reply, outcome domain.Outcome, check *profile.Check, layout quantity.Layout,
	list quantity.List) {
	offer := func(meant []quantity.At, in quantity.Unit) {
		if len(reply.Buttons) == mostMeant || domain.Unlikely(check, meant) {
			return
		}
		text := make([]string, len(meant))
		for i, at := range meant {
			text[i] = at.Position
			for _, v := range at.Repeats {
				n := v.In(in)
				digits, _ := n.FloatPrec()
				text[i] += " " + n.FloatString(min(digits, 6)) + " " + string(in)
			}
		}
		a := c.asked("values", strings.TrimSpace(strings.Join(text, ", ")))
		a.Undo = outcome.Fact.No
		reply.Buttons = append(reply.Buttons,
			Button{Label: shorten(c.say("button.meant", words.D{"Values": a.Options["values"]}), buttonChars),
				Custom: wait(c, againAction, a)})
	}
	// The same numbers in other units, then what else slipped.
	for _, meantIn := range []quantity.Unit{quantity.Millimetre, quantity.Thou, quantity.Inch} {
		if meantIn.Kind() != layout.Kind || meantIn == list.Unit {
			continue
		}
		meant := make([]quantity.At, len(list.At))
		for i, at := range list.At {
			meant[i].Position = at.Position
			for _, v := range at.Repeats {
				meant[i].Repeats = append(meant[i].Repeats, quantity.FromRat(v.In(list.Unit), meantIn))
			}
		}
		offer(meant, meantIn)
	}
	for _, meant := range domain.Meant(check, list.At) {
		offer(meant, list.Unit)
	}
	// Or it is right, or a slip.
	reply.Buttons = append(reply.Buttons,
		Button{Label: c.say("button.believe", nil), Custom: wait(c, believeAction, turning{outcome.Fact.No})},
		Button{Label: c.say("button.withdraw", nil), Custom: wait(c, withdrawAction, turning{outcome.Fact.No})})
}

// runBelieve confirms that an unlikely reading is right.
func runBelieve(c *call, t turning) (Reply, error) {
	fact, reading, snap, err := c.readingOf(t.Reading)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(snap.Machine, domain.ReadingConfirmed{Of: fact.No})
	if err != nil {
		return Reply{}, err
	}
	k := snap.Machine.Profile.Check(reading.Check).In(reading.Mode)
	outcome.Fact.No = fact.No // the reply is about the reading, not about its confirmation
	reply := c.readingReply(outcome, k, reading)
	reply.Replaces = true
	return reply, nil
}

// inspect records that a check passes or fails.
func (c *call) inspect(machine domain.Machine, check *profile.Check, typed string) (Reply, error) {
	if typed == "" {
		return Reply{Headline: c.say("inspection.ask", words.D{"Check": capital(check.Name), "How": check.Measured}),
			Buttons: []Button{c.again(c.say("button.pass", nil), "values", "pass"),
				c.again(c.say("button.fail", nil), "values", "fail")}}, nil
	}
	// Passed or failed, in words that people use.
	said, note := domain.InspectionSaid(words.Clean(typed))
	if said == domain.NotSaid {
		return Reply{}, &userError{key: "inspection.words",
			data:    words.D{"Check": capital(check.Name), "Given": words.User(typed)},
			example: c.exampleWith("values", "pass"),
			buttons: []Button{c.again(c.say("button.pass", nil), "values", "pass: "+typed),
				c.again(c.say("button.fail", nil), "values", "fail: "+typed)}}
	}
	in := domain.Inspection{Check: check.ID, Pass: said == domain.SaidPasses, Note: note,
		Photo: photo(c.options["photo"])}
	outcome, err := c.report(machine, in)
	if err != nil {
		return Reply{}, err
	}
	data := words.D{"Machine": words.User(machine.Name), "Check": check.Name, "No": outcome.Fact.No}
	cs := outcome.After.Check(check.ID)
	switch {
	case cs.Latest.Fact != outcome.Fact.No:
		return Reply{Headline: c.say("reading.older", data)}, nil
	case in.Pass && cs.Freshness == domain.Stale:
		return Reply{Headline: c.staleLine(machine, cs)}, nil
	case in.Pass && cs.Unseconded:
		return Reply{Headline: c.say("inspection.second", data),
			Lines: []string{c.say("example", words.D{"Example": c.exampleWith("values", "pass", "for", "when")})}}, nil
	case in.Pass:
		reply := Reply{Headline: c.say("inspection.passed", data)}
		if !cs.Due.On.IsZero() {
			reply.Lines = []string{c.say("inspection.next", words.D{"On": words.Time(cs.Due.On, words.Date)})}
		}
		if cs.Untested {
			reply.Lines = append(reply.Lines, c.say("untested.why", nil))
		}
		return reply, nil
	}
	// It failed.
	reply := Reply{Headline: c.say("inspection.failed", data), Lines: c.tagLines(outcome)}
	if outcome.After.TaggedOut() {
		reply.Headline = c.notInService(outcome.After)
	}
	if check.Fail != "" {
		reply.Lines = append(reply.Lines, check.Fail)
	}
	reply.Lines = append(reply.Lines, c.say("recorded", data))
	return reply, nil
}
