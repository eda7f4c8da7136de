package flows

import (
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

// The complaints, as recorded. Those from "trips later" on are handed over.
const (
	atOnce       = "trips at once"
	tripsUnsaid  = "trips" // when is not known yet
	doesNotWork  = "does not work"
	tripsLater   = "trips later"
	residualOnly = "residual only"
	otherwise    = "other"
)

// refused says that a complaint is none that readings of this release find.
func refused(complaint string) bool {
	return complaint == otherwise || complaint == tripsLater || complaint == residualOnly
}

// complaintIn reads what a text says the unit does; "" if it says nothing of it.
func complaintIn(text string) string {
	trips := has(text, "trip", "trips", "tripping", "tripped", "pop", "pops", "popping", "popped", "blows", "blowing", "kicks out", "kicking out",
		"breaker goes", "breaker drops", "breaker keeps", "goes off", "kicks off", "throws the breaker", "knocks the breaker", "shorts", "shorting") ||
		has(text, "breaker") && has(text, "goes", "go", "off", "out")
	at := has(text, "as soon as", "the moment", "at once", "instantly", "immediately", "straight away", "right away", "every time", "when i flip", "when i switch",
		"when you flip", "when you switch", "the second", "instant", "on switch on", "on power up", "when it is switched", "when we switch", "when i turn", "when you turn", "at switch on")
	later := has(text, "after an hour", "after a while", "after some", "when hot", "once hot", "on heat up", "heat-up", "minutes", "hours", "sometimes", "now and then", "randomly", "intermittent")
	rcd := has(text, "gfci", "rcd", "residual", "ground fault", "elcb", "rcbo")
	dead := isDeadUnit(text) || has(text, "no heat", "doesn't heat", "doesnt heat", "does not heat", "not heating", "won't heat", "wont heat", "don't heat", "dont heat", "cold", "isn't heating", "isnt heating",
		"doesn't work", "doesnt work", "does not work", "not working", "don't work", "dont work", "stopped working", "quit working", "lamp out", "lamps out", "light out", "lights out", "bulb out",
		"doesn't light", "doesnt light", "not lighting", "doesn't turn", "doesnt turn", "not turning", "not running", "doesn't run", "doesnt run", "won't run", "wont run", "doesn't spin", "not spinning",
		"is out", "are out", "isn't running", "isnt running", "isn't turning", "isnt turning", "nothing heats", "not lit", "won't light", "wont light", "doesn't come on", "doesnt come on", "stay cold", "isn't working", "isnt working", "does nothing", "stays cold", "no light")
	other := has(text, "too hot", "noise", "noisy", "leaking", "hums", "smells", "error", "too slow", "overheats")
	switch {
	case rcd && (trips || has(text, "only")):
		return residualOnly
	case later && trips:
		return tripsLater
	case trips && at:
		return atOnce
	case trips:
		return tripsUnsaid
	case dead:
		return doesNotWork
	case other:
		return otherwise
	}
	return ""
}

// isDeadUnit says that a text calls the whole unit dead.
func isDeadUnit(text string) bool {
	switch text {
	case "dead", "its dead", "it's dead", "it is dead":
		return true
	}
	return has(text, "dead", "nothing works", "nothing happens", "nothing comes on", "won't turn on", "wont turn on", "doesn't turn on", "doesnt turn on", "no power", "won't start", "wont start",
		"doesn't start", "doesnt start", "won't come on", "wont come on", "completely dead", "no lights", "nothing at all")
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
	complaint := s.j.Tell("complaint")
	switch {
	case s.j.Opened == nil && s.j.Tell("skeleton") != "":
		s.askSkeleton()
	case s.j.Opened == nil:
		s.askUnit()
	case complaint == "" || complaint == tripsUnsaid:
		s.ask(Prompt{Ask: "ask_complaint", Choices: []Choice{
			{Word: "at once", Value: "at once"}, {Word: "does not work", Value: doesNotWork}, {Word: "later", Value: "later"},
			{Word: "residual", Value: "residual"}, {Word: "other", Value: "other"}}}, nil)
	case refused(complaint):
		s.askOther()
	case complaint == doesNotWork && s.j.Tell("dead loads") == "":
		s.askDead()
	case complaint == doesNotWork && s.allDead() && s.j.Tell("looks") == "":
		s.askLooks()
	case complaint == atOnce && s.j.Tell("when") == "":
		s.ask(Prompt{Ask: "ask_when", Choices: []Choice{
			{Word: "breaker", Value: "breaker"}, {Word: "switch", Value: "switch"}, {Word: "not known", Value: "not known"}}}, nil)
	case s.j.Tell("history") == "" && (s.j.Tell("resets") == "" || complaint == doesNotWork):
		s.ask(Prompt{Ask: "ask_tried"}, nil)
	case s.j.Tell("history") == "":
		s.ask(Prompt{Ask: "ask_history"}, nil)
	case s.j.Tell("resets") == "" && complaint == atOnce:
		s.ask(Prompt{Ask: "ask_resets"}, nil)
	default:
		if complaint == atOnce {
			s.say("intake.no_resets")
		}
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
	code := Code("intake.other")
	switch s.j.Tell("complaint") {
	case tripsLater:
		code = "intake.later"
	case residualOnly:
		code = "intake.residual"
	}
	s.say(code)
	s.ask(Prompt{Ask: "ask_hand_over", Reason: &Phrase{Code: code}, Choices: []Choice{{Word: "hand over", Value: "hand over"},
		{Word: "it trips at once", Value: "it trips at once"}, {Word: "it does not work", Value: "it does not work"}}}, nil)
}

// answerIntake takes whatever of the intake a text holds: the answer to what is open,
// and answers to what was or will be asked.
func (s *step) answerIntake(text string) {
	asked := Code("")
	if s.j.Asked != nil {
		asked = s.j.Asked.Ask
	}
	first := s.j.Asked == nil && s.j.Before == nil
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
		s.answerWhen(text)
	case "ask_dead":
		s.answerDead(text)
	case "ask_looks":
		if s.answerLooks(text) {
			return
		}
	case "ask_tried", "ask_resets", "ask_history":
		s.answerTried(text, asked)
	}
	if s.j.Opened == nil && s.j.Tell("skeleton") == "" {
		if e, ok := s.d.unitByWords(text); ok {
			s.open(e)
		}
	}
	if s.err != nil {
		return
	}
	if s.was.Opened == nil && s.j.Opened != nil {
		s.say("intake.unit", "unit", s.unit().Name, "supply", supplyName(s.unit()))
		if s.unit().Partial {
			s.say("intake.partial")
		}
	}
	s.gather(text, asked)
	if s.j.Tell("reported") == "" && s.in.Text != "" && (asked == "" && asideOf(text) == noAside || complaintIn(text) != "") {
		s.tell("reported", strings.TrimSpace(s.in.Text))
	}
	nothing := s.knownOfIntake() == knew
	if nothing && asked != "" {
		s.unknown()
		return
	}
	if nothing && first {
		s.say("intake.hello")
	}
	s.askIntake()
}

// gather takes what a text tells of complaint, moment, history and loads, whatever was
// asked.
func (s *step) gather(text string, asked Code) {
	free := false // the text may be about anything
	switch asked {
	case "", "ask_unit", "ask_when":
		free = true
	}
	if c := s.j.Tell("complaint"); free && (c == "" || c == tripsUnsaid) {
		if c := complaintIn(text); c != "" && c != s.j.Tell("complaint") {
			s.tell("complaint", c)
		}
	}
	complaint := s.j.Tell("complaint")
	if s.j.Tell("when") == "" && !refused(complaint) && complaint != doesNotWork {
		for _, c := range clauses(text) {
			if w := whenIn(c); w != "" && !aboutResets(c) {
				s.tell("when", w)
				break
			}
		}
	}
	switch asked {
	case "", "ask_unit", "ask_complaint", "ask_when", "ask_dead":
		s.gatherHistory(text)
	}
	if complaint == doesNotWork && s.b != nil {
		s.gatherLoads(text, asked)
	}
}

// knownOfIntake is what is known, to tell an answer from a text that was none.
func (s *step) knownOfIntake() string {
	var all strings.Builder
	for _, what := range []string{"complaint", "when", "history", "resets", "skeleton", "plate", "switching", "loads", "load wires", "dead loads", "working loads", "looks", "guess"} {
		all.WriteString(s.j.Tell(what))
		all.WriteByte('|')
	}
	if s.j.Opened != nil {
		all.WriteString("opened")
	}
	return all.String()
}

// answerWhen takes at which act it goes. Clauses about resets do not count.
func (s *step) answerWhen(text string) {
	var rest []string
	for _, c := range clauses(text) {
		if !aboutResets(c) && !(has(c, pastWords...) && whenIn(c) == "") {
			rest = append(rest, c)
		}
	}
	text = strings.Join(rest, ", ")
	switch {
	case whenIn(text) != "":
		s.tell("when", whenIn(text))
	case has(text, "breaker", "disconnect", "plug"):
		s.tell("when", "breaker")
	case has(text, "switch"):
		s.tell("when", "switch")
	case has(text, "not known", "unknown", "both", "can't say", "no", "not sure", "unsure", "no idea", "don't know", "dont know", "dunno"):
		s.tell("when", "not known")
	}
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
	c := complaintIn(text)
	switch {
	case has(text, "at once", "immediately", "instantly", "straight away", "right away", "every time") || c == atOnce:
		s.tell("complaint", atOnce)
	case c == residualOnly || has(text, "residual", "gfci", "rcd", "elcb"):
		s.tell("complaint", residualOnly)
	case c == tripsLater || has(text, "later", "heat-up", "hour", "hot", "sometimes"):
		s.tell("complaint", tripsLater)
	case c == doesNotWork:
		s.tell("complaint", doesNotWork)
	case c == otherwise || has(text, "other", "something else"):
		s.tell("complaint", otherwise)
	}
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
