package storetest

import (
	"bytes"
	"context"
	"errors"
	"math"
	"reflect"
	"testing"

	"halfsplit/bot"
)

func hearOpens(t *testing.T, s bot.Store) {
	first := hear(t, s, "bench", "e1", "job-a")
	if first.Job != "job-a" || first.Seq != 1 || !first.Fresh {
		t.Errorf("first event: got %+v, want a fresh job-a at 1", first)
	}
	if r := first.Record; r.Job != "job-a" || r.Seq != 1 || r.Kind != "heard" {
		t.Errorf("first event: record is %+v, want job and seq filled in", r)
	}
	second := hear(t, s, "bench", "e2", "job-b")
	if second.Job != "job-a" || second.Seq != 2 || second.Fresh {
		t.Errorf("second event: got %+v, want job-a at 2, not fresh", second)
	}
	trail := load(t, s, "job-a")
	if len(trail) != 2 || !reflect.DeepEqual(trail[1], second.Record) {
		t.Errorf("trail is %+v, want it to end with %+v", trail, second.Record)
	}
	if _, err := s.Info(t.Context(), "job-b"); !errors.Is(err, bot.ErrNotFound) {
		t.Errorf("the id that was not needed: got %v, want no such job", err)
	}
	want := bot.JobInfo{Job: "job-a", Adapter: "console", Conversation: "bench", Opened: 1000, Last: 1000, Version: 2}
	if got := info(t, s, "job-a"); got != want {
		t.Errorf("info: got %+v, want %+v", got, want)
	}
}

func hearPlaces(t *testing.T, s bot.Store) {
	hear(t, s, "bench", "e1", "job-a")
	if h := hear(t, s, "hall", "e2", "job-b"); h.Job != "job-b" {
		t.Errorf("another conversation: got job %s, want its own", h.Job)
	}
	m := incoming("bench", "e1") // the same key and conversation, of another chat system
	m.Adapter = "web"
	h, err := s.Hear(t.Context(), m, "job-c", heardRecord(5))
	if err != nil || h.Job != "job-c" {
		t.Errorf("another adapter: got job %s, %v; want job-c", h.Job, err)
	}
}

func hearSeen(t *testing.T, s bot.Store) {
	m := incoming("bench", "e1")
	m.Keys = []bot.EventID{"e1", "e1b", "e1"} // naming a key twice is harmless
	if _, err := s.Hear(t.Context(), m, "job-a", heardRecord(1000)); err != nil {
		t.Fatal(err)
	}
	before := look(t, s, "bench", "hall")
	for _, keys := range [][]bot.EventID{{"e1"}, {"e1b"}, {"new", "e1b"}, {"e1", "new"}} {
		for _, place := range []bot.ConversationID{"bench", "hall"} {
			again := incoming(place, "")
			again.Keys = keys
			if h, err := s.Hear(t.Context(), again, "job-b", heardRecord(2000)); !errors.Is(err, bot.ErrSeen) {
				t.Errorf("keys %v in %s: got %+v, %v; want %v", keys, place, h, err, bot.ErrSeen)
			}
		}
	}
	if after := look(t, s, "bench", "hall"); !reflect.DeepEqual(after, before) {
		t.Errorf("a redelivery changed the store:\n got %+v\nwant %+v", after, before)
	}
	hear(t, s, "bench", "new", "job-b") // not remembered by the refused ones
	commit(t, s, bot.Commit{Job: "job-a", Version: 2, Answered: 2, Closed: true})
	if _, err := s.Hear(t.Context(), m, "job-b", heardRecord(3000)); !errors.Is(err, bot.ErrSeen) {
		t.Errorf("redelivery after the job was closed: got %v, want %v", err, bot.ErrSeen)
	}
}

func hearInvalid(t *testing.T, s bot.Store) {
	hear(t, s, "bench", "e1", "job-a")
	before := look(t, s, "bench", "hall")
	for _, c := range []struct {
		name  string
		m     bot.Incoming
		fresh bot.JobID
	}{
		{"no adapter", bot.Incoming{Conversation: "bench", Keys: []bot.EventID{"x"}}, "job-b"},
		{"no conversation", bot.Incoming{Adapter: "console", Keys: []bot.EventID{"x"}}, "job-b"},
		{"empty key", incoming("bench", ""), "job-b"},
		{"no id for a new job", incoming("hall", "x"), ""},
		{"id in use", incoming("hall", "x"), "job-a"},
	} {
		if h, err := s.Hear(t.Context(), c.m, c.fresh, heardRecord(1)); !errors.Is(err, bot.ErrInvalid) {
			t.Errorf("%s: got %+v, %v; want %v", c.name, h, err, bot.ErrInvalid)
		}
	}
	if after := look(t, s, "bench", "hall"); !reflect.DeepEqual(after, before) {
		t.Errorf("a refused event changed the store:\n got %+v\nwant %+v", after, before)
	}
	hear(t, s, "hall", "x", "job-b") // the key was not remembered either
}

func hearAfterClose(t *testing.T, s bot.Store) {
	hear(t, s, "bench", "e1", "job-a")
	commit(t, s, bot.Commit{Job: "job-a", Version: 1, Answered: 1, Closed: true})
	if !info(t, s, "job-a").Closed {
		t.Error("job-a is not closed")
	}
	if h := hear(t, s, "bench", "e2", "job-b"); h.Job != "job-b" || !h.Fresh || h.Seq != 1 {
		t.Errorf("after close: got %+v, want a fresh job-b at 1", h)
	}
	// A late commit to the closed job neither opens it again nor disturbs the new one.
	commit(t, s, bot.Commit{Job: "job-a", Version: 1, Records: []bot.Record{said("job-a", 2)}})
	if i := info(t, s, "job-a"); !i.Closed || i.Version != 2 {
		t.Errorf("job-a after a late commit: %+v", i)
	}
	if h := hear(t, s, "bench", "e3", "job-c"); h.Job != "job-b" {
		t.Errorf("next event went to %s, want job-b", h.Job)
	}
	// Closing it a second time must not take the place from the new job.
	commit(t, s, bot.Commit{Job: "job-a", Version: 2, Closed: true})
	if h := hear(t, s, "bench", "e4", "job-c"); h.Job != "job-b" {
		t.Errorf("after closing twice the event went to %s, want job-b", h.Job)
	}
}

func loadWhole(t *testing.T, s bot.Store) {
	rec := heardRecord(1000)
	if _, err := s.Hear(t.Context(), incoming("bench", "e1"), "job-a", rec); err != nil {
		t.Fatal(err)
	}
	step := said("job-a", 2)
	commit(t, s, bot.Commit{Job: "job-a", Version: 1, Records: []bot.Record{step}})
	want := [][]byte{bytes.Clone(rec.Data), bytes.Clone(step.Data)}
	clear(rec.Data)
	clear(step.Data)
	for _, r := range load(t, s, "job-a") {
		if !bytes.Equal(r.Data, want[r.Seq-1]) {
			t.Errorf("record %d changed with the caller's slice: %q", r.Seq, r.Data)
		}
		clear(r.Data)
	}
	for _, r := range load(t, s, "job-a") {
		if !bytes.Equal(r.Data, want[r.Seq-1]) {
			t.Errorf("record %d changed with a loaded slice: %q", r.Seq, r.Data)
		}
	}
}

func notFound(t *testing.T, s bot.Store) {
	ctx := t.Context()
	_, load := s.Load(ctx, "none")
	_, info := s.Info(ctx, "none")
	_, claim := s.Claim(ctx, "console", "sender", 1, 2)
	_, blob := s.Blob(ctx, bot.BlobHash([]byte("none")))
	for _, c := range []struct {
		name string
		err  error
	}{
		{"load", load}, {"info", info}, {"claim", claim}, {"blob", blob},
		{"commit", s.Commit(ctx, bot.Commit{Job: "none", Version: 1})},
		{"sent", s.Sent(ctx, "none/1/1", "r")},
		{"retry", s.Retry(ctx, "none/1/1", 1)},
		{"drop", s.Drop(ctx, "none/1/1", "why")},
	} {
		if !errors.Is(c.err, bot.ErrNotFound) {
			t.Errorf("%s: got %v, want %v", c.name, c.err, bot.ErrNotFound)
		}
	}
	if p := look(t, s, "bench"); !reflect.DeepEqual(p, picture{}) {
		t.Errorf("an empty store shows %+v", p)
	}
}

func commitWrites(t *testing.T, s bot.Store) {
	hear(t, s, "bench", "e1", "job-a")
	commit(t, s, bot.Commit{
		Job: "job-a", Version: 1, Answered: 1,
		Records: []bot.Record{said("", 2), said("job-a", 3)}, // the job may be left out
		Outbox:  []bot.Outgoing{outgoing("", "bench", 2, 1)},
		Timers:  []bot.Timer{{Name: "silence", Due: 7}},
	})
	want := bot.JobInfo{Job: "job-a", Adapter: "console", Conversation: "bench",
		Opened: 1000, Last: 1003, Version: 3, Answered: 1}
	if got := info(t, s, "job-a"); got != want {
		t.Errorf("info: got %+v, want %+v", got, want)
	}
	if got := load(t, s, "job-a"); len(got) != 3 {
		t.Errorf("trail has %d records, want 3", len(got))
	}
	if got, want := due(t, s, 7), (bot.Timer{Job: "job-a", Name: "silence", Due: 7}); len(got) != 1 || got[0] != want {
		t.Errorf("timers: got %+v, want %+v", got, want)
	}
	if m := claim(t, s, 1, 2); m.Job != "job-a" {
		t.Errorf("message belongs to %q, want job-a", m.Job)
	}
	if h := hear(t, s, "bench", "e2", "job-b"); h.Seq != 4 {
		t.Errorf("next event has seq %d, want 4", h.Seq)
	}
}

func commitConflict(t *testing.T, s bot.Store) {
	hear(t, s, "bench", "e1", "job-a")
	hear(t, s, "bench", "e2", "job-b") // the trail grows between load and commit
	before := look(t, s, "bench")
	try := func(version int) bot.Commit {
		return bot.Commit{Job: "job-a", Version: version, Answered: 1, Records: []bot.Record{said("job-a", version+1)},
			Outbox: []bot.Outgoing{outgoing("job-a", "bench", version, 1)},
			Timers: []bot.Timer{{Job: "job-a", Name: "silence", Due: 7}}, Closed: true}
	}
	for _, version := range []int{1, 3} {
		if err := s.Commit(t.Context(), try(version)); !errors.Is(err, bot.ErrConflict) {
			t.Errorf("commit on %d of 2: got %v, want %v", version, err, bot.ErrConflict)
		}
	}
	if err := s.Commit(t.Context(), bot.Commit{Job: "job-a", Version: 1}); !errors.Is(err, bot.ErrConflict) {
		t.Errorf("empty commit on 1 of 2: got %v, want %v", err, bot.ErrConflict)
	}
	if after := look(t, s, "bench"); !reflect.DeepEqual(after, before) {
		t.Errorf("a conflict changed the store:\n got %+v\nwant %+v", after, before)
	}
	commit(t, s, try(2)) // computed anew it goes through
	if err := s.Commit(t.Context(), try(2)); !errors.Is(err, bot.ErrConflict) {
		t.Errorf("the same commit again: got %v, want %v", err, bot.ErrConflict)
	}
}

func commitInvalid(t *testing.T, s bot.Store) {
	enqueue(t, s, "job-a", "bench", 1)
	before := look(t, s, "bench")
	taken := outgoing("job-a", "bench", 1, 1)
	fresh := outgoing("job-a", "bench", 9, 1)
	bare := fresh
	bare.Conversation = ""
	for _, c := range []struct {
		name string
		c    bot.Commit
	}{
		{"no job", bot.Commit{Version: 1}},
		{"no version", bot.Commit{Job: "job-a"}},
		{"gap", bot.Commit{Job: "job-a", Version: 1, Records: []bot.Record{said("job-a", 3)}}},
		{"other job", bot.Commit{Job: "job-a", Version: 1, Records: []bot.Record{said("job-b", 2)}}},
		{"answers what is not there", bot.Commit{Job: "job-a", Version: 1, Answered: 2}},
		{"key in use", bot.Commit{Job: "job-a", Version: 1, Records: []bot.Record{said("job-a", 2)},
			Timers: []bot.Timer{{Name: "silence", Due: 7}}, Outbox: []bot.Outgoing{fresh, taken}}},
		{"key twice", bot.Commit{Job: "job-a", Version: 1, Records: []bot.Record{said("job-a", 2)},
			Outbox: []bot.Outgoing{fresh, fresh}}},
		{"message to nowhere", bot.Commit{Job: "job-a", Version: 1, Outbox: []bot.Outgoing{bare}}},
		{"timer without name", bot.Commit{Job: "job-a", Version: 1, Timers: []bot.Timer{{Due: 7}}}},
		{"timer of another job", bot.Commit{Job: "job-a", Version: 1, Timers: []bot.Timer{{Job: "job-b", Name: "x", Due: 7}}}},
	} {
		if err := s.Commit(t.Context(), c.c); !errors.Is(err, bot.ErrInvalid) {
			t.Errorf("%s: got %v, want %v", c.name, err, bot.ErrInvalid)
		}
	}
	if after := look(t, s, "bench"); !reflect.DeepEqual(after, before) {
		t.Errorf("a refused commit changed the store:\n got %+v\nwant %+v", after, before)
	}
}

func commitAnswered(t *testing.T, s bot.Store) {
	hear(t, s, "bench", "e1", "job-a")
	hear(t, s, "bench", "e2", "job-a")
	for _, c := range []struct{ answer, want int }{{0, 0}, {2, 2}, {1, 2}, {0, 2}} {
		commit(t, s, bot.Commit{Job: "job-a", Version: 2, Answered: c.answer})
		if got := info(t, s, "job-a").Answered; got != c.want {
			t.Errorf("answered %d: got %d, want %d", c.answer, got, c.want)
		}
	}
}

func unanswered(t *testing.T, s bot.Store) {
	want := func(jobs ...bot.JobID) {
		t.Helper()
		got, err := s.Unanswered(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, jobs) {
			t.Errorf("unanswered: got %v, want %v", got, jobs)
		}
	}
	want()
	hear(t, s, "bench", "e1", "job-a")
	hear(t, s, "hall", "e2", "job-b")
	want("job-a", "job-b")
	commit(t, s, bot.Commit{Job: "job-a", Version: 1, Answered: 1, Records: []bot.Record{said("job-a", 2)}})
	want("job-b") // records of a step need no answer
	hear(t, s, "bench", "e3", "")
	want("job-a", "job-b")
	commit(t, s, bot.Commit{Job: "job-a", Version: 3, Closed: true}) // closed with an event not yet answered
	want("job-a", "job-b")
	commit(t, s, bot.Commit{Job: "job-a", Version: 3, Answered: 3})
	commit(t, s, bot.Commit{Job: "job-b", Version: 1, Answered: 1})
	want()
}

func jobsOrder(t *testing.T, s bot.Store) {
	for _, j := range []struct {
		id bot.JobID
		at int64
	}{{"job-a", 20}, {"job-b", 10}, {"job-c", 30}, {"job-d", 20}} {
		c := bot.ConversationID("place of " + j.id)
		if _, err := s.Hear(t.Context(), incoming(c, bot.EventID(j.id)), j.id, heardRecord(j.at)); err != nil {
			t.Fatal(err)
		}
	}
	jobs, err := s.Jobs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var got []bot.JobID
	for _, j := range jobs {
		got = append(got, j.Job)
		if full := info(t, s, j.Job); full != j {
			t.Errorf("list says %+v, info says %+v", j, full)
		}
	}
	if want := []bot.JobID{"job-c", "job-d", "job-a", "job-b"}; !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v (latest opened first, then the one inserted last)", got, want)
	}
}

func roundTrip(t *testing.T, s bot.Store) {
	// 2026-03-29T01:00:00Z is the instant clocks change in central Europe; 1<<53+1 does
	// not fit a float64.
	times := []int64{0, 1, -1, 1774746000000, 1774746000001, 1<<53 + 1, math.MaxInt64, math.MinInt64}
	texts := []string{"", "Ω µ < & * _ \\ ' \" ; -- $1 ?", "a\nb\r\nc\t", "0° −5 … 14 Ω", "𝛀 e\u0301", "\u00a0"}
	for i, at := range times {
		text := texts[i%len(texts)]
		data := []byte(text)
		if i == 0 {
			data = nil
		}
		if i == 1 {
			data = []byte{0, 0xff, 0xfe, '{'} // bytes are kept as they are, even if this is no JSON
		}
		m := incoming(bot.ConversationID("c "+text), bot.EventID("k "+text+string(rune('a'+i))))
		rec := bot.Record{Schema: i, Kind: "kind " + text, At: at, By: bot.PersonID("by " + text), Data: data}
		h, err := s.Hear(t.Context(), m, bot.JobID(rune('a'+i)), rec)
		if err != nil {
			t.Fatal(err)
		}
		trail := load(t, s, h.Job)
		got := trail[len(trail)-1]
		if got.At != at || got.Schema != i || got.Kind != rec.Kind || got.By != rec.By || !bytes.Equal(got.Data, data) {
			t.Errorf("record came back as %+v, want %+v", got, rec)
		}
		if got := info(t, s, h.Job); got.Last != at || got.Conversation != m.Conversation {
			t.Errorf("info came back as %+v, want last %d in %q", got, at, m.Conversation)
		}
		out := outgoing(h.Job, m.Conversation, h.Seq, 1)
		out.Text, out.Prompt = text, h.Seq
		out.Choices = []bot.Choice{{Word: "yes", Label: text, Value: "v" + text}, {Word: "no"}}
		timer := bot.Timer{Job: h.Job, Name: "name " + text, Due: 1}
		if at > 0 {
			timer.Due = at
		}
		commit(t, s, bot.Commit{Job: h.Job, Version: h.Seq, Outbox: []bot.Outgoing{out}, Timers: []bot.Timer{timer}})
		sent := claim(t, s, 1, 2)
		out.Attempt = 1
		if !reflect.DeepEqual(sent, out) {
			t.Errorf("message came back as %+v, want %+v", sent, out)
		}
		if err := s.Sent(t.Context(), sent.Key, bot.MessageRef(text)); err != nil {
			t.Fatal(err)
		}
		if got := due(t, s, math.MaxInt64); len(got) != 1 || got[0] != timer {
			t.Errorf("timer came back as %+v, want %+v", got, timer)
		}
		commit(t, s, bot.Commit{Job: h.Job, Version: h.Seq, Fired: []string{timer.Name}})
	}
}

func endedContext(t *testing.T, s bot.Store) {
	hear(t, s, "bench", "e1", "job-a")
	before := look(t, s, "bench", "hall")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, hearErr := s.Hear(ctx, incoming("hall", "e2"), "job-b", heardRecord(1))
	_, loadErr := s.Load(ctx, "job-a")
	_, claimErr := s.Claim(ctx, "console", "sender", 1, 2)
	for _, c := range []struct {
		name string
		err  error
	}{
		{"hear", hearErr}, {"load", loadErr}, {"claim", claimErr},
		{"commit", s.Commit(ctx, bot.Commit{Job: "job-a", Version: 1, Records: []bot.Record{said("job-a", 2)}})},
	} {
		if !errors.Is(c.err, context.Canceled) {
			t.Errorf("%s: got %v, want %v", c.name, c.err, context.Canceled)
		}
	}
	if after := look(t, s, "bench", "hall"); !reflect.DeepEqual(after, before) {
		t.Errorf("a call with an ended context changed the store:\n got %+v\nwant %+v", after, before)
	}
	hear(t, s, "hall", "e2", "job-b") // the store still works
}

func closedStore(t *testing.T, s bot.Store) {
	hear(t, s, "bench", "e1", "job-a")
	closeStore(t, s)
	closeStore(t, s) // twice is harmless
	if _, err := s.Hear(t.Context(), incoming("bench", "e2"), "job-b", heardRecord(1)); err == nil {
		t.Error("hear on a closed store: no error")
	}
	if _, err := s.Load(t.Context(), "job-a"); err == nil || errors.Is(err, bot.ErrNotFound) {
		t.Errorf("load on a closed store: got %v, want another error", err)
	}
}
