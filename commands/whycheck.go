package commands

import (
	"slices"
	"strconv"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// whyCheck gives a check's verdict and move with inputs, formula and source.
func (c *call) whyCheck(st domain.Status, id string) (Reply, error) {
	cs := st.Check(id)
	check := cs.Check
	reply := Reply{Headline: c.say("why.check", words.D{"Machine": words.User(st.Machine.Name), "Check": check.Name,
		"State": c.checkState(cs)}), Lines: c.checkedLines(st, cs)}
	add := func(key string, data words.D) { reply.Lines = append(reply.Lines, c.say(key, data)) }
	if check.Inspection || cs.Freshness == domain.Unread {
		if check.Source != "" {
			add("why.source", words.D{"Source": check.Source})
		}
		return reply, nil
	}
	scale := rulerFor(check, st.Machine.UnitsIn(c.shop))

	// What was read and what its uncertainty is made of, the verdict, and what
	// follows from the readings.
	reply.Lines = append(reply.Lines, c.readLines(cs, scale)...)
	reply.Lines = append(reply.Lines, c.verdictLines(cs, scale)...)
	reply.Lines = append(append(reply.Lines, c.angleLines(cs, scale)...), c.beltLines(st, cs)...)
	drift, err := c.whyDrift(st, cs, scale)
	if err != nil {
		return Reply{}, err
	}
	reply.Lines = append(reply.Lines, drift...)

	// What to do about it.
	if adjusting := st.Adjusting(check.ID); adjusting.Plan != nil {
		reply.Lines = append(reply.Lines, c.planWhy(st.Machine, adjusting, scale)...)
	}
	for _, caps := range st.Caps() {
		if caps.Cap.Check == check.ID {
			reply.Lines = append(append(reply.Lines, c.capLine(st.Machine, caps)...), c.capWhy(caps, scale)...)
		}
	}

	// Where the values come from, what to expect, and the picture.
	add("why.source", words.D{"Source": check.Source})
	if slices.Contains(st.Starting, domain.CheckItem.Of(id).In(check.Mode)) {
		add("why.starting", nil)
	}
	if cs.Predicted != nil {
		key := "why.expect"
		if check.Follows.Opposite {
			key += ".opposite"
		}
		add(key, words.D{"Values": c.values(scale, predicted(cs)),
			"From": st.Machine.Profile.Check(check.Follows.Check).Name})
	}
	if series := c.limitSeries(cs, scale); series != nil {
		reply.Picture = &Picture{Name: "limits", Alt: c.say("picture.limits", words.D{"Check": check.Name,
			"Values": c.values(scale, cs.Latest.Reading.Values), "Band": c.limitsText(scale, check.Adjust)}),
			Data: series}
	}
	return reply, nil
}

// checkedLines say how a check is done, what made it stale, and when it falls due.
func (w *wording) checkedLines(st domain.Status, cs *domain.CheckStatus) []string {
	how := "why.measured"
	if cs.Check.Inspection {
		how = "why.passes"
	}
	lines := []string{w.say(how, words.D{"How": cs.Check.Measured})}
	if cs.Freshness == domain.Stale {
		lines = append(lines, w.say("why.stale", words.D{"From": st.Machine.Profile.Check(cs.StaleFrom).Name,
			"Moved": words.Time(cs.StaleBy.At, words.DateTime), "Read": words.Time(cs.Latest.At, words.DateTime)}))
	}
	if cs.First != nil {
		return append(lines, w.say("why.first", words.D{"On": words.Time(cs.Due.On, words.Date)}))
	}
	if cs.Check.Every == nil {
		return lines
	}
	key, last := "why.last", cs.Latest.At
	if cs.Freshness == domain.Unread {
		key, last = "why.never", st.Machine.Added
	}
	every, _ := w.interval(*cs.Check.Every)
	return append(lines, w.say(key, words.D{"At": words.Time(last, words.DateTime), "No": cs.Latest.Fact}),
		w.say("why.date", words.D{"How": every, "On": words.Time(cs.Due.On, words.Date)}))
}

// readLines say what was read with what, and what its uncertainty is made of.
func (w *wording) readLines(cs *domain.CheckStatus, scale ruler) []string {
	check, read := cs.Check, cs.Latest.Reading
	by := scale.by(read.Gauge)
	key := "why.gauge"
	if read.Gauge.Assumed {
		key += ".assumed"
	}
	lines := []string{w.say("why.read", words.D{"Values": w.values(by, read.Values), "Typed": words.User(read.Typed)}),
		w.say(key, words.D{"Gauge": words.User(read.Gauge.Name)})}
	if late := w.calibrationLine(read.Gauge, ""); late != "" {
		lines = append(lines, late)
	}
	for i, at := range cs.At {
		if i == 0 || at.Budget.Expanded != cs.At[0].Budget.Expanded {
			lines = append(lines, w.budgetLines(check, at, scale)...)
		}
		if n := read.Values[i].Repeats; len(n) > 1 {
			lines = append(lines, w.say("why.repeats", words.D{"Position": place(check, at.Position), "Reps": len(n),
				"Mean": by.show(at.Verdict.Value),
				"S":    short(quantity.FromFloat(at.Repeats.S, quantity.Base(check.Kind())), scale.unit.Step())}))
		}
	}
	return lines
}

// verdictLines give the limits, the rule, and by it the verdict on each position
// and on their greatest difference.
func (w *wording) verdictLines(cs *domain.CheckStatus, scale ruler) []string {
	check := cs.Check
	var lines []string
	if check.Target.Valid() {
		lines = append(lines, capital(w.modeName(check))+w.say("why.limits", words.D{
			"Target": scale.exactly(check.Target), "Adjust": w.limitsText(scale, check.Adjust),
			"Stop": w.limitsText(scale, check.Stop)}))
	}
	// The rule, and what it makes of each position.
	lines = append(lines, w.say("why.rule", nil))
	if check.Target.Valid() {
		by := scale.by(cs.Latest.Reading.Gauge)
		for _, at := range cs.At {
			lines = append(lines, w.say("why.position", words.D{"Position": place(check, at.Position),
				"Value":  by.show(at.Verdict.Value),
				"Likely": percent(at.Budget.Probability(at.Verdict.Value, check.Adjust)),
				"Adjust": w.say("proof."+at.Verdict.AdjustProof.String(), nil),
				"Stop":   w.say("proof."+at.Verdict.StopProof.String(), nil)}))
		}
	}
	// How far they may differ from each other.
	if alike := cs.Alike; alike != nil && alike.Low != alike.High {
		key := "why.alike"
		if alike.Shared {
			key += ".shared"
		}
		lines = append(lines, w.say(key, words.D{"Low": alike.Low, "High": alike.High,
			"By":    scale.size(alike.Verdict.Value, check.AlikeAdjust),
			"U":     scale.doubt(alike.Verdict.Uncertainty),
			"Most":  scale.size(check.AlikeAdjust, alike.Verdict.Value),
			"Proof": w.say("proof."+alike.Verdict.AdjustProof.String(), nil)}))
	}
	return lines
}

// beltLines say at what tension a belt runs, by what was read of its span.
func (w *wording) beltLines(st domain.Status, cs *domain.CheckStatus) []string {
	check, body := cs.Check, cs.Check.Body
	if body == nil || body.Kind != profile.Belt {
		return nil
	}
	key := "why.belt"
	if check.Kind() == quantity.Force {
		key = "why.belt.force"
	}
	length := func(v quantity.Value) string {
		if st.Machine.UnitsIn(w.shop) == quantity.Imperial {
			return quantity.Format(v, quantity.Inch, 2)
		}
		return quantity.Format(v, quantity.Millimetre, 0)
	}
	return []string{w.say(key, words.D{
		"Tension": quantity.Format(body.Tension(cs.At[0].Verdict.Value), quantity.Newton, 0),
		"Target":  quantity.Format(body.Tension(check.Target), quantity.Newton, 0),
		"Mass":    quantity.Typed(body.Mass, quantity.KilogramMetre),
		"Span":    length(body.Span()), "Belt": length(body.Length())})}
}

// angleLines say at what angle a tilted head or a turned piece stands, and how far
// a tailstock has to be set over.
func (w *wording) angleLines(cs *domain.CheckStatus, scale ruler) []string {
	body := cs.Check.Body
	if body == nil || body.Kind != profile.Tilt && body.Kind != profile.Taper {
		return nil
	}
	var read []quantity.Value
	for _, p := range cs.At {
		read = append(read, p.Verdict.Value)
	}
	angle, err := body.Angle(cs.Check.Positions, read)
	if err != nil {
		return nil
	}
	data := words.D{"Angle": quantity.Format(angle, quantity.Degree, 3)}
	if body.Kind == profile.Tilt || len(read) != 2 {
		return []string{w.say("why.tilt", data)}
	}
	data["Over"] = scale.size(body.SetOver(cs.Check.Positions, read))
	return []string{w.say("why.taper", data)}
}

// capWhy lists what the advice on spring caps stands on.
func (w *wording) capWhy(s domain.CapStatus, scale ruler) []string {
	lines := []string{w.say("why.caps", words.D{"Step": scale.exactly(s.Cap.Step)})}
	for _, capReport := range s.Reports {
		key := "why.cap.marks"
		if capReport.Stutters {
			key = "why.cap.stutters"
		}
		lines = append(lines, w.say(key, words.D{"No": capReport.Fact, "Height": scale.show(capReport.Height)}))
	}
	return lines
}

// planWhy is the arithmetic of a plan: what was wanted, each screw, and what to
// expect.
func (w *wording) planWhy(machine domain.Machine, cs domain.Adjusting, scale ruler) []string {
	plan := cs.Plan
	key := "why.plan"
	switch plan.Drive {
	case profile.Slide:
		key = "why.plan.slide"
	case profile.Eccentric:
		key = "why.plan.eccentric"
	}
	lines := []string{w.say(key, nil)}
	for _, mv := range plan.Moves {
		if plan.Drive != profile.Slide {
			lines = append(lines, w.turnsLine(machine, cs.Check, mv, scale))
		}
	}
	for _, e := range plan.Expect {
		lines = append(lines, w.say("why.expected", words.D{"Position": place(cs.Check, e.Position),
			"Before": scale.show(e.Before), "Then": scale.show(e.Reading), "U": scale.doubt(e.U)}))
	}
	d := words.D{"Likely": percent(plan.Pass), "Tries": ""}
	if plan.Pass > 0.01 {
		d["Tries"] = strconv.FormatFloat(plan.Tries, 'f', 2, 64)
	}
	return append(lines, w.say("why.pass", d))
}

// turnsLine is the arithmetic of one adjuster.
func (w *wording) turnsLine(m domain.Machine, k *profile.Check, mv domain.Adjustment, scale ruler) string {
	screw := m.Profile.Adjuster(mv.Adjuster)
	name := capital(screw.Name)
	if k.Body == nil {
		name = place(k, mv.Position)
	}
	if screw.Drive == profile.Shims {
		return w.say("why.shims",
			words.D{"Name": name, "By": scale.exactly(mv.By), "Stack": scale.exactly(sum(mv.Pieces))})
	}
	data := words.D{"Name": name, "Step": turnsText(screw, screw.Increment),
		"Turns": turnsText(screw, mv.Turns.Abs()), "Thread": screw.Thread,
		"Exact": "", "Lead": "", "Gain": strconv.FormatFloat(mv.Gain, 'f', 2, 64),
		"GainU": strconv.FormatFloat(2*mv.GainU, 'f', 2, 64), "Tries": mv.Learned, "First": mv.First}
	exact, _ := mv.Exact.Abs().In(quantity.Turn).Float64()
	data["Exact"] = strconv.FormatFloat(exact, 'f', 2, 64)
	if screw.Drive == profile.Eccentric {
		data["Lead"] = quantity.Show(screw.Lead, scale.unit.Step(), max(scale.decimals, 0))
		return w.say("why.eccentric", data)
	}
	switch {
	case screw.Lead.Kind() == quantity.Angle:
		data["Lead"] = quantity.Format(screw.Lead, quantity.Degree, 2)
	case scale.unit.Kind() != quantity.Length:
		data["Lead"] = quantity.Format(screw.Lead, quantity.Millimetre, 2)
	default:
		data["Lead"] = quantity.Show(screw.Lead, scale.unit.Step(), max(scale.decimals, 0))
	}
	return w.say("why.turn", data)
}
