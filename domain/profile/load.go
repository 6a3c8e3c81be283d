package profile

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/metrology"
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
func Load(file string, text []byte, params Params) (*Profile, error) {
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
	parameters []Parameter
	params     Params
	minutes    Minutes
	at         map[string]ast.Node // where things stand, for the linter: "check:infeed"
}

// usualSessions is how often a week a machine is used of which the profile does not
// say. Common practice, no source.
const usualSessions = 4

var idPattern = regexp.MustCompile(`^[a-z][a-z0-9-]{0,39}$`)

func (l *loader) profile(p *Profile, root ast.Node, params Params) {
	file := l.mapping(
		root, "setscrew-profile", "kind", "name", "about", "revision", "parameters", "gauges", "checks",
		"adjusters", "caps", "clamping", "services", "events", "symptoms", "dangers", "cautions", "isolation", "return",
		"use", "minutes", "causes", "questions",
	)
	if v := file.text("setscrew-profile", true, 10); v != "" && v != "1" {
		l.failNode(file.by["setscrew-profile"], describe(file.by["setscrew-profile"]), "format 1")
	}
	p.Kind = l.id(file, "kind", "kind")
	p.Name = file.text("name", true, maxName)
	p.About = file.text("about", false, maxText)
	// How much it is used, and how long things take.
	p.Typical = Typical{Sessions: usualSessions / 7.0, Hours: quantity.New(1, 1, quantity.Hour)}
	if file.has("use") {
		u := l.mapping(file.by["use"], "sessions-a-week", "hours")
		p.Typical = Typical{
			Sessions: float64(u.whole("sessions-a-week", true, 1, 1000)) / 7,
			Hours:    l.positive(u, "hours", true, quantity.Duration),
		}
	}
	p.Minutes = usualMinutes
	if file.has("minutes") {
		m := l.mapping(file.by["minutes"], "isolation", "cover", "material", "gauge", "service", "check")
		for _, x := range []struct {
			key string
			to  *int
		}{
			{"isolation", &p.Minutes.Isolation}, {"cover", &p.Minutes.Cover}, {"material", &p.Minutes.Material},
			{"gauge", &p.Minutes.Gauge}, {"service", &p.Minutes.Service}, {"check", &p.Minutes.Check},
		} {
			if m.has(x.key) {
				*x.to = m.whole(x.key, true, 1, 600)
			}
		}
	}
	l.minutes = p.Minutes
	p.Revision = file.whole("revision", true, 1, 1_000_000)
	for _, n := range file.items("parameters", false) {
		p.Parameters = append(p.Parameters, l.parameter(n))
	}
	// The parameters as they are given, before all that hangs on them.
	l.parameters, l.params = p.Parameters, Params{}
	for _, q := range p.Parameters {
		l.params[q.ID] = q.Default
		if v, ok := params[q.ID]; ok {
			if !q.Can(v) {
				l.failNode(l.at["parameter:"+q.ID], q.ID+"="+cut(v, 40), q.Accepts())
				continue
			}
			l.params[q.ID] = v
		}
	}
	for _, id := range slices.Sorted(maps.Keys(params)) {
		if _, ok := l.params[id]; !ok {
			l.failNode(root, "parameter "+id, "a parameter that the profile has")
		}
	}
	// The parts, in the order in which later ones name earlier ones.
	for _, n := range file.items("gauges", true) {
		p.Gauges = append(p.Gauges, l.gauge(n, GaugeKinds()))
	}
	for _, n := range file.items("checks", true) {
		p.Checks = append(p.Checks, l.check(n))
	}
	for _, n := range file.items("adjusters", false) {
		p.Adjusters = append(p.Adjusters, l.adjuster(n))
	}
	for _, n := range file.items("caps", false) {
		c := l.mapping(n, "check", "marks", "stutters", "step")
		p.Caps = append(
			p.Caps,
			Cap{
				c.text("check", true, 40),
				c.text("marks", true, 40),
				c.text("stutters", true, 40),
				l.positive(c, "step", true, quantity.Length),
			},
		)
		l.at["cap:"+p.Caps[len(p.Caps)-1].Check] = n
	}
	if file.has("clamping") {
		p.Clamping = l.clamping(file.by["clamping"])
	}
	for _, n := range file.items("services", false) {
		p.Services = append(p.Services, l.service(n))
	}
	for _, n := range file.items("events", false) {
		p.Events = append(p.Events, l.event(n))
	}
	for _, n := range file.items("symptoms", false) {
		p.Symptoms = append(p.Symptoms, l.symptom(n))
	}
	for _, n := range file.items("dangers", false) {
		p.Dangers = append(p.Dangers, l.danger(n))
	}
	for _, n := range file.items("questions", false) {
		p.Questions = append(p.Questions, l.question(n))
	}
	for _, n := range file.items("causes", false) {
		p.Causes = append(p.Causes, l.cause(n))
	}
	for _, n := range file.items("cautions", true) {
		c := l.mapping(n, "id", "text")
		p.Cautions = append(p.Cautions, Caution{l.id(c, "id", "caution"), c.text("text", true, maxText)})
	}
	if file.has("isolation") {
		i := l.mapping(file.by["isolation"], "before", "after", "source")
		p.Isolation = Isolation{
			i.texts("before", true, maxText),
			i.texts("after", true, maxText),
			i.text("source", true, maxText),
		}
	}
	p.Return = file.texts("return", true, maxText)
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

// limits reads "0.035 in to 0.045 in", "at least 1 mm" or "at most 1 mm".
func (l *loader) limits(f fields, key string, needed bool, kind quantity.Kind) metrology.Limits {
	s := f.text(key, needed, 80)
	if s == "" {
		return metrology.Limits{}
	}
	n := f.by[key]
	if v, ok := strings.CutPrefix(s, "at least "); ok {
		return metrology.Limits{Low: l.quantity(n, v, kind)}
	}
	if v, ok := strings.CutPrefix(s, "at most "); ok {
		return metrology.Limits{High: l.quantity(n, v, kind)}
	}
	low, high, ok := strings.Cut(s, " to ")
	if !ok {
		l.failNode(n, strconv.Quote(cut(s, 40)), `"… to …", "at least …" or "at most …"`)
		return metrology.Limits{}
	}
	b := metrology.Limits{Low: l.quantity(n, low, kind), High: l.quantity(n, high, kind)}
	if b.Low.Valid() && b.High.Valid() && b.Low.Cmp(b.High) > 0 {
		l.failNode(n, strconv.Quote(s), "the lower limit first")
	}
	return b
}
