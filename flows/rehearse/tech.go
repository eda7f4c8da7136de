package rehearse

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
)

// Tech is a simulated technician on site. He reads a prompt's tests, acts and fields,
// not its words, and answers in text. What he has really lifted is his own state: it
// differs from the dialog's where he errs.
type Tech struct {
	Misread  float64 // chance that one reading is wrong
	LeavesOn bool    // never takes off a wire that he is asked to take off, and says nothing

	truth *Truth
	model *isolate.Model
	rng   *rand.Rand
	site  circuit.State // as it really is

	// What he did, for the score.
	Readings, Lifts, Covers int
	Minutes                 float64
	Misreads                int
	SwitchOns               int
	Repaired                bool // nothing is wrong with the unit any more
	found                   bool // a verdict was said: readings from here on are not counted
	blame                   []circuit.Item
	about                   isolate.Complaint
}

// NewTech returns a technician in front of a specimen.
func NewTech(m *isolate.Model, truth *Truth, misread float64, rng *rand.Rand) *Tech {
	own := *truth // mending changes it
	return &Tech{Misread: misread, truth: &own, model: m, rng: rng, blame: truth.items()}
}

// Answer is what he writes to a prompt. verdict is the item that the dialog holds to be
// at fault, if it has said one.
func (t *Tech) Answer(p flows.Prompt, verdict *circuit.Item) string {
	if verdict != nil {
		t.found = true
	}
	t.do(p.Acts)
	// The cover of the first proof of dead comes off before the first isolation prompt.
	if len(p.Tests) == 0 && !t.found && p.Ask != "ask_cover" {
		t.Minutes += t.truth.Pace * t.model.Minutes(p.Acts, 0)
	}
	switch p.Ask {
	case "ask_unit":
		return t.model.Unit().Name
	case "ask_complaint":
		if t.about == isolate.DoesNotWork {
			return "does not work"
		}
		return "at once"
	case "ask_dead":
		return t.dead(p)
	case "ask_resets":
		return "twice"
	case "ask_history", "ask_who":
		return "nobody was in it, nothing washed"
	case "ask_when":
		return t.when()
	case "ask_tried":
		return "cook reset it twice, nobody was in it, nothing washed, no readings yet"
	case "ask_mended":
		return t.mend(p, verdict)
	case "ask_works":
		if !t.truth.allWork() {
			return "no"
		}
		return "yes"
	case "ask_site", "ask_explains":
		return "yes"
	case "ask_switch_on":
		return t.switchOn(p)
	case "ask_hand_over":
		return "hand over"
	case "ask_undo":
		return "no"
	case "ask_insulation":
		return t.insulation()
	case "ask_land", "ask_all_landed":
		return t.land(p)
	case "ask_ends_safe":
		return t.cap(p)
	}
	if len(p.Tests) > 0 {
		return t.read(p)
	}
	if len(p.Fields) > 0 {
		return t.fill(p)
	}
	if len(p.Choices) > 0 {
		return p.Choices[0].Word
	}
	return "ok"
}

// Complaint is his first message.
func (t *Tech) Complaint() string {
	if t.about == isolate.DoesNotWork {
		return strings.ToLower(t.model.Unit().Name) + ", part of it doesn't work"
	}
	s := strings.ToLower(t.model.Unit().Name) + ", breaker goes "
	if t.truth.AtRest {
		return s + "as soon as I close the breaker, unit's own switch is off"
	}
	return s + "as soon as I flip the switch on the unit"
}

func (t *Tech) when() string {
	if t.truth.AtRest {
		return "breaker"
	}
	return "switch"
}

// dead names the loads that do not work: by letter where the prompt lists them, else by
// tag.
func (t *Tech) dead(p flows.Prompt) string {
	var out []string
	listed := false
	for _, f := range p.Fields {
		_, arg, ok := strings.Cut(f, "load:")
		n, err := strconv.Atoi(arg)
		if !ok || err != nil {
			continue
		}
		listed = true
		for _, c := range p.Choices {
			if c.Value == f && !t.truth.Works.Has(n) {
				out = append(out, c.Word)
			}
		}
	}
	if !listed {
		for _, id := range t.model.Loads() {
			part := t.model.Unit().Parts[id]
			if !t.truth.Works.Has(int(id)) && !slices.ContainsFunc(part.Elems, func(e circuit.Elem) bool { return e.Coil }) {
				out = append(out, part.Tag)
			}
		}
	}
	if len(out) == 0 {
		return "none"
	}
	return strings.Join(out, " ")
}

// do carries out what a prompt asks to be done by hand.
func (t *Tech) do(acts []isolate.Act) {
	for _, a := range acts {
		switch a.Kind {
		case isolate.OpenCover:
			if !t.site.Off.Has(a.Cover) {
				t.site = t.site.Uncover(a.Cover)
				if !t.found {
					t.Covers++
				}
			}
		case isolate.Lift:
			if !t.site.Lifted.Has(int(a.End)) && !t.found {
				t.Lifts++
			}
			if !t.LeavesOn {
				t.site = t.site.Lift(a.End)
			}
		case isolate.Land:
			t.site = t.site.Land(a.End)
		case isolate.Move:
			t.site = t.site.Move(t.model.Unit(), a.Part, a.To)
		}
	}
}

// read takes every reading of a prompt.
func (t *Tech) read(p flows.Prompt) string {
	var out []string
	for _, test := range p.Tests {
		if !t.found {
			t.Readings++
		}
		out = append(out, t.one(test))
	}
	if !t.found {
		t.Minutes += t.truth.Pace * t.model.Minutes(p.Acts, len(p.Tests))
	}
	return strings.Join(out, ", ")
}

// one is a single reading, which may be wrong: a wrong value, a wrong wire, or a wire
// that should be off and is still on.
func (t *Tech) one(test isolate.Test) string {
	s := t.site
	a, b := test.A, test.B
	if t.rng.Float64() < t.Misread {
		t.Misreads++
		switch t.rng.IntN(3) {
		case 0:
			if t.rng.IntN(2) == 0 {
				return "OL"
			}
			return show(math.Pow(10, 7*t.rng.Float64()-0.5))
		case 1:
			u := t.model.Unit()
			a = circuit.Node(t.rng.IntN(len(u.Terms)))
		default:
			if on := s.Lifted.Each(); len(on) > 0 {
				s = s.Land(circuit.EndID(on[t.rng.IntN(len(on))]))
			}
		}
	}
	text, err := t.truth.Read(s, a, b, t.rng)
	if err != nil {
		return "OL"
	}
	return text
}

// fill answers the fields of a card: letters of ticks, then values in order.
func (t *Tech) fill(p flows.Prompt) string {
	var letters strings.Builder
	var values []string
	for _, f := range p.Fields {
		switch name, arg, _ := strings.Cut(f, ":"); name {
		case "tick":
			for _, c := range p.Choices {
				if c.Value == f {
					letters.WriteString(c.Word)
				}
			}
			if arg == "cover" && len(p.Acts) == 0 {
				for c, cover := range t.model.Unit().Covers {
					if len(cover.Hides) > 0 && !t.site.Off.Has(c) && c == 0 {
						t.site = t.site.Uncover(c)
					}
				}
			}
		case "known", "again":
			values = append(values, "208")
		case "volts", "clamp", "here":
			values = append(values, "0")
		case "leads":
			values = append(values, show(float64(t.truth.Leads)))
		case "amps":
		}
	}
	if letters.Len() > 0 {
		values = append([]string{letters.String()}, values...)
	}
	return strings.Join(values, " ")
}

// land names every wire that goes back on.
func (t *Tech) land(p flows.Prompt) string {
	u := t.model.Unit()
	var names []string
	for _, f := range p.Fields {
		if _, arg, ok := strings.Cut(f, "landed:"); ok {
			if n, err := strconv.Atoi(arg); err == nil {
				t.site = t.site.Land(circuit.EndID(n))
				names = append(names, u.EndPoint(circuit.EndID(n)).Short())
			}
		}
	}
	return "landed " + strings.Join(names, ", ")
}

// cap names every wire end that is capped, tied back and tagged, before the ticks.
func (t *Tech) cap(p flows.Prompt) string {
	u := t.model.Unit()
	var names []string
	for _, f := range p.Fields {
		if _, arg, ok := strings.Cut(f, "capped:"); ok {
			if n, err := strconv.Atoi(arg); err == nil {
				names = append(names, u.EndPoint(circuit.EndID(n)).Short())
			}
		}
	}
	if len(names) == 0 {
		return t.fill(p)
	}
	return "capped " + strings.Join(names, ", ")
}

// mend puts the convicted item right. A wrong one changes nothing about the fault.
func (t *Tech) mend(p flows.Prompt, verdict *circuit.Item) string {
	if slices.Contains(p.Fields, "cause") && !slices.Contains(p.Fields, "repair") {
		return "age"
	}
	if verdict != nil && t.truth.mend(*verdict) {
		t.Repaired = t.truth.sound()
	}
	if slices.Contains(p.Fields, "cause") {
		return "age, replaced"
	}
	return "replaced"
}

func (t *Tech) insulation() string {
	for _, f := range t.truth.Faults {
		switch f.Mode {
		case circuit.Earthed, circuit.EarthedTerm, circuit.Chafed:
			return "0.1M"
		}
	}
	if len(t.truth.Actual.Leak) > 0 {
		return "0.1M"
	}
	return "50M"
}

// switchOn is what the breaker does.
func (t *Tech) switchOn(p flows.Prompt) string {
	t.SwitchOns++
	if t.truth.trips(!slices.Contains(p.Fields, "breaker"), t.rng) {
		return "tripped"
	}
	return "held"
}
