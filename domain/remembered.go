package domain

import "time"

// Unseen is an answer that could not be delivered: whom it was for, and its first line.
type Unseen struct {
	Shop   ShopID
	Person PersonID
	Said   string // "" where they have been told of it since
	At     time.Time
}

// UnseenKept is how long such an answer is told of.
const UnseenKept = 30 * 24 * time.Hour
