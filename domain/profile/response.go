package profile

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"setscrew/domain/linkage"
	"setscrew/domain/quantity"
)

// lintAdjusters notes adjusters that move nothing, and bodies that cannot be
// reckoned with.
func (l *loader) lintAdjusters(prof *Profile) {
	taken := map[[2]string]bool{}
	for i := range prof.Adjusters {
		adjuster := &prof.Adjusters[i]
		fail := func(got, want string) { l.failNode(l.at["adjuster:"+adjuster.ID], got, want) }
		// It may only move checks that are measured.
		for _, id := range append([]string{adjuster.Check}, adjuster.Also...) {
			if check := prof.Check(id); check == nil || check.Inspection {
				fail("check: "+id, "the id of a check that is measured")
			}
		}
		check := prof.Check(adjuster.Check)
		if check == nil || check.Inspection {
			continue
		}
		// It has a place: a position of its own, or one on the body that it moves.
		switch {
		case check.Body == nil && !slices.Contains(check.Positions, adjuster.Position):
			fail("position: "+strconv.Quote(adjuster.Position), "one of "+strings.Join(check.Positions, ", "))
		case check.Body == nil && adjuster.Drive != Slide && check.Kind() != quantity.Length:
			fail("an adjuster of "+check.Kind().String(), "one of length")
		case check.Body == nil && (adjuster.Fixed || len(adjuster.Also) > 0):
			fail("an adjuster that is fixed, or moves other checks", "a check with a body")
		case check.Body != nil && adjuster.Position != "":
			fail("position: "+strconv.Quote(adjuster.Position), "at: where it acts on the body")
		}
		if place := [2]string{adjuster.Check, adjuster.Position}; check.Body == nil && taken[place] {
			fail("a second adjuster of "+adjuster.Check+" "+adjuster.Position, "one a position")
		} else {
			taken[place] = true
		}
	}
	// The adjusters of one check are of one kind, and can bring it home together.
	for i := range prof.Checks {
		check := &prof.Checks[i]
		if check.Inspection {
			continue
		}
		of := prof.AdjustersOf(check.ID)
		if check.Body == nil && len(of) == 0 {
			continue
		}
		if slices.ContainsFunc(
			of,
			func(a *Adjuster) bool { return !a.Fixed && a.Drive != of[0].Drive && !of[0].Fixed },
		) {
			l.failNode(l.at["check:"+check.ID], "adjusters of two kinds", "one kind for a check")
			continue
		}
		if _, err := prof.Response(check); err != nil {
			l.failNode(l.at["check:"+check.ID], err.Error(), "adjusters that can bring it home")
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
func (p *Profile) Response(check *Check) ([][]float64, error) {
	adjusters := p.AdjustersOf(check.ID)
	if len(adjusters) == 0 {
		return nil, errors.New("a body that nothing moves")
	}
	// Refuse what no plan could search, and what too few readings could tell apart.
	turning := 0
	for _, adjuster := range adjusters {
		if !adjuster.Fixed {
			turning++
		}
	}
	if turning > linkage.MaxCoupled && check.Body != nil {
		return nil, fmt.Errorf("%d adjusters under one body; at most %d", turning, linkage.MaxCoupled)
	}
	weights, err := check.weights(adjusters)
	if err != nil {
		return nil, err
	}
	if turning > 0 && check.Body != nil && check.Body.Kind != Belt && len(check.Positions) < min(turning, 3) {
		return nil, fmt.Errorf("%d positions for %d adjusters; fewer than needed", len(check.Positions), turning)
	}
	rows := make([][]float64, len(check.Positions))
	for i := range rows {
		rows[i] = make([]float64, len(adjusters))
	}
	// What one turn brings, times what that does to each position.
	for j, adjuster := range adjusters {
		if adjuster.Fixed {
			continue
		}
		lead, err := adjuster.signedLead(check)
		if err != nil {
			return nil, err
		}
		for i := range rows {
			rows[i][j] = lead * weights[i][j]
		}
	}
	return rows, nil
}

// inBase is a value in the base unit of its kind, 0 for an absent one.
func inBase(v quantity.Value) float64 {
	if !v.Valid() {
		return 0
	}
	return v.Float(quantity.Base(v.Kind()))
}

// weights is how much each position of the check moves for a move of one of each
// adjuster, by its body.
func (c *Check) weights(adjusters []*Adjuster) ([][]float64, error) {
	if c.Body == nil { // each adjuster moves the position that is its own
		weights := make([][]float64, len(c.Positions))
		for i, name := range c.Positions {
			weights[i] = make([]float64, len(adjusters))
			for j, adjuster := range adjusters {
				if adjuster.Position == name {
					weights[i][j] = 1
				}
			}
		}
		return weights, nil
	}
	var places, feet []linkage.Point
	for _, name := range c.Positions {
		at := c.Body.Places[name]
		places = append(places, linkage.Point{X: inBase(at[0]), Y: inBase(at[1])})
	}
	for _, adjuster := range adjusters {
		feet = append(feet, linkage.Point{X: inBase(adjuster.At[0]), Y: inBase(adjuster.At[1])})
	}
	switch {
	case c.Body.Kind == Plate:
		return linkage.Plate(feet, places)
	case c.Body.Kind == Bar && len(adjusters) != 2:
		return nil, fmt.Errorf("a bar on %d adjusters; two", len(adjusters))
	case c.Body.Kind == Bar:
		var along []float64
		for _, at := range places {
			along = append(along, at.X)
		}
		return linkage.Bar([2]float64{feet[0].X, feet[1].X}, along)
	case len(adjusters) != 1:
		return nil, fmt.Errorf("a %s with %d adjusters; one", c.Body.Kind, len(adjusters))
	}
	return c.Body.weights(c, places)
}

// signedLead is what one turn clockwise brings, or one unit of what is slid or
// shimmed: positive where it makes readings grow.
func (a *Adjuster) signedLead(check *Check) (float64, error) {
	switch {
	case a.Drive == Slide && check.Body != nil && check.Body.Kind != Taper && check.Body.Kind != Belt:
		return 0, fmt.Errorf("%s: slid under a %s; a slide moves one position, a taper or a belt",
			a.Name, check.Body.Kind)
	case a.Drive == Slide:
		return 1, nil
	case a.Drive == Shims:
		if !a.Growing() {
			return -1, nil
		}
		return 1, nil
	}
	angled := check.Body != nil && check.Body.Kind == Tilt
	if (a.Lead.Kind() == quantity.Angle) != angled {
		return 0, fmt.Errorf("%s: a lead of %s", a.Name, a.Lead.Kind())
	}
	lead := inBase(a.Lead)
	if angled {
		lead = a.Lead.Float(quantity.Degree) * math.Pi / 180
	}
	if lead == 0 {
		return 0, fmt.Errorf("%s: a lead of nothing", a.Name)
	}
	if !a.Growing() {
		lead = -lead
	}
	return lead, nil
}

// weights is how much each position of a body on one adjuster moves with it.
func (b *Body) weights(check *Check, places []linkage.Point) ([][]float64, error) {
	rows := make([][]float64, len(check.Positions))
	for i := range rows {
		switch b.Kind {
		case Tilt: // an angle of one radian, about the middle
			rows[i] = []float64{places[i].X}
		case Taper: // of a diameter, at that distance from the headstock
			rows[i] = []float64{2 * places[i].X / b.Centres.Float(quantity.Base(quantity.Length))}
		case Belt:
			if check.Kind() != quantity.Frequency && check.Kind() != quantity.Force || !check.Target.Valid() {
				return nil, errors.New(
					"a belt that is read neither by its frequency nor by the force that deflects it",
				)
			}
			large, small := b.Large.Float(quantity.Metre), b.Small.Float(quantity.Metre)
			centres := b.Centres.Float(quantity.Metre)
			if centres <= (large+small)/2 {
				return nil, errors.New("pulleys that overlap")
			}
			// df/dT = 1/(8 m L² f), dF/dT = 4 δ/L, dT/dC by the belt's strain.
			span, mass := linkage.Span(large, small, centres), b.Mass.Float(quantity.KilogramMetre)
			stiffness := b.Stiffness.Float(quantity.Newton)
			perTravel := 1 / linkage.TravelForTension(0, 1, stiffness, large, small, centres) // N/m
			mm := quantity.New(1, 1, quantity.Base(quantity.Length)).Float(quantity.Metre)
			if check.Kind() == quantity.Force {
				newton := quantity.New(1, 1, quantity.Newton).Float(quantity.Base(quantity.Force))
				rows[i] = []float64{
					perTravel * mm / linkage.TensionByForce(1, span, linkage.Deflection(span)) * newton,
				}
				continue
			}
			rows[i] = []float64{perTravel * mm / (8 * mass * span * span * check.Target.Float(quantity.Hertz))}
		}
	}
	if b.Kind == Tilt && slices.ContainsFunc(rows, func(r []float64) bool { return math.Abs(r[0]) < 1e-12 }) &&
		len(rows) < 2 {
		return nil, errors.New("a tilt read at its own middle")
	}
	return rows, nil
}
