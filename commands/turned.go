package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

// runHowTurned records how a move was made, and plans again.
func runHowTurned(c *call, said howTurned) (Reply, error) {
	if said.Said != domain.TurnedOther && said.Said != domain.TurnedAsSaid {
		return Reply{}, noSuchButton()
	}
	fact, reading, snap, err := c.readingOf(said.Reading)
	if err != nil {
		return Reply{}, err
	}
	outcome, err := c.report(snap.Machine, domain.MoveAnswer{Of: said.Move, Check: reading.Check, Said: said.Said})
	if err != nil {
		return Reply{}, err
	}
	k := snap.Machine.Profile.Check(reading.Check).In(reading.Mode)
	outcome.Fact.No = fact.No // the reply is about the reading
	reply := c.readingReply(outcome, k, reading)
	reply.Replaces = true
	return reply, nil
}

// runTurned records the moves of a reading's plan as made.
func runTurned(c *call, t turning) (Reply, error) {
	fact, reading, snap, err := c.readingOf(t.Reading)
	if err != nil {
		return Reply{}, err
	}
	st := domain.Assess(snap, c.now)
	cs := st.Adjusting(reading.Check)
	if cs.CheckStatus == nil || cs.Latest.Fact != fact.No || cs.Plan == nil {
		return Reply{}, &domain.Refusal{Code: domain.ReadingMovedOn, Fact: fact.No}
	}
	outcome, err := c.report(snap.Machine, cs.Plan.Made(snap.Machine.Profile, fact.No))
	if err != nil {
		return Reply{}, err
	}
	ruler := rulerFor(cs.Check, snap.Machine.UnitsIn(c.shop))
	reply := Reply{Replaces: true,
		Headline: c.say("turned.headline", words.D{"Check": capital(cs.Check.Name), "No": outcome.Fact.No}),
		Lines:    []string{c.say("turned.expect", words.D{"Values": c.values(ruler, expected(cs))})}}
	if names := checkNames(snap.Machine.Profile,
		domain.ReadAgain(outcome.After, outcome.Fact.No, reading.Check)); len(names) > 0 {
		reply.Lines = append(reply.Lines, c.say("turned.stale", words.D{"Checks": strings.Join(names, ", ")}))
	}
	return reply, nil
}
