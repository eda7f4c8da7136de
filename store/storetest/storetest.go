// Package storetest is the conformance suite of bot.Store. Every store runs it in its
// own tests; a store is right when it passes.
package storetest

import (
	"errors"
	"fmt"
	"testing"

	"halfsplit/bot"
)

// Run checks the store that open returns. Each check opens its own, which must be empty;
// Run closes it.
func Run(t *testing.T, open func(t *testing.T) bot.Store) {
	for _, c := range []struct {
		name string
		run  func(t *testing.T, s bot.Store)
	}{
		{"hear opens a job and then adds to it", hearOpens},
		{"hear keeps places apart", hearPlaces},
		{"hear the same key twice", hearSeen},
		{"hear refuses what breaks the contract", hearInvalid},
		{"hear after close opens another job", hearAfterClose},
		{"load returns the trail whole and unshared", loadWhole},
		{"not found", notFound},
		{"commit writes everything", commitWrites},
		{"commit on an old version writes nothing", commitConflict},
		{"commit that is refused writes nothing", commitInvalid},
		{"answered never goes back", commitAnswered},
		{"unanswered", unanswered},
		{"jobs, the latest opened first", jobsOrder},
		{"times and texts come back", roundTrip},
		{"claim keeps the order of each conversation", claimOrder},
		{"claim keeps adapters apart", claimAdapters},
		{"claim again when the lease has ended", claimLease},
		{"retry", claimRetry},
		{"drop", claimDrop},
		{"sent holds against a late retry or drop", sentHolds},
		{"timers", timers},
		{"blobs", blobs},
		{"ended context", endedContext},
		{"closed store", closedStore},
		{"many at once hear, commit and claim", manyAtOnce},
		{"two senders never share a message", twoSenders},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			defer closeStore(t, s)
			c.run(t, s)
		})
	}
}

func closeStore(t *testing.T, s bot.Store) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Errorf("close: %v", err)
	}
}

// incoming is an event with one key.
func incoming(c bot.ConversationID, key bot.EventID) bot.Incoming {
	return bot.Incoming{Adapter: "console", Conversation: c, Person: "console:ann", Keys: []bot.EventID{key}}
}

// heardRecord is the record of an event at a time.
func heardRecord(at int64) bot.Record {
	return bot.Record{Schema: 1, Kind: "heard", At: at, By: "console:ann", Data: []byte(`{"text":"12 Ω"}`)}
}

func hear(t *testing.T, s bot.Store, c bot.ConversationID, key bot.EventID, fresh bot.JobID) bot.Heard {
	t.Helper()
	h, err := s.Hear(t.Context(), incoming(c, key), fresh, heardRecord(1000))
	if err != nil {
		t.Fatalf("hear %s in %s: %v", key, c, err)
	}
	return h
}

// said is a record of a step.
func said(job bot.JobID, seq int) bot.Record {
	return bot.Record{Job: job, Seq: seq, Schema: 1, Kind: "said", At: 1000 + int64(seq), Data: []byte(`{}`)}
}

// outgoing is a message of a job; its key follows the form job/seq/n.
func outgoing(job bot.JobID, c bot.ConversationID, seq, n int) bot.Outgoing {
	return bot.Outgoing{Key: fmt.Sprintf("%s/%d/%d", job, seq, n), Job: job, Adapter: "console", Conversation: c,
		Text: fmt.Sprintf("message %d of %d", n, seq)}
}

func commit(t *testing.T, s bot.Store, c bot.Commit) {
	t.Helper()
	if err := s.Commit(t.Context(), c); err != nil {
		t.Fatalf("commit to %s on %d: %v", c.Job, c.Version, err)
	}
}

// enqueue opens a job in the conversation and gives it n messages.
func enqueue(t *testing.T, s bot.Store, job bot.JobID, c bot.ConversationID, n int) {
	t.Helper()
	h := hear(t, s, c, bot.EventID("open "+string(job)), job)
	out := bot.Commit{Job: h.Job, Version: h.Seq, Answered: h.Seq}
	for i := range n {
		out.Outbox = append(out.Outbox, outgoing(h.Job, c, h.Seq, i+1))
	}
	commit(t, s, out)
}

func claim(t *testing.T, s bot.Store, now, until int64) bot.Outgoing {
	t.Helper()
	m, err := s.Claim(t.Context(), "console", "sender", now, until)
	if err != nil {
		t.Fatalf("claim at %d: %v", now, err)
	}
	return m
}

func wantNone(t *testing.T, s bot.Store, now int64) {
	t.Helper()
	if m, err := s.Claim(t.Context(), "console", "sender", now, now+1); !errors.Is(err, bot.ErrNotFound) {
		t.Fatalf("claim at %d: got %q, %v; want %v", now, m.Key, err, bot.ErrNotFound)
	}
}

func info(t *testing.T, s bot.Store, job bot.JobID) bot.JobInfo {
	t.Helper()
	i, err := s.Info(t.Context(), job)
	if err != nil {
		t.Fatalf("info %s: %v", job, err)
	}
	return i
}

func load(t *testing.T, s bot.Store, job bot.JobID) []bot.Record {
	t.Helper()
	trail, err := s.Load(t.Context(), job)
	if err != nil {
		t.Fatalf("load %s: %v", job, err)
	}
	for i, r := range trail {
		if r.Seq != i+1 || r.Job != job {
			t.Fatalf("record %d of job %s is %d of job %s", i+1, job, r.Seq, r.Job)
		}
	}
	return trail
}

func unsent(t *testing.T, s bot.Store, c bot.ConversationID) int {
	t.Helper()
	n, err := s.Unsent(t.Context(), c)
	if err != nil {
		t.Fatalf("unsent of %s: %v", c, err)
	}
	return n
}

func due(t *testing.T, s bot.Store, now int64) []bot.Timer {
	t.Helper()
	out, err := s.Due(t.Context(), now)
	if err != nil {
		t.Fatalf("due at %d: %v", now, err)
	}
	return out
}

// picture is all of a store that a check can see, to compare before and after.
type picture struct {
	Jobs       []bot.JobInfo
	Trails     [][]bot.Record
	Unanswered []bot.JobID
	Timers     []bot.Timer
	Unsent     int
}

func look(t *testing.T, s bot.Store, places ...bot.ConversationID) picture {
	t.Helper()
	var p picture
	var err error
	if p.Jobs, err = s.Jobs(t.Context()); err != nil {
		t.Fatalf("jobs: %v", err)
	}
	for _, j := range p.Jobs {
		p.Trails = append(p.Trails, load(t, s, j.Job))
	}
	if p.Unanswered, err = s.Unanswered(t.Context()); err != nil {
		t.Fatalf("unanswered: %v", err)
	}
	p.Timers = due(t, s, 1<<62)
	for _, c := range places {
		p.Unsent += unsent(t, s, c)
	}
	return p
}
