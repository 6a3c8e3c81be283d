package profile

import (
	"math/big"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

func (l *loader) check(n ast.Node) Check {
	keys := l.mapping(
		n, "id", "name", "class", "inspection", "running", "isolated", "second-person", "from", "follows",
		"measured", "each", "positions", "body", "of", "times", "target", "adjust", "stop", "modes", "alike",
		"example", "gauge", "entry", "decimals", "every", "fail", "minutes", "source",
	)
	check := Check{
		ID:         l.id(keys, "id", "check"),
		Name:       keys.text("name", true, maxName),
		Class:      Class(keys.word("class", true, string(Safety), string(Quality))),
		Inspection: keys.flag("inspection"),
		Running:    keys.flag("running"),
		Isolated:   keys.flag("isolated"),
		Second:     keys.flag("second-person"),
		From:       l.from(keys),
		Measured:   keys.text("measured", true, maxText),
		Source:     keys.text("source", true, maxText),
	}
	check.Minutes = l.minutesOf(keys, l.minutes.Check)
	if keys.has("every") {
		r := l.rule(keys.by["every"])
		if r.Hours.Valid() {
			l.failNode(keys.by["every"], "hours", "a check's interval in days")
		}
		check.Every = &r
	}
	// An inspection measures nothing.
	if check.Inspection {
		check.Fail = keys.text("fail", true, maxText)
		for _, key := range []string{"follows", "positions", "each", "body", "of", "times", "target", "adjust",
			"stop", "modes", "alike", "example", "gauge", "entry", "decimals"} {
			if keys.has(key) {
				l.failNode(keys.by[key], key, "none: an inspection passes or does not")
			}
		}
		return check
	}
	if check.Second {
		l.failNode(keys.by["second-person"], "second-person", "none: only an inspection is confirmed")
	}
	if keys.has("follows") {
		w := l.mapping(keys.by["follows"], "check", "opposite")
		check.Follows = &Follows{w.text("check", true, 40), w.flag("opposite")}
	}
	// What is measured, where, and between which limits.
	kind := quantity.Length
	if keys.has("of") {
		kind = l.kind(keys, "of")
	}
	check.Positions = l.positions(keys)
	check.Of = kind
	if keys.has("body") {
		check.Body = l.body(keys.by["body"], check.Positions)
	}
	l.values(keys, &check)
	if keys.has("alike") {
		a := l.mapping(keys.by["alike"], "adjust", "stop")
		check.AlikeAdjust = l.positive(a, "adjust", true, quantity.Base(kind).Step().Kind())
		check.AlikeStop = l.positive(a, "stop", false, quantity.Base(kind).Step().Kind())
	}
	if check.Example = l.value(keys, "example", !keys.has("target") && !keys.has("modes"),
		kind); !check.Example.Valid() {
		check.Example = check.Target
	}
	// With what, and how it is typed and printed.
	check.Gauge = keys.text("gauge", true, 40)
	check.Entry = map[quantity.System]quantity.Unit{}
	check.Decimals = map[quantity.System]int{}
	e := l.bySystem(keys, "entry")
	d := l.bySystem(keys, "decimals")
	for _, s := range []quantity.System{quantity.Metric, quantity.Imperial} {
		u := quantity.Unit(e.text(s.String(), true, 10))
		if e.has(s.String()) && u.Kind() != kind {
			l.failNode(
				e.by[s.String()],
				describe(e.by[s.String()]),
				"a unit of "+kind.String()+", such as "+string(quantity.Base(kind)),
			)
		}
		check.Entry[s] = u
		check.Decimals[s] = d.whole(s.String(), true, 0, 6)
	}
	return check
}

// from reads the checks that one is measured from: an id, or a list of them.
func (l *loader) from(f fields) []string {
	if _, ok := source(f.by["from"]); ok {
		return []string{f.text("from", false, 40)}
	}
	return f.texts("from", false, 40)
}

// values reads a check's target and limits, of each mode where it has modes.
func (l *loader) values(f fields, c *Check) {
	factor := l.factor(f)
	read := func(f fields, needed bool) (target quantity.Value, adjust, stop metrology.Limits) {
		target = l.value(f, "target", needed, c.Of)
		adjust, stop = l.limits(f, "adjust", needed, c.Of), l.limits(f, "stop", false, c.Of)
		for _, v := range []*quantity.Value{&target, &adjust.Low, &adjust.High, &stop.Low, &stop.High} {
			if v.Valid() {
				*v = v.Mul(factor)
			}
		}
		return target, adjust, stop
	}
	if !f.has("modes") {
		c.Target, c.Adjust, c.Stop = read(f, !f.has("alike"))
		return
	}
	for _, key := range []string{"target", "adjust", "stop"} {
		if f.has(key) {
			l.failNode(f.by[key], key, "none: each mode has its own")
		}
	}
	seen := map[string]bool{}
	for _, n := range f.items("modes", true) {
		m := l.mapping(n, "id", "name", "target", "adjust", "stop")
		mode := Mode{ID: m.text("id", true, 20), Name: m.text("name", true, maxName)}
		if !idPattern.MatchString(mode.ID) || seen[mode.ID] {
			l.failNode(n, strconv.Quote(mode.ID), "an id of its own, lower case")
		}
		seen[mode.ID] = true
		mode.Target, mode.Adjust, mode.Stop = read(m, true)
		c.Modes = append(c.Modes, mode)
	}
	if len(c.Modes) > 0 {
		m := c.Modes[0]
		c.Mode, c.Target, c.Adjust, c.Stop = m.ID, m.Target, m.Adjust, m.Stop
	}
}

// factor is what a check's values are multiplied by: a parameter's length over
// a given one.
func (l *loader) factor(f fields) *big.Rat {
	one := big.NewRat(1, 1)
	if !f.has("times") {
		return one
	}
	t := l.mapping(f.by["times"], "parameter", "over")
	id, over := t.text("parameter", true, 40), l.positive(t, "over", true, quantity.Length)
	i := slices.IndexFunc(l.parameters, func(p Parameter) bool { return p.ID == id && p.Takes == Size })
	if i < 0 {
		l.failNode(t.by["parameter"], strconv.Quote(id), "a parameter that is a length")
		return one
	}
	p, err := quantity.Parse(l.params[id], quantity.Context{Kind: quantity.Length})
	if err != nil || !over.Valid() {
		return one // told already
	}
	return p.Value.Per(over)
}

func (l *loader) bySystem(f fields, key string) fields {
	if !f.has(key) {
		f.missing(key, key+": {metric: …, inch: …}")
		return fields{&walker{}, nil, nil}
	}
	return l.mapping(f.by[key], "metric", "inch")
}

// positions are a check's positions, a set of them for each of a parameter's
// number where "each" names one.
func (l *loader) positions(f fields) []string {
	each := f.text("each", false, 40)
	names := f.texts("positions", each != "", maxName)
	if len(names) == 0 {
		return []string{""}
	}
	if each == "" {
		return names
	}
	n := l.count(f, "each")
	var all []string
	for i := 1; i <= n; i++ {
		for _, p := range names {
			if !strings.Contains(p, "#") {
				l.failNode(f.by["positions"], strconv.Quote(p), "a # where the number goes")
				return names
			}
			all = append(all, strings.ReplaceAll(p, "#", strconv.Itoa(i)))
		}
	}
	return all
}
