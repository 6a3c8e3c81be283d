package domain

// KindTicked is the kind of a Ticked.
const KindTicked Kind = "ticked"

// Ticked is one thing that a steward has seen of a machine that is in use already,
// before it runs on.
type Ticked struct {
	Tick   string `json:"tick"`             // its id in the profile
	Name   string `json:"name"`             // as it stood
	Says   string `json:"says"`             // what was seen, as it stood
	Starts bool   `json:"starts,omitempty"` // it was the last that was missing; filled in by Complete
}

// FactKind is KindTicked.
func (Ticked) FactKind() Kind { return KindTicked }
