package commands

import (
	"slices"
	"sync"

	"setscrew/domain"
)

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

// mostUnbooked is how many dangers wait at once.
const mostUnbooked = 500

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
