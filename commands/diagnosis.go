package commands

import (
	"slices"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// mostSuspects is how many causes a reply names.
const mostSuspects = 3

// shown is a problem or a danger that stands, as a diagnosis needs it.
type shown struct {
	key, name, symptom string
	first              domain.FactNo
	found              map[domain.Item]domain.FoundThen
	before             string // the cause that was mended before it came back
	danger             bool
}

// problemsShown lists what members reported of a machine and is not mended, dangers
// first.
func problemsShown(st domain.Status) []shown {
	var all []shown
	for _, d := range st.Dangers {
		if !slices.ContainsFunc(all, func(s shown) bool { return s.key == d.Problem.Key() }) {
			all = append(all, shown{d.Problem.Key(), d.Problem.Name, d.Problem.Symptom, d.Fact, d.Found, "", true})
		}
	}
	for _, p := range st.Problems {
		all = append(all, shown{p.Key, p.Name, p.Symptom, p.First, p.Found, p.Before, false})
	}
	return all
}

// problemNamed is the machine and the problem that the options name.
func (c *call) problemNamed() (domain.Status, shown, error) {
	_, st, err := c.status()
	if err != nil {
		return st, shown{}, err
	}
	all := problemsShown(st)
	i, err := c.lookUp("problem", "problem",
		namedIn(all, func(p *shown) named { return named{ID: p.key, Name: p.name} }))
	if err != nil {
		return st, shown{}, err
	}
	return st, all[i], nil
}

// rank is the ranking of a problem's causes; ok is false where none is known.
func (c *call) rank(st domain.Status, problem shown) (ranked domain.Ranked, ok bool, err error) {
	diagnosis := domain.NewDiagnosis(st.Machine.Profile, problem.symptom, domain.SymptomsShown(st)...)
	if diagnosis == nil {
		return ranked, false, nil
	}
	machines, err := c.books.Machines(c)
	if err != nil {
		return ranked, false, err
	}
	// What the shop found on all its machines of the kind counts.
	counts := domain.Counts{By: map[string]int{}}
	for _, m := range machines {
		if m.Setup.Kind != st.Machine.Setup.Kind {
			continue
		}
		one, err := c.books.Settled(c, m.ID, problem.key)
		if err != nil {
			return ranked, false, err
		}
		counts.N += one.N
		for id, n := range one.By { // any order: a sum
			counts.By[id] += n
		}
	}
	return diagnosis.Rank(st, problem.found, counts, problem.before), true, nil
}

// foundAction answers a question about a problem, or says what came of looking for
// one of its causes.
const foundAction lasting[finding] = "found"

// diagnose adds to a reply what may lie behind a problem and how to find out, with
// buttons to say so; ok is false where no cause is known.
func (c *call) diagnose(reply *Reply, st domain.Status, problem shown) (ok bool, err error) {
	ranked, ok, err := c.rank(st, problem)
	if err != nil || !ok {
		return false, err
	}
	// A cause that was found: what to do about it.
	if ranked.Settled != nil {
		reply.Lines = append(reply.Lines, c.settled(st, problem, ranked.Settled)...)
		if what := mendName(st.Machine.Profile, ranked.Settled); what != "" {
			reply.Buttons = append(reply.Buttons,
				Button{Label: c.say("button.steps", nil), Style: Primary, Custom: wait(c, againAction, askedAgain{
					Name: howName, Options: map[string]string{"machine": st.Machine.Name, "what": what}})})
		}
		return true, nil
	}
	// A question that tells more than any test comes first, alone.
	if ranked.Next != nil && ranked.Next.Question != nil {
		q := ranked.Next.Question
		reply.Lines = append(reply.Lines, c.say("cause.ask", words.D{"Ask": q.Ask}))
		for i, a := range []domain.Answer{domain.AnswerYes, domain.AnswerNo, domain.AnswerUnsure} {
			button := Button{Label: c.say("button.answer."+string(a), nil),
				Custom: foundAction.with(finding{problem.first, domain.QuestionItem.Of(q.ID), a})}
			if i == 0 {
				button.Style = Primary
			}
			reply.Buttons = append(reply.Buttons, button)
		}
		return true, nil
	}
	// Otherwise the likeliest causes, each with how it is found out.
	top := slices.Clone(ranked.Suspects[:min(mostSuspects, len(ranked.Suspects))])
	if ranked.Next != nil && !slices.ContainsFunc(top,
		func(s domain.Suspect) bool { return s.Cause == ranked.Next.Cause }) {
		// What is quickest to look for is named, however likely it is.
		top[len(top)-1] = ranked.Suspects[slices.IndexFunc(ranked.Suspects,
			func(s domain.Suspect) bool { return s.Cause == ranked.Next.Cause })]
	}
	covered := slices.ContainsFunc(top, func(s domain.Suspect) bool { return s.Cause.Test.Isolated })
	if covered && c.steward() {
		reply.Lines = append(reply.Lines, c.say("cause.isolate", words.D{"Machine": words.User(st.Machine.Name)}))
	}
	// How likely the likeliest of those not named is.
	var rest float64
	for _, s := range ranked.Suspects {
		if !slices.ContainsFunc(top, func(t domain.Suspect) bool { return t.Cause == s.Cause }) {
			rest = max(rest, s.Chance)
		}
	}
	for i, suspect := range top {
		closed := suspect.Cause.Test.Isolated && !c.steward() // members are not sent inside the machine
		data := words.D{"No": i + 1, "Cause": capital(suspect.Cause.Name), "Chance": percent(suspect.Chance), "Why": "",
			"Test": c.testLine(st, suspect.Cause), "First": !closed && ranked.Next != nil &&
				ranked.Next.Cause == suspect.Cause}
		if e := strongest(suspect); e != nil {
			data["Why"] = c.evidenceText(st, *e)
		}
		reply.Lines = append(reply.Lines, c.say("cause.suspect", data))
		if closed {
			continue
		}
		for _, a := range []domain.Answer{domain.AnswerYes, domain.AnswerNo, domain.AnswerUnsure} {
			reply.Buttons = append(reply.Buttons,
				Button{Label: shorten(c.say("button.cause."+string(a), words.D{"Cause": suspect.Cause.Name}), 80),
					Custom: foundAction.with(finding{problem.first, domain.CauseItem.Of(suspect.Cause.ID), a})})
		}
	}
	if covered && !c.steward() {
		reply.Lines = append(reply.Lines, c.say("cause.steward", nil))
	}
	reply.Lines = append(reply.Lines,
		c.say("cause.other", words.D{"Others": len(ranked.Suspects) - len(top), "Most": percent(rest),
			"Chance": percent(ranked.Other)}),
		c.say("cause.why", words.D{"Example": slash("why", "machine", st.Machine.Name, "problem", problem.name)}))
	return true, nil
}

// testLine says how a cause is found out, and how long that takes; what is done under
// the covers is for stewards.
func (c *call) testLine(st domain.Status, cause *profile.Cause) string {
	if cause.Test.Isolated && !c.steward() {
		return c.say("cause.test.covered", nil)
	}
	d := words.D{"How": cause.Test.How, "Minutes": minutesText(cause.Test.Minutes), "Isolated": cause.Test.Isolated}
	if x := st.Machine.Profile.Check(cause.Check); x != nil && cause.Test.How == x.Name {
		return c.say("cause.test.check", words.D{"Check": x.Name, "Minutes": d["Minutes"]})
	}
	return c.say("cause.test", d)
}

// settled says what to do about a cause that was found: cautions first.
func (w *wording) settled(st domain.Status, problem shown, cause *profile.Cause) []string {
	machine := st.Machine
	lines := []string{w.say("cause.settled", words.D{"Cause": cause.Name})}
	isolated := func(work profile.Work) {
		if work.Isolated {
			lines = append(lines, w.say("caution.isolate", words.D{"Machine": words.User(machine.Name)}))
		}
	}
	example := func(what string) string { return slash(howName, "machine", machine.Name, "what", what) }
	switch {
	case cause.Mend.Service != "":
		s := machine.Profile.Service(cause.Mend.Service)
		isolated(s.Work)
		lines = append(lines, w.say("cause.mend.service", words.D{"Service": s.Name, "Danger": problem.danger,
			"How": example(s.Name), "Done": slash(serviceName, "machine", machine.Name, "service", s.Name)}))
	case cause.Mend.Event != "":
		e := machine.Profile.Event(cause.Mend.Event)
		isolated(e.Work)
		lines = append(lines, w.say("cause.mend.event", words.D{"Event": e.Name, "Danger": problem.danger,
			"How": example(e.Name), "Done": slash("event", "machine", machine.Name, "event", e.Name)}))
	case cause.Mend.Check != "":
		check := machine.Profile.Check(cause.Mend.Check)
		isolated(profile.Work{Isolated: check.Isolated})
		if caps := w.capLines(st, problem.symptom); len(caps) > 0 && slices.ContainsFunc(machine.Profile.Caps,
			func(s profile.Cap) bool { return s.Check == check.ID }) {
			lines = append(lines, caps...)
		} else if cs := st.Adjusting(check.ID); cs.Plan != nil && cs.Freshness == domain.Fresh {
			lines = append(lines, w.planLines(machine, cs, rulerFor(cs.Check, machine.UnitsIn(w.shop)))...)
		}
		values := "pass"
		if !check.Inspection {
			values = w.exampleValues(machine, check)
		}
		lines = append(lines, w.say("cause.mend.check",
			words.D{"Check": check.Name, "Danger": problem.danger, "How": example(check.Name),
				"Read": slash(readingName, "machine", machine.Name, "check", check.Name) + ` values:"` + values + `"`}))
	}
	if cause.Advice != "" {
		lines = append(lines, cause.Advice)
	}
	return lines
}

// strongest is the evidence that moved a cause's odds the most, nil if nothing did.
func strongest(s domain.Suspect) *domain.Evidence {
	var best *domain.Evidence
	for i := range s.Evidence {
		evidence := &s.Evidence[i]
		if evidence.Code == domain.EvidencePrior || evidence.Code == domain.EvidenceShows ||
			evidence.Code == domain.EvidenceAnswer || evidence.Code == domain.EvidenceUnread {
			continue
		}
		// What speaks for it, by a quarter of its odds at the least.
		if evidence.Odds >= 1.25 && (best == nil || evidence.Odds > best.Odds) {
			best = evidence
		}
	}
	return best
}

// evidenceText says one piece of evidence.
func (w *wording) evidenceText(st domain.Status, evidence domain.Evidence) string {
	data := words.D{"Name": capital(evidence.Name), "Of": evidence.Of, "At": words.Time(evidence.At, words.Date),
		"No": evidence.Fact, "Where": evidence.Where, "Value": "", "Hours": "", "Chance": percent(evidence.Odds),
		"Had": evidence.Had, "Count": evidence.N}
	if evidence.Hours.Valid() {
		data["Hours"] = quantity.FormatDuration(evidence.Hours)
	}
	if evidence.Value.Valid() {
		if k := st.CheckNamed(evidence.Name); k != nil {
			data["Value"] = rulerFor(k.Check, st.Machine.UnitsIn(w.shop)).show(evidence.Value)
		}
	}
	key := "evidence." + string(evidence.Code)
	switch {
	case evidence.Code == domain.EvidenceAnswer && evidence.Name == "":
		key += ".cause." + string(evidence.Answer)
	case evidence.Code == domain.EvidenceAnswer:
		key += "." + string(evidence.Answer)
	case evidence.Code == domain.EvidenceSince && evidence.Fact == 0:
		key += ".never"
	}
	return w.say(key, data)
}
