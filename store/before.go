package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// keptBefore is how many copies from before migrations are kept.
const keptBefore = 3

// copyBefore copies a file before the migrations after a schema's number change it, so
// that an earlier program can go on with it: FILE.before- and the first one's number. One
// that is there already is from an attempt that failed, of the same schema.
func copyBefore(ctx context.Context, path string, schema int64) error {
	numbers, err := schemaNumbers()
	if err != nil {
		return err
	}
	next := slices.IndexFunc(numbers, func(n int64) bool { return n > schema })
	copied := fmt.Sprintf("%s.before-%04d", path, numbers[next])
	if err := removeFile(copied); err != nil {
		return err
	}
	if err := copyFile(ctx, path, copied); err != nil {
		return err
	}
	return thinBefore(path)
}

// removeBefore removes the copies from before migrations of a file that nobody knows yet.
func removeBefore(path string) error {
	all, err := filepath.Glob(globbed(path) + ".before-*")
	for _, name := range all {
		err = errors.Join(err, os.Remove(name))
	}
	return err
}

// thinBefore removes all but the newest copies from before migrations.
func thinBefore(path string) error {
	all, err := filepath.Glob(globbed(path) + ".before-*")
	if err != nil {
		return fmt.Errorf("store: list the copies from before migrations: %w", err)
	}
	numbered := map[int64]string{}
	var numbers []int64
	for _, name := range all {
		if n, err := strconv.ParseInt(strings.TrimPrefix(name, path+".before-"), 10, 64); err == nil {
			numbers, numbered[n] = append(numbers, n), name
		}
	}
	slices.Sort(numbers)
	var errs []error
	for _, n := range numbers[:max(len(numbers)-keptBefore, 0)] {
		errs = append(errs, os.Remove(numbered[n]))
	}
	return errors.Join(errs...)
}

// globbed is a path as a pattern that matches it alone.
func globbed(path string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(path)
}
