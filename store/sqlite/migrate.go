package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"log/slog"
	"path"
	"strconv"
	"strings"
)

//go:embed migrations/*.sql
var files embed.FS

// step is one migration: step n brings schema n-1 to schema n.
type step struct {
	name string
	sql  string
}

// embedded returns the migrations of this program in order.
func embedded() ([]step, error) { return steps(files, "migrations") }

// steps reads the migrations in dir in name order. Names begin with a number of four
// digits that counts from 0001 without gaps.
func steps(f fs.FS, dir string) ([]step, error) {
	entries, err := fs.ReadDir(f, dir) // sorted by name
	if err != nil {
		return nil, err
	}
	var out []step
	for _, e := range entries {
		digits, _, _ := strings.Cut(e.Name(), "_")
		n, err := strconv.Atoi(digits)
		if err != nil || len(digits) != 4 || n != len(out)+1 {
			return nil, fmt.Errorf("migration %s: name must begin with %04d_", e.Name(), len(out)+1)
		}
		text, err := fs.ReadFile(f, path.Join(dir, e.Name()))
		if err != nil {
			return nil, err
		}
		out = append(out, step{name: e.Name(), sql: string(text)})
	}
	return out, nil
}

// migrate applies the steps that db has not had, each in its own transaction, and
// records each by name. When a step fails the ones before it stay.
func migrate(ctx context.Context, db *sql.DB, all []step, log *slog.Logger) error {
	for i, st := range all {
		done, err := apply(ctx, db, i+1, len(all), st)
		if err != nil {
			return fmt.Errorf("migration %s: %w", st.name, err)
		}
		if done {
			log.InfoContext(ctx, "schema migrated", "step", st.name)
		}
	}
	return nil
}

// apply brings db from schema n-1 to n. It reads the version inside the transaction,
// because another process may be doing the same.
func apply(ctx context.Context, db *sql.DB, n, last int, st step) (bool, error) {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return false, err
	}
	defer tx.Rollback() // after Commit it does nothing
	_, version, err := header(ctx, tx)
	if err != nil {
		return false, err
	}
	if version > last {
		return false, ErrNewer
	}
	if version >= n {
		return false, nil
	}
	if version != n-1 {
		return false, fmt.Errorf("schema is %d, want %d", version, n-1)
	}
	const record = `
CREATE TABLE IF NOT EXISTS migration (
	n    INTEGER PRIMARY KEY,
	name TEXT NOT NULL
) STRICT`
	for _, q := range []string{
		record,
		st.sql,
		fmt.Sprintf("PRAGMA application_id = %d", Application), // pragmas take no arguments
		fmt.Sprintf("PRAGMA user_version = %d", n),
	} {
		if _, err := tx.ExecContext(ctx, q); err != nil {
			return false, err
		}
	}
	if _, err := tx.ExecContext(ctx, "INSERT INTO migration (n, name) VALUES ($1, $2)", n, st.name); err != nil {
		return false, err
	}
	return true, tx.Commit()
}
