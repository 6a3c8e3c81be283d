package quantity

import "slices"

// Kinds lists every kind.
func Kinds() []Kind {
	var all []Kind
	for k := Length; k < kinds; k++ {
		all = append(all, k)
	}
	return all
}

// UnitsOf lists a kind's units, its base unit among them.
func UnitsOf(k Kind) []Unit { return slices.Clone(unitsOf[k]) }

// Texts are the options of a question, with strokes between.
func Texts(a *Ambiguity) string { return texts(a) }
