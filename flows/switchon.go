package flows

import (
	"slices"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// askCloseUp asks for the ticks that are missing, one question of the table at a time
// in its order, then for the decision of the person on site.
func (s *step) askCloseUp() {
	open := openTicks(closeTicks(), s.j.Facts)
	if len(open) == 0 {
		s.ask(Prompt{Ask: "ask_site", Choices: yesOrNo()}, nil)
		return
	}
	p := Prompt{Ask: closeAsk(open[0]), Fields: tickFields(open), Choices: tickChoices(open)}
	s.ask(p, nil)
}

func closeAsk(t Tick) Code {
	switch t.Name {
	case "tools":
		return "ask_tools"
	case "covers":
		return "ask_covers"
	case "people":
		return "ask_people"
	case "lock":
		return "ask_lock"
	}
	return "ask_looks_right"
}

func (s *step) answerCloseUp(text string) {
	if s.j.Asked != nil && s.j.Asked.Ask == "ask_site" {
		yes, known := yesNo(text)
		switch {
		case known && yes, has(text, "i decide", "switch on", "go"):
			if s.move(OnSiteDecides) {
				s.goOn()
				return
			}
			s.say("close.not_yet", "facts", factsNamed(lackingNow(s.j)&^safety.SiteDecides))
			s.goOn()
		case known:
			s.offer("close.decided_not")
		default:
			s.unknown()
		}
		return
	}
	list := closeTicks()
	t := readTicks(text, list)
	if s.cardRefused(t) {
		return
	}
	if len(t.names) == 0 {
		s.unknown()
		return
	}
	waits := s.tickClosing(t.names, list)
	if len(waits) > 0 {
		s.say("safe.order", "waits", strings.Join(waits, ", "))
	}
	s.goOn()
}

// tickClosing sets the facts of closing in order; covers that go on are recorded.
func (s *step) tickClosing(names []string, list []Tick) (waits []string) {
	for _, t := range list {
		if !slices.Contains(names, t.Name) || s.j.Facts.Has(t.Sets) {
			continue
		}
		if !s.may(t.On) {
			waits = append(waits, t.Letter)
			continue
		}
		if t.On == OnCoversOn {
			for _, c := range s.j.Circuit.Off.Each() {
				s.emit(Did{Act: isolate.Act{Kind: isolate.CloseCover, Cover: c, End: circuit.None, Part: circuit.None, To: circuit.None}})
			}
		}
		s.move(t.On)
	}
	return waits
}

// The steps of switching on, in the order of safety rule 7.
const (
	stepBreaker = "breaker"
	stepUnit    = "unit"
)

func (s *step) askSwitchOn() {
	at := stepBreaker
	if s.j.Tell("switch step") == stepUnit {
		at = stepUnit
	}
	s.timer("silence", silence)
	s.ask(Prompt{Ask: "ask_switch_on", Fields: []string{at}, Choices: []Choice{
		{Word: "held", Value: "held"}, {Word: "tripped", Value: "tripped"}, {Word: "not now", Value: "not now"}}}, nil)
}

func (s *step) answerSwitchOn(text string) {
	at := stepBreaker
	if s.j.Asked != nil && len(s.j.Asked.Fields) == 1 {
		at = s.j.Asked.Fields[0]
	}
	switch {
	case has(text, "not now", "wait", "no"):
		s.timer("silence", 0)
		s.tell("switch step", "")
		s.move(OnNotNow)
		s.say("switch.not_now")
		s.goOn()
	case has(text, "tripped", "trips", "it tripped", "popped", "went", "blew"):
		s.timer("silence", 0)
		s.tell("switch step", "")
		s.tell("permit from", "")
		s.tell("tripped after repair", "yes")
		s.nowTrips(at)
		s.move(OnTripped)
		s.say("switch.tripped")
		s.goOn()
	case has(text, "held", "holds", "holding", "stays on", "it's on", "its on", "ok", "fine") && !denied(text):
		s.timer("silence", 0)
		if at == stepBreaker {
			s.tell("switch step", stepUnit)
			s.move(OnStepHeld)
			s.goOn()
			return
		}
		s.tell("switch step", "")
		if s.move(OnHeld) {
			s.goOn()
			return
		}
		s.goBack()
	default:
		s.unknown()
	}
}

// askVerify asks whether the unit does its work, and for amps per leg if a clamp is at
// hand.
func (s *step) askVerify() {
	p := Prompt{Ask: "ask_works", Choices: yesOrNo()}
	for _, leg := range liveLegs(s.unit()) {
		p.Fields = append(p.Fields, "amps:"+leg)
	}
	s.ask(p, nil)
}

func liveLegs(u *circuit.Unit) []string {
	var legs []string
	for _, src := range u.Sources {
		for _, l := range src.Legs {
			if strings.HasPrefix(l, "L") && !slices.Contains(legs, l) {
				legs = append(legs, l)
			}
		}
	}
	return legs
}

func (s *step) answerVerify(text string) {
	if strings.ContainsAny(text, "0123456789") && s.j.Asked != nil {
		got, doubt := readFields(amountsOnly(text), s.j.Asked.Fields)
		if doubt == nil && len(got) > 0 {
			var list []string
			for _, g := range got {
				if g.reading.Class == quantity.Value {
					s.tell(g.field, g.reading.String())
					list = append(list, fieldName(g.field)+" "+g.reading.String())
				}
			}
			s.say("verify.amps", "amps", strings.Join(list, ", "))
			s.compareAmps(got)
		}
	}
	yes, known := yesNo(firstWord(text))
	switch {
	case has(text, "tripped", "popped"):
		s.tell("permit from", "")
		s.nowTrips("")
		s.move(OnTripped)
		s.say("switch.tripped")
		s.goOn()
	case known && !yes, has(text, "doesn't heat", "doesnt heat", "cold", "not heating", "doesn't work", "doesnt work", "not working"):
		s.keepNote()
		s.tell("works", "no")
		s.tell("permit from", "")
		s.nowDead(text)
		s.move(OnWorksNot)
		s.offer("verify.works_not")
	case known && yes, has(text, "heats", "works", "working", "heating", "warm", "hot", "good", "running"):
		s.tell("works", "yes")
		if s.move(OnWorks) {
			s.close("restored", nil)
			return
		}
		s.goBack()
	case strings.ContainsAny(text, "0123456789") && len(s.said) > 0:
		s.pose()
	default:
		s.unknown()
	}
}

func firstWord(text string) string {
	first, _, _ := strings.Cut(text, " ")
	return strings.Trim(first, ",.;:")
}

// amountsOnly cuts what is said before the first number, unless it names a leg.
func amountsOnly(text string) string {
	if has(text, "l1", "l2", "l3") {
		i := strings.IndexByte(text, 'l')
		for i >= 0 && i+1 < len(text) && (text[i+1] < '1' || text[i+1] > '3') {
			next := strings.IndexByte(text[i+1:], 'l')
			if next < 0 {
				break
			}
			i += 1 + next
		}
		return text[max(i, 0):]
	}
	if i := strings.IndexAny(text, "0123456789"); i >= 0 {
		return text[i:]
	}
	return text
}

// close ends the job with its report.
func (s *step) close(outcome string, off []circuit.EndID) {
	s.emit(Closed{Outcome: outcome, Off: off})
	for _, name := range []string{"proof_old", "nudge", "offer_senior", "silence"} {
		s.timer(name, 0)
	}
	s.say("close.done")
	if s.b != nil {
		s.said = append(s.said, s.reportPhrases()...)
	}
}
