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
	for _, v := range each {
		sum += v.cost
	}
	return sum
}

// load is how many minutes a machine takes on an evening.
func (s *sharing) load(m int, tonight uint64) int {
	if tonight == 0 {
		return 0
	}
	prep, work := uint64(0), s.Visit
	for b := tonight; b != 0; b &= b - 1 {
		j := s.machines[m][bits.TrailingZeros64(b)]
		prep |= s.prep[j]
		work += s.Jobs[j].Minutes
	}
	return work + s.minutes(m, prep)
}

// loads is how many minutes are on each evening.
func (s *sharing) loads(each []*visits) []int {
	l := make([]int, len(s.Evenings))
	for m, v := range each {
		for e, tonight := range v.done {
			l[e] += s.load(m, tonight)
		}
	}
	return l
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
		v := s.machine(m, allowed, nil)
		if v == nil {
			return VisitPlan{}, impossible
		}
		root.each = append(root.each, v)
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
		i := 0
		for k, x := range open {
			if x.cost < open[i].cost || x.cost == open[i].cost && k > i {
				i = k
			}
		}
		x := open[i]
		open = slices.Delete(open, i, i+1)
		bound = x.cost
		if best != nil && x.cost >= s.total(best) {
			open = nil
			break
		}
		e := s.fullest(x.each)
		if e < 0 {
			best = s.fewer(x.allowed, x.each)
			open = nil
			break
		}
		open = append(open, s.split(x, e)...)
	}
	if len(open) > 0 {
		bound = open[0].cost
		for _, x := range open {
			bound = min(bound, x.cost)
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
func (s *sharing) split(x *node, e int) []*node {
	at, most := -1, -1
	machine := 0
	for m, v := range x.each {
		for b := v.done[e]; b != 0; b &= b - 1 {
			j := s.machines[m][bits.TrailingZeros64(b)]
			if x.allowed[j] != 1<<e && s.Jobs[j].Minutes > most {
				at, most, machine = j, s.Jobs[j].Minutes, m
			}
		}
	}
	if at < 0 {
		return nil // what is on it must be: nothing below fits
	}
	var parts []*node
	for _, a := range []uint64{x.allowed[at] &^ (1 << e), 1 << e} {
		y := &node{allowed: slices.Clone(x.allowed), each: slices.Clone(x.each)}
		y.allowed[at] = a
		if a != 1<<e { // otherwise its solution stays the best
			if y.each[machine] = s.machine(machine, y.allowed, nil); y.each[machine] == nil {
				continue
			}
		}
		if s.short(y.allowed) {
			continue
		}
		y.cost = s.total(y.each)
		parts = append(parts, y)
	}
	return parts
}

// short reports that some evenings in a row are too short for the work that must be
// done on them.
func (s *sharing) short(allowed []uint64) bool {
	n := len(s.Evenings)
	work := make([]int, n*n) // by first and last evening of what may be done on neither before nor after them
	for j, a := range allowed {
		work[bits.TrailingZeros64(a)*n+63-bits.LeadingZeros64(a)] += s.Jobs[j].Minutes
	}
	within := make([]int, n) // by last evening: all that lies from first to last
	for first := n - 1; first >= 0; first-- {
		sum, room := 0, 0
		for last := first; last < n; last++ {
			sum += work[first*n+last]
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
	for first := range s.Evenings {
		room := 0
		for last := first; last < len(s.Evenings); last++ {
			room += s.Evenings[last].Minutes
			outside := ^span(first, last)
			work := 0
			for m, jobs := range s.machines {
				var prep uint64
				before := work
				for _, j := range jobs {
					if allowed[j]&outside == 0 {
						work += s.Jobs[j].Minutes
						prep |= s.prep[j]
					}
				}
				if work > before || prep != 0 {
					work += s.Visit + s.minutes(m, prep)
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
		e := s.fullest(each)
		if e < 0 {
			return each
		}
		now := s.overflow(loads)
		var best []uint64
		var bestVisits *visits
		machine, least := 0, math.Inf(1)
		for m, v := range each {
			if v.done[e] == 0 {
				continue
			}
			moves := []uint64{v.done[e]}
			for b := v.done[e]; b != 0 && b&(b-1) != 0; b &= b - 1 {
				moves = append(moves, b&-b)
			}
			for _, move := range moves {
				tried := slices.Clone(allowed)
				ok := true
				for b := move; b != 0; b &= b - 1 {
					j := s.machines[m][bits.TrailingZeros64(b)]
					tried[j] &^= 1 << e
					ok = ok && tried[j] != 0
				}
				if !ok {
					continue
				}
				n := s.machine(m, tried, nil)
				if n == nil {
					continue
				}
				after := slices.Clone(loads)
				for e := range after {
					after[e] += s.load(m, n.done[e]) - s.load(m, v.done[e])
				}
				// Ties go to what moves least.
				score := float64(
					n.cost-v.cost,
				) + 5*float64(
					s.overflow(after)-now,
				) + 1e-3*float64(
					bits.OnesCount64(move),
				)
				if score < least {
					best, bestVisits, machine, least = tried, n, m, score
				}
			}
		}
		if best == nil {
			return nil
		}
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
func (s *sharing) over(l []int) func(e, minutes int) int {
	return func(e, minutes int) int { return 1000 * max(l[e]+minutes-s.Evenings[e].Minutes, 0) }
}

// clean works out what visits cost by themselves.
func (s *sharing) clean(m int, v *visits) {
	v.cost = 0
	for e, tonight := range v.done {
		if tonight == 0 {
			continue
		}
		var prep uint64
		for b := tonight; b != 0; b &= b - 1 {
			j := s.machines[m][bits.TrailingZeros64(b)]
			prep |= s.prep[j]
			v.cost += s.late(j, e)
		}
		v.cost += s.Visit + s.minutes(m, prep)
	}
}

// fewer gives up evenings, those with least on them first, while that costs nothing.
func (s *sharing) fewer(allowed []uint64, each []*visits) []*visits {
	cost := s.total(each)
	was := s.fullest(each)
	used := uint64(0)
	for e, l := range s.loads(each) {
		if l > 0 {
			used |= 1 << e
		}
	}
	kept := uint64(0)
	for {
		least, at := math.MaxInt, -1
		for e, l := range s.loads(each) {
			if l > 0 && kept>>e&1 == 0 && l < least {
				least, at = l, e
			}
		}
		if at < 0 {
			return each
		}
		without := slices.Clone(allowed)
		for j := range without {
			without[j] &= used &^ (1 << at)
		}
		tried := slices.Clone(each)
		l := s.loads(each)
		ok := true
		for m, v := range each {
			if v.done[at] == 0 {
				continue
			}
			for e, tonight := range v.done {
				l[e] -= s.load(m, tonight)
			}
			n := s.machine(m, without, s.over(l))
			if n == nil {
				ok = false
				break
			}
			s.clean(m, n)
			for e, tonight := range n.done {
				l[e] += s.load(m, tonight)
			}
			tried[m] = n
		}
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
	for m, v := range each {
		for e, tonight := range v.done {
			if tonight == 0 {
				continue
			}
			plan.Visits++
			plan.Out += s.load(m, tonight) - s.Visit
			for b := tonight; b != 0; b &= b - 1 {
				j := s.machines[m][bits.TrailingZeros64(b)]
				plan.At[j] = e
			}
		}
	}
	plan.Cost = plan.Out + s.Visit*plan.Visits
	plan.Bound = plan.Cost - (s.total(each) - bound)
	if s.total(each)-bound >= late {
		plan.Bound, plan.GaveUp = 0, true
	}
	for e, l := range s.loads(each) {
		if l > s.Evenings[e].Minutes {
			plan.Overfull = append(plan.Overfull, e)
		}
	}
	return plan
}
