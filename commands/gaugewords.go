package commands

import (
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// lengthIn is how lengths are shown in a shop where no check says it.
func (w *wording) lengthIn() quantity.Context {
	if w.shop.Units == quantity.Imperial {
		return quantity.Context{Kind: quantity.Length, Entry: quantity.Inch}
	}
	return quantity.Context{Kind: quantity.Length, Entry: quantity.Millimetre}
}

// entryOf is the unit in which a shop reads a kind of quantity by itself.
func (w *wording) entryOf(k quantity.Kind) quantity.Context {
	if k == quantity.Length {
		return w.lengthIn()
	}
	usual := map[quantity.Kind][2]quantity.Unit{quantity.Pressure: {quantity.Bar, quantity.PSI}, quantity.TemperatureStep: {quantity.CelsiusStep, quantity.FahrenheitStep}}
	if u, ok := usual[k]; ok && w.shop.Units == quantity.Imperial {
		return quantity.Context{Kind: k, Entry: u[1]}
	} else if ok {
		return quantity.Context{Kind: k, Entry: u[0]}
	}
	return quantity.Context{Kind: k, Entry: quantity.Base(k)}
}

// gaugeLine says what a gauge is worth.
func (w *wording) gaugeLine(g domain.GaugeUsed, of quantity.Kind) string {
	u := w.entryOf(of).Entry
	b := g.Budget()
	line := w.say("gauge.line", words.D{"Gauge": words.User(g.Name), "Step": short(g.Resolution, u), "U": short(b.U(), u)})
	if g.Repeatability.Valid() {
		line += " " + w.say("gauge.repeats", words.D{"S": short(g.Repeatability, u)})
	}
	return line + w.calibrationLine(g, " ")
}

// calibrationLine says that a gauge's calibration has run out, or "".
func (w *wording) calibrationLine(g domain.GaugeUsed, before string) string {
	since, overdue := g.Calibration().Overdue(w.now)
	if !overdue {
		return ""
	}
	return before + w.say("gauge.overdue", words.D{"Gauge": words.User(g.Name), "Since": words.Time(since, words.Date)})
}

// settleLines say what would settle a reading that is too close to a limit to
// tell: the first position, worst verdict first.
func (c *call) settleLines(m domain.Machine, cs *domain.CheckStatus) []string {
	given := cs.Latest.Reading.Gauge
	all, err := c.gauges(m.Profile, quantity.Base(cs.Check.Kind()).Step().Kind())
	if err != nil {
		return nil // said elsewhere; what would settle it is extra
	}
	var others []metrology.Gauge
	var names []string
	for _, g := range all {
		if fold(g.Name) != fold(given.Name) {
			others, names = append(others, g.Gauge), append(names, g.Name)
		}
	}
	for _, p := range cs.At {
		v := p.Verdict
		limits := v.Adjust
		switch {
		case v.Grade == metrology.MaybeStop:
			limits = v.Stop
		case v.Grade != metrology.Near:
			continue
		}
		s := metrology.Settle(v.Value, limits, given.Gauge, p.Budget, p.Repeats.S, others)
		at := p.Position
		if at == "" {
			at = cs.Check.Name
		}
		d := words.D{"Position": at, "Times": s.Repeats}
		for _, i := range s.Gauges {
			d["Gauge"] = words.User(names[i])
			break
		}
		switch {
		case s.Repeats > 0 && len(s.Gauges) > 0:
			return []string{c.say("settle.both", d)}
		case s.Repeats > 0:
			return []string{c.say("settle.repeats", d)}
		case len(s.Gauges) > 0:
			return []string{c.say("settle.gauge", d)}
		}
		return []string{c.say("settle.none", d)}
	}
	return nil
}

// outlierLines name the repeats that stand apart.
func (w *wording) outlierLines(cs *domain.CheckStatus, r ruler) []string {
	var lines []string
	for i, p := range cs.At {
		if p.Repeats.Outlier >= 0 {
			v := cs.Latest.Reading.Values[i].Repeats[p.Repeats.Outlier]
			lines = append(lines, w.say("reading.outlier", words.D{"Position": place(cs.Check, p.Position), "Value": r.show(v)}))
		}
	}
	return lines
}

// budgetLines are the budget of a position, line by line.
func (w *wording) budgetLines(k *profile.Check, p domain.PositionVerdict, rl ruler) []string {
	b := p.Budget
	unit := rl.unit.Step()
	show := func(u float64) string { return short(quantity.FromFloat(u, quantity.Base(b.Kind)), unit) }
	var parts []string
	for _, l := range b.Lines {
		parts = append(parts, w.say("budget."+string(l.Part), words.D{"U": show(l.U), "Reps": b.N}))
	}
	nu := "∞"
	if b.DoF < 1000 {
		nu = strconv.FormatFloat(b.DoF, 'f', 1, 64)
	}
	return []string{w.say("why.budget", words.D{"Position": place(k, p.Position), "Parts": strings.Join(parts, "; ")}),
		w.say("why.expanded", words.D{"Combined": show(b.Combined), "Nu": nu, "K": strconv.FormatFloat(b.K, 'f', 2, 64), "U": show(b.Expanded)})}
}
