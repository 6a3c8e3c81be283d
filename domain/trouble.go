package domain

import (
	"cmp"
	"time"
)

// Trouble is why a shop's books could not be read or written just now.
type Trouble string

// The troubles: all that a store's own errors are told apart by.
const (
	BooksFull        Trouble = "full"        // no room is left where the file lies
	BooksBusy        Trouble = "busy"        // another program holds the file
	BooksDamaged     Trouble = "damaged"     // the file is not sound
	BooksUnreachable Trouble = "unreachable" // the file cannot be read, or may not be written
	BooksMoved       Trouble = "moved"       // the file's name means another file by now, or none
	BooksClosed      Trouble = "closed"      // the program is about to end
)

// BooksError is a call that the books could not serve. Nothing was stored by it, as far
// as the store can tell; the same entry again, under its key, is stored once.
type BooksError struct {
	Trouble Trouble
	Err     error // the store's own
}

// Error is the store's own.
func (e *BooksError) Error() string { return e.Err.Error() }

// Unwrap is the store's own.
func (e *BooksError) Unwrap() error { return e.Err }

// Told is what a shop's channel was told of an entry from memory, while the books could
// not take it. The zero value: nothing was told.
type Told struct {
	Key     string    // of the notice, as Notice.Key
	Message string    // the message that it became; "" where its answer was lost
	At      time.Time // when it was first sent
}

// Described is what a report of a problem or a tag-out says, in the words of whoever made
// it or of the profile; "" for any other.
func Described(b Body) string {
	switch b := b.(type) {
	case Problem:
		return b.Name
	case TagOut:
		return cmp.Or(b.Reason.Text, b.Reason.Name)
	}
	return ""
}

// StopsMachine reports whether a report by a person says that a machine must not be used,
// or may be dangerous.
func StopsMachine(b Body) bool {
	switch b := b.(type) {
	case Problem:
		return b.Danger || b.Doubt
	case TagOut:
		return true
	}
	return false
}
