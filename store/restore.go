package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Restored says what Restore did.
type Restored struct {
	Path string    // the books
	Kept string    // what they were before, beside them; "" where there were none
	Last time.Time // when the last report was recorded that they know

	Forgotten int // people who were forgotten since the copy was made, and are again
}

// Restore puts a copy of books in their place, for good or not at all: the copy is proved
// first, as the program would open it; what it replaces is kept beside, with its log; and
// no program may work on the books. In between there are no books at all, rather than ones
// that are wrong. What the copy does not know is noted, for the shops' channels to be held
// against it (Restorations).
func Restore(ctx context.Context, copied, path string, now time.Time) (done Restored, err error) {
	if copied, err = filepath.Abs(copied); err != nil {
		return done, fmt.Errorf("store: find the copy: %w", err)
	}
	if path, err = filepath.Abs(path); err != nil {
		return done, fmt.Errorf("store: find the file: %w", err)
	}
	done.Path = path
	if err := checkCopyOfBooks(ctx, copied); err != nil {
		var of *FileError
		if errors.As(err, &of) {
			of.Copy = true
		}
		return done, err
	}
	held, err := holdFile(path)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, held.release()) }()
	// The copy's copy is brought up to date, and noted as such, under another name.
	part := path + ".restoring"
	if err := removeFile(part); err != nil {
		return done, fmt.Errorf("store: restore: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, removeFile(part))
		}
	}()
	if err := copyFile(ctx, copied, part); err != nil {
		return done, err
	}
	if err := prepareRestored(ctx, part, ForgottenOf(path), now, &done); err != nil {
		return done, err
	}
	// What is replaced goes first, and whole: its log on top of another file would spoil it.
	if done.Kept, err = putAside(path, now); err != nil {
		return done, err
	}
	if err := putInPlace(part, path); err != nil {
		return done, fmt.Errorf("store: restore: %w", err)
	}
	return done, nil
}

// checkCopyOfBooks refuses a copy that is not sound all through, or holds no books.
func checkCopyOfBooks(ctx context.Context, copied string) error {
	if _, err := os.Stat(copied); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("store: there is no copy at %s: %w", copied, fs.ErrNotExist)
	}
	if err := checkHead(copied); err != nil {
		return err
	}
	state, err := checkFile(ctx, copied)
	if err != nil {
		return err
	}
	if state.purpose != ForBooks {
		return &FileError{Fault: FileRehearsal, Path: copied}
	}
	return checkWhole(ctx, copied)
}

// prepareRestored opens a copy as the program does, so that it is proved by that, and notes
// in it that it was put in place, and until when it knows what happened. Who was forgotten by
// the list is forgotten in it.
func prepareRestored(ctx context.Context, part, forgotten string, now time.Time, done *Restored) error {
	db, err := Open(ctx, part)
	if err != nil {
		return err
	}
	err = db.setPurpose(ctx, ForBooks)
	if err == nil {
		done.Forgotten, err = db.forgetAgain(ctx, forgotten, now)
	}
	if err == nil {
		err = db.noteRestored(ctx, now, done)
	}
	return errors.Join(err, db.Close(), removeBefore(part))
}

// noteRestored notes that books were put in place, and until when they know what happened.
func (db *DB) noteRestored(ctx context.Context, now time.Time, done *Restored) error {
	return db.write(ctx, "", func(t *tx) error {
		var newest int64
		if _, err := t.row([]any{&newest}, `SELECT coalesce(max(recorded), 0) FROM fact`); err != nil {
			return err
		}
		done.Last = moment(newest)
		return t.exec(`INSERT INTO restored (shop_id, at, last)
			SELECT shop_id, ?, `+lastKnown+`
			FROM (SELECT shop_id FROM shop UNION SELECT shop_id FROM machine) s WHERE true
			ON CONFLICT (shop_id) DO UPDATE SET at = excluded.at, last = min(last, excluded.last)`, stamp(now))
	})
}

// putAside gives a file, with the log that belongs to it, another name with a time in it.
func putAside(path string, now time.Time) (kept string, err error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	kept = path + ".replaced-" + now.UTC().Format(madeLayout)
	if _, err := os.Stat(kept); !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("store: restore: %s is there already: %w", kept, fs.ErrExist)
	}
	for _, end := range []string{"", "-wal"} {
		if err := os.Rename(path+end, kept+end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("store: restore: keep what was there: %w", err)
		}
	}
	// What is left is only in use while the file is.
	if err := removeFile(path); err != nil {
		return "", fmt.Errorf("store: restore: %w", err)
	}
	return kept, nil
}
