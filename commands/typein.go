package commands

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/danger"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

var typeinCommand = &Command{
	Name: "typein", Who: Anyone, Quiet: true, Words: 40, MostWords: 200,
	Options: []Option{machineOption, {Name: "lines", Takes: Text, Max: 1000}},
	Examples: []string{`/typein machine:Marble`,
		`/typein machine:Marble lines:"2026-03-02 18:00, 1.5 h; 19:00, done bushings"`},
}

// typeinAction is the form that takes the lines of a log sheet; mendAction opens it
// again with what was typed.
const (
	typeinAction waiting[typedIn] = "typein"
	mendAction   waiting[typedIn] = "typein-mend"
)

// mostLines is how many lines are typed in at one go.
const mostLines = 40

// mostTyped is how many characters a form's field takes.
const mostTyped = 4000

// typedIn is what waits behind the form of a log sheet.
type typedIn struct {
	Machine string `json:"machine"`
	Lines   string `json:"lines"`
}

// runTypein records the lines of a log sheet, or opens a form for them.
func runTypein(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	if lines := c.options["lines"]; strings.TrimSpace(lines) != "" {
		return c.typeIn(machine, lines)
	}
	return c.typeinForm(machine, ""), nil
}

// typeinForm asks for the lines, those given filled in.
func (c *call) typeinForm(m domain.Machine, lines string) Reply {
	return Reply{Headline: c.say("typein.form", words.D{"Machine": words.User(m.Name)}),
		Form: &Form{Title: shorten(c.say("typein.title", words.D{"Machine": m.Name}), formChars),
			Custom: wait(c, typeinAction, typedIn{Machine: m.Name}),
			Fields: []Field{{ID: "lines", Label: c.say("typein.label", nil),
				Example: c.now.In(c.shop.Location()).Format("2 Jan") + " 18:00, 1.5 h; 19:00, done bushings",
				Value:   lines, Required: true, Long: true}}}}
}

// runTyped records the lines that were filled into the form.
func runTyped(c *call, t typedIn) (Reply, error) {
	m, err := c.typedInto(t)
	if err != nil {
		return Reply{}, err
	}
	return c.typeIn(m, c.fields["lines"])
}

// runMend opens the form again with the lines that could not be taken.
func runMend(c *call, typed typedIn) (Reply, error) {
	m, err := c.typedInto(typed)
	if err != nil {
		return Reply{}, err
	}
	return c.typeinForm(m, typed.Lines), nil
}

// typedInto is the machine of the log sheet that waited behind a form.
func (c *call) typedInto(t typedIn) (domain.Machine, error) {
	c.options = map[string]string{"machine": t.Machine}
	if len([]rune(t.Lines)) > mostTyped {
		return domain.Machine{}, noSuchButton()
	}
	if err := c.checkOptions(typeinCommand); err != nil {
		return domain.Machine{}, err
	}
	return c.machine()
}

// typeIn records the lines of a log sheet, all of them or none.
func (c *call) typeIn(machine domain.Machine, text string) (Reply, error) {
	// Every line is read and judged after those before it; nothing is stored yet.
	lines := strings.Split(strings.NewReplacer("\r\n", "\n", "\r", "\n", ";", "\n").Replace(text), "\n")
	draft := &draft{Books: c.books}
	var refused []string
	var unread, drafted []int // lines without a time; those that the draft's entries stand on
	day := ""
	count := 0
	for i, line := range lines {
		line = strings.TrimSpace(words.Clean(line))
		if line == "" {
			continue
		}
		count++
		if count > mostLines {
			return Reply{}, &userError{key: "typein.many", data: words.D{"Most": mostLines}}
		}
		when, what, ok := cutWhen(line)
		if !ok || when == "" || what == "" {
			unread = append(unread, i)
			refused = append(refused,
				c.say("typein.line", words.D{"No": i + 1, "Text": words.User(line),
					"Why": c.say("typein.unreadable", nil)}))
			continue
		}
		if day != "" && upkeep.IsClock(when) {
			when = day + " " + when // the day of the line above
		}
		at, err := upkeep.ParseWhen(when, c.shop.Clocks(c.now))
		if err != nil {
			unread = append(unread, i)
			refused = append(refused,
				c.say("typein.line", words.D{"No": i + 1, "Text": words.User(line), "Why": c.noLineTime(err, when)}))
			continue
		}
		day = c.shop.Date(at)
		if why := c.draftLine(machine, draft, i, at, what); why != "" {
			refused = append(refused, c.say("typein.line", words.D{"No": i + 1, "Text": words.User(line), "Why": why}))
			unread = append(unread, i)
			continue
		}
		drafted = append(drafted, i)
	}
	// One line that cannot be taken keeps all of them out, but for what stops the machine.
	switch {
	case count == 0:
		return Reply{}, &userError{key: "typein.none", example: typeinCommand.Examples[1]}
	case len(refused) > 0:
		reply := Reply{Refused: true,
			Headline: c.say("typein.amiss", words.D{"N": len(refused), "Machine": words.User(machine.Name)}),
			Lines:    append(refused, c.say("typein.how", nil))}
		stops, err := c.stopsAmong(machine, draft, drafted, unread, lines)
		if err != nil {
			return Reply{}, err
		}
		if stops != nil {
			text = strings.TrimSpace(strings.Join(lines, "\n"))
			stops.Refused, stops.Lines = true, append(stops.Lines, c.say("typein.rest", nil))
			stops.Lines = append(stops.Lines, refused...)
			reply = *stops
		}
		if strings.TrimSpace(text) != "" {
			reply.Buttons = append(reply.Buttons, Button{Label: c.say("button.mend", nil),
				Custom: wait(c, mendAction, typedIn{machine.Name, text}), Style: Primary})
		}
		return reply, nil
	}
	// All are reported in one transaction.
	draft.entries[0].Pending = c.pending
	out, err := c.books.ReportAll(c, draft.entries, false)
	if err != nil {
		return Reply{}, err
	}
	last := out[len(out)-1]
	reply := Reply{Headline: c.say("typein.done",
		words.D{"N": len(out), "Machine": words.User(machine.Name), "First": out[0].Fact.No, "Last": last.Fact.No})}
	if last.After.TaggedOut() {
		reply = Reply{Headline: c.notInService(last.After),
			Lines: []string{c.say("tag.isolates-nothing", nil), reply.Headline}}
	}
	for _, s := range last.After.DueServices() {
		reply.Lines = append(reply.Lines, c.dueLine(s.Service.Name, s))
	}
	return reply, nil
}

// cutWhen cuts a line of a log sheet behind its time, which may have a comma before its time of day.
func cutWhen(line string) (when, what string, ok bool) {
	when, what, ok = strings.Cut(strings.Trim(line, `"“”«»„`), ",")
	if clock, rest, more := strings.Cut(what, ","); more && upkeep.IsClock(clock) {
		when, what = when+","+clock, rest
	}
	return strings.TrimSpace(when), strings.TrimSpace(what), ok
}

// noLineTime says why the time of a line cannot be taken.
func (c *call) noLineTime(err error, when string) string {
	var wrong *upkeep.WhenError
	if errors.As(err, &wrong) && wrong.Code == upkeep.Unsure {
		return c.say("typein.unsure", words.D{"Given": words.User(when), "Options": strings.Join(wrong.Options, ", ")})
	}
	return c.say("typein.when", words.D{"Given": words.User(when)})
}

// stopsAmong reports what stops the machine among the lines of a sheet that cannot be
// taken as a whole, empties those lines, and says what to do; nil where nothing does. A
// line that could not be read is heard as it stands, and counts from now.
func (c *call) stopsAmong(machine domain.Machine, draft *draft, drafted, unread []int, lines []string) (*Reply, error) {
	type stop struct {
		line  int
		entry domain.Entry
	}
	var stops []stop
	for i, entry := range draft.entries {
		if domain.StopsMachine(entry.Body) {
			stops = append(stops, stop{drafted[i], entry})
		}
	}
	for _, i := range unread {
		said := words.Clean(lines[i])
		heard := domain.Hear(machine.Profile, said)
		if heard.Danger == danger.None {
			continue
		}
		line := *c
		line.options, line.at, line.pending = nil, c.now, ""
		line.id, line.typed = fmt.Sprintf("%s.line%d", c.id, i+1), "typed in: "+said
		entry, err := line.entry(machine, c.problemHeard(machine, heard, said, ""))
		if err != nil {
			return nil, err
		}
		stops = append(stops, stop{i, entry})
	}
	var reply *Reply
	for _, one := range stops {
		outcome, err := c.reportEntry(machine, one.entry)
		if err != nil {
			return nil, err
		}
		lines[one.line] = ""
		if body, ok := one.entry.Body.(domain.Problem); ok && reply == nil {
			c.asProblem(machine, cmp.Or(body.Note, body.Name))
			told := c.answerDanger(machine, body, outcome)
			reply = &told
		}
	}
	return reply, nil
}

// draftLine adds what one line says to a draft, by the command that says it, or
// tells why it cannot be taken.
func (c *call) draftLine(machine domain.Machine, collected *draft, no int, at time.Time, what string) (why string) {
	name, options := lineSays(what)
	if name == "" {
		return c.say("typein.unreadable", nil)
	}
	options["machine"] = machine.Name
	line := *c
	line.books, line.name, line.options, line.at, line.fact, line.kept, line.pending, line.fields = collected, name,
		options, at, nil, nil, "", nil
	line.id, line.typed = fmt.Sprintf("%s.line%d", c.id, no+1), "typed in: "+what
	had := len(collected.entries)
	reply, err := c.desk.byName[name].run(&line)
	if err != nil {
		reply = line.refuse(err)
	}
	switch {
	case len(collected.entries) == had+1:
		return ""
	case len(collected.entries) > had:
		panic("commands: one line, two reports")
	case reply.Form != nil, len(reply.Buttons) > 0 && !reply.Refused && err == nil:
		return c.say("typein.short", nil)
	}
	var doubt *domain.Refusal
	if errors.As(err, &doubt) && doubt.Used.Valid() || len(reply.Buttons) > 0 && name == "hours" {
		return reply.Headline + " " + c.say("typein.sure", nil)
	}
	return reply.Headline
}

// lineSays is the command, with its options, that says what a line of a log sheet
// says: a time ("1.5 h"), "counter 143.2", "done oil the bushings", "seen smoke",
// "event struck metal", or a check with its values ("infeed: left 1.02, right 1.04
// mm"); "" if it is none of these. A last word "sure" answers what would be asked.
func lineSays(what string) (name string, options map[string]string) {
	options = map[string]string{}
	if s, ok := strings.CutSuffix(what, " sure"); ok {
		what, options["sure"] = s, "yes"
	}
	first, rest, _ := strings.Cut(what, " ")
	rest = strings.TrimSpace(rest)
	switch strings.TrimSuffix(fold(first), ":") {
	case "counter":
		options["counter"] = rest
		return "hours", options
	case "done", "did":
		options["service"] = rest
		return "service", options
	case "seen", "saw":
		options["what"] = rest
		return "problem", options
	case "event", "happened":
		options["event"] = rest
		return "event", options
	}
	if check, values, ok := strings.Cut(what, ":"); ok {
		options["check"], options["values"] = strings.TrimSpace(check), strings.TrimSpace(values)
		return "reading", options
	}
	if _, err := upkeep.ParseRan(what, quantity.Hour); err == nil {
		options["hours"] = what
		return "hours", options
	}
	return "", options
}

// draft is a shop's books to which nothing is written yet: reports are collected,
// and each is judged as it will be after those before it.
type draft struct {
	Books
	entries []domain.Entry
}

// Report collects an entry.
func (d *draft) Report(ctx context.Context, entry domain.Entry) (domain.Outcome, error) {
	out, err := d.ReportAll(ctx, append(d.entries[:len(d.entries):len(d.entries)], entry), true)
	if err != nil {
		return domain.Outcome{}, err
	}
	d.entries = append(d.entries, entry)
	return out[len(out)-1], nil
}

// Keep keeps nothing: a line has no buttons.
func (d *draft) Keep(context.Context, ...domain.Pending) error { return nil }
