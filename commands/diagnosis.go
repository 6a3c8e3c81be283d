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
	among := make([]named, len(all))
	for i, p := range all {
		among[i] = named{p.key, p.name}
	}
	i, err := c.lookUp("problem", "problem", among)
	if err != nil {
		return st, shown{}, err
	}
	return st, all[i], nil
}

// rank is the ranking of a problem's causes; ok is false where none is known.
func (c *call) rank(st domain.Status, p shown) (r domain.Ranked, ok bool, err error) {
	d := domain.NewDiagnosis(st.Machine.Profile, p.symptom, domain.SymptomsShown(st)...)
	if d == nil {
		return r, false, nil
	}
	machines, err := c.books.Machines(c)
	if err != nil {
		return r, false, err
	}
	// What the shop found on all its machines of the kind counts.
	counts := domain.Counts{By: map[string]int{}}
	for _, m := range machines {
		if m.Setup.Kind != st.Machine.Setup.Kind {
			continue
		}
		one, err := c.books.Settled(c, m.ID, p.key)
		if err != nil {
			return r, false, err
		}
		counts.N += one.N
		for id, n := range one.By { // any order: a sum
			counts.By[id] += n
		}
	}
	return d.Rank(st, p.found, counts, p.before), true, nil
}

// foundAction answers a question about a problem, or says what came of looking for
// one of its causes.
const foundAction lasting[finding] = "found"

// diagnose adds to a reply what may lie behind a problem and how to find out, with
// buttons to say so; ok is false where no cause is known.
func (c *call) diagnose(reply *Reply, st domain.Status, p shown) (ok bool, err error) {
	r, ok, err := c.rank(st, p)
	if err != nil || !ok {
		return false, err
	}
	if r.Settled != nil {
		reply.Lines = append(reply.Lines, c.settled(st, p, r.Settled)...)
		if what := mendName(st.Machine.Profile, r.Settled); what != "" {
			reply.Buttons = append(reply.Buttons, Button{Label: c.say("button.steps", nil), Style: Primary, Custom: wait(c, againAction, askedAgain{
				Name: howName, Options: map[string]string{"machine": st.Machine.Name, "what": what}})})
		}
		return true, nil
	}
	if r.Next != nil && r.Next.Question != nil {
		q := r.Next.Question
		reply.Lines = append(reply.Lines, c.say("cause.ask", words.D{"Ask": q.Ask}))
		for i, a := range []domain.Answer{domain.AnswerYes, domain.AnswerNo, domain.AnswerUnsure} {
			b := Button{Label: c.say("button.answer."+string(a), nil), Custom: foundAction.with(finding{p.first, domain.QuestionItem.Of(q.ID), a})}
			if i == 0 {
				b.Style = Primary
			}
			reply.Buttons = append(reply.Buttons, b)
		}
		return true, nil
	}
	top := slices.Clone(r.Suspects[:min(mostSuspects, len(r.Suspects))])
	if r.Next != nil && !slices.ContainsFunc(top, func(s domain.Suspect) bool { return s.Cause == r.Next.Cause }) {
		// What is quickest to look for is named, however likely it is.
		top[len(top)-1] = r.Suspects[slices.IndexFunc(r.Suspects, func(s domain.Suspect) bool { return s.Cause == r.Next.Cause })]
	}
	if slices.ContainsFunc(top, func(s domain.Suspect) bool { return s.Cause.Test.Isolated }) {
		reply.Lines = append(reply.Lines, c.say("cause.isolate", words.D{"Machine": words.User(st.Machine.Name)}))
	}
	var rest float64
	for _, s := range r.Suspects {
		if !slices.ContainsFunc(top, func(t domain.Suspect) bool { return t.Cause == s.Cause }) {
			rest = max(rest, s.Chance)
		}
	}
	for i, s := range top {
		d := words.D{"No": i + 1, "Cause": capital(s.Cause.Name), "Chance": percent(s.Chance), "Why": "", "Test": c.testLine(st, s.Cause), "First": r.Next != nil && r.Next.Cause == s.Cause}
		if e := strongest(s); e != nil {
			d["Why"] = c.evidenceText(st, *e)
		}
		reply.Lines = append(reply.Lines, c.say("cause.suspect", d))
		for _, a := range []domain.Answer{domain.AnswerYes, domain.AnswerNo, domain.AnswerUnsure} {
			reply.Buttons = append(reply.Buttons, Button{Label: shorten(c.say("button.cause."+string(a), words.D{"Cause": s.Cause.Name}), 80), Custom: foundAction.with(finding{p.first, domain.CauseItem.Of(s.Cause.ID), a})})
		}
	}
	reply.Lines = append(reply.Lines, c.say("cause.other", words.D{"Others": len(r.Suspects) - len(top), "Most": percent(rest), "Chance": percent(r.Other)}),
		c.say("cause.why", words.D{"Example": slash("why", "machine", st.Machine.Name, "problem", p.name)}))
	return true, nil
}

// testLine says how a cause is found out, and how long that takes.
func (w *wording) testLine(st domain.Status, k *profile.Cause) string {
	d := words.D{"How": k.Test.How, "Minutes": minutesText(k.Test.Minutes), "Isolated": k.Test.Isolated}
	if x := st.Machine.Profile.Check(k.Check); x != nil && k.Test.How == x.Name {
		return w.say("cause.test.check", words.D{"Check": x.Name, "Minutes": d["Minutes"]})
	}
	return w.say("cause.test", d)
}

// settled says what to do about a cause that was found: cautions first.
func (w *wording) settled(st domain.Status, p shown, k *profile.Cause) []string {
	m := st.Machine
	lines := []string{w.say("cause.settled", words.D{"Cause": k.Name})}
	isolated := func(work profile.Work) {
		if work.Isolated {
			lines = append(lines, w.say("caution.isolate", words.D{"Machine": words.User(m.Name)}))
		}
	}
	example := func(what string) string { return slash(howName, "machine", m.Name, "what", what) }
	switch {
	case k.Mend.Service != "":
		s := m.Profile.Service(k.Mend.Service)
		isolated(s.Work)
		lines = append(lines, w.say("cause.mend.service", words.D{"Service": s.Name, "Danger": p.danger, "How": example(s.Name), "Done": slash(serviceName, "machine", m.Name, "service", s.Name)}))
	case k.Mend.Event != "":
		e := m.Profile.Event(k.Mend.Event)
		isolated(e.Work)
		lines = append(lines, w.say("cause.mend.event", words.D{"Event": e.Name, "Danger": p.danger, "How": example(e.Name), "Done": slash("event", "machine", m.Name, "event", e.Name)}))
	case k.Mend.Check != "":
		x := m.Profile.Check(k.Mend.Check)
		isolated(profile.Work{Isolated: x.Isolated})
		if caps := w.capLines(st, p.symptom); len(caps) > 0 && slices.ContainsFunc(m.Profile.Caps, func(s profile.Cap) bool { return s.Check == x.ID }) {
			lines = append(lines, caps...)
		} else if cs := st.Adjusting(x.ID); cs.Plan != nil && cs.Freshness == domain.Fresh {
			lines = append(lines, w.planLines(m, cs, rulerFor(cs.Check, m.UnitsIn(w.shop)))...)
		}
		values := "pass"
		if !x.Inspection {
			values = w.exampleValues(m, x)
		}
		lines = append(lines, w.say("cause.mend.check", words.D{"Check": x.Name, "Danger": p.danger, "How": example(x.Name), "Read": slash(readingName, "machine", m.Name, "check", x.Name) + ` values:"` + values + `"`}))
	}
	if k.Advice != "" {
		lines = append(lines, k.Advice)
	}
	return lines
}

// strongest is the evidence that moved a cause's odds the most, nil if nothing did.
func strongest(s domain.Suspect) *domain.Evidence {
	var best *domain.Evidence
	for i := range s.Evidence {
		e := &s.Evidence[i]
		if e.Code == domain.EvidencePrior || e.Code == domain.EvidenceShows || e.Code == domain.EvidenceAnswer || e.Code == domain.EvidenceUnread {
			continue
		}
		// What speaks for it, by a quarter of its odds at the least.
		if e.Odds >= 1.25 && (best == nil || e.Odds > best.Odds) {
			best = e
		}
	}
	return best
}

// evidenceText says one piece of evidence.
func (w *wording) evidenceText(st domain.Status, e domain.Evidence) string {
	d := words.D{"Name": capital(e.Name), "Of": e.Of, "At": words.Time(e.At, words.Date), "No": e.Fact, "Where": e.Where, "Value": "", "Hours": "", "Chance": percent(e.Odds), "Had": e.Had, "Count": e.N}
	if e.Hours.Valid() {
		d["Hours"] = quantity.FormatDuration(e.Hours)
	}
	if e.Value.Valid() {
		if k := st.CheckNamed(e.Name); k != nil {
			d["Value"] = rulerFor(k.Check, st.Machine.UnitsIn(w.shop)).show(e.Value)
		}
	}
	key := "evidence." + string(e.Code)
	switch {
	case e.Code == domain.EvidenceAnswer && e.Name == "":
		key += ".cause." + string(e.Answer)
	case e.Code == domain.EvidenceAnswer:
		key += "." + string(e.Answer)
	case e.Code == domain.EvidenceSince && e.Fact == 0:
		key += ".never"
	}
	return w.say(key, d)
}
