package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
)

// chat runs the demo shop in this terminal.
func chat(ctx context.Context, p program, args []string) (err error) {
	fs := flag.NewFlagSet("chat", flag.ContinueOnError)
	path := storeFlag(fs)
	if _, err := parse(fs, args, 0); err != nil {
		return err
	}
	l, err := readLibrary()
	if err != nil {
		return err
	}
	st, err := openStore(ctx, p, *path)
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
