package sqlite

import (
	"errors"
	"fmt"
	"io/fs"

	driver "modernc.org/sqlite"
	code "modernc.org/sqlite/lib"
)

// Errors to decide on with errors.Is.
var (
	ErrNewer   = errors.New("schema is newer than this program")
	ErrForeign = errors.New("database belongs to another program")
)

// OpenError says why a file cannot be used and what to do about it.
type OpenError struct {
	Path    string
	Problem string // completes "path ..."
	Do      string // an instruction
	Err     error  // the cause; may be nil
}

func (e *OpenError) Error() string {
	text := fmt.Sprintf("database %q %s: %s", e.Path, e.Problem, e.Do)
	if e.Err != nil && !errors.Is(e.Err, ErrNewer) && !errors.Is(e.Err, ErrForeign) {
		text += " (" + e.Err.Error() + ")"
	}
	return text
}

// Unwrap returns the cause.
func (e *OpenError) Unwrap() error { return e.Err }

func newer(path string, have, know int) error {
	return &OpenError{Path: path, Problem: fmt.Sprintf("has schema %d, this program knows up to %d", have, know),
		Do: "start the newer program, or restore the backup made before it was started; this file was not changed", Err: ErrNewer}
}

// fileError explains an error of the file system.
func fileError(path string, err error) error {
	e := &OpenError{Path: path, Problem: "cannot be opened", Do: "check the path and the disk", Err: err}
	switch {
	case errors.Is(err, fs.ErrPermission):
		e.Problem, e.Do = "may not be read and written by this user", "correct the owner or the mode of the file and its directory, or give another path"
	case errors.Is(err, fs.ErrNotExist):
		e.Problem, e.Do = "does not exist", "check the path"
	}
	return e
}

// openError explains an error of SQLite. The codes are those of
// https://sqlite.org/rescode.html.
func openError(path string, err error) error {
	var known *OpenError
	if errors.As(err, &known) {
		return err
	}
	e := &OpenError{Path: path, Problem: "cannot be opened", Do: "check the path and the disk", Err: err}
	if errors.Is(err, ErrNewer) {
		e.Problem, e.Do = "has a newer schema than this program knows", "start the newer program; this file was not changed"
		return e
	}
	var sq *driver.Error
	if errors.As(err, &sq) {
		switch sq.Code() & 0xff { // the low byte is the primary code
		case code.SQLITE_NOTADB:
			e.Problem, e.Do = "is not a database", "give another path; this file was not changed"
		case code.SQLITE_CORRUPT:
			e.Problem, e.Do = "is damaged", "restore the last backup and keep this file"
		case code.SQLITE_BUSY, code.SQLITE_LOCKED:
			e.Problem, e.Do = "is locked by another process", "stop the other process, then start again"
		case code.SQLITE_READONLY, code.SQLITE_PERM, code.SQLITE_AUTH, code.SQLITE_CANTOPEN:
			e.Problem, e.Do = "may not be written by this user", "correct the owner or the mode of the file and its directory, or give another path"
		case code.SQLITE_FULL:
			e.Problem, e.Do = "does not fit on the disk", "free some space, then start again"
		}
	}
	return e
}
