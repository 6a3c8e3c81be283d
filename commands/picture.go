package commands

import (
	"fmt"
	"strings"

	"setscrew/commands/plot"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// Draw makes a picture's PNG. It is called once the report is safely stored.
func Draw(p Picture) ([]byte, error) {
	switch data := p.Data.(type) {
	case *plot.Limits:
		return data.PNG()
	case *plot.Moves:
		return data.PNG()
	}
	return nil, fmt.Errorf("no picture is drawn of a %T", p.Data)
}

// limitSeries is what the picture of a check's limits shows.
func (w *wording) limitSeries(cs *domain.CheckStatus, rl ruler) *plot.Limits {
	k := cs.Check
	if !k.Target.Valid() {
		return nil // no limits to draw
	}
	return w.limits(cs, rl)
}

// limits is a check's readings, with its target and limits where it has any.
func (w *wording) limits(cs *domain.CheckStatus, rl ruler) *plot.Limits {
	k := cs.Check
	s := &plot.Limits{Title: k.Name, Unit: string(rl.unit),
		TargetLabel: w.say("plot.target", nil), AdjustLabel: w.say("plot.adjust", nil), StopLabel: w.say("plot.stop", nil)}
	set := func(v quantity.Value, to **float64) {
		if v.Valid() {
			f := v.Float(rl.unit)
			*to = &f
		}
	}
	set(k.Target, &s.Target)
	set(k.Adjust.Low, &s.AdjustLow)
	set(k.Adjust.High, &s.AdjustHigh)
	set(k.Stop.Low, &s.StopLow)
	set(k.Stop.High, &s.StopHigh)
	for _, p := range cs.At {
		s.Points = append(s.Points, plot.Point{Name: p.Position, Value: p.Verdict.Value.Float(rl.unit),
			Uncertainty: p.Verdict.Uncertainty.Float(rl.unit), Label: rl.show(p.Verdict.Value)})
	}
	return s
}

// planPicture is the picture of a plan of more than one move, or nil.
func (c *call) planPicture(m domain.Machine, cs domain.Adjusting, r ruler) *Picture {
	moving := 0
	for _, mv := range cs.Plan.Moves {
		if mv.ToDo() {
			moving++
		}
	}
	if moving < 2 {
		return nil
	}
	s := &plot.Moves{Limits: c.limits(cs.CheckStatus, r), InARow: cs.Check.Body == nil, Caption: c.say("plot.seen", words.D{"Seen": seenFrom(m, cs.CheckStatus), "Places": cs.Check.Body != nil})}
	s.Limits.BeforeLabel, s.Limits.AfterLabel = c.say("plot.before", nil), c.say("plot.expected", nil)
	var alt []string
	for _, mv := range cs.Plan.Moves {
		a := m.Profile.Adjuster(mv.Adjuster)
		label, name := c.say("plot.leave", nil), a.Name
		if cs.Check.Body == nil {
			name = strings.TrimSpace(mv.Position)
		}
		screw := plot.Screw{Name: name}
		if a.SeenFrom != "" && seenFrom(m, cs.CheckStatus) == "" {
			screw.Name = c.say("plot.from", words.D{"Screw": name, "Seen": a.SeenFrom})
		}
		switch {
		case !mv.ToDo():
		case a.Drive == profile.Slide, a.Drive == profile.Shims:
			label, screw.Way = c.say("plot.slide", words.D{"By": r.size(mv.By), "Do": c.does(cs.CheckStatus, a, mv)}), plot.Against
			if mv.Grow {
				screw.Way = plot.Along
			}
			alt = append(alt, name+" "+label)
		default:
			label, screw.Way = turnsText(a, mv.Turns.Abs()), plot.CounterClockwise
			if mv.Turns.Sign() > 0 {
				screw.Way = plot.Clockwise
			}
			alt = append(alt, name+" "+label+" "+c.turnWay(mv.Turns.Sign() > 0))
		}
		screw.Label = label
		screw.At = millimetres(a.At)
		s.Screws = append(s.Screws, screw)
	}
	if b := cs.Check.Body; b != nil {
		for _, a := range m.Profile.AdjustersOf(cs.Check.ID) {
			if a.Fixed {
				s.Screws = append(s.Screws, plot.Screw{Name: a.Name, Label: c.say("plot.fixed", nil), At: millimetres(a.At)})
			}
		}
		for _, name := range cs.Check.Positions {
			if at, ok := b.Places[name]; ok {
				s.Places = append(s.Places, plot.Place{Name: name, At: millimetres(at)})
			}
		}
	}
	for _, e := range cs.Plan.Expect {
		s.Limits.After = append(s.Limits.After, plot.Point{Name: e.Position, Value: e.Reading.Float(r.unit), Uncertainty: e.U.Float(r.unit.Step()), Label: r.show(e.Reading)})
	}
	return &Picture{Name: "moves", Alt: c.say("picture.moves", words.D{"Check": capital(cs.Check.Name), "Moves": strings.Join(alt, ", "),
		"Values": c.values(r, expected(cs))}), Data: s}
}

// seenFrom is from where all the screws of a check are seen, "" where that
// differs.
func seenFrom(m domain.Machine, cs *domain.CheckStatus) string {
	from := ""
	for _, a := range m.Profile.AdjustersOf(cs.Check.ID) {
		switch {
		case a.SeenFrom == "":
		case from != "" && from != a.SeenFrom:
			return ""
		default:
			from = a.SeenFrom
		}
	}
	return from
}

// millimetres is a place on a body; nowhere is its middle.
func millimetres(at [2]quantity.Value) (mm [2]float64) {
	for i, v := range at {
		if v.Valid() {
			mm[i] = v.Float(quantity.Millimetre)
		}
	}
	return mm
}
