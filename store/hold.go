package store

import (
	"errors"
	"fmt"
	"os"
	"strings"
)

// errHeld is a lock that another program has.
var errHeld = errors.New("it is locked")

// hold is this program's hold on a file: the system's lock on another file beside it. The
// system lets it go when the program ends, however it ends; the file beside stays, since
// one that is removed could be locked by two.
type hold struct{ file *os.File }

// holdFile takes hold of the file at a path, or refuses with FileHeld.
func holdFile(path string) (*hold, error) {
	file, err := os.OpenFile(path+".lock", os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, fileError(path, fmt.Errorf("make the lock beside it: %w", err))
	}
	if err := lockFile(file); err != nil {
		said := make([]byte, 20)
		n, _ := file.Read(said) //nolint:errcheck // who holds it is told where it is known
		if errors.Is(err, errHeld) {
			err = &FileError{Fault: FileHeld, Path: path}
			if holder := strings.TrimSpace(string(said[:n])); holder != "" {
				err = &FileError{Fault: FileHeld, Path: path, Err: errors.New("process " + holder)}
			}
		}
		return nil, errors.Join(err, file.Close())
	}
	// Whoever is refused is told which process holds it.
	err = file.Truncate(0)
	if err == nil {
		_, err = fmt.Fprintln(file, os.Getpid())
	}
	if err != nil {
		return nil, errors.Join(fileError(path, fmt.Errorf("write the lock beside it: %w", err)), file.Close())
	}
	return &hold{file}, nil
}

// release lets the file go.
func (h *hold) release() error {
	if h == nil {
		return nil
	}
	return h.file.Close()
}
