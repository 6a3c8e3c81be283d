package store

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"

	"github.com/mattn/go-sqlite3"
)

// Fault is why a file is not opened as books.
type Fault string

// The faults that FileError tells apart.
const (
	FileMissing   Fault = "missing"   // there is none
	FileExists    Fault = "exists"    // there is one where one was to be made
	FileEmpty     Fault = "empty"     // it holds nothing
	FileShort     Fault = "short"     // its end is missing
	FileDamaged   Fault = "damaged"   // what it holds is not sound
	FileAltered   Fault = "altered"   // its tables or indexes are not those of its schema
	FileForeign   Fault = "foreign"   // it is another program's, or its beginning is overwritten
	FileNewer     Fault = "newer"     // a later version of Setscrew wrote it
	FileRehearsal Fault = "rehearsal" // it is a rehearsal's, and books were asked for
	FileBooks     Fault = "books"     // it holds books, and a rehearsal's was asked for
	FileHeld      Fault = "held"      // another program works on it
	FileFull      Fault = "full"      // no room is left on its disk
	FileForbidden Fault = "forbidden" // it may not be read or written, or its folder
)

// FileError is a file that is not opened, in a sentence for the operator.
type FileError struct {
	Fault Fault
	Path  string
	Err   error // what was met, nil where the fault says all
	Copy  bool  // it is a copy that was to be put in the books' place
}

// restoring is how a sound copy is put in a file's place.
const restoring = "Put a copy in its place: setscrew restore COPY --db %[1]s (copies lie in %[1]s.backups)"

// sentences say what is wrong with a file, and what to do.
var sentences = map[Fault]string{
	FileMissing: "there are no books at %[1]s. See that folder and name are right. If there never were any, make " +
		"them: setscrew init --only-books --db %[1]s. If they are lost, put a copy in their place: setscrew restore " +
		"COPY --db " +
		"%[1]s (copies lie in %[1]s.backups)",
	FileExists: "there is a file at %[1]s already, and it is left as it is. " +
		"Name another file, or leave out --new if that was given",
	FileEmpty:   "%[1]s is empty, and holds no books. " + restoring,
	FileShort:   "%[1]s is cut short: its end is missing. " + restoring,
	FileDamaged: "%[1]s is damaged. " + restoring,
	FileAltered: "%[1]s is not as Setscrew made it. " + restoring,
	FileForeign: "%[1]s is no file of Setscrew's: it is another program's, or its beginning was overwritten. It is " +
		"left as it is. Name the right file with --db, or move this one away and put a copy in its place: setscrew " +
		"restore COPY --db %[1]s",
	FileNewer: "%[1]s was written by a later version of Setscrew. Use that version again; what it was before is kept " +
		"beside it, in %[1]s.before- and a number",
	FileRehearsal: "%[1]s is a rehearsal's, and holds no real books. Play on with setscrew rehearse --db %[1]s, or " +
		"name another file",
	FileBooks: "%[1]s holds a shop's real books, which a rehearsal would write into. Name another file, or none",
	FileHeld: "another program works on %[1]s. Only one may: end the other first, or leave it to run. A backup and " +
		"setscrew doctor work beside it",
	FileFull: "the disk that holds %[1]s is full. Make room on it, and start again",
	FileForbidden: "%[1]s cannot be read and written by the user who runs Setscrew. Give the file and its folder to " +
		"that user, and see that the disk is not mounted read-only",
}

// Error is the sentence, and behind it what was met.
func (e *FileError) Error() string {
	template := sentences[e.Fault]
	if e.Copy {
		template, _, _ = strings.Cut(template, ". ")
		template = "nothing is changed: the copy " + template + ". Take another copy"
	}
	said := fmt.Sprintf(template, e.Path)
	if e.Err != nil {
		said += " (" + e.Err.Error() + ")"
	}
	return said
}

// Unwrap is what was met.
func (e *FileError) Unwrap() error { return e.Err }

// fileError is an error that was met at a file, as a *FileError where it says why the file
// is of no use.
func fileError(path string, err error) error {
	var said sqlite3.Error
	var known *FileError
	switch {
	case err == nil, errors.As(err, &known):
		return err
	case errors.Is(err, ErrNewer):
		return &FileError{Fault: FileNewer, Path: path, Err: err}
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return &FileError{Fault: FileForbidden, Path: path, Err: err}
	case errors.Is(err, syscall.ENOSPC):
		return &FileError{Fault: FileFull, Path: path, Err: err}
	case errors.As(err, &said):
		if said.Code == sqlite3.ErrFull || said.SystemErrno == syscall.ENOSPC {
			return &FileError{Fault: FileFull, Path: path, Err: err}
		}
		switch said.Code {
		case sqlite3.ErrCorrupt, sqlite3.ErrNotADB:
			return &FileError{Fault: FileDamaged, Path: path, Err: err}
		case sqlite3.ErrReadonly, sqlite3.ErrPerm, sqlite3.ErrCantOpen:
			return &FileError{Fault: FileForbidden, Path: path, Err: err}
		}
	}
	return err
}
