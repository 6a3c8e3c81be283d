package upkeep

import (
	"cmp"
	"errors"
	"math"
	"math/bits"
	"slices"
)

// Evening is a time at which a steward is at the shop: so many days from today, and
// so many minutes long.
type Evening struct{ Day, Minutes int }

// VisitJob is work to be done once at one machine, within a window of days from
// today, both ends in it.
type VisitJob struct {
	Machine       int
	Opens, Closes int
	NotBefore     bool // done before Opens it would not count
	Minutes       int
	Prep          []int // what must be prepared for it, as indexes of VisitProblem.Prep
	After         []int // jobs of the same machine that come before it, as indexes of Jobs
}

// VisitProblem is work to be shared out over evenings. A visit is what is done at one
// machine in one evening: what its jobs need prepared is prepared once.
type VisitProblem struct {
	Evenings []Evening // in order of their days
	Jobs     []VisitJob
	Prep     []int // minutes each preparation takes
	Visit    int   // minutes that each visit costs the steward besides
}

// VisitPlan says on which evening each job is done.
type VisitPlan struct {
	At       []int // by job: an index of Evenings
	Visits   int
	Out      int   // minutes that machines are out of service: work and preparation
	Cost     int   // Out and what the visits cost besides
	Bound    int   // no plan with as few days outside windows costs less
	Outside  []int // jobs outside their windows
	Overfull []int // evenings that are too short for what is on them
	// GaveUp says that the search for a plan with fewer days outside windows was ended
	// before it was through.
	GaveUp bool
}

// MostVisitJobs is how many jobs one machine may have.
const MostVisitJobs = 60

// MostEvenings is how many evenings a plan may look at.
const MostEvenings = 64

// ErrTooManyJobs is a problem beyond MostVisitJobs or MostEvenings.
var ErrTooManyJobs = errors.New("upkeep: more jobs or evenings than a plan of visits takes")

// ErrNoEvenings is a problem with jobs and no evening.
var ErrNoEvenings = errors.New("upkeep: no evenings to plan visits on")

// mostWork bounds the search among ways to share full evenings, for each number of
// evenings that jobs may come late: jobs in the solutions for one machine that it may
// ask for.
const mostWork = 30_000

// PlanVisits shares jobs out over evenings so that
//
//	minutes out of service + Visit * number of visits
//
// is least, where a machine is out of service for its jobs' minutes and for what
// they need prepared, once in each visit. No job lies outside its window while any
// plan keeps all within: a job whose window holds no evening goes to the last
// evening before it, where that counts, or else to the first after it, and only where evenings are too short for the rest may jobs come
// after their windows, by as few evenings as will do.
//
// Method: each machine alone is solved exactly by dynamic programming over the
// evenings, with the set of jobs done as its state. A visit is only considered on an
// evening after which one of its jobs could no longer wait, since any other could be
// moved to the next evening at no cost; all that is open is done. Their sum bounds
// the cost from below. Where evenings are too full, best-first branch and bound
// splits on whether a job is done on a full evening, until the bound is met or
// mostWork is spent; Bound is what has been proved by then. Of plans of one
// cost one with few evenings is taken.
func PlanVisits(p VisitProblem) (VisitPlan, error) {
	if len(p.Jobs) == 0 {
		return VisitPlan{}, nil
	}
	if len(p.Evenings) == 0 {
		return VisitPlan{}, ErrNoEvenings
	}
	s := newSharing(p)
	if s.tooMany() {
		return VisitPlan{}, ErrTooManyJobs
	}
	gaveUp := false
	for later := 0; ; later = later*2 + 1 {
		allowed := make([]uint64, len(p.Jobs))
		for j := range p.Jobs {
			allowed[j] = p.allowed(j, later)
		}
		last := later > len(p.Evenings)
		plan, found := s.share(allowed, last)
		switch {
		case found == shared:
			plan.GaveUp = plan.GaveUp || gaveUp
			return plan, nil
		case last:
			panic("upkeep: a plan that may overfill evenings was not found")
		}
		gaveUp = gaveUp || found == notFound
	}
}

// window is the evenings within a job's window; of one that holds none, the last
// before it, where that would count, or else the first after it. A job that would
// count on no evening gets the first.
func (p *VisitProblem) window(j int) (first, last int, inside bool) {
	job := p.Jobs[j]
	first, last = -1, -1
	near, after := -1, -1
	for e, v := range p.Evenings {
		switch {
		case v.Day >= job.Opens && v.Day <= job.Closes:
			if first < 0 {
				first = e
			}
			last = e
		case v.Day < job.Opens && !job.NotBefore:
			near = e
		case v.Day > job.Closes && after < 0:
			after = e
		}
	}
	if near < 0 {
		near = max(after, 0)
	}
	if first < 0 {
		return near, near, false
	}
	return first, last, true
}

// allowed is a job's evenings as bits: its window and so many later ones.
func (p *VisitProblem) allowed(j, later int) uint64 {
	first, last, _ := p.window(j)
	last = min(last+later, len(p.Evenings)-1)
	return span(first, last)
}

// span is the bits from one to another, both set.
func span(first, last int) uint64 { return (math.MaxUint64 >> (63 - last)) &^ (1<<first - 1) }

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
	s := &sharing{VisitProblem: p, prep: make([]uint64, len(p.Jobs)), after: make([]uint64, len(p.Jobs)), last: make([]int, len(p.Jobs))}
	of := map[int]int{}
	at := make([]int, len(p.Jobs)) // each job's place within its machine
	for j, job := range p.Jobs {
		m, ok := of[job.Machine]
		if !ok {
			m = len(s.machines)
			of[job.Machine] = m
			s.machines, s.preps = append(s.machines, nil), append(s.preps, nil)
		}
		at[j] = len(s.machines[m])
		s.machines[m] = append(s.machines[m], j)
		for _, x := range job.Prep {
			i := slices.Index(s.preps[m], x)
			if i < 0 {
				i = len(s.preps[m])
				s.preps[m] = append(s.preps[m], x)
			}
			s.prep[j] |= 1 << i
		}
		_, s.last[j], _ = p.window(j)
	}
	for j, job := range p.Jobs {
		for _, b := range job.After {
			s.after[j] |= 1 << at[b]
		}
	}
	return s
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
// nil if that cannot be. Where extra is not nil it is what so many minutes on an
// evening cost besides; the solution is then a good one and not always the best.
func (s *sharing) machine(m int, allowed []uint64, extra func(e, minutes int) int) *visits {
	jobs := s.machines[m]
	s.spent += len(jobs)
	all := uint64(1)<<len(jobs) - 1
	states := []*step{{}}
	const beam = 64
	for e := range s.Evenings {
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
			var able, must, cannotWait uint64
			dead := false
			for b := pending; b != 0; b &= b - 1 {
				i := bits.TrailingZeros64(b)
				a := allowed[jobs[i]]
				later := a >> e >> 1
				if a>>e&1 != 0 {
					able |= 1 << i
					if later == 0 {
						must |= 1 << i
					}
					if later&1 == 0 || e+1 > s.last[jobs[i]] {
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
					cost += s.late(j, e)
					work += s.Jobs[j].Minutes
				}
				cost += s.minutes(m, used)
				if extra != nil {
					cost += extra(e, work+s.minutes(m, used))
				}
				keep(&step{done: st.done | tonight, tonight: tonight, cost: cost, from: st})
			})
		}
		states = states[:0:0]
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
	var masks []uint64
	for g := range groups {
		masks = append(masks, g)
	}
	slices.Sort(masks)
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
	best := s.fewer(allowed, root.each)
	if s.fullest(best) >= 0 {
		best = nil
	}
	if best == nil || s.total(best) > root.cost {
		if relieved := s.relieve(allowed, root.each); relieved != nil && (best == nil || s.total(relieved) < s.total(best)) {
			best = s.fewer(allowed, relieved)
		}
	}
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
		l := s.loads(each)
		e := s.fullest(each)
		if e < 0 {
			return each
		}
		now := s.overflow(l)
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
				after := slices.Clone(l)
				for e := range after {
					after[e] += s.load(m, n.done[e]) - s.load(m, v.done[e])
				}
				// Ties go to what moves least.
				score := float64(n.cost-v.cost) + 5*float64(s.overflow(after)-now) + 1e-3*float64(bits.OnesCount64(move))
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
	p := VisitPlan{At: make([]int, len(s.Jobs))}
	for m, v := range each {
		for e, tonight := range v.done {
			if tonight == 0 {
				continue
			}
			p.Visits++
			p.Out += s.load(m, tonight) - s.Visit
			for b := tonight; b != 0; b &= b - 1 {
				j := s.machines[m][bits.TrailingZeros64(b)]
				p.At[j] = e
			}
		}
	}
	p.Cost = p.Out + s.Visit*p.Visits
	p.Bound = p.Cost - (s.total(each) - bound)
	if s.total(each)-bound >= late {
		p.Bound, p.GaveUp = 0, true
	}
	for j, e := range p.At {
		if d := s.Evenings[e].Day; d < s.Jobs[j].Opens || d > s.Jobs[j].Closes {
			p.Outside = append(p.Outside, j)
		}
	}
	for e, l := range s.loads(each) {
		if l > s.Evenings[e].Minutes {
			p.Overfull = append(p.Overfull, e)
		}
	}
	return p
}
