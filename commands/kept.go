package commands

import (
	"sync"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"

	"setscrew/domain"
)

// usages keeps what was learned of how machines are used, until something that it
// rests on changes.
type usages struct {
	sync.Mutex
	all    map[usageKey]keptUsage
	leaves map[usageKey]keptLeaves
	levels map[domain.ShopID]keptLevels
}

// keptUsage is how a machine is used and when its services fall due by that, with what both
// rest on.
type keptUsage struct {
	rests string
	usage *domain.Usage
	when  map[string]domain.Likely // by hours left
}

// keptLeaves is which checks of a machine drift out of their limits.
type keptLeaves struct {
	rests string
	all   []leaving
}

// keptLevels is how a shop's machines were used, as it was looked up on a day.
type keptLevels struct {
	day      string
	sessions map[domain.MachineID]int
}

// usageKey names a machine of a shop.
type usageKey struct {
	shop    domain.ShopID
	machine domain.MachineID
}

// mostUsages is how many machines' use is kept.
const mostUsages = 5000

// leaving is a check's position that drifts out of its adjust limits.
type leaving struct {
	check    string
	position string
	likely   domain.Likely
}

// people is what the desk remembers of people, a bounded number of them: nothing is lost
// with it but that something is said or written once more.
type people struct {
	noted *lru.Cache[personKey, noted]  // who was noted as a steward, or as none
	told  *lru.Cache[personKey, string] // what was told last of what notices lack
}

// personKey names somebody in a shop.
type personKey struct {
	shop   domain.ShopID
	person domain.PersonID
}

// noted is by which role somebody is a steward, "" for none, and when that was written.
type noted struct {
	role string
	at   time.Time
}

// mostPeople is of how many people something is kept.
const mostPeople = 5000

// forget drops what is remembered of somebody.
func (p people) forget(who personKey) {
	p.noted.Remove(who)
	p.told.Remove(who)
}

// newPeople remembers nobody yet.
func newPeople() people {
	noted, err := lru.New[personKey, noted](mostPeople)
	if err != nil {
		panic(err) // the number is a constant
	}
	told, err := lru.New[personKey, string](mostPeople)
	if err != nil {
		panic(err)
	}
	return people{noted, told}
}
