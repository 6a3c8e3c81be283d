package domain

// KindSeenTo is the kind of a SeenTo.
const KindSeenTo Kind = "seen-to"

// SeenTo says that somebody sees to the dangers that stand on a machine.
type SeenTo struct {
	Of      FactNo `json:"of,omitempty"`      // the last Alarm that they were shown; 0 for all until now
	Because FactNo `json:"because,omitempty"` // the report that shows it, where nobody said it outright
}

// FactKind is KindSeenTo.
func (SeenTo) FactKind() Kind { return KindSeenTo }

// KindAway is the kind of an AwaySet.
const KindAway Kind = "away"

// AwaySet says when a steward is away and who stands in for them; see Shop.WithAway.
type AwaySet struct {
	Away Away `json:"away"`
}

// FactKind is KindAway.
func (AwaySet) FactKind() Kind { return KindAway }
