package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var problemCommand = &Command{
	Name: problemName, Who: Anyone, Quiet: true, Words: 25, MostWords: 260,
	Options: []Option{machineOption, {Name: "what", Takes: Symptom, Required: true, Max: mostWhat}, noteOption,
		{Name: "danger", Takes: OneOf, OneOf: []string{"yes", "no"}}, photoOption, whenOption,
		forOption},
	Examples: []string{`/problem machine:Marble what:snipe`, `/problem machine:Marble what:"smoke from the motor"`},
}

// runProblem records what somebody noticed of a machine. A danger stops it at once, what may
// be one is asked about, and for the rest it says what may lie behind it.
func runProblem(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	// What the words mean: a danger first of all, in what was seen or in the note.
	said, note := words.Clean(c.options["what"]), words.Clean(c.options["note"])
	heard := heardIn(machine.Profile, c.options)
	symptom := heard.Symptom
	problem := c.problemHeard(machine, heard, said, note)
	outcome, err := c.report(machine, problem)
	if err != nil {
		return Reply{}, err
	}
	data := words.D{"Machine": words.User(machine.Name), "Problem": words.User(problem.Name), "No": outcome.Fact.No}
	if problem.Danger || problem.Doubt {
		return c.answerDanger(machine, problem, outcome), nil
	}

	// Whether it was there before, and what may lie behind it.
	reply := Reply{Headline: c.say("problem.recorded", data)}
	if b, ok := outcome.Fact.Body.(domain.Problem); ok && b.Returned != 0 {
		reply.Lines = append(reply.Lines, c.say("problem.returned",
			words.D{"No": b.Returned, "Hours": quantity.FormatDuration(outcome.Before.Mends[b.Key()].Since)}))
	}
	if p := outcome.After.Problem(problem.Key()); p != nil && p.Reports > 1 {
		reply.Lines = append(reply.Lines, c.say("problem.before", words.D{"N": p.Reports - 1, "No": p.First}))
	}
	known := false
	for _, p := range problemsShown(outcome.After) {
		if p.key == problem.Key() {
			if known, err = c.diagnose(&reply, outcome.After, p); err != nil {
				return Reply{}, err
			}
		}
	}

	// Otherwise the symptom's advice, or the symptoms that were perhaps meant.
	switch {
	case known:
	case symptom != nil:
		reply.Lines = append(reply.Lines, c.say("problem.first", words.D{"Advice": symptom.Advice}))
	case len(heard.Near) > 0:
		c.offerSymptoms(&reply, heard.Near, said, outcome.Fact.No)
	}
	if symptom != nil && (!known || capsTried(outcome.After, symptom.ID)) {
		reply.Lines = append(reply.Lines, c.capLines(outcome.After, symptom.ID)...)
	}
	if outcome.After.TaggedOut() {
		reply.Lines = append(reply.Lines, c.notInService(outcome.After))
		return reply, nil
	}
	reply.Lines = append(reply.Lines, c.say("problem.tagout", data))
	reply.Buttons = append(reply.Buttons, c.tagoutButton(machine, outcome.Fact.No))
	return reply, nil
}

// offerSymptoms offers the symptoms that words are like. The problem is recorded in
// the words given; pressing one takes their place.
func (c *call) offerSymptoms(reply *Reply, near []*profile.Symptom, said string, recorded domain.FactNo) {
	reply.Lines = append(reply.Lines, c.say("problem.near", nil))
	for _, symptom := range near {
		again := c.asked("what", symptom.Name)
		again.Options["note"] = strings.TrimSuffix(strings.TrimSpace(said+". "+c.options["note"]), ".")
		again.Undo = recorded
		button := Button{Label: shorten(capital(symptom.Name), 80), Custom: wait(c, againAction, again)}
		if symptom.Danger {
			button.Style = Grave
		}
		reply.Buttons = append(reply.Buttons, button)
	}
}
