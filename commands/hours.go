package commands

import (
	"errors"
	"math/big"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

var hoursCommand = &Command{
	Name: "hours", Who: Anyone, Quiet: true, Words: 25, MostWords: 70,
	Options: []Option{machineOption, {Name: "hours", Takes: Text, Max: 40}, {Name: "counter", Takes: Text, Max: 40},
		{Name: "new", Takes: OneOf, OneOf: []string{"yes", "rolled"}},
		{Name: "sure", Takes: OneOf, OneOf: []string{"yes"}}, whenOption, forOption},
	Examples: []string{`/hours machine:Marble hours:1.5`, `/hours machine:Marble hours:45min when:"yesterday 17:30"`,
		`/hours machine:Marble`, `/hours machine:Marble counter:143.2`},
}

// runHours records how long a machine ran, or what its counter shows, and says what falls
// due next; with nothing typed it asks.
func runHours(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	typed := c.options["hours"]
	switch {
	case typed != "" && c.options["counter"] != "":
		return Reply{}, &userError{key: "hours.both", example: c.exampleWith("hours", "1.5", "counter", "new")}
	case c.options["counter"] != "":
		return c.readCounter(machine)
	case typed == "":
		return c.askHours(machine), nil
	}
	// What was typed, and whether a machine can have run so long in a day.
	parsed, err := upkeep.ParseRan(typed, quantity.Hour)
	if err != nil {
		return c.askOrRefuse(err, "hours", nil, "1.5")
	}
	used := parsed.Value
	day := quantity.New(24, 1, quantity.Hour)
	switch {
	case used.Sign() < 0:
		return Reply{}, &userError{key: "hours.negative", data: words.D{"Given": words.User(typed)},
			example: c.exampleWith("hours", "1.5")}
	case used.Sign() == 0:
		return Reply{}, &userError{key: "hours.none", example: c.exampleWith("hours", "1.5")}
	case used.Cmp(day) > 0:
		refused := &userError{key: "hours.day", data: words.D{"Given": quantity.FormatDuration(used)},
			example: c.exampleWith("hours", "1.5")}
		if minutes := used.Mul(big.NewRat(1, 60)); parsed.Bare && minutes.Cmp(day) <= 0 {
			text := quantity.FormatDuration(minutes)
			refused.buttons = append(refused.buttons, c.again(c.say("button.meant", words.D{"Values": text}), "hours",
				text))
		}
		return Reply{}, refused
	}
	seconds := roundedSeconds(used)
	if seconds == 0 {
		return Reply{}, &userError{key: "hours.none", example: c.exampleWith("hours", "1.5")}
	}
	// Hours that are much like others are asked about.
	outcome, err := c.report(machine, domain.Hours{Seconds: seconds})
	var doubt *domain.Refusal
	if errors.As(err, &doubt) && doubt.Used.Valid() {
		return Reply{}, &userError{key: "refused." + string(doubt.Code), data: c.refusalData(doubt),
			example: c.exampleWith("sure", "yes"), buttons: []Button{c.again(c.say("button.sure", nil), "sure", "yes")}}
	}
	if err != nil {
		return Reply{}, err
	}
	d := words.D{"Machine": words.User(machine.Name),
		"Used": quantity.FormatDuration(domain.Hours{Seconds: seconds}.Used()), "No": outcome.Fact.No}
	r := Reply{Headline: c.say("hours.logged", d)}
	if parsed.About {
		r.Lines = append(r.Lines, c.say("hours.about", d))
	}
	r.Lines = append(r.Lines, c.afterUse(outcome)...)
	return r, nil
}

// afterUse says what use of a machine means: that it ran while it was tagged
// out, and what falls due next.
func (w *wording) afterUse(outcome domain.Outcome) []string {
	var lines []string
	switch {
	case outcome.Before.Test != nil && outcome.Before.Test.By == outcome.Fact.For:
		lines = append(lines, w.say("hours.test", nil))
	case outcome.Before.TaggedOut():
		key := "hours.tagged"
		if outcome.Before.OnlySettingUp() {
			key = "hours.setting-up"
		}
		lines = append(lines, w.notInService(outcome.After), w.say(key, nil))
	}
	for _, waits := range outcome.After.Unanswered() {
		lines = append(lines, w.say("hours.unanswered", words.D{"No": waits.Fact}))
	}
	for _, p := range outcome.After.Doubts() {
		lines = append(lines, w.say("hours.doubt", words.D{"No": p.Last}))
	}
	lines = append(lines, w.needLines(outcome.After)...)
	if byUse := outcome.After.ServicesByUse(); len(byUse) > 0 {
		lines = append(lines, w.dueLine(byUse[0].Service.Name, byUse[0]))
	}
	return lines
}

// askHours asks how long a machine ran, with the usual times a tap away.
func (c *call) askHours(m domain.Machine) Reply {
	reply := Reply{Headline: c.say("hours.ask", words.D{"Machine": words.User(m.Name)}),
		Lines: []string{c.say("hours.type",
			words.D{"Example": c.exampleWith("hours", "1.5"), "Counter": c.exampleWith("counter", "143.2")})}}
	for _, minutes := range []int64{15, 30, 60} {
		text := quantity.FormatDuration(quantity.New(minutes, 1, quantity.Minute))
		reply.Buttons = append(reply.Buttons, c.again(text, "hours", text))
	}
	return reply
}

// readCounter records what the hour counter shows.
func (c *call) readCounter(machine domain.Machine) (Reply, error) {
	// What it shows, in hours.
	typed := c.options["counter"]
	parsed, err := quantity.Parse(typed, quantity.Context{Kind: quantity.Duration, Entry: quantity.Hour})
	if err != nil {
		return c.askOrRefuse(err, "counter", nil, "143.2")
	}
	if parsed.Value.Sign() < 0 || parsed.Value.Cmp(quantity.New(1000000, 1, quantity.Hour)) > 0 {
		return Reply{}, &userError{key: "hours.counter", data: words.D{"Given": words.User(typed)},
			example: c.exampleWith("counter", "143.2")}
	}
	// A counter that goes back is new, or has gone past its last digit.
	outcome, err := c.report(machine, domain.CounterRead{Seconds: roundedSeconds(parsed.Value),
		New: c.options["new"] == "yes", Rolled: c.options["new"] == "rolled"})
	var refused *domain.Refusal
	if errors.As(err, &refused) && refused.Code == domain.CounterBack {
		return Reply{}, &userError{key: "refused.counter-back", data: c.refusalData(refused),
			example: c.exampleWith("new", "yes"),
			buttons: []Button{c.again(c.say("button.newcounter", nil), "new", "yes"),
				c.again(c.say("button.rolled", nil), "new", "rolled")}}
	}
	if err != nil {
		return Reply{}, err
	}
	// What it counted that nobody logged, and what falls due by it.
	counter := outcome.Fact.Body.(domain.CounterRead)
	reply := Reply{Headline: c.say("hours.counted",
		words.D{"Machine": words.User(machine.Name), "Shown": counterText(counter),
			"No": outcome.Fact.No})}
	if counter.Unlogged > 0 {
		used := domain.Hours{Seconds: counter.Unlogged}.Used()
		reply.Lines = append(reply.Lines, c.say("hours.unlogged", words.D{"Used": quantity.FormatDuration(used)}))
	}
	reply.Lines = append(reply.Lines, c.afterUse(outcome)...)
	return reply, nil
}

// roundedSeconds is a duration in whole seconds, halves away from zero.
func roundedSeconds(v quantity.Value) int64 {
	s := v.In(quantity.Second)
	twice := new(big.Int).Mul(s.Num(), big.NewInt(2))
	twice.Add(twice, s.Denom())
	return twice.Div(twice, new(big.Int).Mul(s.Denom(), big.NewInt(2))).Int64()
}
