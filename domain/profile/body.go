package profile

import (
	"math"
	"slices"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/linkage"
	"setscrew/domain/quantity"
)

// BodyKind is how the adjusters of a body move its readings.
type BodyKind string

// The bodies: a rigid bar on two adjusters; a plate on three or more; a head that
// is tilted about its middle; a workpiece between centres, of which one is moved
// across; a belt that is tensioned.
const (
	Bar   BodyKind = "bar"
	Plate BodyKind = "plate"
	Tilt  BodyKind = "tilt"
	Taper BodyKind = "taper"
	Belt  BodyKind = "belt"
)

// Body is what the adjusters of a check move together.
type Body struct {
	Kind    BodyKind
	Places  map[string][2]quantity.Value // where each position is read
	Centres quantity.Value               // taper: from the headstock's centre to the tailstock's; belt: between pulleys

	// Of a belt: its mass per length, its tension for a strain of one, and the
	// diameters of its pulleys.
	Mass, Stiffness, Large, Small quantity.Value
}

// Tension is a belt's tension by a reading: by the frequency of its free span, or
// by the force that deflects that at its middle by 1/64 of it.
func (b *Body) Tension(reading quantity.Value) quantity.Value {
	span := b.Span().Float(quantity.Metre)
	if reading.Kind() == quantity.Force {
		return quantity.FromFloat(
			linkage.TensionByForce(reading.Float(quantity.Newton), span, linkage.Deflection(span)),
			quantity.Newton,
		)
	}
	return quantity.FromFloat(
		linkage.TensionByFrequency(b.Mass.Float(quantity.KilogramMetre), span, reading.Float(quantity.Hertz)),
		quantity.Newton,
	)
}

// Length is the length of an open belt.
func (b *Body) Length() quantity.Value {
	return quantity.FromFloat(
		linkage.OpenBelt(
			b.Large.Float(quantity.Metre),
			b.Small.Float(quantity.Metre),
			b.Centres.Float(quantity.Metre),
		),
		quantity.Metre,
	)
}

// Angle is how far a tilted head stands off, or half the angle of a taper, from
// readings in the order of positions.
func (b *Body) Angle(positions []string, readings []quantity.Value) (quantity.Value, error) {
	var at, read []float64
	for i, name := range positions {
		at = append(at, b.Places[name][0].Float(quantity.Millimetre))
		read = append(read, readings[i].Float(quantity.Millimetre))
	}
	angle, err := linkage.Tilt(at, read)
	if err == nil && b.Kind == Taper && len(at) == 2 {
		angle = linkage.Taper(read[0], read[1], at[1]-at[0])
	}
	return quantity.FromFloat(angle*180/math.Pi, quantity.Degree), err
}

// SetOver is how far the tailstock must be moved away from the tool so that a
// piece with two collars of those diameters turns parallel.
func (b *Body) SetOver(positions []string, readings []quantity.Value) quantity.Value {
	mm := func(v quantity.Value) float64 { return v.Float(quantity.Millimetre) }
	apart := mm(b.Places[positions[1]][0]) - mm(b.Places[positions[0]][0])
	return quantity.FromFloat(
		linkage.SetOver(mm(readings[0]), mm(readings[1]), apart, mm(b.Centres)),
		quantity.Millimetre,
	)
}

// Span is the free length of a belt between its pulleys.
func (b *Body) Span() quantity.Value {
	return quantity.FromFloat(
		linkage.Span(b.Large.Float(quantity.Metre), b.Small.Float(quantity.Metre), b.Centres.Float(quantity.Metre)),
		quantity.Metre,
	)
}

func (l *loader) body(node ast.Node, positions []string) *Body {
	keys := l.mapping(node, "kind", "places", "centres", "mass", "stiffness", "large", "small")
	body := &Body{
		Kind: BodyKind(keys.word("kind", true, string(Bar), string(Plate), string(Tilt), string(Taper),
			string(Belt))),
		Places: map[string][2]quantity.Value{},
	}
	need := func(key string, kind quantity.Kind, on ...BodyKind) quantity.Value {
		needed := slices.Contains(on, body.Kind)
		if !needed && keys.has(key) {
			l.failNode(keys.by[key], key, "none for a "+string(body.Kind))
			return quantity.Value{}
		}
		return l.sized(keys, key, needed, kind)
	}
	body.Centres = need("centres", quantity.Length, Taper, Belt)
	body.Mass, body.Stiffness = need("mass", quantity.LinearDensity, Belt), need("stiffness", quantity.Force, Belt)
	body.Large, body.Small = need("large", quantity.Length, Belt), need("small", quantity.Length, Belt)
	if body.Kind == Belt {
		return body
	}
	if !keys.has("places") {
		keys.missing("places", "places: where each position is read")
		return body
	}
	places := l.mapping(keys.by["places"], positions...)
	for _, name := range positions {
		if !places.has(name) {
			places.missing(name, name+": where it is read")
			continue
		}
		body.Places[name] = l.point(places.by[name], body.Kind == Plate)
	}
	return body
}

// sized reads a quantity above nothing, or the value of a parameter of that name.
func (l *loader) sized(keys fields, key string, needed bool, kind quantity.Kind) quantity.Value {
	if node := keys.by[key]; node != nil && kind == quantity.Length {
		name, _ := source(node)
		for _, parameter := range l.parameters {
			if parameter.ID == name && parameter.Takes == Size {
				return l.quantity(node, l.params[parameter.ID], kind)
			}
		}
	}
	return l.positive(keys, key, needed, kind)
}

// point reads a place: a length along a bar, or two on a plate.
func (l *loader) point(node ast.Node, plate bool) (at [2]quantity.Value) {
	at[1] = quantity.Zero(quantity.Length)
	if !plate {
		text, ok := source(node)
		if !ok {
			l.failNode(node, describe(node), "a length along it, such as 20 mm")
			return at
		}
		at[0] = l.quantity(node, text, quantity.Length)
		return at
	}
	list, ok := node.(*ast.SequenceNode)
	if !ok || len(list.Values) != 2 {
		l.failNode(node, describe(node), "two lengths, across and along, such as [20 mm, 15 mm]")
		return at
	}
	for i, length := range list.Values {
		text, _ := source(length)
		at[i] = l.quantity(length, text, quantity.Length)
	}
	return at
}
