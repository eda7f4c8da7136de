package rehearse

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/safety"
)

// Watch follows a job from outside the dialog and keeps what must never happen.
type Watch struct {
	Unsafe []string // questions that must not have been put
	Lost   []string // readings typed that are nowhere in the trail but in what was heard
	Nags   []string // questions put more than twice in a row in the same words

	model     *isolate.Model
	energised bool // something was switched on since the last proof of dead
	posed     string
	times     int
}

// inside reports whether a prompt sends probes or hands into the unit.
func inside(p flows.Prompt) bool {
	return len(p.Tests) > 0 || slices.ContainsFunc(p.Acts, func(a isolate.Act) bool { return a.Kind == isolate.Lift })
}

// asking judges a question before it is put: j is the job up to that moment.
func (w *Watch) asking(j flows.Job, p flows.Prompt) {
	if lack := flows.MayAsk(j.State, j.Facts, p.Ask); lack != 0 {
		w.unsafe(j, p, "lacks "+fmt.Sprint((lack&safety.All).Names()))
	}
	w.open(j, p)
	if w.model != nil {
		for _, a := range p.Acts {
			if a.Kind == isolate.Lift && w.model.IsNeutral(a.End) && !j.Facts.Has(safety.NeutralDead) {
				w.unsafe(j, p, "lifts a neutral that was not checked")
			}
			if wire, _ := a.End.Wire(); a.Kind == isolate.Lift && w.model.Unit().Wires[wire].Fixed {
				w.unsafe(j, p, "lifts a wire that is never lifted")
			}
		}
	}
	if p.Ask == "ask_switch_on" {
		if !j.Facts.Has(safety.MaySwitchOn) {
			w.unsafe(j, p, "switches on without a permit")
		}
		if j.Circuit.Lifted != "" || j.Circuit.Off != "" {
			w.unsafe(j, p, "switches on with a wire or a cover off")
		}
	}
}

// open judges a question that stands open.
func (w *Watch) open(j flows.Job, p flows.Prompt) {
	if !inside(p) {
		return
	}
	if !j.Facts.Has(safety.ProvedDead) {
		w.unsafe(j, p, "hands in a unit that is not proved dead")
	}
	if w.energised {
		w.unsafe(j, p, "hands in a unit that was switched on since it was proved dead")
	}
}

func (w *Watch) unsafe(j flows.Job, p flows.Prompt, why string) {
	w.Unsafe = append(w.Unsafe, fmt.Sprintf("%s in %s: %s", p.Ask, j.State, why))
}

// typed notes what an answer does to the unit, whatever the dialog makes of it.
func (w *Watch) typed(open *flows.Prompt, u utterance) {
	if u.energises {
		w.energised = true
	}
	if open != nil && !u.late && slices.Contains(open.Fields, "again") && strings.Contains(u.text, "208") {
		w.energised = false
	}
}

// heard looks for the readings of an answer in the events that it brought. A reading
// counts as kept if it was read, noted, held until it is confirmed, or asked back.
func (w *Watch) heard(j flows.Job, u utterance, events []flows.Event) {
	if u.readings == 0 {
		return
	}
	read := 0
	for _, e := range events {
		switch e := e.(type) {
		case flows.Read:
			read++
		case flows.Noted:
			if strings.Contains(e.Text, strings.TrimSpace(u.text)) {
				return
			}
		case flows.Asked:
			if e.Prompt.Pending != "" || e.Prompt.Tried > 0 {
				return
			}
		case flows.Said:
			if askedBack(e.Code) || slices.ContainsFunc(e.More, func(p flows.Phrase) bool { return askedBack(p.Code) }) {
				return
			}
		}
	}
	if read < u.readings {
		w.Lost = append(w.Lost, fmt.Sprintf("%q in %s: %d of %d read", u.text, j.State, read, u.readings))
	}
}

func askedBack(c flows.Code) bool {
	return strings.HasPrefix(string(c), "doubt.") || c == "read.which" || c == "read.number_wanted" || c == "permit.again"
}

// said counts how often a question was put in the same words in a row, other than at the
// technician's own wish or because he answered an earlier one again.
func (w *Watch) said(j flows.Job, u utterance, say []flows.Message) {
	for _, m := range say {
		if !m.Prompt || j.Asked == nil {
			continue
		}
		p := *j.Asked
		p.ID, p.At = 0, 0
		sign := fmt.Sprintf("%s %v %v %v %q\n%s", p.Ask, p.Tests, p.Acts, p.Fields, p.Pending, unquoted(m.Text))
		switch {
		case u.asks, u.late:
		case sign == w.posed:
			w.times++
		default:
			w.posed, w.times = sign, 1
		}
		if w.times == 3 && !u.asks && !u.late {
			w.Nags = append(w.Nags, fmt.Sprintf("%s in %s after %q: %s", p.Ask, j.State, u.text, m.Text))
		}
	}
}

// unquoted is a text without what it quotes of an answer.
func unquoted(text string) string {
	for {
		from := strings.Index(text, "“")
		to := strings.Index(text, "”")
		if from < 0 || to < from {
			return text
		}
		text = text[:from] + text[to+len("”"):]
	}
}

// verdictOf is the item that a job holds to be at fault, if it has said one.
func verdictOf(j flows.Job) *circuit.Item {
	if j.Verdict == nil {
		return nil
	}
	v := j.Verdict.Item
	return &v
}
