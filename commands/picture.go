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
func Draw(picture Picture) ([]byte, error) {
	switch data := picture.Data.(type) {
	case *plot.Limits:
		return data.PNG()
	case *plot.Moves:
		return data.PNG()
	}
	return nil, fmt.Errorf("no picture is drawn of a %T", picture.Data)
}

// limitSeries is what the picture of a check's limits shows.
func (w *wording) limitSeries(cs *domain.CheckStatus, scale ruler) *plot.Limits {
	k := cs.Check
	if !k.Target.Valid() {
		return nil // no limits to draw
	}
	return w.limits(cs, scale)
}

// limits is a check's readings, with its target and limits where it has any.
func (w *wording) limits(cs *domain.CheckStatus, scale ruler) *plot.Limits {
	check := cs.Check
	series := &plot.Limits{Title: check.Name, Unit: string(scale.unit),
		TargetLabel: w.say("plot.target", nil), AdjustLabel: w.say("plot.adjust", nil),
		StopLabel: w.say("plot.stop", nil)}
	set := func(v quantity.Value, to **float64) {
		if v.Valid() {
			f := v.Float(scale.unit)
			*to = &f
		}
	}
	set(check.Target, &series.Target)
	set(check.Adjust.Low, &series.AdjustLow)
	set(check.Adjust.High, &series.AdjustHigh)
	set(check.Stop.Low, &series.StopLow)
	set(check.Stop.High, &series.StopHigh)
	for _, p := range cs.At {
		series.Points = append(series.Points, plot.Point{Name: p.Position, Value: p.Verdict.Value.Float(scale.unit),
			Uncertainty: p.Verdict.Uncertainty.Float(scale.unit), Label: scale.show(p.Verdict.Value)})
	}
	return series
}

// planPicture is the picture of a plan of more than one move, or nil.
func (c *call) planPicture(machine domain.Machine, cs domain.Adjusting, scale ruler) *Picture {
	// One move needs no picture.
	moving := 0
	for _, mv := range cs.Plan.Moves {
		if mv.ToDo() {
			moving++
		}
	}
	if moving < 2 {
		return nil
	}
	series := &plot.Moves{Limits: c.limits(cs.CheckStatus, scale), InARow: cs.Check.Body == nil,
		Caption: c.say("plot.seen", words.D{"Seen": seenFrom(machine, cs.CheckStatus), "Places": cs.Check.Body != nil})}
	series.Limits.BeforeLabel, series.Limits.AfterLabel = c.say("plot.before", nil), c.say("plot.expected", nil)
	// Each adjuster with what to do to it; the same in words.
	var alt []string
	for _, mv := range cs.Plan.Moves {
		adjuster := machine.Profile.Adjuster(mv.Adjuster)
		label, name := c.say("plot.leave", nil), adjuster.Name
		if cs.Check.Body == nil {
			name = strings.TrimSpace(mv.Position)
		}
		screw := plot.Screw{Name: name}
		if adjuster.SeenFrom != "" && seenFrom(machine, cs.CheckStatus) == "" {
			screw.Name = c.say("plot.from", words.D{"Screw": name, "Seen": adjuster.SeenFrom})
		}
		switch {
		case !mv.ToDo():
		case adjuster.Drive == profile.Slide, adjuster.Drive == profile.Shims:
			label, screw.Way = c.say("plot.slide",
				words.D{"By": scale.travel(mv.By), "Do": c.does(cs.CheckStatus, adjuster, mv)}), plot.Against
			if mv.Grow {
				screw.Way = plot.Along
			}
			alt = append(alt, name+" "+label)
		default:
			label, screw.Way = turnsText(adjuster, mv.Turns.Abs()), plot.CounterClockwise
			if mv.Turns.Sign() > 0 {
				screw.Way = plot.Clockwise
			}
			alt = append(alt, name+" "+label+" "+c.turnWay(mv.Turns.Sign() > 0))
		}
		screw.Label = label
		screw.At = millimetres(adjuster.At)
		series.Screws = append(series.Screws, screw)
	}
	// What is fixed, and the places where it is read.
	if body := cs.Check.Body; body != nil {
		for _, a := range machine.Profile.AdjustersOf(cs.Check.ID) {
			if a.Fixed {
				series.Screws = append(series.Screws,
					plot.Screw{Name: a.Name, Label: c.say("plot.fixed", nil), At: millimetres(a.At)})
			}
		}
		for _, name := range cs.Check.Positions {
			if at, ok := body.Places[name]; ok {
				series.Places = append(series.Places, plot.Place{Name: name, At: millimetres(at)})
			}
		}
	}
	// What each position should read then.
	for _, e := range cs.Plan.Expect {
		series.Limits.After = append(series.Limits.After,
			plot.Point{Name: e.Position, Value: e.Reading.Float(scale.unit),
				Uncertainty: e.U.Float(scale.unit.Step()), Label: scale.show(e.Reading)})
	}
	return &Picture{Name: "moves",
		Alt: c.say("picture.moves", words.D{"Check": capital(cs.Check.Name), "Moves": strings.Join(alt, ", "),
			"Values": c.values(scale, expected(cs))}), Data: series}
}

// seenFrom is from where all the screws of a check are seen, "" where that
// differs.
func seenFrom(m domain.Machine, cs *domain.CheckStatus) string {
	from := ""
	for _, screw := range m.Profile.AdjustersOf(cs.Check.ID) {
		switch {
		case screw.SeenFrom == "":
		case from != "" && from != screw.SeenFrom:
			return ""
		default:
			from = screw.SeenFrom
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
