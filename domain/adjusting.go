package domain

import (
	"math"
	"slices"

	"setscrew/domain/linkage"
	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// gear is a check's adjusters with what they have taught.
type gear struct {
	all      []*profile.Adjuster
	turned   []int // those that are not fixed, as indices of all
	response [][]float64
	now      []linkage.Adjuster
	tries    []int  // by turned adjuster: the tries that taught it
	known    []bool // by turned adjuster: whether its sense is known
}

// starting is an adjuster before any go.
func starting(adjuster *profile.Adjuster, stock []quantity.Value) linkage.Adjuster {
	state := linkage.Adjuster{Least: math.Inf(-1), Most: math.Inf(1), Gain: 1, Approach: adjuster.Approach}
	turns := func(v quantity.Value) float64 {
		if !v.Valid() {
			return 0
		}
		return v.Float(quantity.Turn)
	}
	switch adjuster.Drive {
	case profile.Shims:
		least := stock[0]
		for _, s := range stock {
			if s.Cmp(least) < 0 {
				least = s
			}
		}
		state.Increment, state.Least = inBase(least), 0
	case profile.Slide:
		state.Increment = 1e-9
	default:
		state.Increment, state.Useful = turns(adjuster.Increment), turns(adjuster.Useful)
		state.GainU, state.Hand = GainSpread, HandSpread
		if p := turns(adjuster.Play); p > 0 { // up to that much
			state.Play, state.PlayU = p/2, metrology.Rectangular(p/2)
		}
	}
	return state
}

// geared is what is known of a check's adjusters, nil where nothing moves it. While
// it learns it notes in x what the last try showed.
func (x *Adjusting) geared(snap Snapshot) *gear {
	p, cs := snap.Machine.Profile, x.CheckStatus
	geared := &gear{all: p.AdjustersOf(cs.Check.ID)}
	// A check that no adjuster moves needs no plan.
	full, err := p.Response(cs.Check)
	if len(geared.all) == 0 || err != nil {
		return nil // the profile's linter refuses what cannot be reckoned with
	}
	// Keep the columns of the adjusters that turn, each in the state before any try.
	geared.response = make([][]float64, len(full))
	var index []string
	for j, adjuster := range geared.all {
		if adjuster.Fixed {
			continue
		}
		for i := range full {
			geared.response[i] = append(geared.response[i], full[i][j])
		}
		geared.turned, index = append(geared.turned, j), append(index, adjuster.ID)
		geared.now = append(geared.now, starting(adjuster, snap.Shop.shims(adjuster)))
		_, known := snap.Machine.Setup.Confirmed[AdjusterItem.Of(adjuster.ID)]
		geared.known = append(geared.known, known || !adjuster.Turned())
	}
	// Slides and shims move as far as they are set, so tries teach nothing about them.
	geared.tries = make([]int, len(index))
	drive := geared.all[geared.turned[0]].Drive
	if drive == profile.Slide || drive == profile.Shims {
		return geared
	}
	// Go through the tries in order, learning how far each adjuster really moves the readings.
	travel := make([]float64, len(index))
	learner := linkage.NewLearner(geared.now)
	for _, made := range snap.Tries[cs.Check.ID] {
		// The turns as they were made: the other way round where somebody said so.
		one := linkage.Try{Turns: make([]float64, len(index)), Past: make([]float64, len(index))}
		for _, turned := range made.Turned {
			j := slices.Index(index, turned.Adjuster)
			if j < 0 {
				continue
			}
			one.Turns[j] = turned.Turns.Float(quantity.Turn)
			if made.Said == TurnedOther {
				one.Turns[j] = -one.Turns[j]
			}
			if turned.Past.Valid() {
				one.Past[j] = turned.Past.Float(quantity.Turn)
			}
			travel[j] += one.Turns[j]
		}
		// A try that no pair of readings encloses, and any of an eccentric, only moves the screws.
		if !between(&one, cs.Check, made) || drive == profile.Eccentric {
			learner.Skip(one)
			continue
		}
		// See first whether the try fits what was believed, before anything is learned from it.
		seen := learner.Look(one, geared.response)
		var wrong []string
		x.Odd = nil
		for j, shown := range seen {
			if shown.Backwards() {
				wrong = append(wrong, index[j])
			} else if shown.Odd() {
				x.Odd = append(x.Odd, OddScrew{index[j], shown.Gain / shown.Expected})
			}
		}
		x.Wrong = nil
		switch {
		case len(wrong) > 0 && made.Said == TurnedAsSaid:
			// The screw works the other way: what is learned begins again from there.
			turned := learner.Adjusters()
			for j, shown := range seen {
				if shown.Backwards() {
					turned[j].Gain = -turned[j].Gain
				}
			}
			learner = linkage.NewLearner(turned)
			seen = learner.Look(one, geared.response)
		case len(wrong) > 0:
			x.Wrong = &WrongWay{made.Move, wrong}
			learner.Skip(one)
			for j, shown := range seen {
				if shown.Backwards() {
					geared.known[j] = false
				}
			}
			continue
		}
		// A screw that did something unbelievable would spoil what is known of the others.
		if slices.ContainsFunc(seen, func(shown linkage.Seen) bool { return shown.Turned && !shown.Believed() }) {
			learner.Skip(one) // told as odd, and not learned from
			continue
		}
		learner.Learn(one, geared.response)
		for j, shown := range seen {
			if shown.Turned {
				geared.tries[j]++
				geared.known[j] = true
			}
		}
	}
	// A screw is called odd only beside the reading that showed it.
	tries := snap.Tries[cs.Check.ID]
	if n := len(tries); n > 0 && (tries[n-1].After == nil || tries[n-1].After.Fact != cs.Latest.Fact) {
		x.Odd = nil // it was told with the reading that showed it
	}
	geared.now = learner.Adjusters()
	// What an adjuster has travelled already is missing from what it can still travel.
	for j, i := range geared.turned {
		if limit := geared.all[i].Travel; limit.Valid() {
			end := limit.Float(quantity.Turn)
			geared.now[j].Least, geared.now[j].Most = min(-end-travel[j], 0), max(end-travel[j], 0)
		}
	}
	return geared
}

// Adjusting is a check with what the tries at its adjusters have shown, and the moves
// that bring it home. CheckStatus is nil where the machine has no such check.
type Adjusting struct {
	*CheckStatus
	Plan  *Plan      // nil when there is nothing to turn
	Wrong *WrongWay  // the last move went the wrong way, and nobody has said how it was made
	Odd   []OddScrew // adjusters whose last turn did other than was expected
}

// Adjusting works out what the tries at a check's adjusters have taught and, where
// its verdict asks for it, the plan. It takes about a millisecond and decides nothing
// about the machine: ask it for words, never in a transaction.
func (s Status) Adjusting(check string) Adjusting {
	adjusting := Adjusting{CheckStatus: s.Check(check)}
	if adjusting.CheckStatus == nil || adjusting.Latest.Reading == nil ||
		adjusting.Advice == AdviceNone && len(s.known.Tries[check]) == 0 {
		return adjusting
	}
	gear := adjusting.geared(*s.known)
	if gear == nil || adjusting.Advice == AdviceNone {
		return adjusting
	}
	switch gear.all[gear.turned[0]].Drive {
	case profile.Slide:
		adjusting.Plan = adjusting.slide(gear)
	case profile.Eccentric:
		adjusting.Plan = adjusting.eccentric(*s.known, gear)
	default:
		adjusting.Plan = adjusting.turn(*s.known, gear)
	}
	return adjusting
}
