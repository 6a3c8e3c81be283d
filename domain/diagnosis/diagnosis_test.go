package diagnosis

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// byHand is the posterior of a model with two causes, worked out from the sum over
// four sets as it is written down.
func TestTwoCausesByHand(t *testing.T) {
	model := Model{Prior: []float64{0.1, 0.2}, Symptom: Sign{0.01, []float64{0.8, 0.5}},
		Findings: []Finding{{Sign{0.05, []float64{0.9, 0}}, 5, 0, false}}}
	// Sets: none, a, b, both; chance of the symptom in each.
	prior := []float64{0.9 * 0.8, 0.1 * 0.8, 0.9 * 0.2, 0.1 * 0.2}
	shows := []float64{0.01, 1 - 0.99*0.2, 1 - 0.99*0.5, 1 - 0.99*0.2*0.5}
	finds := []float64{0.05, 1 - 0.95*0.1, 0.05, 1 - 0.95*0.1}
	sum, first, second, sumYes, aYes := 0.0, 0.0, 0.0, 0.0, 0.0
	for set := range 4 {
		joint := prior[set] * shows[set]
		sum, sumYes = sum+joint, sumYes+joint*finds[set]
		if set&1 != 0 {
			first, aYes = first+joint, aYes+joint*finds[set]
		}
		if set&2 != 0 {
			second += joint
		}
	}
	r := model.Rank([]float64{1, 1}, []Answer{Open})
	near(t, "a", r.Chance[0], first/sum)
	near(t, "b", r.Chance[1], second/sum)
	near(t, "none", r.Other, prior[0]*shows[0]/sum)
	near(t, "chance of yes", r.Gain(0).Yes, sumYes/sum)
	near(t, "a once found", model.Rank([]float64{1, 1}, []Answer{Yes}).Chance[0], aYes/sumYes)
	near(t, "a once not", model.Rank([]float64{1, 1}, []Answer{No}).Chance[0], (first-aYes)/(sum-sumYes))
	near(t, "cannot gain", model.Rank([]float64{1, 1}, []Answer{CannotTell}).Chance[0], first/sum)
	near(t, "odds of three", model.Rank([]float64{3, 1}, []Answer{Open}).Chance[0], func() float64 {
		p := 3.0 / 9 / (1 + 3.0/9)
		here, all := 0.0, 0.0
		for s := range 4 {
			q := []float64{(1 - p) * 0.8, p * 0.8, (1 - p) * 0.2, p * 0.2}[s] * shows[s]
			all += q
			if s&1 != 0 {
				here += q
			}
		}
		return here / all
	}())
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-12) { // what is no number is not near
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func anyModel(t *rapid.T) Model {
	count := rapid.IntRange(1, 6).Draw(t, "causes")
	chance := rapid.Float64Range(0.01, 0.95)
	sign := func(name string) Sign {
		drawn := Sign{Leak: rapid.Float64Range(0.001, 0.3).Draw(t, name+" leak")}
		for range count {
			w := 0.0
			if rapid.Bool().Draw(t, name+" shows") {
				w = chance.Draw(t, name)
			}
			drawn.Strength = append(drawn.Strength, w)
		}
		return drawn
	}
	var model Model
	for range count {
		model.Prior = append(model.Prior, rapid.Float64Range(0.01, 0.6).Draw(t, "prior"))
	}
	model.Symptom = sign("symptom")
	for range rapid.IntRange(0, 5).Draw(t, "findings") {
		model.Findings = append(
			model.Findings,
			Finding{
				sign("finding"),
				rapid.Float64Range(0.5, 30).Draw(t, "minutes"),
				rapid.IntRange(NoCause, count-1).Draw(t, "of"),
				false,
			},
		)
	}
	return model
}

// Chances are chances; a finding that only one cause shows raises it by yes and
// lowers it by no; what is expected of an answer is what is known without it; no
// answer is expected to add doubt; odds of a cause move its own chance their way.
func TestRankingProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		model := anyModel(t)
		if err := model.Check(); err != nil {
			t.Fatal(err)
		}
		count := len(model.Prior)
		ones := make([]float64, count)
		for i := range ones {
			ones[i] = 1
		}
		open := make([]Answer, len(model.Findings))
		ranking := model.Rank(ones, open)
		for _, p := range append([]float64{ranking.Other}, ranking.Chance...) {
			if !(p >= 0 && p <= 1+1e-12) {
				t.Fatalf("a chance of %v", p)
			}
		}
		for i := range model.Findings {
			gain := ranking.Gain(i)
			if gain.Bits < -1e-9 {
				t.Fatalf("an answer is expected to add %v bits of doubt", -gain.Bits)
			}
			yes, no := append([]Answer{}, open...), append([]Answer{}, open...)
			yes[i], no[i] = Yes, No
			ifYes, ifNo := model.Rank(ones, yes), model.Rank(ones, no)
			for j := range model.Prior {
				if got := gain.Yes*ifYes.Chance[j] +
					(1-gain.Yes)*ifNo.Chance[j]; math.Abs(got-ranking.Chance[j]) > 1e-9 {
					t.Fatalf("expected after the answer %v, before it %v", got, ranking.Chance[j])
				}
			}
			only := -1
			for j, w := range model.Findings[i].Strength {
				if w > 0 && only == -1 {
					only = j
				} else if w > 0 {
					only = -2
				}
			}
			if only >= 0 && (ifYes.Chance[only] < ranking.Chance[only]-1e-12 ||
				ifNo.Chance[only] > ranking.Chance[only]+1e-12) {
				t.Fatalf("cause %d: %v, yes %v, no %v", only, ranking.Chance[only], ifYes.Chance[only],
					ifNo.Chance[only])
			}
		}
		j := rapid.IntRange(0, count-1).Draw(t, "cause")
		more := append([]float64{}, ones...)
		more[j] = 4
		if up := model.Rank(more, open); up.Chance[j] < ranking.Chance[j]-1e-12 {
			t.Fatalf("four times the odds: %v, before %v", up.Chance[j], ranking.Chance[j])
		}
	})
}

// Use since a service moves odds by the exponential law, held at both ends; a shop's
// own problems move them from the profile's share to theirs.
func TestOdds(t *testing.T) {
	near(t, "a whole interval", Since(0.2, 1), 1)
	near(t, "two", Since(0.2, 2), 0.36/0.64/0.25)
	if Since(0.2, 0) != Since(0.2, 0.05) || Since(0.2, 9) != Since(0.2, 4) || Since(0.2, 0.05) >= 0.06 {
		t.Error("the ends are not held")
	}
	model := Model{Prior: []float64{0.2, 0.3}, Symptom: Sign{0.05, []float64{0.6, 0.7}}}
	q := model.Rank([]float64{1, 1}, nil).Chance
	now := model.Rank(model.Learned([]int{0, 150}, 150), nil).Chance
	for j, want := range []float64{50 * q[0] / 200, (150 + 50*q[1]) / 200} {
		if math.Abs(now[j]-want) > 1e-3 {
			t.Errorf("cause %d after 150 problems: %v, want %v", j, now[j], want)
		}
	}
	if o := model.Learned([]int{0, 0}, 0); o[0] != 1 || o[1] != 1 {
		t.Errorf("no problems move odds by %v", o)
	}
}

func TestImpossibleAnswerTeachesNothing(t *testing.T) {
	sure := Model{
		Prior:    []float64{0.1},
		Symptom:  Sign{0, []float64{0.5}},
		Findings: []Finding{{Sign{0, []float64{0}}, 1, 0, false}},
	}
	if got := sure.Rank([]float64{1}, []Answer{Yes}).Chance[0]; math.Abs(got-1) > 1e-12 {
		t.Errorf("an impossible answer: %v", got)
	}
}

// A question that tells something comes first; then tests by what they are likely to
// find for each minute.
func TestNext(t *testing.T) {
	model := Model{Prior: []float64{0.3, 0.2, 0.1}, Symptom: Sign{0.01, []float64{0.5, 0.5, 0.5}}, Findings: []Finding{
		{
			Sign{0.05, []float64{0.85, 0, 0}},
			30,
			0,
			false,
		}, {Sign{0.05, []float64{0, 0.85, 0}}, 4, 1, false}, {Sign{0.05, []float64{0, 0, 0.85}}, 4, 2, false},
		{Sign{0.2, []float64{0, 0, 0}}, 1, NoCause, false}, {Sign{0.2, []float64{0, 0, 0.9}}, 1, NoCause, false}}}
	ones, answers := []float64{1, 1, 1}, make([]Answer, 5)
	for _, want := range []int{4, 1, 2, 0} {
		got, ok := model.Rank(ones, answers).Next()
		if !ok || got != want {
			t.Fatalf("next is %d, want %d", got, want)
		}
		answers[got] = CannotTell
	}
	if got, ok := model.Rank(ones, answers).Next(); ok {
		t.Errorf("next is %d when only what tells nothing is open", got)
	}
}

// A test that comes first does so before questions and quicker tests, of several the one
// of the likeliest cause; each is made once.
func TestNextComesFirst(t *testing.T) {
	model := Model{Prior: []float64{0.3, 0.02, 0.1}, Symptom: Sign{0.01, []float64{0.5, 0.5, 0.5}}, Findings: []Finding{
		{Sign{0.05, []float64{0.85, 0, 0}}, 4, 0, false}, {Sign{0.05, []float64{0, 0.85, 0}}, 90, 1, true},
		{Sign{0.05, []float64{0, 0, 0.85}}, 90, 2, true}, {Sign{0.2, []float64{0.9, 0, 0}}, 1, NoCause, false}}}
	ones, answers := []float64{1, 1, 1}, make([]Answer, 4)
	for _, want := range []int{2, 1, 3, 0} {
		got, ok := model.Rank(ones, answers).Next()
		if !ok || got != want {
			t.Fatalf("next is %d, want %d", got, want)
		}
		answers[got] = No
		if model.Findings[got].Of == NoCause {
			answers[got] = CannotTell
		}
	}
}

// BenchmarkRank ranks eleven causes with twelve findings, and what each would gain.
func BenchmarkRank(b *testing.B) {
	model := Model{Symptom: Sign{Leak: 0.05}}
	causes := 11
	for i := range causes {
		model.Prior = append(model.Prior, 0.1)
		model.Symptom.Strength = append(model.Symptom.Strength, 0.5)
		s := make([]float64, causes)
		s[i] = 0.9
		model.Findings = append(model.Findings, Finding{Sign{0.05, s}, 10, i, false})
	}
	model.Findings = append(model.Findings, Finding{Sign{0.2, model.Symptom.Strength}, 1, NoCause, false})
	ones, answers := make([]float64, causes), make([]Answer, causes+1)
	for i := range ones {
		ones[i] = 1
	}
	for b.Loop() {
		r := model.Rank(ones, answers)
		r.Next()
		for i := range model.Findings {
			r.Gain(i)
		}
	}
}

// The entropy of a chance, and what an answer brings, worked out by hand: of one
// cause as likely as not, a test that shows it with 3/4 and never else says yes with
// 3/8 and leaves after no a chance of 1/5.
func TestGainByHand(t *testing.T) {
	for p, want := range map[float64]float64{0: 0, 1: 0, -1: 0, 2: 0, 0.5: 1, 0.25: 2 - 0.75*math.Log2(3),
		0.75: 2 - 0.75*math.Log2(3)} {
		near(t, "entropy", entropy(p), want)
	}
	m := Model{Prior: []float64{0.5}, Symptom: Sign{0.5, []float64{0}}, Findings: []Finding{
		{Sign{0, []float64{0.75}}, 5, 0, false}, {Sign{0, []float64{0}}, 5, 0, false},
		{Sign{0.2, []float64{0.5}}, 4, 0, false}}}
	ranking := m.Rank([]float64{1}, make([]Answer, 3))
	gain := ranking.Gain(0)
	near(t, "chance of yes", gain.Yes, 3.0/8)
	near(t, "bits", gain.Bits, 1-5.0/8*entropy(0.2))
	if gain := ranking.Gain(1); gain.Yes != 0 || math.Abs(gain.Bits) > 1e-12 {
		t.Errorf("a test that shows nothing: %+v", gain)
	}
	near(t, "finds", ranking.Finds(0), 0.5*0.75)
	near(t, "finds, with what it shows wrongly", ranking.Finds(2), 0.5*(1-0.8*0.5))
	// A question is asked where it brings more than a thousandth of a bit.
	little := map[bool]int{}
	for strength := 0.0; strength < 0.5; strength += 0.005 {
		q := Model{Prior: []float64{0.01}, Symptom: Sign{0.5, []float64{0}},
			Findings: []Finding{{Sign{0.01, []float64{strength}}, 1, NoCause, false}}}
		r := q.Rank([]float64{1}, []Answer{Open})
		bits := r.Gain(0).Bits
		if _, ok := r.Next(); ok != (bits > 1e-3) {
			t.Errorf("asked %v, though it brings %v bits", ok, bits)
		}
		if bits > 5e-4 && bits < 2e-3 {
			little[bits > 1e-3]++
		}
	}
	if little[false] == 0 || little[true] == 0 {
		t.Errorf("the questions beside a thousandth: %v", little)
	}
}

// Of a shop's own problems odds move at the most by a thousand either way, and what
// was found more often than there were problems counts as always.
func TestLearnedBounds(t *testing.T) {
	model := Model{Prior: []float64{0.001, 0.5}, Symptom: Sign{0.5, []float64{0, 0}}}
	always := model.Learned([]int{1e9, 0}, 1e9)
	if always[0] != 1e3 || always[1] != 1e-3 {
		t.Errorf("a milliard problems: %v", always)
	}
	some, more := model.Learned([]int{50, 0}, 50), model.Learned([]int{99, 0}, 50)
	near(t, "more often than there were problems", more[0], some[0])
	// One problem of two, and a prior of 50: (1 + 50 q)/52.
	q := model.Rank([]float64{1, 1}, nil).Chance
	now := model.Rank(model.Learned([]int{1, 0}, 2), nil).Chance
	for j, had := range []float64{1, 0} {
		if want := (had + 50*q[j]) / 52; math.Abs(now[j]-want) > 1e-9 {
			t.Errorf("cause %d: %v, want %v", j, now[j], want)
		}
	}
	// Answers that were open are learned from as open, whatever findings there are.
	model.Findings = []Finding{{Sign{0.1, []float64{0.5, 0.5}}, 1, NoCause, false}}
	with := model.Learned([]int{1, 0}, 2)
	model.Findings = nil
	near(t, "with a question", with[0], model.Learned([]int{1, 0}, 2)[0])
}
