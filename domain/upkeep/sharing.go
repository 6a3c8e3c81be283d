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

func newSharing(problem VisitProblem) *sharing {
	made := &sharing{
		VisitProblem: problem,
		prep:         make([]uint64, len(problem.Jobs)),
		after:        make([]uint64, len(problem.Jobs)),
		last:         make([]int, len(problem.Jobs)),
	}
	// Number machines, and the jobs and preparations of each, so that sets of them are bits.
	of := map[int]int{}
	at := make([]int, len(problem.Jobs)) // each job's place within its machine
	for number, job := range problem.Jobs {
		machine, ok := of[job.Machine]
		if !ok {
			machine = len(made.machines)
			of[job.Machine] = machine
			made.machines, made.preps = append(made.machines, nil), append(made.preps, nil)
		}
		at[number] = len(made.machines[machine])
		made.machines[machine] = append(made.machines[machine], number)
		for _, prep := range job.Prep {
			i := slices.Index(made.preps[machine], prep)
			if i < 0 {
				i = len(made.preps[machine])
				made.preps[machine] = append(made.preps[machine], prep)
			}
			made.prep[number] |= 1 << i
		}
		_, made.last[number], _ = problem.window(number)
	}
	// Only now that every job has its bit can the jobs before it be written as bits.
	for number, job := range problem.Jobs {
		for _, before := range job.After {
			made.after[number] |= 1 << at[before]
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
func (s *sharing) machine(number int, allowed []uint64, extra func(e, minutes int) int) *visits {
	jobs := s.machines[number]
	s.spent += len(jobs)
	all := uint64(1)<<len(jobs) - 1
	states := []*step{{}}
	const beam = 64
	for evening := range s.Evenings {
		next := map[uint64]*step{}
		keep := func(reached *step) {
			if old, ok := next[reached.done]; !ok || reached.cost < old.cost {
				next[reached.done] = reached
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
			for rest := pending; rest != 0; rest &= rest - 1 {
				i := bits.TrailingZeros64(rest)
				evenings := allowed[jobs[i]]
				later := evenings >> evening >> 1
				if evenings>>evening&1 != 0 {
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
				for rest := tonight; rest != 0; rest &= rest - 1 {
					job := jobs[bits.TrailingZeros64(rest)]
					used |= s.prep[job]
					cost += s.late(job, evening)
					work += s.Jobs[job].Minutes
				}
				cost += s.minutes(number, used)
				if extra != nil {
					cost += extra(evening, work+s.minutes(number, used))
				}
				keep(&step{done: st.done | tonight, tonight: tonight, cost: cost, from: st})
			})
		}
		// The states after this evening, the cheapest first.
		states = states[:0:0]
		// any order: sorted below, and no two have done the same
		for _, reached := range next {
			states = append(states, reached)
		}
		slices.SortFunc(states, func(a, b *step) int { return cmp.Or(a.cost-b.cost, cmp.Compare(a.done, b.done)) })
		if extra != nil && len(states) > beam {
			states = states[:beam]
		}
	}
	// Of the ways to do everything the cheapest comes first; follow it back.
	for _, last := range states {
		if last.done == all {
			found := &visits{done: make([]uint64, len(s.Evenings)), cost: last.cost}
			for at := len(s.Evenings) - 1; at >= 0; at-- {
				found.done[at] = last.tonight
				last = last.from
			}
			return found
		}
	}
	return nil
}

// reachable is the most of a machine's able jobs that can be done with some
// preparations, each after those that it comes after.
func (s *sharing) reachable(jobs []int, able, done, prep uint64) uint64 {
	for rest := able; rest != 0; rest &= rest - 1 {
		i := bits.TrailingZeros64(rest)
		if s.prep[jobs[i]]&^prep != 0 {
			able &^= 1 << i
		}
	}
	for {
		before := able
		for rest := able; rest != 0; rest &= rest - 1 {
			i := bits.TrailingZeros64(rest)
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
	// What must be done, and all that has to come before it, needs these at least.
	base := uint64(0)
	for grown := must; grown != 0; {
		i := bits.TrailingZeros64(grown)
		grown &^= 1 << i
		base |= s.prep[jobs[i]]
		grown |= s.after[jobs[i]] &^ done & pending &^ must
		must |= 1 << i
	}
	// Then every union with what groups of able jobs need, each union once.
	groups := map[uint64]uint64{} // by preparations: the able jobs that need just those
	for rest := able; rest != 0; rest &= rest - 1 {
		i := bits.TrailingZeros64(rest)
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
	for i, mask := range masks {
		grow(mask, i+1)
	}
}

// withOwn adds to preparations those that only one group of jobs needs, where all of
// that group can be done at once.
func (s *sharing) withOwn(jobs []int, masks []uint64, groups map[uint64]uint64, pending, done, prep uint64) uint64 {
	for grown := true; grown; {
		grown = false
		for _, group := range masks {
			more := group &^ prep
			if more == 0 {
				continue
			}
			own := true
			for rest := pending &^ groups[group]; rest != 0 && own; rest &= rest - 1 {
				own = s.prep[jobs[bits.TrailingZeros64(rest)]]&more == 0
			}
			for rest := groups[group]; rest != 0 && own; rest &= rest - 1 {
				own = s.after[jobs[bits.TrailingZeros64(rest)]]&^(done|groups[group]) == 0
			}
			if own {
				prep |= group
				grown = true
			}
		}
	}
	return prep
}
