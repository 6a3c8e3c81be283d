package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

var causeCommand = &Command{
	Name: "cause", Who: Anyone, Quiet: true, Words: 260,
	Options:  []Option{machineOption, {Name: "problem", Takes: OpenProblem, Required: true, Max: 200}},
	Examples: []string{`/cause machine:Marble problem:snipe`},
}

func runCause(c *call) (Reply, error) {
	st, p, err := c.problemNamed()
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("cause.headline", words.D{"Machine": words.User(st.Machine.Name), "Problem": words.User(p.name)})}
	ok, err := c.diagnose(&r, st, p)
	if err == nil && !ok {
		r.Headline = c.say("cause.unknown", words.D{"Machine": words.User(st.Machine.Name), "Problem": words.User(p.name)})
		if s := st.Machine.Profile.Symptom(p.symptom); s != nil {
			r.Lines = []string{s.Advice}
		}
	}
	return r, err
}

func runFound(c *call, said finding) (Reply, error) {
	f, err := c.books.Fact(c, said.problem)
	if err != nil {
		return Reply{}, err
	}
	b, ok := f.Body.(domain.Problem)
	if !ok {
		return Reply{}, noSuchButton()
	}
	snap, err := c.books.Snapshot(c, f.Machine)
	if err != nil {
		return Reply{}, err
	}
	m := snap.Machine
	var about string
	switch q, k := m.Profile.Question(said.about.ID), m.Profile.Cause(said.about.ID); {
	case said.about.Kind == domain.QuestionItem && q != nil:
		about = q.Ask
	case said.about.Kind == domain.CauseItem && k != nil:
		about = k.Name
	default:
		return Reply{}, noSuchButton()
	}
	o, err := c.report(m, domain.Found{Key: b.Key(), About: said.about, Answer: said.answer})
	if err != nil {
		return Reply{}, err
	}
	d := words.D{"Machine": words.User(m.Name), "Problem": words.User(b.Name), "About": about, "No": o.Fact.No}
	r := Reply{Replaces: true, Headline: c.say("found."+string(said.about.Kind)+"."+string(said.answer), d)}
	for _, p := range problemsShown(o.After) {
		if p.key == b.Key() {
			_, err := c.diagnose(&r, o.After, p)
			return r, err
		}
	}
	// Nothing but how it is used mends it, so it is over.
	if k := m.Profile.Cause(said.about.ID); k != nil {
		r.Lines = append(r.Lines, k.Advice, c.say("cause.over", d))
	}
	return r, nil
}
