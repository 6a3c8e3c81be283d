package profile

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"setscrew/domain/linkage"
	"setscrew/domain/quantity"
)

// Sense is which way something points or goes.
type Sense string

// What turning clockwise does, and which way a check's positive readings point:
// the two of a line are one direction, and each line is followed by its opposite.
const (
	Raises   Sense = "raises"
	Up       Sense = "up"
	Lowers   Sense = "lowers"
	Down     Sense = "down"
	Opens    Sense = "opens"
	Open     Sense = "open"
	Closes   Sense = "closes"
	Closed   Sense = "closed"
	Tightens Sense = "tightens"
	Tight    Sense = "tight"
	Slackens Sense = "slackens"
	Slack    Sense = "slack"
	Advances Sense = "advances" // towards the operator or the tool
	Forward  Sense = "forward"
	Retracts Sense = "retracts"
	Back     Sense = "back"
)

// directions are what a move can do, one way and the other.
var directions = []direction{{Raises, Up, Lowers, Down}, {Opens, Open, Closes, Closed}, {Tightens, Tight, Slackens, Slack}, {Advances, Forward, Retracts, Back}}

type direction struct{ does, points, undoes, counter Sense }

// Drive is how an adjuster moves what it moves.
type Drive string

// The drives: a screw, by its lead; an eccentric, by its throw; something
// slackened and slid; shims under a base.
const (
	Screw     Drive = "screw"
	Eccentric Drive = "eccentric"
	Slide     Drive = "slide"
	Shims     Drive = "shims"
)

// Adjuster is a screw or its like that moves one position of a check, or with
// others the body of one check or more.
type Adjuster struct {
	ID, Name string
	Check    string   // the check that it is set for
	Also     []string // other checks of the same body that it moves
	Position string   // the one that it moves, where the check has no body
	At       [2]quantity.Value
	Drive    Drive
	Fixed    bool // a foot that is never turned; the others are set to it

	Thread    string         // as it is named: "1/4-20", "M6"
	Lead      quantity.Value // travel, or angle, in one turn of what it moves; of an eccentric its throw
	Clockwise Sense          // what it does, as seen from the tool's end; of a slide: what moving it on does
	SeenFrom  string         // what that end is: "the key"
	Positive  Sense          // which way readings grow
	Increment quantity.Value // turns that a hand can set
	Useful    quantity.Value // the least turn worth making, or absent
	Play      quantity.Value // turns lost at most when it is reversed, or absent
	Approach  int            // the way to finish every turn: +1 clockwise, -1 counter-clockwise, 0 any
	Travel    quantity.Value // turns that it may go either way from where it stood when it was set up, or absent
	Lock      string         // what is slackened before and tightened after: "jam nut"

	Stock []quantity.Value // thicknesses of shims
}

// Turned reports whether it is turned, so that its sense matters.
func (a *Adjuster) Turned() bool {
	return !a.Fixed && (a.Drive == Screw || a.Drive == Eccentric)
}

// Raising reports whether turning clockwise does what the first of the senses
// does: raises, opens, tightens, advances.
func (a *Adjuster) Raising() bool {
	return slices.ContainsFunc(directions, func(d direction) bool { return d.does == a.Clockwise })
}

// Growing reports whether turning clockwise makes readings grow.
func (a *Adjuster) Growing() bool {
	return a.Raising() == slices.ContainsFunc(directions, func(d direction) bool { return d.points == a.Positive })
}

// Does is what a move does that makes readings grow, or shrink.
func (a *Adjuster) Does(grow bool) Sense {
	for _, d := range directions {
		switch {
		case a.Positive == d.points && grow, a.Positive == d.counter && !grow:
			return d.does
		case a.Positive == d.points, a.Positive == d.counter:
			return d.undoes
		}
	}
	return ""
}

// Points is where a reading stands that is too great, or too small: up, slack.
func (a *Adjuster) Points(great bool) Sense {
	for _, d := range directions {
		switch {
		case a.Positive == d.points && great, a.Positive == d.counter && !great:
			return d.points
		case a.Positive == d.points, a.Positive == d.counter:
			return d.counter
		}
	}
	return ""
}

// Moves reports whether the adjuster moves a check.
func (a *Adjuster) Moves(check string) bool {
	return a.Check == check || slices.Contains(a.Also, check)
}

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
func (b *Body) Tension(v quantity.Value) quantity.Value {
	span := b.Span().Float(quantity.Metre)
	if v.Kind() == quantity.Force {
		return quantity.FromFloat(linkage.TensionByForce(v.Float(quantity.Newton), span, linkage.Deflection(span)), quantity.Newton)
	}
	return quantity.FromFloat(linkage.TensionByFrequency(b.Mass.Float(quantity.KilogramMetre), span, v.Float(quantity.Hertz)), quantity.Newton)
}

// Length is the length of an open belt.
func (b *Body) Length() quantity.Value {
	return quantity.FromFloat(linkage.OpenBelt(b.Large.Float(quantity.Metre), b.Small.Float(quantity.Metre), b.Centres.Float(quantity.Metre)), quantity.Metre)
}

// Angle is how far a tilted head stands off, or half the angle of a taper, from
// readings in the order of positions.
func (b *Body) Angle(positions []string, readings []quantity.Value) (quantity.Value, error) {
	var at, read []float64
	for i, name := range positions {
		at, read = append(at, b.Places[name][0].Float(quantity.Millimetre)), append(read, readings[i].Float(quantity.Millimetre))
	}
	angle, err := linkage.Tilt(at, read)
	if err == nil && b.Kind == Taper && len(at) == 2 {
		angle = linkage.Taper(read[0], read[1], at[1]-at[0])
	}
	return quantity.FromFloat(angle*180/math.Pi, quantity.Degree), err
}

// SetOver is how far the tailstock is to be moved away from the tool so that a
// piece with two collars of those diameters turns parallel.
func (b *Body) SetOver(positions []string, readings []quantity.Value) quantity.Value {
	mm := func(v quantity.Value) float64 { return v.Float(quantity.Millimetre) }
	apart := mm(b.Places[positions[1]][0]) - mm(b.Places[positions[0]][0])
	return quantity.FromFloat(linkage.SetOver(mm(readings[0]), mm(readings[1]), apart, mm(b.Centres)), quantity.Millimetre)
}

// Span is the free length of a belt between its pulleys.
func (b *Body) Span() quantity.Value {
	return quantity.FromFloat(linkage.Span(b.Large.Float(quantity.Metre), b.Small.Float(quantity.Metre), b.Centres.Float(quantity.Metre)), quantity.Metre)
}

func (l *loader) body(n ast.Node, positions []string) *Body {
	f := l.mapping(n, "kind", "places", "centres", "mass", "stiffness", "large", "small")
	b := &Body{Kind: BodyKind(f.word("kind", true, string(Bar), string(Plate), string(Tilt), string(Taper), string(Belt))), Places: map[string][2]quantity.Value{}}
	need := func(key string, kind quantity.Kind, on ...BodyKind) quantity.Value {
		needed := slices.Contains(on, b.Kind)
		if !needed && f.has(key) {
			l.failNode(f.by[key], key, "none for a "+string(b.Kind))
			return quantity.Value{}
		}
		return l.sized(f, key, needed, kind)
	}
	b.Centres = need("centres", quantity.Length, Taper, Belt)
	b.Mass, b.Stiffness = need("mass", quantity.LinearDensity, Belt), need("stiffness", quantity.Force, Belt)
	b.Large, b.Small = need("large", quantity.Length, Belt), need("small", quantity.Length, Belt)
	if b.Kind == Belt {
		return b
	}
	if !f.has("places") {
		f.missing("places", "places: where each position is read")
		return b
	}
	p := l.mapping(f.by["places"], positions...)
	for _, name := range positions {
		if !p.has(name) {
			p.missing(name, name+": where it is read")
			continue
		}
		b.Places[name] = l.point(p.by[name], b.Kind == Plate)
	}
	return b
}

// sized reads a quantity above nothing, or the value of a parameter of that name.
func (l *loader) sized(f fields, key string, needed bool, kind quantity.Kind) quantity.Value {
	if n := f.by[key]; n != nil && kind == quantity.Length {
		s, _ := source(n)
		for _, q := range l.parameters {
			if q.ID == s && q.Takes == Size {
				return l.quantity(n, l.params[q.ID], kind)
			}
		}
	}
	return l.positive(f, key, needed, kind)
}

// point reads a place: a length along a bar, or two on a plate.
func (l *loader) point(n ast.Node, plate bool) (at [2]quantity.Value) {
	at[1] = quantity.Zero(quantity.Length)
	if !plate {
		s, ok := source(n)
		if !ok {
			l.failNode(n, describe(n), "a length along it, such as 20 mm")
			return at
		}
		at[0] = l.quantity(n, s, quantity.Length)
		return at
	}
	list, ok := n.(*ast.SequenceNode)
	if !ok || len(list.Values) != 2 {
		l.failNode(n, describe(n), "two lengths, across and along, such as [20 mm, 15 mm]")
		return at
	}
	for i, v := range list.Values {
		s, _ := source(v)
		at[i] = l.quantity(v, s, quantity.Length)
	}
	return at
}

func (l *loader) adjuster(n ast.Node) Adjuster {
	f := l.mapping(n, "id", "name", "check", "also", "position", "at", "drive", "fixed", "thread", "thread-of", "lead", "ratio", "clockwise", "seen-from", "positive",
		"increment", "useful", "play", "approach", "travel", "lock", "stock")
	a := Adjuster{ID: l.id(f, "id", "adjuster"), Name: f.text("name", true, maxName), Check: f.text("check", true, 40), Also: f.texts("also", false, 40),
		Position: f.text("position", false, maxName), Fixed: f.flag("fixed"), Lock: f.text("lock", false, maxName),
		Drive: Drive(f.word("drive", false, string(Screw), string(Eccentric), string(Slide), string(Shims)))}
	if a.Drive == "" {
		a.Drive = Screw
	}
	if f.has("at") {
		_, list := f.by["at"].(*ast.SequenceNode)
		a.At = l.point(f.by["at"], list)
	}
	if a.Fixed {
		for _, key := range []string{"thread", "thread-of", "lead", "ratio", "clockwise", "seen-from", "positive", "increment", "useful", "play", "approach", "travel", "lock", "stock", "drive"} {
			if f.has(key) {
				l.failNode(f.by[key], key, "none: it is never turned")
			}
		}
		return a
	}
	var does, points []string
	for _, d := range directions {
		does, points = append(does, string(d.does), string(d.undoes)), append(points, string(d.points), string(d.counter))
	}
	turned := a.Drive == Screw || a.Drive == Eccentric
	a.Positive = Sense(f.word("positive", true, points...))
	if turned {
		a.Clockwise, a.SeenFrom = Sense(f.word("clockwise", true, does...)), f.text("seen-from", true, maxName)
		a.Increment, a.Useful = l.positive(f, "increment", true, quantity.Turns), l.positive(f, "useful", false, quantity.Turns)
		a.Play, a.Travel = l.positive(f, "play", false, quantity.Turns), l.positive(f, "travel", false, quantity.Turns)
		switch f.word("approach", false, "clockwise", "counter-clockwise") {
		case "clockwise":
			a.Approach = 1
		case "counter-clockwise":
			a.Approach = -1
		}
		if pair := directionOf(a.Clockwise); a.Positive != "" && pair != directionOf(a.Positive) {
			l.failNode(f.by["positive"], string(a.Positive), "the same kind of direction as "+string(a.Clockwise))
		}
		l.lead(f, &a)
		l.ratio(f, &a)
		return a
	}
	for _, key := range []string{"thread", "thread-of", "lead", "ratio", "clockwise", "seen-from", "increment", "useful", "play", "approach", "travel"} {
		if f.has(key) {
			l.failNode(f.by[key], key, "none: it is not turned")
		}
	}
	if a.Drive == Shims {
		for _, v := range f.texts("stock", true, 40) {
			if t := l.quantity(f.by["stock"], v, quantity.Length); t.Valid() && t.Sign() > 0 {
				a.Stock = append(a.Stock, t)
			}
		}
		if len(a.Stock) == 0 && f.has("stock") {
			l.failNode(f.by["stock"], "no shim", "thicknesses, such as [0.05 mm, 0.1 mm]")
		}
	} else if f.has("stock") {
		l.failNode(f.by["stock"], "stock", "none: only shims have a stock")
	}
	return a
}

func directionOf(s Sense) int {
	return slices.IndexFunc(directions, func(d direction) bool {
		return s == d.does || s == d.points || s == d.undoes || s == d.counter
	})
}

// lead reads what one turn brings: a thread says its own lead, another's must be
// given; so must an eccentric's throw.
func (l *loader) lead(f fields, a *Adjuster) {
	kind := quantity.Length
	if s, ok := source(f.by["lead"]); ok {
		if v, err := quantity.Parse(s, quantity.Context{Kind: quantity.Angle}); err == nil && v.Value.Kind() == quantity.Angle {
			kind = quantity.Angle
		}
	}
	a.Lead = l.positive(f, "lead", false, kind)
	if a.Drive == Eccentric {
		if !f.has("lead") {
			f.missing("lead", "lead: the throw of the eccentric")
		}
		a.Thread = f.text("thread", false, 20)
		return
	}
	key := "thread"
	if f.has("thread-of") {
		key = "thread-of"
		id := f.text(key, true, 40)
		if !slices.ContainsFunc(l.parameters, func(p Parameter) bool { return p.ID == id && p.Takes == Thread }) {
			l.failNode(f.by[key], describe(f.by[key]), "a parameter that is a thread")
			return
		}
		a.Thread = l.params[id]
	} else {
		a.Thread = f.text("thread", kind == quantity.Length, 20)
	}
	switch lead, ok := Lead(a.Thread); {
	case kind == quantity.Angle:
	case ok && a.Lead.Valid() && !a.Lead.Equal(lead):
		l.failNode(f.by["lead"], describe(f.by["lead"]), "the lead of its thread, "+quantity.Typed(lead, quantity.Millimetre))
	case ok:
		a.Lead = lead
	case !a.Lead.Valid() && f.has(key):
		f.missing("lead", "lead: travel in one turn, since "+a.Thread+" does not say it")
	}
}

// ratio reads how far what an adjuster moves goes for its own travel: of a lever
// or of gears between the two.
func (l *loader) ratio(f fields, a *Adjuster) {
	if !f.has("ratio") {
		return
	}
	text := f.text("ratio", true, 20)
	r, ok := new(big.Rat).SetString(strings.ReplaceAll(text, " ", ""))
	if !ok || r.Sign() <= 0 || r.Cmp(big.NewRat(1000, 1)) > 0 || !a.Lead.Valid() {
		l.failNode(f.by["ratio"], strconv.Quote(text), "a number more than nothing, such as 1/2, with a lead or a thread")
		return
	}
	a.Lead = a.Lead.Mul(r)
}

// lintAdjusters notes adjusters that move nothing, and bodies that cannot be
// reckoned with.
func (l *loader) lintAdjusters(p *Profile) {
	taken := map[[2]string]bool{}
	for i := range p.Adjusters {
		a := &p.Adjusters[i]
		fail := func(got, want string) { l.failNode(l.at["adjuster:"+a.ID], got, want) }
		for _, id := range append([]string{a.Check}, a.Also...) {
			if c := p.Check(id); c == nil || c.Inspection {
				fail("check: "+id, "the id of a check that is measured")
			}
		}
		c := p.Check(a.Check)
		if c == nil || c.Inspection {
			continue
		}
		switch {
		case c.Body == nil && !slices.Contains(c.Positions, a.Position):
			fail("position: "+strconv.Quote(a.Position), "one of "+strings.Join(c.Positions, ", "))
		case c.Body == nil && a.Drive != Slide && c.Kind() != quantity.Length:
			fail("an adjuster of "+c.Kind().String(), "one of length")
		case c.Body == nil && (a.Fixed || len(a.Also) > 0):
			fail("an adjuster that is fixed, or moves other checks", "a check with a body")
		case c.Body != nil && a.Position != "":
			fail("position: "+strconv.Quote(a.Position), "at: where it acts on the body")
		}
		if k := [2]string{a.Check, a.Position}; c.Body == nil && taken[k] {
			fail("a second adjuster of "+a.Check+" "+a.Position, "one a position")
		} else {
			taken[k] = true
		}
	}
	for i := range p.Checks {
		c := &p.Checks[i]
		if c.Inspection {
			continue
		}
		of := p.AdjustersOf(c.ID)
		if c.Body == nil && len(of) == 0 {
			continue
		}
		if slices.ContainsFunc(of, func(a *Adjuster) bool { return !a.Fixed && a.Drive != of[0].Drive && !of[0].Fixed }) {
			l.failNode(l.at["check:"+c.ID], "adjusters of two kinds", "one kind for a check")
			continue
		}
		if _, err := p.Response(c); err != nil {
			l.failNode(l.at["check:"+c.ID], err.Error(), "adjusters that can bring it home")
		}
	}
}

// AdjustersOf lists the adjusters that move a check, in the profile's order.
func (p *Profile) AdjustersOf(check string) []*Adjuster {
	var all []*Adjuster
	for i := range p.Adjusters {
		if p.Adjusters[i].Moves(check) {
			all = append(all, &p.Adjusters[i])
		}
	}
	return all
}

// Response is the nominal change of each position of a check with one turn
// clockwise of each of its adjusters (AdjustersOf), in the base unit of what the
// check measures: a row a position. Of an eccentric it is the change with a lift
// of its throw; of shims, with one base unit of thickness; of a slide, with one
// base unit of travel that makes readings grow. A fixed foot has none. An error
// says why these adjusters cannot bring the check home.
func (p *Profile) Response(c *Check) ([][]float64, error) {
	adjusters := p.AdjustersOf(c.ID)
	if len(adjusters) == 0 {
		return nil, errors.New("a body that nothing moves")
	}
	turning := 0
	for _, a := range adjusters {
		if !a.Fixed {
			turning++
		}
	}
	if turning > linkage.MaxCoupled && c.Body != nil {
		return nil, fmt.Errorf("%d adjusters under one body; at most %d", turning, linkage.MaxCoupled)
	}
	rows := make([][]float64, len(c.Positions))
	for i := range rows {
		rows[i] = make([]float64, len(adjusters))
	}
	mm := func(v quantity.Value) float64 {
		if !v.Valid() {
			return 0
		}
		return v.Float(quantity.Base(v.Kind()))
	}
	places := func() []linkage.Point {
		var all []linkage.Point
		for _, name := range c.Positions {
			at := c.Body.Places[name]
			all = append(all, linkage.Point{X: mm(at[0]), Y: mm(at[1])})
		}
		return all
	}
	var feet []linkage.Point
	for _, a := range adjusters {
		feet = append(feet, linkage.Point{X: mm(a.At[0]), Y: mm(a.At[1])})
	}
	var weights [][]float64
	var err error
	switch {
	case c.Body == nil:
		weights = make([][]float64, len(c.Positions))
		for i, name := range c.Positions {
			weights[i] = make([]float64, len(adjusters))
			for j, a := range adjusters {
				if a.Position == name {
					weights[i][j] = 1
				}
			}
		}
	case c.Body.Kind == Bar:
		if len(adjusters) != 2 {
			return nil, fmt.Errorf("a bar on %d adjusters; two", len(adjusters))
		}
		var at []float64
		for _, q := range places() {
			at = append(at, q.X)
		}
		weights, err = linkage.Bar([2]float64{feet[0].X, feet[1].X}, at)
	case c.Body.Kind == Plate:
		weights, err = linkage.Plate(feet, places())
	default:
		if len(adjusters) != 1 {
			return nil, fmt.Errorf("a %s with %d adjusters; one", c.Body.Kind, len(adjusters))
		}
		weights, err = c.Body.alone(c, places())
	}
	if err != nil {
		return nil, err
	}
	if turning > 0 && c.Body != nil && c.Body.Kind != Belt && len(c.Positions) < min(turning, 3) {
		return nil, fmt.Errorf("%d positions for %d adjusters; fewer than needed", len(c.Positions), turning)
	}
	for j, a := range adjusters {
		lead := 1.0
		switch {
		case a.Fixed:
			continue
		case a.Drive == Slide && c.Body != nil && c.Body.Kind != Taper && c.Body.Kind != Belt:
			return nil, fmt.Errorf("%s: slid under a %s; a slide moves one position, a taper or a belt", a.Name, c.Body.Kind)
		case a.Drive == Shims:
			if slices.ContainsFunc(directions, func(d direction) bool { return a.Positive == d.counter }) {
				lead = -1
			}
		case a.Drive == Screw || a.Drive == Eccentric:
			angled := c.Body != nil && c.Body.Kind == Tilt
			if (a.Lead.Kind() == quantity.Angle) != angled {
				return nil, fmt.Errorf("%s: a lead of %s", a.Name, a.Lead.Kind())
			}
			if lead = mm(a.Lead); angled {
				lead = a.Lead.Float(quantity.Degree) * math.Pi / 180
			}
			if lead == 0 {
				return nil, fmt.Errorf("%s: a lead of nothing", a.Name)
			}
			if !a.Growing() {
				lead = -lead
			}
		}
		for i := range rows {
			rows[i][j] = lead * weights[i][j]
		}
	}
	return rows, nil
}

// alone is how much each position of a body on one adjuster moves with it.
func (b *Body) alone(c *Check, places []linkage.Point) ([][]float64, error) {
	rows := make([][]float64, len(c.Positions))
	for i := range rows {
		switch b.Kind {
		case Tilt: // an angle of one radian, about the middle
			rows[i] = []float64{places[i].X}
		case Taper: // of a diameter, at that distance from the headstock
			rows[i] = []float64{2 * places[i].X / b.Centres.Float(quantity.Base(quantity.Length))}
		case Belt:
			if c.Kind() != quantity.Frequency && c.Kind() != quantity.Force || !c.Target.Valid() {
				return nil, errors.New("a belt that is read neither by its frequency nor by the force that deflects it")
			}
			large, small, centres := b.Large.Float(quantity.Metre), b.Small.Float(quantity.Metre), b.Centres.Float(quantity.Metre)
			if centres <= (large+small)/2 {
				return nil, errors.New("pulleys that overlap")
			}
			// df/dT = 1/(8 m L² f), dF/dT = 4 δ/L, dT/dC by the belt's strain.
			span, mass := linkage.Span(large, small, centres), b.Mass.Float(quantity.KilogramMetre)
			perTravel := 1 / linkage.TravelForTension(0, 1, b.Stiffness.Float(quantity.Newton), large, small, centres) // N/m
			mm := quantity.New(1, 1, quantity.Base(quantity.Length)).Float(quantity.Metre)
			if c.Kind() == quantity.Force {
				newton := quantity.New(1, 1, quantity.Newton).Float(quantity.Base(quantity.Force))
				rows[i] = []float64{perTravel * mm / linkage.TensionByForce(1, span, linkage.Deflection(span)) * newton}
				continue
			}
			rows[i] = []float64{perTravel * mm / (8 * mass * span * span * c.Target.Float(quantity.Hertz))}
		}
	}
	if b.Kind == Tilt && slices.ContainsFunc(rows, func(r []float64) bool { return math.Abs(r[0]) < 1e-12 }) && len(rows) < 2 {
		return nil, errors.New("a tilt read at its own middle")
	}
	return rows, nil
}
