package circuit

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"halfsplit/flows/quantity"
)

// anyNet is a random network over twelve decades of resistance and leak, often in
// several islands.
func anyNet(r *rand.Rand, nodes int) ([]resistor, []float64) {
	var rs []resistor
	islands := 1 + r.IntN(3)
	for len(rs) < nodes || r.IntN(nodes) > 0 {
		a := r.IntN(nodes)
		b := r.IntN(nodes)
		if a != b && a%islands == b%islands {
			rs = append(rs, resistor{a, b, math.Pow(10, -2+8*r.Float64())})
		}
	}
	leak := make([]float64, nodes)
	for i := range leak {
		if r.IntN(6) == 0 {
			leak[i] = math.Pow(10, -11+9*r.Float64())
		}
	}
	return rs, leak
}

// bigOhms is the reading by Gaussian elimination on the nodal matrix with 300-bit
// numbers: a method that has nothing in common with the one under test. b may be -1.
func bigOhms(n *Network, leak []float64, rs []resistor, a, b int) float64 {
	num := func(x float64) *big.Float { return new(big.Float).SetPrec(300).SetFloat64(x) }
	m := make([][]*big.Float, n.nodes)
	for i := range m {
		m[i] = make([]*big.Float, n.nodes+1)
		for j := range m[i] {
			m[i][j] = num(0)
		}
		m[i][i].Add(num(n.leak), num(leak[i]))
	}
	for _, r := range rs {
		g := num(1)
		g.Quo(g, num(r.ohms))
		m[r.a][r.a].Add(m[r.a][r.a], g)
		m[r.b][r.b].Add(m[r.b][r.b], g)
		m[r.a][r.b].Sub(m[r.a][r.b], g)
		m[r.b][r.a].Sub(m[r.b][r.a], g)
	}
	m[a][n.nodes] = num(1)
	if b >= 0 {
		m[b][n.nodes] = num(-1)
	}
	for k := range m { // positive definite: no pivoting needed
		for i := range m {
			if i == k {
				continue
			}
			f := num(0).Quo(m[i][k], m[k][k])
			for j := k; j <= n.nodes; j++ {
				m[i][j].Sub(m[i][j], num(0).Mul(f, m[k][j]))
			}
		}
	}
	v := num(0).Quo(m[a][n.nodes], m[a][a])
	if b >= 0 {
		v.Sub(v, num(0).Quo(m[b][n.nodes], m[b][b]))
	}
	x, _ := v.Float64()
	return x
}

// The solver against 300-bit arithmetic (math/big) on random networks from 0.01 Ω to
// 1 MΩ with floating islands and leaks, between nodes and to the frame.
func TestSolverAgainstLongArithmetic(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	worst, read := 0.0, 0
	for range 60 {
		nodes := 5 + r.IntN(14)
		rs, leak := anyNet(r, nodes)
		if r.IntN(3) == 0 { // dead shorts
			rs[0].ohms, rs[len(rs)-1].ohms = leastOhms, leastOhms
		}
		n := NewNetwork(netlist(nodes, rs))
		v, err := n.DeadUnder(State{}, nil, &Actual{Leak: leak})
		if err != nil {
			t.Fatal(err)
		}
		for range 12 {
			a, b := r.IntN(nodes), r.IntN(nodes+1)-1
			if a == b {
				continue
			}
			want := bigOhms(n, leak, rs, a, b)
			got := v.Half(Node(a), Node(b)).yy // without the ceiling
			if math.IsInf(float64(v.Ohms(Node(a), Node(b))), 1) != (want > float64(Ceiling)) {
				t.Errorf("ceiling: %v Ω reads %v", want, v.Ohms(Node(a), Node(b)))
			}
			off := math.Abs(got-want) / want
			worst = math.Max(worst, off)
			if off > 1e-12 {
				t.Errorf("%d nodes, %d to %d: %v, want %v", nodes, a, b, got, want)
			}
			read++
		}
	}
	t.Logf("%d readings, worst relative error %.1e", read, worst)
}

// The minimum-degree order of a tree makes no fill: as many slots as edges.
func TestOrderOfATreeHasNoFill(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	var pairs [][2]int32
	for i := int32(1); i < 200; i++ {
		pairs = append(pairs, [2]int32{r.Int32N(i), i})
	}
	if o := newOrder(200, pairs); len(o.rows) != len(pairs) {
		t.Errorf("tree of 200 nodes: %d slots, want %d", len(o.rows), len(pairs))
	}
}

// A reading is the same whichever way round the probes are, and a node reads 0 to
// itself.
func TestReadingIsSymmetric(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	rs, _ := anyNet(r, 15)
	v := NewNetwork(netlist(15, rs)).Dead(State{})
	for a := range 15 {
		if got := v.Ohms(Node(a), Node(a)); got != 0 {
			t.Errorf("node %d to itself: %v", a, got)
		}
		for b := range a {
			x, y := v.Ohms(Node(a), Node(b)), v.Ohms(Node(b), Node(a))
			if !same(x, y, 1e-13) {
				t.Errorf("%d to %d: %v one way, %v the other", a, b, x, y)
			}
		}
	}
	if got := v.Ohms(Chassis, Chassis); got != 0 {
		t.Errorf("frame to itself: %v", got)
	}
}

// Foster's theorem (1949): the sum over all resistors of g·R between their ends is the
// number of nodes less the number of connected components. The leaks count as resistors
// to the frame, which is one more node and joins all components to one.
func TestFosterSum(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for range 40 {
		nodes := 3 + r.IntN(40)
		rs, leak := anyNet(r, nodes)
		n := NewNetwork(netlist(nodes, rs))
		v, err := n.DeadUnder(State{}, nil, &Actual{Leak: leak})
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, x := range rs {
			sum += v.Half(Node(x.a), Node(x.b)).yy / x.ohms
		}
		for i, l := range leak {
			sum += v.Half(Node(i), Chassis).yy * (l + n.leak)
		}
		if math.Abs(sum-float64(nodes)) > 1e-10*float64(nodes) {
			t.Errorf("%d nodes and the frame: sum of leverages %v, want %d", nodes, sum, nodes)
		}
	}
}

// Rayleigh's monotonicity law: more resistance anywhere lowers no reading, a short
// anywhere raises none.
func TestRayleighMonotone(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	for range 60 {
		rs, _ := anyNet(r, 12)
		n := NewNetwork(netlist(12, rs))
		sound := n.Dead(State{})
		i := r.IntN(len(rs))
		at := func(m Mode, ohms quantity.Ohms) *Solved {
			v, err := n.DeadUnder(State{}, []Placed{{Fault: Fault{Mode: m, Part: 0, Elem: i, Wire: None, End: None}, Ohms: ohms}}, nil)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		open, short, partly := at(OpenCircuit, 0), at(ShortCircuit, 0), at(ShortedTurns, 0.5)
		for a := range 12 {
			for b := range a {
				read := func(v *Solved) float64 { return v.Half(Node(a), Node(b)).yy }
				if o, p, s, h := read(open), read(partly), read(short), read(sound); o < h*(1-1e-12) || p > h*(1+1e-12) || s > p*(1+1e-12) {
					t.Errorf("resistor %d, %d to %d: open %v, sound %v, half %v, short %v", i, a, b, o, h, p, s)
				}
			}
		}
	}
}
