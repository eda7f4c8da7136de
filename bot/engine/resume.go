package engine

import (
	"context"
	"fmt"

	"halfsplit/bot"
	"halfsplit/flows"
)

// resume shows the open prompt of a place once more, marked so, after what an earlier
// process left undone is done. It does not touch the trail. Nothing is shown if this
// process has posted the prompt itself.
func (e *Engine) resume(ctx context.Context, p Place) error {
	if err := e.Settled(ctx, p.Conversation); err != nil {
		return err
	}
	var adapter bot.Adapter
	for _, a := range e.cfg.Adapters {
		if a.Name() == p.Adapter {
			adapter = a
		}
	}
	if adapter == nil {
		return fmt.Errorf("no adapter %q: %w", p.Adapter, bot.ErrNotFound)
	}
	jobs, err := e.cfg.Store.Jobs(ctx)
	if err != nil {
		return err
	}
	for _, info := range jobs {
		if info.Closed || info.Adapter != p.Adapter || info.Conversation != p.Conversation {
			continue
		}
		recs, err := e.cfg.Store.Load(ctx, info.Job)
		if err != nil {
			return err
		}
		j, err := Fold(recs)
		if err != nil {
			return err
		}
		e.mu.Lock()
		fresh := j.Asked != nil && e.posted[info.Job].prompt == j.Asked.ID
		e.mu.Unlock()
		if j.Asked == nil || fresh {
			return nil
		}
		text, err := promptText(recs, j.Asked.ID)
		if err != nil || text == "" {
			return err
		}
		parts, buttons := Degrade(breakMark+text, shown(j.Asked.Choices), adapter.Limits())
		for n, part := range parts {
			m := bot.Outgoing{
				Key: fmt.Sprintf("%s/%d/again/%d", info.Job, j.Asked.ID, n+1), Job: info.Job, Adapter: p.Adapter,
				Conversation: p.Conversation, Text: part, Attempt: 1,
			}
			if n == len(parts)-1 {
				m.Choices, m.Prompt = buttons, j.Asked.ID
			}
			if _, err := adapter.Send(ctx, m); err != nil {
				return err
			}
		}
		return nil
	}
	return nil
}

// promptText is the text in which a prompt was put: the last thing said in the step
// that asked it. Steps are told apart by what called for them.
func promptText(recs []bot.Record, prompt int) (string, error) {
	text := ""
	for _, r := range recs {
		switch r.Kind {
		case flows.Heard{}.Kind(), flows.Timed{}.Kind():
			if r.Seq > prompt {
				return text, nil
			}
			text = ""
		case flows.Said{}.Kind():
			ev, err := Decode(r)
			if err != nil {
				return "", err
			}
			if s, ok := ev.(flows.Said); ok && s.Text != "" {
				text = s.Text
			}
		}
	}
	return text, nil
}
