package flows

import (
	"strings"

	"halfsplit/flows/safety"
)

// Step computes what one input brings. It reads j and changes nothing: the events of
// the Result, applied to j, give the job after it. It uses no clock and no chance:
// the same job and input give the same Result. An error means that the message could
// not be worked on; nothing of it then counts.
func (d *Dialog) Step(j Job, in Input) (Result, error) {
	if j.State == "" {
		j.State = Intake
	}
	s := &step{d: d, in: in, was: j, j: j}
	b, err := d.bench(j)
	if err != nil {
		return Result{}, err
	}
	s.b = b
	s.take()
	s.flush()
	if s.err != nil {
		return Result{}, s.err
	}
	s.out.Figure = s.figure()
	return s.out, nil
}

// take decides what an input is, in this order: a timer, a word of danger, a choice,
// a photo, an interruption, an answer.
func (s *step) take() {
	text := plain(s.in.Text)
	switch {
	case s.in.Timer != "":
		s.timed()
		return
	case s.j.State == Done || s.j.State == HandedOver:
		s.ended()
		return
	}
	if s.in.Choice == "" && s.danger(text) {
		return
	}
	if !s.answers() {
		s.keepNote()
		s.say("say.watching")
		return
	}
	s.timer("nudge", nudgeAfter)
	if s.otherHands() {
		return
	}
	if s.in.Choice != "" {
		s.choice()
		return
	}
	if s.in.Photo != "" {
		s.emit(Noted{Text: strings.TrimSpace(s.in.Text), Blob: s.in.Photo})
		s.say("say.photo_kept")
		if text == "" {
			s.pose()
			return
		}
	}
	switch s.j.State {
	case Stopped, FalseAlarm, StoppedGrave, AskDanger, Paused:
		s.answerAside(text)
		return
	}
	a := asideOf(text)
	if s.onlyGreets(a, text) {
		s.say("intake.hello")
		s.goOn()
		return
	}
	if s.insists(text) {
		return
	}
	if a != noAside && !s.expects(a, text) {
		s.aside(a, text)
		return
	}
	if s.remote() {
		s.keepNote()
		s.say("say.at_the_unit")
		return
	}
	if s.late() {
		s.confirmLate()
		return
	}
	if s.reported(text) {
		return
	}
	s.answer(text)
}

// answers reports whether the person may answer in this job.
func (s *step) answers() bool {
	for _, r := range s.in.Rights.Roles {
		if r == Tech || r == Senior {
			return true
		}
	}
	return false
}

// remote reports whether the message is from a senior who is not the one at the unit:
// he reads along and advises, but has seen and measured nothing himself.
func (s *step) remote() bool {
	return s.isSenior() && s.j.Lead != "" && s.in.By != s.j.Lead
}

// otherHands notices that another technician works on the unit now (safety rule 5: own
// lock, own proof). It reports whether that was said.
func (s *step) otherHands() bool {
	if s.isSenior() || s.j.Lead == "" || s.in.By == s.j.Lead || s.in.By == "" {
		return false
	}
	s.keepNote()
	s.emit(Led{Who: s.in.By, Mode: "at the unit"})
	if s.may(OnPersonChanged) {
		s.move(OnPersonChanged)
	}
	s.say("say.other_hands")
	s.goOn()
	return true
}

func (s *step) isSenior() bool {
	for _, r := range s.in.Rights.Roles {
		if r == Senior {
			return true
		}
	}
	return false
}

// late reports whether a typed text was sent before the open prompt was posted: it
// cannot be an answer to what its sender had not seen.
func (s *step) late() bool {
	if s.j.Asked == nil || s.in.SentAt == 0 || s.j.Asked.Pending != "" {
		return false
	}
	return s.in.Posted == 0 || s.in.SentAt < s.in.Posted
}

// touchesSafety says that answers to a prompt set facts of safety.
func touchesSafety(p Prompt) bool {
	switch p.Ask {
	case "ask_unit", "ask_complaint", "ask_when", "ask_dead", "ask_looks", "ask_tried", "ask_resets", "ask_history", "ask_who",
		"ask_plate", "ask_switching", "ask_loads", "ask_load_wires", "ask_reading", "ask_confirm", "ask_lift_neutral",
		"ask_explains", "ask_hand_over", "ask_leave", "ask_look", "ask_resume", "ask_mended":
		return false
	}
	return true
}

// confirmLate asks about a text that was sent before the open prompt was posted. A
// safety fact is never set that way: there it has to be given again.
func (s *step) confirmLate() {
	p := *s.j.Asked
	if touchesSafety(p) {
		s.keepNote()
		s.say("late.again", "text", quoted(s.in.Text))
		s.pose()
		return
	}
	p.Pending = strings.TrimSpace(s.in.Text)
	p.Choices = yesOrNo()
	s.ask(p, nil)
}

// answerPending takes the answer to "was that meant for this?". It reports whether
// the text was that.
func (s *step) answerPending(text string) bool {
	p := *s.j.Asked
	if p.Pending == "" {
		return false
	}
	yes, known := yesNo(text)
	held := p.Pending
	p.Pending = ""
	p.Choices = nil
	if b := s.j.Before; b != nil && b.Ask == p.Ask && b.Pending == "" {
		p.Choices = b.Choices
	}
	switch {
	case known && yes:
		s.in.Text = held
		s.answerAs(p, plain(held))
	case known:
		s.ask(p, nil)
	default:
		s.answerAs(p, text)
	}
	return true
}

// answerAs works on a text as the answer to p, which is the open prompt without the
// question that was put before it.
func (s *step) answerAs(p Prompt, text string) {
	p.ID = s.j.Seq + 1
	p.At = max(s.in.At, s.j.Last)
	if s.emit(Asked{Prompt: p}) {
		s.answer(text)
	}
}

func yesOrNo() []Choice {
	return []Choice{{Word: "yes", Value: "yes"}, {Word: "no", Value: "no"}}
}

// choice takes a tapped answer. One for another prompt than the open one changes
// nothing.
func (s *step) choice() {
	if s.remote() {
		switch s.j.State {
		case Stopped, FalseAlarm, StoppedGrave:
		default:
			s.say("say.at_the_unit")
			return
		}
	}
	if s.j.Asked == nil || s.in.Prompt != s.j.Asked.ID {
		s.say("say.closed")
		s.repose()
		return
	}
	for _, c := range s.j.Asked.Choices {
		if c.Value == s.in.Choice || c.Word == s.in.Choice {
			if aside, ok := strings.CutPrefix(c.Value, "say:"); ok {
				s.in.Text = aside
				s.aside(asideOf(plain(aside)), plain(aside))
				return
			}
			s.in.Text = c.Value
			switch s.j.State {
			case Stopped, FalseAlarm, StoppedGrave, AskDanger, Paused:
				s.answerAside(plain(c.Value))
			default:
				s.answer(plain(c.Value))
			}
			return
		}
	}
	s.say("say.closed")
	s.repose()
}

// onlyGreets says that the first message of a job names neither unit nor complaint.
func (s *step) onlyGreets(a aside, text string) bool {
	if s.j.State != Intake || s.j.Asked != nil || s.j.Before != nil || a == noAside || a == sayNote || a == sayPhoto || a == sayTripped {
		return false
	}
	_, named := s.d.unitByWords(text)
	return !named && complaintIn(text) == ""
}

// repose says what of the open prompt is still wanted; if there is none, it asks what
// comes next.
func (s *step) repose() {
	if s.j.Asked == nil {
		s.goOn()
		return
	}
	s.remind()
}

// answer works on a text that is an answer to what is open.
func (s *step) answer(text string) {
	if s.j.Asked != nil && s.answerPending(text) {
		return
	}
	if s.j.Asked != nil {
		switch s.j.Asked.Ask {
		case "ask_hand_over":
			s.answerHandOver(text)
			return
		case "ask_leave":
			s.answerLeave(text)
			return
		}
	}
	switch s.j.State {
	case Intake:
		s.answerIntake(text)
	case LookOnly:
		s.answerLook(text)
	case MakeSafe:
		s.answerCard(text)
	case Prove:
		s.answerProof(text)
	case CheckNeutral:
		s.answerNeutral(text)
	case OpenHere, ProveHere:
		s.answerHere(text)
	case Isolate, Confirm:
		s.answerReading(text)
	case Verdict:
		s.answerVerdict(text)
	case Repair:
		s.answerRepair(text)
	case Land:
		s.answerLand(text)
	case Permit:
		s.answerPermit(text)
	case CloseUp:
		s.answerCloseUp(text)
	case SwitchOn:
		s.answerSwitchOn(text)
	case Verify:
		s.answerVerify(text)
	case LeaveSafe:
		s.answerLeaving(text)
	default:
		s.unknown()
	}
}

// goOn asks what comes next in the state the job is in.
func (s *step) goOn() {
	if s.err != nil {
		return
	}
	switch s.j.State {
	case Intake:
		s.askIntake()
	case LookOnly:
		s.askLook()
	case MakeSafe:
		s.askCard()
	case Prove:
		s.askProof()
	case CheckNeutral:
		s.askNeutral()
	case OpenHere, ProveHere:
		s.askHere()
	case Isolate, Confirm:
		s.askNext()
	case Verdict:
		s.askVerdict()
	case Repair:
		s.askRepair()
	case Land:
		s.askLand()
	case Permit:
		s.askPermit()
	case CloseUp:
		s.askCloseUp()
	case SwitchOn:
		s.askSwitchOn()
	case Verify:
		s.askVerify()
	case LeaveSafe:
		s.askLeaving()
	case Paused:
		s.ask(Prompt{Ask: "ask_resume", Choices: []Choice{{Word: "resume", Value: "resume"}}}, nil)
	case AskDanger:
		s.ask(Prompt{Ask: "ask_now", Choices: nowOrDescribing()}, nil)
	case Stopped:
		s.ask(Prompt{Ask: "ask_false_alarm", Choices: []Choice{{Word: "false alarm", Value: "false alarm"}}}, nil)
	case FalseAlarm:
		s.ask(Prompt{Ask: "ask_false_alarm_sure", Choices: []Choice{{Word: "sure", Value: "sure"}, {Word: "not sure", Value: "not sure"}}}, nil)
	case StoppedGrave:
		s.say("stop.grave_stays")
	}
}

// unknown answers a text that fits nothing: it is kept, nothing changes, and what is
// expected is said.
func (s *step) unknown() {
	s.keepNote()
	s.say("say.not_understood")
	s.repose()
}

// keepNote keeps what was typed, so that nothing is lost.
func (s *step) keepNote() {
	if t := strings.TrimSpace(s.in.Text); t != "" && s.in.Photo == "" {
		s.emit(Noted{Text: t})
	}
}

// lacking says which facts are missing before the next step and goes back for them.
func (s *step) lacking(lack safety.Facts) {
	s.say("say.lacking", "facts", factsNamed(lack))
}

func quoted(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if r := []rune(text); len(r) > 60 {
		text = string(r[:60]) + "…"
	}
	return "“" + text + "”"
}
