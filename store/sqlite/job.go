package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"halfsplit/bot"
)

// Hear implements bot.Store. Keys are per adapter.
func (s *Store) Hear(ctx context.Context, m bot.Incoming, fresh bot.JobID, rec bot.Record) (bot.Heard, error) {
	if err := m.Check(); err != nil {
		return bot.Heard{}, err
	}
	var h bot.Heard
	err := s.change(ctx, "hear", func(tx *sql.Tx) error {
		for _, k := range m.Keys {
			seen, err := exists(ctx, tx, "SELECT 1 FROM seen WHERE adapter = $1 AND event = $2", m.Adapter, k)
			if err != nil {
				return err
			}
			if seen {
				return bot.ErrSeen
			}
		}
		job, version, err := openJob(ctx, tx, m, fresh, rec.At)
		if err != nil {
			return err
		}
		h.Job, h.Seq, h.Fresh = job, version+1, version == 0
		h.Record = rec
		h.Record.Job, h.Record.Seq = h.Job, h.Seq
		if err := insertRecord(ctx, tx, h.Record); err != nil {
			return err
		}
		const grow = "UPDATE job SET version = $2, heard = $2, last = $3 WHERE id = $1"
		if _, err := tx.ExecContext(ctx, grow, h.Job, h.Seq, rec.At); err != nil {
			return err
		}
		const see = `INSERT INTO seen (adapter, event, job, seq) VALUES ($1, $2, $3, $4)
			ON CONFLICT (adapter, event) DO NOTHING` // one event may name a key twice
		for _, k := range m.Keys {
			if _, err := tx.ExecContext(ctx, see, m.Adapter, k, h.Job, h.Seq); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return bot.Heard{}, err
	}
	return h, nil
}

// openJob returns the open job of the place m came from and its version. A new one is
// inserted with version 0.
func openJob(ctx context.Context, tx *sql.Tx, m bot.Incoming, fresh bot.JobID, at int64) (bot.JobID, int, error) {
	const find = "SELECT id, version FROM job WHERE adapter = $1 AND conversation = $2 AND closed = 0"
	var job bot.JobID
	var version int
	err := tx.QueryRowContext(ctx, find, m.Adapter, m.Conversation).Scan(&job, &version)
	if err == nil || !errors.Is(err, sql.ErrNoRows) {
		return job, version, err
	}
	if fresh == "" {
		return "", 0, fmt.Errorf("%w: no id for a new job", bot.ErrInvalid)
	}
	taken, err := exists(ctx, tx, "SELECT 1 FROM job WHERE id = $1", fresh)
	if err != nil {
		return "", 0, err
	}
	if taken {
		return "", 0, fmt.Errorf("%w: job id %s is in use", bot.ErrInvalid, fresh)
	}
	const insert = `INSERT INTO job (id, adapter, conversation, opened, last, version, heard, answered, closed)
		VALUES ($1, $2, $3, $4, $4, 0, 0, 0, 0)`
	_, err = tx.ExecContext(ctx, insert, fresh, m.Adapter, m.Conversation, at)
	return fresh, 0, err
}

func exists(ctx context.Context, q querier, query string, args ...any) (bool, error) {
	var one int
	err := q.QueryRowContext(ctx, query, args...).Scan(&one)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

func insertRecord(ctx context.Context, tx *sql.Tx, r bot.Record) error {
	data := r.Data
	if data == nil {
		data = []byte{} // nil would be NULL
	}
	const insert = `INSERT INTO record (job, seq, schema, kind, at, person, data)
		VALUES ($1, $2, $3, $4, $5, $6, $7)`
	_, err := tx.ExecContext(ctx, insert, r.Job, r.Seq, r.Schema, r.Kind, r.At, r.By, data)
	return err
}

// Load implements bot.Store.
func (s *Store) Load(ctx context.Context, job bot.JobID) ([]bot.Record, error) {
	const query = "SELECT job, seq, schema, kind, at, person, data FROM record WHERE job = $1 ORDER BY seq"
	out, err := collect(ctx, s.read, query, func(rows *sql.Rows) (r bot.Record, err error) {
		err = rows.Scan(&r.Job, &r.Seq, &r.Schema, &r.Kind, &r.At, &r.By, &r.Data)
		return r, err
	}, job)
	if err != nil {
		return nil, fmt.Errorf("store: load job %s: %w", job, err)
	}
	if len(out) == 0 { // a job has at least the record it was opened with
		return nil, fmt.Errorf("store: job %s: %w", job, bot.ErrNotFound)
	}
	return out, nil
}

const selectJob = "SELECT id, adapter, conversation, opened, last, version, answered, closed FROM job"

func scanJob(rows *sql.Rows) (j bot.JobInfo, err error) {
	var closed int
	err = rows.Scan(&j.Job, &j.Adapter, &j.Conversation, &j.Opened, &j.Last, &j.Version, &j.Answered, &closed)
	j.Closed = closed != 0
	return j, err
}

// Info implements bot.Store.
func (s *Store) Info(ctx context.Context, job bot.JobID) (bot.JobInfo, error) {
	out, err := collect(ctx, s.read, selectJob+" WHERE id = $1", scanJob, job)
	if err != nil {
		return bot.JobInfo{}, fmt.Errorf("store: job %s: %w", job, err)
	}
	if len(out) == 0 {
		return bot.JobInfo{}, fmt.Errorf("store: job %s: %w", job, bot.ErrNotFound)
	}
	return out[0], nil
}

// Jobs implements bot.Store.
func (s *Store) Jobs(ctx context.Context) ([]bot.JobInfo, error) {
	out, err := collect(ctx, s.read, selectJob+" ORDER BY opened DESC, n DESC", scanJob)
	if err != nil {
		return nil, fmt.Errorf("store: list jobs: %w", err)
	}
	return out, nil
}

// Unanswered implements bot.Store, the earliest opened first.
func (s *Store) Unanswered(ctx context.Context) ([]bot.JobID, error) {
	const query = "SELECT id FROM job WHERE heard > answered ORDER BY n"
	out, err := collect(ctx, s.read, query, func(rows *sql.Rows) (id bot.JobID, err error) {
		return id, rows.Scan(&id)
	})
	if err != nil {
		return nil, fmt.Errorf("store: list unanswered: %w", err)
	}
	return out, nil
}

// Commit implements bot.Store. Answered never goes back, and a closed job stays closed.
// Timers that fired are consumed before the new ones are set.
func (s *Store) Commit(ctx context.Context, c bot.Commit) error {
	if err := c.Check(); err != nil {
		return err
	}
	return s.change(ctx, "commit", func(tx *sql.Tx) error {
		var version int
		err := tx.QueryRowContext(ctx, "SELECT version FROM job WHERE id = $1", c.Job).Scan(&version)
		if errors.Is(err, sql.ErrNoRows) {
			return fmt.Errorf("job %s: %w", c.Job, bot.ErrNotFound)
		}
		if err != nil {
			return err
		}
		if version != c.Version {
			return fmt.Errorf("job %s is at %d, step was at %d: %w", c.Job, version, c.Version, bot.ErrConflict)
		}
		for _, r := range c.Records {
			r.Job = c.Job
			if err := insertRecord(ctx, tx, r); err != nil {
				return err
			}
		}
		for _, m := range c.Outbox {
			m.Job = c.Job
			if err := insertOutgoing(ctx, tx, m); err != nil {
				return err
			}
		}
		if err := setTimers(ctx, tx, c); err != nil {
			return err
		}
		return updateJob(ctx, tx, c)
	})
}

func updateJob(ctx context.Context, tx *sql.Tx, c bot.Commit) error {
	const update = `UPDATE job SET version = $2,
		answered = CASE WHEN answered < $3 THEN $3 ELSE answered END,
		closed = CASE WHEN $4 = 1 THEN 1 ELSE closed END
		WHERE id = $1`
	closed := 0
	if c.Closed {
		closed = 1
	}
	if _, err := tx.ExecContext(ctx, update, c.Job, c.Version+len(c.Records), c.Answered, closed); err != nil {
		return err
	}
	if len(c.Records) == 0 {
		return nil
	}
	at := c.Records[len(c.Records)-1].At
	_, err := tx.ExecContext(ctx, "UPDATE job SET last = $2 WHERE id = $1", c.Job, at)
	return err
}

func insertOutgoing(ctx context.Context, tx *sql.Tx, m bot.Outgoing) error {
	taken, err := exists(ctx, tx, "SELECT 1 FROM outbox WHERE id = $1", m.Key)
	if err != nil {
		return err
	}
	if taken {
		return fmt.Errorf("%w: message key %s is in use", bot.ErrInvalid, m.Key)
	}
	choices, err := json.Marshal(m.Choices)
	if err != nil {
		return err
	}
	const insert = `INSERT INTO outbox (id, job, adapter, conversation, body, choices, prompt)
		VALUES ($1, $2, $3, $4, $5, $6, $7)`
	_, err = tx.ExecContext(ctx, insert, m.Key, m.Job, m.Adapter, m.Conversation, m.Text, string(choices), m.Prompt)
	return err
}

// collect runs a query and reads each row with scan.
func collect[T any](ctx context.Context, db *sql.DB, query string, scan func(*sql.Rows) (T, error), args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}
