package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"time"

	"halfsplit/adapters/console"
	"halfsplit/bot"
	"halfsplit/bot/engine"
	"halfsplit/flows"
)

// The one person of the demo shop, and the place where the chat is.
const (
	demoTech     bot.PersonID       = "console:tech"
	demoTerminal bot.ConversationID = "terminal"
)

// Server is the demo shop: its library, its store and the chat in one terminal.
type Server struct {
	Store    bot.Store
	Library  *library
	In       io.Reader
	Out      io.Writer
	Terminal bool        // In is a terminal; if not, each line waits for the answers to the one before
	Chat     bot.Adapter // instead of the console on In and Out; its place is the terminal
	Now      func() time.Time
	Log      *slog.Logger
}

// shopPeople are the people of the demo shop and what they may do.
type shopPeople map[bot.PersonID]flows.Rights

// Rights implements engine.People.
func (s shopPeople) Rights(p bot.PersonID) (flows.Rights, bool) {
	r, ok := s[p]
	return r, ok
}

// demoPeople: one technician who may open covers, prove dead and use an ohmmeter.
func demoPeople() shopPeople {
	return shopPeople{demoTech: {Name: "Tech", Roles: []flows.Role{flows.Tech}, May: flows.MayDead}}
}

// Run says what this is and works until In ends or ctx does. Nothing is left running
// but, on a terminal, the read that waits for a line.
func (s *Server) Run(ctx context.Context) error {
	chat := s.Chat
	if chat == nil {
		var err error
		chat, err = console.New(console.Config{
			In: s.In, Out: s.Out, Person: demoTech, Conversation: demoTerminal, Terminal: s.Terminal, Now: s.Now,
		}, s.Log)
		if err != nil {
			return err
		}
	}
	if err := s.greet(ctx, chat.Name()); err != nil {
		return err
	}
	e := engine.New(engine.Config{
		Store: s.Store, Dialog: flows.New(&shelf{library: s.Library, store: s.Store}), Adapters: []bot.Adapter{chat}, People: demoPeople(),
		Now: s.Now, Log: s.Log, Source: s.Library.source,
		Resume: []engine.Place{{Adapter: chat.Name(), Conversation: demoTerminal}},
		// A terminal takes a message at once. What a killed process had claimed is
		// printed again after this time.
		Lease: 300 * time.Millisecond, Poll: 50 * time.Millisecond,
	})
	return e.Run(ctx)
}

// greet prints what this is, one line of caution, and how to begin.
func (s *Server) greet(ctx context.Context, adapter string) error {
	job, err := openJob(ctx, s.Store, adapter)
	if err != nil && !errors.Is(err, bot.ErrNotFound) {
		return err
	}
	begin := "Begin: say what the unit is and what it does. For example:\n" +
		"plate warmer, breaker goes as soon as I flip the switch"
	if err == nil {
		begin = fmt.Sprintf("Job %s is open and goes on below.", job)
	}
	_, err = fmt.Fprintf(s.Out, "Halfsplit, demo shop. You are the technician; I help you find an electrical\n"+
		"fault in a unit, one reading at a time.\n"+
		"This is work for qualified, licensed people. Your local code and your\n"+
		"employer's procedure come before anything I say.\n"+
		"%s\n", begin)
	return err
}

// openJob returns the open job of the terminal; bot.ErrNotFound if there is none.
func openJob(ctx context.Context, st bot.Store, adapter string) (bot.JobID, error) {
	all, err := st.Jobs(ctx)
	if err != nil {
		return "", err
	}
	for _, j := range all {
		if !j.Closed && j.Adapter == adapter && j.Conversation == demoTerminal {
			return j.Job, nil
		}
	}
	return "", fmt.Errorf("open job: %w", bot.ErrNotFound)
}
