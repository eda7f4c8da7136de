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
