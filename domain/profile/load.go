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
	loader := &loader{walker: walker{file: file}, at: map[string]ast.Node{}}
	sum := sha256.Sum256(text)
	prof := &Profile{Hash: hex.EncodeToString(sum[:])}
	if root := loader.parse(text); root != nil {
		loader.profile(prof, root, params)
		if len(loader.errs) == 0 {
			loader.lint(prof)
		}
	}
	if len(loader.errs) > 0 {
		slices.SortStableFunc(loader.errs, func(a, b Error) int {
			if a.Line != b.Line {
				return a.Line - b.Line
			}
			return a.Column - b.Column
		})
		return nil, loader.errs
	}
	return prof, nil
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

func (l *loader) profile(prof *Profile, root ast.Node, params Params) {
	// What kind it is.
	file := l.mapping(
		root, "setscrew-profile", "kind", "name", "about", "revision", "parameters", "gauges", "checks",
		"adjusters", "caps", "clamping", "services", "events", "symptoms", "dangers", "cautions", "isolation", "return",
		"use", "minutes", "causes", "questions", "test-run", "start", "hazard",
	)
	if format := file.text("setscrew-profile", true, 10); format != "" && format != "1" {
		l.failNode(file.by["setscrew-profile"], describe(file.by["setscrew-profile"]), "format 1")
	}
	prof.Kind = l.id(file, "kind", "kind")
	prof.Name = file.text("name", true, maxName)
	prof.About = file.text("about", false, maxText)
	// How much it is used, and how long things take.
	prof.Typical = Typical{Sessions: usualSessions / 7.0, Hours: quantity.New(1, 1, quantity.Hour)}
	if file.has("use") {
		use := l.mapping(file.by["use"], "sessions-a-week", "hours")
		prof.Typical = Typical{
			Sessions: float64(use.whole("sessions-a-week", true, 1, 1000)) / 7,
			Hours:    l.positive(use, "hours", true, quantity.Duration),
		}
	}
	prof.TestRun = TestRun{Minutes: usualTestRun}
	if file.has("test-run") {
		run := l.mapping(file.by["test-run"], "minutes", "unattended")
		prof.TestRun = TestRun{run.whole("minutes", true, 1, 1440), run.flag("unattended")}
	}
	prof.Minutes = usualMinutes
	if file.has("minutes") {
		minutes := l.mapping(file.by["minutes"], "isolation", "cover", "material", "gauge", "service", "check")
		for _, figure := range []struct {
			key string
			to  *int
		}{
			{"isolation", &prof.Minutes.Isolation}, {"cover", &prof.Minutes.Cover},
			{"material", &prof.Minutes.Material}, {"gauge", &prof.Minutes.Gauge},
			{"service", &prof.Minutes.Service}, {"check", &prof.Minutes.Check},
		} {
			if minutes.has(figure.key) {
				*figure.to = minutes.whole(figure.key, true, 1, 600)
			}
		}
	}
	l.minutes = prof.Minutes
	prof.Revision = file.whole("revision", true, 1, 1_000_000)
	for _, node := range file.items("parameters", false) {
		prof.Parameters = append(prof.Parameters, l.parameter(node))
	}
	// The parameters as they are given, before all that hangs on them.
	l.parameters, l.params = prof.Parameters, Params{}
	for _, parameter := range prof.Parameters {
		l.params[parameter.ID] = parameter.Default
		if given, ok := params[parameter.ID]; ok {
			if !parameter.Can(given) {
				l.failNode(l.at["parameter:"+parameter.ID], parameter.ID+"="+cut(given, 40), parameter.Accepts())
				continue
			}
			l.params[parameter.ID] = given
		}
	}
	for _, id := range slices.Sorted(maps.Keys(params)) {
		if _, ok := l.params[id]; !ok {
			l.failNode(root, "parameter "+id, "a parameter that the profile has")
		}
	}
	// The parts, in the order in which later ones name earlier ones.
	for _, node := range file.items("gauges", file.has("checks")) {
		prof.Gauges = append(prof.Gauges, l.gauge(node, GaugeKinds()))
	}
	for _, node := range file.items("checks", false) {
		prof.Checks = append(prof.Checks, l.check(node))
	}
	for _, node := range file.items("adjusters", false) {
		prof.Adjusters = append(prof.Adjusters, l.adjuster(node))
	}
	for _, node := range file.items("caps", false) {
		cap := l.mapping(node, "check", "marks", "stutters", "step")
		prof.Caps = append(
			prof.Caps,
			Cap{
				cap.text("check", true, 40),
				cap.text("marks", true, 40),
				cap.text("stutters", true, 40),
				l.positive(cap, "step", true, quantity.Length),
			},
		)
		l.at["cap:"+prof.Caps[len(prof.Caps)-1].Check] = node
	}
	if file.has("clamping") {
		prof.Clamping = l.clamping(file.by["clamping"])
	}
	for _, node := range file.items("services", false) {
		prof.Services = append(prof.Services, l.service(node))
	}
	for _, node := range file.items("events", false) {
		prof.Events = append(prof.Events, l.event(node))
	}
	for _, node := range file.items("symptoms", false) {
		prof.Symptoms = append(prof.Symptoms, l.symptom(node))
	}
	for _, node := range file.items("dangers", false) {
		prof.Dangers = append(prof.Dangers, l.danger(node))
	}
	for _, node := range file.items("questions", false) {
		prof.Questions = append(prof.Questions, l.question(node))
	}
	for _, node := range file.items("causes", false) {
		prof.Causes = append(prof.Causes, l.cause(node))
	}
	for _, node := range file.items("cautions", true) {
		caution := l.mapping(node, "id", "text")
		prof.Cautions = append(prof.Cautions,
			Caution{l.id(caution, "id", "caution"), caution.text("text", true, maxText)})
	}
	if file.has("isolation") {
		isolation := l.mapping(file.by["isolation"], "before", "after", "source")
		prof.Isolation = Isolation{
			isolation.texts("before", true, maxText),
			isolation.texts("after", true, maxText),
			isolation.text("source", true, maxText),
		}
	}
	prof.Return = file.texts("return", true, maxText)
	l.start(prof, file)
}

// id reads an id and notes where the thing of that kind stands.
func (l *loader) id(keys fields, key, kind string) string {
	id := keys.text(key, true, 40)
	if id == "" {
		return ""
	}
	if !idPattern.MatchString(id) {
		l.failNode(keys.by[key], describe(keys.by[key]), "lower case letters, digits and hyphens, a letter first")
	}
	if _, twice := l.at[kind+":"+id]; twice {
		l.failNode(keys.by[key], "a second "+kind+" "+id, "each id once")
	}
	l.at[kind+":"+id] = keys.by[key]
	return id
}

// value reads a quantity with its unit; absent if the key is and is not needed.
func (l *loader) value(keys fields, key string, needed bool, kind quantity.Kind) quantity.Value {
	text := keys.text(key, needed, 60)
	if text == "" {
		return quantity.Value{}
	}
	return l.quantity(keys.by[key], text, kind)
}

func (l *loader) quantity(node ast.Node, text string, kind quantity.Kind) quantity.Value {
	parsed, err := quantity.Parse(text, quantity.Context{Kind: kind})
	if err != nil {
		want := kind.String() + " with its unit"
		var refusal *quantity.Refusal
		if errors.As(err, &refusal) {
			want += ", such as " + refusal.Example
		}
		l.failNode(node, strconv.Quote(cut(text, 40)), want)
		return quantity.Value{}
	}
	return parsed.Value
}

func (l *loader) positive(keys fields, key string, needed bool, kind quantity.Kind) quantity.Value {
	value := l.value(keys, key, needed, kind)
	if value.Valid() && value.Sign() <= 0 {
		l.failNode(keys.by[key], describe(keys.by[key]), "more than nothing")
	}
	return value
}

// limits reads "0.035 in to 0.045 in", "at least 1 mm" or "at most 1 mm".
func (l *loader) limits(keys fields, key string, needed bool, kind quantity.Kind) metrology.Limits {
	text := keys.text(key, needed, 80)
	if text == "" {
		return metrology.Limits{}
	}
	node := keys.by[key]
	if low, ok := strings.CutPrefix(text, "at least "); ok {
		return metrology.Limits{Low: l.quantity(node, low, kind)}
	}
	if high, ok := strings.CutPrefix(text, "at most "); ok {
		return metrology.Limits{High: l.quantity(node, high, kind)}
	}
	low, high, ok := strings.Cut(text, " to ")
	if !ok {
		l.failNode(node, strconv.Quote(cut(text, 40)), `"… to …", "at least …" or "at most …"`)
		return metrology.Limits{}
	}
	limits := metrology.Limits{Low: l.quantity(node, low, kind), High: l.quantity(node, high, kind)}
	if limits.Low.Valid() && limits.High.Valid() && limits.Low.Cmp(limits.High) > 0 {
		l.failNode(node, strconv.Quote(text), "the lower limit first")
	}
	return limits
}
