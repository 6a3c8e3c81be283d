package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/danger"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var problemCommand = &Command{
	Name: problemName, Who: Anyone, Quiet: true, Words: 25, MostWords: 260,
	Options: []Option{machineOption, {Name: "what", Takes: Symptom, Required: true, Max: 200}, noteOption,
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
	switch {
	case problem.Danger:
		recorded := c.say("problem.recorded", data)
		if joined := c.joinedLine(outcome); joined != "" {
			recorded = joined
		}
		return c.dangerReply(machine, symptom, problem, recorded), nil
	case problem.Doubt && !outcome.After.TaggedOut():
		return c.askDanger(machine, symptom, problem, outcome.Fact.No), nil
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

// problemHeard is the problem that words were heard as: a symptom of the profile's, a
// danger common to all machines, or the words themselves. What was said stays with it
// as a note.
func (c *call) problemHeard(machine domain.Machine, heard domain.Hearing, said, note string) domain.Problem {
	problem := domain.Problem{Name: said, Note: note, Photo: photo(c.options["photo"]),
		Danger: heard.Danger == danger.Sure, Doubt: heard.Danger == danger.Likely}
	switch symptom := heard.Symptom; {
	case symptom != nil:
		problem.Symptom, problem.Name = symptom.ID, symptom.Name
		if e := machine.Profile.Event(symptom.Event); e != nil {
			problem.Event, problem.Surfaces = e.ID, e.Surfaces
		}
		if fold(said) == fold(symptom.Name) || fold(said) == symptom.ID {
			return problem
		}
	case heard.Hazard != "":
		problem.Hazard, problem.Name = heard.Hazard, c.say("hazard."+string(heard.Hazard), nil)
	default:
		return problem
	}
	problem.Note = strings.TrimSuffix(strings.TrimSpace(said+". "+note), ".")
	return problem
}

// dangerReply says what to do about a danger, which has stopped the machine.
func (w *wording) dangerReply(machine domain.Machine, symptom *profile.Symptom, problem domain.Problem,
	recorded string) Reply {
	reply := Reply{Headline: w.outOfService(machine), Lines: []string{w.dangerAdvice(machine, symptom, problem.Hazard),
		w.say(stopKey(symptom, problem.Hazard), nil), w.say("tag.isolates-nothing", nil), recorded}}
	if hazardOf(symptom, problem.Hazard) == danger.Hurt {
		return reply
	}
	reply.Lines = append(reply.Lines, w.readAgain(machine, problem.Surfaces)...)
	if domain.NewDiagnosis(machine.Profile, problem.Symptom) != nil {
		reply.Lines = append(reply.Lines, w.say("problem.cause",
			words.D{"Example": slash("cause", "machine", machine.Name, "problem", problem.Name)}))
	}
	return reply
}

// askDanger asks whether what was reported is dangerous. Until it is answered the
// stewards know of it, and hours on the machine are warned of.
func (c *call) askDanger(machine domain.Machine, symptom *profile.Symptom, problem domain.Problem,
	recorded domain.FactNo) Reply {
	data := words.D{"Machine": words.User(machine.Name), "Problem": words.User(words.Clean(c.options["what"])),
		"No": recorded}
	reply := Reply{Headline: c.say("doubt.headline", data), Lines: []string{c.say("doubt.stop", nil),
		c.dangerAdvice(machine, symptom, problem.Hazard), c.say("doubt.until", data)}}
	for _, answer := range []struct{ key, danger string }{{"button.stop-it", "yes"}, {"button.no-danger", "no"}} {
		again := c.asked("danger", answer.danger)
		again.Undo = recorded
		reply.Buttons = append(reply.Buttons,
			Button{Label: c.say(answer.key, nil), Custom: wait(c, againAction, again)})
	}
	reply.Buttons[0].Style = Grave
	return reply
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
