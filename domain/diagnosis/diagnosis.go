// Package diagnosis ranks the causes that may lie behind what was seen, and says
// which question or test tells most for the time that it takes.
//
// Causes are present or not, each with odds of its own. What is seen, answered or
// tested is a finding; that it is so, given the causes present, has a chance by the
// noisy-or with a leak:
//
//	P(yes | causes) = 1 - (1 - leak) * product over causes present of (1 - strength)
//
// (J. Pearl, Probabilistic Reasoning in Intelligent Systems, 1988, section 4.3.2,
// from memory). The ranking is exact: all sets of causes are summed over.
package diagnosis

import (
	"math"
	"math/bits"
)

// MostCauses is how many causes a model may have.
const MostCauses = 14

// Model is what may lie behind one symptom. Strengths are by cause, in the order of
// Prior.
type Model struct {
	Prior    []float64 // the chance of each cause before anything is known, between 0 and 1
	Symptom  Sign
	Findings []Finding // what can be asked or tested
}

// Sign is something that shows, with how strongly each cause shows it.
type Sign struct {
	Leak     float64 // the chance that it shows without any of the causes
	Strength []float64
}

// Finding is a question or a test, and the minutes that it takes. Of is the cause that
// a test looks for, NoCause for a question.
type Finding struct {
	Sign
	Minutes float64
	Of      int
	First   bool // of a test: it comes before all else, since its cause can hurt
}

// NoCause is what a question looks for.
const NoCause = -1

// Answer is what came of a question or a test.
type Answer int8

// The answers. CannotTell counts for nothing, but the question is not asked again.
const (
	Open Answer = iota
	Yes
	No
	CannotTell
)

// Ranking is what is known once a symptom was seen and some questions are answered.
type Ranking struct {
	model   Model
	answers []Answer
	joint   []float64 // the chance of each set of causes, as bits
	// Chance is that of each cause.
	Chance []float64
	// Other is the chance that none of them is present.
	Other float64
}

// absent lists, for each set of causes, the chance that a sign does not show.
func (m Model) absent(sign Sign) []float64 {
	chance := make([]float64, 1<<len(m.Prior))
	chance[0] = 1 - sign.Leak
	for set := 1; set < len(chance); set++ {
		low := bits.TrailingZeros(uint(set))
		chance[set] = chance[set&(set-1)] * (1 - sign.Strength[low])
	}
	return chance
}

// Rank works out the chances of all causes once the symptom was seen and questions
// were answered; odds multiply each cause's prior odds, 1 for no change. The model
// is one that Check takes; there is an answer for each of its findings.
func (m Model) Rank(odds []float64, answers []Answer) *Ranking {
	ranking := &Ranking{
		model:   m,
		answers: answers,
		joint:   make([]float64, 1<<len(m.Prior)),
		Chance:  make([]float64, len(m.Prior)),
	}
	// Every set of causes, each present or not by its odds, independently.
	ranking.joint[0] = 1
	for j, chance := range m.Prior {
		odd := chance / (1 - chance) * odds[j]
		chance = odd / (1 + odd)
		half := 1 << j
		for set := range half {
			ranking.joint[half|set] = ranking.joint[set] * chance
			ranking.joint[set] *= 1 - chance
		}
	}
	// The symptom was seen, and each answer was given: weigh the sets by how likely that is.
	for set, absent := range m.absent(m.Symptom) {
		ranking.joint[set] *= 1 - absent
	}
	for i, answer := range answers {
		if answer != Yes && answer != No {
			continue
		}
		for set, absent := range m.absent(m.Findings[i].Sign) {
			if answer == Yes {
				absent = 1 - absent
			}
			ranking.joint[set] *= absent
		}
	}
	// Scale the weights to chances, and add them up for each cause.
	sum := 0.0
	for _, chance := range ranking.joint {
		sum += chance
	}
	if sum == 0 { // what was said cannot be: nothing is learned from it
		return m.Rank(odds, make([]Answer, len(answers)))
	}
	for set := range ranking.joint {
		ranking.joint[set] /= sum
		for rest := set; rest != 0; rest &= rest - 1 {
			ranking.Chance[bits.TrailingZeros(uint(rest))] += ranking.joint[set]
		}
	}
	ranking.Other = ranking.joint[0]
	return ranking
}

// entropy is that of a chance, in bits.
func entropy(p float64) float64 {
	if p <= 0 || p >= 1 {
		return 0
	}
	return -p*math.Log2(p) - (1-p)*math.Log2(1-p)
}

// Gain is the information that a question or test is expected to bring.
type Gain struct {
	Bits float64 // by which the entropy of the causes, summed over them, is expected to fall
	Yes  float64 // the chance that the answer is yes
}

// Gain works out how much one finding is expected to tell:
//
//	sum over causes of H(P) - sum over answers of P(answer) * H(P given the answer)
//
// with H the entropy of one cause's presence, in bits.
func (r *Ranking) Gain(finding int) Gain {
	var gain Gain
	count := len(r.Chance)
	with := make([]float64, count) // by cause: the chance of yes and the cause
	for set, absent := range r.model.absent(r.model.Findings[finding].Sign) {
		both := r.joint[set] * (1 - absent)
		gain.Yes += both
		for rest := set; rest != 0; rest &= rest - 1 {
			with[bits.TrailingZeros(uint(rest))] += both
		}
	}
	for j, chance := range r.Chance {
		gain.Bits += entropy(chance)
		if gain.Yes > 0 {
			gain.Bits -= gain.Yes * entropy(with[j]/gain.Yes)
		}
		if gain.Yes < 1 {
			gain.Bits -= (1 - gain.Yes) * entropy((chance-with[j])/(1-gain.Yes))
		}
	}
	return gain
}

// leastBits is how much a question must tell to be asked.
const leastBits = 1e-3

// Next is what to ask or test next: of the open tests that come first the one of the
// likeliest cause; else the first open question that tells anything; or else the open test
// that is likeliest to find its cause for each minute that it
// takes,
//
//	chance of the cause * chance that its test finds it / minutes
//
// which, for tests of one cause each, takes the least time on average (a search among
// boxes; from memory). ok is false if nothing is open.
func (r *Ranking) Next() (finding int, ok bool) {
	// What comes before all else, however unlikely it is.
	likeliest := -1.0
	for i, open := range r.model.Findings {
		if open.First && r.answers[i] == Open && r.Chance[open.Of] > likeliest {
			finding, likeliest, ok = i, r.Chance[open.Of], true
		}
	}
	if ok {
		return finding, ok
	}
	rate := 0.0
	for i, open := range r.model.Findings {
		switch {
		case r.answers[i] != Open:
		case open.Of == NoCause:
			if r.Gain(i).Bits > leastBits {
				return i, true
			}
		default:
			if found := r.Finds(i) / open.Minutes; found > rate {
				finding, rate, ok = i, found, true
			}
		}
	}
	return finding, ok
}

// Finds is the chance that a test finds its cause.
func (r *Ranking) Finds(finding int) float64 {
	f := r.model.Findings[finding]
	return r.Chance[f.Of] * (1 - (1-f.Leak)*(1-f.Strength[f.Of]))
}

// learnWeight is how many problems the model's own chances weigh as much as: about
// as many as it takes for counts to be as sure as weights that are wrong by a third.
const learnWeight = 50

// Learned is by what a shop's own problems multiply the odds of each cause: of n of
// them that were settled, had had each cause. With q the chance of a cause once the
// symptom was seen, by the model alone, and k of n that had it, its chance becomes
//
//	(k + 50 q) / (n + 50)
//
// the mean of a beta posterior from a prior of 50 problems as the model expects (a
// proportion and its conjugate prior; source: any text on them). Since causes explain
// each other away, the odds are moved again and again until all chances are so
// (iterative proportional fitting).
func (m Model) Learned(had []int, n int) []float64 {
	odds, open := make([]float64, len(m.Prior)), make([]Answer, len(m.Findings))
	for j := range odds {
		odds[j] = 1
	}
	if n == 0 {
		return odds
	}
	bound := func(p float64) float64 { return min(max(p, 1e-6), 1-1e-6) }
	target := m.Rank(odds, open).Chance
	for j, q := range target {
		target[j] = bound((float64(min(had[j], n)) + learnWeight*q) / (float64(n) + learnWeight))
	}
	for range 12 {
		for j, p := range m.Rank(odds, open).Chance {
			p, want := bound(p), target[j]
			odds[j] = min(max(odds[j]*want/(1-want)/(p/(1-p)), 1e-3), 1e3)
		}
	}
	return odds
}

// Since is by what use since work was last done multiplies the odds of a cause that
// it prevents, whose chance is p when the whole interval has passed. At a constant
// rate the chance after a share x of it is
//
//	1 - (1 - p)^x
//
// (the exponential distribution). x is held between a twentieth and four.
func Since(p, x float64) float64 {
	x = min(max(x, 0.05), 4)
	now := 1 - math.Pow(1-p, x)
	return now / (1 - now) / (p / (1 - p))
}
