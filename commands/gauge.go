package commands

import (
	"errors"
	"strconv"
	"strings"

	"setscrew/commands/words"
	"setscrew/domain"
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
