package commands

import (
	"slices"
	"strings"

	"setscrew/domain/diagnosis"
)

// named is anything that people call by name.
type named struct{ id, name string }

// namedIn lists things by the names that people call them by.
func namedIn[T any](all []T, as func(*T) named) []named {
	among := make([]named, len(all))
	for i := range all {
		among[i] = as(&all[i])
	}
	return among
}

// find looks a typed name up among what there is: by name or id without regard
// to case, then by the only name that begins so. When nothing fits, near holds
// the likeliest names, best first, at most three.
func find(typed string, among []named) (found int, near []string) {
	text := fold(typed)
	// By name or id, or by the only name that begins so.
	begins := -1
	for i, n := range among {
		switch {
		case fold(n.name) == text, n.id != "" && fold(n.id) == text:
			return i, nil
		case text != "" && strings.HasPrefix(fold(n.name), text):
			if begins == -1 {
				begins = i
			} else {
				begins = -2
			}
		}
	}
	if begins >= 0 {
		return begins, nil
	}
	// What it is like: by slips of spelling, or holding what was typed.
	type scored struct {
		name  string
		slips int
	}
	var scores []scored
	for _, candidate := range among {
		name := fold(candidate.name)
		slips := diagnosis.Slips(text, name)
		if candidate.id != "" {
			slips = min(slips, diagnosis.Slips(text, candidate.id))
		}
		if strings.Contains(name, text) && text != "" {
			slips = min(slips, 2)
		}
		if slips <= max(2, len([]rune(text))/2) {
			scores = append(scores, scored{candidate.name, slips})
		}
	}
	slices.SortStableFunc(scores, func(a, b scored) int { return a.slips - b.slips })
	for _, x := range scores[:min(3, len(scores))] {
		near = append(near, x.name)
	}
	return -1, near
}
