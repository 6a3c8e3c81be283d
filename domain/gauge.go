package domain

import (
	"time"

	"setscrew/domain/metrology"
	"setscrew/domain/quantity"
)

// GaugeUsed freezes the gauge that a reading was taken with.
type GaugeUsed struct {
	Name        string         `json:"name"`
	Assumed     bool           `json:"assumed"` // the check's own, since none was named
	Resolution  quantity.Value `json:"resolution"`
	Uncertainty quantity.Value `json:"uncertainty"` // expanded, or absent with
	Error       quantity.Value `json:"error"`       // maximum permissible error, ±
	Coverage    float64        `json:"coverage"`    // k of Uncertainty
	Zeroed      bool           `json:"zeroed,omitempty"`

	Repeatability quantity.Value `json:"repeatability"` // standard deviation, absent if never studied
	DoF           float64        `json:"dof,omitempty"` // of Repeatability
	Calibrated    time.Time      `json:"calibrated,omitzero"`
	Interval      int            `json:"interval,omitempty"` // days for which a calibration holds
}

// Calibration says when the gauge was last calibrated and how long that holds.
func (g GaugeUsed) Calibration() metrology.Calibration {
	return metrology.Calibration{On: g.Calibrated, Days: g.Interval}
}

// Metrology is the gauge as the mathematics knows it.
func (g GaugeUsed) Metrology() metrology.Gauge {
	return metrology.Gauge{Resolution: g.Resolution, Error: g.Error, Uncertainty: g.Uncertainty, Coverage: g.Coverage,
		Repeatability: g.Repeatability, DoF: g.DoF, Zeroed: g.Zeroed}
}

// Budget is the budget of one reading with the gauge.
func (g GaugeUsed) Budget() metrology.Budget { return metrology.Evaluate(g.Metrology(), 1, 0, Level) }
