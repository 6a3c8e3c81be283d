package commands

import (
	"encoding/json"
	"strings"
	"unicode"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
)

var problemCommand = &Command{
	Name: "problem", Who: Anyone, Quiet: true, Words: 25, MostWords: 100,
	Options:  []Option{machineOption, {Name: "what", Takes: Symptom, Required: true, Max: 200}, noteOption, {Name: "photo", Takes: Attachment}, whenOption, forOption},
	Examples: []string{`/problem machine:Marble what:snipe`, `/problem machine:Marble what:"smoke from the motor"`},
}

func init() { problemCommand.handle = runProblem }

func runProblem(c *call) (Reply, error) {
	m, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	said := words.Clean(c.options["what"])
	b := domain.Problem{Name: said, Note: words.Clean(c.options["note"])}
	s := matchSymptom(m.Profile, said)
	if s != nil {
		b.Symptom, b.Name, b.Danger = s.ID, s.Name, s.Danger
		if e := m.Profile.Event(s.Event); e != nil {
			b.Event, b.Moves = e.ID, e.Moves
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
			r.Lines = append(r.Lines, c.after(m, b.Moves)...)
		}
		return r, nil
	}
	r := Reply{Headline: recorded}
	for _, p := range o.After.Problems {
		if p.Key == b.Key() && p.Reports > 1 {
			r.Lines = append(r.Lines, c.say("problem.before", words.D{"N": p.Reports - 1, "No": p.First}))
		}
	}
	if s != nil {
		r.Lines = append(r.Lines, c.say("problem.first", words.D{"Advice": s.Advice}))
	}
	if s != nil {
		r.Lines = append(r.Lines, c.capLines(o.After, s.ID)...)
	}
	if o.After.TaggedOut() {
		r.Lines = append(r.Lines, c.outOfService(m))
	} else {
		r.Lines = append(r.Lines, c.say("problem.tagout", d))
		r.Buttons = []Button{{Label: c.say("button.tagout", d2(m)), Style: Grave, Custom: c.wait(againAction, askedAgain{
			Name: tagoutCommand.Name, Options: map[string]string{"machine": m.Name, "reason": b.Name}})}}
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

// d2 names a machine on a button, where no text is marked up.
func d2(m domain.Machine) words.D { return words.D{"Machine": words.Clean(m.Name)} }

// matchSymptom finds the symptom that somebody's words name: by its name or id,
// else one whose words all stand in what was said. A danger symptom is preferred
// to another, since stopping wrongly costs little; between several that are no
// danger none is chosen, and the words stand as they are.
func matchSymptom(p *profile.Profile, said string) *profile.Symptom {
	t := fold(said)
	plain := func(s string) string {
		return " " + strings.Join(strings.FieldsFunc(fold(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ") + " "
	}
	heard := plain(said)
	var found, danger []*profile.Symptom
	for i := range p.Symptoms {
		s := &p.Symptoms[i]
		if fold(s.Name) == t || s.ID == t {
			return s
		}
		for _, w := range append([]string{s.Name}, s.Words...) {
			if strings.Contains(heard, plain(w)) {
				found = append(found, s)
				if s.Danger {
					danger = append(danger, s)
				}
				break
			}
		}
	}
	switch {
	case len(danger) > 0:
		return danger[0]
	case len(found) == 1:
		return found[0]
	}
	return nil
}
