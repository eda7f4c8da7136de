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

// landable are the ends that are off and have to go back before the permit readings:
// all but the neutral's, which stays off until the legs were read to the frame.
func (s *step) landable() []circuit.EndID {
	model := s.b.engine()
	return slices.DeleteFunc(endsOf(s.j.Circuit.Lifted), model.IsNeutral)
}

// askLand lists the ends that are to go back on, wire by wire, and the parts that are
// to be set back.
func (s *step) askLand() {
	ends := s.landable()
	if len(ends) == 0 {
		if s.move(OnLandedBarNeutral) {
			s.goOn()
			return
		}
		s.goBack()
		return
	}
	p := Prompt{Ask: "ask_land"}
	for _, e := range ends {
		p.Fields = append(p.Fields, "landed:"+strconv.Itoa(int(e)))
		p.Acts = append(p.Acts, landAct(e))
	}
	s.ask(p, nil)
}

func landAct(e circuit.EndID) isolate.Act {
	return isolate.Act{Kind: isolate.Land, Cover: circuit.None, End: e, Part: circuit.None, To: circuit.None}
}

// answerLand takes the names of the wires that are back on. "All" names none.
func (s *step) answerLand(text string) {
	if isBlanket(text) || text == "all landed" || text == "landed" || text == "all back on" || text == "all on" {
		s.say("land.each")
		s.pose()
		return
	}
	if has(text, "not", "can't", "except", "but") {
		s.keepNote()
		s.say("land.only_on")
		s.pose()
		return
	}
	named, strange := s.endsIn(text, s.landable())
	if len(named) == 0 {
		s.unknown()
		return
	}
	if strange {
		s.keepNote()
		s.say("land.only_on")
		s.pose()
		return
	}
	for _, e := range named {
		s.emit(Did{Act: landAct(e)})
	}
	s.say("land.on", "ends", endsNamed(s.unit(), named))
	s.goOn()
}

// endsIn are those of the ends whose wire a text names: by number, by colour where
// only one of them has it, by "14 at K1", by the terminal. Strange is true if the text
// holds words that are neither names nor "landed", "on" and the like: "17 is loose"
// says nothing is on.
func (s *step) endsIn(text string, ends []circuit.EndID) (out []circuit.EndID, strange bool) {
	for _, piece := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == '&' || r == '\n' || r == '/' }) {
		for _, piece := range strings.Split(piece, " and ") {
			if i := slices.IndexFunc(ends, func(e circuit.EndID) bool { return s.isShort(piece, e) }); i >= 0 {
				out = append(out, ends[i])
				continue
			}
			words := slices.DeleteFunc(strings.Fields(piece), isLanding)
			if len(words) == 0 {
				continue
			}
			if hit := s.endsMatching(strings.Join(words, " "), ends); len(hit) == 1 {
				out = append(out, hit[0])
				continue
			}
			for _, w := range words {
				hit := s.endsMatching(w, ends)
				if len(hit) == 1 {
					out = append(out, hit[0])
				}
				strange = strange || len(hit) == 0 && len(s.unit().FindPoint(w)) == 0
			}
		}
	}
	slices.SortStableFunc(out, func(a, b circuit.EndID) int { return slices.Index(ends, a) - slices.Index(ends, b) })
	return slices.Compact(out), strange
}

// isShort says that a text is the short name of an end, with or without "landed"
// before it or "on" after it.
func (s *step) isShort(text string, e circuit.EndID) bool {
	for _, word := range []string{"landed ", "capped ", "wire "} {
		text = strings.TrimPrefix(strings.TrimSpace(text), word)
	}
	return strings.TrimSpace(strings.TrimSuffix(text, " on")) == strings.ToLower(s.unit().EndPoint(e).Short())
}

// isLanding says that a word only says that something was done.
func isLanding(w string) bool {
	return slices.Contains([]string{"landed", "on", "back", "is", "are", "and", "wire", "wires", "tight", "tugged", "put", "now", "both", "at", "all", "done",
		"capped", "tagged", "tied", "off", "end", "ends", "the", "number", "numbers", "lead", "leads", "taped", "marked"}, w)
}

// endsMatching are those of the ends that a few words fit.
func (s *step) endsMatching(words string, ends []circuit.EndID) []circuit.EndID {
	u := s.unit()
	var hit []circuit.EndID
	for _, e := range ends {
		w, side := e.Wire()
		if words == strings.ToLower(u.EndPoint(e).Short()) {
			return []circuit.EndID{e}
		}
		nodes := u.FindPoint(words)
		term := circuit.Node(u.Wires[w].Ends[side])
		exact := strings.ToLower(u.TermName(u.Wires[w].Ends[side])) == words
		if exact {
			return []circuit.EndID{e}
		}
		if len(nodes) > 0 && (nodes[0] == u.NodeOf(w) || slices.Contains(nodes, u.NodeOf(w)) && slices.Contains(nodes, term)) {
			hit = append(hit, e)
		}
	}
	if len(hit) > 1 {
		// A number names a wire better than words that other wires share.
		best := u.FindPoint(words)
		var first []circuit.EndID
		for _, e := range hit {
			if w, _ := e.Wire(); len(best) > 0 && best[0] == u.NodeOf(w) {
				first = append(first, e)
			}
		}
		if len(first) > 0 {
			return first
		}
	}
	return hit
}

// askPermit asks for the readings of safety rule 6 that are missing: those to the
// frame first if the neutral is off already, else those with everything landed.
func (s *step) askPermit() {
	model := s.b.engine()
	landed, ready, frame, lifted := model.Permit(s.j.Circuit)
	needLanded := !s.j.Facts.Has(safety.FrameBonded | safety.LegsSound)
	needFrame := !s.j.Facts.Has(safety.LegsClear)
	switch {
	case needFrame && (len(s.neutralOff()) > 0 || !needLanded):
		s.askChecks("ask_legs_clear", frame, lifted)
	case needLanded:
		// The bond and the legs are read in the same state: one question.
		ask := Code("ask_legs_sound")
		if s.j.Facts.Has(safety.LegsSound) {
			ask = "ask_frame_bonded"
		}
		s.askChecks(ask, landed, ready)
	case !s.j.Facts.Has(safety.Insulated):
		if !s.insulationDue() {
			s.move(OnInsulationNotDue)
			s.goOn()
			return
		}
		s.ask(Prompt{Ask: "ask_insulation", Fields: []string{"insulation"}, Choices: []Choice{{Word: "no tester", Value: "no tester"}}}, nil)
	case s.vetoed():
		s.offer("permit.veto")
	default:
		s.askAllLanded()
	}
}

// permitsFailed is how many repairs may fail the readings after them before a senior is
// offered instead of another search.
const permitsFailed = 2

// checksAtOnce is how many readings before a switch-on are asked for in one message.
const checksAtOnce = 7

// vetoChance is the computed chance of a trip from which a switch-on is refused (safety
// rule 6). It can only veto: a lower one permits nothing.
const vetoChance = 0.05

// vetoed reports whether the readings since the repair leave too much room for a fault
// that would make the breaker go.
func (s *step) vetoed() bool {
	return s.b.engine().TripChance(caseOf(s.j), counting(s.j)) > vetoChance
}

// askChecks asks for the readings of one group that were not made yet in this round.
func (s *step) askChecks(ask Code, checks []isolate.Check, in circuit.State) {
	p := Prompt{Ask: ask}
	for _, c := range checks {
		if s.passedAlready(c) {
			continue
		}
		p.Tests = append(p.Tests, c.Test)
		p.Checks = append(p.Checks, int(c.Kind))
		p.Wants = append(p.Wants, quantity.Want{Unit: quantity.Ohm, Lo: float64(c.Min) / 10, Hi: maxWant(c)})
	}
	if len(p.Tests) == 0 {
		s.checksDone(ask)
		return
	}
	if n := min(len(p.Tests), checksAtOnce); n < len(p.Tests) {
		p.Tests, p.Checks, p.Wants = p.Tests[:n], p.Checks[:n], p.Wants[:n]
	}
	p.Acts = s.permitActs(in, p.Tests)
	if s.before(p.Acts) {
		s.ask(p, nil)
	}
}

func maxWant(c isolate.Check) float64 {
	if c.Kind == isolate.FrameBond {
		return 2
	}
	return 0
}

// permitActs are the acts that bring the unit into the state of the readings: covers
// off where a point is behind one, wires and switches.
func (s *step) permitActs(in circuit.State, tests []isolate.Test) []isolate.Act {
	u := s.unit()
	var acts []isolate.Act
	for _, t := range tests {
		for _, n := range []circuit.Node{t.A, t.B} {
			c := coverOver(u, n, s.j.Circuit.Off)
			if c != circuit.None && !slices.ContainsFunc(acts, func(a isolate.Act) bool { return a.Cover == c }) {
				acts = append(acts, openCover(c))
			}
		}
	}
	more, _ := actsTo(u, s.j.Circuit, in)
	return append(acts, more...)
}

// coverOver is the cover that has to come off to touch a node; None if it can be
// touched, a wire at either of its ends.
func coverOver(u *circuit.Unit, n circuit.Node, off circuit.Bits) int {
	hides := func(t circuit.TermID) int {
		c := u.Parts[u.Terms[t].Part].Cover
		if c == circuit.None || off.Has(c) {
			return circuit.None
		}
		return c
	}
	if t := u.TermOf(n); t != circuit.None {
		return hides(t)
	}
	if w := u.WireOf(n); w != circuit.None {
		first, second := hides(u.Wires[w].Ends[0]), hides(u.Wires[w].Ends[1])
		if first == circuit.None || second == circuit.None {
			return circuit.None
		}
		return first
	}
	return circuit.None
}

// passedAlready says whether a check was read since the repair and was good.
func (s *step) passedAlready(c isolate.Check) bool {
	from, _ := strconv.Atoi(s.j.Tell("permit from"))
	for i := len(s.j.Seen) - 1; i >= 0; i-- {
		o := s.j.Seen[i]
		if o.Seq > from && !o.Void && o.Test.Key == c.Test.Key {
			return c.Passed(o.Got, caseOf(s.j).Leads)
		}
	}
	return false
}

func (s *step) checksDone(ask Code) {
	var done bool
	if ask == "ask_legs_clear" {
		done = s.move(OnLegsClear)
	} else {
		done = s.move(OnFrameBonded) && s.move(OnLegsSound)
	}
	if !done {
		s.goBack()
		return
	}
	s.goOn()
}

// answerPermit takes the readings of a group, the insulation test, or the neutral back
// on.
func (s *step) answerPermit(text string) {
	p := s.j.Asked
	switch {
	case p == nil:
		s.goOn()
	case p.Ask == "ask_insulation":
		s.answerInsulation(text)
	case p.Ask == "ask_all_landed":
		s.answerAllLanded(text)
	case len(p.Tests) == 0:
		s.unknown()
	case isBlanket(text):
		s.say("read.number_wanted", "n", strconv.Itoa(len(p.Tests)))
		s.pose()
	default:
		s.permitReadings()
	}
}

func (s *step) permitReadings() {
	p := *s.j.Asked
	raw := strings.TrimSpace(s.in.Text)
	list, doubt := quantity.ParseList(raw, p.Wants)
	if doubt != nil {
		if n := len(doubt.Options); doubt.Code == quantity.Count && n > 0 && n < len(p.Tests) {
			list, doubt = quantity.ParseList(raw, p.Wants[:n])
		}
	}
	if doubt != nil {
		s.doubtful(doubt)
		return
	}
	order, ok := s.matchAll(list, p.Tests, s.j.Circuit)
	if !ok {
		s.say("read.which", "points", s.pointsOf(p))
		s.pose()
		return
	}
	if slices.ContainsFunc(list, func(l quantity.Located) bool { return l.Reading.Class == quantity.Unstable }) {
		s.keepNote()
		s.say("read.unstable")
		if s.move(OnReadingJumps) {
			s.goOn()
		}
		return
	}
	if s.j.Tell("permit from") == "" {
		s.tell("permit from", strconv.Itoa(s.j.Seq))
	}
	s.doOpen(p.Acts)
	checks := s.checksOf(p)
	for i, l := range list { // every reading is kept before any is judged
		if !s.emit(Read{Prompt: p.ID, Test: p.Tests[order[i]], Got: l.Reading}) {
			return
		}
	}
	s.belief = nil
	for i, l := range list {
		if c := checks[order[i]]; !c.Passed(l.Reading, caseOf(s.j).Leads) {
			s.permitFailed(c, l.Reading)
			return
		}
	}
	s.goOn()
}

// checksOf are the checks of a prompt's tests, computed anew from the present state.
func (s *step) checksOf(p Prompt) []isolate.Check {
	landed, _, frame, _ := s.b.engine().Permit(s.j.Circuit)
	all := append(slices.Clone(landed), frame...)
	out := make([]isolate.Check, len(p.Tests))
	for i, t := range p.Tests {
		out[i] = isolate.Check{Test: t}
		for _, c := range all {
			if c.Test.Key == t.Key {
				out[i] = c
			}
		}
	}
	return out
}

// permitFailed says what is out of limits. Such a reading is asked for once more;
// after that it is another fault.
func (s *step) permitFailed(c isolate.Check, got quantity.Reading) {
	key := "permit again " + c.Test.Key
	kv := []string{"where", testShort(s.unit(), c.Test), "got", got.String(), "limit", limitText(c)}
	if s.j.Tell(key) == "" {
		s.tell(key, "yes")
		s.say("permit.again", kv...)
		s.goOn()
		return
	}
	s.say("permit.failed", kv...)
	s.tell("permit from", "")
	s.belief = nil
	if c.Kind == isolate.FrameBond {
		s.tell("bond", "open")
		s.offer("permit.bond")
		return
	}
	if s.move(OnPermitFailed) {
		s.tell("second fault", "yes")
		s.belief = nil
		s.judge()
		n, _ := strconv.Atoi(s.j.Tell("permits failed"))
		s.tell("permits failed", strconv.Itoa(n+1))
		if n+1 >= permitsFailed {
			s.offer("offer.permits")
			return
		}
		s.goOn()
		return
	}
	s.goBack()
}

func limitText(c isolate.Check) string {
	switch c.Kind {
	case isolate.FrameBond:
		return c.Max.String() + " or less"
	case isolate.LegToFrame:
		return "more than " + c.Min.String()
	}
	return c.Min.String() + " or more"
}

func (s *step) answerInsulation(text string) {
	if has(text, "no tester", "no megger", "don't have one", "none", "no") && !strings.ContainsAny(text, "0123456789") {
		s.tell("insulation", "no tester")
		s.offer("permit.no_tester")
		return
	}
	r, doubt := quantity.Parse(strings.TrimSpace(s.in.Text), wantOf("insulation"))
	if doubt != nil {
		s.doubtful(doubt)
		return
	}
	s.tell("insulation", r.String())
	least := s.insulationLeast()
	pass := r.Class == quantity.Open || r.Class == quantity.OverRange ||
		r.Class == quantity.Value && r.Bound != quantity.AtMost && r.Lo.Float64() >= least
	if !pass {
		s.say("permit.insulation_low", "got", r.String(), "limit", quantity.Ohms(least).String())
		s.offer("permit.dry")
		return
	}
	if s.move(OnInsulated) {
		s.goOn()
		return
	}
	s.goBack()
}

// unnamed are the ends that are off, and those that were put back on the way to a
// reading without being named.
func (s *step) unnamed() []circuit.EndID {
	ends := append(endsOf(s.j.Circuit.Lifted), endsIn(s.j.Tell("unnamed"))...)
	slices.Sort(ends)
	return slices.Compact(ends)
}

// askAllLanded asks for the neutral back on, wire by wire, then closes the permit.
func (s *step) askAllLanded() {
	ends := s.unnamed()
	if len(ends) == 0 {
		if s.move(OnAllLanded) {
			s.goOn()
			return
		}
		s.goBack()
		return
	}
	p := Prompt{Ask: "ask_all_landed"}
	for _, e := range ends {
		p.Fields = append(p.Fields, "landed:"+strconv.Itoa(int(e)))
		p.Acts = append(p.Acts, landAct(e))
	}
	s.ask(p, nil)
}

func (s *step) answerAllLanded(text string) {
	if isBlanket(text) || text == "all landed" || text == "landed" {
		s.say("land.each")
		s.pose()
		return
	}
	open := s.unnamed()
	named, strange := s.endsIn(text, open)
	if len(named) == 0 || strange || has(text, "not", "except", "but") {
		s.unknown()
		return
	}
	left := ""
	for _, e := range open {
		if !slices.Contains(named, e) {
			left = also(left, strconv.Itoa(int(e)))
		}
	}
	s.tell("unnamed", left)
	for _, e := range named {
		if s.j.Circuit.Lifted.Has(int(e)) {
			s.emit(Did{Act: landAct(e)})
		}
	}
	s.say("land.on", "ends", endsNamed(s.unit(), named))
	s.goOn()
}
