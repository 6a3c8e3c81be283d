package commands

import (
	"errors"
	"slices"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/danger"
	"setscrew/domain/profile"
)

// mostWhat is how many characters a problem is told in, beside its note.
const mostWhat = 200

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

// answerDanger says what to do about a danger that was reported, which has stopped the
// machine; or asks whether what was reported is one.
func (c *call) answerDanger(machine domain.Machine, problem domain.Problem, outcome domain.Outcome) Reply {
	symptom := machine.Profile.Symptom(problem.Symptom)
	if !problem.Danger {
		return c.askDanger(machine, symptom, problem, outcome.Fact.No)
	}
	recorded := c.joinedLine(outcome)
	if recorded == "" {
		recorded = c.say("problem.recorded", words.D{"Machine": words.User(machine.Name),
			"Problem": words.User(problem.Name), "No": outcome.Fact.No})
	}
	return c.dangerReply(machine, symptom, problem, recorded)
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

// asProblem makes of the call what a report of a problem is, so that the buttons of its
// answer give that again.
func (c *call) asProblem(machine domain.Machine, said string) {
	options := map[string]string{"machine": machine.Name, "what": shorten(said, mostWhat)}
	if person := c.options["for"]; person != "" {
		options["for"] = person
	}
	c.name, c.options = problemName, options
}

// hearNote hears what is dangerous in the note of a report of something else: that is a
// report of its own. reply is the answer to the report that the note came with.
func (c *call) hearNote(reply Reply) (Reply, error) {
	return c.hearAlso(reply, words.Clean(c.options["note"]), asked)
}

// hearReason hears a danger in the reason of a tag: a report of its own, where it is sure.
func (c *call) hearReason(reply Reply) (Reply, error) {
	return c.hearAlso(reply, words.Clean(c.options["reason"]),
		func(_ domain.Machine, problem *domain.Problem) bool { return problem.Danger })
}

// asked says how a danger that was told in passing is reported. Work is often told by what
// was wrong before it, so what is no fire, shock, injury or runaway is asked about first.
func asked(machine domain.Machine, problem *domain.Problem) bool {
	if hazardOf(machine.Profile.Symptom(problem.Symptom), problem.Hazard).Waits() {
		problem.Danger, problem.Doubt = false, true
	}
	return true
}

// hearAlso reports what is dangerous in words that came with the last report, if as says
// so of it.
func (c *call) hearAlso(reply Reply, said string, as func(domain.Machine, *domain.Problem) bool) (Reply, error) {
	if c.fact == nil || said == "" {
		return reply, nil
	}
	snap, err := c.books.Snapshot(c, c.fact.Machine)
	if err != nil {
		return reply, err
	}
	first := c.fact
	both, heard, err := c.hearIn(snap.Machine, reply, said, as)
	if heard && err == nil {
		c.fact = first
	}
	return both, err
}

// hearIn reports what is dangerous in words about a machine, if as says so of it, and puts
// what to do about it before a reply.
func (c *call) hearIn(machine domain.Machine, reply Reply, said string,
	as func(domain.Machine, *domain.Problem) bool) (both Reply, reported bool, err error) {
	heard := domain.Hear(machine.Profile, said)
	problem := c.problemHeard(machine, heard, said, "")
	if heard.Danger == danger.None || !as(machine, &problem) {
		return reply, false, nil
	}
	// It counts from now, whenever the other happened.
	c.id, c.pending, c.at = c.id+".heard", "", c.now
	c.asProblem(machine, said)
	outcome, err := c.report(machine, problem)
	if err != nil {
		return reply, false, err
	}
	both = c.answerDanger(machine, problem, outcome)
	for _, line := range append([]string{reply.Headline}, reply.Lines...) {
		if line != both.Headline && !slices.Contains(both.Lines, line) {
			both.Lines = append(both.Lines, line)
		}
	}
	both.Buttons = append(both.Buttons, reply.Buttons...)
	return both, true, nil
}

// hearing is what answers a command, with an ear for danger in what that cannot take: a
// fire that is told where hours were asked for is a fire. What was wrong with it is said
// after.
func hearing(option string, run func(*call) (Reply, error)) func(*call) (Reply, error) {
	return func(c *call) (Reply, error) {
		reply, err := run(c)
		var refused *userError
		said := words.Clean(c.options[option])
		if !errors.As(err, &refused) || refused.noMachine || said == "" {
			return reply, err
		}
		machine, unknown := c.machine()
		if unknown != nil {
			return reply, err
		}
		sure := func(machine domain.Machine, problem *domain.Problem) bool {
			return problem.Danger && asked(machine, problem)
		}
		refusal := c.refuse(err)
		wrong := Reply{Headline: refusal.Headline, Buttons: refusal.Buttons}
		both, heard, failed := c.hearIn(machine, wrong, said, sure)
		if !heard {
			return reply, errors.Join(err, failed)
		}
		return both, failed
	}
}
