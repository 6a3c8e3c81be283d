package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/mattn/go-sqlite3"
)

// copySteps is how many pages of a file are copied before it is looked whether the copying
// was given up.
const copySteps = 4096

// copyFile copies a file as it stands at one moment, by SQLite's own online backup: beside
// whatever program works on it, which may go on writing meanwhile. The copy is one file,
// which nobody else may read; it is checked, and on disk, before it has its name. There
// must be no file of that name.
func copyFile(ctx context.Context, path, into string) (err error) {
	if _, err := os.Stat(into); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("store: copy %s: %s is there already: %w", path, into, fs.ErrExist)
	}
	part := into + ".part"
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("store: copy %s: %w", path, err), removeFile(part))
		}
	}()
	if err := removeFile(part); err != nil { // of a program that was ended while it copied
		return err
	}
	if err := makeEmpty(part); err != nil {
		return err
	}
	if err := copyPages(ctx, path, part); err != nil {
		return err
	}
	if err := checkCopy(ctx, path, part); err != nil {
		return err
	}
	return putInPlace(part, into)
}

// copyPages copies every page of a file into an empty one.
func copyPages(ctx context.Context, path, into string) (err error) {
	from, err := lookInto(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	to, err := sql.Open("sqlite3", source(into, "_synchronous=OFF"))
	if err != nil {
		return fmt.Errorf("open the copy: %w", err)
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	to.SetMaxOpenConns(1)
	reading, err := from.Conn(ctx)
	if err != nil {
		return fileError(path, fmt.Errorf("open it: %w", err))
	}
	defer func() { err = errors.Join(err, reading.Close()) }()
	writing, err := to.Conn(ctx)
	if err != nil {
		return fmt.Errorf("open the copy: %w", err)
	}
	defer func() { err = errors.Join(err, writing.Close()) }()
	// One read transaction around all of it: every page is of the same moment, and the
	// copying never begins from the start because somebody wrote.
	var tables int
	if _, err := reading.ExecContext(ctx, `BEGIN`); err != nil {
		return fileError(path, fmt.Errorf("read it: %w", err))
	}
	if err := reading.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema`).Scan(&tables); err != nil {
		return fileError(path, fmt.Errorf("read it: %w", err))
	}
	err = reading.Raw(func(source any) error {
		return writing.Raw(func(copied any) error {
			return stepThrough(ctx, source.(*sqlite3.SQLiteConn), copied.(*sqlite3.SQLiteConn))
		})
	})
	if err != nil {
		return fileError(path, err)
	}
	// A copy with a log of its own beside it would be two files.
	if _, err := writing.ExecContext(ctx, `PRAGMA journal_mode = DELETE`); err != nil {
		return fmt.Errorf("make the copy one file: %w", err)
	}
	return nil
}

// stepThrough copies all pages from one connection to another.
func stepThrough(ctx context.Context, from, to *sqlite3.SQLiteConn) (err error) {
	backup, err := to.Backup("main", from, "main")
	if err != nil {
		return fmt.Errorf("begin copying: %w", err)
	}
	defer func() { err = errors.Join(err, backup.Finish()) }()
	for done := false; !done; {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("copy its pages: %w", err)
		}
		if done, err = backup.Step(copySteps); err != nil {
			return fmt.Errorf("copy its pages: %w", err)
		}
	}
	return nil
}

// checkCopy refuses a copy whose pages or tables are not sound; since it is one of the
// file, the fault is the file's.
func checkCopy(ctx context.Context, path, copied string) error {
	db, err := lookInto(copied)
	if err != nil {
		return err
	}
	wrong, err := quickCheck(ctx, db, "quick_check")
	if err := errors.Join(fileError(path, err), db.Close()); err != nil {
		return err
	}
	if len(wrong) > 0 {
		return &FileError{Fault: FileDamaged, Path: path, Err: errors.New(strings.Join(wrong, "; "))}
	}
	var of *FileError
	if _, err := checkFile(ctx, copied); errors.As(err, &of) {
		return &FileError{Fault: of.Fault, Path: path, Err: of.Err}
	} else if err != nil {
		return err
	}
	return nil
}

// Copy is a backup: a whole file that was checked when it was made.
type Copy struct {
	Path string
	Made time.Time
	Size int64 // bytes
}

// madeLayout is how a backup's name says when it was made, in UTC.
const madeLayout = "20060102T150405Z"

// BackupsOf is the folder in which the backups of the books at a path lie.
func BackupsOf(path string) string { return path + ".backups" }

// stem is what the names of a file's backups begin with.
func stem(path string) string {
	base := filepath.Base(path)
	return strings.TrimSuffix(base, filepath.Ext(base)) + "-"
}

// Backup copies the books at a path into a folder, which is made where it is missing. It
// works beside the program that answers.
func Backup(ctx context.Context, path, folder string, now time.Time) (Copy, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return Copy{}, fmt.Errorf("store: find the file: %w", err)
	}
	if _, err := os.Stat(abs); errors.Is(err, fs.ErrNotExist) {
		return Copy{}, &FileError{Fault: FileMissing, Path: abs}
	}
	if folder, err = filepath.Abs(folder); err != nil {
		return Copy{}, fmt.Errorf("store: find the folder for copies: %w", err)
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return Copy{}, fmt.Errorf("store: make the folder for copies: %w", err)
	}
	made := now.UTC().Truncate(time.Second)
	copied := filepath.Join(folder, stem(abs)+made.Format(madeLayout)+filepath.Ext(abs))
	if err := copyFile(ctx, abs, copied); err != nil {
		return Copy{}, err
	}
	info, err := os.Stat(copied)
	if err != nil {
		return Copy{}, fmt.Errorf("store: look at the copy: %w", err)
	}
	return Copy{copied, made, info.Size()}, nil
}

// Copies lists the backups of the books at a path in a folder, the latest first. What has
// another name is nobody's backup.
func Copies(path, folder string) (all []Copy, err error) {
	entries, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("store: list the copies: %w", err)
	}
	for _, entry := range entries {
		name, ok := strings.CutPrefix(entry.Name(), stem(path))
		if !ok {
			continue
		}
		if name, ok = strings.CutSuffix(name, filepath.Ext(path)); !ok {
			continue
		}
		made, err := time.Parse(madeLayout, name)
		if err != nil {
			continue
		}
		info, err := entry.Info()
		if err != nil {
			return nil, fmt.Errorf("store: look at a copy: %w", err)
		}
		all = append(all, Copy{filepath.Join(folder, entry.Name()), made, info.Size()})
	}
	slices.SortFunc(all, func(a, b Copy) int { return b.Made.Compare(a.Made) })
	return all, nil
}

// How many backups are kept: the last of each of a number of days, weeks and months that have
// any, so that a long pause takes none away.
const (
	keptDays   = 7
	keptWeeks  = 4
	keptMonths = 12
)

// Thin removes the backups of the books at a path that are older than what is kept: the
// last of each of the last 7 days, 4 weeks and 12 months.
func Thin(path, folder string) error {
	all, err := Copies(path, folder)
	if err != nil {
		return err
	}
	var errs []error
	for _, old := range surplus(all) {
		if err := os.Remove(old.Path); err != nil {
			errs = append(errs, fmt.Errorf("store: remove an old copy: %w", err))
		}
	}
	return errors.Join(errs...)
}

// surplus are those of some backups, the latest first, that are not kept.
func surplus(all []Copy) (old []Copy) {
	day := func(t time.Time) string { return t.Format(time.DateOnly) }
	week := func(t time.Time) string { y, w := t.ISOWeek(); return fmt.Sprint(y, " ", w) }
	month := func(t time.Time) string { return t.Format("2006-01") }
	kept := make([]bool, len(all))
	for _, rule := range []struct {
		period func(time.Time) string
		most   int
	}{{day, keptDays}, {week, keptWeeks}, {month, keptMonths}} {
		seen := map[string]bool{}
		for i, one := range all {
			if in := rule.period(one.Made); !seen[in] && len(seen) < rule.most {
				seen[in], kept[i] = true, true
			}
		}
	}
	for i, one := range all {
		if !kept[i] {
			old = append(old, one)
		}
	}
	return old
}

// LastCopy is the latest of some backups, the latest first, that was made at now or before:
// one from a time when the clock was ahead is not counted on. ok is false for none.
func LastCopy(all []Copy, now time.Time) (last Copy, ok bool) {
	for _, one := range all {
		if !one.Made.After(now) {
			return one, true
		}
	}
	return Copy{}, false
}

// BackupLate is the age of the last backup from which on it is late: nights are a day
// apart, and one may take its time.
const BackupLate = 36 * time.Hour

// BackupDue reports whether a backup is due that is made every night: none was made since
// the last half past three by the clock of a place.
func BackupDue(last, now time.Time, place *time.Location) bool {
	local := now.In(place)
	night := time.Date(local.Year(), local.Month(), local.Day(), 3, 30, 0, 0, place)
	if night.After(now) {
		night = time.Date(local.Year(), local.Month(), local.Day()-1, 3, 30, 0, 0, place)
	}
	return last.Before(night)
}
