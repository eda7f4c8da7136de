package main

import (
	"context"
	"encoding/hex"
	"sync"
	"time"

	"halfsplit/bot"
	"halfsplit/flows"
	"halfsplit/flows/circuit"
)

var _ flows.Shelf = (*shelf)(nil)

// shelf is the library, and behind it the unit files that the store kept with the jobs
// that used them: a job goes on with its own file when the library has a newer one.
type shelf struct {
	*library
	store bot.Store

	mu   sync.Mutex
	kept map[circuit.Hash]*circuit.Unit
}

// storeWait is how long a unit file is waited for.
const storeWait = 5 * time.Second

// Unit implements flows.Shelf.
func (s *shelf) Unit(h circuit.Hash) (*circuit.Unit, bool) {
	if u, ok := s.library.Unit(h); ok {
		return u, true
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if u, ok := s.kept[h]; ok {
		return u, true
	}
	ctx, cancel := context.WithTimeout(context.Background(), storeWait)
	defer cancel()
	text, err := s.store.Blob(ctx, hex.EncodeToString(h[:]))
	if err != nil {
		return nil, false
	}
	u, problems := circuit.Parse("kept with the job", text)
	if len(problems) > 0 {
		return nil, false
	}
	if s.kept == nil {
		s.kept = map[circuit.Hash]*circuit.Unit{}
	}
	s.kept[h] = u
	return u, true
}
