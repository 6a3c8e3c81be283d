package commands

import (
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
)

// runHowTurned records how a move was made, and plans again.
func runHowTurned(c *call, h howTurned) (Reply, error) {
	f, r, err := c.readingOf(h.Reading)
	if err != nil {
		return Reply{}, err
	}
	snap, err := c.books.Snapshot(c, f.Machine)
	if err != nil {
		return Reply{}, err
	}
	o, err := c.report(snap.Machine, domain.MoveAnswer{Of: h.Move, Check: r.Check, Said: h.Said})
	if err != nil {
		return Reply{}, err
	}
	k := snap.Machine.Profile.Check(r.Check).In(r.Mode)
	o.Fact.No = f.No // the reply is about the reading
	reply := c.readingReply(o, k, r)
	reply.Replaces = true
	return reply, nil
}

// runTurned records the moves of a reading's plan as made.
func runTurned(c *call, t turning) (Reply, error) {
	f, r, err := c.readingOf(t.Reading)
	if err != nil {
		return Reply{}, err
	}
	snap, err := c.books.Snapshot(c, f.Machine)
	if err != nil {
		return Reply{}, err
	}
	st := domain.Assess(snap, c.now)
	cs := st.Adjusting(r.Check)
	if cs.CheckStatus == nil || cs.Latest.Fact != f.No || cs.Plan == nil {
		return Reply{}, &domain.Refusal{Code: domain.ReadingMovedOn, Fact: f.No}
	}
	o, err := c.report(snap.Machine, cs.Plan.Made(snap.Machine.Profile, f.No))
	if err != nil {
		return Reply{}, err
	}
	ruler := rulerFor(cs.Check, snap.Machine.UnitsIn(c.shop))
	reply := Reply{Replaces: true, Headline: c.say("turned.headline", words.D{"Check": capital(cs.Check.Name), "No": o.Fact.No}),
		Lines: []string{c.say("turned.expect", words.D{"Values": c.values(ruler, expected(cs))})}}
	if names := checkNames(snap.Machine.Profile, domain.ReadAgain(o.After, o.Fact.No, r.Check)); len(names) > 0 {
		reply.Lines = append(reply.Lines, c.say("turned.stale", words.D{"Checks": strings.Join(names, ", ")}))
	}
	return reply, nil
}
