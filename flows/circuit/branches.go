package circuit

import (
	"errors"
	"math"
)

// Branch is one conductor of a measurement: of one ampere sent in at the first probe,
// Amps run from From to To. Kind and the fields that belong to it are as in Share.
type Branch struct {
	Kind   ShareKind
	Part   PartID
	Elem   int
	End    EndID
	Source int
	Leg    int
	From   Node
	To     Node
	Amps   float64 // 0..1
	Ohms   float64
}

// Branches lists where a current of one ampere from a to b runs, in the order of the
// network's edges, without what carries less than one part in 1e6. Leaks are left out.
// Nil if the reading is above Ceiling or the nodes are one.
func (v *Solved) Branches(a, b Node) []Branch {
	if r := float64(v.Ohms(a, b)); math.IsInf(r, 1) || r == 0 {
		return nil
	}
	at := v.Volts(a, b)
	volts := func(x Node) float64 {
		if x == Chassis {
			return 0
		}
		return at[x]
	}
	var out []Branch
	for i := range v.net.edges {
		e := &v.net.edges[i]
		amps := v.g[i] * (volts(e.a) - volts(e.b))
		if math.Abs(amps) < 1e-6 {
			continue
		}
		br := Branch{Part: None, Elem: None, End: None, Source: None, Leg: None, From: e.a, To: e.b, Amps: amps, Ohms: 1 / v.g[i]}
		if amps < 0 {
			br.From, br.To, br.Amps = e.b, e.a, -amps
		}
		switch e.kind {
		case elemEdge:
			br.Kind, br.Part, br.Elem = ElemShare, e.part, e.elem
		case jointEdge:
			br.Kind, br.End = JointShare, e.end
		case poleEdge:
			br.Kind, br.Source, br.Leg = SupplyShare, e.source, e.leg
		default:
			br.Kind, br.Source = BondShare, e.source
		}
		out = append(out, br)
	}
	return out
}

// Multiple is AtOnce for one specimen (nil: nominal values).
func (n *Network) Multiple(s State, f []Placed, act *Actual) (multiple float64, err error) {
	_, most, err := n.settle(s, f, act)
	if errors.Is(err, ErrBuzz) || errors.Is(err, ErrRace) {
		err = nil
	}
	return most, err
}
