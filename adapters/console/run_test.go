package console_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"testing/synctest"
	"time"

	"halfsplit/adapters/console"
	"halfsplit/bot"
)

// desk is a receiver that stores what it hears and answers with fn.
type desk struct {
	mu    sync.Mutex
	heard []bot.Incoming
	tries int
	fail  func(m bot.Incoming, try int) error
	fn    func(ctx context.Context, m bot.Incoming)
}

func (d *desk) Receive(ctx context.Context, m bot.Incoming) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.tries++
	if d.fail != nil {
		if err := d.fail(m, d.tries); err != nil {
			return err
		}
	}
	d.heard = append(d.heard, m)
	return nil
}

// Settled answers the last thing heard.
func (d *desk) Settled(ctx context.Context, _ bot.ConversationID) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.fn != nil && len(d.heard) > 0 {
		d.fn(ctx, d.heard[len(d.heard)-1])
	}
	return nil
}

func (d *desk) texts() []string {
	d.mu.Lock()
	defer d.mu.Unlock()
	var out []string
	for _, m := range d.heard {
		out = append(out, m.Text)
	}
	return out
}

func newConsole(t *testing.T, in io.Reader, out io.Writer, terminal bool) *console.Adapter {
	t.Helper()
	a, err := console.New(console.Config{In: in, Out: out, Person: "console:ann", Conversation: "console:bench",
		Terminal: terminal, Now: func() time.Time { return time.UnixMilli(1774746000001) }}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestNewNamesWhatIsMissing(t *testing.T) {
	_, err := console.New(console.Config{In: strings.NewReader("")}, slog.New(slog.DiscardHandler))
	if err == nil {
		t.Fatal("no error")
	}
	for _, want := range []string{"Out", "Person", "Conversation"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q does not name %s", err, want)
		}
	}
	if strings.Contains(err.Error(), "In,") {
		t.Errorf("%q names what is set", err)
	}
}

// A file of lines through a pipe: which of them are events, and with which text.
func TestLines(t *testing.T) {
	full := strings.Repeat("µ", console.MaxLine/2) // two bytes each
	for _, c := range []struct {
		name, in string
		want     []string
		notes    int
	}{
		{"nothing", "", nil, 0},
		{"line ends", "a\nb\r\nc", []string{"a", "b", "c"}, 0},
		{"blank lines are not events", "\n \na\n\t\n\r\n", []string{"a"}, 0},
		{"spaces are kept", "  a  b \n", []string{"  a  b "}, 0},
		{"not UTF-8", "stop\xff\n", []string{"stop\ufffd"}, 0},
		{"as long as allowed", full + "\n" + full + "\r\n" + full, []string{full, full, full}, 0},
		{"a byte too long", "a\n" + full + "x\nb\n", []string{"a", "b"}, 1},
		{"a byte too long at the end", "a\n" + full + "x", []string{"a"}, 1},
		{"far too long", "a\n" + strings.Repeat("x", 3<<20) + "\nb\n" + full + "xxx\r\nc", []string{"a", "b", "c"}, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			for how, in := range map[string]io.Reader{
				"whole": strings.NewReader(c.in), "in halves": iotest.HalfReader(strings.NewReader(c.in)),
				"end with the data": iotest.DataErrReader(strings.NewReader(c.in)),
			} {
				var out screen
				var d desk
				if err := newConsole(t, in, &out, false).Run(t.Context(), &d); err != nil {
					t.Fatalf("%s: %v", how, err)
				}
				if got := d.texts(); !slices.Equal(got, c.want) {
					t.Errorf("%s: got %.80q, want %.80q", how, got, c.want)
				}
				if n := strings.Count(out.String(), "note  Line "); n != c.notes {
					t.Errorf("%s: %d notes, want %d: %s", how, n, c.notes, out.String())
				}
			}
		})
	}
}

func TestRefusalSaysWhichLine(t *testing.T) {
	var out screen
	in := "a\n\n" + strings.Repeat("x", console.MaxLine+1) + "\n"
	if err := newConsole(t, strings.NewReader(in), &out, false).Run(t.Context(), &desk{}); err != nil {
		t.Fatal(err)
	}
	const want = "\nnote  Line 3 is longer than 64 KiB and was not taken. All other lines are.\n      Send it again in shorter lines.\n"
	if out.String() != want {
		t.Errorf("got %q, want %q", out.String(), want)
	}
}

func TestEventFields(t *testing.T) {
	var d desk
	if err := newConsole(t, strings.NewReader("12 ohm\n12 ohm\n"), io.Discard, false).Run(t.Context(), &d); err != nil {
		t.Fatal(err)
	}
	m := d.heard[0]
	if m.Adapter != "console" || m.Person != "console:ann" || m.Conversation != "console:bench" || m.SentAt != 1774746000001 {
		t.Errorf("got %+v", m)
	}
	keys := map[bot.EventID]bool{d.heard[0].Keys[0]: true, d.heard[1].Keys[0]: true}
	// The same clock reading and the same lines after a restart must give other keys.
	var again desk
	if err := newConsole(t, strings.NewReader("12 ohm\n"), io.Discard, false).Run(t.Context(), &again); err != nil {
		t.Fatal(err)
	}
	keys[again.heard[0].Keys[0]] = true
	if len(keys) != 3 {
		t.Errorf("keys are not distinct: %v", keys)
	}
}

// The whole output of a short piped exchange.
func TestPipedExchange(t *testing.T) {
	var out screen
	a := newConsole(t, strings.NewReader("breaker trips\n12 ohm\n"), &out, false)
	d := &desk{}
	n := 0
	d.fn = func(ctx context.Context, m bot.Incoming) {
		n++
		if n > 2 { // the wait at the end of input
			return
		}
		for i, text := range []string{"Heard: " + m.Text, "Next?"} {
			o := bot.Outgoing{Key: fmt.Sprint(n, i), Conversation: m.Conversation, Text: text, Attempt: 1}
			if i == 1 {
				o.Choices = []bot.Choice{{Word: "yes"}, {Word: "no"}, {Word: "not sure"}}
			}
			if _, err := a.Send(ctx, o); err != nil {
				t.Error(err)
			}
		}
	}
	if err := a.Run(t.Context(), d); err != nil {
		t.Fatal(err)
	}
	const want = `
bot   Heard: breaker trips

bot   Next?
      answer: yes / no / not sure

bot   Heard: 12 ohm

bot   Next?
      answer: yes / no / not sure
`
	if out.String() != want {
		t.Errorf("got\n%s\nwant\n%s", out.String(), want)
	}
}

func TestTerminalShowsAMark(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, w := io.Pipe()
		var out screen
		a := newConsole(t, r, &out, true)
		answer := make(chan struct{})
		d := &desk{}
		d.fn = func(ctx context.Context, m bot.Incoming) {
			select {
			case <-answer:
			case <-ctx.Done():
				return
			}
			if _, err := a.Send(ctx, bot.Outgoing{Key: m.Text, Conversation: m.Conversation, Text: "Heard."}); err != nil {
				t.Error(err)
			}
		}
		done := make(chan error, 1)
		go func() { done <- a.Run(t.Context(), d) }()
		step := func(what, want string) {
			t.Helper()
			synctest.Wait()
			if got := out.String(); got != want {
				t.Errorf("%s: got %q, want %q", what, got, want)
			}
		}
		step("start", "\n> ")
		if _, err := a.Send(t.Context(), bot.Outgoing{Key: "x", Conversation: "console:bench", Text: "Five minutes."}); err != nil {
			t.Fatal(err)
		}
		step("a message while the person is typing", "\n> \n\nbot   Five minutes.\n\n> ")
		if _, err := io.WriteString(w, "a\n"); err != nil {
			t.Fatal(err)
		}
		step("a line, not answered yet", "\n> \n\nbot   Five minutes.\n\n> ")
		close(answer)
		step("its answer, and the mark again", "\n> \n\nbot   Five minutes.\n\n> \nbot   Heard.\n\n> ")
		w.Close()
		synctest.Wait()
		select {
		case err := <-done:
			if err != nil {
				t.Error(err)
			}
		default:
			t.Error("Run did not return at the end of input")
		}
	})
}

// On a terminal a "stop" must not wait for the answer to the line before it.
func TestTerminalTakesLinesBeforeAnswers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, w := io.Pipe()
		d := &desk{}
		blocked := &waiting{desk: d}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error, 1)
		go func() { done <- newConsole(t, r, io.Discard, true).Run(ctx, blocked) }()
		for _, l := range []string{"12 ohm\n", "stop\n"} {
			if _, err := io.WriteString(w, l); err != nil {
				t.Fatal(err)
			}
		}
		synctest.Wait()
		if got := d.texts(); !slices.Equal(got, []string{"12 ohm", "stop"}) {
			t.Errorf("got %q while the first answer is outstanding", got)
		}
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}

// waiting never settles before its context ends.
type waiting struct{ *desk }

func (w *waiting) Settled(ctx context.Context, _ bot.ConversationID) error {
	<-ctx.Done()
	return ctx.Err()
}

var errDisk = errors.New("disk full")

func TestStoreFailure(t *testing.T) {
	for _, c := range []struct {
		name     string
		terminal bool
		fails    int // offers of the second line that fail
		want     []string
		err      bool
		notes    int
	}{
		{"once", false, 1, []string{"a", "b", "c"}, false, 0},
		{"four times", false, 4, []string{"a", "b", "c"}, false, 0},
		{"for good, pipe", false, 100, []string{"a"}, true, 1},
		{"for good, terminal", true, 100, []string{"a", "c"}, false, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { // the pauses pass at once
				var out screen
				d := &desk{}
				keys := map[bot.EventID]bool{}
				left := c.fails
				d.fail = func(m bot.Incoming, _ int) error {
					if m.Text == "b" {
						keys[m.Keys[0]] = true
						if left--; left >= 0 {
							return errDisk
						}
					}
					return nil
				}
				err := newConsole(t, strings.NewReader("a\nb\nc\n"), &out, c.terminal).Run(t.Context(), d)
				if c.err != errors.Is(err, errDisk) || !c.err && err != nil {
					t.Errorf("got %v, want an error: %v", err, c.err)
				}
				if got := d.texts(); !slices.Equal(got, c.want) {
					t.Errorf("stored %q, want %q", got, c.want)
				}
				if len(keys) != 1 {
					t.Errorf("offered with keys %v, want always the same", keys)
				}
				if n := strings.Count(out.String(), "note  Line 2 could not be stored"); n != c.notes {
					t.Errorf("%d notes, want %d: %s", n, c.notes, out.String())
				}
			})
		})
	}
}

func TestReadFailure(t *testing.T) {
	in := io.MultiReader(strings.NewReader("a\n"), iotest.ErrReader(errDisk))
	d := &desk{}
	err := newConsole(t, in, io.Discard, false).Run(t.Context(), d)
	if !errors.Is(err, errDisk) || !strings.Contains(err.Error(), "line 2") {
		t.Errorf("got %v, want the cause and the line", err)
	}
	if got := d.texts(); !slices.Equal(got, []string{"a"}) {
		t.Errorf("got %q", got)
	}
}

func TestRunOnce(t *testing.T) {
	a := newConsole(t, strings.NewReader(""), io.Discard, false)
	if err := a.Run(t.Context(), &desk{}); err != nil {
		t.Fatal(err)
	}
	if err := a.Run(t.Context(), &desk{}); err == nil {
		t.Error("a second Run did nothing and said nothing")
	}
}

func TestSend(t *testing.T) {
	var out screen
	a := newConsole(t, strings.NewReader(""), &out, false)
	msg := func(key string, attempt int) bot.Outgoing {
		return bot.Outgoing{Key: key, Conversation: "console:bench", Text: "Is it locked off?", Attempt: attempt}
	}
	first, err := a.Send(t.Context(), msg("job/1/1", 1))
	if err != nil {
		t.Fatal(err)
	}
	if again, err := a.Send(t.Context(), msg("job/1/1", 2)); err != nil || again != first {
		t.Errorf("the same message again: got %q, %v; want %q", again, err, first)
	}
	if other, err := a.Send(t.Context(), msg("job/1/2", 2)); err != nil || other == first {
		t.Errorf("another message: got %q, %v", other, err)
	}
	const want = "\nbot   Is it locked off?\n\nbot   (again) Is it locked off?\n"
	if out.String() != want {
		t.Errorf("got %q, want %q", out.String(), want)
	}
	var p *bot.Permanent
	elsewhere := msg("job/1/3", 1)
	elsewhere.Conversation = "console:hall"
	if _, err := a.Send(t.Context(), elsewhere); !errors.As(err, &p) {
		t.Errorf("a place that is not there: got %v, want %T", err, p)
	}
	if _, err := newConsole(t, strings.NewReader(""), failWriter{}, false).Send(t.Context(), msg("k", 1)); !errors.As(err, &p) || !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("output closed: got %v, want %T", err, p)
	}
}

type failWriter struct{}

func (failWriter) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

// A message reaches the output in one write, so that another program's output cannot
// stand in the middle of it.
func TestOneWriteAMessage(t *testing.T) {
	var w countWriter
	a := newConsole(t, strings.NewReader(""), &w, false)
	m := bot.Outgoing{Key: "k", Conversation: "console:bench", Text: strings.Repeat("word ", 100)}
	if _, err := a.Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	if w.n != 1 || !bytes.HasPrefix(w.last, []byte("\nbot   word")) {
		t.Errorf("%d writes, the last %q", w.n, w.last)
	}
}

type countWriter struct {
	n    int
	last []byte
}

func (w *countWriter) Write(p []byte) (int, error) {
	w.n++
	w.last = bytes.Clone(p)
	return len(p), nil
}
