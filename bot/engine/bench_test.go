package engine_test

import (
	"fmt"
	"path/filepath"
	"testing"

	"halfsplit/bot/engine"
	"halfsplit/store/sqlite"
)

// BenchmarkMessage is one message from Receive until its answer is marked sent, through
// SQLite on disk, with a dialog that computes nothing. The trail grows by four records a
// message; every 50 messages a new job begins.
func BenchmarkMessage(b *testing.B) {
	st, err := sqlite.Open(b.Context(), filepath.Join(b.TempDir(), "bench.db"), nil)
	if err != nil {
		b.Fatal(err)
	}
	defer st.Close()
	n := 0
	s := set(nil, st, func(c *engine.Config) { c.NewID = func() string { n++; return fmt.Sprint("job", n) } })
	ctx := b.Context()
	go s.Run(ctx)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		text := "on"
		if i%50 == 49 {
			text = "bye"
		}
		if err := s.Receive(ctx, line(fmt.Sprint("k", i), text)); err != nil {
			b.Fatal(err)
		}
		if err := s.Settled(ctx, "c"); err != nil {
			b.Fatal(err)
		}
	}
}
