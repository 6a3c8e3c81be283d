package commands

import (
	"fmt"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/quantity"
)

// refusalData is what the words of a refusal are about.
func (w *wording) refusalData(refused *domain.Refusal) words.D {
	data := words.D{"Name": words.User(refused.Name), "No": refused.Fact, "Used": "", "N": refused.N,
		"By": words.Person(string(refused.By))}
	if refused.Source != "" {
		data["Source"] = refused.Source
	}
	if !refused.At.IsZero() {
		data["At"] = words.Time(refused.At, words.DateTime)
	}
	if refused.Used.Valid() {
		data["Used"] = quantity.FormatDuration(refused.Used)
	}
	return data
}

// refusal words what the state of the books did not allow.
func (c *call) refusal(why *domain.Refusal) (headline string, lines []string) {
	headline = c.say("refused."+string(why.Code), c.refusalData(why))
	lines = append(lines, c.blockerLines(why.Blockers)...)
	switch why.Code {
	case domain.NoteNeeded:
		lines = append(lines, c.say("example",
			words.D{"Example": slash("release", "machine", why.Name) + ` note:"guard refitted, run by hand"`}))
	case domain.WithdrawalNote:
		lines = append(lines, c.say("example", words.D{"Example": fmt.Sprintf(
			`/undo report:%d note:"smoke from next door; no trace at the motor"`, why.Fact)}))
	case domain.InspectorNeeded:
		lines = append(lines, c.say("example", words.D{"Example": c.exampleWith("values",
			"pass: licensed electrician, report 7")}))
	case domain.ReasonNeeded:
		lines = append(lines, c.say("example", words.D{"Example": c.exampleWith("why", "the maker's manual says so")}))
	case domain.PageNeeded:
		lines = append(lines, c.say("example", words.D{"Example": c.exampleWith("page", "manual, page 12")}))
	case domain.OtherSteward:
		lines = append(lines, c.say("example", words.D{"Example": slash("shop loosen", "machine", why.Name)}))
	case domain.AloneNote:
		lines = append(lines, c.say("example", words.D{"Example": slash("shop loosen", "machine", why.Name) +
			` note:"read in the manual, page 12"`}))
	case domain.RetiredTagged:
		lines = append(lines, c.say("example",
			words.D{"Example": c.exampleWith("state", string(domain.StartNew))}))
	case domain.StartByTicks, domain.TestRuns:
		lines = append(lines, c.say("example", words.D{"Example": slash("release", "machine", why.Name)}))
	case domain.TickNotAsked:
		lines = append(lines, c.say("example", words.D{"Example": slash("shop start", "machine", why.Name)}))
	// Whose lock it is, and how it comes off.
	case domain.LockIsOn, domain.OthersLock, domain.OwnLock, domain.LockNotAsked, domain.LockWaits,
		domain.LockAskedBefore, domain.ProcedureOver, domain.LockSecond:
		lines = append(lines, c.say("release.locks", nil),
			c.say("example", words.D{"Example": slash(lockName, "machine", why.Name)}))
	case domain.TagUnanswered, domain.NoMistake, domain.MistakeLate, domain.MistakeSince:
		example := slash("machine", "machine", why.Name) // what its tags say
		if c.steward() {
			example = slash("release", "machine", why.Name)
		}
		lines = append(lines, c.say("example", words.D{"Example": example}))
	case domain.HandoverWaits:
		lines = append(lines, c.say("example", words.D{"Example": slash("handover", "machine", why.Name)}))
	case domain.LockForOther, domain.LockLifted:
		lines = append(lines, c.say("example",
			words.D{"Example": slash(tagoutName, "machine", why.Name, "lock", "yes")}))
	case domain.NoSuchFact:
		lines = append(lines, c.say("example", words.D{"Example": "/help command:" + c.name}))
	}
	return headline, lines
}
