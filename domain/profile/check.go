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

func (l *loader) check(node ast.Node) Check {
	// What any check has.
	keys := l.mapping(
		node, "id", "name", "class", "inspection", "running", "isolated", "second-person", "qualified", "on-demand",
		"moves", "from", "follows", "measured", "each", "positions", "body", "of", "times", "target", "adjust", "stop",
		"modes", "alike", "example", "gauge", "entry", "decimals", "every", "fail", "minutes", "source", "each-use",
		"authority", "gonogo", "outer", "law", "plausible",
	)
	check := Check{
		ID:         l.id(keys, "id", "check"),
		Name:       keys.text("name", true, maxName),
		Class:      Class(keys.word("class", true, string(Safety), string(Quality))),
		Inspection: keys.flag("inspection"),
		Running:    keys.flag("running"),
		Isolated:   keys.flag("isolated"),
		Second:     keys.flag("second-person"),
		Qualified:  keys.flag("qualified"),
		OnDemand:   keys.flag("on-demand"),
		Surfaces:   keys.texts("moves", false, 40),
		From:       l.from(keys),
		Measured:   keys.text("measured", true, maxText),
		Source:     keys.text("source", true, maxText),
	}
	// How often it is made, and who holds it to that.
	check.Minutes = l.minutesOf(keys, l.minutes.Check)
	if keys.has("every") {
		r := l.rule(keys.by["every"])
		if r.Hours.Valid() {
			l.failNode(keys.by["every"], "hours", "a check's interval in days")
		}
		check.Every = &r
	}
	l.heldBy(keys, &check)
	law := keys.flag("law")
	if law || check.Authority {
		check.Fixed = &Fixed{Every: check.Every}
	}
	// An inspection measures nothing.
	if check.Inspection {
		check.Fail = keys.text("fail", true, maxText)
		for _, key := range []string{"follows", "positions", "each", "body", "of", "times", "target", "adjust",
			"stop", "modes", "alike", "example", "gauge", "entry", "decimals", "gonogo", "outer", "plausible"} {
			if keys.has(key) {
				l.failNode(keys.by[key], key, "none: an inspection passes or does not")
			}
		}
		return check
	}
	// What only an inspection has.
	if check.Second {
		l.failNode(keys.by["second-person"], "second-person", "none: only an inspection is confirmed")
	}
	for _, key := range []string{"qualified", "moves"} {
		if keys.has(key) {
			l.failNode(keys.by[key], key, "none: that is for inspections")
		}
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
	// How much its positions may differ, what proves its limits and who has given them.
	if keys.has("alike") {
		alike := l.mapping(keys.by["alike"], "adjust", "stop")
		check.AlikeAdjust = l.positive(alike, "adjust", true, quantity.Base(kind).Step().Kind())
		check.AlikeStop = l.positive(alike, "stop", false, quantity.Base(kind).Step().Kind())
	}
	if keys.has("gonogo") {
		check.GoNoGo = l.goNoGo(keys.by["gonogo"], kind)
	}
	if keys.has("outer") {
		outer := l.mapping(keys.by["outer"], "limits", "source")
		check.Outer = &Outer{l.limits(outer, "limits", true, kind), outer.text("source", true, maxText)}
	}
	check.Plausible = l.limits(keys, "plausible", false, kind)
	if check.Fixed != nil {
		check.Fixed.Stop, check.Fixed.AlikeStop = check.Stop, check.AlikeStop
	}
	if check.Example = l.value(keys, "example", !keys.has("target") && !keys.has("modes"),
		kind); !check.Example.Valid() {
		check.Example = check.Target
	}
	// With what, and how it is typed and printed.
	check.Gauge = keys.text("gauge", true, 40)
	check.Entry = map[quantity.System]quantity.Unit{}
	check.Decimals = map[quantity.System]int{}
	entry := l.bySystem(keys, "entry")
	decimals := l.bySystem(keys, "decimals")
	for _, system := range []quantity.System{quantity.Metric, quantity.Imperial} {
		unit := quantity.Unit(entry.text(system.String(), true, 10))
		if entry.has(system.String()) && unit.Kind() != kind {
			l.failNode(
				entry.by[system.String()],
				describe(entry.by[system.String()]),
				"a unit of "+kind.String()+", such as "+string(quantity.Base(kind)),
			)
		}
		check.Entry[system] = unit
		check.Decimals[system] = decimals.whole(system.String(), true, 0, 6)
	}
	return check
}

// goNoGo reads the check that passes or fails by itself and proves limits of a
// dimension.
func (l *loader) goNoGo(node ast.Node, kind quantity.Kind) *GoNoGo {
	keys := l.mapping(node, "how", "proves", "source")
	return &GoNoGo{How: keys.text("how", true, maxText), Proves: l.limits(keys, "proves", true, kind),
		Source: keys.text("source", true, maxText)}
}

// heldBy reads whether an inspection is made before each use, so that it never falls
// due, or demanded by an authority at its late limit.
func (l *loader) heldBy(keys fields, check *Check) {
	check.EachUse, check.Authority = keys.flag("each-use"), keys.flag("authority")
	if check.EachUse && (!check.Inspection || check.Every != nil) {
		l.failNode(keys.by["each-use"], "each-use", "an inspection without every: it never falls due")
	}
	if check.Authority && (!check.Inspection || check.Every == nil || check.Every.LateDays == 0) {
		l.failNode(keys.by["authority"], "authority", "an inspection with every and late-days: its date")
	}
}

// from reads the checks that one is measured from: an id, or a list of them.
func (l *loader) from(f fields) []string {
	if _, ok := source(f.by["from"]); ok {
		return []string{f.text("from", false, 40)}
	}
	return f.texts("from", false, 40)
}

// values reads a check's target and limits, of each mode where it has modes.
func (l *loader) values(keys fields, check *Check) {
	factor := l.factor(keys)
	read := func(keys fields, needed bool) (target quantity.Value, adjust, stop metrology.Limits) {
		target = l.value(keys, "target", needed, check.Of)
		adjust, stop = l.limits(keys, "adjust", needed, check.Of), l.limits(keys, "stop", false, check.Of)
		for _, value := range []*quantity.Value{&target, &adjust.Low, &adjust.High, &stop.Low, &stop.High} {
			if value.Valid() {
				*value = value.Mul(factor)
			}
		}
		return target, adjust, stop
	}
	// Values stand either with the check or with each of its modes.
	if !keys.has("modes") {
		check.Target, check.Adjust, check.Stop = read(keys, !keys.has("alike"))
		return
	}
	for _, key := range []string{"target", "adjust", "stop"} {
		if keys.has(key) {
			l.failNode(keys.by[key], key, "none: each mode has its own")
		}
	}
	// With modes each has its own; the first stands until the machine is set to another.
	seen := map[string]bool{}
	for _, node := range keys.items("modes", true) {
		own := l.mapping(node, "id", "name", "target", "adjust", "stop")
		mode := Mode{ID: own.text("id", true, 20), Name: own.text("name", true, maxName)}
		if !idPattern.MatchString(mode.ID) || seen[mode.ID] {
			l.failNode(node, strconv.Quote(mode.ID), "an id of its own, lower case")
		}
		seen[mode.ID] = true
		mode.Target, mode.Adjust, mode.Stop = read(own, true)
		check.Modes = append(check.Modes, mode)
	}
	if len(check.Modes) > 0 {
		first := check.Modes[0]
		check.Mode, check.Target, check.Adjust, check.Stop = first.ID, first.Target, first.Adjust, first.Stop
	}
}

// factor is what a check's values are multiplied by: a parameter's length over
// a given one.
func (l *loader) factor(keys fields) *big.Rat {
	one := big.NewRat(1, 1)
	if !keys.has("times") {
		return one
	}
	times := l.mapping(keys.by["times"], "parameter", "over")
	id, over := times.text("parameter", true, 40), l.positive(times, "over", true, quantity.Length)
	i := slices.IndexFunc(l.parameters, func(p Parameter) bool { return p.ID == id && p.Takes == Size })
	if i < 0 {
		l.failNode(times.by["parameter"], strconv.Quote(id), "a parameter that is a length")
		return one
	}
	length, err := quantity.Parse(l.params[id], quantity.Context{Kind: quantity.Length})
	if err != nil || !over.Valid() {
		return one // told already
	}
	return length.Value.Per(over)
}

func (l *loader) bySystem(given fields, key string) fields {
	if !given.has(key) {
		given.missing(key, key+": {metric: …, inch: …}")
		return fields{&walker{}, nil, nil}
	}
	return l.mapping(given.by[key], "metric", "inch")
}

// positions are a check's positions, a set of them for each of a parameter's
// number where "each" names one.
func (l *loader) positions(keys fields) []string {
	each := keys.text("each", false, 40)
	names := keys.texts("positions", each != "", maxName)
	if len(names) == 0 {
		return []string{""}
	}
	if each == "" {
		return names
	}
	count := l.count(keys, "each")
	var all []string
	for i := 1; i <= count; i++ {
		for _, name := range names {
			if !strings.Contains(name, "#") {
				l.failNode(keys.by["positions"], strconv.Quote(name), "a # where the number goes")
				return names
			}
			all = append(all, strings.ReplaceAll(name, "#", strconv.Itoa(i)))
		}
	}
	return all
}
