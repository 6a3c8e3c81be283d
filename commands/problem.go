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
	Options:  []Option{machineOption, {Name: "what", Takes: Symptom, Required: true, Max: 200}, noteOption, {Name: "photo", Takes: Attachment}, whenOption, forOption},
	Examples: []string{`/problem machine:Marble what:snipe`, `/problem machine:Marble what:"smoke from the motor"`},
}

func runProblem(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	said := words.Clean(c.options["what"])
	b := domain.Problem{Name: said, Note: words.Clean(c.options["note"])}
	near, sure := domain.MatchSymptoms(m.Profile, said)
	var s *profile.Symptom
	if sure {
		s = near[0]
		b.Symptom, b.Name, b.Danger = s.ID, s.Name, s.Danger
		if e := m.Profile.Event(s.Event); e != nil {
			b.Event, b.Surfaces = e.ID, e.Surfaces
		}
		if fold(said) != fold(s.Name) && fold(said) != s.ID {
			b.Note = strings.TrimSpace(said + ". " + b.Note)
			b.Note = strings.TrimSuffix(b.Note, ".")
		}
	}
	b.Photo = photo(c.options["photo"])
	o, err := c.report(m, b)
	if err != nil {
		return Reply{}, err
	}
	d := words.D{"Machine": words.User(m.Name), "Problem": words.User(b.Name), "No": o.Fact.No}
	recorded := c.say("problem.recorded", d)
	if b.Danger {
		r := Reply{Headline: c.outOfService(m), Lines: []string{s.Advice, c.say("problem.stop", nil)}}
		r.Lines = append(r.Lines, c.say("tag.isolates-nothing", nil), recorded)
		if !s.Hurt {
			r.Lines = append(r.Lines, c.readAgain(m, b.Surfaces)...)
			if domain.NewDiagnosis(m.Profile, b.Symptom) != nil {
				r.Lines = append(r.Lines, c.say("problem.cause", words.D{"Example": slash("cause", "machine", m.Name, "problem", b.Name)}))
			}
		}
		return r, nil
	}
	r := Reply{Headline: recorded}
	if b, ok := o.Fact.Body.(domain.Problem); ok && b.Returned != 0 {
		r.Lines = append(r.Lines, c.say("problem.returned", words.D{"No": b.Returned, "Hours": quantity.FormatDuration(o.Before.Mends[b.Key()].Since)}))
	}
	if p := o.After.Problem(b.Key()); p != nil && p.Reports > 1 {
		r.Lines = append(r.Lines, c.say("problem.before", words.D{"N": p.Reports - 1, "No": p.First}))
	}
	known := false
	for _, p := range problemsShown(o.After) {
		if p.key == b.Key() {
			if known, err = c.diagnose(&r, o.After, p); err != nil {
				return Reply{}, err
			}
		}
	}
	switch {
	case known:
	case s != nil:
		r.Lines = append(r.Lines, c.say("problem.first", words.D{"Advice": s.Advice}))
	case len(near) > 0:
		// It is recorded in the words given; pressing one takes their place.
		r.Lines = append(r.Lines, c.say("problem.near", nil))
		for _, x := range near {
			a := c.asked("what", x.Name)
			a.Options["note"] = strings.TrimSuffix(strings.TrimSpace(said+". "+c.options["note"]), ".")
			a.Undo = o.Fact.No
			button := Button{Label: shorten(capital(x.Name), 80), Custom: wait(c, againAction, a)}
			if x.Danger {
				button.Style = Grave
			}
			r.Buttons = append(r.Buttons, button)
		}
	}
	if s != nil && (!known || capsTried(o.After, s.ID)) {
		r.Lines = append(r.Lines, c.capLines(o.After, s.ID)...)
	}
	if o.After.TaggedOut() {
		r.Lines = append(r.Lines, c.outOfService(m))
	} else {
		r.Lines = append(r.Lines, c.say("problem.tagout", d))
		r.Buttons = append(r.Buttons, Button{Label: c.say("button.tagout", machineLabel(m)), Style: Grave, Custom: wait(c, againAction, askedAgain{
			Name: tagoutName, Options: map[string]string{"machine": m.Name, "reason": b.Name}})})
	}
	return r, nil
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
