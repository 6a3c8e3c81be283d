package profile

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math/big"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/quantity"
)

// The lengths of texts that people see.
const (
	maxName = 60
	maxText = 300
)

// Load reads a profile's file with params put in for its parameters; those not
// given take their defaults. The error is Errors: every mistake in the file,
// each with its place and what was expected there.
func Load(file string, text []byte, params map[string]int) (*Profile, error) {
	l := &loader{walker: walker{file: file}, at: map[string]ast.Node{}}
	sum := sha256.Sum256(text)
	p := &Profile{Hash: hex.EncodeToString(sum[:])}
	if root := l.parse(text); root != nil {
		l.profile(p, root, params)
		if len(l.errs) == 0 {
			l.lint(p)
		}
	}
	if len(l.errs) > 0 {
		slices.SortStableFunc(l.errs, func(a, b Error) int {
			if a.Line != b.Line {
				return a.Line - b.Line
			}
			return a.Column - b.Column
		})
		return nil, l.errs
	}
	return p, nil
}

type loader struct {
	walker
	params map[string]int
	at     map[string]ast.Node // where things stand, for the linter: "check:infeed"
}

var idPattern = regexp.MustCompile(`^[a-z][a-z0-9-]{0,39}$`)

func (l *loader) profile(p *Profile, root ast.Node, params map[string]int) {
	f := l.mapping(root, "setscrew-profile", "kind", "name", "about", "revision", "parameters", "gauges", "checks",
		"adjusters", "services", "symptoms", "cautions", "return")
	if v := f.text("setscrew-profile", true, 10); v != "" && v != "1" {
		l.failNode(f.by["setscrew-profile"], describe(f.by["setscrew-profile"]), "format 1")
	}
	p.Kind = l.id(f, "kind", "kind")
	p.Name = f.text("name", true, maxName)
	p.About = f.text("about", false, maxText)
	p.Revision = f.whole("revision", true, 1, 1_000_000)
	for _, n := range f.items("parameters", false) {
		p.Parameters = append(p.Parameters, l.parameter(n))
	}
	l.params = map[string]int{}
	for _, q := range p.Parameters {
		l.params[q.ID] = q.Default
		if v, ok := params[q.ID]; ok {
			if v < q.Min || v > q.Max {
				l.failNode(l.at["parameter:"+q.ID], fmt.Sprintf("%s=%d", q.ID, v), fmt.Sprintf("%d to %d", q.Min, q.Max))
				continue
			}
			l.params[q.ID] = v
		}
	}
	for id := range params {
		if _, ok := l.params[id]; !ok {
			l.failNode(root, "parameter "+id, "a parameter that the profile has")
		}
	}
	for _, n := range f.items("gauges", true) {
		p.Gauges = append(p.Gauges, l.gauge(n))
	}
	for _, n := range f.items("checks", true) {
		p.Checks = append(p.Checks, l.check(n))
	}
	for _, n := range f.items("adjusters", false) {
		p.Adjusters = append(p.Adjusters, l.adjuster(n))
	}
	for _, n := range f.items("services", false) {
		p.Services = append(p.Services, l.service(n))
	}
	for _, n := range f.items("symptoms", false) {
		p.Symptoms = append(p.Symptoms, l.symptom(n))
	}
	for _, n := range f.items("cautions", true) {
		c := l.mapping(n, "id", "text")
		p.Cautions = append(p.Cautions, Caution{l.id(c, "id", "caution"), c.text("text", true, maxText)})
	}
	p.Return = f.texts("return", true, maxText)
}

// id reads an id and notes where the thing of that kind stands.
func (l *loader) id(f fields, key, kind string) string {
	id := f.text(key, true, 40)
	if id == "" {
		return ""
	}
	if !idPattern.MatchString(id) {
		l.failNode(f.by[key], describe(f.by[key]), "lower case letters, digits and hyphens, a letter first")
	}
	if _, twice := l.at[kind+":"+id]; twice {
		l.failNode(f.by[key], "a second "+kind+" "+id, "each id once")
	}
	l.at[kind+":"+id] = f.by[key]
	return id
}

func (l *loader) parameter(n ast.Node) Parameter {
	f := l.mapping(n, "id", "name", "default", "min", "max")
	p := Parameter{ID: l.id(f, "id", "parameter"), Name: f.text("name", true, maxName),
		Min: f.whole("min", true, 0, 100), Max: f.whole("max", true, 0, 100)}
	p.Default = f.whole("default", true, p.Min, max(p.Min, p.Max))
	return p
}

func (l *loader) gauge(n ast.Node) Gauge {
	f := l.mapping(n, "id", "name", "resolution", "uncertainty", "k")
	g := Gauge{ID: l.id(f, "id", "gauge"), Name: f.text("name", true, maxName),
		Resolution:  l.positive(f, "resolution", true, quantity.Length),
		Uncertainty: l.positive(f, "uncertainty", true, quantity.Length)}
	k, err := strconv.ParseFloat(f.text("k", true, 10), 64)
	if f.has("k") && (err != nil || !(k >= 1 && k <= 5)) {
		l.failNode(f.by["k"], describe(f.by["k"]), "a coverage factor from 1 to 5")
	}
	g.Coverage = k
	return g
}

// value reads a quantity with its unit; absent if the key is and is not needed.
func (l *loader) value(f fields, key string, needed bool, kind quantity.Kind) quantity.Value {
	s := f.text(key, needed, 60)
	if s == "" {
		return quantity.Value{}
	}
	return l.quantity(f.by[key], s, kind)
}

func (l *loader) quantity(n ast.Node, s string, kind quantity.Kind) quantity.Value {
	p, err := quantity.Parse(s, quantity.Context{Kind: kind})
	if err != nil {
		want := kind.String() + " with its unit"
		var r *quantity.Refusal
		if errors.As(err, &r) {
			want += ", such as " + r.Example
		}
		l.failNode(n, strconv.Quote(cut(s, 40)), want)
		return quantity.Value{}
	}
	return p.Value
}

func (l *loader) positive(f fields, key string, needed bool, kind quantity.Kind) quantity.Value {
	v := l.value(f, key, needed, kind)
	if v.Valid() && v.Sign() <= 0 {
		l.failNode(f.by[key], describe(f.by[key]), "more than nothing")
	}
	return v
}

// band reads "0.035 in to 0.045 in", "at least 1 mm" or "at most 1 mm".
func (l *loader) band(f fields, key string, needed bool, kind quantity.Kind) Band {
	s := f.text(key, needed, 80)
	if s == "" {
		return Band{}
	}
	n := f.by[key]
	if v, ok := strings.CutPrefix(s, "at least "); ok {
		return Band{Low: l.quantity(n, v, kind)}
	}
	if v, ok := strings.CutPrefix(s, "at most "); ok {
		return Band{High: l.quantity(n, v, kind)}
	}
	low, high, ok := strings.Cut(s, " to ")
	if !ok {
		l.failNode(n, strconv.Quote(cut(s, 40)), `"… to …", "at least …" or "at most …"`)
		return Band{}
	}
	b := Band{l.quantity(n, low, kind), l.quantity(n, high, kind)}
	if b.Low.Valid() && b.High.Valid() && b.Low.Cmp(b.High) > 0 {
		l.failNode(n, strconv.Quote(s), "the lower limit first")
	}
	return b
}

var kindsByName = map[string]quantity.Kind{"length": quantity.Length, "angle": quantity.Angle}

func (l *loader) check(n ast.Node) Check {
	f := l.mapping(n, "id", "name", "class", "inspection", "from", "measured", "each", "positions", "of", "target", "adjust", "stop",
		"alike", "gauge", "entry", "decimals", "every", "fail", "source")
	c := Check{ID: l.id(f, "id", "check"), Name: f.text("name", true, maxName),
		Class: Class(f.word("class", true, string(Safety), string(Quality))), Inspection: f.flag("inspection"),
		From: f.text("from", false, 40), Measured: f.text("measured", true, maxText), Source: f.text("source", true, maxText)}
	if f.has("every") {
		r := l.rule(f.by["every"])
		if r.Hours.Valid() {
			l.failNode(f.by["every"], "hours", "a check's interval in days")
		}
		c.Every = &r
	}
	if c.Inspection {
		c.Fail = f.text("fail", true, maxText)
		for _, key := range []string{"positions", "each", "of", "target", "adjust", "stop", "alike", "gauge", "entry", "decimals"} {
			if f.has(key) {
				l.failNode(f.by[key], key, "none: an inspection passes or does not")
			}
		}
		return c
	}
	kind := quantity.Length
	if of := f.word("of", false, "length", "angle"); of != "" {
		kind = kindsByName[of]
	}
	c.Positions = l.positions(f)
	c.Target = l.value(f, "target", true, kind)
	c.Adjust = l.band(f, "adjust", true, kind)
	c.Stop = l.band(f, "stop", false, kind)
	if f.has("alike") {
		a := l.mapping(f.by["alike"], "adjust", "stop")
		c.AlikeAdjust = l.positive(a, "adjust", true, kind)
		c.AlikeStop = l.positive(a, "stop", false, kind)
	}
	c.Gauge = f.text("gauge", true, 40)
	c.Entry = map[quantity.System]quantity.Unit{}
	c.Decimals = map[quantity.System]int{}
	e := l.bySystem(f, "entry")
	d := l.bySystem(f, "decimals")
	for _, s := range []quantity.System{quantity.Metric, quantity.Imperial} {
		u := quantity.Unit(e.text(s.String(), true, 10))
		if e.has(s.String()) && u.Kind() != kind {
			l.failNode(e.by[s.String()], describe(e.by[s.String()]), "a unit of "+kind.String()+", such as mm, thou, in or °")
		}
		c.Entry[s] = u
		c.Decimals[s] = d.whole(s.String(), true, 0, 6)
	}
	return c
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
	n, ok := l.params[each]
	if !ok {
		l.failNode(f.by["each"], strconv.Quote(each), "a parameter")
		return names
	}
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

var inchThread = regexp.MustCompile(`^(?:#\d{1,2}|\d{1,2}/\d{1,2}|\d{1,2})-(\d{1,2})$`)

func (l *loader) adjuster(n ast.Node) Adjuster {
	f := l.mapping(n, "id", "name", "check", "position", "thread", "lead", "clockwise", "seen-from", "positive", "increment")
	a := Adjuster{ID: l.id(f, "id", "adjuster"), Name: f.text("name", true, maxName), Check: f.text("check", true, 40),
		Position: f.text("position", false, maxName), Thread: f.text("thread", true, 20),
		Lead:      l.positive(f, "lead", false, quantity.Length),
		Clockwise: Sense(f.word("clockwise", true, string(Raises), string(Lowers))), SeenFrom: f.text("seen-from", true, maxName),
		Positive: Sense(f.word("positive", true, string(Up), string(Down))), Increment: l.positive(f, "increment", true, quantity.Turns)}
	// An inch thread says its own lead: 1/4-20 has 20 threads an inch.
	if m := inchThread.FindStringSubmatch(a.Thread); m != nil {
		tpi, _ := strconv.ParseInt(m[1], 10, 64)
		if tpi == 0 {
			l.failNode(f.by["thread"], describe(f.by["thread"]), "a thread such as 1/4-20 or M6")
			return a
		}
		lead := quantity.FromRat(big.NewRat(1, tpi), quantity.Inch)
		if a.Lead.Valid() && !a.Lead.Equal(lead) {
			l.failNode(f.by["lead"], describe(f.by["lead"]), "the lead of its thread, "+quantity.Typed(lead, quantity.Inch))
		}
		a.Lead = lead
	} else if !a.Lead.Valid() && f.has("thread") {
		f.missing("lead", "lead: travel in one turn, since "+a.Thread+" does not say it")
	}
	return a
}

func (l *loader) rule(n ast.Node) Rule {
	f := l.mapping(n, "hours", "days", "late-hours", "late-days")
	r := Rule{Hours: l.positive(f, "hours", false, quantity.Duration), Days: f.whole("days", false, 1, 3660),
		LateHours: l.positive(f, "late-hours", false, quantity.Duration), LateDays: f.whole("late-days", false, 1, 3660)}
	if !f.has("hours") && !f.has("days") {
		f.missing("hours or days", "how often")
	}
	return r
}

func (l *loader) service(n ast.Node) Service {
	f := l.mapping(n, "id", "name", "class", "every", "material", "tools", "steps", "cautions", "moves", "source")
	s := Service{ID: l.id(f, "id", "service"), Name: f.text("name", true, maxName),
		Class:    ServiceClass(f.word("class", true, string(RoutineService), string(ImportantService), string(SafetyService))),
		Material: f.text("material", false, maxText), Tools: f.texts("tools", false, maxText), Steps: f.texts("steps", true, maxText),
		Cautions: f.texts("cautions", false, maxText), Moves: f.texts("moves", false, 40), Source: f.text("source", true, maxText)}
	if f.has("every") {
		s.Every = l.rule(f.by["every"])
	}
	return s
}

func (l *loader) symptom(n ast.Node) Symptom {
	f := l.mapping(n, "id", "name", "danger", "words", "advice")
	return Symptom{ID: l.id(f, "id", "symptom"), Name: f.text("name", true, maxName), Danger: f.flag("danger"),
		Words: f.texts("words", false, maxName), Advice: f.text("advice", true, maxText)}
}
