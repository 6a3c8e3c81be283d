package commands

import (
	"errors"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/upkeep"
)

var gaugeList = &Command{
	Name: "gauge list", Who: Anyone, Quiet: true, Words: 300,
	Examples: []string{`/gauge list`},
}

var gaugeSet = &Command{
	Name: "gauge set", Who: Steward, Quiet: true, Words: 60,
	Options: []Option{{Name: "name", Takes: OwnGauge, Required: true, Max: 40}, {Name: "kind", Takes: GaugeKind},
		{Name: "resolution", Takes: Text, Max: 40}, {Name: "error", Takes: Text, Max: 40}, {Name: "uncertainty", Takes: Text, Max: 40}, {Name: "k", Takes: Text, Max: 5},
		{Name: "calibrated", Takes: Text, Max: 40}, {Name: "interval", Takes: Text, Max: 40}},
	Examples: []string{`/gauge set name:"long dial" kind:dial`, `/gauge set name:"long dial" resolution:"0.01 mm" error:"0.02 mm" calibrated:2026-01-10 interval:"1 year"`,
		`/gauge set name:"long dial" resolution:"0.01 mm" uncertainty:"0.02 mm" k:2`},
}

// gaugeAction confirms a gauge's values as they stand.
const gaugeAction waiting[domain.OwnGauge] = "gauge"

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

// short prints a small quantity to two significant digits.
func short(v quantity.Value, u quantity.Unit) string {
	f, _ := v.Abs().In(u).Float64()
	d := 0
	for x := f; x < 10 && d < 7 && f > 0; x *= 10 {
		d++
	}
	return quantity.Format(v, u, d)
}

// calibrationLine says that a gauge's calibration has run out, or "".
func (w *wording) calibrationLine(g domain.GaugeUsed, before string) string {
	since, overdue := g.Calibration().Overdue(w.now)
	if !overdue {
		return ""
	}
	return before + w.say("gauge.overdue", words.D{"Gauge": words.User(g.Name), "Since": words.Time(since, words.Date)})
}

func runGauges(c *call) (Reply, error) {
	own, err := c.books.Gauges(c)
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("gauge.headline", nil)}
	for _, g := range own {
		line := c.gaugeLine(g.GaugeUsed, g.Measures())
		if g.Starting {
			line += " " + c.say("gauge.starting", nil)
		}
		r.Lines = append(r.Lines, line)
	}
	if len(own) == 0 {
		r.Headline = c.say("gauge.none", nil)
	}
	var kinds []string
	for _, k := range profile.GaugeKinds() {
		kinds = append(kinds, k.Name)
	}
	r.Lines = append(r.Lines, c.say("gauge.kinds", words.D{"Kinds": strings.Join(kinds, ", ")}))
	return r, nil
}

// ownGauge is the shop's own gauge of the name given, if there is one.
func (c *call) ownGauge(name string) (g domain.OwnGauge, ok bool, err error) {
	all, err := c.books.Gauges(c)
	for _, g := range all {
		if fold(g.Name) == fold(name) {
			return g, true, err
		}
	}
	return domain.OwnGauge{}, false, err
}

func runGauge(c *call) (Reply, error) {
	name := words.Clean(c.options["name"])
	g, old, err := c.ownGauge(name)
	if err != nil {
		return Reply{}, err
	}
	if !old {
		g.Name = name
	}
	if c.options["kind"] != "" {
		var among []named
		for _, k := range profile.GaugeKinds() {
			among = append(among, named{k.ID, k.Name})
		}
		i, err := c.lookUp("kind", "gaugekind", among)
		if err != nil {
			return Reply{}, err
		}
		k := profile.GaugeKinds()[i]
		kept := g
		g = domain.OwnGauge{GaugeUsed: domain.FromProfile(k), Kind: k.ID, Starting: true, Of: k.Of}
		g.Name, g.Calibrated, g.Interval = kept.Name, kept.Calibrated, kept.Interval
		if kept.Name == "" {
			g.Name = name
		}
	}
	if r, err := c.gaugeValues(&g); err != nil || r.Headline != "" {
		return r, err
	}
	if !g.Resolution.Valid() || !g.Error.Valid() && !g.Uncertainty.Valid() {
		return Reply{}, &userError{key: "gauge.values", example: c.exampleWith("resolution", "0.01 mm", "kind") + ` error:"0.02 mm"`}
	}
	o, err := c.report(domain.Machine{}, domain.GaugeSet{Gauge: g})
	if err != nil {
		return Reply{}, err
	}
	r := Reply{Headline: c.say("gauge.done", words.D{"Gauge": c.gaugeLine(g.GaugeUsed, g.Measures()), "No": o.Fact.No})}
	if g.Starting {
		r.Lines = append(r.Lines, c.say("gauge.confirm", words.D{"Source": profile.GaugeKind(g.Kind).Source}))
		r.Buttons = []Button{{Label: c.say("button.gauge", nil), Style: Primary, Custom: wait(c, gaugeAction, g)}}
	}
	return r, nil
}

func runGaugeConfirmed(c *call, g domain.OwnGauge) (Reply, error) {
	if g.Name == "" {
		return Reply{}, noSuchButton()
	}
	g.Starting = false
	o, err := c.report(domain.Machine{}, domain.GaugeSet{Gauge: g})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.say("gauge.done", words.D{"Gauge": c.gaugeLine(g.GaugeUsed, g.Measures()), "No": o.Fact.No})}, nil
}

// gaugeValues reads a gauge's own values. A reply with a headline is a question.
func (c *call) gaugeValues(g *domain.OwnGauge) (Reply, error) {
	ctx := c.entryOf(g.Measures())
	for _, o := range []struct {
		name string
		to   *quantity.Value
	}{{"resolution", &g.Resolution}, {"error", &g.Error}, {"uncertainty", &g.Uncertainty}} {
		text := c.options[o.name]
		if text == "" {
			continue
		}
		p, err := quantity.Parse(text, ctx)
		if err != nil {
			return c.askOrRefuse(err, o.name, nil, "")
		}
		if p.Value.Sign() <= 0 {
			return Reply{}, &userError{key: "gauge.positive", data: words.D{"Option": o.name}, example: gaugeSet.Examples[1]}
		}
		*o.to, g.Starting = p.Value, false
	}
	switch {
	case c.options["error"] != "" && c.options["uncertainty"] != "":
		return Reply{}, &userError{key: "gauge.both", example: gaugeSet.Examples[1]}
	case c.options["error"] != "":
		g.Uncertainty, g.Coverage = quantity.Value{}, 0
	case c.options["uncertainty"] != "":
		g.Error, g.Coverage = quantity.Value{}, 2
	}
	if k := c.options["k"]; k != "" {
		f, err := strconv.ParseFloat(k, 64)
		if err != nil || !(f >= 1 && f <= 5) {
			return Reply{}, &userError{key: "gauge.k", data: words.D{"Given": words.User(k)}, example: gaugeSet.Examples[2]}
		}
		g.Coverage = f
	}
	if t := c.options["calibrated"]; t != "" {
		on, err := upkeep.ParseWhen(t, c.now, c.shop.Location())
		var w *upkeep.WhenError
		if errors.As(err, &w) {
			return Reply{}, &userError{key: "when." + string(w.Code), data: words.D{"Given": words.User(t)}, example: c.exampleWith("calibrated", "2026-01-10")}
		}
		g.Calibrated = on
	}
	if t := c.options["interval"]; t != "" {
		days := 0
		if n, unit, _ := strings.Cut(fold(t), " "); unit == "year" || unit == "years" {
			years, err := strconv.Atoi(n)
			if err == nil && years < 100 {
				days = 365 * years
			}
		} else {
			p, err := quantity.Parse(t, quantity.Context{Kind: quantity.Duration, Entry: quantity.Day})
			if err != nil {
				return c.askOrRefuse(err, "interval", nil, "1 year")
			}
			days = int(min(p.Value.Float(quantity.Day), 1e6))
		}
		if days < 1 || days > 3660 {
			return Reply{}, &userError{key: "gauge.interval", data: words.D{"Given": words.User(t)}, example: c.exampleWith("interval", "1 year")}
		}
		g.Interval = days
	}
	return Reply{}, nil
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

// percent prints a probability for people: never as a certainty.
func percent(p float64) string {
	switch {
	case p > 0.995:
		return "over 99 %"
	case p < 0.005:
		return "under 1 %"
	}
	return strconv.FormatFloat(100*p, 'f', 0, 64) + " %"
}
