package rehearse

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"setscrew/domain"
	"setscrew/domain/linkage"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// truth is the machine behind a rehearsal: how it really stands, which nobody
// sees but through readings. It follows from the shop's facts and from seeds made
// of names, so that it is the same after a restart.
type truth struct {
	machine domain.Machine
	values  map[string][]float64 // by check, by position, in the base unit
	screws  map[string]*trueScrew
}

// trueScrew is how an adjuster really works.
type trueScrew struct {
	gain    float64 // over the nominal response
	play    float64 // turns lost when it is reversed
	engaged float64 // the way it was last turned, 0 where it stands in between
	angle   float64 // of an eccentric, from the bottom of its travel, in radians
}

// rng is a generator that is the same for the same names.
func rng(names ...any) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintln(h, names...)
	return rand.New(rand.NewPCG(h.Sum64(), 6))
}

// standing works out how a machine stands after all its facts. measured tells
// readings that measure gave, which show the truth and do not make it.
func standing(m domain.Machine, facts []domain.Fact, measured func(domain.FactNo) bool) *truth {
	t := &truth{machine: m, values: map[string][]float64{}, screws: map[string]*trueScrew{}}
	p := m.Profile
	for i := range p.Adjusters {
		a := &p.Adjusters[i]
		r := rng(m.Name, a.ID)
		s := &trueScrew{gain: 0.8 + 0.4*r.Float64(), play: r.Float64() / 16, angle: math.Pi * (0.25 + 0.5*r.Float64())}
		if a.Play.Valid() {
			s.play = r.Float64() * a.Play.Float(quantity.Turn)
		}
		t.screws[a.ID] = s
	}
	for i := range p.Checks {
		t.seed(&p.Checks[i], 0)
	}
	for _, f := range facts {
		if f.Machine != m.ID || f.Withdrawn != 0 {
			continue
		}
		switch b := f.Body.(type) {
		case domain.Reading:
			if !measured(f.No) && !b.Unconfirmed {
				t.read(b)
			}
		case domain.Move:
			t.move(b, f.No)
		case domain.EventSeen:
			t.changed(b.Surfaces, f.No)
		case domain.ServiceDone:
			t.changed(b.Surfaces, f.No)
		case domain.Problem:
			t.changed(b.Surfaces, f.No)
		}
	}
	return t
}

// seed gives a check new values: badly where screws can mend it, else well.
func (t *truth) seed(c *profile.Check, because domain.FactNo) {
	if c.Inspection {
		return
	}
	r := rng(t.machine.Name, c.ID, because)
	middle := c.Example
	if c.Target.Valid() {
		middle = c.Target
	}
	at := middle.Float(quantity.Base(c.Kind()))
	half := math.Inf(1)
	edge := func(v quantity.Value) float64 { return math.Abs(v.Float(quantity.Base(c.Kind())) - at) }
	switch {
	case c.Adjust.Low.Valid() && c.Adjust.High.Valid():
		half = min(edge(c.Adjust.Low), edge(c.Adjust.High))
	case c.Adjust.Low.Valid():
		half = edge(c.Adjust.Low)
	case c.Adjust.High.Valid():
		half = edge(c.Adjust.High)
	}
	if c.AlikeAdjust.Valid() {
		half = min(half, c.AlikeAdjust.Float(quantity.Base(c.AlikeAdjust.Kind()))/2)
	}
	if math.IsInf(half, 1) {
		half = math.Abs(at) / 100
	}
	values := make([]float64, len(c.Positions))
	t.values[c.ID] = values
	spread := half / 6
	for i := range values {
		values[i] = at + spread*(2*r.Float64()-1)
	}
	response, err := t.machine.Profile.Response(c)
	of := t.machine.Profile.AdjustersOf(c.ID)
	if err != nil || len(of) == 0 {
		return
	}
	// Each adjuster as far off as takes the readings to a few times the limits,
	// within those at which it would be stopped.
	room := 5 * half
	for _, v := range []quantity.Value{c.Stop.Low, c.Stop.High} {
		if v.Valid() {
			room = min(room, 0.8*edge(v))
		}
	}
	shift := make([]float64, len(values))
	most := 0.0
	for j := range of {
		off := 0.4 + 0.6*r.Float64()
		if r.IntN(2) == 0 {
			off = -off
		}
		for i := range shift {
			shift[i] += response[i][j] * off
		}
	}
	for _, s := range shift {
		most = max(most, math.Abs(s))
	}
	for i := range shift {
		values[i] += shift[i] / most * room
	}
}

// read takes what somebody typed for the truth.
func (t *truth) read(b domain.Reading) {
	values := t.values[b.Check]
	for i, at := range b.Values {
		if i < len(values) {
			values[i] = at.Mean().Float(quantity.Base(at.Mean().Kind()))
		}
	}
}

// move turns the real screws as a plan said.
func (t *truth) move(b domain.Move, no domain.FactNo) {
	p := t.machine.Profile
	for _, turned := range b.Turned {
		a, s := p.Adjuster(turned.Adjuster), t.screws[turned.Adjuster]
		if a == nil {
			continue
		}
		r := rng(t.machine.Name, a.ID, no)
		effect := t.effect(a, s, turned, r)
		for _, id := range append([]string{a.Check}, a.Also...) {
			c := p.Check(id)
			response, err := p.Response(c)
			if err != nil {
				continue
			}
			for j, of := range p.AdjustersOf(id) {
				if of.ID != a.ID {
					continue
				}
				for i := range t.values[id] {
					t.values[id][i] += response[i][j] * effect
				}
			}
		}
	}
}

// effect is what one move really does, in what its nominal response is per.
func (t *truth) effect(a *profile.Adjuster, s *trueScrew, turned domain.Turns, r *rand.Rand) float64 {
	if !a.Turned() {
		by := turned.By.Float(quantity.Base(turned.By.Kind()))
		if a.Drive == profile.Slide {
			by *= 1 + 0.02*r.NormFloat64()
		}
		return by
	}
	hand := func(turns float64) float64 {
		if turns == 0 {
			return 0
		}
		turns += r.NormFloat64() * domain.HandSpread
		way := math.Copysign(1, turns)
		lost := 0.0
		switch s.engaged {
		case way:
		case 0:
			lost = s.play / 2
		default:
			lost = s.play
		}
		s.engaged = way
		return way * max(math.Abs(turns)-lost, 0)
	}
	turns, past := turned.Turns.Float(quantity.Turn), 0.0
	if turned.Past.Valid() {
		past = math.Copysign(turned.Past.Float(quantity.Turn), turns)
	}
	done := hand(turns+past) + hand(-past)
	if a.Drive != profile.Eccentric {
		return s.gain * done
	}
	throw := a.Lead.Float(quantity.Base(a.Lead.Kind()))
	before := linkage.Lift(throw, s.angle)
	s.angle += 2 * math.Pi * done
	return s.gain * (linkage.Lift(throw, s.angle) - before) / throw
}

// changed gives new values to what something moved, and shifts what is measured from it.
func (t *truth) changed(moved []string, no domain.FactNo) {
	p := t.machine.Profile
	for _, id := range moved {
		c := p.Check(id)
		if c == nil || c.Inspection {
			continue
		}
		before := t.at(c)
		t.seed(c, no)
		after := t.at(c)
		for i := range p.Checks {
			f := &p.Checks[i]
			if f.Follows == nil || f.Follows.Check != id {
				continue
			}
			for k, position := range f.Positions {
				shift := domain.Greatest(after, position).Sub(domain.Greatest(before, position))
				if f.Follows.Opposite {
					shift = shift.Neg()
				}
				t.values[f.ID][k] += shift.Float(quantity.Base(shift.Kind()))
			}
		}
	}
}

// at is how a check stands.
func (t *truth) at(c *profile.Check) []quantity.At {
	var all []quantity.At
	for i, v := range t.values[c.ID] {
		all = append(all, quantity.At{Position: c.Positions[i],
			Repeats: []quantity.Value{quantity.FromFloat(v, quantity.Base(c.Kind()))}})
	}
	return all
}

// reading is what a gauge shows of a check: with noise, in whole steps of it.
func (t *truth) reading(c *profile.Check, unit quantity.Unit, try int) string {
	g := t.machine.Profile.Gauge(c.Gauge)
	step := g.Resolution.Float(unit.Step())
	// Steps that the unit does not have are read to the nearest of its own.
	decimals := 0
	for step < math.Pow(10, -float64(decimals))*0.999 && decimals < 6 {
		decimals++
	}
	r := rng(t.machine.Name, c.ID, try)
	var parts []string
	for i, v := range t.values[c.ID] {
		shown := quantity.FromFloat(v, quantity.Base(c.Kind())).Float(unit) + r.NormFloat64()*step/3
		shown = math.Round(shown/step) * step
		parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %.*f %s", c.Positions[i], decimals, shown, unit)))
	}
	return strings.Join(parts, ", ")
}

// measure reads a check of the machine behind the rehearsal and reports what the
// gauge shows.
func (r *rehearsal) measure(ctx context.Context, w []string) error {
	if len(w) != 2 && (len(w) != 4 || w[2] != "on") {
		return r.usageError(`Measure what? For example: measure "infeed roller", or measure "bed level" on Flint`)
	}
	books := r.db.Shop(r.state.Shop)
	machines, err := books.Machines(ctx)
	if err != nil {
		return err
	}
	if len(w) == 4 {
		r.state.Machine = w[3]
	}
	k := slices.IndexFunc(machines, func(m domain.Machine) bool { return strings.EqualFold(m.Name, r.state.Machine) })
	if k < 0 && len(machines) == 1 {
		k = 0
	}
	if k < 0 {
		return r.usageError("On which machine? For example: measure %q on NAME", w[1])
	}
	m := machines[k]
	c := checkCalled(m.Profile, w[1])
	if c == nil {
		return r.usageError("%s has no check %q.", m.Name, w[1])
	}
	options := fmt.Sprintf("/reading machine:%q check:%q values:", m.Name, c.Name)
	if c.Inspection {
		return r.said(ctx, options+"pass")
	}
	snap, err := books.Snapshot(ctx, m.ID)
	if err != nil {
		return err
	}
	if l := snap.Latest[c.ID]; l.Reading != nil {
		c = c.In(l.Reading.Mode)
	}
	var facts []domain.Fact
	for no := domain.FactNo(1); ; no++ {
		f, err := books.Fact(ctx, no)
		var none *domain.Refusal
		if errors.As(err, &none) {
			break
		}
		if err != nil {
			return err
		}
		facts = append(facts, f)
	}
	t := standing(m, facts, func(no domain.FactNo) bool { return slices.Contains(r.state.Measured[r.state.Shop], no) })
	line := options + `"` + t.reading(c, c.Entry[m.UnitsIn(snap.Shop)], r.state.Calls) + `"`
	if err := r.said(ctx, line); err != nil {
		return err
	}
	after, err := books.Snapshot(ctx, m.ID)
	if err != nil {
		return err
	}
	no := after.Latest[c.ID].Fact
	for _, x := range after.Waiting {
		no = max(no, x.Fact)
	}
	if r.state.Measured == nil {
		r.state.Measured = map[domain.ShopID][]domain.FactNo{}
	}
	r.state.Measured[r.state.Shop] = append(r.state.Measured[r.state.Shop], no)
	return nil
}

// said shows a command that the rehearsal gives for the speaker, and gives it.
func (r *rehearsal) said(ctx context.Context, line string) error {
	r.printf("  (%s: %s)\n", r.state.Who, line)
	return r.slash(ctx, line)
}

// checkCalled finds a check by its id, its name, or the only one whose name
// begins so.
func checkCalled(p *profile.Profile, name string) *profile.Check {
	var found *profile.Check
	n := 0
	for i := range p.Checks {
		c := &p.Checks[i]
		switch {
		case strings.EqualFold(c.ID, name), strings.EqualFold(c.Name, name):
			return c
		case strings.HasPrefix(strings.ToLower(c.Name), strings.ToLower(name)):
			found, n = c, n+1
		}
	}
	if n != 1 {
		return nil
	}
	return found
}
