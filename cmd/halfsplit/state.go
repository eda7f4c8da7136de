package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"path/filepath"
	"runtime"

	"halfsplit/store/sqlite"
)

// storePath is where the jobs are if the command line does not say: in the user's
// directory for state (XDG Base Directory Specification 0.8 where it is used).
func storePath(goos string, env func(string) string) (string, error) {
	dir, home := "", env("HOME")
	switch goos {
	case "windows":
		dir = env("LocalAppData")
	case "darwin", "ios":
		if home != "" {
			dir = filepath.Join(home, "Library", "Application Support")
		}
	default:
		// The specification says that a relative path is to be ignored.
		if xdg := env("XDG_STATE_HOME"); filepath.IsAbs(xdg) {
			dir = xdg
		} else if home != "" {
			dir = filepath.Join(home, ".local", "state")
		}
	}
	if dir == "" {
		return "", &plainError{"This system does not say where your files are (no home directory is set). Say where to keep the jobs: halfsplit --store PATH"}
	}
	return filepath.Join(dir, "halfsplit", "halfsplit.db"), nil
}

// storeFlag adds --store to the flags of a command.
func storeFlag(fs *flag.FlagSet) *string {
	return fs.String("store", "", "")
}

// openStore opens the file at path, or the user's own if path is empty.
func openStore(ctx context.Context, p program, path string) (*sqlite.Store, error) {
	if path == "" {
		var err error
		if path, err = storePath(runtime.GOOS, p.env); err != nil {
			return nil, err
		}
	}
	st, err := sqlite.Open(ctx, path, logger(p.err))
	var bad *sqlite.OpenError
	if errors.As(err, &bad) {
		return nil, &plainError{fmt.Sprintf("The file of jobs cannot be used: %s", bad.Error())}
	}
	return st, err
}
