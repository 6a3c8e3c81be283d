//go:build !linux && !darwin && !freebsd

package store

import (
	"math"
	"os"
)

// Where the system has no locks, permissions and disks of the kind that are known here,
// SQLite's own locks and errors are all there is.

func lockFile(*os.File) error { return nil }

func mayWrite(string) error { return nil }

func freeSpace(string) (int64, error) { return math.MaxInt64, nil }

func othersMay(os.FileInfo) string { return "" }
