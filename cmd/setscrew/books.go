package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"

	"setscrew/store"
)

// booksFile is the flag that names the books, for every command that needs them.
type booksFile struct {
	DB string `default:"setscrew.db" placeholder:"FILE" help:"The file that holds the shops' books."`
}

type initCmd struct{ booksFile }

// Run makes empty books.
func (c *initCmd) Run(ctx context.Context, std streams) error {
	db, err := store.Use(ctx, c.DB, store.ForBooks, store.MakeNew)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(std.out, "Empty books are at %s. Now: setscrew run --db %[1]s\n", db.Path())
	return errors.Join(err, db.Close())
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
	if may := db.Widened(); may != "" {
		log.Warn("others on this machine could "+may+" the books, and no longer can", "books", db.Path())
	}
	log.Info("starting", "books", db.Path(), "shops", found.Shops, "machines", found.Machines, "tags", found.Tags)
	return db, nil
}

// warnOfToken warns of a token's file that others can read.
func warnOfToken(log *slog.Logger) {
	path := os.Getenv(tokenFileVariable)
	if path == "" || os.Getenv(tokenVariable) != "" {
		return
	}
	if may, err := store.OthersMay(path); err == nil && may != "" {
		log.Warn("others on this machine may "+may+" the token: chmod 600 its file", "file", path)
	}
}
