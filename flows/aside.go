package flows

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// expects reports whether what looks like an interruption is an answer to what is
// open: "tripped" while switching on, "not known" to a question of intake.
func (s *step) expects(a aside, text string) bool {
	p := s.j.Asked
	if p == nil {
		return s.j.State == Intake && a != sayStop && a != saySenior && a != sayHelp
	}
	if p.Pending != "" {
		_, known := yesNo(text)
		return known
	}
	for _, c := range p.Choices {
		if text == plain(c.Word) || text == plain(c.Value) {
			return true
		}
	}
	switch p.Ask {
	case "ask_switch_on":
		return a == sayTripped
	case "ask_works":
		return a == sayWorks || a == sayTripped || a == sayOkay && text == "good"
	case "ask_unit", "ask_complaint", "ask_when", "ask_dead", "ask_looks", "ask_tried", "ask_resets", "ask_history", "ask_plate", "ask_switching", "ask_loads", "ask_load_wires":
		switch {
		case a == sayReset && resetsIn(text, false) >= 0 && !has(text, "can i", "could i", "should i", "may i", "shall i", "can we"):
			return true // "reset it twice" tells, it does not ask
		case a == sayOkay && p.Ask == "ask_looks":
			return text == "fine" || text == "good"
		case a == sayStatus && p.Ask == "ask_looks":
			return text != "status"
		}
		switch a {
		case sayWhy, sayWhere, sayRepeat, sayStop, saySenior, sayUndo, sayNote, sayPause, sayStatus, sayOkay, sayBridge, sayHelp, sayReset, sayPicture:
			return false
		case sayUnsure:
			return p.Ask != "ask_unit" && p.Ask != "ask_complaint"
		}
		return true
	case "ask_insulation":
		return a == sayCannot && has(text, "tester", "megger")
	case "ask_mended":
		if a == sayReset && s.resettable() && repairIn(text) == "reset" {
			return true
		}
		return has(text, "part", "spare", "on the van") && a == sayCannot || a == sayUnsure && len(p.Fields) > 0 && p.Fields[0] == "cause"
	case "ask_hand_over":
		return a == saySenior || a == sayResume && (text == "go on" || text == "continue" || text == "carry on") || a == sayRepeat && text == "next"
	case "ask_look":
		return a == sayUnsure || a == sayCannot
	}
	return false
}

// aside answers an interruption. The open prompt stays open.
func (s *step) aside(a aside, text string) {
	if s.remote() {
		switch a {
		case sayWhy, sayWhere, sayPicture, sayRepeat, sayStatus, sayNote, sayStop, sayHelp, sayOkay, sayGreeting:
		default:
			s.keepNote()
			s.say("say.at_the_unit")
			return
		}
	}
	switch a {
	case sayWhy:
		s.why()
	case sayWhere:
		s.where(text)
	case sayPicture:
		s.picture()
	case sayRepeat:
		if s.j.Asked != nil {
			s.pose()
			return
		}
		s.goOn()
	case sayOkay, sayGreeting, sayResume:
		s.repose()
	case sayPropose:
		s.propose(text)
	case sayCannot:
		s.cannotDo(text)
	case sayUnsure:
		s.unsure()
	case sayUndo:
		s.undo()
	case sayNote:
		s.emit(Noted{Text: strings.TrimSpace(s.in.Text)})
		s.say("say.noted")
	case sayPhoto:
		s.say("say.photo_send")
	case sayPause:
		if s.move(OnPause) {
			s.say("pause.begin")
			s.goOn()
			return
		}
		s.repose()
	case sayStatus:
		s.status()
	case saySenior:
		s.offer("offer.asked")
	case sayHelp:
		s.say("say.help")
		s.repose()
	case sayStop:
		if s.move(OnStop) {
			s.say("stop.text")
			s.goOn()
		}
	case sayWorks:
		s.keepNote()
		s.say("say.works_now")
		s.repose()
	case sayTripped:
		s.switchedOnUnasked()
	case sayBridge:
		s.keepNote()
		s.say("say.no_bridge")
		s.repose()
	case sayReset:
		s.say("say.no_reset", "lacking", lackingWords(s.j))
		s.repose()
	case sayOrdered:
		s.keepNote()
		if s.isSenior() {
			s.say("say.senior_words")
		} else {
			s.say("say.boss")
		}
		s.repose()
	case saySame:
		s.same()
	case sayCoil:
		s.coilTrial(text)
	case sayLeads:
		s.leads(text)
	default:
		s.unknown()
	}
}

func lackingWords(j Job) string {
	lack := lackingNow(j) & (safety.Permit | safety.AllLanded)
	if lack == 0 {
		return "the closing card"
	}
	return factsNamed(lack)
}

// why says what a question is for. The sound value is not said before a reading.
func (s *step) why() {
	p := s.j.Asked
	if p == nil {
		s.goOn()
		return
	}
	switch p.Ask {
	case "ask_reading", "ask_lift_neutral", "ask_confirm":
		left := ""
		if s.j.Judged != nil && s.b != nil {
			left = leftText(s.unit(), s.j.Judged.Left, "or", 4)
		}
		switch {
		case p.Repeat != 0:
			s.say("why.repeat")
		case p.Target != nil:
			s.say("why.confirm", "fault", p.Target.Name(s.unit()))
		default:
			s.say("why.reading", "left", left)
		}
	case "ask_safe_card", "ask_cover", "ask_proof", "ask_guarded":
		s.say("why.safe")
	case "ask_neutral":
		s.say("why.neutral")
	case "ask_cover_here", "ask_proof_here":
		s.say("why.here")
	case "ask_land", "ask_all_landed", "ask_ends_safe":
		s.say("why.land")
	case "ask_frame_bonded", "ask_legs_sound", "ask_legs_clear", "ask_insulation":
		if s.j.Tell("complaint") == doesNotWork && s.j.Tell("second fault") == "" {
			s.say("permit.no_trip")
			return
		}
		s.say("why.permit")
	case "ask_hand_over", "ask_leave":
		s.whyOffer(p)
	case "ask_unit", "ask_complaint", "ask_when", "ask_plate", "ask_switching", "ask_loads", "ask_load_wires":
		s.say("why.intake")
	case "ask_dead":
		s.say("why.dead")
	case "ask_looks":
		s.say("why.looks")
	case "ask_tried", "ask_resets", "ask_history":
		s.say("why.tried")
	case "ask_explains":
		s.say("why.explains")
	case "ask_mended":
		s.say("why.mended")
	case "ask_works":
		s.say("why.works")
	case "ask_tools", "ask_covers", "ask_people", "ask_lock", "ask_looks_right", "ask_site", "ask_switch_on":
		s.say("why.close")
	default:
		s.say("why.other")
	}
}

// whyOffer says what made the bot ask for a decision.
func (s *step) whyOffer(p *Prompt) {
	if p.Reason == nil {
		s.say("why.other")
		return
	}
	if p.Reason.Code == "offer.asked" {
		s.say("why.asked")
		return
	}
	s.say("why.offer", "reason", textOf(s.lang(), Message{Code: p.Reason.Code, Args: p.Reason.Args}))
}

// where names the points of the open question in full, or the point that was asked
// for ("where is k1").
func (s *step) where(text string) {
	if s.b == nil {
		s.repose()
		return
	}
	u := s.unit()
	words := text
	for _, cut := range []string{"where's", "wheres", "where is", "where are", "where", "which one is", "which"} {
		if rest, ok := strings.CutPrefix(words, cut); ok {
			words = strings.TrimSpace(rest)
			break
		}
	}
	words = strings.TrimPrefix(words, "the ")
	for i, part := range u.Parts {
		if words == strings.ToLower(part.Tag) {
			s.say("where.part", "part", partName(u, circuit.PartID(i)), "cover", coverText(u, part.Cover))
			return
		}
	}
	if words != "" && words != "it" && words != "that" && words != "is it" && words != "one" {
		if nodes := u.FindPoint(words); len(nodes) > 0 {
			s.say("where.point", "point", u.PointIn(nodes[0], s.j.Circuit).String())
			if w := u.WireOf(nodes[0]); w != circuit.None {
				ends := w.Ends()
				s.say("where.ends", "one", u.EndPoint(ends[0]).String(), "other", u.EndPoint(ends[1]).String())
			}
			return
		}
	}
	if s.j.Asked == nil || len(s.j.Asked.Tests)+len(s.j.Asked.Acts) == 0 {
		s.repose()
		return
	}
	for _, a := range s.j.Asked.Acts {
		if a.Kind == isolate.Lift || a.Kind == isolate.Land {
			s.say("where.point", "point", u.EndPoint(a.End).String())
		} else {
			s.say("where.point", "point", actName(u, a))
		}
	}
	in := after(u, s.j.Circuit, s.j.Asked.Acts)
	for _, t := range s.j.Asked.Tests {
		s.say("where.test", "one", u.PointIn(t.A, in).String(), "other", u.PointIn(t.B, in).String())
	}
}

func coverText(u *circuit.Unit, c int) string {
	if c == circuit.None {
		return "in reach without a cover"
	}
	return "behind " + coverName(u, c)
}

// picture says in words what a drawing would show.
func (s *step) picture() {
	if s.b == nil {
		s.repose()
		return
	}
	u := s.unit()
	cleared, left := "nothing yet", "everything"
	if j := s.j.Judged; j != nil {
		if len(j.Cleared) > 0 {
			cleared = itemsNamed(u, j.Cleared, "and", 8)
		}
		left = leftText(u, j.Left, "and", 8)
	}
	s.say("picture.words", "cleared", cleared, "left", left, "off", offOrNothing(u, s.j.Circuit))
	if p := s.j.Asked; p != nil && len(p.Tests) > 0 {
		s.say("picture.probes", "points", s.pointsOf(*p))
	}
}

// pointsOf lists the points of the tests of a prompt by their short names.
func (s *step) pointsOf(p Prompt) string {
	var list []string
	for _, t := range p.Tests {
		list = append(list, testShort(s.unit(), t))
	}
	return strings.Join(list, ", ")
}

// status says what is off, what is established, what was read, what is left.
func (s *step) status() {
	if s.b == nil {
		s.say("status.intake")
		s.repose()
		return
	}
	u := s.unit()
	off := offNow(u, s.j.Circuit)
	if off == "" {
		off = "nothing"
	}
	s.say("status.now", "unit", u.Name, "state", strings.ReplaceAll(string(s.j.State), "_", " "), "off", off)
	switch {
	case s.j.Facts.Has(safety.AtWork):
		s.say("status.dead")
	case s.j.Facts.Has(safety.Isolated | safety.Locked):
		s.say("status.locked")
	default:
		s.say("status.not_safe")
	}
	var list []string
	for _, o := range s.j.Seen {
		if !o.Void {
			list = append(list, testShort(u, o.Test)+" "+o.Got.String())
		}
	}
	if n := len(list); n > 6 {
		list = append([]string{fmt.Sprintf("%d earlier", n-6)}, list[n-6:]...)
	}
	if len(list) > 0 {
		s.say("status.readings", "readings", strings.Join(list, ", "))
	}
	if j := s.j.Judged; j != nil {
		if len(j.Left) == 0 {
			s.say("status.none_left")
		} else {
			s.say("status.left", "items", itemsNamed(u, j.Left, "or", 5))
		}
		if s.isSenior() {
			s.say("progress.odds", "odds", oddsText(u, j))
		}
	}
}

// unsure answers "not sure": nothing is recorded as read or done.
func (s *step) unsure() {
	p := s.j.Asked
	switch {
	case p == nil:
		s.goOn()
		return
	case len(p.Tests) > 0:
		s.say("unsure.reading")
		s.where("")
		return
	case touchesSafety(*p):
		s.say("unsure.safety")
	default:
		s.say("unsure.other")
	}
	s.pose()
}

// undo takes the last reading back. Facts of safety, wires and covers stay as they are.
func (s *step) undo() {
	i := len(s.j.Seen) - 1
	for ; i >= 0 && s.j.Seen[i].Void; i-- {
	}
	if i < 0 {
		s.say("undo.nothing")
		s.repose()
		return
	}
	o := s.j.Seen[i]
	if !s.emit(Corrected{Seq: o.Seq, Why: strings.TrimSpace(s.in.Text)}) {
		return
	}
	s.say("undo.done", "where", testShort(s.unit(), o.Test), "got", o.Got.String())
	b := s.judge()
	if s.err != nil {
		return
	}
	switch s.j.State {
	case Permit:
		if s.j.Facts&safety.Readings != 0 {
			s.move(OnPermitVoided)
		}
	case Verdict, Repair, Land:
		if b.Verdict != isolate.Proved {
			if s.move(OnConfirmationVoided) {
				s.say("undo.verdict")
			}
		}
	case CloseUp:
		if s.move(OnReopened) {
			s.tell("permit from", "")
			s.say("undo.permit")
		}
	case Isolate, Confirm:
	default:
		s.repose()
		return
	}
	s.goOn()
}

// same repeats the last reading's number, once it is confirmed.
func (s *step) same() {
	p := s.j.Asked
	if p == nil || len(p.Tests) != 1 {
		s.say("same.name")
		s.repose()
		return
	}
	for i := len(s.j.Seen) - 1; i >= 0; i-- {
		if o := s.j.Seen[i]; !o.Void {
			again := *p
			again.Pending = asTyped(o.Got)
			again.Choices = yesOrNo()
			s.ask(again, nil)
			return
		}
	}
	s.say("same.name")
	s.repose()
}

// leads takes what the shorted leads read: "leads 0.3".
func (s *step) leads(text string) {
	r, doubt := quantity.Parse(strings.TrimSpace(text[len("leads "):]), wantOf("leads"))
	if doubt != nil || r.Class != quantity.Value {
		s.keepNote()
		s.say("say.noted")
		s.repose()
		return
	}
	s.tell("leads", r.Hi.String())
	s.belief = nil
	s.say("leads.kept", "value", r.String())
	s.repose()
}

// coilTrial keeps what a trial with a coil lead off showed. It was a switch-on.
func (s *step) coilTrial(text string) {
	held := has(text, "held", "holds", "stays on", "doesn't trip", "did not trip", "didn't trip")
	value := "tripped"
	if held {
		value = "held"
	}
	s.tell("coil off", value)
	s.belief = nil
	if s.j.State == Intake {
		s.say("say.noted")
		s.goOn()
		return
	}
	s.switchedOnUnasked()
}

// switchedOnUnasked records that the unit was energised without being asked to be:
// what was established is dropped, without a lecture.
func (s *step) switchedOnUnasked() {
	s.keepNote()
	s.tell("permit from", "")
	if !s.may(OnWasSwitchedOn) {
		s.say("say.noted")
		s.repose()
		return
	}
	s.move(OnWasSwitchedOn)
	s.say("unasked.switch_on")
	if s.b != nil {
		if off := endsNamed(s.unit(), endsOf(s.j.Circuit.Lifted)); off != "" {
			s.say("unasked.ends_live", "off", off)
		}
	}
	s.goOn()
}

// cannotDo takes "can't" with its reason. On a step of safety it leads to another way
// or to a stop, never to the next step; elsewhere the test is dropped.
func (s *step) cannotDo(text string) {
	p := s.j.Asked
	why := strings.TrimSpace(s.in.Text)
	if p == nil {
		s.unknown()
		return
	}
	switch s.j.State {
	case Isolate, Confirm:
		if len(p.Tests) == 0 {
			s.unknown()
			return
		}
		s.refuse(*p, text, why)
	case OpenHere:
		r := Refused{Why: why}
		for _, a := range p.Acts {
			if a.Kind == isolate.OpenCover {
				r.Cover = &a.Cover
			}
		}
		s.emit(r)
		s.belief = nil
		if (s.j.Came == Isolate || s.j.Came == Confirm) && s.move(OnCoverKept) {
			s.say("cannot.cover")
			s.goOn()
			return
		}
		s.offer("cannot.here")
	case CheckNeutral:
		r := Refused{Why: why, Ends: s.b.engine().NeutralEnds()}
		s.emit(r)
		if (s.j.Came == Isolate || s.j.Came == Confirm) && s.move(OnNeutralKept) {
			s.say("cannot.neutral")
			s.goOn()
			return
		}
		s.offer("cannot.here")
	case Intake:
		s.unknown()
	case MakeSafe, Prove, ProveHere:
		s.emit(Refused{Why: why})
		if has(text, "lock", "lockable", "padlock") {
			s.say("cannot.lock")
			s.pose()
			return
		}
		s.offer("cannot.safe")
	default:
		s.emit(Refused{Why: why})
		s.offer("cannot.here")
	}
}

// refuse drops what cannot be done here and picks another test.
func (s *step) refuse(p Prompt, text, why string) {
	u := s.unit()
	r := Refused{Why: why}
	if n, ok := s.elsewhere(p, text); ok {
		r.Node = &n
		s.emit(r)
		s.say("cannot.point", "point", nodeShort(u, n))
		s.goOn()
		return
	}
	for _, t := range p.Tests {
		r.Keys = append(r.Keys, t.Key)
	}
	for _, a := range p.Acts {
		switch {
		case a.Kind == isolate.Lift && has(text, "lift", "off", "loose", "screw", "stuck", "seized", "rusted", "come", "undo", "spade"):
			r.Ends = append(r.Ends, a.End)
		case a.Kind == isolate.Move && has(text, "knob", "switch", "turn", "move", "set"):
			r.Part = &a.Part
		}
	}
	for _, t := range p.Tests {
		for _, n := range []circuit.Node{t.A, t.B} {
			if n == circuit.Chassis || r.Node != nil {
				continue
			}
			if s.speaksOf(text, n) {
				r.Node = &n
			}
		}
	}
	for _, a := range p.Acts {
		if w, _ := a.End.Wire(); a.Kind == isolate.Lift && s.speaksOf(text, u.NodeOf(w)) && !slices.Contains(r.Ends, a.End) {
			r.Ends = append(r.Ends, a.End)
		}
	}
	s.emit(r)
	s.say("cannot.dropped")
	s.goOn()
}

// elsewhere is the point that a text names by number, if it is none that the prompt
// asks for.
func (s *step) elsewhere(p Prompt, text string) (circuit.Node, bool) {
	var named []circuit.Node
	for _, w := range wordsOf(text) {
		if !strings.ContainsAny(w, "0123456789") {
			continue
		}
		if nodes := s.unit().FindPoint(w); len(nodes) > 0 {
			named = append(named, nodes[0])
		}
		if s.touchesPart(p, w) {
			return 0, false
		}
	}
	for _, n := range named {
		for _, t := range p.Tests {
			if t.A == n || t.B == n || t.Wire >= 0 && s.unit().NodeOf(t.Wire) == n {
				return 0, false
			}
		}
		for _, a := range p.Acts {
			if w, _ := a.End.Wire(); a.Kind == isolate.Lift && s.unit().NodeOf(w) == n {
				return 0, false
			}
		}
	}
	if len(named) == 0 || named[0] == circuit.Chassis {
		return 0, false
	}
	return named[0], true
}

// touchesPart says whether a word is the tag of a part on which a reading of the prompt
// is taken: "can't reach S1" is then about what was asked, whichever terminal it was.
func (s *step) touchesPart(p Prompt, word string) bool {
	u := s.unit()
	for i := range u.Parts {
		if !strings.EqualFold(u.Parts[i].Tag, word) {
			continue
		}
		for _, t := range p.Tests {
			for _, n := range []circuit.Node{t.A, t.B} {
				if id := u.TermOf(n); id != circuit.None && u.Terms[id].Part == circuit.PartID(i) {
					return true
				}
			}
		}
	}
	return false
}

// speaksOf says whether a word of the text names the node and nothing better.
func (s *step) speaksOf(text string, n circuit.Node) bool {
	for _, w := range wordsOf(text) {
		if !strings.ContainsAny(w, "0123456789") {
			continue
		}
		if nodes := s.unit().FindPoint(w); len(nodes) > 0 && nodes[0] == n {
			return true
		}
	}
	return false
}
