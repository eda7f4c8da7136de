package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"halfsplit/bot"
)

// claim leases the head of line that has waited longest. A message that is leased, or
// not to be tried yet, holds up the later ones of its conversation.
const claim = `
UPDATE outbox SET owner = $2, lease_until = $4, attempt = attempt + 1
WHERE n = (
	SELECT o.n FROM outbox o
	WHERE o.adapter = $1 AND o.state = 'waiting' AND o.lease_until <= $3 AND o.not_before <= $3
	AND NOT EXISTS (
		SELECT 1 FROM outbox p
		WHERE p.adapter = o.adapter AND p.conversation = o.conversation AND p.state = 'waiting' AND p.n < o.n)
	ORDER BY o.n LIMIT 1)
RETURNING id, job, adapter, conversation, body, choices, prompt, attempt`

// Claim implements bot.Store. A lease has ended when now has reached its until.
func (s *Store) Claim(ctx context.Context, adapter, owner string, now, until int64) (bot.Outgoing, error) {
	var m bot.Outgoing
	err := s.change(ctx, "claim", func(tx *sql.Tx) error {
		var choices string
		err := tx.QueryRowContext(ctx, claim, adapter, owner, now, until).Scan(
			&m.Key, &m.Job, &m.Adapter, &m.Conversation, &m.Text, &choices, &m.Prompt, &m.Attempt)
		if errors.Is(err, sql.ErrNoRows) {
			return bot.ErrNotFound
		}
		if err != nil {
			return err
		}
		return json.Unmarshal([]byte(choices), &m.Choices)
	})
	if err != nil {
		return bot.Outgoing{}, err
	}
	return m, nil
}

// Sent implements bot.Store. It is a fact about the platform and holds even if the
// lease has ended or the message was given up meanwhile; the first reference is kept.
func (s *Store) Sent(ctx context.Context, key string, ref bot.MessageRef) error {
	return s.settle(ctx, "sent", key,
		"UPDATE outbox SET state = 'sent', ref = $2 WHERE id = $1 AND state <> 'sent'", key, ref)
}

// Retry implements bot.Store. It does nothing to a message that was sent or dropped.
func (s *Store) Retry(ctx context.Context, key string, at int64) error {
	return s.settle(ctx, "retry", key,
		"UPDATE outbox SET lease_until = 0, owner = '', not_before = $2 WHERE id = $1 AND state = 'waiting'", key, at)
}

// Drop implements bot.Store. It does nothing to a message that was sent.
func (s *Store) Drop(ctx context.Context, key, why string) error {
	return s.settle(ctx, "drop", key,
		"UPDATE outbox SET state = 'dropped', why = $2 WHERE id = $1 AND state = 'waiting'", key, why)
}

// settle runs an update of one message; ErrNotFound if there is no such message.
func (s *Store) settle(ctx context.Context, op, key, update string, args ...any) error {
	return s.change(ctx, op, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, update, args...)
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 1 {
			return err
		}
		known, err := exists(ctx, tx, "SELECT 1 FROM outbox WHERE id = $1", key)
		if err == nil && !known {
			err = fmt.Errorf("message %s: %w", key, bot.ErrNotFound)
		}
		return err
	})
}

// Unsent implements bot.Store.
func (s *Store) Unsent(ctx context.Context, c bot.ConversationID) (int, error) {
	var n int
	const query = "SELECT count(*) FROM outbox WHERE conversation = $1 AND state = 'waiting'"
	if err := s.read.QueryRowContext(ctx, query, c).Scan(&n); err != nil {
		return 0, fmt.Errorf("store: count unsent: %w", err)
	}
	return n, nil
}
