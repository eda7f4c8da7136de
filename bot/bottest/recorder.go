package bottest

import (
	"context"
	"errors"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"halfsplit/bot"
)

var errRefused = errors.New("the store is not available")

// recorder is a bot.Receiver that keeps what it was offered.
type recorder struct {
	mu     sync.Mutex
	got    []bot.Incoming // stored
	failed []bot.Incoming // offered and refused
	seen   map[bot.EventID]bool
	refuse map[string]int // by text: refuse so many times
	before func(ctx context.Context, m bot.Incoming)
}

func (r *recorder) Receive(ctx context.Context, m bot.Incoming) error {
	if r.before != nil {
		r.before(ctx, m)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.refuse[m.Text] > 0 {
		r.refuse[m.Text]--
		r.failed = append(r.failed, m)
		return errRefused
	}
	for _, k := range m.Keys { // as a store would
		if r.seen[k] {
			return nil
		}
	}
	if r.seen == nil {
		r.seen = map[bot.EventID]bool{}
	}
	for _, k := range m.Keys {
		r.seen[k] = true
	}
	r.got = append(r.got, m)
	return nil
}

func (r *recorder) events() []bot.Incoming {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.got)
}

func (r *recorder) texts() []string {
	var out []string
	for _, m := range r.events() {
		out = append(out, m.Text)
	}
	return out
}

func (r *recorder) refused() []bot.Incoming {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.failed)
}

// session is an adapter under way.
type session struct {
	t        *testing.T
	h        Harness
	patience time.Duration
	cancel   context.CancelFunc
	result   chan error
	before   int // goroutines
}

// start runs the adapter of h. The test stops it at its end, if not before.
func start(t *testing.T, h Harness, in bot.Receiver) *session {
	t.Helper()
	s := &session{t: t, h: h, patience: 5 * time.Second, result: make(chan error, 1), before: runtime.NumGoroutine()}
	if p, ok := h.(Patient); ok {
		s.patience = p.Patience()
	}
	ctx, cancel := context.WithCancel(t.Context())
	s.cancel = cancel
	result := s.result
	go func() { result <- h.Adapter().Run(ctx, in) }()
	t.Cleanup(func() { s.stop() })
	return s
}

// stop cancels Run and checks that it ends well and leaves nothing running.
func (s *session) stop() {
	s.t.Helper()
	if s.result == nil {
		return
	}
	s.cancel()
	s.ended("after its context ended")
}

// ended waits for Run to return nil by itself.
func (s *session) ended(when string) {
	s.t.Helper()
	result := s.result
	s.result = nil
	defer s.cancel()
	select {
	case err := <-result:
		if err != nil {
			s.t.Errorf("Run %s: got %v, want nil", when, err)
		}
	case <-time.After(s.patience):
		s.t.Fatalf("Run did not return %s within %v", when, s.patience)
	}
	if !s.poll(func() bool { return runtime.NumGoroutine() <= s.before }) {
		buf := make([]byte, 1<<16)
		s.t.Errorf("Run left %d goroutines:\n%s", runtime.NumGoroutine()-s.before, buf[:runtime.Stack(buf, true)])
	}
}

// poll waits until cond holds and reports whether it came to that.
func (s *session) poll(cond func() bool) bool {
	for end := time.Now().Add(s.patience); ; time.Sleep(time.Millisecond) {
		if cond() {
			return true
		}
		if time.Now().After(end) {
			return false
		}
	}
}

// wait is poll that ends the test.
func (s *session) wait(what string, cond func() bool) {
	s.t.Helper()
	if !s.poll(cond) {
		s.t.Fatalf("%s: not within %v", what, s.patience)
	}
}

// same compares a text sent with a text seen.
func (s *session) same(sent, seen string) bool {
	if l, ok := s.h.(Lenient); ok {
		return l.Same(sent, seen)
	}
	return sent == seen
}

// message is one to be posted in the conversation of the harness.
func (s *session) message(key, text string) bot.Outgoing {
	return bot.Outgoing{Key: key, Job: "job", Adapter: s.h.Adapter().Name(), Conversation: s.h.Conversation(), Text: text, Attempt: 1}
}

// send posts a message and returns where it stands.
func (s *session) send(m bot.Outgoing) bot.MessageRef {
	s.t.Helper()
	ref, err := s.h.Adapter().Send(s.t.Context(), m)
	if err != nil {
		s.t.Fatalf("send %s: %v", m.Key, err)
	}
	if ref == "" {
		s.t.Errorf("send %s: no reference", m.Key)
	}
	return ref
}

// seen waits until the person was shown n messages and returns them.
func (s *session) seen(n int) []Seen {
	s.t.Helper()
	var out []Seen
	if !s.poll(func() bool { out = s.h.Seen(s.t); return len(out) >= n }) || len(out) != n {
		s.t.Fatalf("the person was shown %d messages, want %d: %q", len(out), n, out)
	}
	return out
}
