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
		"State": c.checkState(cs)})}
	add := func(key string, d words.D) { reply.Lines = append(reply.Lines, c.say(key, d)) }
	how := "why.measured"
	if check.Inspection {
		how = "why.passes"
	}
	add(how, words.D{"How": check.Measured})
	if cs.Freshness == domain.Stale {
		add("why.stale", words.D{"From": st.Machine.Profile.Check(cs.StaleFrom).Name,
			"Moved": words.Time(cs.StaleBy.At, words.DateTime), "Read": words.Time(cs.Latest.At, words.DateTime)})
	}
	if check.Every != nil {
		key := "why.last"
		last := cs.Latest.At
		if cs.Freshness == domain.Unread {
			key, last = "why.never", st.Machine.Added
		}
		add(key, words.D{"At": words.Time(last, words.DateTime), "No": cs.Latest.Fact})
		how, _ := c.interval(*check.Every)
		add("why.date", words.D{"How": how, "On": words.Time(cs.Due.On, words.Date)})
	}
	if check.Inspection || cs.Freshness == domain.Unread {
		if check.Source != "" {
			add("why.source", words.D{"Source": check.Source})
		}
		return reply, nil
	}
	rl := rulerFor(check, st.Machine.UnitsIn(c.shop))
	gauge := cs.Latest.Reading.Gauge
	by := rl.by(gauge)
	add("why.read", words.D{"Values": c.values(by, cs.Latest.Reading.Values),
		"Typed": words.User(cs.Latest.Reading.Typed)})
	key := "why.gauge"
	if gauge.Assumed {
		key += ".assumed"
	}
	add(key, words.D{"Gauge": words.User(gauge.Name)})
	if late := c.calibrationLine(gauge, ""); late != "" {
		reply.Lines = append(reply.Lines, late)
	}
	for i, at := range cs.At {
		if i == 0 || at.Budget.Expanded != cs.At[0].Budget.Expanded {
			reply.Lines = append(reply.Lines, c.budgetLines(check, at, rl)...)
		}
		if n := cs.Latest.Reading.Values[i].Repeats; len(n) > 1 {
			add("why.repeats", words.D{"Position": place(check, at.Position), "Reps": len(n),
				"Mean": by.show(at.Verdict.Value),
				"S":    short(quantity.FromFloat(at.Repeats.S, quantity.Base(check.Kind())), rl.unit.Step())})
		}
	}
	if check.Target.Valid() {
		reply.Lines = append(reply.Lines, capital(c.modeName(check))+
			c.say("why.limits", words.D{"Target": rl.exactly(check.Target), "Adjust": c.band(rl, check.Adjust),
				"Stop": c.band(rl, check.Stop)}))
	}
	add("why.rule", nil)
	for _, verdict := range cs.At {
		if !check.Target.Valid() {
			break
		}
		add("why.position", words.D{"Position": place(check, verdict.Position), "Value": by.show(verdict.Verdict.Value),
			"Likely": percent(verdict.Budget.Probability(verdict.Verdict.Value, check.Adjust)),
			"Adjust": c.say("proof."+verdict.Verdict.AdjustProof.String(), nil),
			"Stop":   c.say("proof."+verdict.Verdict.StopProof.String(), nil)})
	}
	if alike := cs.Alike; alike != nil && alike.Low != alike.High {
		key := "why.alike"
		if alike.Shared {
			key += ".shared"
		}
		add(key, words.D{"Low": alike.Low, "High": alike.High, "By": rl.size(alike.Verdict.Value, check.AlikeAdjust),
			"U":     rl.doubt(alike.Verdict.Uncertainty),
			"Most":  rl.size(check.AlikeAdjust, alike.Verdict.Value),
			"Proof": c.say("proof."+alike.Verdict.AdjustProof.String(), nil)})
	}
	reply.Lines = append(reply.Lines, c.angleLines(cs, rl)...)
	if body := check.Body; body != nil && body.Kind == profile.Belt {
		key := "why.belt"
		if check.Kind() == quantity.Force {
			key = "why.belt.force"
		}
		length := func(v quantity.Value) string {
			if st.Machine.UnitsIn(c.shop) == quantity.Imperial {
				return quantity.Format(v, quantity.Inch, 2)
			}
			return quantity.Format(v, quantity.Millimetre, 0)
		}
		add(key, words.D{"Tension": quantity.Format(body.Tension(cs.At[0].Verdict.Value), quantity.Newton, 0),
			"Target": quantity.Format(body.Tension(check.Target), quantity.Newton, 0),
			"Mass":   quantity.Typed(body.Mass, quantity.KilogramMetre), "Span": length(body.Span()),
			"Belt": length(body.Length())})
	}
	drift, err := c.whyDrift(st, cs, rl)
	if err != nil {
		return Reply{}, err
	}
	reply.Lines = append(reply.Lines, drift...)
	if adjusting := st.Adjusting(check.ID); adjusting.Plan != nil {
		reply.Lines = append(reply.Lines, c.planWhy(st.Machine, adjusting, rl)...)
	}
	for _, s := range st.Caps() {
		if s.Cap.Check == check.ID {
			reply.Lines = append(append(reply.Lines, c.capLine(st.Machine, s)...), c.capWhy(s, rl)...)
		}
	}
	add("why.source", words.D{"Source": check.Source})
	if slices.Contains(st.Starting, domain.CheckItem.Of(id).In(check.Mode)) {
		add("why.starting", nil)
	}
	if cs.Predicted != nil {
		f := check.Follows
		key := "why.expect"
		if f.Opposite {
			key += ".opposite"
		}
		add(key, words.D{"Values": c.values(rl, predicted(cs)), "From": st.Machine.Profile.Check(f.Check).Name})
	}
	if series := c.limitSeries(cs, rl); series != nil {
		reply.Picture = &Picture{Name: "limits", Alt: c.say("picture.limits", words.D{"Check": check.Name,
			"Values": c.values(rl, cs.Latest.Reading.Values), "Band": c.band(rl, check.Adjust)}), Data: series}
	}
	return reply, nil
}

// angleLines say at what angle a tilted head or a turned piece stands, and how far
// a tailstock has to be set over.
func (w *wording) angleLines(cs *domain.CheckStatus, rl ruler) []string {
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
	d := words.D{"Angle": quantity.Format(angle, quantity.Degree, 3)}
	if body.Kind == profile.Tilt || len(read) != 2 {
		return []string{w.say("why.tilt", d)}
	}
	d["Over"] = rl.size(body.SetOver(cs.Check.Positions, read))
	return []string{w.say("why.taper", d)}
}

// capWhy lists what the advice on spring caps stands on.
func (w *wording) capWhy(s domain.CapStatus, rl ruler) []string {
	lines := []string{w.say("why.caps", words.D{"Step": rl.exactly(s.Cap.Step)})}
	for _, x := range s.Reports {
		key := "why.cap.marks"
		if x.Stutters {
			key = "why.cap.stutters"
		}
		lines = append(lines, w.say(key, words.D{"No": x.Fact, "Height": rl.show(x.Height)}))
	}
	return lines
}

// planWhy is the arithmetic of a plan: what was wanted, each screw, and what is
// to be expected.
func (w *wording) planWhy(machine domain.Machine, cs domain.Adjusting, rl ruler) []string {
	plan := cs.Plan
	key := "why.plan"
	switch {
	case plan.Drive == profile.Slide:
		key = "why.plan.slide"
	case plan.Drive == profile.Eccentric:
		key = "why.plan.eccentric"
	}
	lines := []string{w.say(key, nil)}
	for _, mv := range plan.Moves {
		if plan.Drive != profile.Slide {
			lines = append(lines, w.turnsLine(machine, cs.Check, mv, rl))
		}
	}
	for _, e := range plan.Expect {
		lines = append(lines, w.say("why.expected", words.D{"Position": place(cs.Check, e.Position),
			"Before": rl.show(e.Before), "Then": rl.show(e.Reading), "U": rl.doubt(e.U)}))
	}
	d := words.D{"Likely": percent(plan.Pass), "Tries": ""}
	if plan.Pass > 0.01 {
		d["Tries"] = strconv.FormatFloat(plan.Tries, 'f', 2, 64)
	}
	return append(lines, w.say("why.pass", d))
}

// turnsLine is the arithmetic of one adjuster.
func (w *wording) turnsLine(m domain.Machine, k *profile.Check, mv domain.Adjustment, rl ruler) string {
	screw := m.Profile.Adjuster(mv.Adjuster)
	name := capital(screw.Name)
	if k.Body == nil {
		name = place(k, mv.Position)
	}
	if screw.Drive == profile.Shims {
		return w.say("why.shims", words.D{"Name": name, "By": rl.exactly(mv.By), "Stack": rl.exactly(sum(mv.Pieces))})
	}
	data := words.D{"Name": name, "Step": turnsText(screw, screw.Increment),
		"Turns": turnsText(screw, mv.Turns.Abs()), "Thread": screw.Thread,
		"Exact": "", "Lead": "", "Gain": strconv.FormatFloat(mv.Gain, 'f', 2, 64),
		"GainU": strconv.FormatFloat(2*mv.GainU, 'f', 2, 64), "Tries": mv.Learned, "First": mv.First}
	exact, _ := mv.Exact.Abs().In(quantity.Turn).Float64()
	data["Exact"] = strconv.FormatFloat(exact, 'f', 2, 64)
	if screw.Drive == profile.Eccentric {
		data["Lead"] = quantity.Show(screw.Lead, rl.unit.Step(), max(rl.decimals, 0))
		return w.say("why.eccentric", data)
	}
	switch {
	case screw.Lead.Kind() == quantity.Angle:
		data["Lead"] = quantity.Format(screw.Lead, quantity.Degree, 2)
	case rl.unit.Kind() != quantity.Length:
		data["Lead"] = quantity.Format(screw.Lead, quantity.Millimetre, 2)
	default:
		data["Lead"] = quantity.Show(screw.Lead, rl.unit.Step(), max(rl.decimals, 0))
	}
	return w.say("why.turn", data)
}
