package storetest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"halfsplit/bot"
)

// idle is the pause of one who finds nothing to do.
const idle = time.Millisecond

// manyAtOnce has people write, steps commit and senders claim at the same time. Nothing
// may be lost, doubled or out of order.
func manyAtOnce(t *testing.T, s bot.Store) {
	const places, people, events = 3, 3, 8
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var hearers, steppers, senders sync.WaitGroup
	fail := func(err error) {
		if err != nil {
			t.Error(err)
			cancel()
		}
	}
	conversation := func(p int) bot.ConversationID { return bot.ConversationID(fmt.Sprint("place ", p)) }
	for p := range places {
		for q := range people {
			hearers.Go(func() { fail(speak(ctx, s, conversation(p), fmt.Sprint("person ", q), events)) })
		}
	}
	heard := make(chan struct{})
	for range 2 {
		steppers.Go(func() { fail(answer(ctx, s, heard)) })
	}
	stepped := make(chan struct{})
	var mu sync.Mutex
	posted := map[bot.ConversationID][]string{}
	for q := range 3 {
		senders.Go(func() {
			fail(post(ctx, s, fmt.Sprint("sender ", q), stepped, func(m bot.Outgoing) {
				mu.Lock()
				defer mu.Unlock()
				posted[m.Conversation] = append(posted[m.Conversation], m.Key)
			}))
		})
	}
	hearers.Wait()
	close(heard)
	steppers.Wait()
	close(stepped)
	senders.Wait()
	if t.Failed() {
		return
	}
	jobs, err := s.Jobs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(jobs) != places {
		t.Fatalf("%d jobs, want %d", len(jobs), places)
	}
	for _, j := range jobs {
		texts, want := map[string]int{}, []string{}
		for _, r := range load(t, s, j.Job) { // load checks the sequence
			if r.Kind == "heard" {
				texts[string(r.Data)]++
			} else {
				want = append(want, fmt.Sprintf("%s/%d/1", j.Job, r.Seq))
			}
		}
		for text, n := range texts {
			if n != 1 {
				t.Errorf("job %s: %s was recorded %d times", j.Job, text, n)
			}
		}
		if len(texts) != people*events {
			t.Errorf("job %s: %d of %d events recorded", j.Job, len(texts), people*events)
		}
		if got := posted[j.Conversation]; fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("job %s: posted %v, want %v", j.Job, got, want)
		}
		if j.Answered == 0 || unsent(t, s, j.Conversation) != 0 {
			t.Errorf("job %s: answered %d, unsent %d", j.Job, j.Answered, unsent(t, s, j.Conversation))
		}
	}
}

// speak delivers n events, each twice as platforms do.
func speak(ctx context.Context, s bot.Store, c bot.ConversationID, who string, n int) error {
	for i := range n {
		key := fmt.Sprintf("%s %s %d", c, who, i)
		rec := bot.Record{Kind: "heard", At: int64(i), Data: []byte(fmt.Sprintf("%q", key))}
		if _, err := s.Hear(ctx, incoming(c, bot.EventID(key)), bot.JobID("job of "+key), rec); err != nil {
			return err
		}
		if _, err := s.Hear(ctx, incoming(c, bot.EventID(key)), bot.JobID("job of "+key), rec); !errors.Is(err, bot.ErrSeen) {
			return fmt.Errorf("second delivery of %s: got %v, want %w", key, err, bot.ErrSeen)
		}
	}
	return nil
}

// answer steps every job that waits for it, one record and one message a step, until
// all is heard and answered.
func answer(ctx context.Context, s bot.Store, heard <-chan struct{}) error {
	for {
		last := false
		select {
		case <-heard:
			last = true
		default:
		}
		jobs, err := s.Unanswered(ctx)
		if err != nil {
			return err
		}
		for _, id := range jobs {
			trail, err := s.Load(ctx, id)
			if err != nil {
				return err
			}
			info, err := s.Info(ctx, id)
			if err != nil {
				return err
			}
			seq := len(trail) + 1
			err = s.Commit(ctx, bot.Commit{Job: id, Version: len(trail), Answered: len(trail),
				Records: []bot.Record{said(id, seq)},
				Outbox:  []bot.Outgoing{outgoing(id, info.Conversation, seq, 1)}})
			if err != nil && !errors.Is(err, bot.ErrConflict) {
				return err
			}
		}
		if len(jobs) == 0 {
			if last {
				return nil
			}
			time.Sleep(idle)
		}
	}
}

// post claims and sends until every step is done and nothing is left.
func post(ctx context.Context, s bot.Store, owner string, stepped <-chan struct{}, sent func(bot.Outgoing)) error {
	for {
		last := false
		select {
		case <-stepped:
			last = true
		default:
		}
		m, err := s.Claim(ctx, "console", owner, 1, 1000)
		if errors.Is(err, bot.ErrNotFound) {
			time.Sleep(idle)
			if !last {
				continue
			}
			if left, err := waiting(ctx, s); err != nil || left == 0 {
				return err
			}
			continue // another sender holds the head of a line
		}
		if err != nil {
			return err
		}
		if m.Attempt != 1 {
			return fmt.Errorf("message %s was claimed %d times", m.Key, m.Attempt)
		}
		sent(m)
		if err := s.Sent(ctx, m.Key, bot.MessageRef("ref "+m.Key)); err != nil {
			return err
		}
	}
}

func waiting(ctx context.Context, s bot.Store) (int, error) {
	jobs, err := s.Jobs(ctx)
	if err != nil {
		return 0, err
	}
	sum := 0
	for _, j := range jobs {
		n, err := s.Unsent(ctx, j.Conversation)
		if err != nil {
			return 0, err
		}
		sum += n
	}
	return sum, nil
}

// twoSenders has several senders race for the same messages, each with a free line.
func twoSenders(t *testing.T, s bot.Store) {
	const messages, owners = 40, 4
	h := hear(t, s, "bench", "e1", "job-a")
	c := bot.Commit{Job: h.Job, Version: h.Seq}
	for i := range messages {
		c.Outbox = append(c.Outbox, outgoing(h.Job, bot.ConversationID(fmt.Sprint("place ", i)), 1, i+1))
	}
	commit(t, s, c)
	var mu sync.Mutex
	claims := map[string]int{}
	var wg sync.WaitGroup
	for q := range owners {
		wg.Go(func() {
			for {
				m, err := s.Claim(t.Context(), "console", fmt.Sprint("sender ", q), 1, 1000)
				if errors.Is(err, bot.ErrNotFound) {
					return
				}
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				claims[m.Key]++
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	for k, n := range claims {
		if n != 1 {
			t.Errorf("message %s was taken by %d senders", k, n)
		}
	}
	if len(claims) != messages {
		t.Errorf("%d of %d messages were taken", len(claims), messages)
	}
}
