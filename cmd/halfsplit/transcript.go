package main

import (
	"context"

	"halfsplit/bot"
	"halfsplit/bot/engine"
	"halfsplit/flows"
)

// transcript is a job as Markdown.
func transcript(ctx context.Context, st bot.Store, l *library, job bot.JobID) (string, error) {
	recs, err := st.Load(ctx, job)
	if err != nil {
		return "", err
	}
	j, err := engine.Fold(recs)
	if err != nil {
		return "", err
	}
	u, err := flows.New(&shelf{library: l, store: st}).Unit(j)
	if err != nil {
		return "", err
	}
	events, err := engine.Logged(recs)
	if err != nil {
		return "", err
	}
	return flows.Transcript(u, events...), nil
}
