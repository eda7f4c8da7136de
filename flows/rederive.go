package flows

import (
	"encoding/json"
	"fmt"
)

// Difference is one judgement of a trail that comes out otherwise when it is computed
// again.
type Difference struct {
	Seq int
	Was Judged
	Is  Judged
}

// Rederive computes every recorded judgement of a trail again, each on the job as it was
// then, and returns those that differ. By the engine that wrote the trail there are none;
// by a later one they are a report, and change nothing: the fold uses what was recorded.
// The error is that of a trail that does not fold or whose unit is not there.
func (d *Dialog) Rederive(trail []Logged) ([]Difference, error) {
	j := Start()
	var out []Difference
	for _, l := range trail {
		if was, ok := l.Event.(Judged); ok {
			b, err := d.bench(j)
			if err != nil {
				return nil, err
			}
			if b == nil {
				return nil, fmt.Errorf("%w: event %d judges a job without a unit", ErrTrail, l.Seq)
			}
			is := judgementOf(b.engine(), b.engine().Believe(caseOf(j), counting(j)))
			same, err := alikeJSON(was, is)
			if err != nil {
				return nil, err
			}
			if !same {
				out = append(out, Difference{Seq: l.Seq, Was: was, Is: is})
			}
		}
		next, err := Apply(j, max(j.Last, l.At), l.By, l.Event)
		if err != nil {
			return nil, err
		}
		j = next
	}
	return out, nil
}

// alikeJSON compares two judgements as they are stored, but for the version that made
// them.
func alikeJSON(a, b Judged) (bool, error) {
	a.Engine, b.Engine = "", ""
	x, err := json.Marshal(a)
	if err != nil {
		return false, err
	}
	y, err := json.Marshal(b)
	if err != nil {
		return false, err
	}
	return string(x) == string(y), nil
}
