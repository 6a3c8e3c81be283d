package domain

import (
	"slices"
	"strings"
)

// sayNothing are the words that say that nothing is apart.
var sayNothing = []string{"", "nothing", "nothing apart", "nothing is apart", "none", "no"}

// leavesApart reports whether the words of a handover say that something is apart.
func leavesApart(apart string) bool {
	return !slices.Contains(sayNothing, strings.Trim(Folded(apart), " .!-"))
}
