package flows

import (
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/wording"
)

// unitByWords is the one unit on the shelf that a text names, if there is exactly one.
func (d *Dialog) unitByWords(text string) (Entry, bool) {
	best, score, tie := Entry{}, 0, false
	for _, e := range d.shelf.Entries() {
		n := matchWords(text, e)
		switch {
		case n > score:
			best, score, tie = e, n, false
		case n == score:
			tie = true
		}
	}
	return best, score > 0 && !tie
}

// matchWords counts the letters of the search words of an entry that a text has.
func matchWords(text string, e Entry) int {
	n := 0
	for _, w := range e.Words {
		if w = plain(w); w != "" && has(text, w, w+"s") {
			n += len(w)
		}
	}
	if has(text, plain(e.Name)) {
		n += len(e.Name)
	}
	return n
}

// complaintIn reads what a text says the unit does: "trips at once", "trips",
// "other", or "" if it says nothing of it.
func complaintIn(text string) string {
	trips := has(text, "trip", "trips", "tripping", "tripped", "pop", "pops", "popping", "popped", "blows", "blowing", "kicks out", "kicking out",
		"breaker goes", "breaker drops", "breaker keeps", "goes off", "kicks off", "throws the breaker", "knocks the breaker", "shorts", "shorting") ||
		has(text, "breaker") && has(text, "goes", "go", "off", "out")
	at := has(text, "as soon as", "the moment", "at once", "instantly", "immediately", "straight away", "right away", "every time", "when i flip", "when i switch",
		"when you flip", "when you switch", "the second", "instant", "on switch on", "on power up", "when it is switched", "when we switch", "when i turn", "when you turn", "at switch on")
	later := has(text, "after an hour", "after a while", "after some", "when hot", "once hot", "on heat up", "heat-up", "minutes", "hours", "sometimes", "now and then", "randomly", "intermittent")
	rcd := has(text, "gfci", "rcd", "residual", "ground fault", "elcb", "rcbo")
	other := has(text, "no heat", "doesn't heat", "doesnt heat", "not heating", "won't heat", "wont heat", "cold", "dead", "too hot", "noise", "noisy", "leaking", "won't turn on",
		"wont turn on", "no power", "hums", "smells", "error", "won't start", "wont start", "doesn't work", "doesnt work", "not working")
	switch {
	case rcd && trips || later && trips:
		return "other"
	case trips && at:
		return "trips at once"
	case trips:
		return "trips"
	case other:
		return "other"
	}
	return ""
}

// whenIn reads at which act the breaker goes: "switch", "breaker" or "".
func whenIn(text string) string {
	switch {
	case has(text, "flip the switch", "flip it on", "the unit's switch", "units switch", "its own switch", "rocker", "master switch", "switch it on", "turn it on",
		"switch on the unit", "hit the switch", "front switch", "press start", "i switch", "turn the switch", "unit's switch"):
		return "switch"
	case has(text, "closing the breaker", "close the breaker", "reset the breaker", "breaker won't hold", "breaker wont hold", "breaker won't stay", "breaker wont stay",
		"put the breaker", "plug it in", "close the disconnect", "turn the breaker on", "switch the breaker on"):
		return "breaker"
	}
	return ""
}

// askIntake asks for what is not known yet, or goes on to make safe.
func (s *step) askIntake() {
	switch {
	case s.j.Opened == nil && s.j.Tell("skeleton") != "":
		s.askSkeleton()
	case s.j.Opened == nil:
		s.askUnit()
	case s.j.Tell("complaint") == "" || s.j.Tell("complaint") == "trips":
		s.ask(Prompt{Ask: "ask_complaint", Choices: []Choice{
			{Word: "at once", Value: "at once"}, {Word: "later", Value: "later"}, {Word: "residual", Value: "residual"}, {Word: "other", Value: "other"}}}, nil)
	case s.j.Tell("complaint") == "other":
		s.askOther()
	case s.j.Tell("when") == "":
		s.ask(Prompt{Ask: "ask_when", Choices: []Choice{
			{Word: "breaker", Value: "breaker"}, {Word: "switch", Value: "switch"}, {Word: "not known", Value: "not known"}}}, nil)
	case s.j.Tell("history") == "":
		s.ask(Prompt{Ask: "ask_tried"}, nil)
	default:
		s.say("intake.no_resets")
		if s.move(OnUnitKnown) {
			s.checkLevel()
		}
	}
}

func (s *step) askUnit() {
	p := Prompt{Ask: "ask_unit"}
	for i, e := range s.d.shelf.Entries() {
		p.Choices = append(p.Choices, Choice{Word: letter(i), Value: "unit:" + e.Name})
	}
	p.Choices = append(p.Choices, Choice{Word: "not listed", Value: "not listed"})
	s.ask(p, nil)
}

// letter names the i-th of a list: a, b, ..., z, then aa, ab, ...
func letter(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return letter(i/26-1) + letter(i%26)
}

// askOther says plainly what this release does not do.
func (s *step) askOther() {
	s.say("intake.other")
	s.ask(Prompt{Ask: "ask_hand_over", Choices: []Choice{{Word: "hand over", Value: "hand over"}, {Word: "it trips at once", Value: "it trips at once"}}}, nil)
}

// answerIntake takes whatever of the intake a text holds.
func (s *step) answerIntake(text string) {
	asked := Code("")
	if s.j.Asked != nil {
		asked = s.j.Asked.Ask
	}
	knew := s.knownOfIntake()
	switch asked {
	case "ask_plate", "ask_switching", "ask_loads", "ask_load_wires":
		s.answerSkeleton(text)
		return
	case "ask_unit":
		s.answerUnit(text)
	case "ask_complaint":
		s.answerComplaint(text)
	case "ask_when":
		switch {
		case has(text, "breaker", "disconnect", "plug"):
			s.tell("when", "breaker")
		case has(text, "switch"):
			s.tell("when", "switch")
		case has(text, "not known", "unknown", "both", "can't say", "no", "not sure", "unsure", "no idea", "don't know", "dont know", "dunno"):
			s.tell("when", "not known")
		}
	case "ask_tried":
		s.answerTried(text)
	}
	if s.j.Opened == nil && s.j.Tell("skeleton") == "" {
		if e, ok := s.d.unitByWords(text); ok {
			s.open(e)
		}
	}
	if c := s.j.Tell("complaint"); asked != "ask_complaint" && asked != "ask_tried" && (c == "" || c == "trips") {
		if c := complaintIn(text); c != "" && c != s.j.Tell("complaint") {
			s.tell("complaint", c)
		}
	}
	if s.j.Tell("when") == "" && s.j.Tell("complaint") != "other" {
		if w := whenIn(text); w != "" {
			s.tell("when", w)
		}
	}
	if s.j.Tell("reported") == "" && s.in.Text != "" && asked == "" {
		s.tell("reported", strings.TrimSpace(s.in.Text))
	}
	if s.knownOfIntake() == knew && asked != "" {
		s.unknown()
		return
	}
	if s.was.Opened == nil && s.j.Opened != nil {
		s.say("intake.unit", "unit", s.unit().Name, "supply", supplyName(s.unit()))
		if s.unit().Partial {
			s.say("intake.partial")
		}
	}
	s.askIntake()
}

// knownOfIntake counts what is known, to tell an answer from a text that was none.
func (s *step) knownOfIntake() int {
	n := 0
	for _, what := range []string{"complaint", "when", "history", "skeleton", "plate", "switching", "loads", "load wires"} {
		n += len(s.j.Tell(what))
	}
	if s.j.Opened != nil {
		n += 1000
	}
	return n
}

func (s *step) answerUnit(text string) {
	if text == "not listed" || has(text, "not listed", "none of these", "none", "other", "not there", "different") {
		s.tell("skeleton", "asked")
		return
	}
	for i, e := range s.d.shelf.Entries() {
		if text == letter(i) || text == plain("unit:"+e.Name) {
			s.open(e)
			return
		}
	}
}

func (s *step) answerComplaint(text string) {
	switch {
	case has(text, "at once", "immediately", "instantly", "straight away", "right away", "every time") || complaintIn(text) == "trips at once":
		s.tell("complaint", "trips at once")
	case has(text, "later", "heat-up", "hour", "hot", "residual", "gfci", "rcd", "other", "sometimes") || complaintIn(text) == "other":
		s.tell("complaint", "other")
	}
}

// answerTried keeps what was done before, how often it was reset, and readings.
func (s *step) answerTried(text string) {
	if text == "" {
		return
	}
	s.tell("history", strings.TrimSpace(s.in.Text))
	if n := countIn(text); n >= 0 {
		s.tell("resets", strconv.Itoa(n))
	}
	if has(text, "washed", "hosed", "cleaned", "wet", "steam", "storage", "rain") && !has(text, "not washed", "not cleaned") {
		s.tell("wet", "yes")
	}
	s.earlier(text)
}

// open records the unit and what the job is judged by.
func (s *step) open(e Entry) {
	if !s.emit(Opened{Unit: e.Hash, Policy: Policy{Version: PolicyVersion}, Engine: EngineVersion, Safety: SafetyVersion, Lang: wording.English}) {
		return
	}
	s.bind()
}

// bind finds the unit just opened.
func (s *step) bind() {
	b, err := s.d.bench(s.j)
	if err != nil {
		s.err = err
		return
	}
	s.b = b
}

// checkLevel goes on to the card, or to looks without covers for a person below the
// level of a qualified one (29 CFR 1910.333(b)(2)(iv), 1910.334(c)(1)).
func (s *step) checkLevel() {
	if s.in.Rights.May < MayDead {
		if s.move(OnLevelLow) {
			s.say("look.level")
			s.goOn()
		}
		return
	}
	s.goOn()
}

// askLook asks for what can be seen without opening anything.
func (s *step) askLook() {
	s.ask(Prompt{Ask: "ask_look", Choices: []Choice{{Word: "hand over", Value: "hand over"}}}, nil)
}

func (s *step) answerLook(text string) {
	if s.in.Rights.May >= MayDead && s.move(OnLevelOK) {
		s.goOn()
		return
	}
	if has(text, "hand over", "done", "nothing", "no") {
		s.offer("look.offer")
		return
	}
	s.keepNote()
	s.say("say.noted")
	s.offer("look.offer")
}

// supplyName says how the unit is fed: "208 V, two legs and neutral, two-pole
// disconnect on the wall".
func supplyName(u *circuit.Unit) string {
	var list []string
	for _, src := range u.Sources {
		name := src.System
		if src.Isolator.Name != "" {
			name = also(name, src.Isolator.Name)
		}
		list = append(list, name)
	}
	return strings.Join(list, "; ")
}
