package upkeep

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// byForce tries every plan of a small problem: the least cost among those with each
// job on an allowed evening, no evening too full and every order kept; math.MaxInt
// if there is none.
func byForce(problem VisitProblem, later int) int {
	best := math.MaxInt
	at := make([]int, len(problem.Jobs))
	var try func(j int)
	try = func(j int) {
		if j < len(problem.Jobs) {
			first, last, _ := problem.window(j)
			for e := first; e <= min(last+later, len(problem.Evenings)-1); e++ {
				at[j] = e
				try(j + 1)
			}
			return
		}
		cost := 0
		for which, evening := range problem.Evenings {
			load := 0
			for m := range 3 {
				used := map[int]bool{}
				some := false
				for j, job := range problem.Jobs {
					if job.Machine != m || at[j] != which {
						continue
					}
					some = true
					load += job.Minutes
					for _, x := range job.Prep {
						used[x] = true
					}
					_, last, _ := problem.window(j)
					cost += 1_000_000 * max(which-last, 0)
				}
				for x := range used {
					load, cost = load+problem.Prep[x], cost+problem.Prep[x]
				}
				if some {
					load, cost = load+problem.Visit, cost+problem.Visit
				}
			}
			if load > evening.Minutes {
				return
			}
		}
		for j, job := range problem.Jobs {
			for _, b := range job.After {
				if at[b] > at[j] {
					return
				}
			}
		}
		best = min(best, cost)
	}
	try(0)
	return best
}

// TestVisitsAgainstForce compares plans of small shops with every plan there is.
func TestVisitsAgainstForce(t *testing.T) {
	tight := 0
	rapid.Check(t, func(t *rapid.T) {
		var problem VisitProblem
		problem.Visit = rapid.IntRange(0, 20).Draw(t, "visit")
		day := 0
		for range rapid.IntRange(1, 4).Draw(t, "evenings") {
			day += rapid.IntRange(1, 8).Draw(t, "gap")
			problem.Evenings = append(problem.Evenings, Evening{Day: day, Minutes: rapid.IntRange(30, 120).Draw(t,
				"long")})
		}
		for range 9 {
			problem.Prep = append(problem.Prep, rapid.IntRange(0, 15).Draw(t, "prep"))
		}
		for j := range rapid.IntRange(1, 7).Draw(t, "jobs") {
			job := VisitJob{
				Machine: rapid.IntRange(0, 2).Draw(t, "machine"),
				Minutes: rapid.IntRange(1, 30).Draw(t, "minutes"),
			}
			job.Opens = rapid.IntRange(-5, 30).Draw(t, "opens")
			job.Closes = job.Opens + rapid.IntRange(0, 25).Draw(t, "open for")
			for x := range 3 {
				if rapid.Bool().Draw(t, "needs") {
					job.Prep = append(job.Prep, 3*job.Machine+x)
				}
			}
			for b := range j {
				if problem.Jobs[b].Machine == job.Machine && rapid.IntRange(0, 3).Draw(t, "after") == 0 {
					job.After = append(job.After, b)
				}
			}
			problem.Jobs = append(problem.Jobs, job)
		}
		got, err := PlanVisits(problem)
		if err != nil {
			t.Fatal(err)
		}
		want := math.MaxInt
		later := 0
		for ; want == math.MaxInt && later <= len(problem.Evenings); later = later*2 + 1 {
			want = byForce(problem, later)
		}
		if want == math.MaxInt {
			if len(got.Overfull) == 0 {
				t.Fatalf("no plan has room for all, but none of %v is too full", got)
			}
			return
		}
		lateness, work := 0, 0
		for j, e := range got.At {
			_, last, _ := problem.window(j)
			lateness += 1_000_000 * max(e-last, 0)
			work += problem.Jobs[j].Minutes
		}
		if got.GaveUp || len(got.Overfull) > 0 || got.Cost-work+lateness != want {
			t.Fatalf("cost %d (lateness %d), the least is %d: %+v", got.Cost-work, lateness, want, got)
		}
		if got.Bound != got.Cost {
			t.Fatalf("bound %d for a plan that costs %d", got.Bound, got.Cost)
		}
		if got.Visits > 1 {
			tight++
		}
	})
	if tight == 0 {
		t.Error("no case needed more than one visit")
	}
}

// quarter is a shop of machines with services, with two
// evenings a week.
func quarter(machines, services int) VisitProblem {
	rng := rand.New(rand.NewPCG(8, uint64(machines*1000+services)))
	problem := VisitProblem{Visit: 10}
	for w := range 13 {
		problem.Evenings = append(problem.Evenings, Evening{7*w + 1, 720}, Evening{7*w + 3, 720})
	}
	for m := range machines {
		first := len(problem.Prep)
		problem.Prep = append(problem.Prep, 10, 5, 5, 5, 3, 3, 5) // isolation, three covers, two materials, a gauge
		for range services {
			visitJob := VisitJob{Machine: m, Minutes: 5 + rng.IntN(20), Opens: rng.IntN(85)}
			visitJob.Closes = visitJob.Opens + 5 + rng.IntN(30)
			if rng.IntN(4) > 0 {
				visitJob.Prep = append(visitJob.Prep, first)
				if rng.IntN(2) > 0 {
					visitJob.Prep = append(visitJob.Prep, first+1+rng.IntN(3))
				}
			}
			if rng.IntN(2) > 0 {
				visitJob.Prep = append(visitJob.Prep, first+4+rng.IntN(3))
			}
			problem.Jobs = append(problem.Jobs, visitJob)
		}
	}
	return problem
}

// TestVisitsOfAQuarter plans a large shop: windows are kept, and the cost is not far
// from what has been proved.
func TestVisitsOfAQuarter(t *testing.T) {
	for _, machines := range []int{1, 8, 40} {
		problem := quarter(machines, 15)
		got, err := PlanVisits(problem)
		if err != nil {
			t.Fatal(err)
		}
		for j, e := range got.At {
			if _, _, inside := problem.window(j); inside &&
				(problem.Evenings[e].Day < problem.Jobs[j].Opens || problem.Evenings[e].Day > problem.Jobs[j].Closes) {
				t.Errorf("%d machines: job %d is outside its window", machines, j)
			}
		}
		if len(got.Overfull) > 0 || got.GaveUp || got.Bound > got.Cost ||
			float64(got.Cost) > 1.01*float64(got.Bound) {
			t.Errorf(
				"%d machines: %d visits, %d minutes out, cost %d, bound %d, too full: %v", machines,
				got.Visits, got.Out, got.Cost, got.Bound, got.Overfull,
			)
		}
		t.Logf(
			"%d machines: %d visits, %d minutes out, cost %d, bound %d", machines, got.Visits, got.Out,
			got.Cost, got.Bound,
		)
	}
}

func TestVisitsRefused(t *testing.T) {
	job := VisitJob{Closes: 9, Minutes: 5}
	day := []Evening{{Day: 1, Minutes: 60}}
	many := VisitProblem{Evenings: day, Jobs: slices.Repeat([]VisitJob{job}, MostVisitJobs+1)}
	for name, test := range map[string]struct {
		p    VisitProblem
		want error
	}{
		"nothing to do": {VisitProblem{}, nil},
		"no evenings":   {VisitProblem{Jobs: []VisitJob{job}}, ErrNoEvenings},
		"too many":      {many, ErrTooManyJobs},
	} {
		if _, err := PlanVisits(test.p); !errors.Is(err, test.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// BenchmarkVisits plans a quarter of 40 machines with 15 services each.
func BenchmarkVisits(b *testing.B) {
	for _, machines := range []int{8, 40} {
		b.Run(fmt.Sprint(machines, "-machines"), func(b *testing.B) {
			p := quarter(machines, 15)
			for b.Loop() {
				if _, err := PlanVisits(p); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
