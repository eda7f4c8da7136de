package rehearse

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/safety"
)

// Result is one job from complaint to end.
type Result struct {
	Fault     circuit.Fault
	Verdict   *circuit.Item // first one said
	Right     bool          // the first verdict is the item in fault
	Wrong     bool          // the first verdict is another: confident-wrong
	Silent    bool          // closed as repaired with the fault still in: silent-wrong
	NoEnd     bool          // the dialog went round in circles and was cut off
	HandedOut bool          // handed over, unresolved or left
	Why       string        // how it ended otherwise
	Group     int           // items in the verdict
	Readings  int           // to the first verdict, or to the end without one
	Lifts     int
	Covers    int
	Minutes   float64 // from the first isolation prompt to the verdict, landing included
	Messages  int     // from the bot, to the end
	Answers   int     // from the technician, to the end
	SwitchOns int     // before the cause was proved
	Misread   int     // readings that were wrong
	Misfit    bool    // "this does not fit" was said
	Baseline  Outcome
	PartRight bool // part by part found the right item
}

// answersMost ends a job that does not end by itself.
const answersMost = 150

// seedOf gives each job its own chance, by seed, fault and repetition.
func seedOf(seed uint64, f circuit.Fault, rep int) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "%v/%d", f, rep)
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// person is the simulated technician's identity and rights.
const person flows.PersonID = "rehearse:tech"

var rights = flows.Rights{Name: "tech", Roles: []flows.Role{flows.Tech}, May: flows.MayDead}

// run talks one job through with the dialog.
func run(d *flows.Dialog, m *isolate.Model, truth *Truth, misread float64, rng *rand.Rand) (Result, error) {
	res := Result{Fault: truth.Fault.Fault}
	item := m.Unit().Item(truth.Fault.Fault)
	tech := NewTech(m, truth, misread, rng)
	var j flows.Job
	at := int64(1_700_000_000_000)
	text := tech.Complaint()
	for res.Answers < answersMost {
		at += 20_000 + int64(rng.IntN(20_000))
		next, out, err := say(d, j, text, at)
		if err != nil {
			return res, err
		}
		j = next
		res.Answers++
		for _, e := range out.Events {
			switch e := e.(type) {
			case flows.Said:
				res.Messages++
				if e.Code == "" {
					return res, fmt.Errorf("rehearse: a message without a code: %q", e.Text)
				}
			case flows.Judged:
				res.Misfit = res.Misfit || len(e.Misfit) > 0
			}
		}
		if res.Verdict == nil && j.Verdict != nil && j.Facts.Has(safety.CauseProved) {
			found := j.Verdict.Item
			res.Verdict = &found
			res.Group = 1
			res.Right, res.Wrong = found == item, found != item
			tech.settle(&res)
		}
		if tech.SwitchOns > 0 && res.Verdict == nil {
			res.SwitchOns = tech.SwitchOns
		}
		if j.Closed != nil || j.State == flows.HandedOver || j.State == flows.Done {
			break
		}
		if j.Asked == nil {
			text = "status"
			continue
		}
		var verdict *circuit.Item
		if j.Verdict != nil {
			v := j.Verdict.Item
			verdict = &v
		}
		text = tech.Answer(*j.Asked, verdict)
	}
	if res.Verdict == nil {
		tech.settle(&res)
	}
	res.Misread = tech.Misreads
	switch {
	case j.State == flows.HandedOver:
		res.HandedOut, res.Why = true, "handed over"
	case j.Closed == nil && j.State != flows.Done:
		res.NoEnd, res.HandedOut, res.Why = true, true, "no end after "+fmt.Sprint(answersMost)+" answers, in "+string(j.State)
	case !tech.Repaired && j.Closed != nil && j.Closed.Outcome == "repaired":
		res.Silent = true
	case !tech.Repaired:
		res.HandedOut, res.Why = true, "left out of service"
	}
	return res, nil
}

// settle takes over what the technician did up to here. Landing and covers are in the
// minutes of each lift and cover already.
func (t *Tech) settle(r *Result) {
	r.Readings, r.Lifts, r.Covers, r.Minutes = t.Readings, t.Lifts, t.Covers, t.Minutes
	t.found = true
}

// say folds one message of the technician and the dialog's answer to it.
func say(d *flows.Dialog, j flows.Job, text string, at int64) (flows.Job, flows.Result, error) {
	apply := func(e flows.Event) error {
		next, err := flows.Apply(j, at, person, e)
		if err == nil {
			j = next
		}
		return err
	}
	posted := int64(0)
	if j.Asked != nil {
		posted = j.Asked.At
	}
	if err := apply(flows.Heard{Text: text, Rights: rights}); err != nil {
		return j, flows.Result{}, err
	}
	out, err := d.Step(j, flows.Input{At: at, SentAt: at, By: person, Rights: rights, Text: text, Posted: posted})
	if err != nil {
		return j, out, fmt.Errorf("rehearse: %q in %s: %w", text, j.State, err)
	}
	for _, e := range out.Events {
		if err := apply(e); err != nil {
			return j, out, err
		}
	}
	return j, out, nil
}
