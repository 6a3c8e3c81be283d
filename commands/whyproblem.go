package commands

import (
	"setscrew/commands/words"
	"setscrew/domain"
)

// whyProblem says how the ranking of a problem's causes came about.
func (c *call) whyProblem(st domain.Status, p shown) (Reply, error) {
	r := Reply{Headline: c.say("cause.headline", words.D{"Machine": words.User(st.Machine.Name), "Problem": words.User(p.name)})}
	ranked, ok, err := c.rank(st, p)
	if err != nil {
		return Reply{}, err
	}
	if !ok {
		r.Headline = c.say("cause.unknown", words.D{"Machine": words.User(st.Machine.Name), "Problem": words.User(p.name)})
		return r, nil
	}
	for _, s := range ranked.Suspects[:min(mostSuspects, len(ranked.Suspects))] {
		key := "cause.chance"
		if s.Cause == ranked.Settled {
			key = "cause.found"
		}
		r.Lines = append(r.Lines, c.say(key, words.D{"Cause": capital(s.Cause.Name), "Chance": percent(s.Chance)}))
		for _, e := range s.Evidence {
			line := "- " + c.evidenceText(st, e)
			switch e.Code {
			case domain.EvidencePrior, domain.EvidenceShows, domain.EvidenceAnswer:
			default:
				line += " " + c.say("evidence.odds", words.D{"Odds": oddsText(e.Odds)})
			}
			r.Lines = append(r.Lines, line)
		}
	}
	r.Lines = append(r.Lines, c.say("cause.model", nil), c.say("why.source", words.D{"Source": ranked.Suspects[0].Cause.Source}))
	return r, nil
}
