package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
)

// typedGoNoGo reports whether what was typed is how a go/no-go check went.
func typedGoNoGo(typed string) bool { return strings.HasPrefix(fold(typed), goNoGoWord) }

// goNoGo records how a dimension's go/no-go check went.
func (c *call) goNoGo(machine domain.Machine, check *profile.Check, typed string) (Reply, error) {
	data := words.D{"Machine": words.User(machine.Name), "Check": capital(check.Name)}
	if check.GoNoGo == nil {
		return Reply{}, &userError{key: "go-no-go.none", data: data,
			example: c.exampleWith("values", c.exampleValues(machine, check))}
	}
	made := domain.Inspection{Check: check.ID}
	_, went, _ := strings.Cut(fold(typed), ":")
	switch strings.TrimSpace(went) {
	case "no entry", "does not enter":
		made.Pass = true
	case "entry", "enters":
	default:
		return Reply{}, &userError{key: "go-no-go.words", data: data, example: c.exampleWith("values", noEntry)}
	}
	if made.Pass && !check.ProvesByPiece() {
		return Reply{}, &userError{key: "go-no-go.other", data: data,
			example: c.exampleWith("values", c.exampleValues(machine, check))}
	}
	outcome, err := c.report(machine, made)
	if err != nil {
		return Reply{}, err
	}
	data["No"], data["Check"] = outcome.Fact.No, check.Name
	cs := outcome.After.Check(check.ID)
	switch {
	case cs.GoNoGo == nil || cs.GoNoGo.Fact != outcome.Fact.No:
		return Reply{Headline: c.say("reading.older", data)}, nil
	case !made.Pass:
		return Reply{Headline: c.outOfService(machine),
			Lines: append(c.tagLines(outcome), c.say("recorded", data))}, nil
	case cs.Freshness != domain.Fresh:
		return Reply{Headline: c.say("go-no-go.unread", data), Lines: []string{c.say("example",
			words.D{"Example": c.exampleWith("values", c.exampleValues(machine, check))})}}, nil
	case cs.Advice == domain.AdvicePlan:
		return Reply{Headline: c.say("go-no-go.adjust", data)}, nil
	}
	return Reply{Headline: c.say("go-no-go.proved", data)}, nil
}
