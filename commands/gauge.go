package commands

import (
	"bytes"
	"encoding/json"
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
		{Name: "resolution", Takes: Text, Max: 40}, {Name: "error", Takes: Text, Max: 40},
		{Name: "uncertainty", Takes: Text, Max: 40}, {Name: "k", Takes: Text, Max: 5},
		{Name: "calibrated", Takes: Text, Max: 40}, {Name: "interval", Takes: Text, Max: 40}},
	Examples: []string{`/gauge set name:"long dial" kind:dial`,
		`/gauge set name:"long dial" resolution:"0.01 mm" error:"0.02 mm" calibrated:2026-01-10 interval:"1 year"`,
		`/gauge set name:"long dial" resolution:"0.01 mm" uncertainty:"0.02 mm" k:2`},
}

// gaugeAction confirms a gauge's values as they stand.
const gaugeAction waiting[domain.OwnGauge] = "gauge"

// runGauges lists the shop's own gauges with what each is worth, and the kinds there are.
func runGauges(c *call) (Reply, error) {
	own, err := c.books.Gauges(c)
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.say("gauge.headline", nil)}
	for _, g := range own {
		line := c.gaugeLine(g.GaugeUsed, g.Measures())
		if g.Starting {
			line += " " + c.say("gauge.starting", nil)
		}
		reply.Lines = append(reply.Lines, line)
	}
	if len(own) == 0 {
		reply.Headline = c.say("gauge.none", nil)
	}
	var kinds []string
	for _, k := range profile.GaugeKinds() {
		kinds = append(kinds, k.Name)
	}
	reply.Lines = append(reply.Lines, c.say("gauge.kinds", words.D{"Kinds": strings.Join(kinds, ", ")}))
	return reply, nil
}

// runGauge stores a gauge of the shop's own, by its values or by a kind whose starting
// values a steward is asked to confirm; one that is there is changed.
func runGauge(c *call) (Reply, error) {
	name := words.Clean(c.options["name"])
	gauge, old, err := c.ownGauge(name)
	if err != nil {
		return Reply{}, err
	}
	if !old {
		gauge.Name = name
	}
	// A kind brings starting values; what was said of this gauge stays.
	if c.options["kind"] != "" {
		var among []named
		for _, k := range profile.GaugeKinds() {
			among = append(among, named{ID: k.ID, Name: k.Name})
		}
		i, err := c.lookUp("kind", "gaugekind", among)
		if err != nil {
			return Reply{}, err
		}
		k := profile.GaugeKinds()[i]
		kept := gauge
		gauge = domain.OwnGauge{GaugeUsed: domain.FromProfile(k), Kind: k.ID, Starting: true, Of: k.Of}
		gauge.Name, gauge.Calibrated, gauge.Interval = kept.Name, kept.Calibrated, kept.Interval
		if kept.Name == "" {
			gauge.Name = name
		}
	}
	// What is typed counts before them.
	if r, err := c.gaugeValues(&gauge); err != nil || r.Headline != "" {
		return r, err
	}
	if !gauge.Resolution.Valid() || !gauge.Error.Valid() && !gauge.Uncertainty.Valid() {
		return Reply{}, &userError{key: "gauge.values", example: c.exampleWith("resolution", "0.01 mm", "kind") +
			` error:"0.02 mm"`}
	}
	outcome, err := c.report(domain.Machine{}, domain.GaugeSet{Gauge: gauge})
	if err != nil {
		return Reply{}, err
	}
	reply := Reply{Headline: c.gaugeSetLine(gauge, outcome.Fact.No)}
	if gauge.Starting {
		reply.Lines = append(reply.Lines,
			c.say("gauge.confirm", words.D{"Source": profile.GaugeKind(gauge.Kind).Source}))
		reply.Buttons = []Button{{Label: c.say("button.gauge", nil), Style: Primary,
			Custom: wait(c, gaugeAction, gauge)}}
	}
	return reply, nil
}

// runGaugeConfirmed stores that a gauge's starting values are its own.
func runGaugeConfirmed(c *call, gauge domain.OwnGauge) (Reply, error) {
	// As they stood when it was offered: what was changed since is not put back.
	now, ok, err := c.ownGauge(gauge.Name)
	if err != nil {
		return Reply{}, err
	}
	if !ok || !sameGauge(gauge, now) {
		return Reply{}, noSuchButton()
	}
	gauge.Starting = false
	outcome, err := c.report(domain.Machine{}, domain.GaugeSet{Gauge: gauge})
	if err != nil {
		return Reply{}, err
	}
	return Reply{Replaces: true, Headline: c.gaugeSetLine(gauge, outcome.Fact.No)}, nil
}

// sameGauge reports whether two gauges say the same; exact values that are equal may
// be kept in more than one way.
func sameGauge(a, b domain.OwnGauge) bool {
	one, errA := json.Marshal(a)
	other, errB := json.Marshal(b)
	return errA == nil && errB == nil && bytes.Equal(one, other)
}

// gaugeValues reads a gauge's own values. A reply with a headline is a question.
func (c *call) gaugeValues(own *domain.OwnGauge) (Reply, error) {
	// Resolution, largest error and uncertainty, which are quantities.
	ctx := c.entryOf(own.Measures())
	for _, given := range []struct {
		name string
		to   *quantity.Value
	}{{"resolution", &own.Resolution}, {"error", &own.Error}, {"uncertainty", &own.Uncertainty}} {
		text := c.options[given.name]
		if text == "" {
			continue
		}
		parsed, err := quantity.Parse(text, ctx)
		if err != nil {
			return c.askOrRefuse(err, given.name, nil, "")
		}
		if parsed.Value.Sign() <= 0 {
			return Reply{}, &userError{key: "gauge.positive", data: words.D{"Option": given.name},
				example: gaugeSet.Examples[1]}
		}
		*given.to, own.Starting = parsed.Value, false
	}
	// Error and uncertainty are two ways to say the same.
	switch {
	case c.options["error"] != "" && c.options["uncertainty"] != "":
		return Reply{}, &userError{key: "gauge.both", example: gaugeSet.Examples[1]}
	case c.options["error"] != "":
		own.Uncertainty, own.Coverage = quantity.Value{}, 0
	case c.options["uncertainty"] != "":
		own.Error, own.Coverage = quantity.Value{}, 2
	}
	if k := c.options["k"]; k != "" {
		factor, err := strconv.ParseFloat(k, 64)
		if err != nil || !(factor >= 1 && factor <= 5) {
			return Reply{}, &userError{key: "gauge.k", data: words.D{"Given": words.User(k)},
				example: gaugeSet.Examples[2]}
		}
		own.Coverage = factor
	}
	// When it was calibrated, and for how long that holds.
	if t := c.options["calibrated"]; t != "" {
		on, err := upkeep.ParseWhen(t, c.shop.Clocks(c.now))
		if err != nil {
			return Reply{}, c.noTime(err, "calibrated", "")
		}
		own.Calibrated = on
	}
	if typed := c.options["interval"]; typed != "" {
		days := 0
		if n, unit, _ := strings.Cut(fold(typed), " "); unit == "year" || unit == "years" {
			years, err := strconv.Atoi(n)
			if err == nil && years < 100 {
				days = 365 * years
			}
		} else {
			p, err := quantity.Parse(typed, quantity.Context{Kind: quantity.Duration, Entry: quantity.Day})
			if err != nil {
				return c.askOrRefuse(err, "interval", nil, "1 year")
			}
			days = int(min(p.Value.Float(quantity.Day), 1e6))
		}
		if days < 1 || days > 3660 {
			return Reply{}, &userError{key: "gauge.interval", data: words.D{"Given": words.User(typed)},
				example: c.exampleWith("interval", "1 year")}
		}
		own.Interval = days
	}
	return Reply{}, nil
}
