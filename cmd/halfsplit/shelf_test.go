package main

import (
	"bytes"
	"testing"

	"halfsplit/bot"
	"halfsplit/flows/circuit"
	"halfsplit/store/memory"
)

// A job keeps the unit file it was opened with when the library has changed.
func TestShelfKeepsTheFileOfAJob(t *testing.T) {
	l, err := readLibrary()
	if err != nil {
		t.Fatal(err)
	}
	if len(l.units) == 0 {
		t.Fatal("the library is empty")
	}
	old := append(bytes.Clone(l.units[0].Source), "\n# an earlier version\n"...)
	st := memory.New()
	if err := st.PutBlob(t.Context(), bot.BlobHash(old), old); err != nil {
		t.Fatal(err)
	}
	u, problems := circuit.Parse("old.yaml", old)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	s := &shelf{library: l, store: st}
	for range 2 {
		if got, ok := s.Unit(u.Hash); !ok || got.Hash != u.Hash {
			t.Errorf("got %v, %v", got, ok)
		}
	}
	if _, ok := s.Unit(circuit.Hash{1}); ok {
		t.Error("a unit that is nowhere was found")
	}
	if len(s.Entries()) != len(l.units) {
		t.Error("an earlier version is offered")
	}
}
