package flows

import (
	"slices"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/safety"
)

// askVerdict says what was found, on what evidence, and asks whether it explains the
// complaint.
func (s *step) askVerdict() {
	if s.j.Verdict == nil {
		s.goBack()
		return
	}
	s.ask(Prompt{Ask: "ask_explains", Choices: yesOrNo()}, nil)
}

// evidence lists the readings that bear on the item that was convicted: those that a
// sound unit would not show, the last three.
func (s *step) evidence() string { return evidenceOf(s.b, s.j) }

func evidenceOf(b *bench, j Job) string {
	var list []string
	for i := len(j.Seen) - 1; i >= 0 && len(list) < 3; i-- {
		o := j.Seen[i]
		if o.Void {
			continue
		}
		e := b.engine().Explain(caseOf(Job{Told: j.Told}), o)
		if slices.ContainsFunc(j.Seen[i+1:], func(later isolate.Observation) bool { return !later.Void && later.Test.Key == o.Test.Key }) {
			continue
		}
		list = append([]string{testShort(b.unit, o.Test) + " " + o.Got.String() + " (a sound unit: " + soundText(e) + ")"}, list...)
	}
	return strings.Join(list, "; ")
}

func (s *step) answerVerdict(text string) {
	yes, known := yesNo(text)
	switch {
	case known && yes:
		if s.move(OnAgreed) {
			s.goOn()
			return
		}
		s.goBack()
	case known || has(text, "doesn't explain", "does not explain", "not it", "something else"):
		s.keepNote()
		s.tell("not explained", strings.TrimSpace(s.in.Text))
		if s.move(OnDoubted) {
			s.offer("verdict.doubted")
			return
		}
		s.goBack()
	default:
		s.unknown()
	}
}

// askRepair asks for what is behind the fault and what was done about it.
func (s *step) askRepair() {
	if s.j.Tell("cause") == "" {
		s.ask(Prompt{Ask: "ask_mended", Fields: []string{"cause"}, Choices: causes()}, nil)
		return
	}
	s.ask(Prompt{Ask: "ask_mended", Fields: []string{"repair"}, Choices: []Choice{
		{Word: "mended", Value: "mended"}, {Word: "replaced", Value: "replaced"}, {Word: "no part", Value: "no part"}}}, nil)
}

func causes() []Choice {
	var all []Choice
	for _, w := range []string{"grease", "water", "chafing", "heat", "age", "not known"} {
		all = append(all, Choice{Word: w, Value: w})
	}
	return all
}

func (s *step) answerRepair(text string) {
	wantsCause := s.j.Asked != nil && len(s.j.Asked.Fields) == 1 && s.j.Asked.Fields[0] == "cause"
	switch {
	case has(text, "no part", "not on the van", "no spare", "out of stock", "need to order", "don't have the part", "part ordered", "order it"):
		if s.j.Tell("cause") == "" {
			s.tell("cause", "not known")
		}
		s.tell("repair", "")
		s.tell("no part", "yes")
		if s.move(OnNoPart) {
			s.say("repair.no_part")
			s.goOn()
			return
		}
		s.goOn()
	case wantsCause && text != "":
		s.tell("cause", strings.TrimSpace(s.in.Text))
		if has(text, "water", "wet", "steam", "damp", "moisture", "flooded") {
			s.tell("wet", "yes")
		}
		s.askRepair()
	case has(text, "mended", "repaired", "fixed", "cleaned", "tightened", "rerouted", "taped", "insulated", "re-terminated"):
		s.repaired("mended")
	case has(text, "replaced", "new one", "swapped", "fitted", "changed", "new part"):
		s.repaired("replaced")
	default:
		s.unknown()
	}
}

func (s *step) repaired(how string) {
	it, ok := convicted(s.j)
	if !ok {
		s.goBack()
		return
	}
	s.tell("repair", how)
	s.tell("renewed", strings.TrimSpace(s.j.Tell("renewed")+" "+itemWord(it)))
	s.belief = nil
	if !s.move(OnMended) {
		s.goBack()
		return
	}
	s.goOn()
}

// insulationDue says whether safety rule 6 calls for a 500 V test: after wet, unknown
// cause, or a new element.
func (s *step) insulationDue() bool {
	if s.j.Tell("wet") == "yes" || s.j.Tell("cause") == "not known" {
		return true
	}
	for _, it := range renewed(s.j) {
		if it.Part >= 0 && int(it.Part) < len(s.unit().Parts) && s.unit().Parts[it.Part].Kind == circuit.KindElement && s.j.Tell("repair") == "replaced" {
			return true
		}
	}
	return false
}

// insulationLeast is the least insulation that passes, in ohms: 0.3 MΩ for heaters
// above 3.5 kW, 1 MΩ otherwise (safety rule 6).
func (s *step) insulationLeast() float64 {
	watts := 0.0
	for _, p := range s.unit().Parts {
		if p.Kind == circuit.KindElement {
			watts += float64(p.Watts)
		}
	}
	if watts > 3500 {
		return 3e5
	}
	return 1e6
}

// lackingNow is what stands between the job and switching on.
func lackingNow(j Job) safety.Facts { return safety.MaySwitchOn &^ j.Facts }
