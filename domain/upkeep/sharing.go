package upkeep

import (
	"cmp"
	"maps"
	"math/bits"
	"slices"
)

// sharing is a problem by machines.
type sharing struct {
	VisitProblem
	machines [][]int // jobs of each
	prep     []uint64
	preps    [][]int // of each machine: the preparations its bits stand for
	after    []uint64
	last     []int // of each job: its window's last evening
	spent    int   // of mostWork
}

func newSharing(p VisitProblem) *sharing {
	made := &sharing{
		VisitProblem: p,
		prep:         make([]uint64, len(p.Jobs)),
		after:        make([]uint64, len(p.Jobs)),
		last:         make([]int, len(p.Jobs)),
	}
	of := map[int]int{}
	at := make([]int, len(p.Jobs)) // each job's place within its machine
	for j, job := range p.Jobs {
		m, ok := of[job.Machine]
		if !ok {
			m = len(made.machines)
			of[job.Machine] = m
			made.machines, made.preps = append(made.machines, nil), append(made.preps, nil)
		}
		at[j] = len(made.machines[m])
		made.machines[m] = append(made.machines[m], j)
		for _, x := range job.Prep {
			i := slices.Index(made.preps[m], x)
			if i < 0 {
				i = len(made.preps[m])
				made.preps[m] = append(made.preps[m], x)
			}
			made.prep[j] |= 1 << i
		}
		_, made.last[j], _ = p.window(j)
	}
	for j, job := range p.Jobs {
		for _, b := range job.After {
			made.after[j] |= 1 << at[b]
		}
	}
	return made
}

func (s *sharing) tooMany() bool {
	for m, jobs := range s.machines {
		if len(jobs) > MostVisitJobs || len(s.preps[m]) > 64 {
			return true
		}
	}
	return len(s.Evenings) > MostEvenings
}

// late is what doing a job on an evening after its window costs: more than any plan
// within the windows could.
const late = 1_000_000

func (s *sharing) late(j, e int) int { return late * max(e-s.last[j], 0) }

// minutes is how long a machine's preparations take.
func (s *sharing) minutes(m int, prep uint64) int {
	sum := 0
	for ; prep != 0; prep &= prep - 1 {
		sum += s.Prep[s.preps[m][bits.TrailingZeros64(prep)]]
	}
	return sum
}

// visits is one machine's: which of its jobs are done on each evening, and what
// that costs, lateness included.
type visits struct {
	done []uint64 // by evening
	cost int
}

// step is a state of the dynamic programme: the jobs done, at what cost, and how.
type step struct {
	done, tonight uint64
	cost          int
	from          *step
}

// machine solves one machine alone, each of its jobs on one of its allowed evenings;
// nil if that cannot be. Where extra is not nil it is what a number of minutes on an
// evening cost besides; the solution is then a good one and not always the best.
func (s *sharing) machine(m int, allowed []uint64, extra func(e, minutes int) int) *visits {
	jobs := s.machines[m]
	s.spent += len(jobs)
	all := uint64(1)<<len(jobs) - 1
	states := []*step{{}}
	const beam = 64
	for evening := range s.Evenings {
		next := map[uint64]*step{}
		keep := func(x *step) {
			if old, ok := next[x.done]; !ok || x.cost < old.cost {
				next[x.done] = x
			}
		}
		for _, st := range states {
			pending := all &^ st.done
			if pending == 0 {
				keep(&step{done: st.done, cost: st.cost, from: st})
				continue
			}
			// What can be done, what must be, and what gains nothing by waiting.
			var able, must, cannotWait uint64
			dead := false
			for b := pending; b != 0; b &= b - 1 {
				i := bits.TrailingZeros64(b)
				a := allowed[jobs[i]]
				later := a >> evening >> 1
				if a>>evening&1 != 0 {
					able |= 1 << i
					if later == 0 {
						must |= 1 << i
					}
					if later&1 == 0 || evening+1 > s.last[jobs[i]] {
						cannotWait |= 1 << i
					}
				} else if later == 0 {
					dead = true
				}
			}
			if dead {
				continue
			}
			able = s.reachable(jobs, able, st.done, ^uint64(0))
			if must&^able != 0 {
				continue
			}
			if must == 0 {
				keep(&step{done: st.done, cost: st.cost, from: st})
				if cannotWait&able == 0 && extra == nil {
					continue
				}
			}
			// A visit with each set of preparations that may be worth while.
			s.options(jobs, able, must, pending, st.done, func(prep uint64) {
				tonight := s.reachable(jobs, able, st.done, prep)
				if tonight == 0 || must&^tonight != 0 || must == 0 && extra == nil && cannotWait&tonight == 0 {
					return
				}
				used := uint64(0)
				cost, work := st.cost+s.Visit, s.Visit
				for b := tonight; b != 0; b &= b - 1 {
					j := jobs[bits.TrailingZeros64(b)]
					used |= s.prep[j]
					cost += s.late(j, evening)
					work += s.Jobs[j].Minutes
				}
				cost += s.minutes(m, used)
				if extra != nil {
					cost += extra(evening, work+s.minutes(m, used))
				}
				keep(&step{done: st.done | tonight, tonight: tonight, cost: cost, from: st})
			})
		}
		// The states after this evening, the cheapest first.
		states = states[:0:0]
		// any order: sorted below, and no two have done the same
		for _, x := range next {
			states = append(states, x)
		}
		slices.SortFunc(states, func(a, b *step) int { return cmp.Or(a.cost-b.cost, cmp.Compare(a.done, b.done)) })
		if extra != nil && len(states) > beam {
			states = states[:beam]
		}
	}
	for _, x := range states {
		if x.done == all {
			v := &visits{done: make([]uint64, len(s.Evenings)), cost: x.cost}
			for e := len(s.Evenings) - 1; e >= 0; e-- {
				v.done[e] = x.tonight
				x = x.from
			}
			return v
		}
	}
	return nil
}

// reachable is the most of a machine's able jobs that can be done with some
// preparations, each after those that it comes after.
func (s *sharing) reachable(jobs []int, able, done, prep uint64) uint64 {
	for b := able; b != 0; b &= b - 1 {
		i := bits.TrailingZeros64(b)
		if s.prep[jobs[i]]&^prep != 0 {
			able &^= 1 << i
		}
	}
	for {
		before := able
		for b := able; b != 0; b &= b - 1 {
			i := bits.TrailingZeros64(b)
			if s.after[jobs[i]]&^(done|able) != 0 {
				able &^= 1 << i
			}
		}
		if able == before {
			return able
		}
	}
}

// options goes through the preparations that may be worth while: those for what
// must be done, with every union of those for what else is able. What is able with
// nothing but preparations that no other pending job needs is always among them:
// those cost the same whenever they are made.
func (s *sharing) options(jobs []int, able, must, pending, done uint64, try func(prep uint64)) {
	base := uint64(0)
	for grown := must; grown != 0; {
		i := bits.TrailingZeros64(grown)
		grown &^= 1 << i
		base |= s.prep[jobs[i]]
		grown |= s.after[jobs[i]] &^ done & pending &^ must
		must |= 1 << i
	}
	groups := map[uint64]uint64{} // by preparations: the able jobs that need just those
	for b := able; b != 0; b &= b - 1 {
		i := bits.TrailingZeros64(b)
		groups[s.prep[jobs[i]]] |= 1 << i
	}
	masks := slices.Sorted(maps.Keys(groups))
	seen := map[uint64]bool{}
	var grow func(prep uint64, from int)
	grow = func(prep uint64, from int) {
		prep = s.withOwn(jobs, masks, groups, pending, done, prep)
		if !seen[prep] {
			seen[prep] = true
			try(prep)
		}
		for i := from; i < len(masks); i++ {
			if masks[i]&^prep != 0 {
				grow(prep|masks[i], i+1)
			}
		}
	}
	if must != 0 {
		grow(base, 0)
		return
	}
	for i, g := range masks {
		grow(g, i+1)
	}
}

// withOwn adds to preparations those that only one group of jobs needs, where all of
// that group can be done at once.
func (s *sharing) withOwn(jobs []int, masks []uint64, groups map[uint64]uint64, pending, done, prep uint64) uint64 {
	for grown := true; grown; {
		grown = false
		for _, g := range masks {
			more := g &^ prep
			if more == 0 {
				continue
			}
			own := true
			for b := pending &^ groups[g]; b != 0 && own; b &= b - 1 {
				own = s.prep[jobs[bits.TrailingZeros64(b)]]&more == 0
			}
			for b := groups[g]; b != 0 && own; b &= b - 1 {
				own = s.after[jobs[bits.TrailingZeros64(b)]]&^(done|groups[g]) == 0
			}
			if own {
				prep |= g
				grown = true
			}
		}
	}
	return prep
}
