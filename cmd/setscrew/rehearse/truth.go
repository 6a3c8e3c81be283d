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
func standing(machine domain.Machine, facts []domain.Fact, measured func(domain.FactNo) bool) *truth {
	truth := &truth{machine: machine, values: map[string][]float64{}, screws: map[string]*trueScrew{}}
	prof := machine.Profile
	// Every screw is its own: a gain, a play and an angle that nobody sees.
	for i := range prof.Adjusters {
		adjuster := &prof.Adjusters[i]
		random := rng(machine.Name, adjuster.ID)
		screw := &trueScrew{
			gain:  0.8 + 0.4*random.Float64(),
			play:  random.Float64() / 16,
			angle: math.Pi * (0.25 + 0.5*random.Float64()),
		}
		if adjuster.Play.Valid() {
			screw.play = random.Float64() * adjuster.Play.Float(quantity.Turn)
		}
		truth.screws[adjuster.ID] = screw
	}
	// Every check begins somewhere; then each fact that moved it does so again, in order.
	for i := range prof.Checks {
		truth.seed(&prof.Checks[i], 0)
	}
	for _, fact := range facts {
		if fact.Machine != machine.ID || fact.Withdrawn != 0 {
			continue
		}
		switch body := fact.Body.(type) {
		case domain.Reading:
			if !measured(fact.No) && !body.Unconfirmed {
				truth.read(body)
			}
		case domain.Move:
			truth.move(body, fact.No)
		case domain.EventSeen:
			truth.changed(body.Surfaces, fact.No)
		case domain.ServiceDone:
			truth.changed(body.Surfaces, fact.No)
		case domain.Problem:
			truth.changed(body.Surfaces, fact.No)
		}
	}
	return truth
}

// seed gives a check new values: badly where screws can mend it, else well.
func (t *truth) seed(check *profile.Check, because domain.FactNo) {
	if check.Inspection {
		return
	}
	random := rng(t.machine.Name, check.ID, because)
	middle := check.Example
	if check.Target.Valid() {
		middle = check.Target
	}
	at := middle.Float(quantity.Base(check.Kind()))
	// How far the limits leave readings to go, whichever of them there are.
	half := math.Inf(1)
	edge := func(v quantity.Value) float64 { return math.Abs(v.Float(quantity.Base(check.Kind())) - at) }
	switch {
	case check.Adjust.Low.Valid() && check.Adjust.High.Valid():
		half = min(edge(check.Adjust.Low), edge(check.Adjust.High))
	case check.Adjust.Low.Valid():
		half = edge(check.Adjust.Low)
	case check.Adjust.High.Valid():
		half = edge(check.Adjust.High)
	}
	if check.AlikeAdjust.Valid() {
		half = min(half, check.AlikeAdjust.Float(quantity.Base(check.AlikeAdjust.Kind()))/2)
	}
	if math.IsInf(half, 1) {
		half = math.Abs(at) / 100
	}
	// Near the middle: good enough where no screw could mend it.
	values := make([]float64, len(check.Positions))
	t.values[check.ID] = values
	spread := half / 6
	for i := range values {
		values[i] = at + spread*(2*random.Float64()-1)
	}
	response, err := t.machine.Profile.Response(check)
	of := t.machine.Profile.AdjustersOf(check.ID)
	if err != nil || len(of) == 0 {
		return
	}
	// Each adjuster as far off as takes the readings to a few times the limits,
	// within those at which it would be stopped.
	room := 5 * half
	for _, v := range []quantity.Value{check.Stop.Low, check.Stop.High} {
		if v.Valid() {
			room = min(room, 0.8*edge(v))
		}
	}
	shift := make([]float64, len(values))
	most := 0.0
	for j := range of {
		off := 0.4 + 0.6*random.Float64()
		if random.IntN(2) == 0 {
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
func (t *truth) read(reading domain.Reading) {
	values := t.values[reading.Check]
	for i, at := range reading.Values {
		if i < len(values) {
			values[i] = at.Mean().Float(quantity.Base(at.Mean().Kind()))
		}
	}
}

// move turns the real screws as a plan said.
func (t *truth) move(move domain.Move, no domain.FactNo) {
	prof := t.machine.Profile
	for _, turned := range move.Turned {
		adjuster, screw := prof.Adjuster(turned.Adjuster), t.screws[turned.Adjuster]
		if adjuster == nil {
			continue
		}
		random := rng(t.machine.Name, adjuster.ID, no)
		effect := t.effect(adjuster, screw, turned, random)
		for _, id := range append([]string{adjuster.Check}, adjuster.Also...) {
			check := prof.Check(id)
			response, err := prof.Response(check)
			if err != nil {
				continue
			}
			for j, of := range prof.AdjustersOf(id) {
				if of.ID != adjuster.ID {
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
func (t *truth) effect(adjuster *profile.Adjuster, screw *trueScrew, turned domain.Turns, random *rand.Rand) float64 {
	if !adjuster.Turned() {
		by := turned.By.Float(quantity.Base(turned.By.Kind()))
		if adjuster.Drive == profile.Slide {
			by *= 1 + 0.02*random.NormFloat64()
		}
		return by
	}
	// A turn by hand: not quite as far as was meant, less what the play takes up.
	hand := func(turns float64) float64 {
		if turns == 0 {
			return 0
		}
		turns += random.NormFloat64() * domain.HandSpread
		way := math.Copysign(1, turns)
		lost := 0.0
		switch screw.engaged {
		case way:
		case 0:
			lost = screw.play / 2
		default:
			lost = screw.play
		}
		screw.engaged = way
		return way * max(math.Abs(turns)-lost, 0)
	}
	// Past and back, as the plan said, so that the play is taken up on the same side.
	turns, past := turned.Turns.Float(quantity.Turn), 0.0
	if turned.Past.Valid() {
		past = math.Copysign(turned.Past.Float(quantity.Turn), turns)
	}
	done := hand(turns+past) + hand(-past)
	if adjuster.Drive != profile.Eccentric {
		return screw.gain * done
	}
	throw := adjuster.Lead.Float(quantity.Base(adjuster.Lead.Kind()))
	before := linkage.Lift(throw, screw.angle)
	screw.angle += 2 * math.Pi * done
	return screw.gain * (linkage.Lift(throw, screw.angle) - before) / throw
}

// changed gives new values to what something moved, and shifts what is measured from it.
func (t *truth) changed(moved []string, no domain.FactNo) {
	prof := t.machine.Profile
	for _, id := range moved {
		check := prof.Check(id)
		if check == nil || check.Inspection {
			continue
		}
		before := t.at(check)
		t.seed(check, no)
		// What is measured from it shifts by as much as it did.
		after := t.at(check)
		for i := range prof.Checks {
			follower := &prof.Checks[i]
			if follower.Follows == nil || follower.Follows.Check != id {
				continue
			}
			for k, position := range follower.Positions {
				shift := domain.Greatest(after, position).Sub(domain.Greatest(before, position))
				if follower.Follows.Opposite {
					shift = shift.Neg()
				}
				t.values[follower.ID][k] += shift.Float(quantity.Base(shift.Kind()))
			}
		}
	}
}

// at is how a check stands.
func (t *truth) at(check *profile.Check) []quantity.At {
	var all []quantity.At
	for i, v := range t.values[check.ID] {
		all = append(all, quantity.At{Position: check.Positions[i],
			Repeats: []quantity.Value{quantity.FromFloat(v, quantity.Base(check.Kind()))}})
	}
	return all
}

// reading is what a gauge shows of a check: with noise, in whole steps of it.
func (t *truth) reading(check *profile.Check, unit quantity.Unit, try int) string {
	gauge := t.machine.Profile.Gauge(check.Gauge)
	step := gauge.Resolution.Float(unit.Step())
	// Steps that the unit does not have are read to the nearest of its own.
	decimals := 0
	for step < math.Pow(10, -float64(decimals))*0.999 && decimals < 6 {
		decimals++
	}
	random := rng(t.machine.Name, check.ID, try)
	var parts []string
	for i, v := range t.values[check.ID] {
		shown := quantity.FromFloat(v, quantity.Base(check.Kind())).Float(unit) + random.NormFloat64()*step/3
		shown = math.Round(shown/step) * step
		parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %.*f %s", check.Positions[i], decimals, shown, unit)))
	}
	return strings.Join(parts, ", ")
}

// measure reads a check of the machine behind the rehearsal and reports what the
// gauge shows.
func (r *rehearsal) measure(ctx context.Context, words []string) error {
	if len(words) != 2 && (len(words) != 4 || words[2] != "on") {
		return r.usageError(`Measure what? For example: measure "infeed roller", or measure "bed level" on Flint`)
	}
	// Find the machine and the check; the machine measured last is meant if none is named.
	books := r.db.Shop(r.state.Shop)
	machines, err := books.Machines(ctx)
	if err != nil {
		return err
	}
	if len(words) == 4 {
		r.state.Machine = words[3]
	}
	index := slices.IndexFunc(machines,
		func(m domain.Machine) bool { return strings.EqualFold(m.Name, r.state.Machine) })
	if index < 0 && len(machines) == 1 {
		index = 0
	}
	if index < 0 {
		return r.usageError("On which machine? For example: measure %q on NAME", words[1])
	}
	machine := machines[index]
	check := checkCalled(machine.Profile, words[1])
	if check == nil {
		return r.usageError("%s has no check %q.", machine.Name, words[1])
	}
	options := fmt.Sprintf("/reading machine:%q check:%q values:", machine.Name, check.Name)
	if check.Inspection {
		return r.said(ctx, options+"pass")
	}
	// In the mode in which it was read last.
	snap, err := books.Snapshot(ctx, machine.ID)
	if err != nil {
		return err
	}
	if latest := snap.Latest[check.ID]; latest.Reading != nil {
		check = check.In(latest.Reading.Mode)
	}
	// Play the shop's facts through the true machine, and read its gauge.
	var facts []domain.Fact
	for no := domain.FactNo(1); ; no++ {
		fact, err := books.Fact(ctx, no)
		var none *domain.Refusal
		if errors.As(err, &none) {
			break
		}
		if err != nil {
			return err
		}
		facts = append(facts, fact)
	}
	measured := r.state.Measured[r.state.Shop]
	behind := standing(machine, facts, func(no domain.FactNo) bool { return slices.Contains(measured, no) })
	line := options + `"` + behind.reading(check, check.Entry[machine.UnitsIn(snap.Shop)], r.state.Calls) + `"`
	if err := r.said(ctx, line); err != nil {
		return err
	}
	// Remember that this reading only showed the truth, so that standing does not learn from it.
	after, err := books.Snapshot(ctx, machine.ID)
	if err != nil {
		return err
	}
	no := after.Latest[check.ID].Fact
	for _, reading := range after.Waiting {
		no = max(no, reading.Fact)
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
func checkCalled(prof *profile.Profile, name string) *profile.Check {
	var found *profile.Check
	count := 0
	for i := range prof.Checks {
		check := &prof.Checks[i]
		switch {
		case strings.EqualFold(check.ID, name), strings.EqualFold(check.Name, name):
			return check
		case strings.HasPrefix(strings.ToLower(check.Name), strings.ToLower(name)):
			found, count = check, count+1
		}
	}
	if count != 1 {
		return nil
	}
	return found
}
