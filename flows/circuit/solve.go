package circuit

import (
	"math"
	"slices"

	"halfsplit/flows/quantity"
)

// Solved is the de-energised circuit in one state, ready to be read between any two
// nodes. It is immutable and may be shared between goroutines.
type Solved struct {
	net  *Network
	mul  []float64 // multipliers of the elimination, by slot
	root []float64 // 1/√pivot, by position
	g    []float64 // siemens of every edge, as factored
	leak []float64 // siemens to the frame by node, without the edges to it
}

// Dead solves the sound circuit in state s with every source dead. Contactors and
// relays stand at rest unless State.At holds them in. A source that is switched on is
// joined through its isolator but gives no voltage.
func (n *Network) Dead(s State) *Solved {
	v, _ := n.DeadUnder(s, nil, nil) // without faults there is nothing to refuse
	return v
}

// DeadUnder solves the circuit in state s under faults and with the values of one
// specimen (nil: nominal). It is right for any number of faults in any place. The
// error is a *FaultError.
func (n *Network) DeadUnder(s State, f []Placed, act *Actual) (*Solved, error) {
	v := &Solved{net: n, g: n.conductances(s, act), leak: make([]float64, n.nodes)}
	for i := range v.leak {
		v.leak[i] = n.leak
		if act != nil && i < len(act.Leak) {
			v.leak[i] += math.Max(act.Leak[i], 0)
		}
	}
	if len(f) > 0 {
		now := func(e int) complex128 { return complex(1/v.g[e], 0) }
		sound := func(e int) complex128 { return complex(n.ohms(&n.edges[e], act), 0) }
		edges, shunts, err := n.patches(f, now, sound)
		if err != nil {
			return nil, err
		}
		for _, p := range edges {
			v.g[p.edge] = 1 / real(p.z)
			e := &n.edges[p.edge]
			if p.atA != 0 {
				v.leak[e.a] += real(p.atA)
			}
			if p.atB != 0 {
				v.leak[e.b] += real(p.atB)
			}
		}
		for _, sh := range shunts {
			v.leak[sh.node] += sh.g
		}
	}
	o := n.sym
	buf := make([]float64, len(o.rows)+2*n.nodes)
	v.mul, buf = buf[:len(o.rows)], buf[len(o.rows):]
	leak := buf[:n.nodes]
	v.root = buf[n.nodes:]
	for node, k := range o.at {
		leak[k] = v.leak[node]
	}
	for i := range n.edges {
		if slot := n.edges[i].slot; slot < 0 {
			leak[-1-slot] += v.g[i]
		} else {
			v.mul[slot] += v.g[i]
		}
	}
	o.factor(v.mul, leak, v.root)
	return v, nil
}

// Ohms solves the circuit in state s under faults and reads it between a and b. It is
// +Inf above OLAbove. The error is a *FaultError.
func (n *Network) Ohms(s State, f []Placed, a, b Node) (quantity.Ohms, error) {
	v, err := n.DeadUnder(s, f, nil)
	if err != nil {
		return 0, err
	}
	r := v.Ohms(a, b)
	if r > OLAbove {
		r = quantity.Ohms(math.Inf(1))
	}
	return r, nil
}

// Ohms is the resistance between two nodes, either of which may be Chassis: +Inf above
// Ceiling, exact to about 1e-13 below.
func (v *Solved) Ohms(a, b Node) quantity.Ohms {
	var at [64]int32
	var y [64]float64
	_, _, yy := v.column(a, 1, b, -1, at[:0], y[:0])
	return ceiling(yy)
}

// Half is half a column of the inverse: two of them give the reading that one causes
// at the other. Halves of one Solved go together, those of two must not be mixed. The
// zero Half is that of a node with itself.
type Half struct {
	at []int32 // positions, ascending
	y  []float64
	yy float64 // y·y
}

// Half returns the half-column between a and b.
func (v *Solved) Half(a, b Node) Half { return v.half(a, 1, b, -1) }

// HalfOf returns the half-column of the point or pair of points at which a change acts.
func (v *Solved) HalfOf(c Change) Half { return v.half(c.A, c.WA, c.B, c.WB) }

func (v *Solved) half(a Node, wa float64, b Node, wb float64) (h Half) {
	var at [64]int32
	var y [64]float64
	ha, hy, yy := v.column(a, wa, b, wb, at[:0], y[:0])
	return Half{at: slices.Clone(ha), y: slices.Clone(hy), yy: yy}
}

// column appends the half-column of wa·e_a + wb·e_b to two empty buffers, and returns
// them with its square. Only positions on the tree paths from a and b to the root have
// entries.
func (v *Solved) column(a Node, wa float64, b Node, wb float64, at []int32, y []float64) ([]int32, []float64, float64) {
	o := v.net.sym
	p, q := int32(-1), int32(-1)
	if a != Chassis && wa != 0 {
		p = o.at[a]
	}
	if b != Chassis && wb != 0 {
		q = o.at[b]
	}
	if p == q && wa+wb == 0 {
		return at, y, 0
	}
	for i, j := p, q; i >= 0 || j >= 0; {
		var k int32
		if i, j, k = o.climb(i, j); k == p || k == q {
			w := 0.0
			if k == p {
				w = wa
			}
			if k == q {
				w += wb
			}
			y = append(y, w)
		} else {
			y = append(y, 0)
		}
		at = append(at, k)
	}
	yy := 0.0
	for i, k := range at {
		yk := y[i]
		if yk == 0 {
			continue
		}
		lo, hi := o.ptr[k], o.ptr[k+1]
		mul := v.mul[lo:hi]
		to := i + 1
		for j, r := range o.rows[lo:hi] {
			for at[to] != r { // rows of a position lie on its path
				to++
			}
			y[to] += mul[j] * yk
		}
		yk *= v.root[k]
		y[i] = yk
		yy += yk * yk
	}
	return at, y, yy
}

// Ohms is the resistance between the two nodes of the half-column, +Inf above Ceiling.
func (h Half) Ohms() quantity.Ohms { return ceiling(h.yy) }

func ceiling(r float64) quantity.Ohms {
	if r > float64(Ceiling) {
		return quantity.Ohms(math.Inf(1))
	}
	return quantity.Ohms(r)
}

// Dot is x'Zy, in ohms: the volts that one ampere through the pair of y puts across
// the pair of x, and the other way round.
func Dot(x, y Half) float64 {
	var sum float64
	xa, ya := x.at, y.at
	xy, yy := x.y[:len(xa)], y.y[:len(ya)]
	// From the root down: the paths run together until they part.
	i, j := len(xa)-1, len(ya)-1
	for i >= 0 && j >= 0 {
		a, b := xa[i], ya[j]
		if a == b {
			sum += xy[i] * yy[j]
			i--
			j--
			continue
		}
		if a > b {
			i--
		} else {
			j--
		}
	}
	return sum
}
