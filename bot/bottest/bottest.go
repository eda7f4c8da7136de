package bottest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"halfsplit/bot"
)

// Run checks the adapter that open returns; each check opens its own.
func Run(t *testing.T, open func(t *testing.T) Harness) {
	for _, c := range []struct {
		name string
		run  func(t *testing.T, h Harness)
	}{
		{"name and limits", nameAndLimits},
		{"events come in order and with keys of their own", eventsIn},
		{"texts come in equal", textsIn},
		{"texts go out equal", textsOut},
		{"order going out", orderOut},
		{"many send at once", manyOut},
		{"text as long as the limit", limitOut},
		{"own messages are no events", ownMessages},
		{"an event that could not be stored", receiveError},
		{"run ends with its context", runEnds},
		{"send with an ended context", sendEnded},
		{"send while an event is being stored", sendDuring},
		{"choices", choices},
		{"keys after a restart", needs(restart)},
		{"lockstep and end of input", needs(endOfInput)},
		{"redelivery has the same keys", needs(redelivery)},
		{"acknowledged when stored", needs(acknowledged)},
		{"echo of the bot's account", needs(echo)},
		{"connection cut", needs(cut)},
		{"rate limit", needs(rateLimit)},
		{"no secret in the log", needs(secrets)},
	} {
		t.Run(c.name, func(t *testing.T) { c.run(t, open(t)) })
	}
}

// needs leaves a check out if the harness has not got what it needs.
func needs[T any](check func(t *testing.T, h Harness, can T)) func(t *testing.T, h Harness) {
	return func(t *testing.T, h Harness) {
		can, ok := h.(T)
		if !ok {
			t.Skipf("harness is no %T", (*T)(nil))
		}
		check(t, h, can)
	}
}

func nameAndLimits(t *testing.T, h Harness) {
	a := h.Adapter()
	name, limits := a.Name(), a.Limits()
	if name == "" || strings.ToLower(name) != name || strings.ContainsAny(name, " :/\n") {
		t.Errorf("name %q: want a lower-case word, it is part of stored identifiers", name)
	}
	if limits.Runes < 0 || limits.Choices < 0 {
		t.Errorf("limits %+v: want none below zero", limits)
	}
	s := start(t, h, &recorder{})
	s.send(s.message("job/1/1", "hello"))
	s.stop()
	if a.Name() != name || a.Limits() != limits {
		t.Errorf("name and limits changed to %q, %+v", a.Name(), a.Limits())
	}
}

func eventsIn(t *testing.T, h Harness) {
	var r recorder
	s := start(t, h, &r)
	var want []string
	for i := range 20 {
		want = append(want, fmt.Sprintf("reading %d", i%10)) // the same words twice are two events
		h.Say(t, want[i])
	}
	s.wait("20 events", func() bool { return len(r.events()) >= len(want) })
	if got := r.texts(); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	owner := map[bot.EventID]int{}
	for i, m := range r.events() {
		if m.Adapter != h.Adapter().Name() || m.Conversation != h.Conversation() {
			t.Errorf("event %d: from %q in %q, want %q in %q", i, m.Adapter, m.Conversation, h.Adapter().Name(), h.Conversation())
		}
		if !strings.HasPrefix(string(m.Person), m.Adapter+":") || len(m.Person) == len(m.Adapter)+1 {
			t.Errorf("event %d: person %q, want %s:platform-id", i, m.Person, m.Adapter)
		}
		if m.Choice != "" || m.Prompt != 0 {
			t.Errorf("event %d: typed, but carries choice %q of prompt %d", i, m.Choice, m.Prompt)
		}
		if len(m.Keys) == 0 {
			t.Errorf("event %d has no key", i)
		}
		for _, k := range m.Keys {
			if before, taken := owner[k]; k == "" || taken && before != i {
				t.Errorf("event %d: key %q is empty or that of event %d", i, k, before)
			}
			owner[k] = i
		}
		// A clock may be wrong by a day, but a unit may not: seconds or microseconds differ by a factor.
		if day := int64(24 * time.Hour / time.Millisecond); m.SentAt != 0 && max(m.SentAt-time.Now().UnixMilli(), time.Now().UnixMilli()-m.SentAt) > day {
			t.Errorf("event %d: sent at %d, want ms UTC near %d, or zero", i, m.SentAt, time.Now().UnixMilli())
		}
	}
}

// texts are such as chat systems tend to change: markup, entities, quotes, mentions,
// addresses, composed characters.
var texts = []string{
	"Ω µ < & * _ \\",
	"12 Ω, 2.3 MΩ, −5 °C, 0.5 µF",
	"*14* _15_ ~16~ `17` > 18 # 19",
	"&lt; &amp; <b> <@U1> <!here> @all #x",
	`"quoted" 'single' “curly” 1/2 -- ...`,
	"L1-L2 (208 V) [x](y) http://example.org/a_b_c",
	"e\u0301 é 𝛀 \U0001F527 12\u00a0Ω",
}

func textsIn(t *testing.T, h Harness) {
	var r recorder
	s := start(t, h, &r)
	want := slices.Clone(texts)
	if m, ok := h.(Multiliner); ok && m.Multiline() {
		want = append(want, "14: 12 Ω\n15: OL\n\n16: OL")
	}
	for _, text := range want {
		h.Say(t, text)
	}
	s.wait("all texts", func() bool { return len(r.events()) >= len(want) })
	for i, got := range r.texts() {
		if got != want[i] {
			t.Errorf("wrote %q, came in as %q", want[i], got)
		}
	}
}

func textsOut(t *testing.T, h Harness) {
	s := start(t, h, &recorder{})
	want := append(slices.Clone(texts), "two\nlines", "three\n\nof them", strings.Repeat("red 14 12\u00a0Ω ", 30)+"end")
	refs := map[bot.MessageRef]bool{}
	for i, text := range want {
		if l := h.Adapter().Limits().Runes; l > 0 && utf8.RuneCountInString(text) > l {
			want = want[:i]
			break
		}
		refs[s.send(s.message(fmt.Sprintf("job/1/%d", i+1), text))] = true
	}
	for i, got := range s.seen(len(want)) {
		if !s.same(want[i], got.Text) {
			t.Errorf("sent %q, shown as %q", want[i], got.Text)
		}
	}
	if len(refs) != len(want) {
		t.Errorf("%d references for %d messages", len(refs), len(want))
	}
}

func orderOut(t *testing.T, h Harness) {
	s := start(t, h, &recorder{})
	const n = 15
	for i := range n {
		s.send(s.message(fmt.Sprintf("job/1/%d", i+1), fmt.Sprintf("step %d", i)))
	}
	for i, got := range s.seen(n) {
		if want := fmt.Sprintf("step %d", i); !s.same(want, got.Text) {
			t.Errorf("message %d: got %q, want %q", i, got.Text, want)
		}
	}
}

func manyOut(t *testing.T, h Harness) {
	s := start(t, h, &recorder{})
	const n = 8
	var wg sync.WaitGroup
	text := func(i int) string { return strings.Repeat(fmt.Sprintf("from %d ", i), 20) + "end" }
	for i := range n {
		wg.Go(func() {
			if _, err := h.Adapter().Send(t.Context(), s.message(fmt.Sprintf("job/1/%d", i+1), text(i))); err != nil {
				t.Errorf("send %d: %v", i, err)
			}
		})
	}
	wg.Wait()
	seen := s.seen(n)
	for i := range n {
		if !slices.ContainsFunc(seen, func(got Seen) bool { return s.same(text(i), got.Text) }) {
			t.Errorf("message %d is not among those shown, or not whole", i)
		}
	}
}

func limitOut(t *testing.T, h Harness) {
	s := start(t, h, &recorder{})
	n := h.Adapter().Limits().Runes
	if n == 0 {
		n = 20000
	}
	// Runes of two, three and four bytes, so that a cut by bytes shows.
	want := string([]rune(strings.Repeat("µ → 𝛀 ", n/6+1))[:n-1]) + "."
	s.send(s.message("job/1/1", want))
	got := s.seen(1)[0].Text
	if !utf8.ValidString(got) {
		t.Error("a character was cut")
	}
	if !s.same(want, got) {
		t.Errorf("%d characters sent, %d shown, or not the same", n, utf8.RuneCountInString(got))
	}
}

func ownMessages(t *testing.T, h Harness) {
	var r recorder
	s := start(t, h, &r)
	h.Say(t, "before")
	s.send(s.message("job/1/1", "what the bot says"))
	s.seen(1)
	h.Say(t, "after")
	s.wait("the second event", func() bool { return slices.Contains(r.texts(), "after") })
	if got, want := r.texts(), []string{"before", "after"}; !slices.Equal(got, want) {
		t.Errorf("events: got %q, want %q", got, want)
	}
}

func receiveError(t *testing.T, h Harness) {
	r := recorder{refuse: map[string]int{"second": 1}}
	s := start(t, h, &r)
	for _, text := range []string{"first", "second", "third"} {
		h.Say(t, text)
	}
	s.wait("the event after it", func() bool { return slices.Contains(r.texts(), "third") })
	again := s.poll(func() bool { return slices.Contains(r.texts(), "second") || len(h.Seen(t)) > 0 })
	if !again {
		t.Fatal("an event that could not be stored was neither offered again nor reported to the person")
	}
	refused := r.refused()
	for _, m := range r.events() {
		if m.Text == "second" && !slices.Equal(m.Keys, refused[0].Keys) {
			t.Errorf("offered again with keys %q, before with %q", m.Keys, refused[0].Keys)
		}
	}
	if n := len(r.events()); n > 3 {
		t.Errorf("%d events stored, want 3 at most: %q", n, r.texts())
	}
}

func runEnds(t *testing.T, h Harness) {
	var r recorder
	s := start(t, h, &r)
	h.Say(t, "one")
	s.wait("the event", func() bool { return len(r.events()) == 1 })
	s.stop()
	h.Say(t, "too late")
	time.Sleep(20 * time.Millisecond) // time to do wrong; being right does not depend on it
	if got := r.texts(); len(got) != 1 {
		t.Errorf("delivered after Run returned: %q", got)
	}
}

func sendEnded(t *testing.T, h Harness) {
	s := start(t, h, &recorder{})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := h.Adapter().Send(ctx, s.message("job/1/1", "not to be shown")); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want %v", err, context.Canceled)
	}
	s.send(s.message("job/1/2", "shown"))
	if got := s.seen(1)[0].Text; !s.same("shown", got) {
		t.Errorf("shown: %q", got)
	}
}

func sendDuring(t *testing.T, h Harness) {
	sent := make(chan error, 1)
	r := recorder{before: func(ctx context.Context, m bot.Incoming) {
		done := make(chan struct{})
		go func() {
			defer close(done)
			_, err := h.Adapter().Send(ctx, bot.Outgoing{Key: "job/1/1", Adapter: h.Adapter().Name(),
				Conversation: m.Conversation, Text: "heard", Attempt: 1})
			sent <- err
		}()
		select {
		case <-done:
		case <-ctx.Done():
		}
	}}
	s := start(t, h, &r)
	h.Say(t, "one")
	s.wait("the event", func() bool { return len(r.events()) == 1 })
	if err := <-sent; err != nil {
		t.Errorf("send: %v", err)
	}
	s.seen(1)
}

func choices(t *testing.T, h Harness) {
	n := min(h.Adapter().Limits().Choices, 3)
	if n == 0 {
		t.Skip("adapter shows no choices")
	}
	var r recorder
	s := start(t, h, &r)
	m := s.message("job/4/1", "Did the breaker hold?")
	m.Prompt = 4
	m.Choices = []bot.Choice{{Word: "yes", Label: "yes", Value: "held"}, {Word: "no", Label: "no", Value: "tripped"},
		{Word: "not sure", Label: "not sure", Value: "unsure"}}[:n]
	s.send(m)
	got := s.seen(1)[0]
	if !s.same(m.Text, got.Text) {
		t.Errorf("text with choices: sent %q, shown %q", m.Text, got.Text)
	}
	var want []string
	for _, c := range m.Choices {
		want = append(want, c.Word)
	}
	if !slices.Equal(got.Choices, want) {
		t.Errorf("choices shown: %q, want %q", got.Choices, want)
	}
	if p, ok := h.(Presser); ok {
		last := m.Choices[n-1]
		p.Press(t, last)
		s.wait("the choice", func() bool { return len(r.events()) > 0 })
		if e := r.events()[0]; e.Choice != last.Value || e.Prompt != m.Prompt || len(e.Keys) == 0 {
			t.Errorf("pressed %q of prompt %d, came in as %q of %d with keys %q", last.Value, m.Prompt, e.Choice, e.Prompt, e.Keys)
		}
	}
}
