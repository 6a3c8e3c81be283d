package linkage

import "math"

// CapReport is what boards showed at one height of a spring cap. More height
// means less pressure.
type CapReport struct {
	Height   float64
	Marks    bool // the roller pressed marks into the board: too much pressure
	Stutters bool // the board stuttered or slipped: too little pressure
}

// CapAdvice is the next setting of a roller's spring caps, both alike.
type CapAdvice struct {
	Low, High      float64 // the bounds on the height by the reports; infinite where there is none
	Next           float64 // the height to set next, where Move
	Move           bool
	Contradiction  bool // stutters at a height at or below one that marks: no height is right
	NoStep         bool // nothing that a hand can set is left between the bounds
	LowAt, HighAt  int  // the reports, by index, that set the bounds; -1 for none
	NothingToAvoid bool // neither marks nor stutters were ever seen
}

// NextCap works out the next height from the reports, oldest first, the travel
// and the step that a hand can set. Marks at a height say that it must be
// higher, stutters that it must be lower; the next setting is the step nearest
// to the middle of what is left, or one step on where only one bound is known
// (common practice, no source; bisection). Both at once at one height are a
// contradiction, as are stutters at or below a height that marks.
func NextCap(reports []CapReport, now, least, most, step float64) CapAdvice {
	advice := CapAdvice{Low: math.Inf(-1), High: math.Inf(1), LowAt: -1, HighAt: -1}
	// The newest of the tightest reports sets each bound.
	for i, report := range reports {
		if report.Marks && report.Height >= advice.Low {
			advice.Low, advice.LowAt = report.Height, i
		}
		if report.Stutters && report.Height <= advice.High {
			advice.High, advice.HighAt = report.Height, i
		}
	}
	// Nothing to do without bounds, or with bounds that leave no height.
	const grain = 1e-9
	switch {
	case advice.LowAt < 0 && advice.HighAt < 0:
		advice.NothingToAvoid = true
		return advice
	case advice.Low >= advice.High-grain:
		advice.Contradiction = true
		return advice
	}
	low, high := math.Max(advice.Low, least), math.Min(advice.High, most)
	if now > advice.Low+grain && now < advice.High-grain {
		return advice // it stands between the bounds already
	}
	// Aim for the middle, or a step away from the only bound.
	var want float64
	switch {
	case advice.HighAt < 0:
		want = now + step
	case advice.LowAt < 0:
		want = now - step
	default:
		want = (advice.Low + advice.High) / 2
	}
	advice.Next = step * math.Round(want/step)
	// Strictly within the bounds that reports set, and within the travel.
	for _, next := range []float64{advice.Next, advice.Next + step, advice.Next - step} {
		if next > advice.Low+grain && next < advice.High-grain && next >= low-grain && next <= high+grain {
			advice.Next, advice.Move = next, true
			return advice
		}
	}
	advice.Next, advice.NoStep = 0, true
	return advice
}
