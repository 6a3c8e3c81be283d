package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"time"

	"setscrew/bot"
	"setscrew/commands"
	"setscrew/commands/words"
	"setscrew/domain"
	"setscrew/store"
)

// booksFile is the flag that names the books, for every command that needs them.
type booksFile struct {
	DB string `default:"setscrew.db" placeholder:"FILE" env:"SETSCREW_DB" help:"The file that holds the shops' books."`
}

// backupsFolder is the flag that names the folder for copies.
type backupsFolder struct {
	Backups string `placeholder:"DIR" env:"SETSCREW_BACKUPS" help:"${copiesHelp}"`
}

// in is the folder for the copies of the books at a path.
func (f backupsFolder) in(path string) string {
	if f.Backups != "" {
		return f.Backups
	}
	return store.BackupsOf(path)
}

// useBooks opens the books for a program that answers, and logs what it found.
func useBooks(ctx context.Context, path string, making store.Making, log *slog.Logger) (*store.DB, error) {
	db, err := store.Use(ctx, path, store.ForBooks, making)
	if err != nil {
		return nil, err
	}
	found, err := db.Found(ctx)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	switch may, err := db.Widened(); {
	case err != nil:
		log.Warn("others on this machine may "+may+" the books, which could not be taken from them", "books", db.Path(),
			"error", err)
	case may != "":
		log.Warn("others on this machine could "+may+" the books, and no longer can", "books", db.Path())
	}
	log.Info("starting", "books", db.Path(), "shops", found.Shops, "machines", found.Machines, "tags", found.Tags)
	return db, nil
}

// warnOfToken warns of a token's file that others can read.
func warnOfToken(path string, log *slog.Logger) {
	if path == "" || os.Getenv(tokenVariable) != "" {
		return
	}
	if may, err := store.OthersMay(path); err == nil && may != "" {
		log.Warn("others on this machine may "+may+" the token: chmod 600 its file", "file", path)
	}
}

type backupCmd struct {
	booksFile
	To string `placeholder:"DIR" help:"The folder to copy into; FILE.backups if not given."`
}

// Run copies the books.
func (c *backupCmd) Run(ctx context.Context, std streams) error {
	made, err := store.Backup(ctx, c.DB, backupsFolder{c.To}.in(c.DB), std.now())
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(std.out, "Copied and checked: %s\n", made.Path)
	return err
}

type restoreCmd struct {
	booksFile
	Copy string `arg:"" help:"The copy: its file."`
}

// Run puts a copy in the books' place.
func (c *restoreCmd) Run(ctx context.Context, std streams) error {
	done, err := store.Restore(ctx, c.Copy, c.DB, std.now())
	if err != nil {
		return err
	}
	fmt.Fprintf(std.out, "Put in place: %s\nThe last report that these books know: %s\n", done.Path,
		done.Last.Format("Mon 2 Jan 2006 15:04 UTC"))
	if done.Forgotten > 0 {
		fmt.Fprintf(std.out, "People who were forgotten again: %d\n", done.Forgotten)
	}
	if done.Kept != "" {
		fmt.Fprintf(std.out, "What was there before is kept: %s\n", done.Kept)
	}
	return nil
}

type doctorCmd struct {
	booksFile
	backupsFolder
	tokenFlag
	Full bool `help:"Compare what is derived with the facts, too, and look at every index."`
}

// ailing is a doctor that found something, by the first that it found.
type ailing struct{ first error }

// Error says where to look.
func (ailing) Error() string { return "not all is well: see TO DO above" }

// Unwrap is what was found first.
func (a ailing) Unwrap() error { return a.first }

// Run looks at the books and, where a token is given, at the account in Discord, and says
// one line of each thing.
func (c *doctorCmd) Run(ctx context.Context, std streams) error {
	all := store.Examine(ctx, c.DB, c.in(c.DB), c.Full, std.now())
	atDiscord, err := c.examineDiscord(ctx, std.now)
	if err != nil {
		return err
	}
	var first error
	for _, found := range append(all, atDiscord...) {
		if found.Err == nil {
			fmt.Fprintf(std.out, "%-12s fine  %s\n", found.Look, found.Says)
			continue
		}
		fmt.Fprintf(std.out, "%-12s TO DO %s\n", found.Look, found.Err)
		// What is wrong with the file itself says most.
		var file *store.FileError
		if first == nil || !errors.As(first, &file) && errors.As(found.Err, &file) {
			first = found.Err
		}
	}
	if first != nil {
		return ailing{first}
	}
	fmt.Fprintln(std.out, "All is well.")
	return nil
}

// examineDiscord looks at the account in Discord, if a token is given. What its servers let
// it do is for /shop check, in each.
func (c *doctorCmd) examineDiscord(ctx context.Context, now func() time.Time) ([]domain.Finding, error) {
	token, err := readToken(c.env)
	if errors.Is(err, errToken) {
		return nil, nil
	}
	if err != nil {
		return []domain.Finding{{Look: domain.LookToken, Err: err}}, nil
	}
	client, err := discordClient(os.Getenv(apiVariable))
	if err != nil {
		return nil, err
	}
	cat, err := words.Load()
	if err != nil {
		return nil, err
	}
	ctx, stop := context.WithTimeout(ctx, askWithin)
	defer stop()
	return bot.Examine(ctx, token, client, commands.NewDesk(nil, nil, cat), now), nil
}
