package main

import (
	"context"
	"errors"
	"fmt"
)

// chat runs the demo shop in this terminal.
func chat(ctx context.Context, p program, args []string) (err error) {
	l, st, _, err := openJobs(ctx, p, "chat", args, 0)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	s := Server{Store: st, Library: l, In: p.in, Out: p.out, Terminal: p.terminal, Now: p.now, Log: logger(p.err)}
	if err := s.Run(ctx); err != nil {
		return err
	}
	if p.terminal {
		_, err = fmt.Fprintln(p.out, "\nEverything is kept. Start halfsplit again to go on.")
	}
	return err
}
