package bottest_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"halfsplit/bot"
	"halfsplit/bot/bottest"
)

// defect, in the environment of a child process, is what is wrong with the adapter.
const defect = "HALFSPLIT_ADAPTER_DEFECT"

// room is a chat system in memory with every fault a platform has, and the person in it.
type room struct {
	mu     sync.Mutex
	queue  []event
	posts  []post
	acked  int
	ended  bool
	cut    int // connections cut so far
	limit  time.Duration
	n      int
	broken string
	log    bytes.Buffer
}

type event struct {
	key    string
	text   string
	own    bool
	choice *bot.Choice
	prompt int
}

type post struct {
	text    string
	choices []bot.Choice
	prompt  int
}

// loop is an adapter on a room.
type loop struct {
	r     *room
	start int
}

func (l *loop) is(name string) bool { return l.r.broken == name }

func (l *loop) Name() string { return "loop" }

func (l *loop) Limits() bot.Limits { return bot.Limits{Runes: 4000, Choices: 5} }

func (l *loop) Run(ctx context.Context, in bot.Receiver) error {
	if l.is("goroutine left") {
		go func() { select {} }()
	}
	run := ctx
	if l.is("does not end") {
		run = context.WithoutCancel(ctx)
	}
	settler, _ := in.(bot.Settler)
	failures := 0
	cut := l.r.cuts()
	for {
		if run.Err() != nil {
			if l.is("error at the end") {
				return ctx.Err()
			}
			return nil
		}
		e, ok, ended := l.r.take()
		if l.is("no reconnect") && l.r.cuts() > cut {
			<-run.Done()
			return nil
		}
		switch {
		case ok:
			if e.own && !l.is("hears itself") {
				l.r.ack()
				continue
			}
			err := in.Receive(run, l.incoming(e))
			if l.is("acknowledges what failed") && err != nil {
				l.r.ack()
			}
			if err != nil && !l.is("loses what failed") {
				l.r.back(e)
				if failures++; l.is("new key when offered again") {
					l.start += failures
				}
			} else if err == nil {
				l.r.ack()
			}
			if settler != nil && err == nil && !l.is("no lockstep") {
				if err := settler.Settled(run, "hall"); err != nil {
					return nil // its context ended
				}
			}
		case ended && !l.is("ignores the end"):
			return nil
		default:
			select {
			case <-run.Done():
			case <-time.After(time.Millisecond):
			}
		}
	}
}

func (l *loop) incoming(e event) bot.Incoming {
	m := bot.Incoming{Adapter: l.Name(), Conversation: "hall", Person: "loop:ann", Text: e.text, SentAt: time.Now().UnixMilli(),
		Keys: []bot.EventID{bot.EventID(e.key)}}
	switch {
	case l.is("no key"):
		m.Keys = nil
	case l.is("key is the text"):
		m.Keys = []bot.EventID{bot.EventID(e.text)}
	case l.is("new key when offered again"):
		m.Keys = []bot.EventID{bot.EventID(fmt.Sprint(e.key, l.start))}
	case l.is("new key when delivered again"):
		l.start++
		m.Keys = []bot.EventID{bot.EventID(fmt.Sprint("call ", l.start))}
	case l.is("counts from one after a restart"):
		l.start++
		m.Keys = []bot.EventID{bot.EventID(fmt.Sprint(l.start))}
	case l.is("person without adapter"):
		m.Person = "ann"
	case l.is("seconds"):
		m.SentAt /= 1000
	case l.is("escapes what comes in"):
		m.Text = strings.ReplaceAll(m.Text, "&", "&amp;")
	case l.is("one line only"):
		m.Text, _, _ = strings.Cut(m.Text, "\n")
	}
	if e.choice != nil {
		m.Text, m.Choice, m.Prompt = "", e.choice.Value, e.prompt
		if l.is("forgets the prompt") {
			m.Prompt = 0
		}
	}
	return m
}

func (l *loop) Send(ctx context.Context, m bot.Outgoing) (bot.MessageRef, error) {
	if err := ctx.Err(); err != nil && !l.is("sends with an ended context") {
		return "", err
	}
	l.r.mu.Lock()
	defer l.r.mu.Unlock()
	fmt.Fprintln(&l.r.log, "post")
	if l.is("logs the token") {
		fmt.Fprintln(&l.r.log, "Authorization: Bearer s3cr3t")
	}
	if d := l.r.limit; d > 0 {
		l.r.limit = 0
		if l.is("rate limit in the wrong unit") {
			d /= 1000
		}
		return "", &bot.RateLimit{After: d}
	}
	p := post{text: m.Text, choices: m.Choices, prompt: m.Prompt}
	switch {
	case l.is("cuts by bytes") && len(p.text) > 4001:
		p.text = p.text[:4001]
	case l.is("escapes what goes out"):
		p.text = strings.ReplaceAll(p.text, "<", "&lt;")
	case l.is("joins lines"):
		p.text = strings.ReplaceAll(p.text, "\n", " ")
	case l.is("drops choices"):
		p.choices = nil
	}
	if l.is("newest first") {
		l.r.posts = slices.Insert(l.r.posts, 0, p)
	} else {
		l.r.posts = append(l.r.posts, p)
	}
	if l.is("posts are events") {
		l.r.queue = append(l.r.queue, event{key: fmt.Sprint("own ", len(l.r.posts)), text: m.Text})
	}
	if l.is("one reference for all") {
		return "ref", nil
	}
	return bot.MessageRef(fmt.Sprint("post ", len(l.r.posts))), nil
}

func (r *room) take() (e event, ok, ended bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.queue) == 0 {
		return event{}, false, r.ended
	}
	i := 0
	if r.broken == "last in first out" {
		i = len(r.queue) - 1
	}
	e = r.queue[i]
	r.queue = slices.Delete(r.queue, i, i+1)
	return e, true, false
}

func (r *room) back(e event) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.queue = slices.Insert(r.queue, 0, e)
}

func (r *room) ack() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.acked++
}

func (r *room) cuts() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.cut
}

func (r *room) add(e event) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if e.key == "" {
		r.n++
		e.key = fmt.Sprint("event ", r.n)
	}
	r.queue = append(r.queue, e)
}

// harness has every capability.
type harness struct {
	r    *room
	a    *loop
	last event
}

func newHarness(*testing.T) bottest.Harness {
	r := &room{broken: os.Getenv(defect)}
	return &harness{r: r, a: &loop{r: r}}
}

func (h *harness) Adapter() bot.Adapter             { return h.a }
func (h *harness) Conversation() bot.ConversationID { return "hall" }
func (h *harness) Multiline() bool                  { return true }
func (h *harness) Secrets() []string                { return []string{"s3cr3t"} }

// Patience is short with a defect, where waiting in vain is what is expected.
func (h *harness) Patience() time.Duration {
	if h.r.broken != "" {
		return 300 * time.Millisecond
	}
	return 5 * time.Second
}

func (h *harness) Log() string {
	h.r.mu.Lock()
	defer h.r.mu.Unlock()
	return h.r.log.String()
}

func (h *harness) Say(_ *testing.T, text string) {
	h.r.mu.Lock()
	h.r.n++
	h.last = event{key: fmt.Sprint("event ", h.r.n), text: text}
	h.r.mu.Unlock()
	h.r.add(h.last)
}

func (h *harness) Seen(*testing.T) []bottest.Seen {
	h.r.mu.Lock()
	defer h.r.mu.Unlock()
	var out []bottest.Seen
	for _, p := range h.r.posts {
		s := bottest.Seen{Text: p.text}
		for _, c := range p.choices {
			s.Choices = append(s.Choices, c.Word)
		}
		out = append(out, s)
	}
	return out
}

func (h *harness) Press(_ *testing.T, c bot.Choice) {
	h.r.mu.Lock()
	prompt := h.r.posts[len(h.r.posts)-1].prompt
	h.r.mu.Unlock()
	h.r.add(event{choice: &c, prompt: prompt})
}

func (h *harness) Restart(*testing.T) bottest.Harness { return &harness{r: h.r, a: &loop{r: h.r}} }
func (h *harness) Redeliver(*testing.T)               { h.r.add(h.last) }
func (h *harness) Echo(_ *testing.T, text string)     { h.r.add(event{text: text, own: true}) }

func (h *harness) End(*testing.T) {
	h.r.mu.Lock()
	defer h.r.mu.Unlock()
	h.r.ended = true
}

func (h *harness) Acknowledged(*testing.T) int {
	h.r.mu.Lock()
	defer h.r.mu.Unlock()
	return h.r.acked
}

func (h *harness) Drop(*testing.T) {
	h.r.mu.Lock()
	defer h.r.mu.Unlock()
	h.r.cut++
}

func (h *harness) RateLimit(_ *testing.T, after time.Duration) {
	h.r.mu.Lock()
	defer h.r.mu.Unlock()
	h.r.limit = after
}

// TestSuite runs the suite on an adapter that is right, or, in a child process, on one
// with a defect.
func TestSuite(t *testing.T) { bottest.Run(t, newHarness) }

// Each defect must be found, and by the check that is meant for it.
func TestSuiteFindsDefects(t *testing.T) {
	if os.Getenv(defect) != "" {
		t.Skip("this is a child")
	}
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ defect, check string }{
		{"goroutine left", "run ends with its context"},
		{"does not end", "run ends with its context"},
		{"error at the end", "run ends with its context"},
		{"no key", "events come in order and with keys of their own"},
		{"key is the text", "events come in order and with keys of their own"},
		{"last in first out", "events come in order and with keys of their own"},
		{"person without adapter", "events come in order and with keys of their own"},
		{"seconds", "events come in order and with keys of their own"},
		{"escapes what comes in", "texts come in equal"},
		{"one line only", "texts come in equal"},
		{"escapes what goes out", "texts go out equal"},
		{"joins lines", "texts go out equal"},
		{"one reference for all", "texts go out equal"},
		{"newest first", "order going out"},
		{"cuts by bytes", "text as long as the limit"},
		{"posts are events", "own messages are no events"},
		{"loses what failed", "an event that could not be stored"},
		{"new key when offered again", "an event that could not be stored"},
		{"sends with an ended context", "send with an ended context"},
		{"drops choices", "choices"},
		{"forgets the prompt", "choices"},
		{"counts from one after a restart", "keys after a restart"},
		{"no lockstep", "lockstep and end of input"},
		{"ignores the end", "lockstep and end of input"},
		{"new key when delivered again", "redelivery has the same keys"},
		{"acknowledges what failed", "acknowledged when stored"},
		{"hears itself", "echo of the bot's account"},
		{"no reconnect", "connection cut"},
		{"rate limit in the wrong unit", "rate limit"},
		{"logs the token", "no secret in the log"},
	} {
		t.Run(c.defect, func(t *testing.T) {
			t.Parallel()
			cmd := exec.CommandContext(t.Context(), exe, "-test.v", "-test.run=^TestSuite$/^"+c.check[:4]+".*$")
			cmd.Env = append(os.Environ(), defect+"="+c.defect)
			out, err := cmd.CombinedOutput()
			want := "--- FAIL: TestSuite/" + strings.ReplaceAll(c.check, " ", "_") + " "
			if err == nil || !bytes.Contains(out, []byte(want)) {
				t.Errorf("%v; want a line %q in\n%s", err, want, out)
			}
		})
	}
}
