package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

// refusal words what the state of the books did not allow.
func (c *call) refusal(r *domain.Refusal) (headline string, lines []string) {
	headline = c.say("refused."+string(r.Code), words.D{"Name": words.User(r.Name), "No": r.Fact})
	lines = append(lines, blockersIn(c.speaker, r.Blockers)...)
	switch r.Code {
	case domain.NoteNeeded:
		lines = append(lines, c.say("example", words.D{"Example": `/release machine:` + quoted(r.Name) + ` note:"guard refitted, run by hand"`}))
	case domain.NoSuchFact:
		lines = append(lines, c.say("example", words.D{"Example": "/help command:" + c.name}))
	}
	return headline, lines
}
