package upkeep

import (
	"math"
	"time"
)

// Span is the use between two readings of a machine's hour counter: what the
// counter says, and what was reported, in hours.
type Span struct {
	Until           time.Time
	Counted, Logged float64
}

// HalfLife is the age at which a span counts half in how much is reported.
// Common practice, no source.
const HalfLife = 90 * 24 * time.Hour

// Reporting is how much use there really is for each hour reported.
type Reporting struct {
	Ratio float64 // at least 1
	U     float64 // standard uncertainty of Ratio; 0 where one span alone tells it
	Spans int
}

// Report estimates the ratio of counted to reported hours from the spans between
// readings of the counter, recent ones more:
//
//	r = Σ w C / Σ w L,  w = 2^(-age/half-life),  u² = Σ w² (C - r L)² / (Σ w L)² · n/(n - 1)
//
// (ratio estimator of survey sampling, from memory). ok is false while less than
// two hours were ever reported within a span, which says nothing.
func Report(spans []Span, now time.Time) (reporting Reporting, ok bool) {
	var counted, logged float64
	weight := func(s Span) float64 { return math.Exp2(-now.Sub(s.Until).Hours() / HalfLife.Hours()) }
	for _, s := range spans {
		counted, logged = counted+weight(s)*s.Counted, logged+weight(s)*s.Logged
	}
	total := 0.0
	for _, s := range spans {
		total += s.Logged
	}
	if total < 2 || logged <= 0 {
		return Reporting{Ratio: 1}, false
	}
	reporting = Reporting{Ratio: max(counted/logged, 1), Spans: len(spans)}
	if count := float64(len(spans)); count > 1 {
		sum := 0.0
		for _, s := range spans {
			off := weight(s) * (s.Counted - counted/logged*s.Logged)
			sum += off * off
		}
		reporting.U = math.Sqrt(sum*count/(count-1)) / logged
	}
	return reporting, true
}
