package sqlite

import (
	"context"
	"database/sql"
	"io/fs"
	"log/slog"
)

// Writer and Reader show the pools to the tests.
func (s *Store) Writer() *sql.DB { return s.write }
func (s *Store) Reader() *sql.DB { return s.read }

// Migrate applies the migrations in dir to db.
func Migrate(ctx context.Context, db *sql.DB, f fs.FS, dir string) error {
	all, err := steps(f, dir)
	if err != nil {
		return err
	}
	return migrate(ctx, db, all, slog.New(slog.DiscardHandler))
}
