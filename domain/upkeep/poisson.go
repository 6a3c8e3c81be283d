package upkeep

import (
	"math"
)

// GammaPoisson is a rate of events that is known as a gamma distribution of a shape
// and a rate (its own scale turned over, in units of exposure); the events to come
// in an exposure have a negative binomial distribution.
type GammaPoisson struct{ Shape, Rate float64 }

// Seen is what is known after n events more in an exposure:
//
//	gamma(shape + n, rate + exposure)
func (g GammaPoisson) Seen(events int, exposure float64) GammaPoisson {
	return GammaPoisson{g.Shape + float64(events), g.Rate + exposure}
}

// Mean is how many events to expect in an exposure.
func (g GammaPoisson) Mean(exposure float64) float64 { return exposure * g.Shape / g.Rate }

// Chance is the chance of just n events in an exposure:
//
//	Γ(shape + n)/(Γ(shape)·n!)·(rate/(rate + e))^shape·(e/(rate + e))^n
func (g GammaPoisson) Chance(n int, exposure float64) float64 {
	return math.Exp(g.logChance(n, exposure))
}

func (g GammaPoisson) logChance(count int, exposure float64) float64 {
	sum := g.Shape * math.Log(g.Rate/(g.Rate+exposure))
	if count == 0 {
		return sum
	}
	ways := 1.0
	for i := range count {
		if ways *= (g.Shape + float64(i)) / float64(i+1); ways > 1e200 {
			sum, ways = sum+math.Log(ways), 1
		}
	}
	return sum + math.Log(ways) + float64(count)*math.Log(exposure/(g.Rate+exposure))
}

// Most is the least number of events that is not passed in an exposure with at
// least a chance.
func (g GammaPoisson) Most(chance, exposure float64) int {
	sum := 0.0
	for n := 0; ; n++ {
		if sum += g.Chance(n, exposure); sum >= chance || n > 1_000_000 {
			return n
		}
	}
}
