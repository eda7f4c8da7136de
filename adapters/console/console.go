// Package console is the chat system of one person at a terminal, or of a file or
// program that writes lines into a pipe.
//
// Nothing is drawn over: the terminal stays in its line mode and no cursor is moved, so
// the output can be read aloud, logged and compared. Each line typed is one event. A
// message of the bot is set off by a blank line and the column "bot"; a notice of the
// console itself has the column "note".
package console

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"halfsplit/bot"
)

var _ bot.Adapter = (*Adapter)(nil)

// Name is the adapter's name in stored identifiers.
const Name = "console"

// MaxLine is the longest line taken, in bytes without the line end.
const MaxLine = 64 << 10

// maxChoices is the most choices printed behind a message, a bound on what a person
// can take in (common practice, no source).
const maxChoices = 24

// prompt is shown on a terminal when the bot waits for a line.
const prompt = "> "

// storeWaits are the pauses before a line that could not be stored is offered again.
var storeWaits = [...]time.Duration{50 * time.Millisecond, 100 * time.Millisecond, 200 * time.Millisecond, 400 * time.Millisecond}

// Config says where the person is.
type Config struct {
	// In is read to its end. When Run is cancelled the read under way is ended with
	// SetReadDeadline, or else with Close, if In has them. A terminal that has neither
	// in effect (os.Stdin) keeps one read waiting until the process ends.
	In           io.Reader
	Out          io.Writer
	Person       bot.PersonID
	Conversation bot.ConversationID
	// Terminal: In is a terminal. Lines are taken as they come, even before earlier
	// ones are answered, and a mark shows that the bot waits. Without it a line is
	// taken only when the one before is settled.
	Terminal bool
	Now      func() time.Time // nil: time.Now
}

// Adapter is a bot.Adapter on a reader and a writer.
type Adapter struct {
	cfg   Config
	log   *slog.Logger
	start string // differs from one Adapter to the next, also over restarts

	once sync.Once // Run reads In once
	mu   sync.Mutex
	// below mu
	atPrompt bool                      // the last thing written is the prompt mark
	shown    map[string]bot.MessageRef // by key
	printed  int
}

// New checks the configuration. It does not read or write.
func New(cfg Config, log *slog.Logger) (*Adapter, error) {
	var missing []string
	for _, f := range []struct {
		name string
		miss bool
	}{
		{"In", cfg.In == nil}, {"Out", cfg.Out == nil},
		{"Person", cfg.Person == ""}, {"Conversation", cfg.Conversation == ""},
	} {
		if f.miss {
			missing = append(missing, f.name)
		}
	}
	if missing != nil {
		return nil, fmt.Errorf("console: not set: %s", strings.Join(missing, ", "))
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	start := fmt.Sprintf("%x-%s", cfg.Now().UnixMilli(), rand.Text()[:12])
	return &Adapter{cfg: cfg, log: log, start: start, shown: map[string]bot.MessageRef{}}, nil
}

// Name implements bot.Adapter.
func (a *Adapter) Name() string { return Name }

// Limits implements bot.Adapter. Texts may be of any length; choices are printed by
// their words.
func (a *Adapter) Limits() bot.Limits { return bot.Limits{Choices: maxChoices} }

// Run delivers the lines of In. At the end of input it waits until everything is
// settled and returns nil. It can be called once.
func (a *Adapter) Run(ctx context.Context, in bot.Receiver) error {
	err := errors.New("console: Run was called before")
	a.once.Do(func() { err = a.run(ctx, in) })
	if ctx.Err() != nil {
		return nil
	}
	return err
}

func (a *Adapter) run(ctx context.Context, in bot.Receiver) error {
	ctx, cancel := context.WithCancel(ctx)
	src := newSource(a.cfg.In)
	defer src.stop()
	settle := a.settler(ctx, in)
	defer settle.wait()
	defer cancel() // before the waits above
	a.showPrompt()
	for {
		select {
		case <-ctx.Done():
			return nil
		case l := <-src.lines:
			a.enter()
			switch {
			case l.err != nil:
				a.log.DebugContext(ctx, "end of input", "lines", l.n-1)
				if err := settle.now(); err != nil || errors.Is(l.err, io.EOF) {
					return err
				}
				return fmt.Errorf("console: line %d: %w", l.n, l.err)
			case l.long:
				a.note(fmt.Sprintf("Line %d is longer than %d KiB and was not taken. All other lines are. Send it again in shorter lines.",
					l.n, MaxLine>>10))
				settle.later()
			case strings.TrimSpace(l.text) == "":
				settle.later()
			default:
				if err := a.deliver(ctx, in, l); err != nil {
					return err
				}
				if a.cfg.Terminal {
					settle.later()
				} else if err := settle.now(); err != nil {
					return err
				}
			}
		}
	}
}

// deliver hands a line to the receiver. A line that cannot be stored is offered again,
// with the same key, and then reported: a terminal goes on, a pipe ends.
func (a *Adapter) deliver(ctx context.Context, in bot.Receiver, l line) error {
	m := bot.Incoming{
		Adapter:      Name,
		Conversation: a.cfg.Conversation,
		Person:       a.cfg.Person,
		Keys:         []bot.EventID{bot.EventID(fmt.Sprintf("%s/%s/%d", a.cfg.Conversation, a.start, l.n))},
		Text:         strings.ToValidUTF8(l.text, string(utf8.RuneError)),
		SentAt:       a.cfg.Now().UnixMilli(),
	}
	err := in.Receive(ctx, m)
	for _, wait := range storeWaits {
		if err == nil || ctx.Err() != nil {
			break
		}
		a.log.WarnContext(ctx, "line not stored, trying again", "line", l.n, "err", err)
		select {
		case <-ctx.Done():
		case <-time.After(wait):
			err = in.Receive(ctx, m)
		}
	}
	if err == nil {
		return nil
	}
	a.log.ErrorContext(ctx, "line not stored", "line", l.n, "err", err)
	a.note(fmt.Sprintf("Line %d could not be stored and was not taken. Send it again.", l.n))
	if a.cfg.Terminal || ctx.Err() != nil {
		return nil
	}
	return fmt.Errorf("console: line %d not stored: %w", l.n, err)
}

// Send implements bot.Adapter: it prints m. A message printed before by this Adapter is
// not printed again; one claimed a second time may have been printed before a restart
// and is marked.
func (a *Adapter) Send(ctx context.Context, m bot.Outgoing) (bot.MessageRef, error) {
	if err := ctx.Err(); err != nil {
		return "", err
	}
	if m.Conversation != a.cfg.Conversation {
		return "", &bot.Permanent{Err: fmt.Errorf("console has no conversation %q", m.Conversation)}
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if ref, ok := a.shown[m.Key]; ok && m.Key != "" {
		return ref, nil
	}
	text := m.Text
	if m.Attempt > 1 {
		text = "(again) " + text
	}
	if err := a.print(layout("bot", text, m.Choices)); err != nil {
		return "", &bot.Permanent{Err: fmt.Errorf("console output: %w", err)}
	}
	a.printed++
	ref := bot.MessageRef(fmt.Sprintf("%s/%d", a.start, a.printed))
	a.shown[m.Key] = ref
	return ref, nil
}

// note prints a notice of the console itself.
func (a *Adapter) note(text string) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if err := a.print(layout("note", text, nil)); err != nil {
		a.log.Error("console output", "err", err)
	}
}

// print writes a block after a blank line, in one call; a.mu is held. A prompt mark
// that stood on the line is written again below.
func (a *Adapter) print(block string) error {
	s := "\n" + block
	if a.atPrompt {
		s = "\n" + s + "\n" + prompt
	}
	_, err := io.WriteString(a.cfg.Out, s)
	return err
}

// enter notes that the person ended the line on which the prompt mark stood.
func (a *Adapter) enter() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.atPrompt = false
}

// showPrompt writes the prompt mark on a terminal unless it stands there.
func (a *Adapter) showPrompt() {
	a.mu.Lock()
	defer a.mu.Unlock()
	if !a.cfg.Terminal || a.atPrompt {
		return
	}
	if _, err := io.WriteString(a.cfg.Out, "\n"+prompt); err != nil {
		a.log.Error("console output", "err", err)
		return
	}
	a.atPrompt = true
}
