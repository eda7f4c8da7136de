package storetest

import (
	"errors"
	"fmt"
	"reflect"
	"sync"
	"testing"

	"halfsplit/bot"
)

// RunPersistent checks what outlives a process. open opens the store in dir, creating it
// the first time; it may be called while the one before is still open, as by another
// process.
func RunPersistent(t *testing.T, open func(t *testing.T, dir string) bot.Store) {
	t.Run("close and open again", func(t *testing.T) { reopen(t, open) })
	t.Run("two at once on the same content", func(t *testing.T) { shared(t, open) })
}

func reopen(t *testing.T, open func(t *testing.T, dir string) bot.Store) {
	dir := t.TempDir()
	s := open(t, dir)
	data := []byte("unit: plate warmer\n")
	if err := s.PutBlob(t.Context(), bot.BlobHash(data), data); err != nil {
		t.Fatal(err)
	}
	enqueue(t, s, "job-a", "bench", 2)
	leased := claim(t, s, 100, 200)
	hear(t, s, "hall", "e1", "job-b")
	commit(t, s, bot.Commit{Job: "job-b", Version: 1, Answered: 1, Records: []bot.Record{said("job-b", 2)},
		Timers: []bot.Timer{{Name: "silence", Due: 7}}, Closed: true})
	hear(t, s, "shed", "e2", "job-c")
	before := look(t, s, "bench", "hall", "shed")
	closeStore(t, s)

	s = open(t, dir)
	defer closeStore(t, s)
	if after := look(t, s, "bench", "hall", "shed"); !reflect.DeepEqual(after, before) {
		t.Errorf("after opening again:\n got %+v\nwant %+v", after, before)
	}
	if got, err := s.Blob(t.Context(), bot.BlobHash(data)); err != nil || string(got) != string(data) {
		t.Errorf("blob: got %q, %v", got, err)
	}
	if _, err := s.Hear(t.Context(), incoming("hall", "e1"), "job-d", heardRecord(1)); !errors.Is(err, bot.ErrSeen) {
		t.Errorf("redelivery after opening again: got %v, want %v", err, bot.ErrSeen)
	}
	wantNone(t, s, 199) // the lease outlives the process that took it
	if m := claim(t, s, 200, 300); m.Key != leased.Key || m.Attempt != 2 {
		t.Errorf("got %s, attempt %d; want %s, attempt 2", m.Key, m.Attempt, leased.Key)
	}
}

// shared has two open stores hear, commit and claim in turns and at the same time.
func shared(t *testing.T, open func(t *testing.T, dir string) bot.Store) {
	dir := t.TempDir()
	a := open(t, dir)
	defer closeStore(t, a)
	b := open(t, dir)
	defer closeStore(t, b)
	hear(t, a, "bench", "e1", "job-a")
	if _, err := b.Hear(t.Context(), incoming("bench", "e1"), "job-b", heardRecord(1)); !errors.Is(err, bot.ErrSeen) {
		t.Errorf("the other one: got %v, want %v", err, bot.ErrSeen)
	}
	if h := hear(t, b, "bench", "e2", "job-b"); h.Job != "job-a" || h.Seq != 2 {
		t.Errorf("the other one heard into %+v, want job-a at 2", h)
	}
	if err := a.Commit(t.Context(), bot.Commit{Job: "job-a", Version: 1}); !errors.Is(err, bot.ErrConflict) {
		t.Errorf("got %v, want %v", err, bot.ErrConflict)
	}
	const n = 15
	var wg sync.WaitGroup
	for i, s := range []bot.Store{a, b} {
		wg.Go(func() {
			if err := speak(t.Context(), s, "bench", fmt.Sprint("person ", i), n); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	trail := load(t, a, "job-a")
	if len(trail) != 2+2*n {
		t.Errorf("%d records, want %d", len(trail), 2+2*n)
	}
	if other := load(t, b, "job-a"); !reflect.DeepEqual(other, trail) {
		t.Error("the two show different trails")
	}
	c := bot.Commit{Job: "job-a", Version: len(trail)}
	for i := range 2 * n {
		c.Outbox = append(c.Outbox, outgoing("job-a", bot.ConversationID(fmt.Sprint("place ", i)), 1, i+1))
	}
	commit(t, a, c)
	var mu sync.Mutex
	claims := map[string]int{}
	for _, s := range []bot.Store{a, b} {
		wg.Go(func() {
			for {
				m, err := s.Claim(t.Context(), "console", "sender", 1, 1000)
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
	for k, got := range claims {
		if got != 1 {
			t.Errorf("message %s was taken %d times", k, got)
		}
	}
	if len(claims) != 2*n {
		t.Errorf("%d of %d messages were taken", len(claims), 2*n)
	}
}
