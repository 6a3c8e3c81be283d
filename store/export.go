package store

import (
	"bufio"
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"setscrew/domain"
)

// exportFormat is the version of the lines that Export writes.
const exportFormat = 1

// The columns of what is exported that are not plain numbers and texts.
var (
	jsonColumns = []string{"body", "setup", "args", "found"} // written as they are stored, not as texts in quotes
	blobColumns = []string{"data"}                           // in base64
)

// exportedTable is a table of which rows are exported: what Rebuild cannot make again.
type exportedTable struct {
	name    string
	columns []string
	order   string
	query   string // instead of the plain one; with the shop, or "" for all, as ?1
}

// exportedTables are in the order in which they are written. A test sees that every column
// of every table is either here or derived.
var exportedTables = []exportedTable{
	// Until when each shop knows what happened: as Restore notes it.
	{name: "restored", columns: []string{"shop_id", "last"}, query: `SELECT shop_id,
		min(coalesce((SELECT last FROM restored r WHERE r.shop_id = s.shop_id), ` + lastKnown + `), ` + lastKnown + `)
		FROM (SELECT shop_id FROM shop UNION SELECT shop_id FROM machine) s WHERE ?1 IN ('', shop_id)
		ORDER BY shop_id`},
	{name: "profile_text", columns: []string{"shop_id", "hash", "kind", "text"}, order: "shop_id, hash"},
	{name: "machine", columns: []string{"shop_id", "machine_id", "name", "folded", "units", "added", "retired", "wake",
		"unasked", "setup"}, order: "shop_id, machine_id"},
	{name: "fact", columns: []string{"shop_id", "no", "machine_id", "kind", "subject", "at", "recorded", "by_id",
		"for_id", "hash", "setup_rev", "key", "body"}, order: "shop_id, no"},
	{name: "audit", columns: []string{"shop_id", "fact_no", "who", "typed", "at"}, order: "shop_id, fact_no"},
	{name: "outbox", columns: []string{"id", "shop_id", "machine_id", "key", "op", "target", "topic", "made",
		"attempts", "tried", "again", "problem", "posted", "message", "urgency", "sent", "lead", "mended", "args"},
		order: "id"},
	{name: "photo", columns: []string{"shop_id", "key", "url", "made", "data"}, order: "shop_id, key"},
	{name: "pending", columns: []string{"shop_id", "id", "action", "asked", "made", "expires", "used", "args"},
		order: "shop_id, id"},
	{name: "digest", columns: []string{"shop_id", "next"}, order: "shop_id"},
	{name: "forgetting", columns: []string{"shop_id", "person_id", "former", "at", "kept"},
		order: "shop_id, person_id"},
	{name: "forgot", columns: []string{"shop_id", "key", "by_id", "former", "at"}, order: "shop_id, key"},
	{name: "steward", columns: []string{"shop_id", "person_id", "role_id", "seen"}, order: "shop_id, person_id"},
	{name: "unseen", columns: []string{"shop_id", "person_id", "said", "at"}, order: "shop_id, person_id"},
	{name: "told", columns: []string{"shop_id", "person_id", "what", "at"}, order: "shop_id, person_id"},
	{name: "trouble", columns: []string{"shop_id", "found"}, order: "shop_id"},
}

// lastKnown is the last moment that shop s knows of.
const lastKnown = `coalesce((SELECT max(made) FROM (
	SELECT max(recorded) AS made FROM fact f WHERE f.shop_id = s.shop_id
	UNION ALL SELECT max(made) FROM outbox o WHERE o.shop_id = s.shop_id
	UNION ALL SELECT max(posted) FROM outbox o WHERE o.shop_id = s.shop_id)), 0)`

// rows is the query of a table's rows, of the shop ?1 or of all where that is "".
func (t exportedTable) rows() string {
	if t.query != "" {
		return t.query
	}
	return fmt.Sprintf(`SELECT %s FROM %s WHERE ?1 IN ('', shop_id) ORDER BY %s`, strings.Join(t.columns, ", "),
		t.name, t.order)
}

// exportHead is the first line of an export.
type exportHead struct {
	Setscrew string         `json:"setscrew"` // "export"
	Format   int            `json:"format"`
	Schema   int64          `json:"schema"` // whose columns the lines have
	For      string         `json:"for"`    // books, or a rehearsal's
	Counts   map[string]int `json:"counts"` // lines by table
}

// Exported is what an export or an import held.
type Exported struct {
	Shops, Facts int
	Lines        int // without the head
	Derived      int // shops whose derived tables were made again
	Forgotten    int // people who were forgotten again
}

// purposes are what files are for, by the word of an export's head.
var purposes = map[string]Purpose{"books": ForBooks, "rehearsal": ForRehearsal}

// openCopy opens a copy of the books at a path as they stand at one moment, brought up to date:
// made beside whatever program works on them, and removed by done.
func openCopy(ctx context.Context, path string) (db *DB, purpose Purpose, done func() error, err error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, 0, nil, fmt.Errorf("store: find the file: %w", err)
	}
	if _, err := os.Stat(abs); err != nil {
		if errors.Is(err, os.ErrNotExist) {
			err = &FileError{Fault: FileMissing, Path: abs}
		}
		return nil, 0, nil, fileError(abs, err)
	}
	state, err := checkFile(ctx, abs)
	if err != nil {
		return nil, 0, nil, err
	}
	folder, err := os.MkdirTemp("", "setscrew-export-")
	if err != nil {
		return nil, 0, nil, fmt.Errorf("store: make room for a copy: %w", err)
	}
	remove := func() error { return os.RemoveAll(folder) }
	copied := filepath.Join(folder, "books.db")
	if err := copyFile(ctx, abs, copied); err != nil {
		return nil, 0, nil, errors.Join(err, remove())
	}
	if db, err = Open(ctx, copied); err != nil {
		return nil, 0, nil, errors.Join(err, remove())
	}
	return db, state.purpose, func() error { return errors.Join(db.Close(), remove()) }, nil
}

// Export writes all that is not derived of the books at a path, as they stand at one moment,
// as JSON Lines: a head, then a row a line, in an order that is always the same. It works
// beside the program that answers. With a shop's id it writes that one alone.
func Export(ctx context.Context, path string, shop domain.ShopID, to io.Writer) (done Exported, err error) {
	db, purpose, remove, err := openCopy(ctx, path)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, remove()) }()
	if err := db.hasShop(ctx, shop); err != nil {
		return done, err
	}
	out := bufio.NewWriter(to)
	err = db.read(ctx, shop, func(t *tx) error {
		head := exportHead{Setscrew: "export", Format: exportFormat, For: "books", Counts: map[string]int{}}
		if purpose == ForRehearsal {
			head.For = "rehearsal"
		}
		var err error
		if head.Schema, err = newestSchema(); err != nil {
			return err
		}
		for _, table := range exportedTables {
			var n int
			if _, err := t.row([]any{&n}, `SELECT count(*) FROM (`+table.rows()+`)`, shop); err != nil {
				return err
			}
			head.Counts[table.name] = n
			done.Lines += n
		}
		done.Shops, done.Facts = head.Counts["restored"], head.Counts["fact"]
		text, err := json.Marshal(head)
		if err != nil {
			return fmt.Errorf("store: write the head of an export: %w", err)
		}
		if _, err := fmt.Fprintf(out, "%s\n", text); err != nil {
			return fmt.Errorf("store: write an export: %w", err)
		}
		for _, table := range exportedTables {
			if err := t.export(table, shop, out); err != nil {
				return err
			}
		}
		return nil
	})
	if err == nil {
		if err = out.Flush(); err != nil {
			err = fmt.Errorf("store: write an export: %w", err)
		}
	}
	return done, err
}

// hasShop refuses a shop that has nothing in the file; "" stands for all.
func (db *DB) hasShop(ctx context.Context, shop domain.ShopID) error {
	shops, err := db.shops(ctx)
	if err != nil || shop == "" || slices.Contains(shops, shop) {
		return err
	}
	return fmt.Errorf("store: there is no shop %q in these books; there are %q", shop, shops)
}

// export writes a table's rows.
func (t *tx) export(table exportedTable, shop domain.ShopID, out *bufio.Writer) error {
	values, to := make([]any, len(table.columns)), make([]any, len(table.columns))
	for i := range values {
		to[i] = &values[i]
	}
	return t.rows(to, func() error {
		fmt.Fprintf(out, `{"table":%q`, table.name) //nolint:errcheck // told by the last write
		for i, column := range table.columns {
			text, err := exportValue(column, values[i])
			if err != nil {
				return fmt.Errorf("store: export %s %v: %s: %w", table.name, values[:2], column, err)
			}
			fmt.Fprintf(out, `,%q:%s`, column, text) //nolint:errcheck // told by the last write
		}
		if _, err := out.WriteString("}\n"); err != nil {
			return fmt.Errorf("store: write an export: %w", err)
		}
		return nil
	}, table.rows(), shop)
}

// exportValue is what a column holds as JSON, from which importValue makes the same.
func exportValue(column string, value any) ([]byte, error) {
	switch value := value.(type) {
	case nil:
		return []byte("null"), nil
	case int64:
		return fmt.Appendf(nil, "%d", value), nil
	case []byte:
		if slices.Contains(blobColumns, column) {
			return json.Marshal(value)
		}
		return exportText(column, string(value))
	case string:
		return exportText(column, value)
	}
	return nil, fmt.Errorf("a %T is none of ours", value)
}

// exportText is a text as JSON: as it is where it is JSON on one line.
func exportText(column, text string) ([]byte, error) {
	if !utf8.ValidString(text) {
		return nil, errors.New("the text is no UTF-8")
	}
	if slices.Contains(jsonColumns, column) && strings.HasPrefix(text, "{") && json.Valid([]byte(text)) &&
		!strings.ContainsAny(text, "\r\n") && strings.HasSuffix(text, "}") {
		return []byte(text), nil
	}
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(text); err != nil {
		return nil, fmt.Errorf("write it as JSON: %w", err)
	}
	return bytes.TrimSuffix(out.Bytes(), []byte("\n")), nil
}

// importValue reads what exportValue wrote.
func importValue(column string, text json.RawMessage) (any, error) {
	switch {
	case string(text) == "null":
		return nil, nil
	case text[0] == '{' && slices.Contains(jsonColumns, column):
		return string(text), nil
	case text[0] == '"':
		var value string
		if err := json.Unmarshal(text, &value); err != nil {
			return nil, err
		}
		if slices.Contains(blobColumns, column) {
			return base64.StdEncoding.DecodeString(value)
		}
		return value, nil
	}
	var number int64
	if err := json.Unmarshal(text, &number); err != nil {
		return nil, fmt.Errorf("it is no whole number, text or null: %.40s", text)
	}
	return number, nil
}
