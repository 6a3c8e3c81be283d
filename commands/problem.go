package commands

import (
	"strings"
	"unicode"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
)

var problemCommand = &Command{
	Name: "problem", Who: Anyone, Quiet: true,
	Options:  []Option{machineOption, {Name: "what", Takes: Symptom, Required: true, Max: 200}, noteOption, whenOption, forOption},
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
		if fold(said) != fold(s.Name) && fold(said) != s.ID {
			b.Note = strings.TrimSpace(said + ". " + b.Note)
			b.Note = strings.TrimSuffix(b.Note, ".")
		}
	}
	o, err := c.report(m, b)
	if err != nil {
		return Reply{}, err
	}
	d := words.D{"Machine": words.User(m.Name), "Problem": words.User(b.Name), "No": o.Fact.No}
	recorded := c.say("problem.recorded", d)
	if b.Danger {
		r := Reply{Headline: c.outOfService(m), Lines: []string{s.Advice, c.say("problem.stop", nil)}}
		r.Lines = append(r.Lines, c.say("tag.isolates-nothing", nil), recorded)
		return r, nil
	}
	r := Reply{Headline: recorded}
	if s != nil {
		r.Lines = append(r.Lines, c.say("problem.first", words.D{"Advice": s.Advice}))
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

// d2 names a machine on a button, where no text is marked up.
func d2(m domain.Machine) words.D { return words.D{"Machine": words.Clean(m.Name)} }

// matchSymptom finds the symptom that somebody's words name: by its name or id,
// else one whose words all stand in what was said. A danger symptom is preferred
// to another, since stopping wrongly costs little; between several that are no
// danger none is chosen, and the words stand as they are.
func matchSymptom(p *profile.Profile, said string) *profile.Symptom {
	t := fold(said)
	heard := " " + strings.Join(strings.FieldsFunc(t, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	}), " ") + " "
	var found, danger []*profile.Symptom
	for i := range p.Symptoms {
		s := &p.Symptoms[i]
		if fold(s.Name) == t || s.ID == t {
			return s
		}
		for _, w := range append([]string{s.Name}, s.Words...) {
			if strings.Contains(heard, " "+fold(w)+" ") {
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
