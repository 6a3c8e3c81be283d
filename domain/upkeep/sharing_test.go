package upkeep

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"setscrew/domain/quantity"
)

// cheapest is the least that preparations and visits of one machine's jobs can cost,
// each job in its window and after what it comes after, by going through every plan.
func cheapest(problem VisitProblem) int {
	best := math.MaxInt
	at := make([]int, len(problem.Jobs))
	prepared := make([]uint64, len(problem.Evenings))
	visited := make([]bool, len(problem.Evenings))
	var try func(j, cost int)
	try = func(j, cost int) {
		if cost >= best {
			return
		}
		if j == len(problem.Jobs) {
			best = cost
			return
		}
		job := problem.Jobs[j]
		first, last, _ := problem.window(j)
		for evening := first; evening <= last; evening++ {
			if slices.ContainsFunc(job.After, func(b int) bool { return at[b] > evening }) {
				continue
			}
			was, before, more := visited[evening], prepared[evening], 0
			if !was {
				more += problem.Visit
			}
			for _, x := range job.Prep {
				if prepared[evening]>>x&1 == 0 {
					prepared[evening] |= 1 << x
					more += problem.Prep[x]
				}
			}
			at[j], visited[evening] = evening, true
			try(j+1, cost+more)
			visited[evening], prepared[evening] = was, before
		}
	}
	try(0, 0)
	return best
}

// One machine with many jobs that share their preparations, of which hundreds of sets may
// be done by an evening: the plan is the cheapest there is, and it is proved.
func TestOneMachineIsSolvedExactly(t *testing.T) {
	for seed := range uint64(30) {
		rng := rand.New(rand.NewPCG(seed, 3))
		problem := VisitProblem{Visit: 1 + rng.IntN(10)}
		for e := range 6 {
			problem.Evenings = append(problem.Evenings, Evening{Day: e, Minutes: 10_000})
		}
		for range 12 {
			problem.Prep = append(problem.Prep, 1+rng.IntN(40))
		}
		work := 0
		for j := range 13 {
			job := VisitJob{Minutes: 1 + rng.IntN(9), Opens: rng.IntN(3)}
			job.Closes = min(job.Opens+1+rng.IntN(5), 5)
			for x := range problem.Prep {
				if rng.IntN(3) == 0 {
					job.Prep = append(job.Prep, x)
				}
			}
			if j > 0 && seed%2 == 1 && rng.IntN(6) == 0 {
				before := rng.IntN(j)
				job.Opens, job.Closes = max(job.Opens, problem.Jobs[before].Opens), max(job.Closes,
					problem.Jobs[before].Closes)
				job.After = []int{before}
			}
			work += job.Minutes
			problem.Jobs = append(problem.Jobs, job)
		}
		got, err := PlanVisits(problem)
		want := cheapest(problem)
		if err != nil || got.Cost-work != want || got.Bound != got.Cost || got.GaveUp || got.Overfull != nil {
			t.Errorf("seed %d: %d (bound %d), the least is %d; %v", seed, got.Cost-work, got.Bound-work, want, err)
		}
		if got.Out != got.Cost-problem.Visit*got.Visits {
			t.Errorf("seed %d: out for %d minutes, at a cost of %d with %d visits", seed, got.Out, got.Cost, got.Visits)
		}
	}
}

// A machine whose work may wait goes along on an evening that another one needs, and that
// has room for it, even where there are hundreds of ways to part its work between evenings.
func TestFewEvenings(t *testing.T) {
	for _, test := range []struct{ first, second, preps, evenings int }{
		{600, 50, 4, 2}, {50, 600, 4, 2}, {50, 600, 7, 2}, {50, 50, 4, 3}, {50, 50, 7, 3},
	} {
		problem := VisitProblem{Visit: 10, Prep: slices.Repeat([]int{4}, test.preps)}
		for e := range 4 {
			problem.Evenings = append(problem.Evenings, Evening{Day: e, Minutes: 600})
		}
		// Two machines that must be done on the first and on the second evening.
		for e := range 2 {
			problem.Evenings[e].Minutes = []int{test.first, test.second}[e]
			problem.Jobs = append(problem.Jobs, VisitJob{Machine: 1 + e, Opens: e, Closes: e, Minutes: 30})
		}
		for i := range problem.Prep {
			for j := range i {
				problem.Jobs = append(problem.Jobs, VisitJob{Closes: 3, Minutes: 5, Prep: []int{i, j}})
			}
		}
		plan, err := PlanVisits(problem)
		used := uint64(0)
		for _, e := range plan.At {
			used |= 1 << e
		}
		// Where neither has room for it, an evening more is better than a second visit.
		want := 3*10 + test.preps*4 + 2*30 + test.preps*(test.preps-1)/2*5
		if err != nil || used&0b11 != 0b11 || bits.OnesCount64(used) != test.evenings || plan.Visits != 3 ||
			plan.Cost != want || plan.Bound != want || plan.Overfull != nil {
			t.Errorf("%+v: on evenings %04b: %+v, %v", test, used, plan, err)
		}
	}
}

// Work that fills the evenings by its minutes, and yet cannot be parted among them, takes
// longer to rule out than the search may: the plan says that it gave up looking for one
// without delay, or with less. Where less work fits, and where one evening is seen to be too
// short, it does not say so.
func TestGivenUp(t *testing.T) {
	for _, test := range []struct {
		evenings, jobs int
		late, want     bool
	}{{6, 20, false, false}, {6, 31, true, true}, {6, 34, true, true}, {1, 6, true, false}, {1, 5, false, false}} {
		problem := VisitProblem{}
		for e := range test.evenings { // five jobs each, and ten minutes that nothing fits in
			problem.Evenings = append(problem.Evenings, Evening{Day: e, Minutes: 110})
		}
		problem.Evenings = append(problem.Evenings, Evening{Day: test.evenings, Minutes: 600})
		for j := range test.jobs {
			problem.Jobs = append(problem.Jobs, VisitJob{Machine: j % 3, Closes: test.evenings - 1, Minutes: 20})
		}
		plan, err := PlanVisits(problem)
		late := 0
		for _, e := range plan.At {
			late += e / test.evenings
		}
		if err != nil || plan.GaveUp != test.want || plan.Overfull != nil || (late > 0) != test.late {
			t.Errorf("%d jobs on %d evenings: %d late, %+v, %v", test.jobs, test.evenings, late, plan, err)
		}
	}
}

// What was reported in a time so long ago that it counts for nothing tells no ratio.
func TestReportOfLongAgo(t *testing.T) {
	now := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	if r, ok := Report([]Span{{now.AddDate(-285, 0, 0), 12, 10}}, now); ok || r != (Reporting{Ratio: 1}) {
		t.Errorf("spans of another age: %+v, %v", r, ok)
	}
	// Two hours tell one, less do not.
	for logged, want := range map[float64]bool{1.99: false, 2: true} {
		if _, ok := Report([]Span{{now, 3, logged}}, now); ok != want {
			t.Errorf("%v hours reported: %v", logged, ok)
		}
	}
}

// The early window is open from the very hour, or the very day, from which what is done
// counts: what is asked before it is done is what is judged when it was.
func TestEarlyWindowOpensWhereWorkCounts(t *testing.T) {
	hours := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }
	start := time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)
	rule := Rule{Hours: hours(10), EarlyHours: hours(3)}
	for used, open := range map[int64]bool{6: false, 7: true, 10: true} {
		before := When(rule, Use{From: Done{At: start, Since: hours(used)}}, start, In(time.UTC))
		after := When(rule, Use{From: Done{At: start, Since: hours(used)}, Done: []Done{{At: start}}}, start,
			In(time.UTC))
		if before.Open != open || (after.Counted == 0) != open {
			t.Errorf("after %d h of 10, 3 early: open %v, counted %d", used, before.Open, after.Counted)
		}
	}
	rule = Rule{Days: 10, EarlyDays: 3}
	for day, open := range map[int]bool{6: false, 7: true, 10: true} {
		now := start.AddDate(0, 0, day)
		before := When(rule, Use{From: Done{At: start}}, now, In(time.UTC))
		after := When(rule, Use{From: Done{At: start}, Done: []Done{{At: now}}}, now, In(time.UTC))
		if before.Open != open || (after.Counted == 0) != open {
			t.Errorf("after %d days of 10, 3 early: open %v, counted %d", day, before.Open, after.Counted)
		}
	}
}

// What was asked for counts however early it is done, and the next is counted from it;
// what nobody asked for does not, but for a rule that takes work at any time.
func TestWorkThatWasAskedFor(t *testing.T) {
	hours := func(n int64) quantity.Value { return quantity.New(n, 1, quantity.Hour) }
	start := time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)
	now := start.AddDate(0, 0, 1)
	if due := When(Rule{}, Use{From: Done{At: start}}, now, In(time.UTC)); due.Open {
		t.Error("open without a rule")
	}
	for name, test := range map[string]struct {
		rule Rule
		any  bool // open at any time
	}{
		"by hours":          {Rule{Hours: hours(10), EarlyHours: hours(3)}, false},
		"by days":           {Rule{Days: 10, EarlyDays: 3}, false},
		"from when due":     {Rule{Days: 10, FromDue: true}, false},
		"by a calendar":     {Rule{Calendar: "FREQ=MONTHLY;BYDAY=1FR"}, false},
		"hours at any time": {Rule{Hours: hours(10)}, true},
		"days at any time":  {Rule{Days: 10}, true},
	} {
		for _, asked := range []bool{false, true} {
			use := Use{From: Done{At: start, Since: hours(2)}, Done: []Done{{At: now, Since: hours(1), Asked: asked}}}
			due := When(test.rule, use, now, In(time.UTC))
			counts := due.Counted == 0
			if counts != (asked || test.any) {
				t.Errorf("%s, asked for %v: counts %v", name, asked, counts)
			}
			if before := When(test.rule, Use{From: use.From}, now, In(time.UTC)); before.Open != test.any {
				t.Errorf("%s: open %v", name, before.Open)
			}
			if left := map[bool]int64{true: 9, false: 8}[counts]; test.rule.Hours.Valid() &&
				!due.Left.Equal(hours(left)) {
				t.Errorf("%s, asked for %v: %v left, want %d h", name, asked, due.Left, left)
			}
		}
	}
}

// A calendar that names no day that there is makes nothing due.
func TestCalendarWithoutADay(t *testing.T) {
	start := time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)
	rule := Rule{Calendar: "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30"}
	due := When(rule, Use{From: Done{At: start}}, start.AddDate(1, 0, 0), In(time.UTC))
	if due.State != NotDue || !due.On.IsZero() || !due.Next.IsZero() || due.Open {
		t.Errorf("on 30 February: %+v", due)
	}
}

// Going through a history a second time starts from nothing: what was worked out before
// has no part in it.
func TestLookBeginsAgain(t *testing.T) {
	history := History{First: time.Monday}
	for i := range 90 {
		history.Days = append(history.Days, DayUse{Sessions: 3 * (i / 30 % 2), Hours: float64(3 * (i / 30 % 2))})
	}
	once := NewForecast(history, Typical{Sessions: 1, Hours: 1})
	changes := []change{{1, once.fresh}}
	once.look(history, changes)
	runs, past := slices.Clone(once.runs), slices.Clone(once.past)
	once.look(history, changes)
	if d := cmp.Diff(runs, once.runs, cmp.AllowUnexported(run{})); d != "" {
		t.Errorf("runs the second time:\n%s", d)
	}
	if d := cmp.Diff(past, once.past, cmp.AllowUnexported(segment{})); d != "" {
		t.Errorf("the course the second time:\n%s", d)
	}
	total := 0.0
	for _, run := range runs {
		total += run.chance
	}
	if math.Abs(total-1) > 1e-2 || len(past) != 3 || past[0].days+past[1].days+past[2].days != 90 {
		t.Errorf("chances of %v in all, course %+v", total, past)
	}
}
