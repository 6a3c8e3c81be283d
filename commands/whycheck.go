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
	k := cs.Check
	r := Reply{Headline: c.say("why.check", words.D{"Machine": words.User(st.Machine.Name), "Check": k.Name, "State": c.checkState(cs)})}
	add := func(key string, d words.D) { r.Lines = append(r.Lines, c.say(key, d)) }
	how := "why.measured"
	if k.Inspection {
		how = "why.passes"
	}
	add(how, words.D{"How": k.Measured})
	if cs.Freshness == domain.Stale {
		add("why.stale", words.D{"From": st.Machine.Profile.Check(cs.StaleFrom).Name,
			"Moved": words.Time(cs.StaleBy.At, words.DateTime), "Read": words.Time(cs.Latest.At, words.DateTime)})
	}
	if k.Every != nil {
		key := "why.last"
		last := cs.Latest.At
		if cs.Freshness == domain.Unread {
			key, last = "why.never", st.Machine.Added
		}
		add(key, words.D{"At": words.Time(last, words.DateTime), "No": cs.Latest.Fact})
		how, _ := c.interval(*k.Every)
		add("why.date", words.D{"How": how, "On": words.Time(cs.Due.On, words.Date)})
	}
	if k.Inspection || cs.Freshness == domain.Unread {
		if k.Source != "" {
			add("why.source", words.D{"Source": k.Source})
		}
		return r, nil
	}
	rl := rulerFor(k, st.Machine.UnitsIn(c.shop))
	g := cs.Latest.Reading.Gauge
	by := rl.by(g)
	add("why.read", words.D{"Values": c.values(by, cs.Latest.Reading.Values), "Typed": words.User(cs.Latest.Reading.Typed)})
	key := "why.gauge"
	if g.Assumed {
		key += ".assumed"
	}
	add(key, words.D{"Gauge": words.User(g.Name)})
	if late := c.calibrationLine(g, ""); late != "" {
		r.Lines = append(r.Lines, late)
	}
	for i, p := range cs.At {
		if i == 0 || p.Budget.Expanded != cs.At[0].Budget.Expanded {
			r.Lines = append(r.Lines, c.budgetLines(k, p, rl)...)
		}
		if n := cs.Latest.Reading.Values[i].Repeats; len(n) > 1 {
			add("why.repeats", words.D{"Position": place(k, p.Position), "Reps": len(n), "Mean": by.show(p.Verdict.Value), "S": short(quantity.FromFloat(p.Repeats.S, quantity.Base(k.Kind())), rl.unit.Step())})
		}
	}
	if k.Target.Valid() {
		r.Lines = append(r.Lines, capital(c.modeName(k))+c.say("why.limits", words.D{"Target": rl.exactly(k.Target), "Adjust": c.band(rl, k.Adjust), "Stop": c.band(rl, k.Stop)}))
	}
	add("why.rule", nil)
	for _, p := range cs.At {
		if !k.Target.Valid() {
			break
		}
		add("why.position", words.D{"Position": place(k, p.Position), "Value": by.show(p.Verdict.Value), "Likely": percent(p.Budget.Probability(p.Verdict.Value, k.Adjust)),
			"Adjust": c.say("proof."+p.Verdict.AdjustProof.String(), nil), "Stop": c.say("proof."+p.Verdict.StopProof.String(), nil)})
	}
	if a := cs.Alike; a != nil && a.Low != a.High {
		key := "why.alike"
		if a.Shared {
			key += ".shared"
		}
		add(key, words.D{"Low": a.Low, "High": a.High, "By": rl.size(a.Verdict.Value, k.AlikeAdjust), "U": rl.doubt(a.Verdict.Uncertainty),
			"Most": rl.size(k.AlikeAdjust, a.Verdict.Value), "Proof": c.say("proof."+a.Verdict.AdjustProof.String(), nil)})
	}
	r.Lines = append(r.Lines, c.angleLines(cs, rl)...)
	if b := k.Body; b != nil && b.Kind == profile.Belt {
		key := "why.belt"
		if k.Kind() == quantity.Force {
			key = "why.belt.force"
		}
		length := func(v quantity.Value) string {
			if st.Machine.UnitsIn(c.shop) == quantity.Imperial {
				return quantity.Format(v, quantity.Inch, 2)
			}
			return quantity.Format(v, quantity.Millimetre, 0)
		}
		add(key, words.D{"Tension": quantity.Format(b.Tension(cs.At[0].Verdict.Value), quantity.Newton, 0), "Target": quantity.Format(b.Tension(k.Target), quantity.Newton, 0),
			"Mass": quantity.Typed(b.Mass, quantity.KilogramMetre), "Span": length(b.Span()), "Belt": length(b.Length())})
	}
	drift, err := c.whyDrift(st, cs, rl)
	if err != nil {
		return Reply{}, err
	}
	r.Lines = append(r.Lines, drift...)
	if adjusting := st.Adjusting(k.ID); adjusting.Plan != nil {
		r.Lines = append(r.Lines, c.planWhy(st.Machine, adjusting, rl)...)
	}
	for _, s := range st.Caps() {
		if s.Cap.Check == k.ID {
			r.Lines = append(append(r.Lines, c.capLine(st.Machine, s)...), c.capWhy(s, rl)...)
		}
	}
	add("why.source", words.D{"Source": k.Source})
	if slices.Contains(st.Starting, domain.CheckItem.Of(id).In(k.Mode)) {
		add("why.starting", nil)
	}
	if cs.Predicted != nil {
		f := k.Follows
		key := "why.expect"
		if f.Opposite {
			key += ".opposite"
		}
		add(key, words.D{"Values": c.values(rl, predicted(cs)), "From": st.Machine.Profile.Check(f.Check).Name})
	}
	if series := c.limitSeries(cs, rl); series != nil {
		r.Picture = &Picture{Name: "limits", Alt: c.say("picture.limits", words.D{"Check": k.Name,
			"Values": c.values(rl, cs.Latest.Reading.Values), "Band": c.band(rl, k.Adjust)}), Data: series}
	}
	return r, nil
}

// angleLines say at what angle a tilted head or a turned piece stands, and how far
// a tailstock has to be set over.
func (w *wording) angleLines(cs *domain.CheckStatus, rl ruler) []string {
	b := cs.Check.Body
	if b == nil || b.Kind != profile.Tilt && b.Kind != profile.Taper {
		return nil
	}
	var read []quantity.Value
	for _, p := range cs.At {
		read = append(read, p.Verdict.Value)
	}
	angle, err := b.Angle(cs.Check.Positions, read)
	if err != nil {
		return nil
	}
	d := words.D{"Angle": quantity.Format(angle, quantity.Degree, 3)}
	if b.Kind == profile.Tilt || len(read) != 2 {
		return []string{w.say("why.tilt", d)}
	}
	d["Over"] = rl.size(b.SetOver(cs.Check.Positions, read))
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
func (w *wording) planWhy(m domain.Machine, cs domain.Adjusting, rl ruler) []string {
	p := cs.Plan
	key := "why.plan"
	switch {
	case p.Drive == profile.Slide:
		key = "why.plan.slide"
	case p.Drive == profile.Eccentric:
		key = "why.plan.eccentric"
	}
	lines := []string{w.say(key, nil)}
	for _, mv := range p.Moves {
		if p.Drive != profile.Slide {
			lines = append(lines, w.turnsLine(m, cs.Check, mv, rl))
		}
	}
	for _, e := range p.Expect {
		lines = append(lines, w.say("why.expected", words.D{"Position": place(cs.Check, e.Position), "Before": rl.show(e.Before), "Then": rl.show(e.Reading), "U": rl.doubt(e.U)}))
	}
	d := words.D{"Likely": percent(p.Pass), "Tries": ""}
	if p.Pass > 0.01 {
		d["Tries"] = strconv.FormatFloat(p.Tries, 'f', 2, 64)
	}
	return append(lines, w.say("why.pass", d))
}

// turnsLine is the arithmetic of one adjuster.
func (w *wording) turnsLine(m domain.Machine, k *profile.Check, mv domain.Adjustment, rl ruler) string {
	a := m.Profile.Adjuster(mv.Adjuster)
	name := capital(a.Name)
	if k.Body == nil {
		name = place(k, mv.Position)
	}
	if a.Drive == profile.Shims {
		return w.say("why.shims", words.D{"Name": name, "By": rl.exactly(mv.By), "Stack": rl.exactly(sum(mv.Pieces))})
	}
	d := words.D{"Name": name, "Step": turnsText(a, a.Increment), "Turns": turnsText(a, mv.Turns.Abs()), "Thread": a.Thread,
		"Exact": "", "Lead": "", "Gain": strconv.FormatFloat(mv.Gain, 'f', 2, 64), "GainU": strconv.FormatFloat(2*mv.GainU, 'f', 2, 64), "Tries": mv.Learned, "First": mv.First}
	exact, _ := mv.Exact.Abs().In(quantity.Turn).Float64()
	d["Exact"] = strconv.FormatFloat(exact, 'f', 2, 64)
	if a.Drive == profile.Eccentric {
		d["Lead"] = quantity.Show(a.Lead, rl.unit.Step(), max(rl.decimals, 0))
		return w.say("why.eccentric", d)
	}
	switch {
	case a.Lead.Kind() == quantity.Angle:
		d["Lead"] = quantity.Format(a.Lead, quantity.Degree, 2)
	case rl.unit.Kind() != quantity.Length:
		d["Lead"] = quantity.Format(a.Lead, quantity.Millimetre, 2)
	default:
		d["Lead"] = quantity.Show(a.Lead, rl.unit.Step(), max(rl.decimals, 0))
	}
	return w.say("why.turn", d)
}
