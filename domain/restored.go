package domain

import "time"

// Restoration is a shop's books that were put back from a copy: what happened since Last
// is not in them, though the shop's channel may show it.
type Restoration struct {
	Shop ShopID
	At   time.Time // when they were put back
	Last time.Time // the last moment that they know of
}
