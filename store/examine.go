package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"setscrew/domain"
)

// Examine looks at the books at a path beside whatever program works on them, changes
// nothing, and says of each thing whether it is fine; full compares in addition all that is
// derived with the facts, in a copy. Copies are looked for in a folder.
func Examine(ctx context.Context, path, folder string, full bool, now time.Time) []domain.Finding {
	abs, err := filepath.Abs(path)
	if err == nil {
		folder, err = filepath.Abs(folder)
	}
	if err != nil {
		return []domain.Finding{{Look: domain.LookFile, Err: fmt.Errorf("store: find the file: %w", err)}}
	}
	// The file and who works on it. Without one there is nothing to look at.
	_, err = os.Stat(abs)
	if errors.Is(err, fs.ErrNotExist) {
		err = &FileError{Fault: FileMissing, Path: abs}
	}
	if err == nil {
		err = checkHead(abs)
	}
	if err != nil {
		return []domain.Finding{{Look: domain.LookFile, Err: err}}
	}
	all, sound := examine(ctx, abs, folder, full, now, func(is Purpose) error {
		if is == ForRehearsal {
			return &FileError{Fault: FileRehearsal, Path: abs}
		}
		return nil
	})
	if full && sound {
		says, err := examineDerived(ctx, abs)
		all = append(all, domain.Finding{Look: domain.LookDerived, Says: says, Err: err})
	}
	return all
}

// Examine looks at the file that this program works on, as the function of that name does
// from beside. Copies are looked for in a folder; "" where none are made.
func (db *DB) Examine(ctx context.Context, folder string, now time.Time) []domain.Finding {
	if err := db.usable(); err != nil {
		return []domain.Finding{{Look: domain.LookFile, Err: err}}
	}
	all, _ := examine(ctx, db.path, folder, false, now, func(Purpose) error { return nil })
	return all
}

// examine looks at a file that is there. It opens it by SQLite alone, so that this process
// may work on it meanwhile. allowed refuses what the file is for; sound is false where its
// tables are not as they should be.
func examine(ctx context.Context, path, folder string, full bool, now time.Time, allowed func(Purpose) error) (
	all []domain.Finding, sound bool) {
	look := func(at domain.Look, says string, err error) {
		if err != nil {
			says = ""
		}
		all = append(all, domain.Finding{Look: at, Says: says, Err: err})
	}
	info, err := os.Stat(path)
	if err != nil {
		look(domain.LookFile, "", fileError(path, err))
		return all, false
	}
	state, err := checkFile(ctx, path)
	look(domain.LookFile, fmt.Sprintf("%s, %s, %s", path, megabytes(info.Size()), workedOn(path)), nil)
	says, spaceErr := examineSpace(path, info.Size())
	look(domain.LookSpace, says, spaceErr)
	says, mayErr := examinePermissions(path, folder)
	look(domain.LookAccess, says, mayErr)
	if err == nil {
		err = allowed(state.purpose)
	}
	look(domain.LookSchema, fmt.Sprintf("schema %d, as Setscrew made it", state.schema), err)
	// What it holds.
	check := "quick_check"
	if full {
		check = "integrity_check"
	}
	look(domain.LookPages, "every page is sound", checkWith(ctx, path, check))
	if folder != "" {
		says, copiesErr := examineBackups(path, folder, now)
		look(domain.LookCopies, says, copiesErr)
	}
	return all, err == nil
}

// megabytes is a size as it is shown.
func megabytes(size int64) string { return fmt.Sprintf("%.1f MB", float64(size)/(1<<20)) }

// workedOn says whether a program works on a file.
func workedOn(path string) string {
	if _, err := os.Stat(path + ".lock"); err != nil {
		return "no program works on it"
	}
	held, err := holdFile(path)
	if err != nil {
		return "a program works on it"
	}
	held.release() //nolint:errcheck // nothing was written
	return "no program works on it"
}

// examineSpace says whether the disk has room for what a file may grow to, and for a copy.
func examineSpace(path string, size int64) (says string, err error) {
	free, err := freeSpace(path)
	if err != nil {
		return "", err
	}
	if need := max(leastSpace, 2*size); free < need {
		return "", fmt.Errorf("only %s are free, and a copy needs %s: make room on the disk", megabytes(free),
			megabytes(need))
	}
	return megabytes(free) + " free", nil
}

// examinePermissions says whether the books and their copies are their owner's alone, and
// can be written.
func examinePermissions(path, folder string) (says string, err error) {
	for _, needed := range []string{path, filepath.Dir(path)} {
		if err := mayWrite(needed); err != nil {
			return "", &FileError{Fault: FileForbidden, Path: path, Err: err}
		}
	}
	files := []string{path, path + "-wal", path + "-shm"}
	if folder != "" {
		copies, err := Copies(path, folder)
		if err != nil {
			return "", err
		}
		for _, one := range copies {
			files = append(files, one.Path)
		}
	}
	var wide []string
	for _, one := range files {
		if may, err := OthersMay(one); err == nil && may != "" {
			wide = append(wide, "'"+one+"'")
		}
	}
	if len(wide) > 0 {
		return "", fmt.Errorf("others on this machine can read them: chmod 600 %s", strings.Join(wide, " "))
	}
	return "yours alone, and writable", nil
}

// checkWhole refuses a file of which a page, or what an index says of a table, is not sound.
func checkWhole(ctx context.Context, path string) error {
	return checkWith(ctx, path, "integrity_check")
}

// checkWith refuses a file that SQLite's own check does not find sound.
func checkWith(ctx context.Context, path, pragma string) (err error) {
	db, err := lookInto(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	wrong, err := quickCheck(ctx, db, pragma)
	if err != nil {
		return fileError(path, err)
	}
	if len(wrong) > 0 {
		return &FileError{Fault: FileDamaged, Path: path, Err: errors.New(strings.Join(wrong, "; "))}
	}
	return nil
}

// examineBackups says how old the last backup is.
func examineBackups(path, folder string, now time.Time) (says string, err error) {
	all, err := Copies(path, folder)
	if err != nil {
		return "", err
	}
	last, ok := LastCopy(all, now)
	if !ok {
		return "", fmt.Errorf("there are none in %s: leave setscrew run running, which makes one every night, or "+
			"make one now: setscrew backup --db %s", folder, path)
	}
	age := now.Sub(last.Made)
	if age > BackupLate {
		return "", fmt.Errorf("the last is %d hours old, %s: the log of setscrew run says why; make one now: "+
			"setscrew backup --db %s", int(age.Hours()), last.Path, path)
	}
	return fmt.Sprintf("%d, the last %d hours old, %s", len(all), int(age.Hours()), last.Path), nil
}

// derivedTables are the tables that Rebuild makes again, each with the columns that it
// makes of a table that holds more.
var derivedTables = map[string]string{
	"done_last": "*", "moved": "*", "tag": "*", "problem": "*", "shop": "*", "gauge": "*", "need": "*", "took": "*",
	"machine": "machine_id, seconds, outage, test", "fact": "no, withdrawn, believed, seconds",
}

// examineDerived makes all that is derived again from the facts, in a copy, and says which
// tables were not as the facts have them.
func examineDerived(ctx context.Context, path string) (says string, err error) {
	folder, err := os.MkdirTemp("", "setscrew-doctor-")
	if err != nil {
		return "", fmt.Errorf("store: make room for a copy: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	copied := filepath.Join(folder, "books.db")
	if err := copyFile(ctx, path, copied); err != nil {
		return "", err
	}
	db, err := Open(ctx, copied)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	shops, err := db.shops(ctx)
	if err != nil {
		return "", err
	}
	var wrong []string
	for _, shop := range shops {
		before, err := db.derivedRows(ctx, shop)
		if err != nil {
			return "", err
		}
		if err := db.Shop(shop).Rebuild(ctx); err != nil {
			return "", fmt.Errorf("store: derive again for shop %s: %w", shop, err)
		}
		after, err := db.derivedRows(ctx, shop)
		if err != nil {
			return "", err
		}
		for _, table := range slices.Sorted(maps.Keys(before)) {
			if !slices.Equal(before[table], after[table]) {
				wrong = append(wrong, fmt.Sprintf("%s of shop %s", table, shop))
			}
		}
	}
	if len(wrong) > 0 {
		return "", fmt.Errorf("what is derived is not what the facts say: %s. Restore a copy from before: setscrew "+
			"restore COPY --db %s; and please report it", strings.Join(wrong, ", "), path)
	}
	return "what is derived is what the facts say", nil
}

// shops lists the shops that have anything in the file.
func (db *DB) shops(ctx context.Context) (all []domain.ShopID, err error) {
	err = db.read(ctx, "", func(t *tx) error {
		var shop domain.ShopID
		return t.rows([]any{&shop}, func() error { all = append(all, shop); return nil },
			`SELECT shop_id FROM shop UNION SELECT shop_id FROM machine ORDER BY shop_id`)
	})
	return all, err
}

// derivedRows are the rows of a shop that are derived, by table.
func (db *DB) derivedRows(ctx context.Context, shop domain.ShopID) (map[string][]string, error) {
	all := map[string][]string{}
	err := db.read(ctx, shop, func(t *tx) error {
		for _, table := range slices.Sorted(maps.Keys(derivedTables)) {
			rows, err := t.c.QueryContext(t.run, fmt.Sprintf(`SELECT %s FROM %s WHERE shop_id = ?`,
				derivedTables[table], table), shop)
			if err != nil {
				return fmt.Errorf("store: read %s: %w", table, err)
			}
			defer rows.Close()
			columns, err := rows.Columns()
			if err != nil {
				return fmt.Errorf("store: read %s: %w", table, err)
			}
			values, to := make([]any, len(columns)), make([]any, len(columns))
			for i := range values {
				to[i] = &values[i]
			}
			for rows.Next() {
				if err := rows.Scan(to...); err != nil {
					return fmt.Errorf("store: read %s: %w", table, err)
				}
				all[table] = append(all[table], fmt.Sprint(values...))
			}
			if err := rows.Err(); err != nil {
				return fmt.Errorf("store: read %s: %w", table, err)
			}
			slices.Sort(all[table])
		}
		return nil
	})
	return all, err
}
