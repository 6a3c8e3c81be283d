package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"setscrew/domain"
	"setscrew/store"
)

type exportCmd struct {
	booksFile
	To   string `arg:"" optional:"" placeholder:"FILE" help:"A new file, or - for the standard output."`
	CSV  string `name:"csv" placeholder:"DIR" help:"Write files for spreadsheets into this new folder."`
	Shop string `placeholder:"ID" help:"Only the shop of this id."`
}

// Run writes the books out, beside whatever program works on them.
func (c *exportCmd) Run(ctx context.Context, std streams) error {
	shop := domain.ShopID(c.Shop)
	if c.To == "" && c.CSV == "" {
		return errors.New("export: say where to: setscrew export books.jsonl, or setscrew export --csv FOLDER")
	}
	if c.CSV != "" {
		done, err := store.ExportCSV(ctx, c.DB, shop, c.CSV)
		if err != nil {
			return err
		}
		fmt.Fprintf(std.err, "Written for people: %s, shops: %d, reports: %d\n", c.CSV, done.Shops, done.Facts)
	}
	switch c.To {
	case "":
		return nil
	case "-":
		_, err := store.Export(ctx, c.DB, shop, std.out)
		return err
	}
	return c.intoFile(ctx, shop, std)
}

// intoFile writes the export under another name until it is whole.
func (c *exportCmd) intoFile(ctx context.Context, shop domain.ShopID, std streams) (err error) {
	if _, err := os.Stat(c.To); !errors.Is(err, fs.ErrNotExist) {
		return errors.Join(fmt.Errorf("export: there is something at %s already, and it is left as it is: name "+
			"another file", c.To), err)
	}
	part := c.To + ".part"
	file, err := os.OpenFile(part, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("export: make the file: %w", err)
	}
	done, err := store.Export(ctx, c.DB, shop, file)
	if err = errors.Join(err, file.Sync(), file.Close()); err == nil {
		err = os.Rename(part, c.To)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("export: %w", err), os.Remove(part))
	}
	_, err = fmt.Fprintf(std.out, "Exported: %s, shops: %d, reports: %d, lines: %d\n", c.To, done.Shops, done.Facts,
		done.Lines+1)
	return err
}

type importCmd struct {
	booksFile
	From      string `arg:"" placeholder:"FILE" help:"What setscrew export wrote; - for the standard input."`
	Forgotten string `placeholder:"FILE" help:"Also go by this list of who was forgotten."`
}

// Run makes new books of an export.
func (c *importCmd) Run(ctx context.Context, std streams) (err error) {
	from := std.in
	if c.From != "-" {
		file, err := os.Open(c.From)
		if err != nil {
			return fmt.Errorf("import: %w", err)
		}
		defer file.Close() //nolint:errcheck // nothing was written
		from = file
	}
	done, err := store.Import(ctx, from, c.DB, c.Forgotten, std.now())
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(std.out, "New books: %s, shops: %d, reports: %d. Every line was taken, and what follows from "+
		"them is worked out again.\n", c.DB, done.Shops, done.Facts)
	if err == nil && done.Forgotten > 0 {
		_, err = fmt.Fprintf(std.out, "People who were forgotten again: %d\n", done.Forgotten)
	}
	return err
}
