package upkeep_test

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	. "setscrew/domain/upkeep"
	"setscrew/testdata"
)

// Published counts: the predictive of a gamma-Poisson pair, and limits of a Poisson
// mean.
func TestPublishedCounts(t *testing.T) {
	for _, row := range testdata.Published(t, "upkeep_poisson.csv") {
		t.Run(row["id"], func(t *testing.T) {
			number := func(key string) float64 {
				v, err := strconv.ParseFloat(row[key], 64)
				if err != nil {
					t.Fatal(err)
				}
				return v
			}
			events := int(number("events"))
			dist := GammaPoisson{number("shape"), number("rate")}.Seen(events, number("exposure"))
			if got := dist.Mean(number("horizon")); math.Abs(got-number("mean")) > 1e-12 {
				t.Errorf("mean %v, want %s", got, row["mean"])
			}
			if got := dist.Chance(0, number("horizon")); math.Abs(got-number("none")) > 5e-9 {
				t.Errorf("none: %v, want %s", got, row["none"])
			}
			if got := dist.Most(0.9, number("horizon")); got != int(number("most90")) {
				t.Errorf("90 %%: %d, want %s", got, row["most90"])
			}
		})
	}
}

// The chances of all numbers of events sum to one, and their mean is Mean.
func TestGammaPoisson(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dist := GammaPoisson{rapid.Float64Range(0.2, 50).Draw(t, "shape"), rapid.Float64Range(0.5, 20).Draw(t, "rate")}
		exposure := rapid.Float64Range(0.01, 10).Draw(t, "exposure")
		sum, mean := 0.0, 0.0
		for n := range 20000 {
			p := dist.Chance(n, exposure)
			sum, mean = sum+p, mean+float64(n)*p
			if float64(n) > dist.Mean(exposure) && p < 1e-15 {
				break
			}
		}
		if math.Abs(sum-1) > 1e-9 || math.Abs(mean-dist.Mean(exposure)) > 1e-6*(1+mean) {
			t.Fatalf("sum %v, mean %v, want %v", sum, mean, dist.Mean(exposure))
		}
	})
}
