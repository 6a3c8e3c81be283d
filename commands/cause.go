package commands

import (
	"slices"

	"setscrew/commands/words"
	"setscrew/domain"
)

var causeCommand = &Command{
	Name: "cause", Who: Anyone, Quiet: true, Words: 260,
	Options:  []Option{machineOption, {Name: "problem", Takes: OpenProblem, Required: true, Max: 200}},
	Examples: []string{`/cause machine:Marble problem:snipe`},
}

// runCause says what may lie behind a problem, and how to find out.
func runCause(c *call) (Reply, error) {
	st, problem, err := c.problemNamed()
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.say("cause.headline",
		words.D{"Machine": words.User(st.Machine.Name), "Problem": words.User(problem.name)})}
	ok, err := c.diagnose(&reply, st, problem)
	if err == nil && !ok {
		reply.Headline = c.say("cause.unknown",
			words.D{"Machine": words.User(st.Machine.Name), "Problem": words.User(problem.name)})
		if s := st.Machine.Profile.Symptom(problem.symptom); s != nil {
			reply.Lines = []string{s.Advice}
		}
	}
	return reply, err
}

// runFound records an answer about a problem or one of its causes, and says what that makes
// likely.
func runFound(c *call, said finding) (Reply, error) {
	_, problem, snap, err := aboutA[domain.Problem](c, said.problem)
	if err != nil {
		return Reply{}, err
	}
	// What was asked about this symptom, as the profile has it still.
	machine := snap.Machine
	var about string
	diagnosis := domain.NewDiagnosis(machine.Profile, problem.Symptom)
	if diagnosis == nil {
		return Reply{}, noSuchButton()
	}
	switch i := slices.IndexFunc(diagnosis.Inquiries,
		func(i domain.Inquiry) bool { return i.Item() == said.about }); {
	case i < 0:
		return Reply{}, noSuchButton()
	case diagnosis.Inquiries[i].Question != nil:
		about = diagnosis.Inquiries[i].Question.Ask
	case diagnosis.Inquiries[i].Cause.Test.Isolated && !c.steward():
		return Reply{}, &userError{key: "cause.covered", data: words.D{"Cause": diagnosis.Inquiries[i].Cause.Name},
			example: slash("cause", "machine", machine.Name, "problem", problem.Name)}
	default:
		about = diagnosis.Inquiries[i].Cause.Name
	}
	// What lies behind the problem by this answer, while it is open.
	outcome, err := c.report(machine, domain.Found{Key: problem.Key(), About: said.about, Answer: said.answer})
	if err != nil {
		return Reply{}, err
	}
	data := words.D{"Machine": words.User(machine.Name), "Problem": words.User(problem.Name), "About": about,
		"No": outcome.Fact.No}
	reply := Reply{Replaces: true, Headline: c.say("found."+string(said.about.Kind)+"."+string(said.answer), data)}
	for _, p := range problemsShown(outcome.After) {
		if p.key == problem.Key() {
			_, err := c.diagnose(&reply, outcome.After, p)
			return reply, err
		}
	}
	// Nothing but how it is used mends it, so it is over.
	if k := machine.Profile.Cause(said.about.ID); k != nil {
		reply.Lines = append(reply.Lines, k.Advice, c.say("cause.over", data))
	}
	return reply, nil
}
