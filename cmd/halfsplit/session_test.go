package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halfsplit/adapters/console"
	"halfsplit/bot"
	"halfsplit/store/memory"
)

// session is what the technician types in the session of README.md: the coil of the
// contactor is shorted, and the first reading finds ground through the lamps.
var session = []string{
	"plate warmer, breaker goes as soon as I flip the switch",
	"cook did it 3 times, nobody was in it, nothing read yet",
	"abcdefghi",
	"j 208 0 0 0 0 0 0 0 208 l 0.2",
	"35.4",
	"0 0",
	"ol",
	"32 ohm",
	"OL",
	"0.9 ohm",
	"yes",
	"replaced, age",
	"ol, ol",
	"0.3, 698, 32, 731, 25.9, 36",
	"9, 10, white H3:2 to X1:N",
	"abcde",
	"yes",
	"held",
	"held",
	"yes, 8.0 A and 8.7 A",
}

// echoing is a console that prints what it receives, as a terminal shows what is typed.
type echoing struct {
	*console.Adapter
	out io.Writer
}

func (e echoing) Run(ctx context.Context, in bot.Receiver) error {
	return e.Adapter.Run(ctx, echo{in, e.out})
}

type echo struct {
	bot.Receiver
	out io.Writer
}

func (e echo) Receive(ctx context.Context, m bot.Incoming) error {
	if _, err := fmt.Fprintf(e.out, "\ntech  %s\n", m.Text); err != nil {
		return err
	}
	return e.Receiver.Receive(ctx, m)
}

func (e echo) Settled(ctx context.Context, c bot.ConversationID) error {
	return e.Receiver.(bot.Settler).Settled(ctx, c)
}

// The session in README.md is what the program prints, line by line.
func TestSession(t *testing.T) {
	l, err := readLibrary()
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	chat, err := console.New(console.Config{
		In: strings.NewReader(strings.Join(session, "\n") + "\n"), Out: &out, Person: demoTech, Conversation: demoTerminal,
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	clock := time.Date(2026, 11, 24, 9, 0, 0, 0, time.UTC)
	now := func() time.Time { return clock }
	s := Server{Store: memory.New(), Library: l, Out: &out, Chat: echoing{chat, &out}, Now: now, Log: logger(io.Discard)}
	if err := s.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	got := strings.TrimSpace(strings.ReplaceAll(out.String(), "\u00a0", " "))
	for _, want := range []string{"neutral, bonded to ground", "Found: contactor K1 coil shorted", "Outcome: restored"} {
		if !strings.Contains(got, want) {
			t.Errorf("the session does not say %q", want)
		}
	}
	const start, end = "<!-- session -->\n", "<!-- /session -->"
	page := filepath.Join("..", "..", "README.md")
	text, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := strings.Cut(string(text), start)
	old, after, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatal("README.md has no marks for the session")
	}
	want := "```text\n" + got + "\n```\n"
	if *update && old != want {
		if err := os.WriteFile(page, []byte(before+start+want+end+after), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if old != want {
		t.Errorf("README.md shows another session. Run: go test ./cmd/halfsplit -run TestSession -update\n%s", got)
	}
}
