package flows_test

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
)

// The same trail gives the same job: 50 folds of a whole job hash equal, from the
// events themselves and from their JSON.
func TestFoldIsExact(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toMended()
	k.toState("close_up")
	k.say("undo")
	var first [32]byte
	for i := range 50 {
		var j flows.Job
		for _, r := range k.trail {
			e := r.Event
			if i%2 == 1 {
				e = again(t, e)
			}
			var err error
			if j, err = flows.Apply(j, r.At, r.By, e); err != nil {
				t.Fatal(err)
			}
		}
		data, err := json.Marshal(j)
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(data)
		if i == 0 {
			first = sum
		}
		if sum != first {
			t.Fatalf("fold %d differs", i)
		}
	}
}

// again is an event written to JSON and read back.
func again(t *testing.T, e flows.Event) flows.Event {
	t.Helper()
	data, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	read := func(to any) {
		if err := json.Unmarshal(data, to); err != nil {
			t.Fatalf("%s: %v", data, err)
		}
	}
	switch e.(type) {
	case flows.Heard:
		var v flows.Heard
		read(&v)
		return v
	case flows.Opened:
		var v flows.Opened
		read(&v)
		return v
	case flows.Told:
		var v flows.Told
		read(&v)
		return v
	case flows.Asked:
		var v flows.Asked
		read(&v)
		return v
	case flows.Read:
		var v flows.Read
		read(&v)
		return v
	case flows.Corrected:
		var v flows.Corrected
		read(&v)
		return v
	case flows.Did:
		var v flows.Did
		read(&v)
		return v
	case flows.Moved:
		var v flows.Moved
		read(&v)
		return v
	case flows.Refused:
		var v flows.Refused
		read(&v)
		return v
	case flows.Said:
		var v flows.Said
		read(&v)
		return v
	case flows.Judged:
		var v flows.Judged
		read(&v)
		return v
	case flows.Noted:
		var v flows.Noted
		read(&v)
		return v
	case flows.Closed:
		var v flows.Closed
		read(&v)
		return v
	}
	t.Fatalf("no reader for %s", e.Kind())
	return nil
}

func TestTrailsThatDoNotFold(t *testing.T) {
	var j flows.Job
	for name, list := range map[string][]flows.Event{
		"prompt with another number": {flows.Asked{Prompt: flows.Prompt{ID: 9}}},
		"reading that is not there":  {flows.Corrected{Seq: 4}},
		"move from elsewhere":        {flows.Moved{From: flows.Isolate, To: flows.Confirm}},
		"opened twice":               {flows.Opened{Unit: circuit.Hash{1}}, flows.Opened{Unit: circuit.Hash{1}}},
		"no event":                   {nil},
	} {
		at := j
		var err error
		for _, e := range list {
			if at, err = flows.Apply(at, 5, "x", e); err != nil {
				break
			}
		}
		if !errors.Is(err, flows.ErrTrail) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := flows.Apply(flows.Job{Last: 10}, 9, "x", flows.Noted{}); !errors.Is(err, flows.ErrTrail) {
		t.Errorf("earlier than the last: %v", err)
	}
}
