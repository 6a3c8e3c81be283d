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
func (w *wording) entryOf(kind quantity.Kind) quantity.Context {
	if kind == quantity.Length {
		return w.lengthIn()
	}
	usual := map[quantity.Kind][2]quantity.Unit{quantity.Pressure: {quantity.Bar, quantity.PSI},
		quantity.TemperatureStep: {quantity.CelsiusStep, quantity.FahrenheitStep}}
	if u, ok := usual[kind]; ok && w.shop.Units == quantity.Imperial {
		return quantity.Context{Kind: kind, Entry: u[1]}
	} else if ok {
		return quantity.Context{Kind: kind, Entry: u[0]}
	}
	return quantity.Context{Kind: kind, Entry: quantity.Base(kind)}
}

// gaugeLine says what a gauge is worth.
func (w *wording) gaugeLine(gauge domain.GaugeUsed, of quantity.Kind) string {
	unit := w.entryOf(of).Entry
	b := gauge.Budget()
	line := w.say("gauge.line", words.D{"Gauge": words.User(gauge.Name), "Step": short(gauge.Resolution, unit),
		"U": short(b.U(), unit)})
	if gauge.Repeatability.Valid() {
		line += " " + w.say("gauge.repeats", words.D{"S": short(gauge.Repeatability, unit)})
	}
	return line + w.calibrationLine(gauge, " ")
}

// gaugeSetLine says that a gauge was stored, and what it is worth.
func (w *wording) gaugeSetLine(gauge domain.OwnGauge, no domain.FactNo) string {
	return w.say("gauge.done", words.D{"Gauge": w.gaugeLine(gauge.GaugeUsed, gauge.Measures()), "No": no})
}

// calibrationLine says that a gauge's calibration has run out, or "".
func (w *wording) calibrationLine(gauge domain.GaugeUsed, before string) string {
	since, overdue := gauge.Calibration().Overdue(w.now)
	if !overdue {
		return ""
	}
	return before + w.say("gauge.overdue", words.D{"Gauge": words.User(gauge.Name), "Since": words.Time(since,
		words.Date)})
}

// settleLines say what would settle a reading that is too close to a limit to
// tell: the first position, worst verdict first.
func (c *call) settleLines(m domain.Machine, cs *domain.CheckStatus) []string {
	given := cs.Latest.Reading.Gauge
	all, err := c.gauges(m.Profile, quantity.Base(cs.Check.Kind()).Step().Kind())
	if err != nil {
		return nil // said elsewhere; what would settle it is extra
	}
	// Another gauge may tell where this one cannot.
	var others []metrology.Gauge
	var names []string
	for _, g := range all {
		if fold(g.Name) != fold(given.Name) {
			others, names = append(others, g.Gauge), append(names, g.Name)
		}
	}
	// The first position that stands too near a limit.
	for _, verdict := range cs.At {
		judged := verdict.Verdict
		limits := judged.Adjust
		switch {
		case judged.Grade == metrology.MaybeStop:
			limits = judged.Stop
		case judged.Grade != metrology.Near:
			continue
		}
		settling := metrology.Settle(judged.Value, limits, given.Gauge, verdict.Budget, verdict.Repeats.S, others)
		at := verdict.Position
		if at == "" {
			at = cs.Check.Name
		}
		data := words.D{"Position": at, "Times": settling.Repeats}
		for _, i := range settling.Gauges {
			data["Gauge"] = words.User(names[i])
			break
		}
		switch {
		case settling.Repeats > 0 && len(settling.Gauges) > 0:
			return []string{c.say("settle.both", data)}
		case settling.Repeats > 0:
			return []string{c.say("settle.repeats", data)}
		case len(settling.Gauges) > 0:
			return []string{c.say("settle.gauge", data)}
		}
		return []string{c.say("settle.none", data)}
	}
	return nil
}

// outlierLines name the repeats that stand apart.
func (w *wording) outlierLines(cs *domain.CheckStatus, scale ruler) []string {
	var lines []string
	for i, p := range cs.At {
		if p.Repeats.Outlier >= 0 {
			v := cs.Latest.Reading.Values[i].Repeats[p.Repeats.Outlier]
			lines = append(lines, w.say("reading.outlier",
				words.D{"Position": place(cs.Check, p.Position), "Value": scale.show(v)}))
		}
	}
	return lines
}

// budgetLines are the budget of a position, line by line.
func (w *wording) budgetLines(check *profile.Check, at domain.PositionVerdict, scale ruler) []string {
	budget := at.Budget
	unit := scale.unit.Step()
	show := func(u float64) string { return short(quantity.FromFloat(u, quantity.Base(budget.Kind)), unit) }
	var parts []string
	for _, l := range budget.Lines {
		parts = append(parts, w.say("budget."+string(l.Part), words.D{"U": show(l.U), "Reps": budget.N}))
	}
	nu := "∞"
	if budget.DoF < 1000 {
		nu = strconv.FormatFloat(budget.DoF, 'f', 1, 64)
	}
	return []string{w.say("why.budget",
		words.D{"Position": place(check, at.Position), "Parts": strings.Join(parts, "; ")}),
		w.say("why.expanded", words.D{"Combined": show(budget.Combined), "Nu": nu,
			"K": strconv.FormatFloat(budget.K, 'f', 2, 64), "U": show(budget.Expanded)})}
}
