package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var whyCommand = &Command{
	Name: "why", Who: Anyone, Quiet: true, Slow: true, Words: 470, // it may draw a picture
	Options: []Option{{Name: "report", Takes: Text, Max: 20}, {Name: "machine", Takes: Machine},
		{Name: "check", Takes: Check}, {Name: "service", Takes: Service},
		{Name: "problem", Takes: OpenProblem, Max: 200}},
	Examples: []string{`/why machine:Marble check:"infeed roller"`, `/why machine:Marble service:bushings`,
		`/why report:12`},
}

// runWhy explains what Setscrew says: of a report, or of a machine's check, service,
// problem or state, with inputs, formula and source.
func runWhy(c *call) (Reply, error) {
	switch {
	case c.options["report"] != "":
		no, err := reportNo(c.options["report"], "/why report:12")
		if err != nil {
			return Reply{}, err
		}
		return runWhyReport(c, factArg(no))
	case c.options["machine"] == "":
		return Reply{}, &userError{key: "why.what", example: c.exampleOf(whyCommand)}
	}
	// A service, a problem or a check of a machine; else its state.
	machine, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	switch {
	case c.options["service"] != "":
		s, err := c.service(machine.Profile)
		if err != nil {
			return Reply{}, err
		}
		return c.whyService(st, s.ID)
	case c.options["problem"] != "":
		st, p, err := c.problemNamed()
		if err != nil {
			return Reply{}, err
		}
		return c.whyProblem(st, p)
	case c.options["check"] != "":
		k, err := c.check(machine.Profile)
		if err != nil {
			return Reply{}, err
		}
		return c.whyCheck(st, k.ID)
	}
	reply := Reply{Headline: c.state(st), Lines: c.standingLines(st.Tags)}
	reply.Lines = append(reply.Lines, c.blockerLines(st.Blockers)...)
	reply.Lines = append(reply.Lines, c.say("why.more", nil), c.exampleOf(whyCommand))
	return reply, nil
}

// runWhyReport explains the report of that number: a reading by its verdict,
// anything else by what it says.
func runWhyReport(c *call, of factArg) (Reply, error) {
	fact, err := c.books.Fact(c, domain.FactNo(of))
	if err != nil {
		return Reply{}, err
	}
	if fact.Machine == 0 {
		return Reply{Headline: c.factLine(fact, domain.Machine{})}, nil
	}
	// Who reported it, when, and whether it stands.
	snap, err := c.books.Snapshot(c, fact.Machine)
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.factLine(fact, snap.Machine)}
	key := "why.when"
	if fact.By == "" {
		key += ".own"
	}
	reply.Lines = append(reply.Lines,
		c.say(key, words.D{"At": words.Time(fact.At, words.DateTime), "By": words.Person(string(fact.By))}))
	if fact.Withdrawn != 0 {
		reply.Lines = append(reply.Lines, c.say("why.withdrawn", words.D{"No": fact.Withdrawn}))
	}
	if asked, ok := fact.Body.(domain.LooseningAsked); ok {
		reply.Lines = append(append(reply.Lines, c.loosenLines(asked.Loosens)...),
			c.say("loosen.why", words.D{"Why": words.User(asked.Why)}))
	}
	reading, ok := fact.Body.(domain.Reading)
	if !ok {
		return reply, nil
	}
	// The reading is judged as it would be if it were the last one, with
	// nothing moved since.
	snap.Latest = map[string]domain.Latest{reading.Check: {Fact: fact.No, At: fact.At, By: fact.For,
		Check: reading.Check, Reading: &reading}}
	snap.Moved = nil
	e, err := c.whyCheck(domain.Assess(snap, c.now), reading.Check)
	e.Lines = append(append(reply.Lines, e.Headline), e.Lines...)
	e.Headline = reply.Headline
	return e, err
}
