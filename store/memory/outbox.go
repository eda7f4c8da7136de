package memory

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"slices"

	"halfsplit/bot"
)

// Claim implements bot.Store. A lease has ended when now has reached its until.
func (s *Store) Claim(ctx context.Context, adapter, owner string, now, until int64) (bot.Outgoing, error) {
	if err := s.enter(ctx); err != nil {
		return bot.Outgoing{}, err
	}
	defer s.mu.Unlock()
	s.outbox = slices.DeleteFunc(s.outbox, func(m *message) bool { return !m.waiting() }) // still in byKey
	held := map[bot.ConversationID]bool{}
	for _, m := range s.outbox {
		if m.out.Adapter != adapter || held[m.out.Conversation] {
			continue
		}
		if m.leaseUntil > now || m.notBefore > now {
			held[m.out.Conversation] = true
			continue
		}
		m.leaseUntil = until
		m.out.Attempt++
		out := m.out
		out.Choices = slices.Clone(out.Choices)
		return out, nil
	}
	return bot.Outgoing{}, bot.ErrNotFound
}

// settle applies fn to the message with the key; ErrNotFound if there is none.
func (s *Store) settle(ctx context.Context, key string, fn func(*message)) error {
	if err := s.enter(ctx); err != nil {
		return err
	}
	defer s.mu.Unlock()
	m := s.byKey[key]
	if m == nil {
		return fmt.Errorf("message %s: %w", key, bot.ErrNotFound)
	}
	fn(m)
	return nil
}

// Sent implements bot.Store. It is a fact about the platform and holds even if the
// lease has ended or the message was given up meanwhile. The reference is not kept:
// nothing reads it.
func (s *Store) Sent(ctx context.Context, key string, _ bot.MessageRef) error {
	return s.settle(ctx, key, func(m *message) { m.sent = true })
}

// Retry implements bot.Store. It does nothing to a message that was sent or dropped.
func (s *Store) Retry(ctx context.Context, key string, at int64) error {
	return s.settle(ctx, key, func(m *message) { m.leaseUntil, m.notBefore = 0, at })
}

// Drop implements bot.Store. It does nothing to a message that was sent.
func (s *Store) Drop(ctx context.Context, key, _ string) error {
	return s.settle(ctx, key, func(m *message) { m.dropped = true })
}

// Unsent implements bot.Store.
func (s *Store) Unsent(ctx context.Context, c bot.ConversationID) (int, error) {
	if err := s.enter(ctx); err != nil {
		return 0, err
	}
	defer s.mu.Unlock()
	n := 0
	for _, m := range s.outbox {
		if m.waiting() && m.out.Conversation == c {
			n++
		}
	}
	return n, nil
}

// Due implements bot.Store. Timers due at the same time come in the order of job and name.
func (s *Store) Due(ctx context.Context, now int64) ([]bot.Timer, error) {
	if err := s.enter(ctx); err != nil {
		return nil, err
	}
	defer s.mu.Unlock()
	var out []bot.Timer
	for k, due := range s.timers {
		if due <= now {
			out = append(out, bot.Timer{Job: k.job, Name: k.name, Due: due})
		}
	}
	slices.SortFunc(out, func(a, b bot.Timer) int {
		return cmp.Or(cmp.Compare(a.Due, b.Due), cmp.Compare(a.Job, b.Job), cmp.Compare(a.Name, b.Name))
	})
	return out, nil
}

// PutBlob implements bot.Store.
func (s *Store) PutBlob(ctx context.Context, hash string, data []byte) error {
	if err := bot.CheckBlob(hash, data); err != nil {
		return err
	}
	if err := s.enter(ctx); err != nil {
		return err
	}
	defer s.mu.Unlock()
	s.blobs[hash] = bytes.Clone(data)
	return nil
}

// Blob implements bot.Store.
func (s *Store) Blob(ctx context.Context, hash string) ([]byte, error) {
	if err := s.enter(ctx); err != nil {
		return nil, err
	}
	defer s.mu.Unlock()
	data, ok := s.blobs[hash]
	if !ok {
		return nil, fmt.Errorf("blob %s: %w", hash, bot.ErrNotFound)
	}
	return bytes.Clone(data), nil
}
