package upkeep

import (
	"math"
	"math/bits"
	"slices"
)

// node is a part of the search: what each job may do, and the machines' solutions.
type node struct {
	allowed []uint64
	each    []*visits
	cost    int
}

func (s *sharing) total(each []*visits) int {
	sum := 0
	for _, visits := range each {
		sum += visits.cost
	}
	return sum
}

// load is how many minutes a machine takes on an evening.
func (s *sharing) load(machine int, tonight uint64) int {
	if tonight == 0 {
		return 0
	}
	prep, work := uint64(0), s.Visit
	for rest := tonight; rest != 0; rest &= rest - 1 {
		job := s.machines[machine][bits.TrailingZeros64(rest)]
		prep |= s.prep[job]
		work += s.Jobs[job].Minutes
	}
	return work + s.minutes(machine, prep)
}

// loads is how many minutes are on each evening.
func (s *sharing) loads(each []*visits) []int {
	all := make([]int, len(s.Evenings))
	for machine, visits := range each {
		for evening, tonight := range visits.done {
			all[evening] += s.load(machine, tonight)
		}
	}
	return all
}

// fullest is the evening that is over its minutes by the most, or -1.
func (s *sharing) fullest(each []*visits) int {
	at, over := -1, 0
	for e, l := range s.loads(each) {
		if o := l - s.Evenings[e].Minutes; o > over {
			at, over = e, o
		}
	}
	return at
}

// outcome is how a search ended: with a plan; with none, since there is none; or
// before it was through.
type outcome uint8

const (
	shared outcome = iota
	impossible
	notFound
)

// share finds a plan with every job on one of its allowed evenings, none fuller than
// it has minutes. Where overfull is true they may be.
func (s *sharing) share(allowed []uint64, overfull bool) (VisitPlan, outcome) {
	s.spent = 0
	// Each machine by itself: a bound, and perhaps the plan.
	root := &node{allowed: allowed}
	for m := range s.machines {
		visits := s.machine(m, allowed, nil)
		if visits == nil {
			return VisitPlan{}, impossible
		}
		root.each = append(root.each, visits)
	}
	root.cost = s.total(root.each)
	if !overfull && (s.short(allowed) || s.shortPrepared(allowed)) {
		return VisitPlan{}, impossible
	}
	// A first plan: as few evenings as will do, or fuller ones relieved.
	best := s.fewer(allowed, root.each)
	if s.fullest(best) >= 0 {
		best = nil
	}
	if best == nil || s.total(best) > root.cost {
		if relieved := s.relieve(allowed, root.each); relieved != nil &&
			(best == nil || s.total(relieved) < s.total(best)) {
			best = s.fewer(allowed, relieved)
		}
	}
	// Best first, split on what is done on the fullest evening.
	open := []*node{root}
	bound := root.cost
	for len(open) > 0 && s.spent < mostWork {
		number := 0
		for k, part := range open {
			if part.cost < open[number].cost || part.cost == open[number].cost && k > number {
				number = k
			}
		}
		part := open[number]
		open = slices.Delete(open, number, number+1)
		bound = part.cost
		if best != nil && part.cost >= s.total(best) {
			open = nil
			break
		}
		evening := s.fullest(part.each)
		if evening < 0 {
			best = s.fewer(part.allowed, part.each)
			open = nil
			break
		}
		open = append(open, s.split(part, evening)...)
	}
	if len(open) > 0 {
		bound = open[0].cost
		for _, part := range open {
			bound = min(bound, part.cost)
		}
	}
	switch {
	case best != nil:
	case overfull:
		best = root.each
	case len(open) > 0:
		return VisitPlan{}, notFound
	default:
		return VisitPlan{}, impossible
	}
	return s.plan(best, min(bound, s.total(best))), shared
}

// split parts a node by one job of a full evening: it is not done then, or it is.
func (s *sharing) split(parent *node, evening int) []*node {
	// Split on the longest job of the evening that could go elsewhere: it changes most.
	at, most := -1, -1
	machine := 0
	for number, v := range parent.each {
		for rest := v.done[evening]; rest != 0; rest &= rest - 1 {
			job := s.machines[number][bits.TrailingZeros64(rest)]
			if parent.allowed[job] != 1<<evening && s.Jobs[job].Minutes > most {
				at, most, machine = job, s.Jobs[job].Minutes, number
			}
		}
	}
	if at < 0 {
		return nil // what is on it must be: nothing below fits
	}
	var parts []*node
	for _, evenings := range []uint64{parent.allowed[at] &^ (1 << evening), 1 << evening} {
		part := &node{allowed: slices.Clone(parent.allowed), each: slices.Clone(parent.each)}
		part.allowed[at] = evenings
		if evenings != 1<<evening { // otherwise its solution stays the best
			if part.each[machine] = s.machine(machine, part.allowed, nil); part.each[machine] == nil {
				continue
			}
		}
		if s.short(part.allowed) {
			continue
		}
		part.cost = s.total(part.each)
		parts = append(parts, part)
	}
	return parts
}

// short reports that some evenings in a row are too short for the work that must be
// done on them.
func (s *sharing) short(allowed []uint64) bool {
	count := len(s.Evenings)
	work := make([]int, count*count) // by first and last evening of what may be done on neither before nor after them
	for job, evenings := range allowed {
		work[bits.TrailingZeros64(evenings)*count+63-bits.LeadingZeros64(evenings)] += s.Jobs[job].Minutes
	}
	within := make([]int, count) // by last evening: all that lies from first to last
	for first := count - 1; first >= 0; first-- {
		sum, room := 0, 0
		for last := first; last < count; last++ {
			sum += work[first*count+last]
			room += s.Evenings[last].Minutes
			if within[last] += sum; within[last] > room {
				return true
			}
		}
	}
	return false
}

// shortPrepared is short with what the work needs prepared at least once, and a visit
// to each machine; it takes longer to tell.
func (s *sharing) shortPrepared(allowed []uint64) bool {
	// For each run of evenings, the work that cannot be done outside it.
	for first := range s.Evenings {
		room := 0
		for last := first; last < len(s.Evenings); last++ {
			room += s.Evenings[last].Minutes
			outside := ^span(first, last)
			work := 0
			for machine, jobs := range s.machines {
				var prep uint64
				before := work
				for _, job := range jobs {
					if allowed[job]&outside == 0 {
						work += s.Jobs[job].Minutes
						prep |= s.prep[job]
					}
				}
				if work > before || prep != 0 {
					work += s.Visit + s.minutes(machine, prep)
				}
			}
			if work > room {
				return true
			}
		}
	}
	return false
}

// relieve moves work off evenings that are too full, one machine or one job at a
// time, each time what costs least for the minutes that it wins; nil if that leaves
// an evening too full.
func (s *sharing) relieve(allowed []uint64, each []*visits) []*visits {
	allowed, each = slices.Clone(allowed), slices.Clone(each)
	for s.spent < mostWork {
		loads := s.loads(each)
		full := s.fullest(each)
		if full < 0 {
			return each
		}
		// Try to take each machine, and each of its jobs alone, off the fullest evening.
		now := s.overflow(loads)
		var best []uint64
		var bestVisits *visits
		machine, least := 0, math.Inf(1)
		for number, visits := range each {
			if visits.done[full] == 0 {
				continue
			}
			moves := []uint64{visits.done[full]}
			for rest := visits.done[full]; rest != 0 && rest&(rest-1) != 0; rest &= rest - 1 {
				moves = append(moves, rest&-rest)
			}
			for _, move := range moves {
				// A job that may be done on that evening only must stay.
				tried := slices.Clone(allowed)
				ok := true
				for rest := move; rest != 0; rest &= rest - 1 {
					job := s.machines[number][bits.TrailingZeros64(rest)]
					tried[job] &^= 1 << full
					ok = ok && tried[job] != 0
				}
				if !ok {
					continue
				}
				// Let the work fall where it then costs least, and see whether that helps.
				instead := s.machine(number, tried, nil)
				if instead == nil {
					continue
				}
				after := slices.Clone(loads)
				for evening := range after {
					after[evening] += s.load(number, instead.done[evening]) - s.load(number, visits.done[evening])
				}
				// Ties go to what moves least.
				score := float64(instead.cost-visits.cost) + 5*float64(s.overflow(after)-now) +
					1e-3*float64(bits.OnesCount64(move))
				if score < least {
					best, bestVisits, machine, least = tried, instead, number, score
				}
			}
		}
		if best == nil {
			return nil
		}
		// Make the best move for good: what has left an evening does not come back to it.
		allowed, each[machine] = best, bestVisits
	}
	return nil
}

// overflow is how many minutes are on evenings beyond theirs.
func (s *sharing) overflow(loads []int) int {
	sum := 0
	for e, l := range loads {
		sum += max(l-s.Evenings[e].Minutes, 0)
	}
	return sum
}

// over charges what goes over an evening's minutes, beside what is on it.
func (s *sharing) over(loads []int) func(e, minutes int) int {
	return func(e, minutes int) int { return 1000 * max(loads[e]+minutes-s.Evenings[e].Minutes, 0) }
}

// clean works out what visits cost by themselves.
func (s *sharing) clean(machine int, visits *visits) {
	visits.cost = 0
	for evening, tonight := range visits.done {
		if tonight == 0 {
			continue
		}
		var prep uint64
		for rest := tonight; rest != 0; rest &= rest - 1 {
			job := s.machines[machine][bits.TrailingZeros64(rest)]
			prep |= s.prep[job]
			visits.cost += s.late(job, evening)
		}
		visits.cost += s.Visit + s.minutes(machine, prep)
	}
}

// fewer gives up evenings, those with least on them first, while that costs nothing.
func (s *sharing) fewer(allowed []uint64, each []*visits) []*visits {
	cost := s.total(each)
	was := s.fullest(each)
	used := uint64(0)
	for evening, minutes := range s.loads(each) {
		if minutes > 0 {
			used |= 1 << evening
		}
	}
	kept := uint64(0)
	for {
		// The evening with least on it that has not been tried yet.
		least, at := math.MaxInt, -1
		for evening, minutes := range s.loads(each) {
			if minutes > 0 && kept>>evening&1 == 0 && minutes < least {
				least, at = minutes, evening
			}
		}
		if at < 0 {
			return each
		}
		// Share its work out among the other evenings in use, one machine after another.
		without := slices.Clone(allowed)
		for j := range without {
			without[j] &= used &^ (1 << at)
		}
		tried := slices.Clone(each)
		loads := s.loads(each)
		ok := true
		for machine, alone := range each {
			if alone.done[at] == 0 {
				continue
			}
			for evening, tonight := range alone.done {
				loads[evening] -= s.load(machine, tonight)
			}
			instead := s.machine(machine, without, s.over(loads))
			if instead == nil {
				ok = false
				break
			}
			s.clean(machine, instead)
			for evening, tonight := range instead.done {
				loads[evening] += s.load(machine, tonight)
			}
			tried[machine] = instead
		}
		// Give it up if nothing got dearer and no evening became too full; else keep it.
		if ok && s.total(tried) <= cost && (was >= 0 || s.fullest(tried) < 0) {
			each, cost = tried, s.total(tried)
			used &^= 1 << at
			continue
		}
		kept |= 1 << at
	}
}

// plan puts machines' visits together.
func (s *sharing) plan(each []*visits, bound int) VisitPlan {
	plan := VisitPlan{At: make([]int, len(s.Jobs))}
	// Count what is done, not what it costs: lateness is part of the search's cost only.
	for machine, visits := range each {
		for evening, tonight := range visits.done {
			if tonight == 0 {
				continue
			}
			plan.Visits++
			plan.Out += s.load(machine, tonight) - s.Visit
			for rest := tonight; rest != 0; rest &= rest - 1 {
				job := s.machines[machine][bits.TrailingZeros64(rest)]
				plan.At[job] = evening
			}
		}
	}
	// What the search left unproved is taken off the plan's own cost.
	plan.Cost = plan.Out + s.Visit*plan.Visits
	plan.Bound = plan.Cost - (s.total(each) - bound)
	if s.total(each)-bound >= late {
		plan.Bound, plan.GaveUp = 0, true
	}
	for evening, minutes := range s.loads(each) {
		if minutes > s.Evenings[evening].Minutes {
			plan.Overfull = append(plan.Overfull, evening)
		}
	}
	return plan
}
