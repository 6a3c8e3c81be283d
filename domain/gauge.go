package domain

import (
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/profile"
	"setscrew/domain/quantity"
)

// GaugeUsed freezes the gauge that a reading was taken with.
type GaugeUsed struct {
	Name    string `json:"name"`
	Assumed bool   `json:"assumed"` // the check's own, since none was named
	metrology.Gauge
	Calibrated time.Time `json:"calibrated,omitzero"`
	Interval   int       `json:"interval,omitempty"` // days for which a calibration holds
}

// Calibration says when the gauge was last calibrated and how long that holds.
func (g GaugeUsed) Calibration() metrology.Calibration {
	return metrology.Calibration{On: g.Calibrated, Days: g.Interval}
}

// Budget is the budget of one reading with the gauge.
func (g GaugeUsed) Budget() metrology.Budget { return metrology.Evaluate(g.Gauge, 1, 0, Level) }

// OwnGauge is a gauge that the shop itself has, next to those that a profile
// brings.
type OwnGauge struct {
	GaugeUsed
	Kind string `json:"kind,omitempty"` // the kind of gauge that its starting values came from
	// Starting says that its values are its kind's, not confirmed by a steward.
	Starting bool          `json:"starting,omitempty"`
	Of       quantity.Kind `json:"of,omitempty"` // what it measures; length if absent
}

// Measures is what the gauge measures.
func (g OwnGauge) Measures() quantity.Kind {
	if g.Of == 0 {
		return quantity.Length
	}
	return g.Of
}

// FromProfile is a profile's gauge as a reading keeps it.
func FromProfile(g profile.Gauge) GaugeUsed {
	return GaugeUsed{Name: g.Name, Gauge: g.Gauge}
}
