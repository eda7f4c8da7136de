package flows

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// When a senior is offered (policy, design §6).
const (
	offerReadings = 12
	offerCants    = 3
	offerMisfits  = 2
	offerFailed   = 2 // confirmations
)

// believe is what is held after the readings so far.
func (s *step) believe() *isolate.Belief {
	if s.belief == nil {
		s.belief = s.b.engine().Believe(caseOf(s.j), counting(s.j))
	}
	return s.belief
}

// counting are the readings that bear on the fault that is looked for: those since the
// last repair, which changed the circuit.
func counting(j Job) []isolate.Observation {
	from, _ := strconv.Atoi(j.Tell("mended at"))
	i := slices.IndexFunc(j.Seen, func(o isolate.Observation) bool { return o.Seq > from })
	if i < 0 {
		return nil
	}
	return j.Seen[i:]
}

// judge records what is held.
func (s *step) judge() *isolate.Belief {
	s.belief = nil
	b := s.believe()
	s.emit(judgementOf(s.b.engine(), b))
	return b
}

// judgementOf is a belief as it is recorded.
func judgementOf(m *isolate.Model, b *isolate.Belief) Judged {
	j := Judged{Unknown: b.Unknown, Verdict: b.Verdict, Engine: EngineVersion,
		Cleared: slices.Clone(b.Cleared), Left: slices.Clone(b.Left), Misfit: slices.Clone(b.Misfit)}
	for _, o := range b.Odds {
		if o.PerMille == 0 && len(j.Items) > 0 {
			continue
		}
		j.Items = append(j.Items, Judgement{Item: o.Item, PerMille: o.PerMille, Fault: o.Fault})
	}
	if len(j.Items) > 0 && b.Verdict != isolate.Open {
		j.Items[0].Modes = closeModes(m.Modes(b, j.Items[0].Item))
	}
	if len(b.Group) > 1 {
		j.Group = slices.Clone(b.Group)
	}
	return j
}

// bans is what the person on site said cannot be done.
func bansOf(j Job) isolate.Bans {
	var b isolate.Bans
	for _, r := range j.Refused {
		if r.Key != "" {
			b.Keys = append(b.Keys, r.Key)
		}
		b.Keys = append(b.Keys, r.Keys...)
		if r.Node != nil {
			b.Nodes = append(b.Nodes, *r.Node)
		}
		if r.End != nil {
			b.Ends = append(b.Ends, *r.End)
		}
		b.Ends = append(b.Ends, r.Ends...)
		if r.Cover != nil {
			b.Covers = append(b.Covers, *r.Cover)
		}
		if r.Part != nil {
			b.Parts = append(b.Parts, *r.Part)
		}
	}
	return b
}

// askNext asks for the reading that tells most, or for the direct test of what is
// suspected, or says the verdict, or that nothing is left to ask.
func (s *step) askNext() {
	if s.j.Judged == nil {
		s.judge()
	}
	b := s.believe()
	if s.err != nil || s.stopHunting(b) {
		return
	}
	model := s.b.engine()
	switch b.Verdict {
	case isolate.Proved:
		if s.j.State == Isolate && !s.move(OnSuspect) {
			s.goBack()
			return
		}
		if s.move(OnProvedCause) {
			s.askVerdict()
			return
		}
		s.goBack()
		return
	case isolate.Suspect:
		c, err := model.Confirm(b, s.j.Circuit, bansOf(s.j))
		if err == nil {
			if s.j.State == Isolate && !s.move(OnSuspect) {
				s.goBack()
				return
			}
			s.askChoice(c)
			return
		}
		s.unconfirmed()
	default:
		s.unconfirmed()
	}
	if s.err != nil {
		return
	}
	if c, ok := s.honest(); ok {
		s.askHonest(c)
		return
	}
	c, err := model.Next(b, s.j.Circuit, bansOf(s.j))
	switch {
	case err == nil:
		s.askChoice(c)
	case errors.Is(err, isolate.ErrNothingTelling):
		s.move(OnNothingLeft)
		switch {
		case len(b.Group) > 1:
			s.offer("offer.group", "items", itemsNamed(s.unit(), b.Group, "or", 4))
		case caseOf(s.j).Complaint == isolate.DoesNotWork && len(b.Left) == 0:
			s.offer("offer.supply")
		default:
			s.offer("offer.nothing_telling")
		}
	case errors.Is(err, isolate.ErrNothingSafe):
		s.move(OnNothingLeft)
		s.offer("offer.nothing_safe")
	default:
		s.err = fmt.Errorf("flows: next reading: %w", err)
	}
}

// honestLifts is how many wires are taken off at most for an honest reading.
const honestLifts = 2

// honest is the reading that follows the first one of a job that is as low to the frame
// as a sound unit's: the same point with the least that has to come off so that nothing
// sound leads to the frame. It is asked once: from then on the technician has seen it.
func (s *step) honest() (isolate.Choice, bool) {
	if s.j.Tell("honest") != "" || s.j.State != Isolate {
		return isolate.Choice{}, false
	}
	model, ban := s.b.engine(), bansOf(s.j)
	seen := counting(s.j)
	for i := len(seen) - 1; i >= 0; i-- {
		o := seen[i]
		if o.Void {
			continue
		}
		if o.Test.In.Lifted != s.j.Circuit.Lifted || o.Test.In.At != s.j.Circuit.At {
			break
		}
		e := model.Explain(caseOf(s.j), o)
		if !e.False || e.Fits != isolate.AsSound || len(e.Honest) == 0 || len(e.Honest) > honestLifts ||
			slices.ContainsFunc(e.Honest, func(a isolate.Act) bool { return slices.Contains(ban.Ends, a.End) }) {
			continue
		}
		in := after(s.unit(), s.j.Circuit, e.Honest)
		return isolate.Choice{
			Acts: e.Honest, Tests: []isolate.Test{model.TestAt(o.Test.A, o.Test.B, in)}, Minutes: model.Minutes(e.Honest, 1),
		}, true
	}
	return isolate.Choice{}, false
}

// askHonest asks for it, after the check of the neutral that may have to come first.
func (s *step) askHonest(c isolate.Choice) {
	if !s.before(c.Acts) {
		return
	}
	s.tell("honest", "asked")
	p := Prompt{Ask: "ask_reading", Tests: c.Tests, Acts: c.Acts, Wants: []quantity.Want{s.want(c.Tests[0])}, Honest: true}
	if s.liftsNeutral(c.Acts) {
		p.Ask = "ask_lift_neutral"
	}
	s.ask(p, &c)
}

// goBack is for a gate that refused: the job goes on where its facts let it.
func (s *step) goBack() {
	s.lacking(safety.AtWork &^ s.j.Facts)
	if s.j.Facts.Has(safety.ToCover) && s.move(OnProofOld) {
		s.goOn()
	}
}

// unconfirmed leaves the state of confirming: the direct test did not convict.
func (s *step) unconfirmed() {
	if s.j.State != Confirm {
		return
	}
	n, _ := strconv.Atoi(s.j.Tell("not confirmed"))
	s.tell("not confirmed", strconv.Itoa(n+1))
	s.move(OnNotConfirmed)
	s.say("confirm.not")
	if n+1 >= offerFailed {
		s.mention("failed", "offer.failed")
	}
}

// stopHunting says why readings should end here, once for each reason. It reports
// whether a decision is asked for.
func (s *step) stopHunting(b *isolate.Belief) bool {
	switch {
	case b.Wet && s.j.Tell("went on wet") == "":
		s.tell("went on wet", "asked")
		s.tell("wet", "yes")
		s.offer("offer.wet")
		return true
	case b.Verdict == isolate.Beyond && s.j.Tell("went on beyond") == "":
		s.tell("went on beyond", "asked")
		if caseOf(s.j).Complaint == isolate.DoesNotWork {
			s.offer("offer.supply")
		} else {
			s.offer("offer.beyond")
		}
		return true
	}
	if s.j.Readings >= offerReadings {
		s.mention("readings", "offer.readings", "n", strconv.Itoa(s.j.Readings))
	}
	if s.j.Cants >= offerCants {
		s.mention("cants", "offer.cants", "n", strconv.Itoa(s.j.Cants))
	}
	if s.j.Misfits >= offerMisfits {
		s.mention("misfits", "offer.misfits")
	}
	return false
}

// mention offers a senior without waiting for an answer, once for each reason.
func (s *step) mention(reason string, code Code, kv ...string) {
	if s.j.Tell("offered "+reason) != "" {
		return
	}
	s.tell("offered "+reason, "yes")
	s.say(code, kv...)
}

// askChoice asks for acts and readings, after what has to come before them.
func (s *step) askChoice(c isolate.Choice) {
	if !s.before(c.Acts) {
		return
	}
	p := Prompt{Ask: "ask_reading", Tests: c.Tests, Acts: c.Acts, Target: c.Target}
	if s.j.State == Confirm {
		p.Ask = "ask_confirm"
	}
	if s.liftsNeutral(c.Acts) {
		p.Ask = "ask_lift_neutral"
	}
	for _, t := range c.Tests {
		p.Wants = append(p.Wants, s.want(t))
	}
	s.ask(p, &c)
}

// want is the band in which the answer to a test is expected: from a tenth of what a
// sound unit reads to ten times that. It only settles how a number was meant.
func (s *step) want(t isolate.Test) quantity.Want {
	lo, _, hi := s.b.engine().Sound(t)
	w := quantity.Want{Unit: quantity.Ohm, Lo: float64(lo) / 10, Hi: float64(hi) * 10}
	if math.IsInf(w.Hi, 0) || math.IsNaN(w.Hi) || math.IsInf(w.Lo, 0) || math.IsNaN(w.Lo) {
		return quantity.Want{Unit: quantity.Ohm}
	}
	return w
}

// answerReading takes the numbers for the open tests, or readings of other points.
func (s *step) answerReading(text string) {
	p := s.j.Asked
	if p == nil || len(p.Tests) == 0 {
		if s.volunteered() {
			return
		}
		s.unknown()
		return
	}
	if isBlanket(text) {
		s.say("read.number_wanted", "n", strconv.Itoa(len(p.Tests)))
		s.pose()
		return
	}
	raw := strings.TrimSpace(s.in.Text)
	list, doubt := quantity.ParseList(raw, p.Wants)
	if doubt != nil {
		if s.byName(raw) || s.partly(raw, doubt) {
			return
		}
		s.doubtful(doubt)
		return
	}
	order, ok := s.matchAll(list, p.Tests, after(s.unit(), s.j.Circuit, p.Acts))
	if !ok {
		if s.volunteered() {
			return
		}
		s.say("read.which", "points", s.pointsOf(*p))
		s.pose()
		return
	}
	s.accept(order, list)
}

// matchAll assigns readings to tests: by the words before each, or in order where
// there are none. order[i] is the test of list[i].
func (s *step) matchAll(list []quantity.Located, tests []isolate.Test, in circuit.State) (order []int, ok bool) {
	for i, l := range list {
		at := i
		if l.Where != "" {
			if at = s.testNamed(l.Where, tests); at < 0 {
				return nil, false
			}
		}
		if at >= len(tests) || slices.Contains(order, at) {
			return nil, false
		}
		order = append(order, at)
	}
	_ = in
	return order, true
}

// testNamed is the open test that words name; -1 if none or more than one.
func (s *step) testNamed(where string, tests []isolate.Test) int {
	a, b, ok := s.pointsIn(where)
	if !ok {
		return -1
	}
	found := -1
	for i, t := range tests {
		if s.isAt(a, b, t) {
			if found >= 0 {
				return -1
			}
			found = i
		}
	}
	return found
}

// isAt reports whether two typed points are those of a test; one point alone is
// enough where the other is the frame or the test is of a part or wire end to end.
func (s *step) isAt(a, b []circuit.Node, t isolate.Test) bool {
	near := func(list []circuit.Node, n circuit.Node) bool { return slices.Contains(list, n) }
	if len(b) == 0 {
		return near(a, t.A) || t.Kind != isolate.ToFrame && near(a, t.B) ||
			t.Kind == isolate.Along && near(a, s.unit().NodeOf(t.Wire))
	}
	return near(a, t.A) && near(b, t.B) || near(a, t.B) && near(b, t.A)
}

// pointsIn reads "14 to frame" or "14": the nodes that each of the two points may be.
func (s *step) pointsIn(where string) (a, b []circuit.Node, ok bool) {
	text := plain(strings.Trim(where, " :=-,"))
	text = strings.TrimPrefix(text, "between ")
	for _, joint := range []string{" to ", " and ", " against ", " vs ", " - ", "–"} {
		if left, right, found := strings.Cut(text, joint); found {
			a, b = s.unit().FindPoint(left), s.unit().FindPoint(right)
			return a, b, len(a) > 0 && len(b) > 0
		}
	}
	a = s.unit().FindPoint(text)
	return a, nil, len(a) > 0
}

// byName takes readings that name their points, where the list as a whole is not what
// was asked for. It reports whether it took them.
func (s *step) byName(raw string) bool {
	p := s.j.Asked
	list, doubt := quantity.ParseList(raw, nil)
	if doubt != nil || len(list) == 0 {
		return false
	}
	for _, l := range list {
		if l.Where == "" {
			return false
		}
	}
	if order, ok := s.matchAll(list, p.Tests, s.j.Circuit); ok {
		s.accept(order, list)
		return true
	}
	return s.volunteered()
}

// partly takes fewer readings than were asked for, in the order asked.
func (s *step) partly(raw string, doubt *quantity.Doubt) bool {
	p := s.j.Asked
	n := len(doubt.Options)
	if doubt.Code != quantity.Count || n == 0 || n >= len(p.Tests) {
		return false
	}
	list, again := quantity.ParseList(raw, p.Wants[:n])
	if again != nil {
		return false
	}
	order, ok := s.matchAll(list, p.Tests, s.j.Circuit)
	if !ok {
		return false
	}
	s.accept(order, list)
	return true
}

// doubtful asks back with the reason; everything else stays as it is.
func (s *step) doubtful(d *quantity.Doubt) {
	p := *s.j.Asked
	if d.Code == quantity.NotANumber && !strings.ContainsAny(s.in.Text, "0123456789") {
		s.unknown()
		return
	}
	s.keepNote()
	s.say(doubtCode(d), doubtArgs(d)...)
	if d.Code == quantity.Negative && s.move(OnReadingJumps) {
		s.say("read.negative")
		s.goOn()
		return
	}
	p.Tried++
	p.Choices = nil
	if len(p.Tests) == 1 {
		for _, r := range d.Options {
			p.Choices = append(p.Choices, Choice{Word: r.String(), Value: asTyped(r)})
		}
	}
	s.ask(p, nil)
}

// asTyped is a text that reads back as r: whole units, exact decimals.
func asTyped(r quantity.Reading) string {
	switch r.Class {
	case quantity.Open, quantity.OverRange:
		return "OL"
	case quantity.Short:
		return "dead short"
	}
	text := r.Lo.String()
	if r.Lo != r.Hi {
		text += " - " + r.Hi.String()
	}
	switch r.Unit {
	case quantity.Ohm:
		text += " ohm"
	case quantity.Volt:
		text += " V"
	case quantity.Amp:
		text += " A"
	}
	return text
}

// accept records readings for the open tests and goes on. order[i] is the test of
// list[i].
func (s *step) accept(order []int, list []quantity.Located) {
	p := *s.j.Asked
	if slices.ContainsFunc(list, func(l quantity.Located) bool { return l.Reading.Class == quantity.Unstable }) {
		s.keepNote()
		s.say("read.unstable")
		if s.move(OnReadingJumps) {
			s.goOn()
			return
		}
		s.pose()
		return
	}
	s.doOpen(p.Acts)
	var fresh []isolate.Observation
	for i, l := range list {
		t := p.Tests[order[i]]
		if p.Repeat != 0 {
			s.compare(p.Repeat, l.Reading)
		}
		if s.emit(Read{Prompt: p.ID, Test: t, Got: l.Reading}) {
			fresh = append(fresh, s.j.Seen[len(s.j.Seen)-1])
		}
	}
	if len(list) < len(p.Tests) {
		var left Prompt = p
		left.Acts, left.Tests, left.Wants = nil, nil, nil
		for i, t := range p.Tests {
			if !slices.Contains(order, i) {
				left.Tests = append(left.Tests, t)
				left.Wants = append(left.Wants, s.want(t))
			}
		}
		s.explainAll(fresh)
		s.ask(left, nil)
		return
	}
	s.concluded(fresh)
}

// doOpen records those of the acts that are not in effect yet. A wire that was put back
// that way was not named: it is asked for by its name before the covers go on.
func (s *step) doOpen(acts []isolate.Act) {
	for _, a := range acts {
		if after(s.unit(), s.j.Circuit, []isolate.Act{a}) == s.j.Circuit {
			continue
		}
		s.emit(Did{Act: recorded(s.unit(), a)})
		if a.Kind == isolate.Land {
			s.tell("unnamed", also(s.j.Tell("unnamed"), strconv.Itoa(int(a.End))))
		}
	}
}

// compare settles a repeated reading: the earlier one is replaced if they differ.
func (s *step) compare(seq int, got quantity.Reading) {
	i := slices.IndexFunc(s.j.Seen, func(o isolate.Observation) bool { return o.Seq == seq && !o.Void })
	if i < 0 {
		return
	}
	if alike(s.j.Seen[i].Got, got) {
		s.say("repeat.same", "value", got.String())
		return
	}
	s.say("repeat.differs", "was", s.j.Seen[i].Got.String(), "value", got.String())
	s.emit(Corrected{Seq: seq, Why: "read again"})
}

// alike reports whether two readings of the same points agree: within a quarter, or an
// ohm where they are small.
func alike(a, b quantity.Reading) bool {
	if a.Class != b.Class {
		return false
	}
	if a.Class != quantity.Value {
		return true
	}
	x, y := a.Value(), b.Value()
	return math.Abs(x-y) <= max(1, 0.25*max(math.Abs(x), math.Abs(y)))
}

// concluded says what readings mean, what is cleared, what is left, and goes on.
func (s *step) concluded(fresh []isolate.Observation) {
	was := s.j.Judged
	b := s.judge()
	if s.err != nil {
		return
	}
	s.explainAll(fresh)
	if s.misfit(b, was) {
		return
	}
	s.sayProgress(b, was)
	s.goOn()
}

// misfit says that a reading does not fit and asks for it again, once. It reports
// whether it asked.
func (s *step) misfit(b *isolate.Belief, was *Judged) bool {
	var fresh []int
	for _, seq := range b.Misfit {
		if was == nil || !slices.Contains(was.Misfit, seq) {
			fresh = append(fresh, seq)
		}
	}
	if len(fresh) == 0 || s.j.State != Isolate && s.j.State != Confirm {
		return false
	}
	u := s.unit()
	var names []string
	known := true // every reading that does not fit was asked for again already
	for _, seq := range b.Misfit {
		if o, ok := s.seen(seq); ok {
			if name := testShort(u, o.Test) + " " + o.Got.String(); !slices.Contains(names, name) {
				names = append(names, name)
			}
			known = known && s.j.Tell("asked again "+o.Test.Key) != ""
		}
	}
	if known {
		return false
	}
	s.say("misfit.says", "readings", joined(names, "and"))
	for i := len(fresh) - 1; i >= 0; i-- {
		seq := fresh[i]
		o, ok := s.seen(seq)
		again := "asked again " + o.Test.Key
		if !ok || s.j.Tell(again) != "" {
			continue
		}
		acts, near := actsTo(u, s.j.Circuit, o.Test.In)
		if !near || s.liftsNeutral(acts) && !s.j.Facts.Has(safety.NeutralDead) {
			continue
		}
		t := o.Test
		t.In = after(u, s.j.Circuit, acts)
		s.tell(again, "yes")
		p := Prompt{Ask: "ask_reading", Tests: []isolate.Test{t}, Acts: acts, Repeat: seq, Wants: []quantity.Want{s.want(t)}}
		if s.j.State == Confirm {
			p.Ask = "ask_confirm"
		}
		if s.liftsNeutral(acts) {
			p.Ask = "ask_lift_neutral"
		}
		s.ask(p, nil)
		return true
	}
	return false
}

func (s *step) seen(seq int) (isolate.Observation, bool) {
	for _, o := range s.j.Seen {
		if o.Seq == seq && !o.Void {
			return o, true
		}
	}
	return isolate.Observation{}, false
}

// actsTo are the acts that bring wires and switches from one state to another. Near is
// false if they are more than three.
func actsTo(u *circuit.Unit, from, to circuit.State) (acts []isolate.Act, near bool) {
	act := isolate.Act{Cover: circuit.None, End: circuit.None, Part: circuit.None, To: circuit.None}
	for _, e := range endsOf(from.Lifted) {
		if !to.Lifted.Has(int(e)) {
			a := act
			a.Kind, a.End = isolate.Land, e
			acts = append(acts, a)
		}
	}
	for _, e := range endsOf(to.Lifted) {
		if !from.Lifted.Has(int(e)) {
			a := act
			a.Kind, a.End = isolate.Lift, e
			acts = append(acts, a)
		}
	}
	for p := range u.Parts {
		id := circuit.PartID(p)
		if want := to.Position(u, id); want != from.Position(u, id) {
			a := act
			a.Kind, a.Part, a.To = isolate.Move, id, want
			acts = append(acts, a)
		}
	}
	return acts, len(acts) <= 3
}

// readDecimal reads a recorded number; false if it is none.
func readDecimal(text string) (float64, bool) {
	f, err := strconv.ParseFloat(text, 64)
	return f, err == nil && !math.IsNaN(f) && !math.IsInf(f, 0)
}
