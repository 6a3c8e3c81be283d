package commands

import (
	"encoding/json"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

var problemCommand = &Command{
	Name: "problem", Who: Anyone, Quiet: true, Words: 25, MostWords: 260,
	Options: []Option{machineOption, {Name: "what", Takes: Symptom, Required: true, Max: 200}, noteOption,
		{Name: "photo", Takes: Attachment}, whenOption, forOption},
	Examples: []string{`/problem machine:Marble what:snipe`, `/problem machine:Marble what:"smoke from the motor"`},
}

func runProblem(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	said := words.Clean(c.options["what"])
	problem := domain.Problem{Name: said, Note: words.Clean(c.options["note"])}
	near, sure := domain.MatchSymptoms(machine.Profile, said)
	var symptom *profile.Symptom
	if sure {
		symptom = near[0]
		problem.Symptom, problem.Name, problem.Danger = symptom.ID, symptom.Name, symptom.Danger
		if e := machine.Profile.Event(symptom.Event); e != nil {
			problem.Event, problem.Surfaces = e.ID, e.Surfaces
		}
		if fold(said) != fold(symptom.Name) && fold(said) != symptom.ID {
			problem.Note = strings.TrimSpace(said + ". " + problem.Note)
			problem.Note = strings.TrimSuffix(problem.Note, ".")
		}
	}
	problem.Photo = photo(c.options["photo"])
	outcome, err := c.report(machine, problem)
	if err != nil {
		return Reply{}, err
	}
	data := words.D{"Machine": words.User(machine.Name), "Problem": words.User(problem.Name), "No": outcome.Fact.No}
	recorded := c.say("problem.recorded", data)
	if problem.Danger {
		reply := Reply{Headline: c.outOfService(machine), Lines: []string{symptom.Advice, c.say("problem.stop", nil)}}
		reply.Lines = append(reply.Lines, c.say("tag.isolates-nothing", nil), recorded)
		if !symptom.Hurt {
			reply.Lines = append(reply.Lines, c.readAgain(machine, problem.Surfaces)...)
			if domain.NewDiagnosis(machine.Profile, problem.Symptom) != nil {
				reply.Lines = append(reply.Lines,
					c.say("problem.cause", words.D{"Example": slash("cause", "machine", machine.Name, "problem",
						problem.Name)}))
			}
		}
		return reply, nil
	}
	answer := Reply{Headline: recorded}
	if b, ok := outcome.Fact.Body.(domain.Problem); ok && b.Returned != 0 {
		answer.Lines = append(answer.Lines,
			c.say("problem.returned",
				words.D{"No": b.Returned, "Hours": quantity.FormatDuration(outcome.Before.Mends[b.Key()].Since)}))
	}
	if p := outcome.After.Problem(problem.Key()); p != nil && p.Reports > 1 {
		answer.Lines = append(answer.Lines, c.say("problem.before", words.D{"N": p.Reports - 1, "No": p.First}))
	}
	known := false
	for _, p := range problemsShown(outcome.After) {
		if p.key == problem.Key() {
			if known, err = c.diagnose(&answer, outcome.After, p); err != nil {
				return Reply{}, err
			}
		}
	}
	switch {
	case known:
	case symptom != nil:
		answer.Lines = append(answer.Lines, c.say("problem.first", words.D{"Advice": symptom.Advice}))
	case len(near) > 0:
		// It is recorded in the words given; pressing one takes their place.
		answer.Lines = append(answer.Lines, c.say("problem.near", nil))
		for _, x := range near {
			a := c.asked("what", x.Name)
			a.Options["note"] = strings.TrimSuffix(strings.TrimSpace(said+". "+c.options["note"]), ".")
			a.Undo = outcome.Fact.No
			button := Button{Label: shorten(capital(x.Name), 80), Custom: wait(c, againAction, a)}
			if x.Danger {
				button.Style = Grave
			}
			answer.Buttons = append(answer.Buttons, button)
		}
	}
	if symptom != nil && (!known || capsTried(outcome.After, symptom.ID)) {
		answer.Lines = append(answer.Lines, c.capLines(outcome.After, symptom.ID)...)
	}
	if outcome.After.TaggedOut() {
		answer.Lines = append(answer.Lines, c.outOfService(machine))
	} else {
		answer.Lines = append(answer.Lines, c.say("problem.tagout", data))
		answer.Buttons = append(answer.Buttons, Button{Label: c.say("button.tagout", machineLabel(machine)),
			Style: Grave, Custom: wait(c, againAction, askedAgain{
				Name: tagoutName, Options: map[string]string{"machine": machine.Name, "reason": problem.Name}})})
	}
	return answer, nil
}

// photo reads the option that refers to a picture: what the chat says of it, or
// a name.
func photo(option string) *domain.Photo {
	if option == "" {
		return nil
	}
	var p domain.Photo
	if err := json.Unmarshal([]byte(option), &p); err != nil || p.ID == "" {
		return &domain.Photo{ID: words.Clean(option), Name: words.Clean(option)}
	}
	return &domain.Photo{ID: words.Clean(p.ID), Name: words.Clean(p.Name), URL: words.Clean(p.URL)}
}
