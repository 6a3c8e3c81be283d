package commands

import (
	"errors"
	"slices"
	"time"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
)

// setUp changes a machine's set-up. What loosens a safety check is asked for instead, and
// waits: asked is then the answer.
func (c *call) setUp(machine domain.Machine, item domain.Item, setup domain.Setup) (outcome domain.Outcome,
	asked *Reply, err error) {
	outcome, err = c.report(machine, domain.SetupChanged{Item: item, Setup: setup})
	var refused *domain.Refusal
	if errors.As(err, &refused) && refused.Code == domain.SecondNeeded {
		body := domain.LooseningAsked{Item: item, Setup: setup, Why: words.Clean(c.options["why"]),
			Page: words.Clean(c.options["page"]), Photo: photo(c.options["photo"])}
		if body.Alone, err = c.onlySteward(); err != nil {
			return outcome, nil, err
		}
		c.at = time.Time{} // it is asked for now, whenever the command was first given
		outcome, err = c.report(machine, body)
	}
	if err != nil {
		return outcome, nil, err
	}
	if waits := outcome.After.Loosening; waits != nil && waits.Fact == outcome.Fact.No {
		reply := Reply{Headline: c.say("loosen.asked", words.D{"Machine": words.User(machine.Name), "No": waits.Fact}),
			Lines: c.waitingLines(machine, waits)}
		reply.Lines = append(reply.Lines, c.say("loosen.drops", nil), c.say("caution.manual", nil))
		return outcome, &reply, nil
	}
	return outcome, nil, nil
}

// onlySteward reports whether no other steward than the one who speaks is known.
func (c *call) onlySteward() (bool, error) {
	all, err := c.books.Stewards(c, c.shop.StewardRole)
	return !slices.ContainsFunc(all, func(p domain.PersonID) bool { return p != c.actor.ID }), err
}

// waitingLines say what a change that waits would loosen, why, and who puts it in force.
func (w *wording) waitingLines(machine domain.Machine, asked *domain.LooseningBy) []string {
	lines := w.loosenLines(asked.Loosens)
	lines = append(lines, w.say("loosen.why", words.D{"Why": words.User(asked.Why)}))
	if asked.Page != "" {
		lines = append(lines, w.say("loosen.page", words.D{"Page": words.User(asked.Page)}))
	}
	return append(lines, w.forceLine(machine.Name, asked.Alone, asked.AloneFrom()))
}

// forceLine says who puts a change in force: another steward, or whoever asked.
func (w *wording) forceLine(machine string, noOther bool, from time.Time) string {
	if noOther {
		return w.say("loosen.alone", words.D{"At": words.Time(from, words.DateTime),
			"Example": slash("shop loosen", "machine", machine) + ` note:"…"`})
	}
	return w.say("loosen.second", words.D{"Example": slash("shop loosen", "machine", machine)})
}

// loosenLines say what asks for less, a line each.
func (w *wording) loosenLines(all []domain.Loosening) []string {
	var lines []string
	for _, one := range all {
		scale := ruler{unit: one.Unit, decimals: one.Decimals}
		data := words.D{"Name": words.User(capital(one.Name)), "Was": "", "Now": ""}
		switch one.Code {
		case domain.LooseAdjust, domain.LooseStop, domain.LooseAlike:
			data["Was"], data["Now"] = w.limitsText(scale, one.Was), w.limitsText(scale, one.Now)
		case domain.LooseEvery:
			data["Was"], data["Now"] = w.every(one.WasEvery), w.every(one.NowEvery)
		case domain.LooseLate:
			data["Was"], data["Now"] = w.every(late(one.WasEvery)), w.every(late(one.NowEvery))
		}
		lines = append(lines, w.say("loosen."+string(one.Code), data))
	}
	return lines
}

// late is a rule's late limit, as a rule.
func late(rule *profile.Rule) *profile.Rule {
	return &profile.Rule{Hours: rule.LateHours, Days: rule.LateDays}
}

// every is how often a rule comes, in words.
func (w *wording) every(rule *profile.Rule) string {
	if rule == nil || !rule.Recurs() {
		return w.say("limits.none", nil)
	}
	text, _ := w.interval(*rule)
	return text
}
