package circuit

import (
	"cmp"
	"math"
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
	size := math.Max(float64(f.Ohms), leastOhms)
	if e < 0 { // a shunt at one node
		return Change{A: node, B: Chassis, WA: 1, Inv: size}, !math.IsInf(size, 1)
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
	is := altered(f, was, sound)
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
	bad := &FaultError{Placed: f}
	if math.IsNaN(float64(f.Ohms)) || math.IsNaN(f.At) || f.Ohms < 0 {
		return -1, Chassis, bad
	}
	switch f.Mode {
	case Chafed, Broken, HighOhms:
		if f.Wire < 0 || int(f.Wire) >= len(u.Wires) {
			return -1, Chassis, bad
		}
		if f.Mode == Chafed {
			return -1, n.Wire(f.Wire), nil
		}
		if f.End < 0 || f.End > 1 || n.ends[f.Wire][f.End] < 0 {
			return -1, Chassis, bad
		}
		return n.ends[f.Wire][f.End], Chassis, nil
	}
	if f.Part < 0 || int(f.Part) >= len(u.Parts) || f.Elem < 0 {
		return -1, Chassis, bad
	}
	part := &u.Parts[f.Part]
	if f.Mode == EarthedTerm { // Elem is the index in Part.Terms
		if f.Elem >= len(part.Terms) {
			return -1, Chassis, bad
		}
		return -1, n.Term(part.Terms[f.Elem]), nil
	}
	if f.Elem >= len(part.Elems) || n.elems[f.Part][f.Elem] < 0 {
		return -1, Chassis, bad
	}
	contact := part.Elems[f.Elem].Role == Contact
	switch f.Mode {
	case Welded, NeverCloses:
		if !contact {
			return -1, Chassis, bad
		}
	case Earthed, OpenCircuit, ShortedTurns, ShortCircuit:
	default:
		return -1, Chassis, bad
	}
	return n.elems[f.Part][f.Elem], Chassis, nil
}

// altered is the resistance of an edge under a fault other than an earth, given what
// it was in this state (+Inf: open) and what it is when sound and closed.
func altered(f Placed, was, sound float64) float64 {
	if math.IsInf(was, 1) && f.Mode != ShortCircuit && f.Mode != Welded {
		return was
	}
	switch f.Mode {
	case OpenCircuit, NeverCloses, Broken:
		return math.Inf(1)
	case ShortedTurns:
		return math.Max(was*math.Min(float64(f.Ohms), 1), leastOhms)
	case ShortCircuit:
		return math.Max(float64(f.Ohms), leastOhms)
	case Welded:
		if !math.IsInf(was, 1) {
			return was
		}
		if f.Ohms == 0 {
			return sound
		}
		return math.Max(float64(f.Ohms), leastOhms)
	case HighOhms:
		return was + float64(f.Ohms)
	}
	return was
}

func within(x float64) float64 { return math.Min(math.Max(x, 0), 1) }

// apply puts faults into the conductances of the edges and the leaks of the nodes.
// Earths on elements go last, several on one element together. An element that is
// burnt through and earthed is broken on the far side of its first earth, as seen from
// terminal A.
func (n *Network) apply(faults []Placed, act *Actual, g, leak []float64) error {
	var earths []Placed
	for _, f := range faults {
		e, node, err := n.place(f)
		switch {
		case err != nil:
			return err
		case f.Mode == Earthed:
			earths = append(earths, f)
		case e < 0:
			leak[node] += 1 / math.Max(float64(f.Ohms), leastOhms)
		default:
			g[e] = 1 / altered(f, 1/g[e], n.ohms(&n.edges[e], act))
		}
	}
	for i, f := range earths {
		same := func(o Placed) bool { return o.Part == f.Part && o.Elem == f.Elem }
		if slices.IndexFunc(earths, same) < i {
			continue // done with the first of them
		}
		var taps []tap
		for _, o := range earths[i:] {
			if same(o) {
				taps = append(taps, tap{at: within(o.At), g: 1 / math.Max(float64(o.Ohms), leastOhms)})
			}
		}
		e := n.elems[f.Part][f.Elem]
		ed := &n.edges[e]
		r := 1 / g[e]
		var atA, atB float64
		if !math.IsInf(r, 1) {
			g[e], atA, atB = ladder(r, taps)
		} else if n.unit.Parts[f.Part].Elems[f.Elem].Role == Contact {
			for _, t := range taps {
				if math.Round(t.at) == 0 {
					atA += t.g
				} else {
					atB += t.g
				}
			}
		} else {
			first := earliest(taps)
			atA = 1 / (1/first.g + first.at*n.ohms(ed, act))
		}
		leak[ed.a] += atA
		leak[ed.b] += atB
	}
	return nil
}

// tap is an earth on an element: how far from terminal A, and its siemens.
type tap struct{ at, g float64 }

func earliest(taps []tap) tap {
	return slices.MinFunc(taps, func(x, y tap) int { return cmp.Compare(x.at, y.at) })
}

// ladder returns the mesh that an element of r ohms with earths along it makes between
// its ends and the frame: siemens from end to end, from A and from B to the frame. The
// points along the element are eliminated in turn, as in order.factor.
func ladder(r float64, taps []tap) (ab, atA, atB float64) {
	slices.SortStableFunc(taps, func(x, y tap) int { return cmp.Compare(x.at, y.at) })
	at := 0.0
	for i, t := range taps {
		step := 1 / math.Max((t.at-at)*r, 1e-12) // never zero: two points may fall together
		at = t.at
		if i == 0 {
			ab, atB = step, t.g
			continue
		}
		sum := ab + atB + step
		ab, atA, atB = ab*step/sum, atA+ab*atB/sum, step*atB/sum+t.g
	}
	step := 1 / math.Max((1-at)*r, 1e-12)
	sum := ab + atB + step
	return ab * step / sum, atA + ab*atB/sum, step * atB / sum
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
	least := cut * cut / (cut + 2/v.net.leak)
	if x*x <= 1e-9*h.yy*least {
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
