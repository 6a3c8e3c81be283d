package commands

import (
	"context"
	"errors"
	"slices"
	"sync"

	lru "github.com/hashicorp/golang-lru/v2"

	"setscrew/domain"
)

// How much is kept in memory for the time when books cannot be used: of what shops
// last said, and of the dangers that wait to be stored.
const (
	mostRecalled = 1000
	mostUnbooked = 500
)

// recall keeps what each shop's books last said of its settings and its machines.
type recall struct {
	shops    *lru.Cache[domain.ShopID, domain.Shop]
	machines *lru.Cache[domain.ShopID, []domain.Machine]
}

// newRecall keeps at most a number of shops: what was not used for longest goes first.
func newRecall(most int) recall {
	shops, errShops := lru.New[domain.ShopID, domain.Shop](most)
	machines, errMachines := lru.New[domain.ShopID, []domain.Machine](most)
	if err := errors.Join(errShops, errMachines); err != nil {
		panic(err) // the number is a constant
	}
	return recall{shops, machines}
}

// recalledBooks are a shop's books that answer by what they last said where they cannot
// be read: with it a danger is understood, and told to the right channel.
type recalledBooks struct {
	Books
	shop domain.ShopID
	recall
}

// Shop is the shop with its settings, as they are or as they were last read.
func (b recalledBooks) Shop(ctx context.Context) (domain.Shop, error) {
	return remembered(ctx, b.shop, b.shops, b.Books.Shop)
}

// Machines lists the machines in use, as they are or as they were last read.
func (b recalledBooks) Machines(ctx context.Context) ([]domain.Machine, error) {
	return remembered(ctx, b.shop, b.machines, b.Books.Machines)
}

// remembered is what the books say, or said last.
func remembered[V any](ctx context.Context, shop domain.ShopID, kept *lru.Cache[domain.ShopID, V],
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

// unstored is a danger of a call's that the books could not take.
type unstored struct {
	machine domain.Machine // known by its name alone where the books never said more
	body    domain.Body
	waits   bool // it is stored as soon as it can be
}

// Unbooked is a danger that the books could not take. It waits in memory until they
// can, and is lost if the program ends before.
type Unbooked struct {
	Shop   domain.Shop   // as it was last read
	Entry  domain.Entry  // with what the channel was told of it
	Notice domain.Notice // what the channel is told of it meanwhile
}

// unbooked are all dangers that wait for the books, oldest first.
type unbooked struct {
	sync.Mutex
	all []Unbooked
}

// add lets one more wait; false where too many do. The same one again does not wait twice.
func (u *unbooked) add(one Unbooked) bool {
	u.Lock()
	defer u.Unlock()
	if u.at(one.Shop.ID, one.Entry.Key) >= 0 {
		return true
	}
	if len(u.all) >= mostUnbooked {
		return false
	}
	u.all = append(u.all, one)
	return true
}

// at is where one waits, -1 for nowhere.
func (u *unbooked) at(shop domain.ShopID, key string) int {
	return slices.IndexFunc(u.all, func(one Unbooked) bool { return one.Shop.ID == shop && one.Entry.Key == key })
}

// take forgets one.
func (u *unbooked) take(one Unbooked) {
	u.Lock()
	defer u.Unlock()
	if i := u.at(one.Shop.ID, one.Entry.Key); i >= 0 {
		u.all = slices.Delete(u.all, i, i+1)
	}
}
