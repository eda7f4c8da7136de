package main

import (
	"context"
	"errors"
	"fmt"

	"halfsplit/bot/engine"
	"halfsplit/flows"
)

// rederive judges a job again with the engine of today and says what comes out
// otherwise. Nothing is changed.
func rederive(ctx context.Context, p program, args []string) (err error) {
	l, st, rest, err := openJobs(ctx, p, "rederive", args, 1)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	job, err := findJob(ctx, st, rest[0])
	if err != nil {
		return err
	}
	recs, err := st.Load(ctx, job)
	if err != nil {
		return err
	}
	trail, err := engine.Logged(recs)
	if err != nil {
		return err
	}
	diff, err := flows.New(&shelf{library: l, store: st}).Rederive(trail)
	if err != nil {
		return err
	}
	judged := 0
	for _, e := range trail {
		if _, ok := e.Event.(flows.Judged); ok {
			judged++
		}
	}
	for _, d := range diff {
		if _, err := fmt.Fprintf(p.out, "record %d: was %s, is %s\n", d.Seq, topOf(d.Was), topOf(d.Is)); err != nil {
			return err
		}
	}
	_, err = fmt.Fprintf(p.out, "%s: %d judgements, %d come out otherwise\n", job, judged, len(diff))
	return err
}

// topOf is a judgement in short: its likeliest item and its share.
func topOf(j flows.Judged) string {
	if len(j.Items) == 0 {
		return "nothing"
	}
	return fmt.Sprintf("%v %.1f %%", j.Items[0].Fault.Mode, float64(j.Items[0].PerMille)/10)
}
