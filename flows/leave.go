package flows

import (
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/safety"
)

// offer says why the job should go to a senior and asks for the decision. The
// readings go on if the tech wants and a way is left.
func (s *step) offer(code Code, kv ...string) {
	reason := phrase(code, kv...)
	// Going on from an offer may lead back to it: then there is no other way on.
	last := s.was.Asked
	still := last != nil && last.Ask == "ask_hand_over" && last.Reason != nil && last.Reason.Code == code
	if still {
		s.say("offer.still")
	} else {
		s.say(code, kv...)
	}
	p := Prompt{Ask: "ask_hand_over", Choices: []Choice{{Word: "hand over", Value: "hand over"}}, Reason: &Phrase{Code: reason.Code, Args: reason.Args}}
	if s.mayLeave() {
		p.Choices = append(p.Choices, Choice{Word: "leave safe", Value: "leave safe"})
	}
	if s.j.State != LookOnly && !still {
		p.Choices = append(p.Choices, Choice{Word: "go on", Value: "go on"})
	}
	s.ask(p, nil)
}

func (s *step) mayLeave() bool {
	o, err := Fire(s.j.State, s.j.Facts, OnLeave)
	return err == nil && o.Lack == 0
}

// answerHandOver takes the decision that was offered.
func (s *step) answerHandOver(text string) {
	switch {
	case has(text, "it trips at once", "trips at once", "at once") && s.j.State == Intake:
		s.tell("complaint", atOnce)
		s.goOn()
	case s.j.State == Intake && complaintIn(text) == doesNotWork:
		s.tell("complaint", doesNotWork)
		s.goOn()
	case has(text, "hand over", "senior", "handover", "yes", "y", "stuck", "give up"):
		s.handOver()
	case has(text, "leave safe", "leave it", "leave", "out of service", "no part"):
		s.leave()
	case has(text, "go on", "continue", "carry on", "no", "keep going", "not yet", "again", "next"):
		s.emitClosedOffer()
		s.goOn()
	case s.j.Facts.Has(safety.AtWork) && (s.j.State == Isolate || s.j.State == Confirm) && s.volunteered():
	default:
		s.unknown()
	}
}

// emitClosedOffer records that the tech goes on after an offer.
func (s *step) emitClosedOffer() { s.tell("went on", strings.TrimSpace(s.in.Text)) }

// leave goes to making the unit safe to leave.
func (s *step) leave() {
	if s.move(OnLeave) {
		s.say("leave.begin")
		s.goOn()
		return
	}
	s.say("say.lacking", "facts", factsNamed(safety.ProvedDead&^s.j.Facts))
	s.repose()
}

// handOver gives the brief and ends the job for this person: a senior leads from here.
func (s *step) handOver() {
	if !s.move(OnHandOver) {
		s.say("stop.stays")
		return
	}
	s.emit(Closed{Outcome: "handed over", Off: endsOf(s.j.Circuit.Lifted)})
	for _, name := range []string{"proof_old", "nudge", "offer_senior", "silence"} {
		s.timer(name, 0)
	}
	if s.b != nil {
		if off := offNow(s.unit(), s.j.Circuit); off != "" {
			s.say("handover.make_safe", "off", off)
		}
		if s.j.Facts.Has(safety.Locked) {
			s.say("handover.locked")
		} else {
			s.say("handover.not_locked")
		}
	} else {
		s.say("handover.not_locked")
	}
	s.say("handover.done")
	s.said = append(s.said, s.briefPhrases()...)
}

// askLeaving asks for the ticks before the unit is left out of service.
func (s *step) askLeaving() {
	ends := endsOf(s.j.Circuit.Lifted)
	if !s.j.Facts.Has(safety.EndsSafe) && len(ends) == 0 && s.j.Circuit.Off.Len() == 0 {
		s.move(OnNothingOff)
	}
	if !s.j.Facts.Has(safety.EndsSafe) && !s.j.Facts.Has(safety.AtWork) ||
		s.j.Facts.Has(safety.EndsSafe) && !s.j.Facts.Has(safety.Isolated|safety.Locked) {
		s.say("leave.make_safe_first")
		s.tell("leaving", "yes")
		if s.move(OnMakeSafeFirst) {
			s.goOn()
			return
		}
	}
	if s.j.Facts.Has(safety.EndsSafe | safety.ToolsOff | safety.CoversOn | safety.SiteLocked) {
		if s.move(OnLeftSafe) {
			s.close("left out of service", endsOf(s.j.Circuit.Lifted))
			return
		}
	}
	open := openTicks(leaveTicks(), s.j.Facts)
	p := Prompt{Ask: "ask_ends_safe", Fields: tickFields(open), Choices: tickChoices(open)}
	if len(open) > 0 {
		switch open[0].Name {
		case "tools":
			p.Ask = "ask_leave_tools"
		case "covers":
			p.Ask = "ask_leave_covers"
		case "site":
			p.Ask = "ask_site_lock"
		}
	}
	if p.Ask == "ask_ends_safe" {
		for _, e := range ends {
			p.Fields = append(p.Fields, "capped:"+strconv.Itoa(int(e)))
		}
	}
	s.ask(p, nil)
}

// answerLeaving takes the ticks. With ends off, each is named: "capped 14, 9".
func (s *step) answerLeaving(text string) {
	list := leaveTicks()
	t := readTicks(text, list)
	if s.cardRefused(t) {
		return
	}
	ends := endsOf(s.j.Circuit.Lifted)
	if !s.j.Facts.Has(safety.EndsSafe) && len(ends) > 0 {
		named, strange := s.endsIn(t.rest, ends)
		if strange {
			s.keepNote()
			s.say("leave.each", "ends", endsNamed(s.unit(), ends))
			s.pose()
			return
		}
		if len(named) > 0 {
			done := s.j.Tell("capped")
			for _, e := range named {
				done = also(done, strconv.Itoa(int(e)))
			}
			s.tell("capped", done)
		}
		left := slices.DeleteFunc(slices.Clone(ends), func(e circuit.EndID) bool { return slices.Contains(s.j.Capped, e) })
		if len(left) > 0 {
			if len(named) == 0 && len(t.names) == 0 {
				s.unknown()
				return
			}
			s.say("leave.each", "ends", endsNamed(s.unit(), left))
			s.pose()
			return
		}
		s.move(OnEndsSafe)
		t.names = slices.DeleteFunc(t.names, func(n string) bool { return n == "ends" })
	} else if len(t.names) == 0 {
		s.unknown()
		return
	}
	if waits := s.tickClosing(t.names, list); len(waits) > 0 {
		s.say("safe.order", "waits", strings.Join(waits, ", "))
	}
	s.goOn()
}

func (s *step) answerLeave(text string) { s.answerHandOver(text) }
