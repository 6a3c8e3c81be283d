package domain

import (
	"math"
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
	"setscrew/domain/wear"
)

// ReadAt is a reading with the hours of use at which it was taken.
type ReadAt struct {
	Fact  FactNo
	At    time.Time
	Hours float64 // of use since the first of those that it stands among
	Reading
}

// MostRead is how many readings a drift is followed through at the most.
const MostRead = 40

// ComparableSince is the moment from which readings of a check can be compared: the last time
// that a surface moved which it is measured from, or its own; zero if none did.
func ComparableSince(snap Snapshot, check string) time.Time {
	var since time.Time
	for _, id := range snap.Machine.Profile.Datums(check) {
		if m := snap.Moved[id]; m.At.After(since) {
			since = m.At
		}
	}
	return since
}

// Drifting is how a check's reading at one position changes with use.
type Drifting struct {
	Position string
	Kind     quantity.Kind
	Drift    wear.Drift
	Adjust   *Leaving // when it leaves its adjust limits, nil if it does not
	Stop     *Leaving
}

// Leaving is a limit that a drifting reading reaches after hours of use more, from
// the last reading on. A Late of none may never come.
type Leaving struct {
	Limit               quantity.Value
	Early, Middle, Late quantity.Value
}

// Drifts follows each position of a check through readings in the order in which
// they were taken, all of one mode. Their uncertainties are those of the gauges;
// what a gauge's error has in common from one reading to the next is not taken off,
// so that slopes are proved late rather than early.
func Drifts(check *profile.Check, readings []ReadAt) []Drifting {
	var all []Drifting
	if !check.Target.Valid() {
		return nil
	}
	unit := quantity.Base(check.Kind())
	for i, position := range check.Positions {
		var points []wear.Point
		for _, r := range readings {
			if i < len(r.Values) && r.Mode == check.Mode {
				u := metrology.Evaluate(r.Gauge.Gauge, len(r.Values[i].Repeats), 0, Level).Combined
				points = append(points, wear.Point{X: r.Hours, Y: r.Values[i].Mean().Float(unit), U: u})
			}
		}
		d := Drifting{Position: position, Kind: check.Kind(), Drift: wear.Follow(points)}
		d.Adjust, d.Stop = leaving(d.Drift, check.Adjust, unit), leaving(d.Drift, check.Stop, unit)
		all = append(all, d)
	}
	return all
}

// leaving is when a drift leaves a band by the limit that it leads to.
func leaving(drift wear.Drift, b metrology.Limits, unit quantity.Unit) *Leaving {
	for _, limit := range []quantity.Value{b.Low, b.High} {
		if !limit.Valid() || drift.Proved && (limit.Equal(b.Low)) == (drift.Line.Coef[1] > 0) {
			continue
		}
		early, middle, late, ok := drift.Leaves(limit.Float(unit), 0.8)
		if !ok {
			continue
		}
		hours := func(h float64) quantity.Value {
			if math.IsInf(h, 1) || h > 1e6 {
				return quantity.Value{}
			}
			return quantity.New(int64(math.Round(h)), 1, quantity.Hour)
		}
		if math.IsInf(middle, 1) || middle > 1e6 {
			return nil
		}
		return &Leaving{Limit: limit, Early: hours(early), Middle: hours(middle), Late: hours(late)}
	}
	return nil
}
