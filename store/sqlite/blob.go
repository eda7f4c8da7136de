package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"halfsplit/bot"
)

// PutBlob implements bot.Store.
func (s *Store) PutBlob(ctx context.Context, hash string, data []byte) error {
	if err := bot.CheckBlob(hash, data); err != nil {
		return err
	}
	if data == nil {
		data = []byte{} // nil would be NULL
	}
	return s.change(ctx, "put blob", func(tx *sql.Tx) error {
		const insert = "INSERT INTO content (hash, data) VALUES ($1, $2) ON CONFLICT (hash) DO NOTHING"
		_, err := tx.ExecContext(ctx, insert, hash, data)
		return err
	})
}

// Blob implements bot.Store.
func (s *Store) Blob(ctx context.Context, hash string) ([]byte, error) {
	var data []byte
	err := s.read.QueryRowContext(ctx, "SELECT data FROM content WHERE hash = $1", hash).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, fmt.Errorf("store: blob %s: %w", hash, bot.ErrNotFound)
	}
	if err != nil {
		return nil, fmt.Errorf("store: blob %s: %w", hash, err)
	}
	return data, nil
}
