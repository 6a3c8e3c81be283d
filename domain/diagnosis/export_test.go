package diagnosis

import (
	"errors"
	"fmt"
)

// Check refuses a model that cannot be reckoned with.
func (m Model) Check() error {
	count := len(m.Prior)
	if count == 0 || count > MostCauses {
		return fmt.Errorf("diagnosis: %d causes, 1 to %d are taken", count, MostCauses)
	}
	for _, p := range m.Prior {
		if !(p > 0 && p < 1) {
			return fmt.Errorf("diagnosis: a prior of %v", p)
		}
	}
	sign := func(s Sign) error {
		if len(s.Strength) != count {
			return errors.New("diagnosis: a strength for each cause")
		}
		for _, w := range append([]float64{s.Leak}, s.Strength...) {
			if !(w >= 0 && w < 1) {
				return fmt.Errorf("diagnosis: a strength of %v", w)
			}
		}
		return nil
	}
	if err := sign(m.Symptom); err != nil {
		return err
	}
	for _, finding := range m.Findings {
		if err := sign(finding.Sign); err != nil {
			return err
		}
		if finding.Of < NoCause || finding.Of >= count {
			return fmt.Errorf("diagnosis: a test of cause %d", finding.Of)
		}
		if !(finding.Minutes > 0) {
			return fmt.Errorf("diagnosis: a test of %v minutes", finding.Minutes)
		}
	}
	return nil
}
