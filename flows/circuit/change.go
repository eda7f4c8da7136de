package circuit

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"halfsplit/flows/quantity"
)

// Change is a fault as one change of the network: a branch of 1/Inv siemens is added
// from the point WA·A + WB·B (to the frame if only one weight is set or the weights
// add up to 1, between the nodes if they are 1 and -1). Inv is in ohms: 0 or more adds
// the branch, below 0 takes -1/Inv siemens away. A change with Inv +Inf is none at all.
type Change struct {
	A, B   Node
	WA, WB float64
	Inv    float64
}

// Idle reports whether the change is none: the fault makes no difference in the state
// it was asked for.
func (c Change) Idle() bool { return math.IsInf(c.Inv, 1) }

var idle = Change{A: Chassis, B: Chassis, Inv: math.Inf(1)}

// Change returns fault f as one change of the sound circuit in state s. If ok is false,
// either c.Idle reports that the fault makes no difference in this state (a welded
// contact that is closed anyway, a broken end that is lifted), or the fault is not of
// this form or has no place in the unit: then the caller uses DeadUnder.
func (n *Network) Change(s State, f Placed) (c Change, ok bool) {
	e, node, err := n.place(f)
	if err != nil {
		return Change{}, false
	}
	size := least(float64(f.Ohms))
	if e < 0 { // a shunt at one node
		if math.IsInf(size, 1) {
			return idle, false
		}
		return Change{A: node, B: Chassis, WA: 1, Inv: size}, true
	}
	ed := &n.edges[e]
	c = Change{A: ed.a, B: ed.b, WA: 1, WB: -1}
	sound := n.ohms(ed, nil)
	was := math.Inf(1)
	if n.joined(s, ed) {
		was = sound
	}
	if f.Mode == Earthed {
		x := within(f.At)
		if math.IsInf(was, 1) {
			x = math.Round(x) // an open contact is earthed on one side of its gap
			c.Inv = size
		} else {
			c.Inv = size + x*(1-x)*was
		}
		c.WA, c.WB = 1-x, x
		if math.IsInf(c.Inv, 1) {
			return idle, false
		}
		return c, true
	}
	is := real(altered(f, complex(was, 0), complex(sound, 0)))
	switch {
	case is == was:
		return idle, false
	case math.IsInf(is, 1):
		c.Inv = -was
	case math.IsInf(was, 1):
		c.Inv = is
	default:
		c.Inv = was * is / (was - is)
	}
	return c, true
}

// place finds the edge that a fault changes (-1: none) or the node that it earths.
func (n *Network) place(f Placed) (e int, node Node, err error) {
	u := n.unit
	refused := func() (int, Node, error) { return -1, Chassis, &FaultError{Placed: f} }
	if math.IsNaN(float64(f.Ohms)) || math.IsNaN(f.At) || f.Ohms < 0 {
		return refused()
	}
	switch f.Mode {
	case Chafed, Broken, HighOhms:
		if f.Wire < 0 || int(f.Wire) >= len(u.Wires) {
			return refused()
		}
		if f.Mode == Chafed {
			return -1, n.Wire(f.Wire), nil
		}
		if f.End < 0 || f.End > 1 || n.ends[f.Wire][f.End] < 0 {
			return refused()
		}
		return n.ends[f.Wire][f.End], Chassis, nil
	}
	if f.Part < 0 || int(f.Part) >= len(u.Parts) || f.Elem < 0 {
		return refused()
	}
	part := &u.Parts[f.Part]
	if f.Elem >= len(part.Elems) || n.elems[f.Part][f.Elem] < 0 {
		return refused()
	}
	el := &part.Elems[f.Elem]
	contact := el.Role == Contact
	switch f.Mode {
	case EarthedTerm:
		node := Node(el.A)
		if f.At >= 0.5 {
			node = Node(el.B)
		}
		if node == Chassis {
			return refused()
		}
		return -1, node, nil
	case Welded, NeverCloses:
		if !contact {
			return refused()
		}
	case Earthed:
		if el.B == None {
			return refused()
		}
	case OpenCircuit, ShortedTurns, ShortCircuit:
	default:
		return refused()
	}
	return n.elems[f.Part][f.Elem], Chassis, nil
}

// altered is the impedance of an edge under a fault other than an earth, given what it
// was in this state (infinite: open) and what it is when sound and closed.
func altered(f Placed, was, sound complex128) complex128 {
	if cmplx.IsInf(was) && f.Mode != ShortCircuit && f.Mode != Welded {
		return was
	}
	switch f.Mode {
	case OpenCircuit, NeverCloses, Broken:
		return cmplx.Inf()
	case ShortedTurns:
		share := math.Max(math.Min(float64(f.Ohms), 1), leastOhms/cmplx.Abs(was))
		return complex(share*real(was), share*imag(was))
	case ShortCircuit:
		return complex(least(float64(f.Ohms)), 0)
	case Welded:
		if !cmplx.IsInf(was) {
			return was
		}
		if f.Ohms == 0 {
			return sound
		}
		return complex(least(float64(f.Ohms)), 0)
	case HighOhms:
		if math.IsInf(float64(f.Ohms), 1) {
			return cmplx.Inf()
		}
		return was + complex(float64(f.Ohms), 0)
	}
	return was
}

func least(r float64) float64  { return math.Max(r, leastOhms) }
func within(x float64) float64 { return math.Min(math.Max(x, 0), 1) }

// patch is what faults make of one edge: its impedance, infinite if open, and the
// siemens from its ends to the frame.
type patch struct {
	edge     int
	z        complex128
	atA, atB complex128
}

// shunt is siemens from a node to the frame.
type shunt struct {
	node Node
	g    float64
}

// patches puts faults into the network: what they make of the edges, given the present
// and the sound impedance of each, and what they connect to the frame. Earths on
// elements go last, several on one element together. An element that is burnt through
// and earthed is broken on the far side of its first earth, as seen from terminal A.
func (n *Network) patches(faults []Placed, now, sound func(edge int) complex128) ([]patch, []shunt, error) {
	var out []patch
	var leaks []shunt
	of := func(e int) *patch {
		for i := range out {
			if out[i].edge == e {
				return &out[i]
			}
		}
		out = append(out, patch{edge: e, z: now(e)})
		return &out[len(out)-1]
	}
	earths := 0
	for _, f := range faults {
		e, node, err := n.place(f)
		switch {
		case err != nil:
			return nil, nil, err
		case f.Mode == Earthed:
			earths++
		case e < 0:
			leaks = append(leaks, shunt{node, 1 / least(float64(f.Ohms))})
		default:
			p := of(e)
			p.z = altered(f, p.z, sound(e))
		}
	}
	if earths == 0 {
		return out, leaks, nil
	}
	for i, f := range faults {
		same := func(o Placed) bool { return o.Mode == Earthed && o.Part == f.Part && o.Elem == f.Elem }
		if f.Mode != Earthed || slices.IndexFunc(faults, same) < i {
			continue // done with the first of them
		}
		var taps []tap
		for _, o := range faults[i:] {
			if same(o) {
				taps = append(taps, tap{at: within(o.At), g: 1 / least(float64(o.Ohms))})
			}
		}
		slices.SortStableFunc(taps, func(x, y tap) int { return cmp.Compare(x.at, y.at) })
		e := n.elems[f.Part][f.Elem]
		p := of(e)
		switch {
		case !cmplx.IsInf(p.z):
			var ab complex128
			ab, p.atA, p.atB = ladder(p.z, taps)
			p.z = 1 / ab
		case n.unit.Parts[f.Part].Elems[f.Elem].Role == Contact:
			for _, t := range taps {
				if math.Round(t.at) == 0 {
					p.atA += complex(t.g, 0)
				} else {
					p.atB += complex(t.g, 0)
				}
			}
		default:
			p.atA = 1 / (complex(1/taps[0].g, 0) + complex(taps[0].at, 0)*sound(e))
		}
	}
	return out, leaks, nil
}

// tap is an earth on an element: how far from terminal A, and its siemens.
type tap struct{ at, g float64 }

// ladder returns the mesh that an element of impedance z with earths along it, from A
// on, makes between its ends and the frame: siemens from end to end, from A and from B
// to the frame. The points along the element are eliminated in turn, as in
// order.factor.
func ladder(z complex128, taps []tap) (ab, atA, atB complex128) {
	at, size := 0.0, cmplx.Abs(z)
	// step is the admittance of a piece of the element, never infinite: two points may
	// fall together.
	step := func(share float64) complex128 {
		return 1 / (complex(math.Max(share, 1e-12/size), 0) * z)
	}
	for i, t := range taps {
		y := step(t.at - at)
		at = t.at
		if i == 0 {
			ab, atB = y, complex(t.g, 0)
			continue
		}
		sum := ab + atB + y
		ab, atA, atB = ab*y/sum, atA+ab*atB/sum, y*atB/sum+complex(t.g, 0)
	}
	y := step(1 - at)
	sum := ab + atB + y
	return ab * y / sum, atA + ab*atB/sum, y * atB / sum
}

// Limits of Under, in the terms used there.
const (
	cancel = 1e-6  // below this share of the sound reading, use the form without a difference
	near   = 1e-7  // below this share of the branch left over, solve anew
	noise  = 1e-12 // how far off that share may be
)

// Under returns the reading h under change c, hc being v.HalfOf(c). ok is false where
// the digits do not suffice, because the branch taken away was nearly the only path:
// then the caller uses DeadUnder. Where ok is true the two agree within 3e-7.
func (v *Solved) Under(h Half, c Change, hc Half) (r quantity.Ohms, ok bool) {
	if c.Idle() {
		return h.Ohms(), true
	}
	x := Dot(h, hc)
	left := c.Inv + hc.yy
	if c.Inv >= 0 {
		if left == 0 {
			return 0, false
		}
		if now := h.yy - x*x/left; now > cancel*h.yy {
			return ceiling(now), true
		}
		// The reading falls by most of itself: put it as a sum of squares instead,
		// that of the part of h across hc and that of the part along it.
		if hc.yy == 0 {
			return h.Ohms(), true
		}
		t := x / hc.yy
		return ceiling(across(h, hc, t) + t*t*hc.yy*c.Inv/left), true
	}
	cut := -c.Inv
	left = cut - hc.yy
	if left >= near*cut {
		return ceiling(h.yy + x*x/left), true
	}
	// The branch is almost the only path between its ends. What is left over is at
	// least what the leaks at both ends make of it, and at most what was computed and
	// a margin for its error.
	floor := cut * cut / (cut + 2/v.net.leak)
	if x*x <= 1e-9*h.yy*floor {
		return h.Ohms(), true
	}
	if x*x > 2*float64(Ceiling)*(math.Max(left, 0)+noise*cut) {
		return quantity.Ohms(math.Inf(1)), true
	}
	return 0, false
}

// across is |x - t·y|².
func across(x, y Half, t float64) float64 {
	var sum float64
	i, j := 0, 0
	for i < len(x.at) || j < len(y.at) {
		var d float64
		switch {
		case j == len(y.at) || i < len(x.at) && x.at[i] < y.at[j]:
			d = x.y[i]
			i++
		case i == len(x.at) || y.at[j] < x.at[i]:
			d = t * y.y[j]
			j++
		default:
			d = x.y[i] - t*y.y[j]
			i++
			j++
		}
		sum += d * d
	}
	return sum
}
