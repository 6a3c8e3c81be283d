package commands

import (
	"sync"

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
