package flows

import (
	"slices"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// volunteered takes readings of points that were not asked for ("14 to frame 13"), in
// the state the unit is in. It reports whether the text was that.
func (s *step) volunteered() bool {
	raw := strings.TrimSpace(s.in.Text)
	list, doubt := quantity.ParseList(raw, nil)
	if doubt != nil || len(list) == 0 {
		return false
	}
	var tests []isolate.Test
	for _, l := range list {
		if l.Where == "" || l.Reading.Unit != quantity.Ohm && l.Reading.Unit != quantity.NoUnit || l.Reading.Class == quantity.Unstable {
			return false
		}
		t, ok := s.testAt(l.Where)
		if !ok {
			return false
		}
		tests = append(tests, t)
	}
	if !s.j.Facts.Has(safety.AtWork) {
		s.keepNote()
		s.say("told.not_dead")
		s.repose()
		return true
	}
	if has(plain(raw), "lifted", "off", "disconnected", "removed") {
		s.keepNote()
		s.say("told.lifted_first")
		s.repose()
		return true
	}
	if s.j.Facts&safety.Mended != 0 {
		s.keepNote()
		s.say("say.noted")
		s.repose()
		return true
	}
	var fresh []isolate.Observation
	for i, l := range list {
		l.Reading.Unit = quantity.Ohm
		if s.emit(Read{Test: tests[i], Got: l.Reading}) {
			fresh = append(fresh, s.j.Seen[len(s.j.Seen)-1])
		}
	}
	s.say("told.taken", "off", offOrNothing(s.unit(), s.j.Circuit))
	s.concluded(fresh)
	return true
}

func offOrNothing(u *circuit.Unit, st circuit.State) string {
	if off := endsNamed(u, endsOf(st.Lifted)); off != "" {
		return off
	}
	return "nothing"
}

// testAt is the test between two typed points, to the frame if there is only one.
func (s *step) testAt(where string) (isolate.Test, bool) {
	a, b, ok := s.pointsIn(where)
	if !ok || a[0] == circuit.Chassis && len(b) == 0 {
		return isolate.Test{}, false
	}
	other := circuit.Chassis
	if len(b) > 0 {
		other = b[0]
	}
	if a[0] == other {
		return isolate.Test{}, false
	}
	return s.b.engine().TestAt(a[0], other, s.j.Circuit), true
}

// earlier takes readings made before this job's first question. What was lifted then is
// only known if it was said; where it was not, they are kept as a note.
func (s *step) earlier(text string) {
	if s.b == nil || !strings.ContainsAny(text, "0123456789") {
		return
	}
	untouched := has(text, "nothing lifted", "nothing off", "all connected", "all wires on", "everything connected", "no wires off", "not lifted")
	taken := 0
	for _, piece := range clauses(s.in.Text) {
		list, doubt := quantity.ParseList(piece, nil)
		if doubt != nil || len(list) != 1 || !strings.Contains(plain(list[0].Where), " to ") {
			continue
		}
		l := list[0]
		if l.Reading.Class == quantity.Unstable || l.Reading.Unit != quantity.Ohm && l.Reading.Unit != quantity.NoUnit {
			continue
		}
		t, ok := s.testAt(l.Where)
		if !ok {
			continue
		}
		if !untouched {
			s.say("told.earlier_unclear", "where", quoted(l.Where))
			return
		}
		l.Reading.Unit = quantity.Ohm
		s.emit(Read{Test: t, Got: l.Reading})
		taken++
	}
	if taken > 0 {
		s.say("told.earlier")
	}
}

// clauses splits what is told at once at commas, semicolons, full stops and "and".
func clauses(text string) []string {
	text = strings.NewReplacer(", ", "\n", "; ", "\n", ". ", "\n", " and ", "\n").Replace(text)
	var out []string
	for _, piece := range strings.Split(text, "\n") {
		if piece = strings.TrimSpace(piece); piece != "" {
			out = append(out, piece)
		}
	}
	return out
}

// reported takes a statement about a wire: "lifted 14 at K1", "14 is back on". It
// reports whether the text was that.
func (s *step) reported(text string) bool {
	kind := isolate.Lift
	var rest string
	switch {
	case strings.HasPrefix(text, "lifted "):
		rest = text[len("lifted "):]
	case s.wantsLanded():
		return false
	case strings.HasPrefix(text, "landed "):
		kind, rest = isolate.Land, text[len("landed "):]
	case strings.HasPrefix(text, "put back "):
		kind, rest = isolate.Land, text[len("put back "):]
	default:
		return false
	}
	if s.j.State == Intake {
		return false
	}
	if s.b == nil || !s.j.Facts.Has(safety.AtWork) {
		s.keepNote()
		s.say("told.not_dead")
		s.repose()
		return true
	}
	ends := s.endsNamedIn(rest)
	if kind == isolate.Land {
		ends = slices.DeleteFunc(ends, func(e circuit.EndID) bool { return !s.j.Circuit.Lifted.Has(int(e)) })
	}
	switch {
	case len(ends) == 0:
		s.keepNote()
		s.say("told.no_such_wire", "text", quoted(rest))
		s.repose()
		return true
	case len(ends) > 1:
		s.say("told.which_end", "ends", joined(strings.Split(endsNamed(s.unit(), ends), ", "), "or"))
		s.repose()
		return true
	}
	a := isolate.Act{Kind: kind, Cover: circuit.None, End: ends[0], Part: circuit.None, To: circuit.None}
	neutral := s.liftsNeutral([]isolate.Act{a})
	s.emit(Did{Act: a})
	s.say("told.wire", "act", actDone(s.unit(), a), "off", offOrNothing(s.unit(), s.j.Circuit))
	if neutral && !s.j.Facts.Has(safety.NeutralDead) {
		s.say("told.neutral")
		if s.move(OnNeutralWanted) {
			s.askNeutral()
			return true
		}
	}
	s.goOn()
	return true
}

// wantsLanded says that the open prompt asks for the names of wires that are back on.
func (s *step) wantsLanded() bool {
	return s.j.Asked != nil && (s.j.Asked.Ask == "ask_land" || s.j.Asked.Ask == "ask_all_landed")
}

func actDone(u *circuit.Unit, a isolate.Act) string {
	if a.Kind == isolate.Land {
		return endName(u, a.End) + " on"
	}
	return endName(u, a.End) + " off"
}

// endsNamedIn are the wire ends that a text may mean: "14 at K1" is one, "14" two.
func (s *step) endsNamedIn(text string) []circuit.EndID {
	u := s.unit()
	wirePart, at, hasAt := strings.Cut(text, " at ")
	if !hasAt {
		wirePart, at, hasAt = strings.Cut(text, " from ")
	}
	var ends []circuit.EndID
	for _, n := range u.FindPoint(wirePart) {
		if w := u.WireOf(n); w != circuit.None && !u.Wires[w].Fixed {
			for _, e := range w.Ends() {
				ends = append(ends, e)
			}
			break
		}
	}
	if !hasAt {
		return ends
	}
	where := u.FindPoint(at)
	part := plain(at)
	return slices.DeleteFunc(ends, func(e circuit.EndID) bool {
		w, side := e.Wire()
		t := u.Wires[w].Ends[side]
		tag := strings.ToLower(u.Parts[u.Terms[t].Part].Tag)
		return !slices.Contains(where, circuit.Node(t)) && tag != part
	})
}
