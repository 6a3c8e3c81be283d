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
func (l *loader) gauge(node ast.Node, known []Gauge) Gauge {
	keys := l.mapping(node, "id", "kind", "name", "of", "resolution", "error", "uncertainty", "k", "zeroed", "source")
	gauge := Gauge{Of: quantity.Length}
	// A known kind is the starting point; without one every key is needed.
	kind := keys.text("kind", false, 40)
	if kind != "" {
		i := slices.IndexFunc(known, func(k Gauge) bool { return k.ID == kind })
		if i < 0 {
			l.failNode(keys.by["kind"], strconv.Quote(kind), "a kind of gauge")
			return gauge
		}
		gauge = known[i]
	}
	// What the file says itself goes before the kind's.
	gauge.ID = l.id(keys, "id", "gauge")
	gauge.Kind = kind
	if keys.has("name") || kind == "" {
		gauge.Name = keys.text("name", true, maxName)
	}
	if keys.has("of") {
		gauge.Of = l.kind(keys, "of")
	}
	if keys.has("resolution") || kind == "" {
		gauge.Resolution = l.positive(keys, "resolution", true, gauge.Of)
	}
	if keys.has("error") || keys.has("uncertainty") || kind == "" {
		gauge.Error, gauge.Uncertainty = l.positive(keys, "error", false, gauge.Of),
			l.positive(keys, "uncertainty", false, gauge.Of)
		if keys.has("error") == keys.has("uncertainty") {
			keys.missing("error or uncertainty", "one of the two: how far it may be off")
		}
	}
	// An uncertainty means something only with its coverage factor.
	if keys.has("uncertainty") {
		k, err := strconv.ParseFloat(keys.text("k", true, 10), 64)
		if keys.has("k") && (err != nil || !(k >= 1 && k <= 5)) {
			l.failNode(keys.by["k"], describe(keys.by["k"]), "a coverage factor from 1 to 5")
		}
		gauge.Coverage = k
	}
	if keys.has("zeroed") {
		gauge.Zeroed = keys.flag("zeroed")
	}
	if keys.has("source") || kind == "" {
		gauge.Source = keys.text("source", kind == "" && known == nil, maxText)
	}
	return gauge
}

// kind reads what something measures.
func (l *loader) kind(keys fields, key string) quantity.Kind {
	name := keys.text(key, true, 40)
	measured, ok := quantity.KindNamed(name)
	if !ok && name != "" {
		l.failNode(keys.by[key], describe(keys.by[key]), "what is measured, such as length, angle or pressure")
		return quantity.Length
	}
	return measured
}
