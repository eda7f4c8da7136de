package circuit

import (
	"cmp"
	"errors"
	"math"
	"math/cmplx"
	"slices"

	"halfsplit/flows/quantity"
)

// Errors of contactors that do not come to rest.
var (
	// ErrBuzz says that a contactor or relay drops itself out and pulls in again.
	ErrBuzz = errors.New("circuit: a contactor does not settle")
	// ErrRace says that which contactor pulls in depends on which is faster.
	ErrRace = errors.New("circuit: contactors race")
)

// Shares of the rated coil volts.
const (
	// PullIn is where a contactor at rest pulls in: at 85 % it must (IEC 60947-4-1
	// cl. 8.2.1.2, from memory).
	PullIn = 0.85
	// DropOut is where one that is in falls out: between 20 and 75 % (the same clause,
	// from memory); one half is taken.
	DropOut = 0.50
)

// unknownBreaker is the rating taken for a breaker of which none is known: that of an
// ordinary branch circuit. Common practice, no source.
const unknownBreaker quantity.Amps = 20

// weakCoil is the share of its sound impedance below which a shorted coil no longer
// pulls. Common practice, no source.
const weakCoil = 0.25

// Live is the energised unit in one state, contactors settled. Volts and amperes are
// rms; phases are those of Source.AngleDeg. It is immutable.
type Live struct {
	// Multiple is the greatest current in a leg over the rating of its breaker, of all
	// sources that are on; an unknown rating counts as 20 A.
	Multiple float64
	// In holds the contactors and relays (by PartID) that are pulled in.
	In Bits

	net   *Network
	volts []complex128 // by node
	y     []complex128 // by edge
	ends  []patch      // what faults connect from the ends of elements to the frame
	wound []wound      // currents in the windings of transformers
	legs  [][]complex128
}

// Phasor is the voltage of a node against the frame.
func (l *Live) Phasor(a Node) complex128 { return voltsAcross(l.volts, a, Chassis) }

// Volts is what a voltmeter reads between two nodes, either of which may be Chassis.
func (l *Live) Volts(a, b Node) quantity.Volts {
	return quantity.Volts(cmplx.Abs(voltsAcross(l.volts, a, b)))
}

// LegAmps is the current in a leg of a source (index in Source.Legs), neutral and
// earth included.
func (l *Live) LegAmps(source, leg int) quantity.Amps {
	return quantity.Amps(cmplx.Abs(l.legs[source][leg]))
}

// Amps is the current in an element, the larger one where a fault to the frame makes
// those at its two ends differ.
func (l *Live) Amps(p PartID, elem int) quantity.Amps {
	i := l.net.elems[p][elem]
	if i < 0 {
		return 0
	}
	e := &l.net.edges[i]
	through := l.y[i] * voltsAcross(l.volts, e.a, e.b)
	at := []complex128{through, through}
	for _, w := range l.wound {
		if w.edge == i {
			at[0] += w.in
			at[1] += w.out
		}
	}
	for _, p := range l.ends {
		if p.edge == i {
			at[0] += p.atA * voltsAcross(l.volts, e.a, Chassis)
			at[1] -= p.atB * voltsAcross(l.volts, e.b, Chassis)
		}
	}
	return quantity.Amps(math.Max(cmplx.Abs(at[0]), cmplx.Abs(at[1])))
}

// Live energises the unit as State.On says, under faults and with the values of one
// specimen (nil: nominal), and lets its contactors and relays settle: from rest, or
// from State.Held. The error is ErrBuzz, ErrRace, ErrSingular or a *FaultError.
func (n *Network) Live(s State, f []Placed, act *Actual) (*Live, error) {
	l, _, err := n.settle(s, f, act)
	return l, err
}

// AtOnce is the greatest multiple of its rating that a breaker sees on the way to rest
// in state s under faults: before, while and after contactors move. It does not matter
// for it whether they ever settle. The error is a *FaultError.
func (n *Network) AtOnce(s State, f []Placed) (multiple float64, err error) {
	_, most, err := n.settle(s, f, nil)
	if errors.Is(err, ErrBuzz) || errors.Is(err, ErrRace) {
		err = nil
	}
	return most, err
}

// supply is one settling of the contactors.
type supply struct {
	net   *Network
	s     State
	act   *Actual
	z     []complex128 // impedance of every edge when it conducts, without faults
	f     []Placed
	coils []int // edges
	most  float64
}

// settle finds the fixed point of the contactors: all at once first, and if that goes
// round in circles, one by one in file order and in the reverse order.
func (n *Network) settle(s State, f []Placed, act *Actual) (*Live, float64, error) {
	for _, p := range f {
		if _, _, err := n.place(p); err != nil {
			return nil, 0, err
		}
	}
	t := &supply{net: n, s: s, act: act, f: f, z: make([]complex128, len(n.edges))}
	start := Bits("")
	for i := range n.edges {
		e := &n.edges[i]
		t.z[i] = n.lively(e, act)
		if e.kind == elemEdge && n.elem(e).Coil {
			t.coils = append(t.coils, i)
			if s.Held.Has(int(e.part)) {
				start = start.With(int(e.part))
			}
		}
	}
	seen := []Bits{}
	for in := start; !slices.Contains(seen, in); {
		seen = append(seen, in)
		l, err := t.solve(in)
		if err != nil {
			return nil, t.most, err
		}
		next := in
		for _, c := range t.coils {
			next = t.moved(next, c, l)
		}
		if next == in {
			return l, t.most, nil
		}
		in = next
	}
	one, err := t.inTurn(start, t.coils)
	if err != nil {
		return nil, t.most, err
	}
	back := slices.Clone(t.coils)
	slices.Reverse(back)
	other, err := t.inTurn(start, back)
	if err != nil {
		return nil, t.most, err
	}
	if one.In != other.In {
		return nil, t.most, ErrRace
	}
	return one, t.most, nil
}

// inTurn moves one contactor at a time, in the given order of coils, until none moves.
func (t *supply) inTurn(in Bits, coils []int) (*Live, error) {
	var seen []Bits
	for !slices.Contains(seen, in) {
		seen = append(seen, in)
		l, err := t.solve(in)
		if err != nil {
			return nil, err
		}
		moved := false
		for _, c := range coils {
			if next := t.moved(in, c, l); next != in {
				in, moved = next, true
				if l, err = t.solve(in); err != nil {
					return nil, err
				}
			}
		}
		if !moved {
			return l, nil
		}
	}
	return nil, ErrBuzz
}

// moved returns the set of contactors that are in after the one of coil edge c has
// followed its volts in solution l.
func (t *supply) moved(in Bits, c int, l *Live) Bits {
	e := &t.net.edges[c]
	rated := float64(t.net.unit.Parts[e.part].Volts)
	p := int(e.part)
	limit := PullIn
	if in.Has(p) {
		limit = DropOut
	}
	v := float64(l.Volts(e.a, e.b))
	pulls := rated > 0 && v >= limit*rated && l.y[c] != 0 && cmplx.Abs(1/l.y[c]) >= weakCoil*cmplx.Abs(t.z[c])
	if pulls {
		return in.With(p)
	}
	return in.Without(p)
}

// lively is the impedance of an edge at line frequency when it conducts.
func (n *Network) lively(e *edge, act *Actual) complex128 {
	r := n.ohms(e, act)
	if e.kind != elemEdge {
		return complex(r, 0)
	}
	el := n.elem(e)
	if el.Lively == 0 || cmplx.Abs(el.Lively) < leastOhms {
		return complex(r, 0)
	}
	if nominal := n.elemOhms(e.part, e.elem, nil); r != nominal { // a specimen: in the same proportion
		return el.Lively * complex(r/nominal, 0)
	}
	return el.Lively
}

// conducts reports whether an edge conducts with the given contactors in.
func (t *supply) conducts(e *edge, in Bits) bool {
	switch e.kind {
	case emfEdge:
		return t.s.On.Has(e.source)
	case elemEdge:
		if t.net.elem(e).Turns != 0 {
			return false // its current follows from the coupling, see energise
		}
		at := t.s.Position(t.net.unit, e.part)
		if in.Has(int(e.part)) {
			at = 1
		}
		return closed(t.net.elem(e), at)
	}
	return t.net.joined(t.s, e)
}

// solve energises the unit with the given contactors in.
func (t *supply) solve(in Bits) (*Live, error) {
	n := t.net
	l := &Live{In: in, net: n, y: make([]complex128, len(n.edges))}
	leak := make([]complex128, n.nodes)
	for i := range leak {
		leak[i] = complex(n.leak, 0)
		if t.act != nil && i < len(t.act.Leak) {
			leak[i] += complex(math.Max(t.act.Leak[i], 0), 0)
		}
	}
	now := func(e int) complex128 {
		if t.conducts(&n.edges[e], in) {
			return t.z[e]
		}
		return cmplx.Inf()
	}
	for i := range l.y {
		l.y[i] = admittance(now(i))
	}
	edges, shunts, err := n.patches(n.outsideCores(t.f), now, func(e int) complex128 { return t.z[e] })
	if err != nil {
		return nil, err
	}
	for _, p := range edges {
		l.y[p.edge] = admittance(p.z)
		e := &n.edges[p.edge]
		if p.atA != 0 || p.atB != 0 {
			l.ends = append(l.ends, p)
			leak[e.a] += p.atA
			leak[e.b] += p.atB
		}
	}
	for _, sh := range shunts {
		leak[sh.node] += complex(sh.g, 0)
	}
	amps := make([]complex128, n.nodes)
	for i := range n.edges {
		if e := &n.edges[i]; e.kind == emfEdge && l.y[i] != 0 {
			j := n.emf(e) * l.y[i]
			amps[e.a] += j
			amps[e.b] -= j
		}
	}
	if l.volts, l.wound, err = t.energise(l.y, leak, amps); err != nil {
		return nil, err
	}
	for _, v := range l.volts {
		if cmplx.IsNaN(v) || cmplx.IsInf(v) {
			return nil, ErrSingular
		}
	}
	l.legs = n.legAmps(l)
	for i, legs := range l.legs {
		src := &n.unit.Sources[i]
		for k, a := range legs {
			if leg := src.Legs[k]; leg != "N" && leg != "PE" {
				l.Multiple = math.Max(l.Multiple, cmplx.Abs(a)/float64(cmp.Or(src.Breaker.Amps, unknownBreaker)))
			}
		}
	}
	t.most = math.Max(t.most, l.Multiple)
	return l, nil
}

func admittance(z complex128) complex128 {
	if cmplx.IsInf(z) {
		return 0
	}
	return 1 / z
}

// legAmps is the current in each leg: towards the unit out of the supply for live
// legs, in the conductor for neutral and earth.
func (n *Network) legAmps(l *Live) [][]complex128 {
	out := make([][]complex128, len(n.unit.Sources))
	for i := range out {
		out[i] = make([]complex128, len(n.unit.Sources[i].Legs))
	}
	for i := range n.edges {
		e := &n.edges[i]
		across := voltsAcross(l.volts, e.a, e.b)
		switch e.kind {
		case emfEdge:
			if l.y[i] != 0 {
				out[e.source][e.leg] += (n.emf(e) - across) * l.y[i]
			}
		case poleEdge:
			if leg := n.unit.Sources[e.source].Legs[e.leg]; leg == "N" || leg == "PE" {
				out[e.source][e.leg] += across * l.y[i]
			}
		}
	}
	return out
}

// emf is the phasor of a leg against the star point. Where the file gives only volts
// from leg to leg, those to the star point follow from the angles of the first two.
func (n *Network) emf(e *edge) complex128 {
	src := &n.unit.Sources[e.source]
	var angles []float64
	here, live := 0, 0
	for i, leg := range src.Legs {
		if leg == "N" || leg == "PE" {
			continue
		}
		if i == e.leg {
			here = live
		}
		switch {
		case len(src.AngleDeg) == len(src.Legs):
			angles = append(angles, src.AngleDeg[i])
		case live < len(src.AngleDeg):
			angles = append(angles, src.AngleDeg[live])
		default:
			angles = append(angles, 0)
		}
		live++
	}
	unit := func(i int) complex128 { return cmplx.Rect(1, angles[i]*math.Pi/180) }
	volts := float64(src.LegToNeutral)
	if volts == 0 && live >= 2 {
		if span := cmplx.Abs(unit(0) - unit(1)); span > 0 {
			volts = float64(src.LegToLeg) / span
		}
	}
	return complex(volts, 0) * unit(here)
}

// phasors solves the network for injected amperes by star-mesh elimination in the
// order of the unit, as in order.factor: admittances of passive parts only, so nothing
// cancels but a resonance.
func (n *Network) phasors(y, shunt, amps []complex128) []complex128 {
	o := n.sym
	a := make([]complex128, len(o.rows))
	leak := make([]complex128, n.nodes)
	x := make([]complex128, n.nodes)
	for node, k := range o.at {
		leak[k], x[k] = shunt[node], amps[node]
	}
	for i := range n.edges {
		if slot := n.edges[i].slot; slot < 0 {
			leak[-1-slot] += y[i]
		} else {
			a[slot] += y[i]
		}
	}
	next := 0
	for k := range o.n {
		lo, hi := int(o.ptr[k]), int(o.ptr[k+1])
		col, rows := a[lo:hi], o.rows[lo:hi]
		d := leak[k]
		for _, g := range col {
			d += g
		}
		own, inv := leak[k], 1/d
		for i, g := range col {
			l := g * inv
			into := o.into[next : next+len(col)-i-1]
			next += len(into)
			if l != 0 {
				for j, s := range into {
					a[s] += l * col[i+1+j]
				}
				leak[rows[i]] += l * own
				x[rows[i]] += l * x[k]
			}
			col[i] = l
		}
		x[k] *= inv
	}
	for k := o.n - 1; k >= 0; k-- {
		lo, hi := o.ptr[k], o.ptr[k+1]
		for i, r := range o.rows[lo:hi] {
			x[k] += a[lo+int32(i)] * x[r]
		}
	}
	out := make([]complex128, n.nodes)
	for node, k := range o.at {
		out[node] = x[k]
	}
	return out
}
