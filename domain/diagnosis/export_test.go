package diagnosis

import (
	"errors"
	"fmt"
)

// Check refuses a model that cannot be reckoned with.
func (m Model) Check() error {
	n := len(m.Prior)
	if n == 0 || n > MostCauses {
		return fmt.Errorf("diagnosis: %d causes, 1 to %d are taken", n, MostCauses)
	}
	for _, p := range m.Prior {
		if !(p > 0 && p < 1) {
			return fmt.Errorf("diagnosis: a prior of %v", p)
		}
	}
	sign := func(s Sign) error {
		if len(s.Strength) != n {
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
	for _, f := range m.Findings {
		if err := sign(f.Sign); err != nil {
			return err
		}
		if f.Of < NoCause || f.Of >= n {
			return fmt.Errorf("diagnosis: a test of cause %d", f.Of)
		}
		if !(f.Minutes > 0) {
			return fmt.Errorf("diagnosis: a test of %v minutes", f.Minutes)
		}
	}
	return nil
}
