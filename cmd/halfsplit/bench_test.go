package main

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"halfsplit/bot"
	"halfsplit/bot/engine"
	"halfsplit/flows"
	"halfsplit/store/memory"
	"halfsplit/store/sqlite"
)

// deaf is a chat system that takes messages and brings none.
type deaf struct{}

func (deaf) Name() string       { return "deaf" }
func (deaf) Limits() bot.Limits { return bot.Limits{Choices: 24} }

func (deaf) Run(ctx context.Context, _ bot.Receiver) error {
	<-ctx.Done()
	return nil
}

func (deaf) Send(context.Context, bot.Outgoing) (bot.MessageRef, error) { return "1", nil }

// BenchmarkMessage is one message of a scripted job on the plate warmer, from Receive
// until its answer is marked sent, with the real dialog. The time on SQLite is that of
// about four waits for the disk; the time in memory is the program's own.
func BenchmarkMessage(b *testing.B) {
	b.Run("sqlite", func(b *testing.B) {
		st, err := sqlite.Open(b.Context(), filepath.Join(b.TempDir(), "bench.db"), nil)
		if err != nil {
			b.Fatal(err)
		}
		defer st.Close()
		benchMessage(b, st)
	})
	b.Run("memory", func(b *testing.B) { benchMessage(b, memory.New()) })
}

func benchMessage(b *testing.B, st bot.Store) {
	l, err := readLibrary()
	if err != nil {
		b.Fatal(err)
	}
	e := engine.New(engine.Config{Store: st, Dialog: flows.New(l), Adapters: []bot.Adapter{deaf{}}, People: demoPeople()})
	ctx, cancel := context.WithCancel(b.Context())
	end := make(chan error)
	go func() { end <- e.Run(ctx) }()
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		conv := bot.ConversationID(fmt.Sprint("job", i/len(script)))
		err := e.Receive(ctx, bot.Incoming{
			Adapter: "deaf", Conversation: conv, Person: demoTech, Keys: []bot.EventID{bot.EventID(fmt.Sprint(i))},
			Text: script[i%len(script)], SentAt: time.Now().UnixMilli(),
		})
		if err == nil {
			err = e.Settled(ctx, conv)
		}
		if err != nil {
			b.Fatal(err)
		}
	}
	cancel()
	if err := <-end; err != nil {
		b.Fatal(err)
	}
}
