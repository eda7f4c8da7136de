package sqlite_test

import (
	"path/filepath"
	"testing"

	"halfsplit/bot"
	"halfsplit/store/sqlite"
	"halfsplit/store/storetest"
)

func open(tb testing.TB) bot.Store {
	tb.Helper()
	return openIn(tb, tb.TempDir())
}

func openIn(tb testing.TB, dir string) bot.Store {
	tb.Helper()
	s, err := sqlite.Open(tb.Context(), filepath.Join(dir, "jobs.db"), nil)
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) bot.Store { return open(t) })
}

func TestPersistent(t *testing.T) {
	storetest.RunPersistent(t, func(t *testing.T, dir string) bot.Store { return openIn(t, dir) })
}

func BenchmarkStore(b *testing.B) { storetest.Bench(b, open) }

// What became of a message is not read by the bot, but by whoever looks into the file.
func TestOutboxRow(t *testing.T) {
	s := open(t).(*sqlite.Store)
	defer s.Close()
	m := bot.Incoming{Adapter: "console", Conversation: "bench", Keys: []bot.EventID{"e1"}}
	if _, err := s.Hear(t.Context(), m, "job-a", bot.Record{Kind: "heard"}); err != nil {
		t.Fatal(err)
	}
	c := bot.Commit{Job: "job-a", Version: 1}
	for _, key := range []string{"a", "b"} {
		c.Outbox = append(c.Outbox, bot.Outgoing{Key: key, Adapter: "console", Conversation: "bench"})
	}
	for _, err := range []error{
		s.Commit(t.Context(), c),
		s.Sent(t.Context(), "a", "first"), s.Sent(t.Context(), "a", "second"), s.Drop(t.Context(), "a", "late"),
		s.Drop(t.Context(), "b", "archived"), s.Drop(t.Context(), "b", "twice"),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	for key, want := range map[string]string{"a": "sent,first,", "b": "dropped,,archived"} {
		var got string
		const query = "SELECT state || ',' || ref || ',' || why FROM outbox WHERE id = $1"
		if err := s.Reader().QueryRow(query, key).Scan(&got); err != nil || got != want {
			t.Errorf("message %s: %s, %v; want %s", key, got, err, want)
		}
	}
}
