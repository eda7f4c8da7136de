package isolate

import (
	"halfsplit/flows/circuit"
)

// nets says which nodes are one point to a meter in a state: joined by wires landed,
// closed contacts and bonds.
type nets struct {
	m    *Model
	s    circuit.State
	root []int // union-find over terminals and wires
}

// netsOf joins the nodes of a state.
func (m *Model) netsOf(s circuit.State) *nets {
	u := m.unit
	n := &nets{m: m, s: s, root: make([]int, len(u.Terms)+len(u.Wires))}
	for i := range n.root {
		n.root[i] = i
	}
	for w, wire := range u.Wires {
		for side, end := range circuit.WireID(w).Ends() {
			if !s.Lifted.Has(int(end)) {
				n.join(int(m.net.Term(wire.Ends[side])), int(m.net.Wire(circuit.WireID(w))))
			}
		}
	}
	for p, part := range u.Parts {
		for e, el := range part.Elems {
			if el.Role == circuit.Bond || el.Role == circuit.Contact && m.net.Closed(s, circuit.PartID(p), e) {
				n.join(int(m.net.Term(el.A)), int(m.net.Term(el.B)))
			}
		}
	}
	return n
}

func (n *nets) find(i int) int {
	for n.root[i] != i {
		n.root[i] = n.root[n.root[i]]
		i = n.root[i]
	}
	return i
}

// join keeps the lower index as root, so that the result does not depend on order.
// The frame is never joined: that is what readings to it are for.
func (n *nets) join(a, b int) {
	if a < 0 || b < 0 {
		return
	}
	a, b = n.find(a), n.find(b)
	if a > b {
		a, b = b, a
	}
	n.root[b] = a
}

// same reports whether two nodes are one point.
func (n *nets) same(a, b circuit.Node) bool {
	return a == b || a != circuit.Chassis && b != circuit.Chassis && n.find(int(a)) == n.find(int(b))
}

// inReach reports whether a terminal can be touched with these covers off.
func (m *Model) inReach(t circuit.TermID, off circuit.Bits) bool {
	c := m.unit.Parts[m.unit.Terms[t].Part].Cover
	return c == circuit.None || off.Has(c)
}

// coverOf returns the cover that hides a terminal, or None.
func (m *Model) coverOf(t circuit.TermID) int {
	return m.unit.Parts[m.unit.Terms[t].Part].Cover
}

// point is where a probe can go: a terminal, or the free end of a lifted wire at the
// terminal it came from.
type point struct {
	node circuit.Node
	at   circuit.TermID
}

// points returns where probes can go in a state, one for each net, in file order, and
// the best known spot of each: a terminal of a terminal block or contactor rather than
// of another part.
func (m *Model) points(n *nets) []point {
	best := make(map[int]int) // root -> index in out
	var out []point
	rank := func(p point) int {
		if int(p.node) != int(p.at) {
			return 2
		}
		switch m.unit.Parts[m.unit.Terms[p.at].Part].Kind {
		case circuit.KindTerminal, circuit.KindContact:
			return 0
		}
		return 1
	}
	add := func(p point) {
		r := n.find(int(p.node))
		i, ok := best[r]
		if !ok {
			best[r] = len(out)
			out = append(out, p)
			return
		}
		if rank(p) < rank(out[i]) {
			out[i] = p
		}
	}
	for t := range m.unit.Terms {
		id := circuit.TermID(t)
		if m.inReach(id, n.s.Off) && len(m.unit.Terms[t].Ends) > 0 {
			add(point{m.net.Term(id), id})
		}
	}
	for _, e := range n.s.Lifted.Each() {
		w, side := circuit.EndID(e).Wire()
		t := m.unit.Wires[w].Ends[side]
		if m.inReach(t, n.s.Off) {
			add(point{m.net.Wire(w), t})
		}
	}
	return out
}

// fixed reports whether a wire end must never be lifted: earth, bonds, and whatever
// the unit file marks so; ends in Bans are added by the caller.
func (m *Model) fixed(e circuit.EndID) bool {
	w, _ := e.Wire()
	return m.unit.Wires[w].Fixed
}

// NeutralEnds returns the wire ends by which the unit's neutral is taken off at its own
// terminals: every end landed on a terminal that a neutral feeds, except fixed ones.
func (m *Model) NeutralEnds() []circuit.EndID {
	var out []circuit.EndID
	for _, s := range m.unit.Sources {
		for _, f := range s.Feeds {
			if f.Leg != "N" {
				continue
			}
			for _, e := range m.unit.Terms[f.Term].Ends {
				if !m.fixed(e) {
					out = append(out, e)
				}
			}
		}
	}
	return out
}

// IsNeutral reports whether lifting an end opens a neutral: its wire is joined to a
// neutral feed by wires, bonds and contacts closed at rest, with everything landed.
func (m *Model) IsNeutral(e circuit.EndID) bool { return m.neutral.Has(int(e)) }

// neutrals are the ends that IsNeutral reports.
func (m *Model) neutrals() circuit.Bits {
	n := m.netsOf(circuit.State{})
	var out circuit.Bits
	for w := range m.unit.Wires {
		for _, s := range m.unit.Sources {
			for _, f := range s.Feeds {
				if f.Leg == "N" && n.same(m.net.Wire(circuit.WireID(w)), m.net.Term(f.Term)) {
					for _, e := range circuit.WireID(w).Ends() {
						out = out.With(int(e))
					}
				}
			}
		}
	}
	return out
}
