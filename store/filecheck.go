package store

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pressly/goose/v3"
)

// Purpose is what a file is for. It stands in the file's head, as SQLite's application_id.
type Purpose int64

// The purposes. A file from before they were written down has none, and is told by the
// state of a rehearsal beside it.
const (
	ForBooks     Purpose = 0x53637742
	ForRehearsal Purpose = 0x53637752
)

// besideRehearsal is what the file beside a rehearsal's ends with.
const besideRehearsal = ".rehearsal"

// The head of an SQLite file: https://sqlite.org/fileformat.html, 1.3.
const (
	headSize   = 100
	headMagic  = "SQLite format 3\x00"
	headPages  = 28 // the file's size in pages
	headChange = 24 // changes counted; where headPages was counted last stands in headValid
	headValid  = 92
	headPage   = 16 // the size of a page; 1 stands for 65,536
)

// checkHead looks at a file before SQLite does: whether it is one of SQLite's, and whole.
// No connection of this process may be open on the file, since to close it here would let
// go of SQLite's locks.
func checkHead(path string) error {
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return fileError(path, err)
	}
	defer file.Close() //nolint:errcheck // nothing was written
	info, err := file.Stat()
	if err != nil {
		return fileError(path, err)
	}
	head := make([]byte, headSize)
	n, err := io.ReadFull(file, head)
	switch {
	case n == 0:
		return &FileError{Fault: FileEmpty, Path: path}
	case !bytes.HasPrefix(head, []byte(headMagic[:min(n, len(headMagic))])):
		return &FileError{Fault: FileForeign, Path: path}
	case n < headSize:
		return &FileError{Fault: FileShort, Path: path}
	case err != nil:
		return fileError(path, err)
	}
	// What a log beside it holds may be still to come.
	if log, err := os.Stat(path + "-wal"); err == nil && log.Size() > 0 {
		return nil
	}
	page := int64(binary.BigEndian.Uint16(head[headPage:]))
	if page == 1 {
		page = 1 << 16
	}
	counted := bytes.Equal(head[headChange:headChange+4], head[headValid:headValid+4])
	if counted && info.Size() < page*int64(binary.BigEndian.Uint32(head[headPages:])) {
		return &FileError{Fault: FileShort, Path: path}
	}
	return nil
}

// source is a file's data source for SQLite, which has to take any character of a path.
func source(path, options string) string {
	return (&url.URL{Scheme: "file", Path: filepath.ToSlash(path)}).String() + "?" + options
}

// lookInto is one connection that reads a file, beside whatever program works on it.
func lookInto(path string) (*sql.DB, error) {
	db, err := sql.Open("sqlite3", source(path, "mode=ro&_query_only=on&_busy_timeout=2000"))
	if err != nil {
		return nil, fmt.Errorf("store: open for a look: %w", err)
	}
	db.SetMaxOpenConns(1)
	return db, nil
}

// fileState is what a file says of itself.
type fileState struct {
	purpose Purpose
	schema  int64 // the number of its last migration
}

// checkFile looks into a file by SQLite: whose it is, which schema it has, and whether its
// tables and indexes are those of that schema.
func checkFile(ctx context.Context, path string) (state fileState, err error) {
	db, err := lookInto(path)
	if err != nil {
		return state, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	fail := func(step string, err error) (fileState, error) {
		return state, fileError(path, fmt.Errorf("%s: %w", step, err))
	}
	// Whose it is: its own word, or what it holds where it is from before there was one.
	if err := db.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&state.purpose); err != nil {
		return fail("read whose it is", err)
	}
	var ours int
	if err := db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE type = 'table'
		AND name IN ('goose_db_version', 'fact', 'outbox')`).Scan(&ours); err != nil {
		return fail("read its tables", err)
	}
	switch {
	case state.purpose == ForBooks, state.purpose == ForRehearsal:
	case state.purpose != 0 || ours < 3:
		return state, &FileError{Fault: FileForeign, Path: path}
	default:
		state.purpose = ForBooks
		if _, err := os.Stat(path + besideRehearsal); err == nil {
			state.purpose = ForRehearsal
		}
	}
	// Its schema, and whether it is as that schema's migrations make it.
	if ours < 3 {
		return state, &FileError{Fault: FileAltered, Path: path, Err: errors.New("tables are missing")}
	}
	if err := db.QueryRowContext(ctx, `SELECT coalesce(max(version_id), 0) FROM goose_db_version
		WHERE is_applied`).Scan(&state.schema); err != nil {
		return fail("read its schema's number", err)
	}
	newest, err := newestSchema()
	if err != nil {
		return state, err
	}
	if state.schema > newest {
		return state, &FileError{Fault: FileNewer, Path: path,
			Err: fmt.Errorf("schema %d, this program knows %d: %w", state.schema, newest, ErrNewer)}
	}
	wrong, err := compareSchema(ctx, db, state.schema)
	if err != nil {
		return fail("compare its tables", err)
	}
	if len(wrong) > 0 {
		return state, &FileError{Fault: FileAltered, Path: path, Err: errors.New(strings.Join(wrong, ", "))}
	}
	// What refers to a row that is not there.
	rows, err := db.QueryContext(ctx, `PRAGMA foreign_key_check`)
	if err != nil {
		return fail("look for rows that are missing", err)
	}
	defer rows.Close()
	if rows.Next() {
		return state, &FileError{Fault: FileDamaged, Path: path, Err: errors.New("it refers to rows that are missing")}
	}
	return state, rows.Err()
}

// newestSchema is the number of the last migration.
func newestSchema() (int64, error) {
	numbers, err := schemaNumbers()
	if err != nil {
		return 0, err
	}
	return numbers[len(numbers)-1], nil
}

// schemaNumbers are the migrations' numbers, ascending.
func schemaNumbers() (numbers []int64, err error) {
	files, err := fs.Glob(migrations, "migrations/*.sql")
	if err != nil || len(files) == 0 {
		return nil, fmt.Errorf("store: find the schemas: %w", err)
	}
	for _, name := range files {
		number, err := goose.NumericComponent(name)
		if err != nil {
			return nil, fmt.Errorf("store: %s: %w", name, err)
		}
		numbers = append(numbers, number)
	}
	slices.Sort(numbers)
	return numbers, nil
}

// compareSchema says in what a file's tables and indexes differ from those that the
// migrations up to a number make.
func compareSchema(ctx context.Context, db *sql.DB, schema int64) (wrong []string, err error) {
	model, err := sql.Open("sqlite3", ":memory:")
	if err != nil {
		return nil, fmt.Errorf("store: open a model of the schema: %w", err)
	}
	defer func() { err = errors.Join(err, model.Close()) }()
	model.SetMaxOpenConns(1)
	provider, err := newProvider(model)
	if err != nil {
		return nil, err
	}
	if _, err := provider.UpTo(ctx, schema); err != nil {
		return nil, fmt.Errorf("store: make a model of schema %d: %w", schema, err)
	}
	want, err := schemaOf(ctx, model)
	if err != nil {
		return nil, err
	}
	got, err := schemaOf(ctx, db)
	if err != nil {
		return nil, err
	}
	for _, name := range slices.Sorted(maps.Keys(want)) {
		switch text, there := got[name]; {
		case !there:
			wrong = append(wrong, name+" is missing")
		case text != want[name]:
			wrong = append(wrong, name+" is changed")
		}
	}
	for _, name := range slices.Sorted(maps.Keys(got)) {
		if _, known := want[name]; !known {
			wrong = append(wrong, name+" is not Setscrew's")
		}
	}
	return wrong, nil
}

// schemaOf are the tables, indexes, views and triggers of a file by kind and name, each as
// it is declared, without what versions of SQLite write differently.
func schemaOf(ctx context.Context, db *sql.DB) (map[string]string, error) {
	rows, err := db.QueryContext(ctx, `SELECT type || ' ' || name, coalesce(sql, '') FROM sqlite_schema
		WHERE name NOT LIKE 'sqlite\_%' ESCAPE '\' AND name <> 'goose_db_version'`)
	if err != nil {
		return nil, fmt.Errorf("store: read the tables' declarations: %w", err)
	}
	defer rows.Close()
	all := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, fmt.Errorf("store: read a table's declaration: %w", err)
		}
		all[name] = strings.Join(strings.Fields(strings.ReplaceAll(text, `"`, "")), " ")
	}
	return all, rows.Err()
}

// newProvider applies the migrations to a file.
func newProvider(db *sql.DB) (*goose.Provider, error) {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return nil, fmt.Errorf("find the schemas: %w", err)
	}
	provider, err := goose.NewProvider(goose.DialectSQLite3, db, files)
	if err != nil {
		return nil, fmt.Errorf("read the schemas: %w", err)
	}
	return provider, nil
}

// quickCheck has SQLite look through every page of a file, by the pragma quick_check or
// integrity_check; what it says is nil where all are sound.
func quickCheck(ctx context.Context, db *sql.DB, pragma string) (wrong []string, err error) {
	rows, err := db.QueryContext(ctx, "PRAGMA "+pragma+"(5)")
	if err != nil {
		return nil, fmt.Errorf("store: %s: %w", pragma, err)
	}
	defer rows.Close()
	for rows.Next() {
		var said string
		if err := rows.Scan(&said); err != nil {
			return nil, fmt.Errorf("store: %s: %w", pragma, err)
		}
		if said != "ok" {
			wrong = append(wrong, said)
		}
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("store: %s: %w", pragma, err)
	}
	return wrong, nil
}
