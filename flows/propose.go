package flows

import (
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
)

// Shares of the worth of the best reading, per minute, by which a reading of the
// technician's own choice is judged.
const (
	worthAsGood  = 0.8
	worthHalf    = 0.4
	worthNothing = 0.1
)

// proposal cuts the points out of a proposed reading: "can i check 14 to 16" gives "14 to
// 16"; ok is false if the text proposes none.
func proposal(text string) (where string, ok bool) {
	for _, lead := range []string{"can i ", "could i ", "should i ", "may i ", "shall i ", "can we ", "what if i ", "how about i ", "i want to ", "i'd like to ", "i would like to ",
		"i'd rather ", "id rather ", "i would rather ", "let me ", "i could ", "why not ", "how about ", "what about "} {
		rest, found := strings.CutPrefix(text, lead)
		if !found {
			continue
		}
		rest = strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(rest, " instead"), " first"), " now")
		for _, verb := range []string{"just ", "check ", "checking ", "measure ", "measuring ", "read ", "reading ", "test ", "testing ", "ohm ", "meter ", "try ", "from ", "between "} {
			rest = strings.TrimPrefix(rest, verb)
		}
		if strings.ContainsAny(rest, "0123456789") && !has(rest, "lift", "open", "reset", "switch", "turn", "jump", "bridge", "power", "take") {
			return rest, true
		}
	}
	return "", false
}

// propose judges a reading that the technician would rather take: what it would tell
// against the best one. It is asked for at once if it is as good, else on request.
func (s *step) propose(text string) {
	where, _ := proposal(text)
	if s.j.State != Isolate && s.j.State != Confirm {
		s.keepNote()
		s.say("propose.later")
		s.repose()
		return
	}
	t, ok := s.testAt(where)
	if !ok {
		s.keepNote()
		s.say("propose.points", "text", quoted(where))
		s.repose()
		return
	}
	name := testShort(s.unit(), t)
	for _, o := range counting(s.j) {
		if !o.Void && o.Test.Key == t.Key {
			s.say("propose.known", "where", name, "got", o.Got.String())
			s.repose()
			return
		}
	}
	model, b := s.b.engine(), s.believe()
	bits := model.Worth(b, t)
	acts := s.coversTo(t)
	own := bits / max(model.Minutes(acts, 1), 0.1)
	best := 0.0
	if c, err := model.Next(b, s.j.Circuit, bansOf(s.j)); err == nil {
		best = c.Gain / max(c.Minutes, 0.1)
	}
	s.tell("proposed", strconv.Itoa(int(t.A))+" "+strconv.Itoa(int(t.B)))
	switch {
	case own >= worthAsGood*best && bits > 0.02:
		s.say("propose.good", "where", name)
		s.askProposed()
		return
	case own >= worthHalf*best:
		s.say("propose.half", "where", name)
	case own >= worthNothing*best && bits > 0.02:
		s.say("propose.little", "where", name)
	default:
		s.say("propose.nothing", "where", name, "sound", soundText(model.Explain(caseOf(s.j), isolate.Observation{Test: t, Got: quantity.Reading{Class: quantity.Open, Unit: quantity.Ohm}})))
	}
	s.repose()
}

// coversTo are the covers that have to come off to take a reading.
func (s *step) coversTo(t isolate.Test) []isolate.Act {
	var acts []isolate.Act
	for _, n := range []circuit.Node{t.A, t.B} {
		c := coverOver(s.unit(), n, s.j.Circuit.Off)
		if c != circuit.None && !slices.ContainsFunc(acts, func(a isolate.Act) bool { return a.Cover == c }) {
			acts = append(acts, openCover(c))
		}
	}
	return acts
}

// insists takes "check it" after a proposal was judged. It reports whether the text was
// that.
func (s *step) insists(text string) bool {
	if s.j.Tell("proposed") == "" || s.j.State != Isolate && s.j.State != Confirm || s.remote() {
		return false
	}
	switch text {
	case "check it", "check it anyway", "i'll check it anyway", "anyway", "do it anyway", "measure it", "measure it anyway", "read it anyway", "i want to", "i want it", "still want to":
		s.askProposed()
		return true
	}
	return false
}

// askProposed asks for the reading that was proposed, by the same gates as any other.
func (s *step) askProposed() {
	var a, b int
	if one, other, ok := strings.Cut(s.j.Tell("proposed"), " "); ok {
		a, _ = strconv.Atoi(one)
		b, _ = strconv.Atoi(other)
	}
	s.tell("proposed", "")
	t := s.b.engine().TestAt(circuit.Node(a), circuit.Node(b), s.j.Circuit)
	acts := s.coversTo(t)
	if !s.before(acts) {
		return
	}
	p := Prompt{Ask: "ask_reading", Tests: []isolate.Test{t}, Acts: acts, Wants: []quantity.Want{s.want(t)}}
	if s.j.State == Confirm {
		p.Ask = "ask_confirm"
	}
	s.ask(p, &isolate.Choice{Gain: s.b.engine().Worth(s.believe(), t), Minutes: s.b.engine().Minutes(acts, 1)})
}
