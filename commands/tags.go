package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/danger"
)

var tagoutCommand = &Command{
	Name: tagoutName, Who: Anyone, Quiet: true, Words: 60, MostWords: 90,
	Options: []Option{machineOption, {Name: "reason", Takes: Text, Max: 200},
		{Name: "lock", Takes: OneOf, OneOf: []string{"yes", "no"}}, {Name: "paper", Takes: Text, Max: 40}, photoOption,
		whenOption, forOption},
	Examples: []string{`/tagout machine:Marble reason:"knives look loose"`, `/tagout machine:Marble`,
		`/tagout machine:Marble reason:"changing the knives" lock:yes`},
}

// runTagout takes a machine out of service. Words are not asked for: a stop is one.
func runTagout(c *call) (Reply, error) {
	machine, err := c.machine()
	if err != nil {
		return Reply{}, err
	}
	reason := domain.Reason{Code: domain.SaidBySomebody, Text: words.Clean(c.options["reason"])}
	paper := words.Clean(c.options["paper"])
	switch heard := domain.Hear(machine.Profile, reason.Text); {
	case c.options["lock"] == "yes":
		reason.Code = domain.LockOn
	case reason.Text == "":
		reason.Code = domain.Pressed
	case heard.Danger == danger.Sure && paper == "":
		// A danger is reported as one: it has its own advice, and is called about until
		// somebody sees to it.
		problem := c.problemHeard(machine, heard, reason.Text, "")
		outcome, err := c.report(machine, problem)
		if err != nil {
			return Reply{}, err
		}
		return c.answerDanger(machine, problem, outcome), nil
	}
	reply, err := c.tagOut(machine, domain.TagOut{Paper: paper, Reason: reason, Photo: photo(c.options["photo"])})
	if err != nil {
		return Reply{}, err
	}
	return c.hearReason(reply)
}

// runStop takes a machine out of service for a problem that was reported of it.
func runStop(c *call, of factArg) (Reply, error) {
	_, problem, snap, err := aboutA[domain.Problem](c, domain.FactNo(of))
	if err != nil {
		return Reply{}, err
	}
	reply, err := c.tagOut(snap.Machine, domain.TagOut{Reason: domain.Reason{Code: domain.Pressed, Name: problem.Name}})
	reply.Replaces = true
	return reply, err
}

// tagOut hangs a tag and says what to do now.
func (c *call) tagOut(machine domain.Machine, tag domain.TagOut) (Reply, error) {
	outcome, err := c.report(machine, tag)
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.outOfService(machine),
		Lines: []string{c.say("tag.do", nil), c.say("tag.isolates-nothing", nil)}}
	locked := tag.Reason.Code == domain.LockOn
	if locked {
		reply.Lines = append(reply.Lines, c.say("lock.yours",
			words.D{"Example": slash(lockName, "machine", machine.Name)}))
		reply.Buttons = []Button{{Label: c.say("button.lock.off", nil),
			Custom: lockOffAction.with(factArg(outcome.Fact.No))}}
	}
	if joined := c.joinedLine(outcome); joined != "" {
		reply.Lines = append(reply.Lines, joined)
		return reply, nil
	}
	if outcome.Before.TaggedOut() {
		reply.Lines = append(reply.Lines, c.say("tag.added", words.D{"N": len(outcome.After.Tags)}))
	}
	reply.Lines = append(reply.Lines, c.say("recorded", words.D{"No": outcome.Fact.No}))
	if c.wouldRefuse(outcome.After, domain.Mistake{Of: outcome.Fact.No}) == nil {
		reply.Buttons = append(reply.Buttons, Button{Label: c.say("button.mistake", nil),
			Custom: mistakeAction.with(factArg(outcome.Fact.No))})
	}
	return reply, nil
}
