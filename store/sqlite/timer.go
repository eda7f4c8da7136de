package sqlite

import (
	"context"
	"database/sql"
	"fmt"

	"halfsplit/bot"
)

func setTimers(ctx context.Context, tx *sql.Tx, c bot.Commit) error {
	const remove = "DELETE FROM timer WHERE job = $1 AND name = $2"
	for _, name := range c.Fired {
		if _, err := tx.ExecContext(ctx, remove, c.Job, name); err != nil {
			return err
		}
	}
	const set = `INSERT INTO timer (job, name, due) VALUES ($1, $2, $3)
		ON CONFLICT (job, name) DO UPDATE SET due = excluded.due`
	for _, t := range c.Timers {
		var err error
		if t.Due == 0 {
			_, err = tx.ExecContext(ctx, remove, c.Job, t.Name)
		} else {
			_, err = tx.ExecContext(ctx, set, c.Job, t.Name, t.Due)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Due implements bot.Store. Timers due at the same time come in the order of job and name.
func (s *Store) Due(ctx context.Context, now int64) ([]bot.Timer, error) {
	const query = "SELECT job, name, due FROM timer WHERE due <= $1 ORDER BY due, job, name"
	out, err := collect(ctx, s.read, query, func(rows *sql.Rows) (t bot.Timer, err error) {
		return t, rows.Scan(&t.Job, &t.Name, &t.Due)
	}, now)
	if err != nil {
		return nil, fmt.Errorf("store: list timers: %w", err)
	}
	return out, nil
}
