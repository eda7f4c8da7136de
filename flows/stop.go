package flows

import (
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/safety"
)

// danger stops the job on words of danger, or asks whether they describe. It reports
// whether the message was that. While an answer about danger is open, a text with the
// same words is taken as that answer.
func (s *step) danger(text string) bool {
	kind, sure := safety.Danger(s.in.Text)
	if kind == safety.NoDanger || sure == safety.Unsaid {
		if s.isStop(text) && s.may(OnStop) {
			s.move(OnStop)
			s.notice("stop")
			s.goOn()
			return true
		}
		return false
	}
	if s.j.Closed != nil {
		return false
	}
	s.keepNote()
	if sure == safety.Maybe {
		switch s.j.State {
		case Stopped, FalseAlarm, StoppedGrave, AskDanger:
			return false
		}
		if kind.Stops() && s.move(OnDangerMaybe) {
			s.tell("danger", kind.String())
			s.goOn()
			return true
		}
		return false
	}
	s.dangerNow(kind)
	return true
}

func (s *step) isStop(text string) bool {
	return exactly(text) == sayStop || safety.Stop(s.in.Text)
}

// dangerNow is for a danger that is there.
func (s *step) dangerNow(kind safety.Kind) {
	s.tell("danger", kind.String())
	s.timer("silence", 0)
	switch {
	case kind == safety.Spark:
		if s.move(OnSpark) {
			s.say("danger.spark")
			s.goOn()
		}
		return
	case kind == safety.Tingle:
		if s.move(OnTingle) {
			s.say("danger.tingle")
			s.goOn()
		}
		return
	case kind.Grave():
		s.move(OnStopGrave)
	default:
		s.move(OnStop)
	}
	switch kind {
	case safety.Shock, safety.Injury:
		s.notice("stop_shock")
	case safety.Gas:
		s.notice("stop_gas")
	case safety.Fire:
		s.notice("stop_fire")
	case safety.Flood:
		s.notice("stop_water")
	default:
		s.notice("stop_arc")
	}
	s.goOn()
}

// notice says a text of the safety table.
func (s *step) notice(code string) {
	if n, ok := safety.NoticeOf(code); ok {
		s.say("say.notice", "text", n.Text)
	}
}

func nowOrDescribing() []Choice {
	return []Choice{{Word: "now", Value: "now"}, {Word: "describing", Value: "describing"}}
}

// answerAside takes what is said while the job is stopped, asked about danger, or
// paused. It is left only by a decision.
func (s *step) answerAside(text string) {
	if a := asideOf(text); a == sayNote {
		s.aside(a, text)
		return
	}
	switch s.j.State {
	case AskDanger:
		s.answerDanger(text)
	case Paused:
		if a := asideOf(text); a == sayStop || a == saySenior {
			s.aside(a, text)
			return
		}
		s.resume(text)
	case Stopped:
		switch {
		case has(text, "false alarm"):
			if s.move(OnFalseAlarm1) {
				s.goOn()
			}
		case s.isSenior() && has(text, "clear", "all clear", "go on"):
			s.seniorClears()
		case has(text, "hand over", "senior", "end"):
			s.endStopped()
		default:
			s.keepNote()
			s.say("stop.stays")
			s.goOn()
		}
	case FalseAlarm:
		switch {
		case text == "sure" || text == "i am sure" || text == "i'm sure" || text == "im sure":
			if s.move(OnFalseAlarm2) {
				s.say("stop.cleared")
				s.afterStop()
			}
		default:
			s.keepNote()
			if s.move(OnNotSure) {
				s.say("stop.stays")
				s.goOn()
			}
		}
	case StoppedGrave:
		switch {
		case s.isSenior() && has(text, "clear", "all clear", "go on"):
			s.seniorClears()
		case has(text, "hand over", "end"):
			s.endStopped()
		default:
			s.keepNote()
			s.say("stop.grave_stays")
		}
	}
}

func (s *step) seniorClears() {
	if s.move(OnSeniorClears) {
		s.say("stop.cleared")
		s.afterStop()
	}
}

// afterStop goes on after a stop. The unit may not be known yet.
func (s *step) afterStop() {
	if s.b == nil {
		s.endWithoutUnit()
		return
	}
	s.goOn()
}

// endWithoutUnit hands over a job that was stopped before its unit was known: the card
// that makes safe has nothing to list.
func (s *step) endWithoutUnit() {
	if s.move(OnHandOver) {
		s.emit(Closed{Outcome: "handed over"})
		s.say("stop.start_again")
	}
}

func (s *step) endStopped() {
	if !s.move(OnEndStopped) {
		s.say("stop.stays")
		return
	}
	var off []circuit.EndID
	if s.b != nil {
		off = endsOf(s.j.Circuit.Lifted)
	}
	s.emit(Closed{Outcome: "stopped: " + s.j.Tell("danger"), Off: off})
	s.say("handover.done")
	s.said = append(s.said, s.briefPhrases()...)
}

func (s *step) answerDanger(text string) {
	switch {
	case text == "now" || has(text, "now", "right now", "it is now", "happening"):
		kind := safety.Arc
		for k := safety.Spark; k <= safety.Injury; k++ {
			if k.String() == s.j.Tell("danger") {
				kind = k
			}
		}
		s.dangerNow(kind)
	case text == "describing" || has(text, "describing", "describe", "earlier", "yesterday", "before", "just saying", "not now"):
		s.say("danger.described")
		s.back()
	default:
		s.keepNote()
		s.goOn()
	}
}

// back returns from an interruption to where the job was, or where its facts let it.
func (s *step) back() {
	to := s.j.Return
	if to == "" {
		to = MakeSafe
	}
	if s.may(Back(to)) && s.move(Back(to)) {
		s.goOn()
		return
	}
	switch {
	case s.j.Facts.Has(safety.ToCover) && s.may(Back(Prove)):
		s.move(Back(Prove))
	case s.b != nil:
		s.move(Back(MakeSafe))
	default:
		s.move(Back(Intake))
	}
	s.say("say.lacking", "facts", factsNamed(safety.AtWork&^s.j.Facts))
	s.goOn()
}

// resume ends a pause.
func (s *step) resume(text string) {
	if has(text, "left the site", "away", "went out", "was outside", "lock was off", "someone else") {
		s.keepNote()
		s.move(OnAway)
	}
	if s.old() {
		s.move(OnProofOld)
		s.say("prove.old")
	}
	s.say("pause.end")
	s.back()
}

// old reports whether the proof of dead is past its age: nothing was answered for half
// an hour.
func (s *step) old() bool {
	return s.j.Asked != nil && s.j.Facts.Has(safety.ProvedDead) && s.in.At-s.j.Asked.At > proofAge
}

// timed works on a timer that fired.
func (s *step) timed() {
	if s.j.Closed != nil {
		return
	}
	switch s.in.Timer {
	case "proof_old":
		if !s.j.Facts.Has(safety.ProvedDead) {
			return
		}
		if s.j.Asked != nil && s.in.At-s.j.Asked.At < proofAge {
			s.timer("proof_old", proofAge-(s.in.At-s.j.Asked.At))
			return
		}
		if s.move(OnProofOld) {
			s.say("prove.old")
			s.goOn()
		}
	case "nudge":
		if s.j.Asked == nil || s.j.State == Paused {
			return
		}
		s.say("say.nudge")
		s.pose()
	case "silence":
		if s.j.State == SwitchOn {
			s.say("switch.silence")
			s.pose()
		}
	case "offer_senior":
		switch s.j.State {
		case Isolate, Confirm, Prove, CheckNeutral, ProveHere, OpenHere, MakeSafe:
			s.mention("minutes", "offer.minutes")
			s.repose()
		}
	}
}

// ended answers a message to a closed job.
func (s *step) ended() {
	if t := strings.TrimSpace(s.in.Text); t != "" {
		s.emit(Noted{Text: t})
	}
	if kind, sure := safety.Danger(s.in.Text); sure == safety.Now && kind.Stops() {
		switch kind {
		case safety.Gas:
			s.notice("stop_gas")
		case safety.Fire:
			s.notice("stop_fire")
		default:
			s.notice("stop_shock")
		}
		return
	}
	s.say("say.ended")
}
