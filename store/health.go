package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"setscrew/domain"
)

// leastSpace is the room on the disk, in bytes, under which the operator is told: what a
// busy month of several shops takes, many times over.
const leastSpace = 64 << 20

// errGone is a file that its name no longer means.
var errGone = errors.New("the file was moved, replaced or deleted")

// there refuses with BooksMoved while the file's name means another file, or none: what
// is written then would be in no books. It does not open the file.
func (db *DB) there() error {
	now, err := os.Stat(db.path)
	if err == nil && os.SameFile(now, db.opened) {
		return nil
	}
	if err == nil {
		err = errGone
	} else {
		err = fmt.Errorf("%w: %w", errGone, err)
	}
	return &domain.BooksError{Trouble: domain.BooksMoved, Err: fmt.Errorf("store: %s: %w", db.path, err)}
}

// usable refuses what would be written into a file that is known to be of no use.
func (db *DB) usable() error {
	if unsound := db.unsound.Load(); unsound != nil {
		return unsound
	}
	return db.there()
}

// Look says what is the matter with the file where it lies, as a *domain.BooksError: it is
// damaged as far as CheckPages knows, was moved, may not be written, or its disk is nearly
// full. It mends nothing, and what has passed is not told of again.
func (db *DB) Look() error {
	if err := db.usable(); err != nil {
		return err
	}
	for _, path := range []string{db.path, filepath.Dir(db.path)} {
		if err := db.mayWrite(path); err != nil {
			return &domain.BooksError{Trouble: domain.BooksUnreachable, Err: fmt.Errorf("store: %w", err)}
		}
	}
	free, err := db.space(db.path)
	if err != nil {
		return &domain.BooksError{Trouble: domain.BooksUnreachable, Err: fmt.Errorf("store: %w", err)}
	}
	if free < leastSpace {
		return &domain.BooksError{Trouble: domain.BooksFull,
			Err: fmt.Errorf("store: only %d MB are left on the disk that holds %s", free>>20, db.path)}
	}
	return nil
}

// CheckPages has SQLite look through all of the file, on a connection of its own. Where
// that finds it damaged, nothing more is written until it is opened again: a report on
// top would be lost with the rest.
func (db *DB) CheckPages(ctx context.Context) (err error) {
	look, err := lookInto(db.path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, look.Close()) }()
	wrong, err := quickCheck(ctx, look, "quick_check")
	if err != nil {
		var said *domain.BooksError
		if err = troubled(err); errors.As(err, &said) && said.Trouble == domain.BooksDamaged {
			db.unsound.Store(said)
		}
		return err
	}
	if len(wrong) == 0 {
		return nil
	}
	unsound := &domain.BooksError{Trouble: domain.BooksDamaged,
		Err: fmt.Errorf("store: %s: %s", db.path, strings.Join(wrong, "; "))}
	db.unsound.Store(unsound)
	return unsound
}
