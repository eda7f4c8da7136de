package engine

import (
	"fmt"

	"halfsplit/bot"
	"halfsplit/flows"
)

// Fold computes the state of a job from its whole trail. No engine and no clock has
// a part in it: the same records give the same job for ever. Its error wraps
// flows.ErrTrail or is one of Decode's.
//
// Two messages received at the same moment, or by two machines whose clocks differ,
// may stand in the trail with the later stamp first. A record stamped before the one
// ahead of it counts as of the same time.
func Fold(recs []bot.Record) (flows.Job, error) { return foldOn(flows.Job{}, recs) }

// foldOn folds the records that follow those j was folded from.
func foldOn(j flows.Job, recs []bot.Record) (flows.Job, error) {
	for _, r := range recs {
		if r.Seq != j.Seq+1 {
			return flows.Job{}, fmt.Errorf("job %s: record %d stands at place %d: %w", r.Job, r.Seq, j.Seq+1, flows.ErrTrail)
		}
		e, err := Decode(r)
		if err != nil {
			return flows.Job{}, err
		}
		if j, err = flows.Apply(j, max(j.Last, r.At), flows.PersonID(r.By), e); err != nil {
			return flows.Job{}, fmt.Errorf("job %s, record %d (%s): %w", r.Job, r.Seq, r.Kind, err)
		}
	}
	return j, nil
}

// Logged decodes a trail for reading. A record that is stamped before the one ahead of
// it counts as of the same time.
func Logged(recs []bot.Record) ([]flows.Logged, error) {
	out := make([]flows.Logged, 0, len(recs))
	last := int64(0)
	for _, r := range recs {
		e, err := Decode(r)
		if err != nil {
			return nil, err
		}
		last = max(last, r.At)
		out = append(out, flows.Logged{Seq: r.Seq, At: last, By: flows.PersonID(r.By), Event: e})
	}
	return out, nil
}
