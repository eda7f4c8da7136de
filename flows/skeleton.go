package flows

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
	"halfsplit/flows/wording"
)

// skeletonFrom reads the unit file that was written from four answers.
func skeletonFrom(source []byte) (*circuit.Unit, error) {
	u, problems := circuit.Parse("skeleton.yaml", source)
	if u == nil {
		return nil, fmt.Errorf("flows: skeleton: %v", problems)
	}
	return u, nil
}

// askSkeleton asks the next of the four questions about a unit without a file.
func (s *step) askSkeleton() {
	switch {
	case s.j.Tell("plate") == "":
		s.ask(Prompt{Ask: "ask_plate", Fields: []string{"plate"}}, nil)
	case s.j.Tell("switching") == "":
		s.ask(Prompt{Ask: "ask_switching", Fields: []string{"switching"}, Choices: []Choice{
			{Word: "switch", Value: "switch"}, {Word: "contactor", Value: "contactor"}, {Word: "both", Value: "both"}, {Word: "neither", Value: "neither"}}}, nil)
	case s.j.Tell("loads") == "":
		s.ask(Prompt{Ask: "ask_loads", Fields: []string{"loads"}}, nil)
	case s.j.Tell("load wires") == "":
		s.ask(Prompt{Ask: "ask_load_wires", Fields: []string{"load wires"}}, nil)
	default:
		s.openSkeleton()
	}
}

// answerSkeleton takes the answer to one of the four questions.
func (s *step) answerSkeleton(text string) {
	raw := strings.TrimSpace(s.in.Text)
	switch s.j.Asked.Ask {
	case "ask_plate":
		if voltsIn(text) == 0 {
			s.unknown()
			return
		}
		s.tell("plate", raw)
	case "ask_switching":
		if !has(text, "switch", "contactor", "both", "neither", "none", "no", "yes") {
			s.unknown()
			return
		}
		s.tell("switching", raw)
	case "ask_loads":
		if len(loadsIn(text)) == 0 {
			s.unknown()
			return
		}
		s.tell("loads", raw)
	case "ask_load_wires":
		if numberIn(text) < 0 && !has(text, "not known", "don't know", "no idea", "not sure") {
			s.unknown()
			return
		}
		s.tell("load wires", raw)
	}
	s.goOn()
}

var voltsPattern = regexp.MustCompile(`\b(120|208|230|240|277|400|480)\b`)

func voltsIn(text string) quantity.Volts {
	all := voltsPattern.FindAllString(text, -1)
	if len(all) == 0 {
		return 0
	}
	highest := 0
	for _, v := range all {
		n, err := strconv.Atoi(v)
		if err == nil {
			highest = max(highest, n)
		}
	}
	return quantity.Volts(highest)
}

// numberIn is the first whole number of a text, in digits or as a word; -1 if none.
func numberIn(text string) int {
	named := []string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	for _, w := range wordsOf(text) {
		if n, err := strconv.Atoi(w); err == nil && n >= 0 && n < 1000 {
			return n
		}
		if i := slices.Index(named, w); i >= 0 {
			return i
		}
	}
	return -1
}

// loadsIn reads "3 elements, 2 lamps to neutral and a fan".
func loadsIn(text string) []circuit.AnswerLoad {
	var loads []circuit.AnswerLoad
	for _, piece := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == '+' || r == '\n' }) {
		for _, piece := range strings.Split(piece, " and ") {
			l := circuit.AnswerLoad{Count: max(numberIn(piece), 1)}
			switch {
			case has(piece, "element", "elements", "heater", "heaters", "heat", "coil", "coils"):
				l.Kind = circuit.KindElement
			case has(piece, "lamp", "lamps", "bulb", "bulbs", "light", "lights"):
				l.Kind = circuit.KindLamp
			case has(piece, "motor", "motors", "fan", "fans", "pump", "blower"):
				l.Kind = circuit.KindMotor
			default:
				if has(piece, "neutral", "to n") && len(loads) > 0 {
					loads[len(loads)-1].ToNeutral = true
				}
				continue
			}
			l.ToNeutral = has(piece, "neutral", "to n", "120", "l-n")
			loads = append(loads, l)
		}
	}
	return loads
}

// skeletonAnswers are the four answers as the sketch wants them.
func skeletonAnswers(j Job) circuit.Answers {
	plate, switching := plain(j.Tell("plate")), plain(j.Tell("switching"))
	a := circuit.Answers{Name: "unit without a file", Volts: voltsIn(plate), Phases: 1, Loads: loadsIn(plain(j.Tell("loads")))}
	if has(plate, "three phase", "3 phase", "3-phase", "3ph", "three-phase", "3~") {
		a.Phases = 3
	}
	a.Neutral = has(plate, "neutral", "white", "n") && !has(plate, "no neutral", "without neutral")
	a.Plug = has(plate, "plug", "cord") && !has(plate, "no plug", "hard-wired", "hardwired", "hard wired")
	for _, l := range a.Loads {
		a.Neutral = a.Neutral || l.ToNeutral
	}
	both := has(switching, "both", "yes")
	a.Switch = both || has(switching, "switch") && !has(switching, "no switch")
	a.Contactor = both || has(switching, "contactor", "contactors") && !has(switching, "no contactor")
	if n := numberIn(plain(j.Tell("load wires"))); n > 0 {
		a.LoadWires = n
	}
	return a
}

// openSkeleton builds the unit and opens the job, or says what does not add up and
// asks that question again.
func (s *step) openSkeleton() {
	u, problems := circuit.Skeleton(skeletonAnswers(s.j))
	if u == nil {
		names := []string{"plate", "switching", "loads", "load wires"}
		for i, p := range problems {
			if i < 3 {
				s.say("skeleton.problem", "found", p.Found, "write", p.Write)
			}
			if p.Line >= 1 && p.Line <= len(names) {
				s.tell(names[p.Line-1], "")
			}
		}
		if len(problems) == 0 || s.j.Tell("plate") != "" && s.j.Tell("switching") != "" && s.j.Tell("loads") != "" && s.j.Tell("load wires") != "" {
			s.tell("plate", "")
		}
		s.askSkeleton()
		return
	}
	if !s.emit(Opened{Unit: u.Hash, Source: u.Source, Policy: Policy{Version: PolicyVersion}, Engine: EngineVersion, Safety: SafetyVersion, Lang: wording.English}) {
		return
	}
	s.bind()
	if s.err != nil {
		return
	}
	s.say("skeleton.made")
	s.askIntake()
}
