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
	// The symptom that the words name, where one does surely.
	said := words.Clean(c.options["what"])
	problem := domain.Problem{Name: said, Note: words.Clean(c.options["note"]), Photo: photo(c.options["photo"])}
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
	outcome, err := c.report(machine, problem)
	if err != nil {
		return Reply{}, err
	}
	data := words.D{"Machine": words.User(machine.Name), "Problem": words.User(problem.Name), "No": outcome.Fact.No}
	if problem.Danger {
		return c.dangerReply(machine, symptom, problem, c.say("problem.recorded", data)), nil
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
	case len(near) > 0:
		c.offerSymptoms(&reply, near, said, outcome.Fact.No)
	}
	if symptom != nil && (!known || capsTried(outcome.After, symptom.ID)) {
		reply.Lines = append(reply.Lines, c.capLines(outcome.After, symptom.ID)...)
	}
	if outcome.After.TaggedOut() {
		reply.Lines = append(reply.Lines, c.outOfService(machine))
		return reply, nil
	}
	reply.Lines = append(reply.Lines, c.say("problem.tagout", data))
	reply.Buttons = append(reply.Buttons, c.tagoutButton(machine, problem.Name))
	return reply, nil
}

// dangerReply says what to do about a danger, which has stopped the machine.
func (w *wording) dangerReply(machine domain.Machine, symptom *profile.Symptom, problem domain.Problem,
	recorded string) Reply {
	reply := Reply{Headline: w.outOfService(machine), Lines: []string{symptom.Advice, w.say("problem.stop", nil),
		w.say("tag.isolates-nothing", nil), recorded}}
	if symptom.Hurt {
		return reply
	}
	reply.Lines = append(reply.Lines, w.readAgain(machine, problem.Surfaces)...)
	if domain.NewDiagnosis(machine.Profile, problem.Symptom) != nil {
		reply.Lines = append(reply.Lines, w.say("problem.cause",
			words.D{"Example": slash("cause", "machine", machine.Name, "problem", problem.Name)}))
	}
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
