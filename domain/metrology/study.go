package metrology

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Study is readings of a gauge study: every part, by every person, the same number of times:
// Study[part][person] are the trials.
type Study [][][]float64

// Incomplete is a study that cannot be worked out yet.
type Incomplete struct {
	Parts, People, Trials int
	Part, Person          int // the place of the first gap, from 0, or -1
}

// Error says what is missing, for logs.
func (e *Incomplete) Error() string {
	return fmt.Sprintf(
		"gauge study of %d parts, %d people, %d trials: part %d, person %d lacks readings;"+
			" two parts and two trials are the least",
		e.Parts, e.People, e.Trials, e.Part+1, e.Person+1,
	)
}

// Source is one row of an analysis of variance.
type Source struct {
	SS, DoF, MS, F, P float64 // F and P are 0 where nothing is tested
}

// StudyResult is what a gauge study shows, in the unit of its readings.
type StudyResult struct {
	Part, Person, Interaction, Equipment, Total Source
	Pooled                                      bool // the interaction was pooled with the equipment
	Repeatability                               float64
	RepeatabilityDoF                            float64
	Reproducibility                             float64 // between people, with the interaction where it is not pooled
	Gauge                                       float64 // both together
	PartSpread                                  float64
	Spread                                      float64 // all together
	Percent                                     float64 // of Spread that the gauge is, 100·Gauge/Spread
	Distinct                                    int     // told apart: ⌊1.41·PartSpread/Gauge⌋, at least 1
}

// poolAbove is from which p-value on an interaction counts as none.
const poolAbove = 0.25

// Analyse works out a crossed study of p parts, k people (one or more) and n
// trials by analysis of variance with random effects. The interaction is pooled
// with the equipment where its p-value is above 0.25:
//
//	repeatability²    = MS_e
//	interaction²      = (MS_pk - MS_e)/n, 0 where pooled
//	people²           = (MS_k - MS_pk)/(p·n), MS_e for MS_pk where pooled
//	parts²            = (MS_p - MS_pk)/(k·n), likewise
//
// each 0 where it comes out negative. AIAG, Measurement Systems Analysis, 4th
// edition, chapter III, section B, ANOVA method. *Incomplete says what lacks.
func Analyse(study Study) (StudyResult, error) {
	parts := len(study)
	bad := &Incomplete{Parts: parts, Part: -1, Person: -1}
	if parts > 0 {
		bad.People = len(study[0])
		if bad.People > 0 {
			bad.Trials = len(study[0][0])
		}
	}
	people, trials := bad.People, bad.Trials
	for i := range study {
		for j := range max(people, len(study[i])) {
			if j >= people || j >= len(study[i]) || len(study[i][j]) != trials {
				bad.Part, bad.Person = i, j
				return StudyResult{}, bad
			}
		}
	}
	if parts < 2 || trials < 2 { // without people there are no trials
		return StudyResult{}, bad
	}
	// Means: of each part by each person, of each part, of each person, of all.
	fp, fk, fn := float64(parts), float64(people), float64(trials)
	grand := 0.0
	part, person := make([]float64, parts), make([]float64, people)
	cell := make([][]float64, parts)
	for i := range study {
		cell[i] = make([]float64, people)
		for j := range study[i] {
			for _, x := range study[i][j] {
				cell[i][j] += x / fn
			}
			part[i] += cell[i][j] / fk
			person[j] += cell[i][j] / fp
			grand += cell[i][j] / (fp * fk)
		}
	}
	// Sums of squares about them, degrees of freedom and mean squares.
	var result StudyResult
	square := func(x float64) float64 { return x * x }
	for i := range study {
		result.Part.SS += fk * fn * square(part[i]-grand)
		for j := range study[i] {
			result.Interaction.SS += fn * square(cell[i][j]-part[i]-person[j]+grand)
			for _, x := range study[i][j] {
				result.Equipment.SS += square(x - cell[i][j])
				result.Total.SS += square(x - grand)
			}
		}
	}
	for j := range person {
		result.Person.SS += fp * fn * square(person[j]-grand)
	}
	result.Part.DoF, result.Person.DoF = fp-1, fk-1
	result.Interaction.DoF, result.Equipment.DoF = (fp-1)*(fk-1), fp*fk*(fn-1)
	result.Total.DoF = fp*fk*fn - 1
	for _, x := range []*Source{&result.Part, &result.Person, &result.Interaction, &result.Equipment} {
		if x.DoF > 0 {
			x.MS = x.SS / x.DoF
		}
	}
	// Tests: of the interaction against the equipment, of the others against what
	// is left as noise.
	test := func(x *Source, against Source) {
		if x.DoF > 0 && against.MS > 0 {
			x.F = x.MS / against.MS
			x.P = distuv.F{D1: x.DoF, D2: against.DoF}.Survival(x.F)
		}
	}
	test(&result.Interaction, result.Equipment)
	noise, against := result.Equipment, result.Interaction
	if result.Interaction.DoF == 0 || result.Interaction.P > poolAbove {
		result.Pooled = true
		noise.SS, noise.DoF = result.Equipment.SS+result.Interaction.SS, result.Equipment.DoF+result.Interaction.DoF
		noise.MS = noise.SS / noise.DoF
		against = noise
	}
	test(&result.Part, against)
	test(&result.Person, against)
	// Spreads, by what each mean square is expected to be.
	root := func(x float64) float64 { return math.Sqrt(max(x, 0)) }
	result.Repeatability, result.RepeatabilityDoF = root(noise.MS), noise.DoF
	result.Reproducibility = root((result.Person.MS - against.MS) / (fp * fn))
	if !result.Pooled {
		result.Reproducibility = math.Hypot(result.Reproducibility,
			root((result.Interaction.MS-result.Equipment.MS)/fn))
	}
	result.Gauge = math.Hypot(result.Repeatability, result.Reproducibility)
	result.PartSpread = root((result.Part.MS - against.MS) / (fk * fn))
	result.Spread = math.Hypot(result.Gauge, result.PartSpread)
	result.Distinct = 1
	if result.Gauge > 0 {
		result.Percent = 100 * result.Gauge / result.Spread
		result.Distinct = max(int(1.41*result.PartSpread/result.Gauge), 1)
	}
	return result, nil
}

// PercentOfTolerance is how much of a tolerance (high - low, in the readings'
// unit) the gauge takes up: 100·6·gauge/tolerance (AIAG, Measurement Systems
// Analysis, 4th edition).
func (r StudyResult) PercentOfTolerance(tolerance float64) float64 { return 600 * r.Gauge / tolerance }

// Fitness says whether a gauge is good enough for a tolerance.
type Fitness string

// The fitnesses: under 10 per cent of the tolerance; up to 30; over 30 (AIAG,
// Measurement Systems Analysis, 4th edition, guidelines).
const (
	FitGood   Fitness = "good"
	FitBarely Fitness = "barely"
	FitNot    Fitness = "not"
)

// Fit grades a share of a tolerance in per cent.
func Fit(percent float64) Fitness {
	switch {
	case percent < 10:
		return FitGood
	case percent <= 30:
		return FitBarely
	}
	return FitNot
}
