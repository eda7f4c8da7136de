package circuit

import "math"

// ShareKind is what a share of a reading runs through.
type ShareKind uint8

// The kinds of share. Only the fields that belong to the kind are set; the others are
// None.
const (
	ElemShare   ShareKind = iota // Part, Elem
	JointShare                   // End
	SupplyShare                  // Source, Leg: a conductor to the panel
	BondShare                    // Source: a bond of neutral or frame
	LeakShare                    // Node: a path to the frame that is no part of the sound unit
)

// Share is the part of the power of a measurement that goes into one element, joint,
// conductor, bond or leak. It is also d ln R / d ln R_k: what one per cent more in
// that resistance does to the reading, in per cent.
type Share struct {
	Kind   ShareKind
	Part   PartID
	Elem   int
	End    EndID
	Source int
	Leg    int
	Node   Node
	Of     float64 // 0..1
}

// negligible shares are left out.
const negligible = 1e-12

// Shares lists where the power of a measurement between two nodes goes, in the order
// elements, joints, supply, leaks, each in file order. The shares add up to 1. Nil if
// the reading is above Ceiling or the nodes are one.
func (v *Solved) Shares(a, b Node) []Share {
	r := float64(v.Ohms(a, b))
	if math.IsInf(r, 1) || r == 0 {
		return nil
	}
	at := v.Volts(a, b)
	blank := Share{Part: None, Elem: None, End: None, Source: None, Leg: None, Node: Chassis}
	var out []Share
	add := func(s Share, g, volts float64) {
		if s.Of = g * volts * volts / r; s.Of > negligible {
			out = append(out, s)
		}
	}
	volts := func(x Node) float64 {
		if x == Chassis {
			return 0
		}
		return at[x]
	}
	for i := range v.net.edges {
		e := &v.net.edges[i]
		s := blank
		switch e.kind {
		case elemEdge:
			s.Kind, s.Part, s.Elem = ElemShare, e.part, e.elem
		case jointEdge:
			s.Kind, s.End = JointShare, e.end
		case poleEdge:
			s.Kind, s.Source, s.Leg = SupplyShare, e.source, e.leg
		default:
			s.Kind, s.Source = BondShare, e.source
		}
		add(s, v.g[i], volts(e.a)-volts(e.b))
	}
	for x, g := range v.leak {
		s := blank
		s.Kind, s.Node = LeakShare, Node(x)
		add(s, g, at[x])
	}
	return out
}

// Volts is the voltage of every node against the frame while one ampere is sent in at
// a and taken out at b, in volts.
func (v *Solved) Volts(a, b Node) []float64 {
	o := v.net.sym
	x := make([]float64, o.n)
	if a != Chassis {
		x[o.at[a]]++
	}
	if b != Chassis {
		x[o.at[b]]--
	}
	for k := range o.n {
		if x[k] == 0 {
			continue
		}
		lo := o.ptr[k]
		for i, r := range o.below(k) {
			x[r] += v.mul[lo+int32(i)] * x[k]
		}
		x[k] *= v.root[k] * v.root[k]
	}
	for k := o.n - 1; k >= 0; k-- {
		lo := o.ptr[k]
		for i, r := range o.below(k) {
			x[k] += v.mul[lo+int32(i)] * x[r]
		}
	}
	out := make([]float64, o.n)
	for node, k := range o.at {
		out[node] = x[k]
	}
	return out
}
