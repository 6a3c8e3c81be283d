package profile

import (
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"sync"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

// Gauge is an instrument with starting values: one of a kind that Setscrew knows,
// or one that a profile describes itself.
type Gauge struct {
	ID, Name string
	Kind     string        // the id of the kind that it is one of, or ""
	Of       quantity.Kind // what it measures; of a thermometer the step
	Source   string
	metrology.Gauge
}

//go:embed gauges.yaml
var gaugeKinds []byte

// GaugeKinds lists the kinds of gauge that Setscrew knows, with starting values.
var GaugeKinds = sync.OnceValue(func() []Gauge {
	l := &loader{walker: walker{file: "gauges.yaml"}, at: map[string]ast.Node{}}
	var all []Gauge
	if root := l.parse(gaugeKinds); root != nil {
		list := fields{&l.walker, root, map[string]ast.Node{"gauges": root}}
		for _, n := range list.items("gauges", true) {
			all = append(all, l.gauge(n, nil))
		}
	}
	if len(l.errs) > 0 {
		panic(fmt.Sprint("profile: ", l.errs)) // the file is part of the program
	}
	return all
})

// GaugeKind finds a kind of gauge by its id, or nil.
func GaugeKind(id string) *Gauge {
	return at(GaugeKinds(), func(g *Gauge) bool { return g.ID == id })
}

// gauge reads a gauge. One that names a kind among known takes from it what it
// does not say itself.
func (l *loader) gauge(n ast.Node, known []Gauge) Gauge {
	f := l.mapping(n, "id", "kind", "name", "of", "resolution", "error", "uncertainty", "k", "zeroed", "source")
	g := Gauge{Of: quantity.Length}
	kind := f.text("kind", false, 40)
	if kind != "" {
		i := slices.IndexFunc(known, func(k Gauge) bool { return k.ID == kind })
		if i < 0 {
			l.failNode(f.by["kind"], strconv.Quote(kind), "a kind of gauge")
			return g
		}
		g = known[i]
	}
	g.ID = l.id(f, "id", "gauge")
	g.Kind = kind
	if f.has("name") || kind == "" {
		g.Name = f.text("name", true, maxName)
	}
	if f.has("of") {
		g.Of = l.kind(f, "of")
	}
	if f.has("resolution") || kind == "" {
		g.Resolution = l.positive(f, "resolution", true, g.Of)
	}
	if f.has("error") || f.has("uncertainty") || kind == "" {
		g.Error, g.Uncertainty = l.positive(f, "error", false, g.Of), l.positive(f, "uncertainty", false, g.Of)
		if f.has("error") == f.has("uncertainty") {
			f.missing("error or uncertainty", "one of the two: how far it may be off")
		}
	}
	if f.has("uncertainty") {
		k, err := strconv.ParseFloat(f.text("k", true, 10), 64)
		if f.has("k") && (err != nil || !(k >= 1 && k <= 5)) {
			l.failNode(f.by["k"], describe(f.by["k"]), "a coverage factor from 1 to 5")
		}
		g.Coverage = k
	}
	if f.has("zeroed") {
		g.Zeroed = f.flag("zeroed")
	}
	if f.has("source") || kind == "" {
		g.Source = f.text("source", kind == "" && known == nil, maxText)
	}
	return g
}

// kind reads what something measures.
func (l *loader) kind(f fields, key string) quantity.Kind {
	name := f.text(key, true, 40)
	k, ok := quantity.KindNamed(name)
	if !ok && name != "" {
		l.failNode(f.by[key], describe(f.by[key]), "what is measured, such as length, angle or pressure")
		return quantity.Length
	}
	return k
}
