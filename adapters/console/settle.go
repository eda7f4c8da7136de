package console

import (
	"context"
	"fmt"
	"sync"

	"halfsplit/bot"
)

// settler waits until what was received has been answered and the answers were sent.
type settler struct {
	a    *Adapter
	ctx  context.Context
	in   bot.Settler // nil: the receiver cannot tell
	kick chan struct{}
	done sync.WaitGroup
}

// settler starts the waiting of one Run. It ends with ctx.
func (a *Adapter) settler(ctx context.Context, in bot.Receiver) *settler {
	s := &settler{a: a, ctx: ctx, kick: make(chan struct{}, 1)}
	s.in, _ = in.(bot.Settler)
	if a.cfg.Terminal {
		s.done.Go(s.serve)
	}
	return s
}

// serve shows the prompt mark each time things have settled after a kick.
func (s *settler) serve() {
	for {
		select {
		case <-s.ctx.Done():
			return
		case <-s.kick:
			if err := s.now(); err != nil {
				s.a.log.ErrorContext(s.ctx, "settle", "err", err)
			}
			if s.ctx.Err() == nil {
				s.a.showPrompt()
			}
		}
	}
}

// later asks for the prompt mark, on a terminal, when things have settled.
func (s *settler) later() {
	select {
	case s.kick <- struct{}{}:
	default: // asked already
	}
}

// now blocks until things have settled.
func (s *settler) now() error {
	if s.in == nil {
		return nil
	}
	if err := s.in.Settled(s.ctx, s.a.cfg.Conversation); err != nil && s.ctx.Err() == nil {
		return fmt.Errorf("console: wait for the answers: %w", err)
	}
	return nil
}

func (s *settler) wait() { s.done.Wait() }
