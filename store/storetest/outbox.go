package storetest

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"testing"

	"halfsplit/bot"
)

func claimOrder(t *testing.T, s bot.Store) {
	enqueue(t, s, "job-a", "bench", 3)
	enqueue(t, s, "job-b", "hall", 2)
	var got []string
	a := claim(t, s, 10, 20)
	b := claim(t, s, 10, 20) // the line of job-a is held, job-b's is not
	got = append(got, a.Key, b.Key)
	wantNone(t, s, 10)
	for len(got) < 5 {
		for _, m := range []bot.Outgoing{b, a} {
			if m.Key == "" {
				continue
			}
			if err := s.Sent(t.Context(), m.Key, "ref"); err != nil {
				t.Fatal(err)
			}
		}
		a, b = claim(t, s, 10, 20), bot.Outgoing{}
		got = append(got, a.Key)
	}
	var ofA, ofB []string
	for _, k := range got {
		if k[:5] == "job-a" {
			ofA = append(ofA, k)
		} else {
			ofB = append(ofB, k)
		}
	}
	if want := []string{"job-a/1/1", "job-a/1/2", "job-a/1/3"}; !slices.Equal(ofA, want) {
		t.Errorf("first conversation: got %v, want %v", ofA, want)
	}
	if want := []string{"job-b/1/1", "job-b/1/2"}; !slices.Equal(ofB, want) {
		t.Errorf("second conversation: got %v, want %v", ofB, want)
	}
	if n := unsent(t, s, "bench") + unsent(t, s, "hall"); n != 1 {
		t.Errorf("unsent: got %d, want the one that is leased", n)
	}
}

func claimAdapters(t *testing.T, s bot.Store) {
	h := hear(t, s, "bench", "e1", "job-a")
	page := outgoing(h.Job, "bench", 1, 1)
	page.Adapter = "web"
	commit(t, s, bot.Commit{Job: h.Job, Version: 1, Outbox: []bot.Outgoing{page, outgoing(h.Job, "bench", 1, 2)}})
	if m := claim(t, s, 1, 2); m.Key != "job-a/1/2" {
		t.Errorf("got %s, want the message of this adapter", m.Key)
	}
	m, err := s.Claim(t.Context(), "web", "sender", 1, 2)
	if err != nil || m.Key != page.Key {
		t.Errorf("got %s, %v; want %s", m.Key, err, page.Key)
	}
}

func claimLease(t *testing.T, s bot.Store) {
	enqueue(t, s, "job-a", "bench", 2)
	for i, c := range []struct{ now, until int64 }{{100, 200}, {200, 300}, {350, 400}} {
		m := claim(t, s, c.now, c.until)
		if m.Key != "job-a/1/1" || m.Attempt != i+1 {
			t.Errorf("claim %d: got %s, attempt %d; want job-a/1/1, attempt %d", i+1, m.Key, m.Attempt, i+1)
		}
		wantNone(t, s, c.until-1)
	}
	if n := unsent(t, s, "bench"); n != 2 {
		t.Errorf("unsent: got %d, want 2", n)
	}
	if err := s.Sent(t.Context(), "job-a/1/1", "ref"); err != nil {
		t.Fatal(err)
	}
	if m := claim(t, s, 399, 500); m.Key != "job-a/1/2" || m.Attempt != 1 {
		t.Errorf("got %s, attempt %d; want job-a/1/2, attempt 1", m.Key, m.Attempt)
	}
}

func claimRetry(t *testing.T, s bot.Store) {
	enqueue(t, s, "job-a", "bench", 2)
	enqueue(t, s, "job-b", "hall", 1)
	m := claim(t, s, 100, 1000)
	if err := s.Retry(t.Context(), m.Key, 150); err != nil {
		t.Fatal(err)
	}
	if other := claim(t, s, 100, 1000); other.Key != "job-b/1/1" {
		t.Errorf("got %s, want job-b/1/1: the first conversation waits as a whole", other.Key)
	}
	wantNone(t, s, 149)
	again := claim(t, s, 150, 1000)
	if again.Key != m.Key || again.Attempt != 2 {
		t.Errorf("got %s, attempt %d; want %s, attempt 2", again.Key, again.Attempt, m.Key)
	}
	wantNone(t, s, 999)
}

func claimDrop(t *testing.T, s bot.Store) {
	enqueue(t, s, "job-a", "bench", 2)
	m := claim(t, s, 100, 1000)
	if err := s.Drop(t.Context(), m.Key, "channel is archived"); err != nil {
		t.Fatal(err)
	}
	if n := unsent(t, s, "bench"); n != 1 {
		t.Errorf("unsent: got %d, want 1", n)
	}
	if next := claim(t, s, 100, 1000); next.Key != "job-a/1/2" {
		t.Errorf("got %s, want job-a/1/2", next.Key)
	}
	if err := s.Retry(t.Context(), m.Key, 0); err != nil {
		t.Fatal(err)
	}
	wantNone(t, s, 500) // a late retry does not bring it back
}

func sentHolds(t *testing.T, s bot.Store) {
	enqueue(t, s, "job-a", "bench", 1)
	m := claim(t, s, 100, 200)
	for _, err := range []error{
		s.Sent(t.Context(), m.Key, "ref"),
		s.Sent(t.Context(), m.Key, "other ref"),
		s.Retry(t.Context(), m.Key, 0),
		s.Drop(t.Context(), m.Key, "late"),
	} {
		if err != nil {
			t.Error(err)
		}
	}
	wantNone(t, s, 1<<60)
	if n := unsent(t, s, "bench"); n != 0 {
		t.Errorf("unsent: got %d, want 0", n)
	}
}

func timers(t *testing.T, s bot.Store) {
	hear(t, s, "bench", "e1", "job-a")
	hear(t, s, "hall", "e2", "job-b")
	want := func(now int64, want ...bot.Timer) {
		t.Helper()
		if got := due(t, s, now); !reflect.DeepEqual(got, want) {
			t.Errorf("due at %d: got %+v, want %+v", now, got, want)
		}
	}
	set := func(job bot.JobID, fired []string, ts ...bot.Timer) {
		t.Helper()
		commit(t, s, bot.Commit{Job: job, Version: 1, Fired: fired, Timers: ts})
	}
	silence := bot.Timer{Job: "job-a", Name: "silence", Due: 300}
	page := bot.Timer{Job: "job-a", Name: "page", Due: 100}
	other := bot.Timer{Job: "job-b", Name: "silence", Due: 200}
	set("job-a", nil, silence, page)
	set("job-b", nil, other)
	want(99)
	want(100, page)
	want(300, page, other, silence)
	silence.Due = 50
	set("job-a", nil, silence) // replaced: one per job and name
	want(300, silence, page, other)
	set("job-a", nil, bot.Timer{Job: "job-a", Name: "silence"})
	want(300, page, other)
	set("job-a", []string{"page"})
	want(300, other)
	set("job-a", []string{"page", "never set"}, bot.Timer{Job: "job-a", Name: "never set"}) // harmless
	page.Due = 400
	set("job-a", nil, page)
	page.Due = 500
	set("job-a", []string{"page"}, page) // consumed and set anew in one step
	want(499, other)
	want(500, other, page)
	hear(t, s, "bench", "e3", "")
	if err := s.Commit(t.Context(), bot.Commit{Job: "job-a", Version: 1, Fired: []string{"page"}}); !errors.Is(err, bot.ErrConflict) {
		t.Errorf("got %v, want %v", err, bot.ErrConflict)
	}
	want(500, other, page) // not consumed by a commit that failed
}

func blobs(t *testing.T, s bot.Store) {
	for i, data := range [][]byte{{}, []byte("unit: plate warmer\n"), bytes.Repeat([]byte{0, 1, 0xff}, 1<<20)} {
		hash := bot.BlobHash(data)
		for range 2 {
			if err := s.PutBlob(t.Context(), hash, data); err != nil {
				t.Fatalf("blob %d: %v", i, err)
			}
		}
		got, err := s.Blob(t.Context(), hash)
		if err != nil || !bytes.Equal(got, data) {
			t.Errorf("blob %d: %d bytes came back, want %d; %v", i, len(got), len(data), err)
		}
	}
	// FIPS 180-4 example for "abc", as published by NIST.
	const abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	if err := s.PutBlob(t.Context(), abc, []byte("abc")); err != nil {
		t.Errorf("hash of the standard's example: %v", err)
	}
	for _, hash := range []string{"", "abc", fmt.Sprintf("%X", abc), bot.BlobHash([]byte("x"))} {
		if err := s.PutBlob(t.Context(), hash, []byte("abcd")); !errors.Is(err, bot.ErrInvalid) {
			t.Errorf("content under hash %q: got %v, want %v", hash, err, bot.ErrInvalid)
		}
	}
}
