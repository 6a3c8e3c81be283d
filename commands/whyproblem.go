package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

// whyProblem says how the ranking of a problem's causes came about.
func (c *call) whyProblem(st domain.Status, problem shown) (Reply, error) {
	reply := Reply{Headline: c.say("cause.headline",
		words.D{"Machine": words.User(st.Machine.Name), "Problem": words.User(problem.name)})}
	// The likeliest causes, each with what speaks for it and by how much.
	ranked, ok, err := c.rank(st, problem)
	if err != nil {
		return Reply{}, err
	}
	if !ok {
		reply.Headline = c.say("cause.unknown",
			words.D{"Machine": words.User(st.Machine.Name), "Problem": words.User(problem.name)})
		return reply, nil
	}
	for _, suspect := range ranked.Suspects[:min(mostSuspects, len(ranked.Suspects))] {
		key := "cause.chance"
		if suspect.Cause == ranked.Settled {
			key = "cause.found"
		}
		reply.Lines = append(reply.Lines,
			c.say(key, words.D{"Cause": capital(suspect.Cause.Name), "Chance": percent(suspect.Chance)}))
		for _, evidence := range suspect.Evidence {
			line := "- " + c.evidenceText(st, evidence)
			switch evidence.Code {
			case domain.EvidencePrior, domain.EvidenceShows, domain.EvidenceAnswer:
			default:
				line += " " + c.say("evidence.odds", words.D{"Odds": oddsText(evidence.Odds)})
			}
			reply.Lines = append(reply.Lines, line)
		}
	}
	reply.Lines = append(reply.Lines, c.say("cause.model", nil),
		c.say("why.source", words.D{"Source": ranked.Suspects[0].Cause.Source}))
	return reply, nil
}
