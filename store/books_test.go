package store_test

import (
	"testing"

	"setscrew/commands"
	"setscrew/commands/bookstest"
	"setscrew/domain"
)

// The store keeps what its interface promises.
func TestBooks(t *testing.T) {
	t.Parallel()
	bookstest.Run(t, func(t *testing.T) func(domain.ShopID) commands.Books {
		db, _ := fresh(t)
		return func(id domain.ShopID) commands.Books { return db.Shop(id) }
	})
}
