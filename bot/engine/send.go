package engine

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"halfsplit/bot"
)

// mostStrangers bounds what is remembered of people who are not served.
const mostStrangers = 10_000

// try is what this process knows of a message it gave back.
type try struct {
	attempt int
	doubt   bool // one of the attempts may have been posted
}

// sendAll sends what is in the outbox for one adapter until ctx ends.
func (e *Engine) sendAll(ctx context.Context, a bot.Adapter) {
	var wg sync.WaitGroup
	defer wg.Wait()
	free := make(chan struct{}, e.cfg.Senders)
	for {
		select {
		case <-ctx.Done():
			return
		case free <- struct{}{}:
		}
		wait, send := e.take(ctx, a)
		if send != nil {
			wg.Go(func() {
				send()
				<-free
				e.done()
				nudge(e.wake.senders[a.Name()])
			})
			continue
		}
		<-free
		if !sleep(ctx, wait, e.wake.senders[a.Name()]) {
			return
		}
	}
}

// take claims the next message of an adapter and returns how to send it, or how long to
// wait for one.
func (e *Engine) take(ctx context.Context, a bot.Adapter) (time.Duration, func()) {
	if m, ok := e.takeRefusal(a.Name()); ok {
		return 0, func() { e.sendRefusal(ctx, a, m) }
	}
	now := e.now()
	m, err := e.cfg.Store.Claim(ctx, a.Name(), e.cfg.Owner, now, now+e.cfg.Lease.Milliseconds())
	if errors.Is(err, bot.ErrNotFound) || ctx.Err() != nil {
		return e.cfg.Poll, nil
	}
	if err != nil {
		e.log.ErrorContext(ctx, "outbox not read", "adapter", a.Name(), "err", err)
		return e.cfg.Poll, nil
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.sending[m.Key] { // its sending outlasts its lease, which is now renewed
		return e.cfg.Poll, nil
	}
	e.sending[m.Key] = true
	return 0, func() {
		e.deliver(ctx, a, m)
		e.mu.Lock()
		delete(e.sending, m.Key)
		e.mu.Unlock()
	}
}

// deliver posts one claimed message and tells the store what became of it.
func (e *Engine) deliver(ctx context.Context, a bot.Adapter, m bot.Outgoing) {
	attempt := m.Attempt
	doubt := e.doubtful(&m)
	started := e.now()
	limit, cancel := context.WithTimeout(ctx, e.cfg.Lease*5/6)
	ref, err := a.Send(limit, m)
	expired := limit.Err() != nil
	cancel()

	var rate *bot.RateLimit
	var unknown *bot.UnknownDelivery
	var permanent *bot.Permanent
	back := e.now() + e.cfg.Backoff(attempt).Milliseconds()
	switch {
	case err == nil:
		e.mu.Lock()
		delete(e.tries, m.Key)
		if m.Prompt != 0 {
			e.posted[m.Job] = post{prompt: m.Prompt, at: started}
		}
		e.mu.Unlock()
		e.settle(ctx, m, func(ctx context.Context) error { return e.cfg.Store.Sent(ctx, m.Key, ref) })
		return
	case errors.As(err, &permanent):
		e.log.ErrorContext(ctx, "message given up", "adapter", a.Name(), "key", m.Key, "err", err)
		e.mu.Lock()
		delete(e.tries, m.Key)
		e.mu.Unlock()
		e.settle(ctx, m, func(ctx context.Context) error { return e.cfg.Store.Drop(ctx, m.Key, err.Error()) })
		return
	case ctx.Err() != nil: // the end of the program: the next one goes on at once
		back = e.now()
	case errors.As(err, &rate):
		back = e.now() + rate.After.Milliseconds()
	case errors.As(err, &unknown), expired:
		doubt = true
	}
	e.log.WarnContext(ctx, "message not sent", "adapter", a.Name(), "key", m.Key, "attempt", attempt, "err", err)
	e.mu.Lock()
	e.tries[m.Key] = try{attempt: attempt, doubt: doubt}
	e.mu.Unlock()
	e.settle(ctx, m, func(ctx context.Context) error { return e.cfg.Store.Retry(ctx, m.Key, back) })
}

// doubtful reports whether an earlier attempt of m may have been posted, and sets
// m.Attempt to 1 if none was: an adapter looks for the earlier one, or marks the text,
// if Attempt is more than 1. An attempt of which this process knows nothing was made by
// another, whose lease ran out.
func (e *Engine) doubtful(m *bot.Outgoing) bool {
	if m.Attempt <= 1 {
		return false
	}
	e.mu.Lock()
	t, known := e.tries[m.Key]
	e.mu.Unlock()
	if known && t.attempt == m.Attempt-1 && !t.doubt {
		m.Attempt = 1
		return false
	}
	return true
}

// settle tells the store the fate of a message, again until it is stored. At the end of
// ctx it tries for a last second.
func (e *Engine) settle(ctx context.Context, m bot.Outgoing, tell func(context.Context) error) {
	for n := 1; ; n++ {
		last, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
		err := tell(last)
		cancel()
		if err == nil || errors.Is(err, bot.ErrNotFound) {
			return
		}
		e.log.ErrorContext(ctx, "fate of message not stored", "key", m.Key, "err", err)
		if !sleep(ctx, e.cfg.Backoff(n), nil) {
			return
		}
	}
}

// refuse has a stranger told, once, that they are not served. Nothing is stored.
func (e *Engine) refuse(ctx context.Context, m bot.Incoming) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.strangers[m.Person] || len(e.strangers) >= mostStrangers {
		return
	}
	e.strangers[m.Person] = true
	e.log.InfoContext(ctx, "stranger refused", "person", m.Person)
	wake := e.wake.senders[m.Adapter]
	if wake == nil {
		return
	}
	e.refusals = append(e.refusals, bot.Outgoing{
		Key: "refusal/" + string(m.Person), Adapter: m.Adapter, Conversation: m.Conversation, Text: refusal, Attempt: 1,
	})
	nudge(wake)
}

// takeRefusal returns the first refusal of an adapter that is not under way.
func (e *Engine) takeRefusal(adapter string) (bot.Outgoing, bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for _, m := range e.refusals {
		if m.Adapter == adapter && !e.sending[m.Key] {
			e.sending[m.Key] = true
			return m, true
		}
	}
	return bot.Outgoing{}, false
}

// sendRefusal tries once: a stranger who is not reached may ask again after a restart.
func (e *Engine) sendRefusal(ctx context.Context, a bot.Adapter, m bot.Outgoing) {
	parts, _ := Degrade(m.Text, nil, a.Limits())
	for n, text := range parts {
		part := m
		part.Key, part.Text = fmt.Sprintf("%s/%d", m.Key, n+1), text
		if _, err := a.Send(ctx, part); err != nil {
			e.log.WarnContext(ctx, "refusal not sent", "adapter", a.Name(), "err", err)
			break
		}
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	delete(e.sending, m.Key)
	for i := range e.refusals {
		if e.refusals[i].Key == m.Key {
			e.refusals = append(e.refusals[:i], e.refusals[i+1:]...)
			break
		}
	}
}
