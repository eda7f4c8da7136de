package isolate

import (
	"cmp"
	"math"
	"slices"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// Explain says what a reading means on this circuit, in the state it was taken in,
// whatever else is believed.
func (m *Model) Explain(c Case, o Observation) Explanation {
	t := o.Test
	lo, sound, hi := m.Sound(t)
	e := Explanation{Sound: sound, Lo: lo, Hi: hi, HonestR: quantity.Ohms(math.Inf(1))}
	e.Fits = m.fit(c, o)
	if sound < noPath {
		e.Paths = m.paths(t)
	}
	if t.B == circuit.Chassis && sound < noPath {
		s := see(o.Got, c.Leads)
		e.False = s.kind == sawBelow || s.kind == sawNumber && s.at < scale(noPath)
		if acts, st, ok := m.honest(t); ok {
			e.Honest = acts
			e.HonestR = m.net.Dead(st).Ohms(t.A, t.B)
		}
	}
	return e
}

// wide is how many standard deviations a reading may lie from the middle and still be
// taken as that of a sound unit.
const wide = 2.6

// fit compares a reading with the sound unit.
func (m *Model) fit(c Case, o Observation) Fit {
	if m.leaky(c, o) && o.Test.B == circuit.Chassis {
		return Leaky
	}
	r := m.at(o.Test.In).row(o.Test.A, o.Test.B)
	s := see(o.Got, c.Leads)
	leads := leadsOf(c)
	if r.sound.ohms >= noPath {
		switch {
		case s.kind == sawNumber && s.at < scale(1e6), s.kind == sawBelow:
			return TooLow
		}
		return AsSound
	}
	sd, mid := r.sound.sdAt(leads), scale(r.sound.ohms)
	switch s.kind {
	case sawOL:
		return TooHigh
	case sawNumber:
		switch {
		case s.at+s.half < mid-wide*sd:
			return TooLow
		case s.at-s.half > mid+wide*sd:
			return TooHigh
		}
	case sawAbove:
		if s.at > mid+wide*sd {
			return TooHigh
		}
	case sawBelow:
		if s.at < mid-wide*sd {
			return TooLow
		}
	}
	return AsSound
}

// paths splits the current of the sound unit into ways from probe to probe, largest
// first: each takes the branch with most current left at every fork. At most four, and
// none below 3 %.
func (m *Model) paths(t Test) []Path {
	left := m.net.Dead(electrical(t.In)).Branches(t.A, t.B)
	var out []Path
	for len(out) < 4 {
		way := widest(left, t.A, t.B)
		if way == nil {
			break
		}
		flow := math.Inf(1)
		for _, i := range way {
			flow = math.Min(flow, left[i].Amps)
		}
		if flow < 0.03 {
			break
		}
		p := Path{Share: flow}
		for _, i := range way {
			br := &left[i]
			switch br.Kind {
			case circuit.ElemShare:
				if m.unit.Parts[br.Part].Elems[br.Elem].Role == circuit.Resist {
					p.Through = append(p.Through, br.Part)
				}
				p.Ohms += quantity.Ohms(br.Ohms)
			case circuit.JointShare:
				w, _ := br.End.Wire()
				if len(p.Wires) == 0 || p.Wires[len(p.Wires)-1] != w {
					p.Wires = append(p.Wires, w)
				}
				p.Ohms += quantity.Ohms(br.Ohms)
			default:
				if br.Kind == circuit.SupplyShare && m.unit.Sources[br.Source].Legs[br.Leg] == "N" {
					p.Neutral = true
				}
				p.Ohms += quantity.Ohms(br.Ohms)
			}
			br.Amps -= flow
		}
		out = append(out, p)
	}
	return out
}

// widest finds the way from a to b whose narrowest branch is widest, along the
// direction of the current, as indices into branches. Nil if there is none.
func widest(branches []circuit.Branch, a, b circuit.Node) []int {
	type reached struct {
		width float64
		by    int
	}
	best := map[circuit.Node]reached{a: {math.Inf(1), -1}}
	done := map[circuit.Node]bool{}
	for {
		from, width := circuit.Node(0), 0.0
		found := false
		// Nodes are visited in the order of width; ties by number, so that the result
		// does not depend on the order of a map.
		for n, r := range best {
			if !done[n] && (r.width > width || r.width == width && found && n < from) {
				from, width, found = n, r.width, true
			}
		}
		if !found || width < 1e-6 {
			return nil
		}
		if from == b {
			break
		}
		done[from] = true
		for i, br := range branches {
			if br.From != from || done[br.To] {
				continue
			}
			w := math.Min(width, br.Amps)
			if r, ok := best[br.To]; !ok || w > r.width {
				best[br.To] = reached{w, i}
			}
		}
	}
	var way []int
	for n := b; n != a; {
		i := best[n].by
		way = append(way, i)
		n = branches[i].From
	}
	slices.Reverse(way)
	return way
}

// honestMost is the greatest number of lifts tried for an honest reading.
const honestMost = 3

// honest finds the least effort that leaves a probe point without a sound path to the
// frame, while it stays joined to everything it was joined to on the way: the cut is
// made on the side of the frame, so that the reading still covers the same branches.
// Up to three lifts are tried in every combination, each solved anew; never an earth, a
// bond, or anything on the supply side.
func (m *Model) honest(t Test) ([]Act, circuit.State, bool) {
	s := t.In
	branches := m.net.Dead(electrical(s)).Branches(t.A, t.B)
	var ends []circuit.EndID
	for _, br := range branches {
		if br.Kind != circuit.JointShare || br.Amps < 1e-3 || m.fixed(br.End) {
			continue
		}
		w, side := br.End.Wire()
		if !m.inReach(m.unit.Wires[w].Ends[side], s.Off) {
			continue
		}
		ends = append(ends, br.End)
	}
	// Of equal efforts the one at a terminal block is the natural one.
	atBlock := func(e circuit.EndID) int {
		w, side := e.Wire()
		return b2i(m.unit.Parts[m.unit.Terms[m.unit.Wires[w].Ends[side]].Part].Kind != circuit.KindTerminal)
	}
	slices.SortFunc(ends, func(a, b circuit.EndID) int {
		return cmp.Or(cmp.Compare(atBlock(a), atBlock(b)), cmp.Compare(a, b))
	})
	keep := m.sidesOf(branches)
	var bestActs []Act
	var bestState circuit.State
	best := math.Inf(1)
	var try func(from int, chosen []circuit.EndID)
	try = func(from int, chosen []circuit.EndID) {
		if len(chosen) > 0 {
			st, acts, minutes := m.lift(s, chosen)
			if minutes < best && float64(m.net.Dead(electrical(st)).Ohms(t.A, t.B)) >= noPath && m.keeps(st, t.A, keep) {
				best, bestActs, bestState = minutes, acts, st
			}
		}
		if len(chosen) == honestMost {
			return
		}
		for i := from; i < len(ends); i++ {
			try(i+1, append(slices.Clone(chosen), ends[i]))
		}
	}
	try(0, nil)
	return bestActs, bestState, bestActs != nil
}

// sidesOf lists, of every part with resistance on the current's way, the terminal where
// the current comes in.
func (m *Model) sidesOf(branches []circuit.Branch) []circuit.Node {
	var out []circuit.Node
	for _, br := range branches {
		if br.Kind == circuit.ElemShare && br.Amps > 0.03 && m.unit.Parts[br.Part].Elems[br.Elem].Role == circuit.Resist {
			out = append(out, br.From)
		}
	}
	return out
}

// keeps reports whether a node is still joined to all the others, through resistances
// or not, without the frame.
func (m *Model) keeps(s circuit.State, from circuit.Node, others []circuit.Node) bool {
	solved := m.net.Dead(electrical(s))
	for _, o := range others {
		if o != from && float64(solved.Ohms(from, o)) >= noPath {
			return false
		}
	}
	return true
}
