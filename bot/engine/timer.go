package engine

import (
	"context"
	"time"
)

// horizon is how far ahead timers are looked for, so as to wake at the next one.
const horizon = time.Hour

// keepTime pokes jobs whose timers are due. They fire in the job's own goroutine, by a
// commit that consumes them, so that a timer has one effect however many processes see
// it due.
func (e *Engine) keepTime(ctx context.Context) {
	for {
		wait := e.cfg.Poll
		now := e.now()
		due, err := e.cfg.Store.Due(ctx, now+horizon.Milliseconds())
		if err != nil && ctx.Err() == nil {
			e.log.ErrorContext(ctx, "timers not read", "err", err)
		}
		for _, t := range due {
			if t.Due > now {
				wait = min(wait, time.Duration(t.Due-now)*time.Millisecond)
				break
			}
			e.poke(t.Job, "")
		}
		if !sleep(ctx, wait, e.wake.timers) {
			return
		}
	}
}
