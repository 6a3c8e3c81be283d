package bookstest

import (
	"slices"

	"setscrew/commands"
)

// Cases lists every promise of commands.Books.
func Cases() []Case {
	return slices.Concat(onceCases, stateCases, pendingCases, listCases, sharingCases,
		stewardCases, forgetCases)
}

var _ commands.Books = (*shop)(nil)
