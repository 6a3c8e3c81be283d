//go:build linux || darwin || freebsd

package store

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"syscall"
)

// lockFile takes the system's lock on an open file, which ends with the process.
func lockFile(file *os.File) error {
	err := syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return errHeld
	}
	return err
}

// mayWrite reports whether the system lets this process write to a path: the file's
// permissions and the disk's. It opens nothing.
func mayWrite(path string) error {
	const write = 2
	if err := syscall.Access(path, write); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

// freeSpace is how many bytes this user may still write into the disk that holds a path.
func freeSpace(path string) (int64, error) {
	var disk syscall.Statfs_t
	if err := syscall.Statfs(path, &disk); err != nil {
		return 0, fmt.Errorf("%s: ask for free space: %w", path, err)
	}
	return int64(uint64(disk.Bavail) * uint64(disk.Bsize)), nil
}

// othersMay lists what users other than its owner may do with a file, "" for nothing.
func othersMay(info os.FileInfo) string {
	var may []string
	if info.Mode().Perm()&0o044 != 0 {
		may = append(may, "read")
	}
	if info.Mode().Perm()&0o022 != 0 {
		may = append(may, "write")
	}
	return strings.Join(may, " and ")
}
