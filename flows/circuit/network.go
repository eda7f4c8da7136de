package circuit

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"halfsplit/flows/quantity"
)

// Resistances of the network where the unit file says nothing.
const (
	// JointOhms is a sound joint between a wire end and its terminal. Common practice,
	// no source.
	JointOhms quantity.Ohms = 0.01
	// ContactOhms is a closed contact. Common practice, no source: sound ones are
	// below 0.2 Ω.
	ContactOhms quantity.Ohms = 0.05
	// BondOhms is a fixed connection inside a part.
	BondOhms quantity.Ohms = 0.01
	// RunOhms is the wiring of one conductor between the panel and the unit: about
	// 60 ft of 12 AWG (1.6 Ω per 1000 ft), from memory of wire tables. Behind a breaker
	// above 20 A the wire is thicker, and it is less in proportion.
	RunOhms quantity.Ohms = 0.1
	// FrameOhms lies between the unit's earth terminal and its frame. Sound ones are
	// at most 0.1 Ω from plug pin to frame (UL 507 cl. 42.1, as quoted by test reports).
	FrameOhms quantity.Ohms = 0.05
	// PanelOhms is the bond between neutral and earth at the panel.
	PanelOhms quantity.Ohms = 0.01
	// SourceOhms is the impedance of the supply behind one leg if the file gives none.
	SourceOhms quantity.Ohms = 0.1
)

const (
	// leastOhms stands in for zero: a dead short still has a size.
	leastOhms = 1e-6
	// leastLeak is the conductance to the frame, in siemens, given to every node so
	// that nothing floats. It is made smaller in large units so that all leaks of a
	// unit together stay below islandLeak.
	leastLeak  = 1e-12
	islandLeak = 1e-10
)

// Ceilings of what is read as a number.
const (
	// Ceiling is the greatest resistance that Solved.Ohms gives as a number; above it
	// the value would be that of the leaks the solver itself added. The leaks of a
	// whole unit come to 10 GΩ or more.
	Ceiling quantity.Ohms = 1e9
	// OLAbove is the greatest resistance that a hand-held meter shows; above it reads
	// OL. Common practice, no source: ranges end at 40 to 60 MΩ.
	OLAbove quantity.Ohms = 50e6
)

// ErrNoPlace says that a fault names a part, element, wire or end that the unit does
// not have, or one that cannot fail in this way.
var ErrNoPlace = errors.New("circuit: fault has no place in this unit")

// FaultError is a fault that could not be placed. It matches ErrNoPlace.
type FaultError struct{ Placed Placed }

// Error gives the fault in numbers; it is not meant for technicians.
func (e *FaultError) Error() string {
	return fmt.Sprintf("%v: %+v", ErrNoPlace, e.Placed)
}

// Unwrap returns ErrNoPlace.
func (e *FaultError) Unwrap() error { return ErrNoPlace }

// edgeKind is what an edge of the network stands for.
type edgeKind uint8

const (
	elemEdge  edgeKind = iota // element of a part
	jointEdge                 // wire end on its terminal
	poleEdge                  // conductor from the panel, with its isolator pole
	emfEdge                   // supply winding or transformer behind a leg; open in dead tests
	panelEdge                 // bond of neutral at the panel
	frameEdge                 // unit's earth terminal to its frame
)

// edge joins node a to node b. b may be Chassis, a may not. Only the fields that the
// kind needs are set; the others are None.
type edge struct {
	a, b   Node
	kind   edgeKind
	part   PartID
	elem   int
	end    EndID
	source int
	leg    int   // index in Source.Legs
	slot   int32 // where its conductance goes: a slot of the order, or -1-position for a leak
}

// Network is the circuit of a unit as nodes and edges: one node for each terminal and
// each wire, a joint between them at each wire end, and the supply down to the panel.
// The frame is the reference. It is immutable and may be shared between goroutines.
type Network struct {
	unit  *Unit
	nodes int
	leak  float64 // siemens, at every node
	edges []edge
	elems [][]int // [part][elem] -> edge; -1 where both ends are one terminal
	ends  [][2]int
	star  []Node    // neutral point of each source at the panel
	legs  [][]Node  // [source][leg] -> its node at the panel; N: the star
	sound []float64 // nominal siemens of every edge when it conducts
	sym   *order
	cores []core // transformers
}

// NewNetwork builds the network of a unit and finds its elimination order.
func NewNetwork(u *Unit) *Network {
	n := &Network{unit: u, nodes: len(u.Terms) + len(u.Wires)}
	for p := range u.Parts {
		var at []int
		for i, el := range u.Parts[p].Elems {
			at = append(at, n.add(edge{kind: elemEdge, a: Node(el.A), b: Node(el.B), part: PartID(p), elem: i, end: None, source: None, leg: None}))
		}
		n.elems = append(n.elems, at)
	}
	for w := range u.Wires {
		var at [2]int
		for i, t := range u.Wires[w].Ends {
			at[i] = n.add(edge{kind: jointEdge, a: n.Wire(WireID(w)), b: Node(t), part: None, elem: None, end: EndID(2*w + i), source: None, leg: None})
		}
		n.ends = append(n.ends, at)
	}
	n.addCores()
	for i := range u.Sources {
		n.addSource(i)
	}
	n.leak = min(leastLeak, islandLeak/float64(max(n.nodes, 1)))

	var pairs [][2]int32
	for _, e := range n.edges {
		if e.b != Chassis {
			pairs = append(pairs, [2]int32{int32(e.a), int32(e.b)})
		}
	}
	n.sym = newOrder(n.nodes, pairs)
	for i := range n.edges {
		e := &n.edges[i]
		if e.b == Chassis {
			e.slot = -1 - n.sym.at[e.a]
		} else {
			e.slot = n.sym.slotOf(int32(e.a), int32(e.b))
		}
		n.sound = append(n.sound, 1/n.ohms(e, nil))
	}
	return n
}

// add appends an edge unless both its ends are one node, and returns its index or -1.
func (n *Network) add(e edge) int {
	if e.a == e.b || e.a < 0 || int(e.a) >= n.nodes || int(e.b) >= n.nodes {
		return -1
	}
	n.edges = append(n.edges, e)
	return len(n.edges) - 1
}

// addSource adds the supply of one source: a star point that is the neutral at the
// panel whether or not a neutral is brought in, one node per live leg, one for the
// earth bar, the conductors from there to the unit, and the bonds.
func (n *Network) addSource(i int) {
	src := &n.unit.Sources[i]
	blank := edge{part: None, elem: None, end: None, source: i, leg: None}
	star := Node(n.nodes)
	n.nodes++
	n.star = append(n.star, star)
	earth := Chassis // where no earth is brought in, the frame is earthed some other way
	at := make([]Node, len(src.Legs))
	for l, leg := range src.Legs {
		switch leg {
		case "N":
			at[l] = star
		case "PE":
			at[l] = Node(n.nodes)
			earth = at[l]
			n.nodes++
		default:
			at[l] = Node(n.nodes)
			n.nodes++
			e := blank
			e.kind, e.a, e.b, e.leg = emfEdge, at[l], star, l
			n.add(e)
		}
	}
	n.legs = append(n.legs, at)
	for _, f := range src.Feeds {
		l := slices.Index(src.Legs, f.Leg)
		if l < 0 {
			continue
		}
		e := blank
		e.kind, e.a, e.b, e.leg = poleEdge, at[l], Node(f.Term), l
		n.add(e)
		if f.Leg == "PE" && !n.onFrame(f.Term) {
			e.kind, e.a, e.b = frameEdge, Node(f.Term), Chassis
			n.add(e)
		}
	}
	if src.Bonded != "" {
		e := blank
		e.kind, e.a, e.b = panelEdge, star, earth
		n.add(e)
	}
}

// onFrame reports whether the file itself joins a terminal to the frame, by wires and
// bonds to a part whose element ends on the frame.
func (n *Network) onFrame(t TermID) bool {
	for _, at := range n.flood([]Node{Node(t)}, func(e *edge) bool {
		return e.kind == jointEdge || e.kind == elemEdge && n.elem(e).Role == Bond
	}) {
		for i := range n.edges {
			if e := &n.edges[i]; e.kind == elemEdge && e.b == Chassis && e.a == at {
				return true
			}
		}
	}
	return false
}

// flood lists, ascending, the nodes joined to some nodes by edges that pass; it does
// not go through the frame.
func (n *Network) flood(from []Node, passes func(*edge) bool) []Node {
	next := make([][]int32, n.nodes)
	for i := range n.edges {
		if e := &n.edges[i]; e.b != Chassis && passes(e) {
			next[e.a] = append(next[e.a], int32(e.b))
			next[e.b] = append(next[e.b], int32(e.a))
		}
	}
	seen := make([]bool, n.nodes)
	var todo, out []Node
	for _, v := range from {
		if v >= 0 && int(v) < n.nodes && !seen[v] {
			seen[v] = true
			todo = append(todo, v)
		}
	}
	for len(todo) > 0 {
		v := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		out = append(out, v)
		for _, w := range next[v] {
			if !seen[w] {
				seen[w] = true
				todo = append(todo, Node(w))
			}
		}
	}
	slices.Sort(out)
	return out
}

// Reach lists, ascending, the nodes joined to a node in state s through joints, closed
// contacts and bonds only, itself among them: its net in this state. It stops at the
// frame and at the supply. From Chassis it lists what is bonded to the frame.
func (n *Network) Reach(s State, from Node) []Node {
	return n.reach(s, from, func(e *edge) bool {
		return e.kind == jointEdge || n.elem(e).Role != Resist || n.elemOhms(e.part, e.elem, nil) <= netOhms
	})
}

// ReachThrough is Reach that goes on through resistances: everything that lies behind
// the same open contacts and lifted ends.
func (n *Network) ReachThrough(s State, from Node) []Node {
	return n.reach(s, from, func(*edge) bool { return true })
}

// netOhms is the greatest resistance that still counts as a connection: closed
// contacts and fuses are below it. Common practice, no source.
const netOhms = 0.2

func (n *Network) reach(s State, from Node, passes func(*edge) bool) []Node {
	start := []Node{from}
	if from == Chassis {
		start = nil
		for i := range n.edges {
			if e := &n.edges[i]; e.b == Chassis && (e.kind == frameEdge || e.kind == elemEdge) && n.joined(s, e) {
				start = append(start, e.a)
			}
		}
	}
	return n.flood(start, func(e *edge) bool {
		return (e.kind == jointEdge || e.kind == elemEdge) && n.joined(s, e) && passes(e)
	})
}

// elem is the element of an edge that is one.
func (n *Network) elem(e *edge) *Elem { return &n.unit.Parts[e.part].Elems[e.elem] }

// Unit returns the unit that the network was built from.
func (n *Network) Unit() *Unit { return n.unit }

// Nodes is the number of nodes, without the frame.
func (n *Network) Nodes() int { return n.nodes }

// Term returns the node of a terminal.
func (n *Network) Term(t TermID) Node { return Node(t) }

// Wire returns the node of a wire, which is what a probe touches on its free end when
// an end is lifted.
func (n *Network) Wire(w WireID) Node { return Node(len(n.unit.Terms) + int(w)) }

// Leg returns the node at the panel of a leg of a source (index in Source.Legs).
func (n *Network) Leg(source, leg int) Node { return n.legs[source][leg] }

// Closed reports whether a contact is closed in state s with the power off: contactors
// and relays stand at rest unless they are held in by hand. It is true for elements
// that are no contacts, and false for an element that the part does not have.
func (n *Network) Closed(s State, p PartID, elem int) bool {
	if p < 0 || int(p) >= len(n.elems) || elem < 0 || elem >= len(n.elems[p]) {
		return false
	}
	return closed(&n.unit.Parts[p].Elems[elem], s.Position(n.unit, p))
}

func closed(el *Elem, position int) bool {
	return el.Role != Contact || position < 32 && el.Closed&(1<<position) != 0
}

// poleClosed reports whether a conductor of a source is connected in state s.
func (n *Network) poleClosed(s State, source, leg int) bool {
	if s.On.Has(source) {
		return true
	}
	src := &n.unit.Sources[source]
	name := src.Legs[leg]
	switch {
	case src.Isolator.Kind == Plug:
		return false
	case len(src.Isolator.Opens) > 0:
		return !slices.Contains(src.Isolator.Opens, name)
	default: // the file does not say what opens: the live legs do
		return name == "N" || name == "PE" || slices.Contains(src.Isolator.Leaves, name)
	}
}

// Actual is the values of one specimen of the unit, as far as they differ from the
// nominal ones. Zero values and missing entries mean nominal.
type Actual struct {
	Elems  [][]quantity.Ohms // [part][elem], dead and cold
	Joints []quantity.Ohms   // by EndID
	Leak   []float64         // siemens to the frame, by node
	Bond   quantity.Ohms     // of the bond between neutral and earth at the panel
}

func (a *Actual) elem(p PartID, i int) quantity.Ohms {
	if a == nil || int(p) >= len(a.Elems) || i >= len(a.Elems[p]) {
		return 0
	}
	return a.Elems[p][i]
}

// elemOhms is the resistance of an element with the power off, a contact's when closed.
func (n *Network) elemOhms(p PartID, i int, act *Actual) float64 {
	if r := act.elem(p, i); r > 0 {
		return math.Max(float64(r), leastOhms)
	}
	el := &n.unit.Parts[p].Elems[i]
	r := el.Ohms.Nominal
	if r == 0 && el.Ohms.Hi > 0 {
		r = (el.Ohms.Lo + el.Ohms.Hi) / 2
	}
	if r == 0 {
		switch el.Role {
		case Contact:
			r = ContactOhms
		case Bond:
			r = BondOhms
		}
	}
	return math.Max(float64(r), leastOhms)
}

func (n *Network) jointOhms(e EndID, act *Actual) float64 {
	if act != nil && int(e) < len(act.Joints) && act.Joints[e] > 0 {
		return math.Max(float64(act.Joints[e]), leastOhms)
	}
	return float64(JointOhms)
}

// conductances returns the conductance of every edge in state s, in siemens, without
// faults and without sources.
func (n *Network) conductances(s State, act *Actual) []float64 {
	g := make([]float64, len(n.edges))
	for i := range n.edges {
		switch e := &n.edges[i]; {
		case !n.joined(s, e):
		case act == nil:
			g[i] = n.sound[i]
		default:
			g[i] = 1 / n.ohms(e, act)
		}
	}
	return g
}

// joined reports whether an edge conducts at all in state s with the power off.
func (n *Network) joined(s State, e *edge) bool {
	switch e.kind {
	case elemEdge:
		return n.Closed(s, e.part, e.elem)
	case jointEdge:
		return !s.Lifted.Has(int(e.end))
	case poleEdge:
		return n.poleClosed(s, e.source, e.leg)
	case emfEdge:
		return false
	}
	return true
}

// ohms is the resistance of an edge when it conducts.
func (n *Network) ohms(e *edge, act *Actual) float64 {
	switch e.kind {
	case elemEdge:
		return n.elemOhms(e.part, e.elem, act)
	case jointEdge:
		return n.jointOhms(e.end, act)
	case frameEdge:
		return float64(FrameOhms)
	case panelEdge:
		if act != nil && act.Bond > 0 {
			return math.Max(float64(act.Bond), leastOhms)
		}
		return float64(PanelOhms)
	case emfEdge:
		if z := n.unit.Sources[e.source].Impedance; z > 0 {
			return math.Max(float64(z), leastOhms)
		}
		return float64(SourceOhms)
	}
	return float64(RunOhms) * n.unit.Sources[e.source].Breaker.thicker()
}

// thicker is the resistance of supply wiring behind a breaker as a share of that behind
// 20 A.
func (b Breaker) thicker() float64 {
	if b.Amps <= 20 {
		return 1
	}
	return 20 / float64(b.Amps)
}
