package main

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"sync"
	"time"

	"setscrew/commands"
	"setscrew/domain"
	"setscrew/store"
)

// care looks after the books while the program runs: it sees once a minute whether their
// file stands where it did and can be written, and has it copied every night. The operator
// is told in the log when something begins and when it is over, and stewards by Ails.
type care struct {
	db     *store.DB
	folder string // for the copies
	place  *time.Location
	log    *slog.Logger

	mu      sync.Mutex
	trouble domain.Trouble // as last told
	late    bool           // so is the last copy
	tried   time.Time      // when a copy was last tried that failed
	checked bool           // every page was looked through
}

func newCare(db *store.DB, folder string, log *slog.Logger) *care {
	if folder == "" {
		folder = store.BackupsOf(db.Path())
	}
	return &care{db: db, folder: folder, place: time.Local, log: log}
}

// jobs are what is done once a minute, each by itself.
func (c *care) jobs() []func(context.Context, time.Time) {
	return []func(context.Context, time.Time){
		func(context.Context, time.Time) { c.look() },
		func(ctx context.Context, now time.Time) { c.check(ctx); c.copy(ctx, now) },
	}
}

// look tells the operator of what has become the matter with the file, or no longer is.
func (c *care) look() {
	var said *domain.BooksError
	err := c.db.Look()
	trouble := domain.Trouble("")
	if errors.As(err, &said) {
		trouble = said.Trouble
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if trouble == c.trouble {
		return
	}
	switch {
	case trouble == domain.BooksFull || trouble == domain.BooksUnreachable:
		c.log.Error("the books can soon take nothing more, or cannot now", "trouble", trouble, "error", err)
	case trouble != "":
		c.log.Error("reports are not taken until the books are right again", "trouble", trouble, "error", err)
	default:
		c.log.Info("the books are right again", "trouble", c.trouble)
	}
	c.trouble = trouble
}

// check looks once through all of the file, whose result decides whether reports go on.
func (c *care) check(ctx context.Context) {
	c.mu.Lock()
	done := c.checked
	c.checked = true
	c.mu.Unlock()
	if done {
		return
	}
	switch err := c.db.CheckPages(ctx); {
	case err == nil:
		c.log.Info("the books are sound", "books", c.db.Path())
	case ctx.Err() == nil:
		c.log.Error("the books are not sound: put a copy in their place (setscrew restore)", "error", err)
	}
	c.look()
}

// copyAgain is how long after a copy that failed another is tried.
const copyAgain = time.Hour

// copy makes a copy where one is due, and says how old the last is where that is late.
func (c *care) copy(ctx context.Context, now time.Time) {
	all, err := store.Copies(c.db.Path(), c.folder)
	if err != nil {
		c.log.Error("copies cannot be listed", "error", err)
	}
	last, _ := store.LastCopy(all, now)
	c.mu.Lock()
	wait := now.Before(c.tried.Add(copyAgain)) && !now.Before(c.tried)
	c.mu.Unlock()
	if store.BackupDue(last.Made, now, c.place) && !wait {
		made, err := store.Backup(ctx, c.db.Path(), c.folder, now)
		switch {
		case err == nil:
			last = made
			c.log.Info("the books are copied", "copy", made.Path, "bytes", made.Size)
			if err := store.Thin(c.db.Path(), c.folder); err != nil {
				c.log.Warn("old copies are not removed", "error", err)
			}
		case ctx.Err() != nil:
			return
		default:
			c.log.Error("the books could not be copied", "error", err, "again", copyAgain)
			c.mu.Lock()
			c.tried = now
			c.checked = c.checked && !unsound(err) // look through the file itself
			c.mu.Unlock()
		}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	late := now.Sub(last.Made) > store.BackupLate
	switch {
	case late && !c.late && last.Path == "":
		c.log.Warn("there is no copy of the books", "folder", c.folder)
	case late && !c.late:
		c.log.Warn("the last copy of the books is old", "copy", last.Path, "age", now.Sub(last.Made).Round(time.Hour))
	case c.late && !late:
		c.log.Info("the books have a copy again", "copy", last.Path)
	}
	c.late = late
}

// unsound reports whether an error says that a file is damaged.
func unsound(err error) bool {
	var file *store.FileError
	return errors.As(err, &file) && ofFault[file.Fault] == exitDamaged
}

// logCopies says how old the last copy is, when the program starts.
func (c *care) logCopies(now time.Time) {
	all, err := store.Copies(c.db.Path(), c.folder)
	if last, ok := store.LastCopy(all, now); ok {
		c.log.Info("last copy of the books", "copy", filepath.Base(last.Path), "age",
			now.Sub(last.Made).Round(time.Minute))
		return
	}
	if err != nil {
		c.log.Warn("the copies of the books cannot be listed", "folder", c.folder, "error", err)
		return
	}
	c.log.Info("no copy of the books yet", "folder", c.folder)
}

// Ails says what stewards are told of the books, until it is over.
func (c *care) Ails() (all []commands.Ail) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if ail, ok := ofTrouble[c.trouble]; ok {
		all = append(all, ail)
	}
	if c.late {
		all = append(all, commands.AilCopy)
	}
	return all
}

// Examine looks over the books and their copies.
func (c *care) Examine(ctx context.Context, now time.Time) []domain.Finding {
	return c.db.Examine(ctx, c.folder, now)
}

// ofTrouble is what stewards are told of each trouble that a look at the file finds.
var ofTrouble = map[domain.Trouble]commands.Ail{
	domain.BooksFull: commands.AilFull, domain.BooksUnreachable: commands.AilUnreachable,
	domain.BooksMoved: commands.AilMoved, domain.BooksDamaged: commands.AilDamaged,
}
