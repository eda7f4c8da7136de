// Package memory keeps jobs, trails, outbox and timers in memory, for tests and for
// trying things out. Nothing survives the process.
package memory

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"

	"halfsplit/bot"
)

var _ bot.Store = (*Store)(nil)

// ErrClosed is returned by every method after Close.
var ErrClosed = errors.New("store is closed")

// Store is a bot.Store in memory. Its methods may be called from several goroutines.
type Store struct {
	mu     sync.Mutex
	closed bool
	jobs   []*job // in order of opening
	byID   map[bot.JobID]*job
	open   map[place]*job
	seen   map[event]bool
	outbox []*message // in order of commit
	byKey  map[string]*message
	timers map[timer]int64
	blobs  map[string][]byte
}

type place struct {
	adapter      string
	conversation bot.ConversationID
}

type event struct {
	adapter string
	id      bot.EventID
}

type timer struct {
	job  bot.JobID
	name string
}

type job struct {
	info  bot.JobInfo
	heard int
	trail []bot.Record
}

type message struct {
	out        bot.Outgoing
	sent       bool
	dropped    bool
	leaseUntil int64
	notBefore  int64
}

func (m *message) waiting() bool { return !m.sent && !m.dropped }

// New returns an empty store.
func New() *Store {
	return &Store{
		byID:   map[bot.JobID]*job{},
		open:   map[place]*job{},
		seen:   map[event]bool{},
		byKey:  map[string]*message{},
		timers: map[timer]int64{},
		blobs:  map[string][]byte{},
	}
}

// enter locks the store; the caller unlocks it if the error is nil.
func (s *Store) enter(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return ErrClosed
	}
	return nil
}

// Close implements bot.Store.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	return nil
}

// Hear implements bot.Store. Keys are per adapter.
func (s *Store) Hear(ctx context.Context, m bot.Incoming, fresh bot.JobID, rec bot.Record) (bot.Heard, error) {
	if err := m.Check(); err != nil {
		return bot.Heard{}, err
	}
	if err := s.enter(ctx); err != nil {
		return bot.Heard{}, err
	}
	defer s.mu.Unlock()
	for _, k := range m.Keys {
		if s.seen[event{m.Adapter, k}] {
			return bot.Heard{}, bot.ErrSeen
		}
	}
	at := place{m.Adapter, m.Conversation}
	j := s.open[at]
	isFresh := j == nil
	if isFresh {
		if fresh == "" {
			return bot.Heard{}, fmt.Errorf("%w: no id for a new job", bot.ErrInvalid)
		}
		if s.byID[fresh] != nil {
			return bot.Heard{}, fmt.Errorf("%w: job id %s is in use", bot.ErrInvalid, fresh)
		}
		j = &job{info: bot.JobInfo{Job: fresh, Adapter: m.Adapter, Conversation: m.Conversation, Opened: rec.At}}
		s.jobs = append(s.jobs, j)
		s.byID[fresh] = j
		s.open[at] = j
	}
	rec.Job, rec.Seq = j.info.Job, j.info.Version+1
	j.add(rec)
	j.heard = rec.Seq
	for _, k := range m.Keys {
		s.seen[event{m.Adapter, k}] = true
	}
	return bot.Heard{Job: rec.Job, Seq: rec.Seq, Fresh: isFresh, Record: rec}, nil
}

func (j *job) add(r bot.Record) {
	r.Data = bytes.Clone(r.Data)
	j.trail = append(j.trail, r)
	j.info.Version, j.info.Last = r.Seq, r.At
}

// Load implements bot.Store.
func (s *Store) Load(ctx context.Context, id bot.JobID) ([]bot.Record, error) {
	if err := s.enter(ctx); err != nil {
		return nil, err
	}
	defer s.mu.Unlock()
	j := s.byID[id]
	if j == nil {
		return nil, fmt.Errorf("job %s: %w", id, bot.ErrNotFound)
	}
	out := slices.Clone(j.trail)
	for i := range out {
		out[i].Data = bytes.Clone(out[i].Data)
	}
	return out, nil
}

// Info implements bot.Store.
func (s *Store) Info(ctx context.Context, id bot.JobID) (bot.JobInfo, error) {
	if err := s.enter(ctx); err != nil {
		return bot.JobInfo{}, err
	}
	defer s.mu.Unlock()
	j := s.byID[id]
	if j == nil {
		return bot.JobInfo{}, fmt.Errorf("job %s: %w", id, bot.ErrNotFound)
	}
	return j.info, nil
}

// Jobs implements bot.Store.
func (s *Store) Jobs(ctx context.Context) ([]bot.JobInfo, error) {
	if err := s.enter(ctx); err != nil {
		return nil, err
	}
	defer s.mu.Unlock()
	var out []bot.JobInfo
	for _, j := range slices.Backward(s.jobs) {
		out = append(out, j.info)
	}
	slices.SortStableFunc(out, func(a, b bot.JobInfo) int { return cmp.Compare(b.Opened, a.Opened) })
	return out, nil
}

// Unanswered implements bot.Store, the earliest opened first.
func (s *Store) Unanswered(ctx context.Context) ([]bot.JobID, error) {
	if err := s.enter(ctx); err != nil {
		return nil, err
	}
	defer s.mu.Unlock()
	var out []bot.JobID
	for _, j := range s.jobs {
		if j.heard > j.info.Answered {
			out = append(out, j.info.Job)
		}
	}
	return out, nil
}

// Commit implements bot.Store. Answered never goes back, and a closed job stays closed.
// Timers that fired are consumed before the new ones are set.
func (s *Store) Commit(ctx context.Context, c bot.Commit) error {
	if err := c.Check(); err != nil {
		return err
	}
	if err := s.enter(ctx); err != nil {
		return err
	}
	defer s.mu.Unlock()
	j := s.byID[c.Job]
	if j == nil {
		return fmt.Errorf("job %s: %w", c.Job, bot.ErrNotFound)
	}
	if j.info.Version != c.Version {
		return fmt.Errorf("job %s is at %d, step was at %d: %w", c.Job, j.info.Version, c.Version, bot.ErrConflict)
	}
	keys := map[string]bool{}
	for _, m := range c.Outbox { // all checks before the first change
		if s.byKey[m.Key] != nil || keys[m.Key] {
			return fmt.Errorf("%w: message key %s is in use", bot.ErrInvalid, m.Key)
		}
		keys[m.Key] = true
	}
	for _, r := range c.Records {
		r.Job = c.Job
		j.add(r)
	}
	for _, m := range c.Outbox {
		m.Job, m.Attempt = c.Job, 0
		m.Choices = slices.Clone(m.Choices)
		row := &message{out: m}
		s.outbox = append(s.outbox, row)
		s.byKey[m.Key] = row
	}
	for _, name := range c.Fired {
		delete(s.timers, timer{c.Job, name})
	}
	for _, t := range c.Timers {
		if t.Due == 0 {
			delete(s.timers, timer{c.Job, t.Name})
		} else {
			s.timers[timer{c.Job, t.Name}] = t.Due
		}
	}
	j.info.Answered = max(j.info.Answered, c.Answered)
	if c.Closed && !j.info.Closed {
		j.info.Closed = true
		delete(s.open, place{j.info.Adapter, j.info.Conversation})
	}
	return nil
}
