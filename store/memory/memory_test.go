package memory_test

import (
	"testing"

	"halfsplit/bot"
	"halfsplit/store/memory"
	"halfsplit/store/storetest"
)

func open(testing.TB) bot.Store { return memory.New() }

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) bot.Store { return open(t) })
}

func BenchmarkStore(b *testing.B) { storetest.Bench(b, open) }
