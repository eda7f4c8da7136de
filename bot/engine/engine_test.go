package engine_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"halfsplit/bot"
	"halfsplit/bot/engine"
	"halfsplit/flows"
	"halfsplit/store/memory"
)

// parrot is a dialog of few words: it asks after everything it is told.
//
//	boom      panics          sour      returns an error
//	bad       opens a prompt with a wrong id, which does not fold
//	wait 5m   sets timer "wait" to fall due then; it says "time is up"
//	bye       closes the job  hush      no events
type parrot struct {
	mu     sync.Mutex
	inputs []flows.Input
	slow   func(flows.Input) // called before an answer
}

func (p *parrot) Step(j flows.Job, in flows.Input) (flows.Result, error) {
	p.mu.Lock()
	p.inputs = append(p.inputs, in)
	p.mu.Unlock()
	if p.slow != nil {
		p.slow(in)
	}
	said := "heard " + in.Text
	var res flows.Result
	switch word, rest, _ := strings.Cut(in.Text, " "); {
	case in.Timer != "":
		said = "time is up: " + in.Timer
	case word == "boom":
		panic("boom")
	case word == "sour":
		return flows.Result{}, errors.New("sour")
	case word == "bad":
		res.Events = append(res.Events, flows.Asked{Prompt: flows.Prompt{ID: 1}})
		return res, nil
	case word == "hush":
		return res, nil
	case word == "wait":
		d, err := time.ParseDuration(rest)
		if err != nil {
			return res, err
		}
		res.Timers = append(res.Timers, flows.Timer{Name: "wait", Due: in.At + d.Milliseconds()})
	case word == "bye":
		res.Events = append(res.Events, flows.Closed{Outcome: "done"})
	}
	if in.Photo != "" {
		res.Events = append(res.Events, flows.Noted{Blob: in.Photo})
	}
	choices := []flows.Choice{{Word: "yes", Value: "y"}, {Word: "no", Value: "n"}}
	res.Events = append(res.Events,
		flows.Told{What: "last", Value: in.Text},
		flows.Asked{Prompt: flows.Prompt{ID: j.Seq + len(res.Events) + 2, Ask: "more", At: in.At, Choices: choices}},
		flows.Said{Code: "heard", Text: said, Lang: "en"})
	res.Say = []flows.Message{{Code: "heard", Prompt: true, Choices: choices}}
	return res, nil
}

func (p *parrot) seen() []flows.Input {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]flows.Input(nil), p.inputs...)
}

// room is an adapter whose far side is the test.
type room struct {
	limits bot.Limits
	fail   func(bot.Outgoing) error // of the next Send; nil: none

	mu     sync.Mutex
	posted []bot.Outgoing
	calls  []bot.Outgoing
}

func (r *room) Name() string       { return "room" }
func (r *room) Limits() bot.Limits { return r.limits }

func (r *room) Run(ctx context.Context, _ bot.Receiver) error {
	<-ctx.Done()
	return nil
}

func (r *room) Send(_ context.Context, m bot.Outgoing) (bot.MessageRef, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.calls = append(r.calls, m)
	if r.fail != nil {
		if err := r.fail(m); err != nil {
			return "", err
		}
	}
	r.posted = append(r.posted, m)
	return bot.MessageRef(fmt.Sprint(len(r.posted))), nil
}

func (r *room) texts() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	out := []string{}
	for _, m := range r.posted {
		out = append(out, m.Text)
	}
	return out
}

// crew serves everybody whose id starts with "room:".
type crew struct{}

func (crew) Rights(p bot.PersonID) (flows.Rights, bool) {
	return flows.Rights{Name: string(p), Roles: []flows.Role{flows.Tech}, May: flows.MayDead}, strings.HasPrefix(string(p), "room:")
}

// bench is an engine with its surroundings.
type bench struct {
	*engine.Engine
	t      *testing.T
	store  bot.Store
	dialog *parrot
	room   *room
}

// set makes a bench; change may alter its configuration.
func set(t *testing.T, store bot.Store, change func(*engine.Config)) *bench {
	b := &bench{t: t, store: store, dialog: &parrot{}, room: &room{limits: bot.Limits{Choices: 5}}}
	n := 0
	cfg := engine.Config{
		Store: store, Dialog: b.dialog, Adapters: []bot.Adapter{b.room}, People: crew{},
		NewID: func() string { n++; return fmt.Sprintf("job%d", n) },
	}
	if change != nil {
		change(&cfg)
	}
	b.Engine = engine.New(cfg)
	return b
}

// run runs the engine until the returned function is called, which waits for its end.
func (b *bench) run() (stop func()) {
	ctx, cancel := context.WithCancel(b.t.Context())
	end := make(chan error)
	go func() { end <- b.Run(ctx) }()
	return func() {
		cancel()
		good(b.t, <-end)
	}
}

func sorted(s []string) []string {
	slices.Sort(s)
	return s
}

func line(key, text string) bot.Incoming {
	return bot.Incoming{Adapter: "room", Conversation: "c", Person: "room:ann", Keys: []bot.EventID{bot.EventID(key)}, Text: text}
}

func (b *bench) hear(key, text string) {
	good(b.t, b.Receive(b.t.Context(), line(key, text)))
}

func (b *bench) settled() {
	good(b.t, b.Settled(b.t.Context(), "c"))
}

// kinds lists the kinds of a job's trail, and fails if the trail does not fold.
func (b *bench) kinds(job bot.JobID) string {
	recs, err := b.store.Load(b.t.Context(), job)
	good(b.t, err)
	_, err = engine.Fold(recs)
	good(b.t, err)
	var kinds []string
	for _, r := range recs {
		kinds = append(kinds, r.Kind)
	}
	return strings.Join(kinds, " ")
}

func TestOneMessage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		defer b.run()()
		b.hear("k1", "trips")
		b.settled()
		equal(t, "heard told asked said", b.kinds("job1"))
		equal(t, []bot.Outgoing{{
			Key: "job1/4/1", Job: "job1", Adapter: "room", Conversation: "c", Text: "heard trips", Attempt: 1, Prompt: 3,
			Choices: []bot.Choice{{Word: "yes", Label: "yes", Value: "y"}, {Word: "no", Label: "no", Value: "n"}},
		}}, b.room.posted)
		in := b.dialog.seen()[0]
		equal(t, flows.PersonID("room:ann"), in.By)
		equal(t, flows.MayDead, in.Rights.May)
	})
}

func TestRedeliveryChangesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		defer b.run()()
		for range 3 {
			b.hear("k1", "trips")
			b.settled()
		}
		equal(t, "heard told asked said", b.kinds("job1"))
		equal(t, 1, len(b.room.texts()))
	})
}

func TestHeardBeforeTheStartIsAnswered(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		b.hear("k1", "one") // stored, then the process dies
		b.hear("k2", "two")
		b = set(t, b.store, nil)
		defer b.run()()
		b.settled()
		equal(t, []string{"heard one", "heard two"}, b.room.texts())
	})
}

func TestDialogFails(t *testing.T) {
	for _, c := range []struct{ text, code string }{{"boom", "panic"}, {"sour", "step"}, {"bad", "trail"}} {
		t.Run(c.text, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := set(t, memory.New(), nil)
				defer b.run()()
				b.hear("k1", "fine")
				b.hear("k2", c.text)
				b.hear("k3", "after")
				b.settled()
				// All three may be heard before the first is answered.
				equal(t, sorted(strings.Fields("heard told asked said heard failed said heard told asked said")),
					sorted(strings.Fields(b.kinds("job1"))))
				texts := b.room.texts()
				equal(t, 3, len(texts))
				yes(t, strings.Contains(texts[1], "the fault is mine"))
				equal(t, "heard after", texts[2])
				tried := 0
				for _, in := range b.dialog.seen() {
					if in.Text == c.text {
						tried++
					}
				}
				equal(t, 3, tried)
				recs, err := b.store.Load(t.Context(), "job1")
				good(t, err)
				for _, r := range recs {
					if r.Kind == "failed" {
						equal(t, `{"code":"`+c.code+`"}`, string(r.Data))
					}
				}
			})
		})
	}
}

// A message with no outcome at all is answered all the same: it is not stepped again.
func TestNoEvents(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		defer b.run()()
		b.hear("k1", "hush")
		b.settled()
		b.hear("k2", "on")
		b.settled()
		equal(t, 2, len(b.dialog.seen()))
		left, err := b.store.Unanswered(t.Context())
		good(t, err)
		equal(t, 0, len(left))
	})
}

func TestHeardWhileStepping(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		b.dialog.slow = func(in flows.Input) {
			if in.Text == "slow" {
				time.Sleep(time.Second)
			}
		}
		defer b.run()()
		b.hear("k1", "slow")
		time.Sleep(500 * time.Millisecond)
		b.hear("k2", "quick") // makes the first commit conflict
		b.settled()
		equal(t, []string{"heard slow", "heard quick"}, b.room.texts())
		equal(t, "heard heard told asked said told asked said", b.kinds("job1"))
		equal(t, 3, len(b.dialog.seen()), "slow is stepped twice")
	})
}

func TestTwoEnginesOneStore(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := memory.New()
		a := set(t, store, func(c *engine.Config) { c.Owner = "a" })
		b := set(t, store, func(c *engine.Config) { c.Owner = "b" })
		nap := func(flows.Input) { time.Sleep(100 * time.Millisecond) }
		a.dialog.slow, b.dialog.slow = nap, nap
		a.hear("k1", "wait 1m")
		a.hear("k2", "more")
		stopA, stopB := a.run(), b.run() // both find both messages unanswered
		time.Sleep(10 * time.Second)
		equal(t, "heard heard told asked said told asked said", a.kinds("job1"))
		time.Sleep(2 * time.Minute) // both see the timer due
		equal(t, "heard heard told asked said told asked said timed told asked said", a.kinds("job1"))
		stopA()
		stopB()
		texts := append(a.room.texts(), b.room.texts()...)
		equal(t, []string{"heard more", "heard wait 1m", "time is up: wait"}, sorted(texts))
	})
}

func TestTimer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		defer b.run()()
		b.hear("k1", "wait 10m")
		b.settled()
		time.Sleep(9 * time.Minute)
		b.hear("k2", "wait 10m") // sets the same timer anew
		b.settled()
		time.Sleep(9 * time.Minute)
		equal(t, 2, len(b.room.texts()))
		time.Sleep(time.Minute + 10*time.Millisecond)
		equal(t, "time is up: wait", b.room.texts()[2])
		at := b.dialog.seen()[2].At - b.dialog.seen()[1].At
		equal(t, (10 * time.Minute).Milliseconds(), at, "fired when due, not at the next poll")
		time.Sleep(time.Hour)
		equal(t, 3, len(b.room.texts()))
	})
}

func TestTimerFiresAfterARestart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		stop := b.run()
		b.hear("k1", "wait 1m")
		b.settled()
		stop()
		time.Sleep(time.Hour)
		b = set(t, b.store, nil)
		defer b.run()()
		time.Sleep(time.Second)
		equal(t, []string{"time is up: wait"}, b.room.texts())
	})
}

func TestTimerOfClosedJobHasNoEffect(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		defer b.run()()
		b.hear("k1", "wait 1m")
		b.settled()
		b.hear("k2", "bye")
		b.settled()
		time.Sleep(time.Hour)
		yes(t, strings.HasSuffix(b.kinds("job1"), "closed told asked said timed"), b.kinds("job1"))
		due, err := b.store.Due(t.Context(), time.Now().UnixMilli())
		good(t, err)
		equal(t, 0, len(due))
	})
}

func TestClosedJobIsFollowedByAnother(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		defer b.run()()
		b.hear("k1", "bye")
		b.settled()
		b.hear("k2", "again")
		b.settled()
		jobs, err := b.store.Jobs(t.Context())
		good(t, err)
		equal(t, 2, len(jobs))
		equal(t, "heard told asked said", b.kinds(jobs[0].Job))
		yes(t, jobs[1].Closed)
	})
}

func TestStranger(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		defer b.run()()
		m := line("k1", "let me in")
		m.Person = "elsewhere:bob"
		m.Files = []bot.File{{Name: "x.jpg", Data: []byte("secret")}}
		for i := range 3 {
			m.Keys = []bot.EventID{bot.EventID(fmt.Sprint(i))}
			good(t, b.Receive(t.Context(), m))
			b.settled()
		}
		equal(t, 1, len(b.room.texts()))
		yes(t, !strings.Contains(b.room.texts()[0], "heard"))
		jobs, err := b.store.Jobs(t.Context())
		good(t, err)
		equal(t, 0, len(jobs))
		_, err = b.store.Blob(t.Context(), bot.BlobHash([]byte("secret")))
		is(t, err, bot.ErrNotFound)
	})
}

func TestPhotos(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		defer b.run()()
		m := line("k1", "the plate")
		m.Files = []bot.File{{Data: []byte("one")}, {Data: []byte("two")}}
		for range 2 { // the second is a redelivery
			good(t, b.Receive(t.Context(), m))
			b.settled()
		}
		recs, err := b.store.Load(t.Context(), "job1")
		good(t, err)
		var in []flows.Heard
		noted := 0
		for _, r := range recs {
			ev, err := engine.Decode(r)
			good(t, err)
			switch ev := ev.(type) {
			case flows.Heard:
				in = append(in, ev)
			case flows.Noted:
				noted++
			}
		}
		equal(t, 2, len(in))
		equal(t, 2, noted, "each is answered once")
		equal(t, bot.BlobHash([]byte("one")), in[0].Photo)
		equal(t, "the plate", in[0].Text)
		equal(t, bot.BlobHash([]byte("two")), in[1].Photo)
		equal(t, "", in[1].Text)
		data, err := b.store.Blob(t.Context(), in[1].Photo)
		good(t, err)
		equal(t, "two", string(data))
	})
}

// A text that was sent before the open prompt was posted must be told apart.
func TestPosted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		down := true
		b.room.fail = func(bot.Outgoing) error {
			if down {
				return errors.New("down")
			}
			return nil
		}
		defer b.run()()
		b.hear("k1", "one")
		synctest.Wait()
		b.hear("k2", "two") // the answer to one is not posted
		synctest.Wait()
		down = false
		b.settled()
		time.Sleep(time.Minute)
		before := time.Now().UnixMilli()
		b.hear("k3", "three")
		b.settled()
		in := b.dialog.seen()
		equal(t, int64(0), in[0].Posted)
		equal(t, int64(0), in[1].Posted)
		yes(t, in[2].Posted > 0)
		yes(t, in[2].Posted < before)
		yes(t, in[2].Posted > in[1].At)
	})
}

func TestClockGoesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var back atomic.Int64 // nanoseconds
		b := set(t, memory.New(), func(c *engine.Config) {
			c.Now = func() time.Time { return time.Now().Add(-time.Duration(back.Load())) }
		})
		defer b.run()()
		b.hear("k1", "one")
		b.settled()
		back.Store(int64(time.Hour))
		b.hear("k2", "two")
		b.settled()
		in := b.dialog.seen()
		equal(t, in[0].At, in[1].At)
		b.kinds("job1")
	})
}

func TestResume(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		stop := b.run()
		b.hear("k1", "one")
		b.settled()
		stop()
		resume := func(c *engine.Config) { c.Resume = []engine.Place{{Adapter: "room", Conversation: "c"}} }
		b = set(t, b.store, resume)
		stop = b.run()
		synctest.Wait()
		equal(t, []string{"As before the break: heard one"}, b.room.texts())
		equal(t, 2, len(b.room.posted[0].Choices))
		equal(t, 3, b.room.posted[0].Prompt)
		stop()
		equal(t, "heard told asked said", b.kinds("job1"), "the trail is as it was")

		b.hear("k2", "two") // stored, not answered
		b = set(t, b.store, resume)
		stop = b.run()
		synctest.Wait()
		equal(t, []string{"heard two"}, b.room.texts(), "the new prompt is enough")
		stop()
	})
}

// A timer that fell due during the break speaks first; its prompt is the open one.
func TestResumeAfterADueTimer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		stop := b.run()
		b.hear("k1", "wait 1m")
		b.settled()
		stop()
		time.Sleep(time.Hour)
		b = set(t, b.store, func(c *engine.Config) { c.Resume = []engine.Place{{Adapter: "room", Conversation: "c"}} })
		defer b.run()()
		synctest.Wait()
		equal(t, []string{"time is up: wait"}, b.room.texts())
	})
}

// flaky is a store of which some methods work every third time only.
type flaky struct {
	bot.Store
	mu    sync.Mutex
	calls map[string]int
}

func (f *flaky) fail(method string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.calls[method]++; f.calls[method]%3 != 0 {
		return errors.New("disk trouble")
	}
	return nil
}

func (f *flaky) Load(ctx context.Context, j bot.JobID) ([]bot.Record, error) {
	if err := f.fail("Load"); err != nil {
		return nil, err
	}
	return f.Store.Load(ctx, j)
}

func (f *flaky) Commit(ctx context.Context, c bot.Commit) error {
	if err := f.fail("Commit"); err != nil {
		return err
	}
	return f.Store.Commit(ctx, c)
}

func (f *flaky) Unsent(ctx context.Context, c bot.ConversationID) (int, error) {
	if err := f.fail("Unsent"); err != nil {
		return 0, err
	}
	return f.Store.Unsent(ctx, c)
}

// Trouble of the store is not the message's fault: it is answered in the end.
func TestStoreFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, &flaky{Store: memory.New(), calls: map[string]int{}}, nil)
		defer b.run()()
		for i := range 5 {
			b.hear(fmt.Sprint("k", i), fmt.Sprint("line ", i))
			time.Sleep(10 * time.Minute)
		}
		equal(t, []string{"heard line 0", "heard line 1", "heard line 2", "heard line 3", "heard line 4"}, b.room.texts())
	})
}

func TestAdapterEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), func(c *engine.Config) { c.Adapters = []bot.Adapter{ending{nil}} })
		good(t, b.Run(t.Context()))
		bad := errors.New("no network")
		b = set(t, memory.New(), func(c *engine.Config) { c.Adapters = []bot.Adapter{b.room, ending{bad}} })
		is(t, b.Run(t.Context()), bad)
	})
}

type ending struct{ err error }

func (ending) Name() string       { return "ending" }
func (ending) Limits() bot.Limits { return bot.Limits{} }

func (e ending) Run(context.Context, bot.Receiver) error { return e.err }

func (ending) Send(context.Context, bot.Outgoing) (bot.MessageRef, error) {
	return "", errors.ErrUnsupported
}
