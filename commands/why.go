package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var whyCommand = &Command{
	Name: "why", Who: Anyone, Quiet: true, Slow: true, Words: 470, // it may draw a picture
	Options: []Option{{Name: "report", Takes: Text, Max: 20}, {Name: "machine", Takes: Machine},
		{Name: "check", Takes: Check}, {Name: "service", Takes: Service}, {Name: "problem", Takes: OpenProblem, Max: 200}},
	Examples: []string{`/why machine:Marble check:"infeed roller"`, `/why machine:Marble service:bushings`, `/why report:12`},
}

func runWhy(c *call) (Reply, error) {
	switch {
	case c.options["report"] != "":
		no, err := reportNo(c.options["report"])
		if err != nil {
			return Reply{}, &userError{key: "report.number", data: words.D{"Given": words.User(c.options["report"])}, example: "/why report:12"}
		}
		return runWhyReport(c, factArg(no))
	case c.options["machine"] == "":
		return Reply{}, &userError{key: "why.what", example: c.exampleOf(whyCommand)}
	}
	m, st, err := c.status()
	if err != nil {
		return Reply{}, err
	}
	switch {
	case c.options["service"] != "":
		s, err := c.service(m.Profile)
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
		k, err := c.check(m.Profile)
		if err != nil {
			return Reply{}, err
		}
		return c.whyCheck(st, k.ID)
	}
	r := Reply{Headline: c.state(st)}
	for _, t := range st.Tags {
		r.Lines = append(r.Lines, c.tagLine(t))
	}
	r.Lines = append(r.Lines, c.blockerLines(st.Blockers)...)
	r.Lines = append(r.Lines, c.say("why.more", nil), c.exampleOf(whyCommand))
	return r, nil
}

// runWhyReport explains the report of that number: a reading by its verdict,
// anything else by what it says.
func runWhyReport(c *call, of factArg) (Reply, error) {
	f, err := c.books.Fact(c, domain.FactNo(of))
	if err != nil {
		return Reply{}, err
	}
	if f.Machine == 0 {
		return Reply{Headline: c.factLine(f, domain.Machine{})}, nil
	}
	snap, err := c.books.Snapshot(c, f.Machine)
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.factLine(f, snap.Machine)}
	key := "why.when"
	if f.By == "" {
		key += ".own"
	}
	r.Lines = append(r.Lines, c.say(key, words.D{"At": words.Time(f.At, words.DateTime), "By": words.Person(string(f.By))}))
	if f.Withdrawn != 0 {
		r.Lines = append(r.Lines, c.say("why.withdrawn", words.D{"No": f.Withdrawn}))
	}
	b, ok := f.Body.(domain.Reading)
	if !ok {
		return r, nil
	}
	// The reading is judged as it would be if it were the last one, with
	// nothing moved since.
	snap.Latest = map[string]domain.Latest{b.Check: {Fact: f.No, At: f.At, By: f.For, Check: b.Check, Reading: &b}}
	snap.Moved = nil
	e, err := c.whyCheck(domain.Assess(snap, c.now), b.Check)
	e.Lines = append(append(r.Lines, e.Headline), e.Lines...)
	e.Headline = r.Headline
	return e, err
}
