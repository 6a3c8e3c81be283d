package upkeep_test

import (
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	. "setscrew/domain/upkeep"
)

var studyShops = flag.Int("forecast-shops", 2000, "shops of each pattern")

var seedOffset = flag.Uint64("forecast-seed", 0, "other seeds for the study of forecasts, to tune it on")

// regime is a pattern of use: sessions on a day, counted from the first of the
// history, a Monday.
type regime struct {
	name     string
	low, top float64 // hours that a service needs
	rate     func(day, phase int) float64
	eased    bool // compared with the plain model at 1.05
}

var regimes = []regime{
	{"steady", 4, 30, func(int, int) float64 { return 1 }, true},
	{"weekend", 4, 30, func(d, _ int) float64 {
		if d%7 >= 5 {
			return 3
		}
		return 0.3
	}, false},
	{"class", 4, 30, func(d, _ int) float64 {
		if d%7 == 2 {
			return 4
		}
		return 0.2
	}, false},
	{"term", 4, 30, func(d, phase int) float64 {
		if (d+phase)%112 < 84 {
			return 1.5
		}
		return 0.2
	}, false},
	{"halves", 4, 30, func(d, _ int) float64 {
		if d < 108 {
			return 2
		}
		return 1
	}, false},
	{"doubles", 4, 30, func(d, _ int) float64 {
		if d < 108 {
			return 1
		}
		return 2
	}, false},
	{"rare", 1, 8, func(int, int) float64 { return 0.08 }, true},
}

const (
	past   = 180
	future = Horizon
)

// play is one shop: its history, the hours that its service needs, and the day on
// which it falls due, future + 1 where it does not.
func play(pattern regime, rng *rand.Rand) (history History, hours float64, due int) {
	level := math.Exp(0.4 * rng.NormFloat64())
	phase := rng.IntN(112)
	hours = pattern.low + (pattern.top-pattern.low)*rng.Float64()
	session := distuv.Gamma{Alpha: 2, Beta: 2 / 1.5, Src: rng}
	history.First = time.Monday
	left := hours
	for day := 0; day < past+future; day++ {
		var use DayUse
		for range int(distuv.Poisson{Lambda: level * pattern.rate(day, phase), Src: rng}.Rand()) {
			s := session.Rand()
			use.Sessions, use.Hours = use.Sessions+1, use.Hours+s
		}
		if day < past {
			history.Days = append(history.Days, use)
			continue
		}
		if left -= use.Hours; left <= 0 {
			return history, hours, day - past + 1
		}
	}
	return history, hours, future + 1
}

// point is the day on which hours are used up at a rate a day.
func point(hours, rate float64) int {
	if rate <= 0 {
		return future + 1
	}
	return min(int(math.Ceil(hours/rate)), future+1)
}

// plain is the 10, 50 and 90 % days of a gamma-Poisson on the mean of all history:
// hours are counted like events, every day alike.
func plain(history History, hours float64) [3]int {
	total := 0.0
	for _, d := range history.Days {
		total += d.Hours
	}
	a, b := total+0.5, float64(len(history.Days))
	need := int(math.Ceil(hours))
	by := func(t int) float64 { // 1 - P(at most need - 1), the negative binomial by the incomplete beta
		return 1 - mathext.RegIncBeta(a, float64(need), b/(b+float64(t)))
	}
	var out [3]int
	for i, c := range []float64{0.1, 0.5, 0.9} {
		lo, hi := 1, future+1
		for lo < hi {
			if m := (lo + hi) / 2; by(m) >= c {
				hi = m
			} else {
				lo = m + 1
			}
		}
		out[i] = lo
	}
	return out
}

// loss is the mean pinball loss of three days at 10, 50 and 90 %.
func loss(q [3]int, due int) float64 {
	sum := 0.0
	for i, p := range []float64{0.1, 0.5, 0.9} {
		if d := float64(min(due, future) - min(q[i], future)); d >= 0 {
			sum += p * d
		} else {
			sum -= (1 - p) * d
		}
	}
	return sum / 3
}

// grouped is the median of whole numbers, each standing for all from a half below
// it to a half above (the median of grouped data).
func grouped(x []float64) float64 {
	slices.Sort(x)
	m := x[len(x)/2]
	first, _ := slices.BinarySearch(x, m)
	after, _ := slices.BinarySearch(x, m+0.5)
	return m - 0.5 + (float64(len(x))/2-float64(first))/float64(after-first)
}

// limits of the study: coverage of the ranges, and mean pinball loss as a ratio to
// that of the three simpler ways.
const (
	leastCover, mostCover = 0.75, 0.85
	mostOfPoint           = 0.7
	mostOfPlain           = 0.9
	mostOfPlainEased      = 1.05
	mostError             = 1.1
)

// TestStudyForecast holds the forecast against what then happened, in shops of
// seven patterns of use, and against three simpler ways of telling: the mean rate
// of all history as a point, that of the last four weeks, and a plain gamma-Poisson.
// It was tuned with -forecast-seed 1 and 2.
func TestStudyForecast(t *testing.T) {
	shops, room := *studyShops, 0.0
	if raceEnabled {
		shops, room = 200, 0.12
	}
	t.Logf(
		"%-8s %7s %6s %10s %10s %10s %6s %6s", "", "covered", "loss", "/all-mean", "/4 weeks", "/plain",
		"error", "best",
	)
	for n, r := range regimes {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			study(t, n, r, shops, room)
		})
	}
}

// study is the study of one pattern.
func study(t *testing.T, count int, pattern regime, shops int, room float64) {
	covered := 0
	var ours, mean, four, simple float64
	var errs [4][]float64
	beyond := func(d int) int {
		if d == 0 {
			return future + 1
		}
		return d
	}
	for s := range shops {
		rng := rand.New(rand.NewPCG(uint64(s)+1_000_000*(*seedOffset), uint64(count)))
		history, hours, due := play(pattern, rng)
		passing := NewForecast(history, Typical{Sessions: 1, Hours: 1.5}).Passes(hours)
		first, median, last := passing.Range()
		if beyond(first) <= due && due <= beyond(last) {
			covered++
		}
		total, lately := 0.0, 0.0
		for d, x := range history.Days {
			total += x.Hours
			if d >= past-28 {
				lately += x.Hours
			}
		}
		a, b, c := point(hours, total/past), point(hours, lately/28), plain(history, hours)
		ours += loss([3]int{beyond(passing.Day(0.1)), beyond(median), beyond(passing.Day(0.9))}, due)
		mean += loss([3]int{a, a, a}, due)
		four += loss([3]int{b, b, b}, due)
		simple += loss(c, due)
		for i, d := range []int{beyond(median), a, b, c[1]} {
			errs[i] = append(errs[i], math.Abs(float64(min(d, future)-min(due, future))))
		}
	}
	var med [4]float64
	for i := range errs {
		med[i] = grouped(errs[i])
	}
	best := min(med[1], med[2], med[3])
	cover := float64(covered) / float64(shops)
	t.Logf(
		"%-8s %7.3f %6.2f %10.3f %10.3f %10.3f %6.1f %6.1f", pattern.name, cover,
		ours/float64(shops),
		ours/mean, ours/four, ours/simple,
		med[0],
		best,
	)
	limit := mostOfPlain
	switch {
	case pattern.name == "class":
		// 0.9 cannot be had: with the hazard of a change at nothing, and so with all
		// that history tells of one level, 0.904 was left, and with the true rates
		// known 0.84.
		limit = 0.93
	case pattern.eased:
		limit = mostOfPlainEased
	}
	if cover < leastCover-room/2 || cover > mostCover+room/2 {
		t.Errorf("%s: %.3f covered, want %.2f to %.2f", pattern.name, cover, leastCover, mostCover)
	}
	if ours/mean > mostOfPoint+room || ours/four > mostOfPoint+room || ours/simple > limit+room {
		t.Errorf(
			"%s: loss %.3f of the mean's, %.3f of the last weeks', %.3f of the plain one's; at most %.2f, "+
				"%.2f, %.2f",
			pattern.name, ours/mean, ours/four, ours/simple, mostOfPoint, mostOfPoint, limit,
		)
	}
	if med[0] > mostError*best*(1+4*room) {
		t.Errorf("%s: median error %.2f days, the best of the others %.2f", pattern.name, med[0], best)
	}
}

// A history without a day, or without use, gives a forecast all the same: what is
// typical, and less the longer nothing happens. Equal histories give equal ones.
func TestForecastWithLittle(t *testing.T) {
	typical := Typical{Sessions: 1, Hours: 1.5}
	none := NewForecast(History{First: time.Monday}, typical).Passes(15)
	first, median, last := none.Range()
	if median < 5 || median > 25 || first < 1 || last != 0 && last < median {
		t.Errorf("nothing known: %d, %d, %d", first, median, last)
	}
	idle := NewForecast(History{First: time.Monday, Days: make([]DayUse, 90)}, typical).Passes(15)
	if _, median, _ := idle.Range(); median != 0 && median < 100 {
		t.Errorf("idle for 90 days: %d", median)
	}
	if now := NewForecast(History{First: time.Monday}, typical).Passes(0); now.By[0] != 1 {
		t.Errorf("nothing needed: %v", now.By[0])
	}
	if again := NewForecast(History{First: time.Monday}, typical).Passes(15); !slices.Equal(again.By, none.By) {
		t.Error("two forecasts of one history differ")
	}
	weekends := History{First: time.Monday, Days: make([]DayUse, 84), Open: func(day int) bool { return day%7 >= 5 }}
	for d := range weekends.Days {
		if weekends.Open(d) {
			weekends.Days[d] = DayUse{2, 3}
		}
	}
	p := NewForecast(weekends, typical).Passes(9)
	for d := range 5 {
		if p.By[d] != 0 {
			t.Errorf("used on a closed day %d: %v", d, p.By[d])
		}
	}
}

// More hours take longer, and no chance falls as days go by, whatever the history.
func TestForecastOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		history := History{First: time.Weekday(rapid.IntRange(0, 6).Draw(t, "first"))}
		for range rapid.IntRange(0, 120).Draw(t, "days") {
			n := rapid.IntRange(0, 4).Draw(t, "sessions")
			used := float64(n) * rapid.Float64Range(0.1, 4).Draw(t, "hours")
			history.Days = append(history.Days, DayUse{n, used})
		}
		f := NewForecast(history, Typical{Sessions: rapid.Float64Range(0.01, 5).Draw(t, "typical"), Hours: 1.5})
		hours := rapid.Float64Range(0.1, 60).Draw(t, "needed")
		passing, q := f.Passes(hours), f.Passes(hours*1.5)
		for d := range passing.By {
			if d > 0 && passing.By[d] < passing.By[d-1]-1e-9 || passing.By[d] < 0 || passing.By[d] > 1 ||
				q.By[d] > passing.By[d]+1e-3 {
				t.Fatalf("day %d: %v after %v, %v for more hours", d, passing.By[d], passing.By[max(d-1, 0)], q.By[d])
			}
		}
		if a, m, b := passing.Range(); a > 0 && m > 0 && a > m || b > 0 && m > b || a == 0 && m != 0 {
			t.Fatalf("range %d, %d, %d", a, m, b)
		}
	})
}

// BenchmarkForecast times one forecast of half a year's history beside a sum over
// that history.
func BenchmarkForecast(b *testing.B) {
	h, hours, _ := play(regimes[3], rand.New(rand.NewPCG(1, 1)))
	for b.Loop() {
		NewForecast(h, Typical{Sessions: 1, Hours: 1.5}).Passes(hours)
	}
}
