package flows

import (
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
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
	mended, _ := strconv.Atoi(j.Tell("mended at"))
	for i := len(j.Seen) - 1; i >= 0 && len(list) < 3; i-- {
		o := j.Seen[i]
		if o.Void || mended > 0 && j.Facts.Has(safety.Mended) && o.Seq > mended {
			continue
		}
		e := b.engine().Explain(caseOf(Job{Told: j.Told}), o)
		if e.Fits == isolate.AsSound {
			continue
		}
		if slices.ContainsFunc(j.Seen[i+1:], func(later isolate.Observation) bool { return !later.Void && later.Test.Key == o.Test.Key }) {
			continue
		}
		text := testShort(b.unit, o.Test) + " " + o.Got.String() + " (a sound unit: " + soundText(e) + ")"
		if !slices.Contains(list, text) {
			list = append([]string{text}, list...)
		}
	}
	return strings.Join(list, "; ")
}

func (s *step) answerVerdict(text string) {
	yes, known := yesNo(text)
	switch {
	case known && yes:
		if s.j.Tell("renewed") != "" {
			s.tell("cause", "") // this is another fault than the one before
		}
		if s.j.Tell("second fault") != "" {
			s.tell("second fault", "")
		}
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

// askRepair asks for what is behind the fault and what was done about it, in one
// question; what is missing of the two is asked again.
func (s *step) askRepair() {
	p := Prompt{Ask: "ask_mended"}
	if s.j.Tell("cause") == "" {
		p.Fields = append(p.Fields, "cause")
	}
	if s.j.Tell("done") == "" {
		p.Fields = append(p.Fields, "repair")
	}
	if len(p.Fields) == 1 && p.Fields[0] == "cause" {
		p.Choices = causes()
	} else {
		p.Choices = []Choice{{Word: "mended", Value: "mended"}, {Word: "replaced", Value: "replaced"}, {Word: "no part", Value: "no part"}}
		if s.resettable() {
			p.Choices = append([]Choice{{Word: "reset", Value: "reset"}}, p.Choices...)
		}
	}
	s.ask(p, nil)
}

func causes() []Choice {
	var all []Choice
	for _, w := range causeWords() {
		all = append(all, Choice{Word: w, Value: w})
	}
	return all
}

func causeWords() []string { return []string{"grease", "water", "chafing", "heat", "age", "not known"} }

// causeIn is the cause a text names; other words that say no repair are taken as they
// stand.
func causeIn(text string) string {
	for _, w := range causeWords() {
		if has(text, w) {
			return w
		}
	}
	switch {
	case has(text, "wet", "steam", "damp", "moisture", "flooded", "washed", "hosed"):
		return "water"
	case has(text, "fat", "oil", "dirt"):
		return "grease"
	case has(text, "chafed", "rubbed", "pinched", "sharp edge", "edge"):
		return "chafing"
	case has(text, "burnt", "burned", "hot", "overheated", "loose"):
		return "heat"
	case has(text, "old", "worn", "wear", "end of life"):
		return "age"
	case has(text, "no idea", "don't know", "dont know", "not sure", "dunno", "unknown"):
		return "not known"
	}
	return ""
}

// repairIn is what a text says was done: "mended", "replaced", "no part", or "".
func repairIn(text string) string {
	switch {
	case has(text, "no part", "not on the van", "no spare", "out of stock", "need to order", "don't have the part", "dont have the part", "part ordered", "order it"):
		return "no part"
	case denied(strings.ReplaceAll(text, "not known", "")) || has(text, "will", "going to", "should i"):
		return ""
	case has(text, "replaced", "new one", "swapped", "fitted", "changed", "new part"):
		return "replaced"
	case has(text, "reset", "reset it"):
		return "reset"
	case has(text, "mended", "repaired", "fixed", "cleaned", "tightened", "rerouted", "taped", "insulated", "re-terminated"):
		return "mended"
	}
	return ""
}

func (s *step) answerRepair(text string) {
	cause, how := causeIn(text), repairIn(text)
	onlyCause := s.j.Asked != nil && len(s.j.Asked.Fields) == 1 && s.j.Asked.Fields[0] == "cause"
	if cause == "" && onlyCause && text != "" && how == "" && !isBlanket(text) {
		cause = strings.TrimSpace(s.in.Text)
	}
	if cause == "" && how == "" {
		s.unknown()
		return
	}
	if cause != "" {
		s.tell("cause", cause)
		if cause == "water" {
			s.tell("wet", "yes")
		}
	}
	if how != "" {
		s.tell("done", how)
	}
	how, cause = s.j.Tell("done"), s.j.Tell("cause")
	switch {
	case how == "no part":
		s.tell("done", "")
		s.tell("no part", "yes")
		if s.move(OnNoPart) {
			s.say("repair.no_part")
		}
		s.goOn()
	case how == "" || cause == "":
		s.askRepair()
	case how == "reset" && !s.resettable():
		s.tell("done", "")
		s.say("repair.no_reset")
		s.askRepair()
	case s.symptom() && cause == "not known":
		// A limit or fuse that opened has a cause; without it nothing is put back.
		s.tell("cause", "")
		s.tell("done", "")
		s.say("repair.cause_first")
		s.offer("repair.cause_wanted")
	default:
		s.tell("done", "")
		s.repaired(how)
	}
}

func (s *step) repaired(how string) {
	it, ok := convicted(s.j)
	if !ok {
		s.goBack()
		return
	}
	s.tell("repair", how)
	s.tell("mended at", strconv.Itoa(s.j.Seq))
	s.tell("renewed", strings.TrimSpace(s.j.Tell("renewed")+" "+itemWord(it)))
	s.belief = nil
	if !s.move(OnMended) {
		s.goBack()
		return
	}
	s.goOn()
}

// symptom says that what was found is a limit, interlock or fuse: it opened for a reason.
func (s *step) symptom() bool {
	it, ok := convicted(s.j)
	if !ok || it.Part < 0 || int(it.Part) >= len(s.unit().Parts) || s.j.Verdict == nil {
		return false
	}
	p := s.unit().Parts[it.Part]
	opened := s.j.Verdict.Fault.Mode == circuit.NeverCloses || s.j.Verdict.Fault.Mode == circuit.OpenCircuit
	return opened && (p.Protects || p.Kind == circuit.KindLimit || p.Kind == circuit.KindFuse)
}

// resettable says that what was found is a limit with a button.
func (s *step) resettable() bool {
	it, ok := convicted(s.j)
	return ok && s.symptom() && s.unit().Parts[it.Part].Kind == circuit.KindLimit
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
	var watts quantity.Watts
	for _, p := range s.unit().Parts {
		if p.Kind == circuit.KindElement {
			watts += p.Watts
		}
	}
	return float64(safety.InsulationLimit(watts > 0, watts))
}

// lackingNow is what stands between the job and switching on.
func lackingNow(j Job) safety.Facts { return safety.MaySwitchOn &^ j.Facts }
