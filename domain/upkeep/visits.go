package upkeep

import (
	"errors"
	"math"
)

// Evening is a time at which a steward is at the shop: a number of days from
// today, and its length in minutes.
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
// plan keeps all within: a job whose window holds no evening is planned for the
// last evening before it, where that counts, or else for the first after it. Only
// where evenings are too short for the rest may jobs come after their windows, by
// as few evenings as will do; GaveUp says that the search for that was ended
// before it was through.
//
// Method: each machine alone is solved exactly by dynamic programming over the
// evenings, with the set of jobs done as its state. A visit is only considered on an
// evening after which one of its jobs could no longer wait, since any other could be
// moved to the next evening at no cost; all that is open is done. Their sum bounds
// the cost from below. Where evenings are too full, best-first branch and bound
// splits on whether a job is done on a full evening, until the bound is met or
// mostWork is spent; Bound is what has been proved by then. Of plans of one
// cost one with few evenings is taken.
func PlanVisits(problem VisitProblem) (VisitPlan, error) {
	if len(problem.Jobs) == 0 {
		return VisitPlan{}, nil
	}
	if len(problem.Evenings) == 0 {
		return VisitPlan{}, ErrNoEvenings
	}
	sharing := newSharing(problem)
	if sharing.tooMany() {
		return VisitPlan{}, ErrTooManyJobs
	}
	gaveUp := false
	for later := 0; ; later = later*2 + 1 {
		allowed := make([]uint64, len(problem.Jobs))
		for number := range problem.Jobs {
			allowed[number] = problem.allowed(number, later)
		}
		last := later > len(problem.Evenings)
		plan, found := sharing.share(allowed, last)
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
	for number, evening := range p.Evenings {
		switch {
		case evening.Day >= job.Opens && evening.Day <= job.Closes:
			if first < 0 {
				first = number
			}
			last = number
		case evening.Day < job.Opens && !job.NotBefore:
			near = number
		case evening.Day > job.Closes && after < 0:
			after = number
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

// allowed is a job's evenings as bits: its window and a number of later ones.
func (p *VisitProblem) allowed(j, later int) uint64 {
	first, last, _ := p.window(j)
	last = min(last+later, len(p.Evenings)-1)
	return span(first, last)
}

// span is the bits from one to another, both set.
func span(first, last int) uint64 { return (math.MaxUint64 >> (63 - last)) &^ (1<<first - 1) }
