package commands

import (
	"context"
	"errors"

	lru "github.com/hashicorp/golang-lru/v2"

	"setscrew/domain"
)

// mostLastKnown is of how many shops it is kept what their books last said.
const mostLastKnown = 1000

// lastKnown is what each shop's books last said of its settings and its machines, for the
// time when they cannot be read.
type lastKnown struct {
	shops    *lru.Cache[domain.ShopID, domain.Shop]
	machines *lru.Cache[domain.ShopID, []domain.Machine]
}

// newLastKnown holds nothing yet, and later a number of shops at most: the one not asked
// about for longest goes first.
func newLastKnown(most int) lastKnown {
	shops, errShops := lru.New[domain.ShopID, domain.Shop](most)
	machines, errMachines := lru.New[domain.ShopID, []domain.Machine](most)
	if err := errors.Join(errShops, errMachines); err != nil {
		panic(err) // the number is a constant
	}
	return lastKnown{shops, machines}
}

// cachedBooks are a shop's books that answer by what was last known where they cannot be
// read, so that a danger is understood and told to the right channel.
type cachedBooks struct {
	Books
	shop domain.ShopID
	lastKnown
}

// Shop is the shop with its settings, as they are or as they were last read.
func (b cachedBooks) Shop(ctx context.Context) (domain.Shop, error) {
	return readOrLast(ctx, b.shop, b.shops, b.Books.Shop)
}

// Machines lists the machines in use, as they are or as they were last read.
func (b cachedBooks) Machines(ctx context.Context) ([]domain.Machine, error) {
	return readOrLast(ctx, b.shop, b.machines, b.Books.Machines)
}

// readOrLast is what the books say when asked or, where they fail, what they last said.
func readOrLast[V any](ctx context.Context, shop domain.ShopID, kept *lru.Cache[domain.ShopID, V],
	ask func(context.Context) (V, error)) (V, error) {
	said, err := ask(ctx)
	if err == nil {
		kept.Add(shop, said)
		return said, nil
	}
	if last, ok := kept.Get(shop); ok {
		return last, nil
	}
	return said, err
}
