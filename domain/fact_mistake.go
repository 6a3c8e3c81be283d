package domain

// KindMistake is the kind of a Mistake.
const KindMistake Kind = "mistake"

// Mistake takes back a stop that was pressed by mistake, by who pressed it. Both stay on
// record.
type Mistake struct {
	Of FactNo `json:"of"` // the tag-out
}

// FactKind is KindMistake.
func (Mistake) FactKind() Kind { return KindMistake }
