package bottest

import (
	"context"
	"errors"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"halfsplit/bot"
)

func restart(t *testing.T, h Harness, can Restarter) {
	var r recorder // remembers keys, as a store does over a restart
	s := start(t, h, &r)
	h.Say(t, "12 ohm")
	s.wait("the event", func() bool { return len(r.events()) == 1 })
	s.stop()
	again := can.Restart(t)
	s = start(t, again, &r)
	again.Say(t, "12 ohm")
	if !s.poll(func() bool { return len(r.events()) == 2 }) {
		t.Fatal("an event after a restart passed for a redelivery of one before it")
	}
	first, second := r.events()[0], r.events()[1]
	if first.Conversation != second.Conversation || first.Person != second.Person {
		t.Errorf("after a restart %q in %q is %q in %q", first.Person, first.Conversation, second.Person, second.Conversation)
	}
}

// settled is a recorder that answers each event and can be waited for.
type settled struct {
	recorder
	h       Harness
	mu      sync.Mutex
	pending int
	early   []string // events offered before the one before was settled
	calls   int
}

func (s *settled) Receive(ctx context.Context, m bot.Incoming) error {
	s.mu.Lock()
	if s.pending > 0 {
		s.early = append(s.early, m.Text)
	}
	s.pending++
	s.mu.Unlock()
	return s.recorder.Receive(ctx, m)
}

func (s *settled) Settled(ctx context.Context, c bot.ConversationID) error {
	s.mu.Lock()
	s.calls++
	due := s.pending
	s.mu.Unlock()
	if due == 0 {
		return nil
	}
	time.Sleep(5 * time.Millisecond) // long enough for an adapter that does not wait to go wrong
	events := s.recorder.events()
	m := events[len(events)-1]
	_, err := s.h.Adapter().Send(ctx, bot.Outgoing{Key: "answer " + string(m.Keys[0]), Adapter: m.Adapter,
		Conversation: c, Text: "heard " + m.Text, Attempt: 1})
	s.mu.Lock()
	s.pending -= due
	s.mu.Unlock()
	return err
}

func endOfInput(t *testing.T, h Harness, can Ender) {
	r := &settled{h: h}
	s := start(t, h, r)
	want := []string{"one", "two", "three"}
	for _, text := range want {
		h.Say(t, text)
	}
	can.End(t)
	s.ended("at the end of input")
	if got := r.texts(); !slices.Equal(got, want) {
		t.Errorf("events: got %q, want %q", got, want)
	}
	if len(r.early) > 0 {
		t.Errorf("offered before the event before was settled: %q", r.early)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.pending != 0 || r.calls < len(want) {
		t.Errorf("Run returned with %d events not settled, after %d waits", r.pending, r.calls)
	}
	for i, got := range s.seen(len(want)) {
		if !s.same("heard "+want[i], got.Text) {
			t.Errorf("answer %d: got %q, want %q", i, got.Text, "heard "+want[i])
		}
	}
}

// counter counts each offer, also of what was seen before.
type counter struct {
	mu     sync.Mutex
	offers []bot.Incoming
}

func (c *counter) Receive(_ context.Context, m bot.Incoming) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.offers = append(c.offers, m)
	return nil
}

func (c *counter) all() []bot.Incoming {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.offers)
}

func redelivery(t *testing.T, h Harness, can Redeliverer) {
	var c counter
	s := start(t, h, &c)
	h.Say(t, "once")
	s.wait("the event", func() bool { return len(c.all()) >= 1 })
	can.Redeliver(t)
	h.Say(t, "marker")
	s.wait("the event after it", func() bool {
		return slices.ContainsFunc(c.all(), func(m bot.Incoming) bool { return m.Text == "marker" })
	})
	all := c.all()
	for _, m := range all {
		if m.Text != "once" {
			continue
		}
		if !slices.ContainsFunc(m.Keys, func(k bot.EventID) bool { return slices.Contains(all[0].Keys, k) }) {
			t.Errorf("delivered again with keys %q, before with %q: none in common", m.Keys, all[0].Keys)
		}
	}
}

func acknowledged(t *testing.T, h Harness, can Acknowledger) {
	r := recorder{refuse: map[string]int{"bad": 1 << 30}}
	s := start(t, h, &r)
	h.Say(t, "good")
	s.wait("an acknowledgement", func() bool { return len(r.events()) == 1 && can.Acknowledged(t) == 1 })
	h.Say(t, "bad")
	s.wait("the refused event", func() bool { return len(r.refused()) > 0 })
	time.Sleep(20 * time.Millisecond) // time to do wrong; being right does not depend on it
	if n := can.Acknowledged(t); n != 1 {
		t.Errorf("%d events acknowledged, want only the one that was stored", n)
	}
}

func echo(t *testing.T, h Harness, can Echoer) {
	var r recorder
	s := start(t, h, &r)
	can.Echo(t, "what the bot said")
	h.Say(t, "what the person said")
	s.wait("the event", func() bool { return slices.Contains(r.texts(), "what the person said") })
	if got := r.texts(); len(got) != 1 {
		t.Errorf("events: got %q, want only the person's", got)
	}
}

func cut(t *testing.T, h Harness, can Dropper) {
	var r recorder
	s := start(t, h, &r)
	h.Say(t, "before")
	s.wait("the event before the cut", func() bool { return len(r.events()) == 1 })
	can.Drop(t)
	h.Say(t, "after")
	s.wait("the event after the cut", func() bool { return slices.Contains(r.texts(), "after") })
	s.send(s.message("job/1/1", "still here"))
	s.seen(1)
	if got, want := r.texts(), []string{"before", "after"}; !slices.Equal(got, want) {
		t.Errorf("events: got %q, want %q", got, want)
	}
}

func rateLimit(t *testing.T, h Harness, can Limiter) {
	s := start(t, h, &recorder{})
	const after = 3 * time.Second
	can.RateLimit(t, after)
	_, err := h.Adapter().Send(t.Context(), s.message("job/1/1", "too fast"))
	var limit *bot.RateLimit
	if !errors.As(err, &limit) || limit.After < after || limit.After > after+time.Second {
		t.Errorf("got %v, want a rate limit of %v", err, after)
	}
	s.send(s.message("job/1/1", "later")) // the same message, tried again
	if got := s.seen(1)[0].Text; !s.same("later", got) {
		t.Errorf("shown: %q", got)
	}
}

func secrets(t *testing.T, h Harness, can Keeper) {
	var r recorder
	s := start(t, h, &r)
	h.Say(t, "hello")
	s.wait("the event", func() bool { return len(r.events()) == 1 })
	s.send(s.message("job/1/1", "hello"))
	if d, ok := h.(Dropper); ok {
		d.Drop(t)
		h.Say(t, "again")
		s.wait("the event after the cut", func() bool { return len(r.events()) == 2 })
	}
	s.stop()
	for _, secret := range can.Secrets() {
		if secret != "" && strings.Contains(can.Log(), secret) {
			t.Errorf("the log holds a secret (%d characters)", len(secret))
		}
	}
}
