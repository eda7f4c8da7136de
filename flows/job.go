package flows

import (
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
)

// Job is the state of one visit to one unit for one complaint: the fold of its trail.
// It holds recorded decisions only; no float of the engine is computed here.
type Job struct {
	Seq    int   // of the last event applied
	Last   int64 // At of the last event applied
	Opened *Opened
	Told   []Told // latest answer of each name wins

	State   machine.State
	Return  machine.State // where an interrupt came from
	Came    machine.State // where a check of the neutral or another cover came from
	Facts   safety.Facts
	Proved  int64 // when the last proof of dead was complete
	Circuit circuit.State
	Capped  []circuit.EndID // lifted ends declared capped, tied back and tagged

	Asked    *Prompt
	Before   *Prompt // the prompt before the open one: a late answer to it is recognised
	Seen     []isolate.Observation
	Refused  []Refused
	Judged   *Judged
	Verdict  *Judgement // what was convicted last
	Lead     PersonID
	Tech     PersonID
	Closed   *Closed
	Readings int // asked for and given
	Cants    int
	Misfits  int // times that a reading turned out not to fit
	Notes    int
	Photos   int
	Began    int64  // At of the first event
	Phone    string // of the technician, as far as known
}

// Tell returns the latest answer of that name, or "".
func (j Job) Tell(what string) string {
	for i := len(j.Told) - 1; i >= 0; i-- {
		if j.Told[i].What == what {
			return j.Told[i].Value
		}
	}
	return ""
}
