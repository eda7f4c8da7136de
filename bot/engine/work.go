package engine

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"time"

	"halfsplit/bot"
	"halfsplit/flows"
)

// giveUp is how often the dialog may fail on one input.
const giveUp = 3

// scanEvery is how often jobs are looked for that another process left unanswered.
const scanEvery = 30 * time.Second

// dispatch gives each job with something to do a goroutine of its own, so that a
// message which says stop never waits behind the computing of other jobs.
func (e *Engine) dispatch(ctx context.Context) {
	var wg sync.WaitGroup
	defer wg.Wait()
	for {
		e.mu.Lock()
		for job, w := range e.work {
			if !w.running {
				w.running = true
				wg.Go(func() { e.workOn(ctx, job, w) })
			}
		}
		e.mu.Unlock()
		select {
		case <-ctx.Done():
			return
		case <-e.wake.work:
		}
	}
}

// watch looks for unanswered jobs: at the start, when asked, and now and then.
func (e *Engine) watch(ctx context.Context) {
	for wait := time.Duration(0); ; {
		err := e.scan(ctx)
		switch {
		case err == nil:
			wait = scanEvery
			e.mu.Lock()
			e.ready = true
			e.mu.Unlock()
			e.done()
		case ctx.Err() != nil:
			return
		default:
			e.log.ErrorContext(ctx, "unanswered jobs not listed", "err", err)
			wait = time.Second
		}
		if !sleep(ctx, wait, e.wake.scan) {
			return
		}
	}
}

// scan pokes every job that has an unanswered message or a due timer.
func (e *Engine) scan(ctx context.Context) error {
	jobs, err := e.cfg.Store.Unanswered(ctx)
	if err != nil {
		return err
	}
	due, err := e.cfg.Store.Due(ctx, e.now())
	if err != nil {
		return err
	}
	for _, t := range due {
		jobs = append(jobs, t.Job)
	}
	for _, job := range jobs {
		info, err := e.cfg.Store.Info(ctx, job)
		if err != nil {
			return err
		}
		e.poke(job, info.Conversation)
	}
	return nil
}

// workOn does what there is to do for one job, then forgets it.
func (e *Engine) workOn(ctx context.Context, job bot.JobID, w *work) {
	failures := map[string]int{}
	for idle := 0; ; {
		e.mu.Lock()
		w.again = false
		e.mu.Unlock()
		err := e.advance(ctx, job, failures)
		if ctx.Err() != nil {
			return // w stays: it is not answered
		}
		if err != nil { // of the store: the message is safe there
			idle++
			e.log.ErrorContext(ctx, "job not advanced", "job", job, "err", err)
			if !sleep(ctx, min(100*time.Millisecond<<min(idle, 6), 5*time.Second), nil) {
				return
			}
			continue
		}
		idle = 0
		e.mu.Lock()
		if !w.again {
			delete(e.work, job)
			e.mu.Unlock()
			e.done()
			return
		}
		e.mu.Unlock()
	}
}

// advance answers every unanswered message of a job, then fires its due timers.
func (e *Engine) advance(ctx context.Context, job bot.JobID, failures map[string]int) error {
	for {
		recs, err := e.cfg.Store.Load(ctx, job)
		if err != nil {
			return err
		}
		info, err := e.cfg.Store.Info(ctx, job)
		if err != nil {
			return err
		}
		if info.Version != len(recs) {
			continue // it grew between the two
		}
		t, err := e.next(ctx, info, recs)
		if err != nil || t == nil {
			return err
		}
		c, err := e.step(ctx, *t)
		if err != nil {
			var fault *storeFault
			if errors.As(err, &fault) || ctx.Err() != nil {
				return err
			}
			failures[t.name]++
			e.log.ErrorContext(ctx, "step failed", "job", job, "on", t.name, "times", failures[t.name], "err", err)
			if failures[t.name] < giveUp {
				continue
			}
			if c, err = e.apologise(*t, err); err != nil {
				return err
			}
		}
		err = e.cfg.Store.Commit(ctx, c)
		if errors.Is(err, bot.ErrConflict) {
			continue
		}
		if err != nil {
			return err
		}
		e.log.InfoContext(ctx, "step committed", "job", job, "version", c.Version+len(c.Records))
		nudge(e.wake.senders[info.Adapter])
		if len(c.Timers) > 0 {
			nudge(e.wake.timers)
		}
	}
}

// task is one input to work on, with the trail it came to.
type task struct {
	info  bot.JobInfo
	recs  []bot.Record
	name  string // for counting failures
	heard *bot.Record
	timer string // if heard is nil
}

// next returns the earliest unanswered message of a job, else its earliest due timer,
// else nil. The timers are listed after the trail was loaded: one that was consumed or
// moved since makes the commit conflict.
func (e *Engine) next(ctx context.Context, info bot.JobInfo, recs []bot.Record) (*task, error) {
	heard := flows.Heard{}.Kind()
	for i := range recs {
		if r := &recs[i]; r.Seq > info.Answered && r.Kind == heard {
			return &task{info: info, recs: recs, name: fmt.Sprintf("record %d", r.Seq), heard: r}, nil
		}
	}
	due, err := e.cfg.Store.Due(ctx, e.now())
	if err != nil {
		return nil, err
	}
	for _, t := range due {
		if t.Job == info.Job {
			return &task{info: info, recs: recs, name: "timer " + t.Name, timer: t.Name}, nil
		}
	}
	return nil, nil
}

// step computes what a task brings; the trail is not touched. An error other than a
// storeFault means that the trail does not fold, or that the dialog failed or panicked,
// or that what it returned would not fold or has no JSON.
func (e *Engine) step(ctx context.Context, t task) (bot.Commit, error) {
	j, err := Fold(t.recs)
	if err != nil {
		return bot.Commit{}, err
	}
	in := flows.Input{At: max(j.Last, e.now())}
	var events []flows.Event
	if t.heard != nil {
		ev, err := Decode(*t.heard)
		if err != nil {
			return bot.Commit{}, err
		}
		h, ok := ev.(flows.Heard)
		if !ok {
			return bot.Commit{}, fmt.Errorf("record %d is %T: %w", t.heard.Seq, ev, flows.ErrTrail)
		}
		in.By, in.Rights = flows.PersonID(t.heard.By), h.Rights
		in.SentAt, in.Text, in.Choice, in.Prompt, in.Photo = h.Sent, h.Text, h.Choice, h.Prompt, h.Photo
		if in.Posted, err = e.postedAt(ctx, t.info, j); err != nil {
			return bot.Commit{}, &storeFault{err}
		}
	} else {
		in.Timer = t.timer
		events = append(events, flows.Timed{Name: t.timer})
	}
	var res flows.Result
	if t.heard != nil || !t.info.Closed { // a timer that outlived its job has no effect
		now := j
		if t.heard == nil {
			if now, err = flows.Apply(j, in.At, "", events[0]); err != nil {
				return bot.Commit{}, err
			}
		}
		if res, err = e.ask(now, in); err != nil {
			return bot.Commit{}, err
		}
	}
	if err := e.keepSources(ctx, res.Events); err != nil {
		return bot.Commit{}, &storeFault{err}
	}
	return e.commit(t, j, in, append(events, res.Events...), res)
}

// storeFault is an error of the store inside a step: it says nothing about the input.
type storeFault struct{ err error }

func (f *storeFault) Error() string { return f.err.Error() }
func (f *storeFault) Unwrap() error { return f.err }

// ask calls the dialog and turns a panic of it into an error.
func (e *Engine) ask(j flows.Job, in flows.Input) (res flows.Result, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = &panicked{value: r, stack: debug.Stack()}
		}
	}()
	return e.cfg.Dialog.Step(j, in)
}

// panicked is a panic of the dialog.
type panicked struct {
	value any
	stack []byte
}

func (p *panicked) Error() string { return fmt.Sprintf("dialog panicked: %v\n%s", p.value, p.stack) }

// commit makes records, outbox rows and timers of what a step on j brought. It is
// refused if the trail would not fold with it.
func (e *Engine) commit(t task, j flows.Job, in flows.Input, events []flows.Event, res flows.Result) (bot.Commit, error) {
	c := bot.Commit{Job: t.info.Job, Version: len(t.recs)}
	if t.heard != nil {
		c.Answered = t.heard.Seq
	} else { // every message before it is answered, or the task would be that message
		c.Answered = len(t.recs) + 1
		c.Fired = []string{t.timer}
	}
	for i, ev := range events {
		rec, err := Encode(c.Job, c.Version+1+i, in.At, in.By, ev)
		if err != nil {
			return bot.Commit{}, err
		}
		c.Records = append(c.Records, rec)
		if _, ok := ev.(flows.Closed); ok {
			c.Closed = true
		}
	}
	j, err := foldOn(j, c.Records)
	if err != nil {
		return bot.Commit{}, fmt.Errorf("what the dialog returned: %w", err)
	}
	c.Outbox = e.outbox(t.info, c.Version, events, res.Say, j.Asked)
	for _, tm := range res.Timers {
		c.Timers = append(c.Timers, bot.Timer{Job: c.Job, Name: tm.Name, Due: tm.Due})
	}
	return c, nil
}

// outbox makes the rows of what was said: one or more for each said event, in order.
// The n-th said event is the text of the n-th message, which has its choices.
func (e *Engine) outbox(info bot.JobInfo, version int, events []flows.Event, say []flows.Message, open *flows.Prompt) []bot.Outgoing {
	var limits bot.Limits
	for _, a := range e.cfg.Adapters {
		if a.Name() == info.Adapter {
			limits = a.Limits()
		}
	}
	var rows []bot.Outgoing
	said := 0
	for i, ev := range events {
		s, ok := ev.(flows.Said)
		if !ok {
			continue
		}
		m := bot.Outgoing{Job: info.Job, Adapter: info.Adapter, Conversation: info.Conversation}
		var choices []bot.Choice
		carries := false
		if said < len(say) {
			choices, carries = shown(say[said].Choices), say[said].Prompt
		}
		said++
		if s.Text == "" {
			continue
		}
		parts, buttons := Degrade(s.Text, choices, limits)
		for n, text := range parts {
			row := m
			row.Key = fmt.Sprintf("%s/%d/%d", info.Job, version+1+i, n+1)
			row.Text = text
			if n == len(parts)-1 {
				row.Choices = buttons
				if carries && open != nil {
					row.Prompt = open.ID
				}
			}
			rows = append(rows, row)
		}
	}
	return rows
}

func shown(choices []flows.Choice) []bot.Choice {
	var out []bot.Choice
	for _, c := range choices {
		out = append(out, bot.Choice{Word: c.Word, Label: c.Word, Value: c.Value})
	}
	return out
}

// apologise is the commit for an input the dialog cannot work on. It is made without
// folding, since the trail itself may be what is wrong.
func (e *Engine) apologise(t task, cause error) (bot.Commit, error) {
	at := e.now()
	for _, r := range t.recs {
		at = max(at, r.At)
	}
	c := bot.Commit{Job: t.info.Job, Version: len(t.recs)}
	said := flows.Said{Code: codeApology, Text: apologyMessage, Lang: "en"}
	var events []flows.Event
	if t.heard != nil {
		c.Answered = t.heard.Seq
	} else {
		c.Answered = len(t.recs) + 1
		c.Fired = []string{t.timer}
		events = append(events, flows.Timed{Name: t.timer})
		said.Text = apologyTimer
	}
	events = append(events, flows.Failed{Code: codeOf(cause)}, said)
	for i, ev := range events {
		rec, err := Encode(c.Job, c.Version+1+i, at, "", ev)
		if err != nil {
			return bot.Commit{}, err
		}
		c.Records = append(c.Records, rec)
	}
	c.Outbox = e.outbox(t.info, c.Version, events, nil, nil)
	return c, nil
}

// codeOf names the reason of a failed event.
func codeOf(err error) string {
	var unknown *UnknownRecord
	var panicked *panicked
	switch {
	case errors.As(err, &panicked):
		return "panic"
	case errors.As(err, &unknown):
		return "unknown_record"
	case errors.Is(err, flows.ErrTrail):
		return "trail"
	default:
		return "step"
	}
}

// keepSources stores the text of a unit that a job was opened with.
func (e *Engine) keepSources(ctx context.Context, events []flows.Event) error {
	for _, ev := range events {
		o, ok := ev.(flows.Opened)
		if !ok || e.cfg.Source == nil {
			continue
		}
		text, ok := e.cfg.Source(o.Unit)
		if !ok {
			continue // a skeleton unit: the event holds its text
		}
		if err := e.cfg.Store.PutBlob(ctx, bot.BlobHash(text), text); err != nil {
			return err
		}
	}
	return nil
}

// postedAt is when the open prompt of j was posted; zero if it was not yet.
func (e *Engine) postedAt(ctx context.Context, info bot.JobInfo, j flows.Job) (int64, error) {
	if j.Asked == nil {
		return 0, nil
	}
	if s, ok := e.cfg.Store.(PostedStore); ok {
		return s.Posted(ctx, info.Job, j.Asked.ID)
	}
	e.mu.Lock()
	p := e.posted[info.Job]
	e.mu.Unlock()
	if p.prompt == j.Asked.ID {
		return p.at, nil
	}
	n, err := e.cfg.Store.Unsent(ctx, info.Conversation)
	if err != nil || n > 0 {
		return 0, err
	}
	return j.Asked.At, nil
}
