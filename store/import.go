package store

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"setscrew/domain"
)

// longestLine is how long a line of an export may be, in bytes: far more than a photo takes.
const longestLine = 64 << 20

// LineError is a line of an export that cannot be taken.
type LineError struct {
	Line int // from 1, the head's
	Err  error
}

// Error says which line, and why.
func (e *LineError) Error() string { return fmt.Sprintf("line %d: %v", e.Line, e.Err) }

// Unwrap is why.
func (e *LineError) Unwrap() error { return e.Err }

// Import makes new books at a path from what Export wrote, whole or not at all: a file that
// is there is refused, every line must be good, the counts of the head are proved, and what
// is derived is made again. Whoever was forgotten, by the list beside the new books and by
// another where one is named, is forgotten in them too. The shops' channels are to be held
// against them, as after Restore.
func Import(ctx context.Context, from io.Reader, path, forgotten string, now time.Time) (done Exported, err error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return done, fmt.Errorf("store: find the file: %w", err)
	}
	if _, err := os.Stat(abs); !errors.Is(err, fs.ErrNotExist) {
		if err == nil {
			err = &FileError{Fault: FileExists, Path: abs}
		}
		return done, fileError(abs, err)
	}
	held, err := holdFile(abs)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, held.release()) }()
	part := abs + ".importing"
	if err := errors.Join(removeFile(part), makeEmpty(part)); err != nil {
		return done, fileError(abs, fmt.Errorf("store: import: %w", err))
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, removeFile(part), removeBefore(part))
		}
	}()
	// The rows, under the schema that they have; then the file as the program opens it.
	head, err := importRows(ctx, from, part, now)
	if err != nil {
		return done, fmt.Errorf("store: import: %w", err)
	}
	if err := mergeForgotten(ForgottenOf(abs), forgotten); err != nil {
		return done, fmt.Errorf("store: import: %w", err)
	}
	if done, err = deriveImported(ctx, part, ForgottenOf(abs), head, now); err != nil {
		return done, fmt.Errorf("store: import: %w", err)
	}
	if err := putInPlace(part, abs); err != nil {
		return done, fmt.Errorf("store: import: %w", err)
	}
	return done, nil
}

// deriveImported brings imported rows up to date, makes all that is derived, and proves the
// counts. Who was forgotten by a list is forgotten in them.
func deriveImported(ctx context.Context, part, list string, head exportHead, now time.Time) (done Exported, err error) {
	db, err := Open(ctx, part)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, db.Close(), removeBefore(part)) }()
	if err := db.setPurpose(ctx, purposes[head.For]); err != nil {
		return done, err
	}
	shops, err := db.importedShops(ctx)
	if err != nil {
		return done, err
	}
	for _, shop := range shops {
		if err := db.Shop(shop).Rebuild(ctx); err != nil {
			return done, fmt.Errorf("derive again for shop %s: %w", shop, err)
		}
	}
	done.Shops, done.Derived, done.Facts = head.Counts["restored"], len(shops), head.Counts["fact"]
	err = db.read(ctx, "", func(t *tx) error {
		for _, table := range exportedTables {
			var n int
			if _, err := t.row([]any{&n}, `SELECT count(*) FROM `+table.name); err != nil {
				return err
			}
			// A migration may add to what an earlier schema's export held.
			if want := head.Counts[table.name]; n < want || n > want && head.Schema == db.schema() {
				return fmt.Errorf("%d rows of %s stand in the new books, the head says %d", n, table.name, want)
			}
			done.Lines += n
		}
		return nil
	})
	if err == nil {
		done.Forgotten, err = db.forgetAgain(ctx, list, now)
	}
	return done, err
}

// schema is the number of the schema that the file has: the newest.
func (*DB) schema() int64 {
	newest, err := newestSchema()
	if err != nil {
		return 0
	}
	return newest
}

// importedShops lists the shops that have facts in the file.
func (db *DB) importedShops(ctx context.Context) (all []domain.ShopID, err error) {
	err = db.read(ctx, "", func(t *tx) error {
		var shop domain.ShopID
		return t.rows([]any{&shop}, func() error { all = append(all, shop); return nil },
			`SELECT DISTINCT shop_id FROM fact ORDER BY shop_id`)
	})
	return all, err
}

// importRows writes the lines of an export into an empty file of their schema.
func importRows(ctx context.Context, from io.Reader, part string, now time.Time) (head exportHead, err error) {
	lines := bufio.NewScanner(from)
	lines.Buffer(make([]byte, 0, 1<<16), longestLine)
	if !lines.Scan() {
		return head, &LineError{1, errors.Join(errors.New("there is nothing"), lines.Err())}
	}
	if head, err = readHead(lines.Bytes()); err != nil {
		return head, &LineError{1, err}
	}
	db, err := sql.Open("sqlite3", source(part, "_synchronous=OFF&_txlock=immediate"))
	if err != nil {
		return head, fmt.Errorf("open the new books: %w", err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	provider, err := newProvider(db)
	if err != nil {
		return head, err
	}
	if _, err := provider.UpTo(ctx, head.Schema); err != nil {
		return head, fmt.Errorf("make books of schema %d: %w", head.Schema, err)
	}
	writing, err := db.BeginTx(ctx, nil)
	if err != nil {
		return head, fmt.Errorf("begin to write: %w", err)
	}
	rows := &importer{ctx: ctx, tx: writing, now: now, tables: map[string]*importTable{}, counts: map[string]int{}}
	line := 1
	for err == nil && lines.Scan() {
		line++
		if err = rows.line(lines.Bytes()); err != nil {
			err = &LineError{line, err}
		}
	}
	if err == nil && lines.Err() != nil {
		err = &LineError{line + 1, lines.Err()}
	}
	if err == nil && !maps.Equal(nonZero(head.Counts), rows.counts) {
		err = fmt.Errorf("the head promises the rows %v, there are %v: the export is not whole, or was altered",
			nonZero(head.Counts), rows.counts)
	}
	if err != nil {
		return head, errors.Join(err, writing.Rollback())
	}
	if err := writing.Commit(); err != nil {
		return head, fmt.Errorf("write the new books: %w", err)
	}
	return head, nil
}

// readHead reads an export's first line, and refuses what is none or a later version's.
func readHead(text []byte) (head exportHead, err error) {
	newest, err := newestSchema()
	if err != nil {
		return head, err
	}
	numbers, err := schemaNumbers()
	if err != nil {
		return head, err
	}
	switch err := json.Unmarshal(text, &head); {
	case err != nil || head.Setscrew != "export":
		return head, errors.New(`this is no export of Setscrew's: its first line begins {"setscrew":"export"`)
	case head.Format > exportFormat || head.Schema > newest:
		return head, fmt.Errorf("format %d, schema %d; this program knows %d and %d: %w", head.Format, head.Schema,
			exportFormat, newest, ErrNewer)
	case head.Format < 1 || !slices.Contains(numbers, head.Schema) || purposes[head.For] == 0:
		return head, fmt.Errorf("there never was a format %d, schema %d, for %q", head.Format, head.Schema, head.For)
	}
	return head, nil
}

// nonZero is counts without those of nothing.
func nonZero(counts map[string]int) map[string]int {
	counts = maps.Clone(counts)
	maps.DeleteFunc(counts, func(_ string, n int) bool { return n == 0 })
	return counts
}

// importer writes lines of an export into a file.
type importer struct {
	ctx    context.Context //nolint:containedctx // it lives for one import
	tx     *sql.Tx
	now    time.Time
	tables map[string]*importTable
	counts map[string]int
}

// importTable is a table with the columns that lines give it, and its prepared insert.
type importTable struct {
	columns []string
	insert  *sql.Stmt
}

// line writes one line.
func (m *importer) line(text []byte) error {
	var row map[string]json.RawMessage
	if err := json.Unmarshal(text, &row); err != nil {
		return fmt.Errorf("it is no JSON object: %w", err)
	}
	var name string
	if err := json.Unmarshal(row["table"], &name); err != nil {
		return errors.New(`it does not say which "table" it is of`)
	}
	table, err := m.table(name)
	if err != nil {
		return err
	}
	if len(row) != len(table.columns)+1 {
		return fmt.Errorf("a row of %s has the columns %s, this has %d others or lacks some", name,
			strings.Join(table.columns, ", "), len(row)-1)
	}
	values := make([]any, len(table.columns))
	for i, column := range table.columns {
		given, there := row[column]
		if !there {
			return fmt.Errorf("a row of %s without %s", name, column)
		}
		if values[i], err = importValue(column, given); err != nil {
			return fmt.Errorf("%s of %s: %w", column, name, err)
		}
	}
	switch name {
	case "fact":
		more, err := derivedOfRow(row)
		if err != nil {
			return err
		}
		values = append(values, more...)
	case "restored":
		values = append(values, stamp(m.now))
	}
	if _, err := table.insert.ExecContext(m.ctx, values...); err != nil {
		return fmt.Errorf("a row of %s: %w", name, err)
	}
	m.counts[name]++
	return nil
}

// derivedOfRow is what stands with a fact and follows from its body: the use that it tells
// of, and whether it is believed. It refuses a body that cannot be read.
func derivedOfRow(row map[string]json.RawMessage) ([]any, error) {
	var kind domain.Kind
	if err := json.Unmarshal(row["kind"], &kind); err != nil {
		return nil, fmt.Errorf("kind of fact: %w", err)
	}
	text, err := importValue("body", row["body"])
	if err != nil {
		return nil, fmt.Errorf("body of fact: %w", err)
	}
	written, ok := text.(string)
	if !ok {
		return nil, errors.New("body of fact: it is no JSON object")
	}
	body, err := domain.DecodeBody(kind, []byte(written))
	if err != nil {
		return nil, err
	}
	return []any{domain.UseTold(body), domain.Believed(body)}, nil
}

// table is the table of a name, with the columns of its exports that it has in this schema.
func (m *importer) table(name string) (*importTable, error) {
	if known := m.tables[name]; known != nil {
		return known, nil
	}
	i := slices.IndexFunc(exportedTables, func(t exportedTable) bool { return t.name == name })
	if i < 0 {
		return nil, fmt.Errorf("no table is called %q", name)
	}
	rows, err := m.tx.QueryContext(m.ctx, `SELECT name FROM pragma_table_info(?)`, name)
	if err != nil {
		return nil, fmt.Errorf("read the columns of %s: %w", name, err)
	}
	defer rows.Close()
	var has []string
	for rows.Next() {
		var column string
		if err := rows.Scan(&column); err != nil {
			return nil, fmt.Errorf("read the columns of %s: %w", name, err)
		}
		has = append(has, column)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("read the columns of %s: %w", name, err)
	}
	table := &importTable{columns: slices.DeleteFunc(slices.Clone(exportedTables[i].columns),
		func(column string) bool { return !slices.Contains(has, column) })}
	into := slices.Clone(table.columns)
	switch name {
	case "fact":
		into = append(into, "seconds", "believed")
	case "restored":
		into = append(into, "at")
	}
	marks := bytes.Repeat([]byte("?, "), len(into))
	if table.insert, err = m.tx.PrepareContext(m.ctx, fmt.Sprintf(`INSERT INTO %s (%s) VALUES (%s)`, name,
		strings.Join(into, ", "), marks[:len(marks)-2])); err != nil {
		return nil, fmt.Errorf("prepare for rows of %s: %w", name, err)
	}
	m.tables[name] = table
	return table, nil
}
