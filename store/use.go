package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"setscrew/domain"
)

// Making says whether Use makes a file.
type Making int

// When a file is made.
const (
	MakeNone    Making = iota // never: one that is missing is refused
	MakeMissing               // where there is none
	MakeNew                   // and one that is there is refused
)

// Use opens a file for the one program that works on it, and refuses with a *FileError a
// file that is not sound, is another's, is for another purpose or is worked on already. A
// file is made only as making says, whole or not at all.
func Use(ctx context.Context, path string, purpose Purpose, making Making) (*DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("store: find the file: %w", err)
	}
	_, err = os.Stat(abs)
	missing := errors.Is(err, fs.ErrNotExist)
	switch {
	case missing && making == MakeNone:
		return nil, &FileError{Fault: FileMissing, Path: abs}
	case err == nil && making == MakeNew:
		return nil, &FileError{Fault: FileExists, Path: abs}
	case err != nil && !missing:
		return nil, fileError(abs, err)
	}
	held, err := holdFile(abs)
	if err != nil {
		return nil, err
	}
	db, err := useHeld(ctx, abs, purpose, missing)
	if err != nil {
		return nil, errors.Join(fileError(abs, err), held.release())
	}
	db.held = held
	return db, nil
}

// useHeld is Use, once the file is held.
func useHeld(ctx context.Context, path string, purpose Purpose, missing bool) (*DB, error) {
	if missing {
		if err := makeFile(ctx, path, purpose); err != nil {
			return nil, err
		}
	}
	if err := checkHead(path); err != nil {
		return nil, err
	}
	state, err := checkFile(ctx, path)
	if err != nil {
		return nil, err
	}
	switch {
	case state.purpose == ForRehearsal && purpose == ForBooks:
		return nil, &FileError{Fault: FileRehearsal, Path: path}
	case state.purpose == ForBooks && purpose == ForRehearsal:
		return nil, &FileError{Fault: FileBooks, Path: path}
	}
	widened, stillWide := tighten(path)
	db, err := Open(ctx, path)
	if err != nil {
		return nil, err
	}
	db.widened, db.stillWide = widened, stillWide
	if err := db.setPurpose(ctx, purpose); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// makeFile makes a file that nobody else may read, under another name until it is whole.
func makeFile(ctx context.Context, path string, purpose Purpose) (err error) {
	part := path + ".new"
	defer func() {
		if err != nil {
			err = errors.Join(err, removeFile(part))
		}
	}()
	if err := removeFile(part); err != nil { // of a program that was ended while it made one
		return err
	}
	if err := makeEmpty(part); err != nil {
		return err
	}
	db, err := Open(ctx, part)
	if err != nil {
		return err
	}
	if err := errors.Join(db.setPurpose(ctx, purpose), db.Close()); err != nil {
		return err
	}
	return putInPlace(part, path)
}

// makeEmpty makes an empty file that nobody else may read; there must be none.
func makeEmpty(path string) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("make the file: %w", err)
	}
	return file.Close()
}

// putInPlace gives a whole file the name that it is known by, and has the disk keep both.
func putInPlace(part, path string) error {
	if err := syncPath(part); err != nil {
		return err
	}
	if err := os.Rename(part, path); err != nil {
		return fmt.Errorf("put the file in its place: %w", err)
	}
	return syncPath(filepath.Dir(path))
}

// syncPath has the disk keep what a file or a folder holds.
func syncPath(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("open to keep on disk: %w", err)
	}
	if err := errors.Join(file.Sync(), file.Close()); err != nil {
		return fmt.Errorf("keep on disk: %w", err)
	}
	return nil
}

// ofFile are what the files that belong to one file's name end with.
var ofFile = []string{"", "-wal", "-shm", "-journal"}

// removeFile removes a file and what SQLite keeps beside it, where they are there.
func removeFile(path string) error {
	var errs []error
	for _, end := range ofFile {
		if err := os.Remove(path + end); !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// tighten takes from others what they may do with a file and with what SQLite keeps beside
// it, and says what they could do. The error is why it could not be taken from them.
func tighten(path string) (widened string, err error) {
	for _, end := range ofFile {
		info, lookErr := os.Stat(path + end)
		if errors.Is(lookErr, fs.ErrNotExist) {
			continue
		}
		if lookErr != nil {
			return widened, errors.Join(err, fmt.Errorf("look at its permissions: %w", lookErr))
		}
		may := othersMay(info)
		if may == "" {
			continue
		}
		if widened == "" {
			widened = may
		}
		if modeErr := os.Chmod(path+end, 0o600); modeErr != nil {
			err = errors.Join(err, fmt.Errorf("take it from others: %w", modeErr))
		}
	}
	return widened, err
}

// setPurpose writes down what the file is for, where it does not say so yet.
func (db *DB) setPurpose(ctx context.Context, purpose Purpose) error {
	c, err := db.take(ctx, db.writer)
	if err != nil {
		return err
	}
	defer func() { db.writer <- c }()
	var is Purpose
	if err := c.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&is); err != nil {
		return fmt.Errorf("store: read what the file is for: %w", err)
	}
	if is == purpose {
		return nil
	}
	if _, err := c.ExecContext(ctx, fmt.Sprintf(`PRAGMA application_id = %d`, purpose)); err != nil {
		return fmt.Errorf("store: write down what the file is for: %w", err)
	}
	return nil
}

// Widened is what Use found that others could do with the file ("read", "write", "read and
// write"), "" for nothing. They no longer can, unless the error says why that could not be
// taken from them.
func (db *DB) Widened() (may string, err error) { return db.widened, db.stillWide }

// OthersMay is what users other than its owner may do with the file at a path, as Widened
// says it.
func OthersMay(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", fmt.Errorf("look at its permissions: %w", err)
	}
	return othersMay(info), nil
}

// Path is the file's full name.
func (db *DB) Path() string { return db.path }

// Found is what a file holds, counted.
type Found struct {
	Shops, Machines int // machines in use
	Tags            int // that stand
}

// Found counts what the file holds.
func (db *DB) Found(ctx context.Context) (found Found, err error) {
	err = db.read(ctx, domain.ShopID(""), func(t *tx) error {
		_, err := t.row([]any{&found.Shops, &found.Machines, &found.Tags}, `SELECT
			(SELECT count(DISTINCT shop_id) FROM (SELECT shop_id FROM shop UNION SELECT shop_id FROM machine)),
			(SELECT count(*) FROM machine WHERE retired IS NULL),
			(SELECT count(*) FROM tag WHERE lifted_by = 0)`)
		return err
	})
	return found, err
}
