// Package sqlite keeps jobs, trails, outbox and timers in one SQLite file.
//
// The file is in write-ahead mode with synchronous FULL: what a method has confirmed
// survives a power cut. There is one writing connection and a small pool of reading
// ones. Do not copy the file while it is open; the part not yet checkpointed is in the
// file beside it that ends in -wal.
//
// Source for the write-ahead and synchronous guarantees: https://sqlite.org/wal.html and
// https://sqlite.org/pragma.html#pragma_synchronous.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"halfsplit/bot"

	_ "modernc.org/sqlite" // registers the driver "sqlite"
)

var _ bot.Store = (*Store)(nil)

// Application is the application id in the header of our files ("Half" in ASCII), by
// which a file of another program is told apart.
const Application = 0x48616c66

// busyTimeout is how long a connection waits for another process, in milliseconds.
const busyTimeout = 5000

// readers is the number of reading connections.
const readers = 4

// Store is a bot.Store in one file. Its methods may be called from several goroutines,
// and several processes may have the file open.
type Store struct {
	write *sql.DB
	read  *sql.DB
	log   *slog.Logger
}

// Open opens the file at path, creates it and its directory if needed (readable by the
// owner only), and brings its schema up to date. A file that cannot be used is reported
// as *OpenError and left as it was.
func Open(ctx context.Context, path string, log *slog.Logger) (*Store, error) {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	if err := prepare(path, log); err != nil {
		return nil, err
	}
	if err := guard(ctx, path); err != nil {
		return nil, err
	}
	steps, err := embedded()
	if err != nil {
		return nil, err
	}
	s := &Store{log: log}
	s.write, err = pool(path, 1, "mode=rw", "_pragma=journal_mode(WAL)", "_pragma=synchronous(FULL)",
		"_pragma=foreign_keys(1)", "_txlock=immediate")
	if err != nil {
		return nil, openError(path, err)
	}
	if err := migrate(ctx, s.write, steps, log); err != nil {
		return nil, errors.Join(openError(path, err), s.write.Close())
	}
	s.read, err = pool(path, readers, "mode=ro", "_pragma=query_only(1)")
	if err == nil {
		err = s.read.PingContext(ctx)
	}
	if err != nil {
		return nil, errors.Join(openError(path, err), s.Close())
	}
	return s, nil
}

// Close waits for what is under way and closes the file.
func (s *Store) Close() error {
	var errs []error
	if s.read != nil {
		errs = append(errs, s.read.Close())
	}
	errs = append(errs, s.write.Close()) // last, so that it checkpoints
	return errors.Join(errs...)
}

// pool opens a connection pool of the given size on path. Nothing is read yet.
func pool(path string, size int, params ...string) (*sql.DB, error) {
	params = append(params, fmt.Sprintf("_pragma=busy_timeout(%d)", busyTimeout))
	db, err := sql.Open("sqlite", "file:"+escape(path)+"?"+strings.Join(params, "&"))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(size)
	db.SetMaxIdleConns(size)
	return db, nil
}

// escape writes a path so that SQLite reads it back unchanged from a "file:" address
// (https://sqlite.org/uri.html).
func escape(path string) string {
	parts := strings.Split(filepath.ToSlash(path), "/")
	for i, p := range parts {
		parts[i] = url.PathEscape(p)
	}
	return strings.Join(parts, "/")
}

// prepare makes sure that a regular file is at path.
func prepare(path string, log *slog.Logger) error {
	if path == "" || path == ":memory:" || strings.HasPrefix(path, "file:") {
		return &OpenError{Path: path, Problem: "is not the path of a file",
			Do: "give a path such as data/halfsplit.db"}
	}
	info, err := os.Stat(path)
	switch {
	case err == nil && info.IsDir():
		return &OpenError{Path: path, Problem: "is a directory",
			Do: "give the path of a file in it, such as " + filepath.Join(path, "halfsplit.db")}
	case err == nil && !info.Mode().IsRegular():
		return &OpenError{Path: path, Problem: "is not a regular file", Do: "give another path"}
	case err == nil && info.Mode().Perm()&0o077 != 0:
		log.Warn("database can be read by others", "path", path, "mode", info.Mode().Perm().String())
	case err != nil && !errors.Is(err, os.ErrNotExist):
		return fileError(path, err)
	}
	if err != nil {
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			return fileError(path, err)
		}
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return fileError(path, err)
	}
	return f.Close()
}

// guard looks at the file without changing it and refuses one that is not ours or is
// from a newer program.
func guard(ctx context.Context, path string) error {
	db, err := pool(path, 1, "mode=rw")
	if err != nil {
		return openError(path, err)
	}
	defer db.Close()
	app, version, err := header(ctx, db)
	if err != nil {
		return openError(path, err)
	}
	if app == 0 && version == 0 {
		var tables int
		if err := db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables); err != nil {
			return openError(path, err)
		}
		if tables == 0 {
			return nil
		}
	}
	if app != Application {
		return &OpenError{Path: path, Problem: "is a database of another program",
			Do: "give another path; this file was not changed", Err: ErrForeign}
	}
	steps, err := embedded()
	if err != nil {
		return err
	}
	if version > len(steps) {
		return newer(path, version, len(steps))
	}
	return nil
}

type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// header reads the application id and the schema version out of the file's header.
func header(ctx context.Context, q querier) (app, version int, err error) {
	if err = q.QueryRowContext(ctx, "PRAGMA application_id").Scan(&app); err != nil {
		return 0, 0, err
	}
	err = q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version)
	return app, version, err
}

// change runs fn in one write transaction. op names it in errors. Nothing slow may
// happen in fn: there is one writer.
func (s *Store) change(ctx context.Context, op string, fn func(tx *sql.Tx) error) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("store: %s: %w", op, err)
	}
	defer tx.Rollback() // after Commit it does nothing
	if err := fn(tx); err != nil {
		return fmt.Errorf("store: %s: %w", op, err)
	}
	if err := tx.Commit(); err != nil {
		return fmt.Errorf("store: %s: %w", op, err)
	}
	return nil
}
