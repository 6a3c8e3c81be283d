package commands

import (
	"slices"
	"strings"

	"setscrew/domain/diagnosis"
)

// named is anything that people call by name.
type named struct{ id, name string }

// find looks a typed name up among what there is: by name or id without regard
// to case, then by the only name that begins so. When nothing fits, near holds
// the likeliest names, best first, at most three.
func find(typed string, among []named) (found int, near []string) {
	t := fold(typed)
	begins := -1
	for i, n := range among {
		switch {
		case fold(n.name) == t, n.id != "" && fold(n.id) == t:
			return i, nil
		case t != "" && strings.HasPrefix(fold(n.name), t):
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
	type scored struct {
		name string
		d    int
	}
	var s []scored
	for _, n := range among {
		name := fold(n.name)
		d := diagnosis.Slips(t, name)
		if n.id != "" {
			d = min(d, diagnosis.Slips(t, n.id))
		}
		if strings.Contains(name, t) && t != "" {
			d = min(d, 2)
		}
		if d <= max(2, len([]rune(t))/2) {
			s = append(s, scored{n.name, d})
		}
	}
	slices.SortStableFunc(s, func(a, b scored) int { return a.d - b.d })
	for _, x := range s[:min(3, len(s))] {
		near = append(near, x.name)
	}
	return -1, near
}
