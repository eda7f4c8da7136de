package console_test

import (
	"bytes"
	"io"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"halfsplit/adapters/console"
	"halfsplit/bot"
	"halfsplit/bot/bottest"
)

// screen is what the person sees.
type screen struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.buf.Write(p)
}

func (s *screen) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.buf.String()
}

// far is the person's side of a console.
type far struct {
	a        *console.Adapter
	w        io.WriteCloser
	out      *screen
	terminal bool
}

func newFar(t *testing.T, terminal bool) *far {
	t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close(); w.Close() })
	f := &far{w: w, out: &screen{}, terminal: terminal}
	f.a, err = console.New(console.Config{In: r, Out: f.out, Person: "console:ann", Conversation: "console:bench",
		Terminal: terminal}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func (f *far) Adapter() bot.Adapter             { return f.a }
func (f *far) Conversation() bot.ConversationID { return "console:bench" }

func (f *far) Say(t *testing.T, text string) {
	if _, err := io.WriteString(f.w, text+"\n"); err != nil {
		t.Fatal(err)
	}
}

func (f *far) Restart(t *testing.T) bottest.Harness { return newFar(t, f.terminal) }

// Seen reads the blocks of the screen back. It knows the layout from the package
// comment only: a first column of six, blocks set off by blank lines.
func (f *far) Seen(*testing.T) []bottest.Seen {
	var out []bottest.Seen
	for _, l := range strings.Split(f.out.String(), "\n") {
		l = strings.TrimPrefix(l, "> ")
		head, rest := l, ""
		if len(l) > 6 {
			head, rest = l[:6], l[6:]
		}
		n := len(out)
		switch strings.TrimSpace(head) {
		case "bot", "note":
			out = append(out, bottest.Seen{Text: rest})
		case "":
			words, ok := strings.CutPrefix(rest, "answer: ")
			if ok {
				out[n-1].Choices = strings.Split(words, " / ")
			} else if n > 0 {
				out[n-1].Text += "\n" + rest
			}
		}
	}
	for i := range out {
		out[i].Text = strings.TrimRight(out[i].Text, "\n")
	}
	return out
}

// Same compares by words, since long lines are broken.
func (f *far) Same(sent, seen string) bool {
	words := func(s string) []string {
		return strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '\n' })
	}
	return slices.Equal(words(sent), words(seen))
}

// piped adds the end of input, which a terminal does not wait for line by line.
type piped struct{ *far }

func (p piped) End(t *testing.T) {
	if err := p.w.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestConformance(t *testing.T) {
	t.Run("pipe", func(t *testing.T) {
		bottest.Run(t, func(t *testing.T) bottest.Harness { return piped{newFar(t, false)} })
	})
	t.Run("terminal", func(t *testing.T) {
		bottest.Run(t, func(t *testing.T) bottest.Harness { return newFar(t, true) })
	})
}
