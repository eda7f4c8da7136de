// Package engine joins the conversation (package bot) and the dialog (package flows).
//
// A message lives in two short transactions with no computation in either. Receive
// stores it (Hear) and only then is the platform told. Outside any transaction the
// trail of its job is loaded and folded and the dialog takes one step. Commit then
// writes the events, the messages to be sent and the timers, if the trail has not
// grown meanwhile; if it has, the step is computed again.
package engine

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"strings"
	"sync"
	"time"

	"halfsplit/bot"
	"halfsplit/flows"
	"halfsplit/flows/circuit"
)

var (
	_ bot.Receiver = (*Engine)(nil)
	_ bot.Settler  = (*Engine)(nil)
)

// Dialog computes what one input brings. It is pure.
type Dialog interface {
	Step(j flows.Job, in flows.Input) (flows.Result, error)
}

// People knows who is served.
type People interface {
	// Rights returns what a person may do; false for a stranger.
	Rights(p bot.PersonID) (flows.Rights, bool)
}

// PostedStore is an optional interface of a store: when the message that carries a
// prompt was marked sent, ms UTC; zero if it was not. Without it an Engine knows the
// time of what it sent itself, and takes the time of asking for what another process
// sent.
type PostedStore interface {
	Posted(ctx context.Context, job bot.JobID, prompt int) (int64, error)
}

// Place is a conversation of an adapter.
type Place struct {
	Adapter      string
	Conversation bot.ConversationID
}

// Config is what an Engine is made of. Store, Dialog and People are needed.
type Config struct {
	Store    bot.Store
	Dialog   Dialog
	Adapters []bot.Adapter
	People   People

	Now   func() time.Time // nil: time.Now
	NewID func() string    // of a new job; nil: 10 random letters and digits
	Owner string           // of leases, different for each process; empty: host and process id
	Log   *slog.Logger     // nil: none

	// Source returns the text of a unit file by its hash, to be kept beside the jobs
	// that use it; nil: it is not kept.
	Source func(circuit.Hash) ([]byte, bool)
	// Resume are the places that do not keep what was shown, such as a terminal:
	// when Run starts, the open prompt of the open job there is shown once more.
	Resume []Place

	Lease   time.Duration               // of a message being sent; 0: 30 s
	Poll    time.Duration               // for what other processes left; 0: 1 s
	Senders int                         // messages under way at once, per adapter; 0: 4
	Backoff func(try int) time.Duration // before try+1; nil: 1 s doubled each time up to 1 min
}

// Engine is the middle of the bot. Its methods may be called from several goroutines.
type Engine struct {
	cfg  Config
	log  *slog.Logger
	wake struct {
		work, timers, scan chan struct{}
		senders            map[string]chan struct{}
	}

	mu        sync.Mutex
	ready     bool                  // jobs left over by an earlier process are known
	work      map[bot.JobID]*work   // jobs with something to do
	changed   chan struct{}         // closed and replaced when anything is done
	strangers map[bot.PersonID]bool // those who were refused
	refusals  []bot.Outgoing        // not yet sent
	posted    map[bot.JobID]post    // latest prompt sent by this process
	sending   map[string]bool       // keys under way
	tries     map[string]try        // of messages given back by this process
}

// work is a job with something to do.
type work struct {
	place   bot.ConversationID // empty if only a timer called for it
	running bool
	again   bool
}

type post struct {
	prompt int
	at     int64
}

// New returns an engine. It panics on nothing and connects to nothing: Run does.
func New(cfg Config) *Engine {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.NewID == nil {
		cfg.NewID = func() string { return strings.ToLower(rand.Text()[:10]) }
	}
	if cfg.Owner == "" {
		host, err := os.Hostname()
		if err != nil {
			host = "host"
		}
		cfg.Owner = fmt.Sprintf("%s:%d", host, os.Getpid())
	}
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	if cfg.Lease <= 0 {
		cfg.Lease = 30 * time.Second
	}
	if cfg.Poll <= 0 {
		cfg.Poll = time.Second
	}
	if cfg.Senders <= 0 {
		cfg.Senders = 4
	}
	if cfg.Backoff == nil {
		cfg.Backoff = backoff
	}
	e := &Engine{
		cfg: cfg, log: cfg.Log,
		work: map[bot.JobID]*work{}, changed: make(chan struct{}),
		strangers: map[bot.PersonID]bool{}, posted: map[bot.JobID]post{},
		sending: map[string]bool{}, tries: map[string]try{},
	}
	e.wake.work = make(chan struct{}, 1)
	e.wake.timers = make(chan struct{}, 1)
	e.wake.scan = make(chan struct{}, 1)
	e.wake.senders = map[string]chan struct{}{}
	for _, a := range cfg.Adapters {
		e.wake.senders[a.Name()] = make(chan struct{}, 1)
	}
	return e
}

func backoff(try int) time.Duration {
	return min(time.Second<<min(max(try-1, 0), 6), time.Minute)
}

// Run works until ctx ends, or until every adapter has come to the end of its input,
// or until one fails; only the last is an error. Nothing is left running.
// A job that was under way is stepped again at the next start.
func (e *Engine) Run(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	wg.Go(func() { e.dispatch(ctx) })
	wg.Go(func() { e.watch(ctx) })
	wg.Go(func() { e.keepTime(ctx) })
	for _, a := range e.cfg.Adapters {
		wg.Go(func() { e.sendAll(ctx, a) })
	}
	for _, p := range e.cfg.Resume {
		if err := e.resume(ctx, p); err != nil && ctx.Err() == nil {
			e.log.ErrorContext(ctx, "open prompt not shown again", "adapter", p.Adapter, "err", err)
		}
	}
	if len(e.cfg.Adapters) == 0 {
		<-ctx.Done()
		return nil
	}
	ends := make(chan error, len(e.cfg.Adapters))
	for _, a := range e.cfg.Adapters {
		wg.Go(func() {
			err := a.Run(ctx, e)
			if err != nil {
				err = fmt.Errorf("adapter %s: %w", a.Name(), err)
			}
			ends <- err
		})
	}
	for range e.cfg.Adapters {
		if err := <-ends; err != nil {
			if ctx.Err() != nil && errors.Is(err, ctx.Err()) {
				continue // it was told to end
			}
			return err
		}
	}
	return nil
}

// Receive stores an incoming event. A nil error means that it is stored, or was before,
// or that there is nothing to store, since it came from a stranger.
func (e *Engine) Receive(ctx context.Context, m bot.Incoming) error {
	if err := m.Check(); err != nil {
		return err
	}
	rights, known := e.cfg.People.Rights(m.Person)
	if !known {
		e.refuse(ctx, m)
		return nil
	}
	// A heard event holds one photo. Further ones are events of their own, with keys of
	// their own, so that a redelivery completes what a crash left undone.
	photos := make([]string, max(1, len(m.Files)))
	for i, f := range m.Files {
		photos[i] = bot.BlobHash(f.Data)
		if err := e.cfg.Store.PutBlob(ctx, photos[i], f.Data); err != nil {
			return fmt.Errorf("keep photo: %w", err)
		}
	}
	for i, photo := range photos {
		part := m
		part.Files = nil
		if i > 0 {
			part.Text, part.Choice, part.Prompt = "", "", 0
			part.Keys = make([]bot.EventID, len(m.Keys))
			for k, key := range m.Keys {
				part.Keys[k] = bot.EventID(fmt.Sprintf("%s#%d", key, i+1))
			}
		}
		if err := e.hear(ctx, part, photo, rights); err != nil {
			return err
		}
	}
	return nil
}

// hear stores one event with at most one photo.
func (e *Engine) hear(ctx context.Context, m bot.Incoming, photo string, rights flows.Rights) error {
	keys := make([]string, len(m.Keys))
	for i, k := range m.Keys {
		keys[i] = string(k)
	}
	rec, err := Encode("", 0, e.now(), flows.PersonID(m.Person), flows.Heard{
		Text: m.Text, Choice: m.Choice, Prompt: m.Prompt, Sent: m.SentAt, Photo: photo, Keys: keys,
		Place: m.Adapter + ":" + string(m.Conversation), Rights: rights,
	})
	if err != nil {
		return err
	}
	h, err := e.cfg.Store.Hear(ctx, m, bot.JobID(e.cfg.NewID()), rec)
	if errors.Is(err, bot.ErrSeen) {
		nudge(e.wake.scan) // should the first time have been interrupted after it was stored
		return nil
	}
	if err != nil {
		return fmt.Errorf("store incoming event: %w", err)
	}
	e.log.DebugContext(ctx, "heard", "job", h.Job, "seq", h.Seq)
	e.poke(h.Job, m.Conversation)
	return nil
}

// Settled implements bot.Settler. Before Run has looked for work left over, it blocks.
func (e *Engine) Settled(ctx context.Context, c bot.ConversationID) error {
	for {
		e.mu.Lock()
		changed := e.changed
		busy := !e.ready
		for _, w := range e.work {
			busy = busy || w.place == c
		}
		for _, m := range e.refusals {
			busy = busy || m.Conversation == c
		}
		e.mu.Unlock()
		if !busy {
			n, err := e.cfg.Store.Unsent(ctx, c)
			if err != nil {
				return err
			}
			if n == 0 {
				return nil
			}
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-changed:
		case <-time.After(e.cfg.Poll): // another process may have sent it
		}
	}
}

// poke marks a job as having something to do. An empty place keeps the one it has.
func (e *Engine) poke(job bot.JobID, place bot.ConversationID) {
	e.mu.Lock()
	w := e.work[job]
	if w == nil {
		w = &work{}
		e.work[job] = w
	}
	if place != "" {
		w.place = place
	}
	w.again = true
	e.mu.Unlock()
	nudge(e.wake.work)
}

// done tells whoever waits that something has changed.
func (e *Engine) done() {
	e.mu.Lock()
	defer e.mu.Unlock()
	close(e.changed)
	e.changed = make(chan struct{})
}

func (e *Engine) now() int64 { return e.cfg.Now().UnixMilli() }

// nudge wakes whoever reads c, now or when it next looks.
func nudge(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// sleep waits for d, a nudge of c (which may be nil) or the end of ctx; it reports
// whether ctx is still good.
func sleep(ctx context.Context, d time.Duration, c <-chan struct{}) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
	case <-c:
	}
	return ctx.Err() == nil
}
