package storetest

import (
	"fmt"
	"testing"

	"halfsplit/bot"
)

// Bench measures the life of one message: heard, then a step of two records, one
// message and one timer, then claimed and sent.
func Bench(b *testing.B, open func(tb testing.TB) bot.Store) {
	b.Run("hear and commit", func(b *testing.B) {
		s := open(b)
		defer s.Close()
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			one(b, s, i)
		}
	})
	b.Run("hear, commit, claim and sent", func(b *testing.B) {
		s := open(b)
		defer s.Close()
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			one(b, s, i)
			m, err := s.Claim(b.Context(), "console", "sender", 1, 1000)
			if err != nil {
				b.Fatal(err)
			}
			if err := s.Sent(b.Context(), m.Key, "ref"); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// one is the i-th message; a job takes forty of them.
func one(b *testing.B, s bot.Store, i int) {
	c := bot.ConversationID(fmt.Sprint("place ", i/40))
	job := bot.JobID(fmt.Sprint("job ", i/40))
	h, err := s.Hear(b.Context(), incoming(c, bot.EventID(fmt.Sprint("e", i))), job, heardRecord(int64(i)))
	if err != nil {
		b.Fatal(err)
	}
	err = s.Commit(b.Context(), bot.Commit{Job: h.Job, Version: h.Seq, Answered: h.Seq,
		Records: []bot.Record{said(h.Job, h.Seq+1), said(h.Job, h.Seq+2)},
		Outbox:  []bot.Outgoing{outgoing(h.Job, c, h.Seq, 1)},
		Timers:  []bot.Timer{{Name: "silence", Due: int64(i) + 1}}})
	if err != nil {
		b.Fatal(err)
	}
}
