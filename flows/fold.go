package flows

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
)

// Start is the state of a job with an empty trail.
func Start() Job { return Job{State: Intake} }

// Apply folds one event, which came at time at (ms UTC) from by, into j. It uses what
// the event records and nothing else: no table, no engine, no clock. What stands
// behind the result's pointers and slices is never changed afterwards, and j itself
// is left as it was. Its error wraps ErrTrail.
func Apply(j Job, at int64, by PersonID, e Event) (Job, error) {
	if j.State == "" {
		j.State = Intake
	}
	if at < j.Last {
		return j, fmt.Errorf("%w: event %d is earlier than the one before", ErrTrail, j.Seq+1)
	}
	if j.Seq == 0 {
		j.Began = at
	}
	j.Seq++
	j.Last = at
	switch e := e.(type) {
	case Heard:
		if by != "" && j.Tech == "" {
			j.Tech, j.Lead = by, by
		}
		if by == j.Lead && e.Rights.Phone != "" {
			j.Phone = e.Rights.Phone
		}
	case Opened:
		if j.Opened != nil {
			return j, fmt.Errorf("%w: event %d opens the job again", ErrTrail, j.Seq)
		}
		j.Opened = &e
		if j.Tech == "" {
			j.Tech, j.Lead = by, by
		}
	case Told:
		j.Told = replaceTold(j.Told, e)
		if e.What == "capped" {
			j.Capped = endsIn(e.Value)
		}
	case Asked:
		if e.Prompt.ID != j.Seq {
			return j, fmt.Errorf("%w: event %d opens prompt %d", ErrTrail, j.Seq, e.Prompt.ID)
		}
		j.Before, j.Asked = j.Asked, &e.Prompt
	case Read:
		j.Seen = append(slices.Clip(j.Seen), isolate.Observation{Seq: j.Seq, Test: e.Test, Got: e.Got})
		if e.Prompt != 0 {
			j.Readings++
		}
	case Corrected:
		seen, err := void(j.Seen, e.Seq)
		if err != nil {
			return j, fmt.Errorf("%w: event %d: %w", ErrTrail, j.Seq, err)
		}
		j.Seen = seen
	case Did:
		j = did(j, e.Act)
	case Moved:
		if e.From != j.State {
			return j, fmt.Errorf("%w: event %d leaves %s, but the job is in %s", ErrTrail, j.Seq, e.From, j.State)
		}
		j = moved(j, at, e)
	case Refused:
		j.Refused = append(slices.Clip(j.Refused), e)
		if e.On == "" {
			j.Cants++
		}
	case Said:
	case Judged:
		if len(e.Misfit) > 0 && (j.Judged == nil || len(j.Judged.Misfit) < len(e.Misfit)) {
			j.Misfits++
		}
		j.Judged = &e
	case Led:
		j.Lead = e.Who
	case Noted:
		if e.Blob != "" {
			j.Photos++
		} else {
			j.Notes++
		}
	case Timed:
	case Failed:
	case Closed:
		j.Closed = &e
		j.Asked, j.Before = nil, j.Asked
	default:
		return j, fmt.Errorf("%w: event %d is of kind %q", ErrTrail, j.Seq, kindOf(e))
	}
	return j, nil
}

func kindOf(e Event) string {
	if e == nil {
		return "none"
	}
	return e.Kind()
}

// replaceTold returns told with e in place of an earlier answer of that name.
func replaceTold(told []Told, e Told) []Told {
	i := slices.IndexFunc(told, func(t Told) bool { return t.What == e.What })
	if i < 0 {
		return append(slices.Clip(told), e)
	}
	told = slices.Clone(told)
	told[i] = e
	return told
}

// endsIn reads a recorded list of wire ends: "3, 12".
func endsIn(list string) []circuit.EndID {
	var ends []circuit.EndID
	for _, w := range strings.Split(list, ", ") {
		if n, err := strconv.Atoi(w); err == nil {
			ends = append(ends, circuit.EndID(n))
		}
	}
	return ends
}

func void(seen []isolate.Observation, seq int) ([]isolate.Observation, error) {
	i := slices.IndexFunc(seen, func(o isolate.Observation) bool { return o.Seq == seq })
	if i < 0 || seen[i].Void {
		return seen, fmt.Errorf("there is no reading %d to correct", seq)
	}
	seen = slices.Clone(seen)
	seen[i].Void = true
	return seen, nil
}

// did records one act. A switch stands where it was put, which is stored as it was
// reported: whether that is its rest position is for the circuit to say.
func did(j Job, a isolate.Act) Job {
	switch a.Kind {
	case isolate.OpenCover:
		j.Circuit = j.Circuit.Uncover(a.Cover)
	case isolate.CloseCover:
		j.Circuit = j.Circuit.Cover(a.Cover)
	case isolate.Lift:
		j.Circuit = j.Circuit.Lift(a.End)
	case isolate.Land:
		j.Circuit = j.Circuit.Land(a.End)
		j.Capped = without(j.Capped, a.End)
	case isolate.Move:
		j.Circuit.At = j.Circuit.At.With(a.Part, a.To)
	}
	return j
}

func without(ends []circuit.EndID, e circuit.EndID) []circuit.EndID {
	i := slices.Index(ends, e)
	if i < 0 {
		return ends
	}
	return slices.Delete(slices.Clone(ends), i, i+1)
}

func moved(j Job, at int64, e Moved) Job {
	if j.Asked != nil && e.From != e.To {
		j.Before, j.Asked = j.Asked, nil
	}
	was := j.Facts
	j.Facts = j.Facts&^e.Drops | e.Sets
	if j.Facts.Has(safety.ProvedDead) && !was.Has(safety.ProvedDead) {
		j.Proved = at
	}
	switch {
	case isAside(e.To) && !isAside(e.From):
		j.Return = e.From
	case !isAside(e.To):
		j.Return = ""
	}
	switch e.To {
	case CheckNeutral, OpenHere:
		j.Came = e.From
	case Verdict:
		if j.Judged != nil && len(j.Judged.Items) > 0 {
			top := j.Judged.Items[0]
			j.Verdict = &top
		}
	}
	j.State = e.To
	return j
}

// isAside says that a state is an interrupt: it keeps where the job came from.
func isAside(s machine.State) bool {
	switch s {
	case Stopped, StoppedGrave, FalseAlarm, AskDanger, Paused:
		return true
	}
	return false
}
