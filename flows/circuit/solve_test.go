package circuit

import (
	"bufio"
	"errors"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"halfsplit/flows/quantity"
)

// published opens a file of check data.
func published(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var lines [][]string
	for sc := bufio.NewScanner(f); sc.Scan(); {
		if text, _, _ := strings.Cut(sc.Text(), "#"); strings.TrimSpace(text) != "" {
			lines = append(lines, strings.Fields(text))
		}
	}
	return lines
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	if top, bottom, ok := strings.Cut(s, "/"); ok {
		return number(t, top) / number(t, bottom)
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// printed is one circuit of testdata/published/circuits.txt.
type printed struct {
	name, source string
	hertz        float64
	within       float64
	nodes        map[string]int // "0" is Chassis for volts, an ordinary node for ohms
	branches     []branch
	expect       [][]string
}

type branch struct {
	name string
	a, b string
	size complex128
}

func circuits(t *testing.T) []*printed {
	var all []*printed
	for _, w := range published(t, "circuits.txt") {
		if w[0] == "circuit" {
			all = append(all, &printed{name: strings.Join(w[1:], " "), within: 0.001, nodes: map[string]int{}})
			continue
		}
		c := all[len(all)-1]
		switch w[0] {
		case "source":
			c.source = strings.Join(w[1:], " ")
		case "hertz":
			c.hertz = number(t, w[1])
		case "within":
			c.within = number(t, w[1])
		case "volts", "amps", "ohms":
			c.expect = append(c.expect, w)
		default:
			mag, angle, _ := strings.Cut(w[3], "<")
			size := complex(number(t, mag), 0)
			if angle != "" {
				size = cmplx.Rect(number(t, mag), number(t, angle)*math.Pi/180)
			}
			c.branches = append(c.branches, branch{w[0], w[1], w[2], size})
			for _, x := range w[1:3] {
				if _, ok := c.nodes[x]; !ok && x != "0" {
					c.nodes[x] = len(c.nodes)
				}
			}
		}
	}
	return all
}

func (c *printed) node(name string) Node {
	if name == "0" {
		return Chassis
	}
	return Node(c.nodes[name])
}

// Worked circuits from published texts: the file names the source of each.
func TestPublishedCircuits(t *testing.T) {
	checked := 0
	for _, c := range circuits(t) {
		t.Run(c.name, func(t *testing.T) {
			if c.source == "" {
				t.Error("no source given")
			}
			var edges []AEdge
			var srcs []ASource
			var rs []resistor
			ground := len(c.nodes)
			plain := func(name string) int {
				if name == "0" {
					return ground
				}
				return c.nodes[name]
			}
			for _, b := range c.branches {
				a, z := c.node(b.a), c.node(b.b)
				switch b.name[0] {
				case 'V':
					srcs = append(srcs, ASource{A: a, B: z, EMF: b.size, Z: 1e-6})
				case 'C':
					edges = append(edges, AEdge{A: a, B: z, Y: b.size * complex(0, 2*math.Pi*c.hertz)})
				default:
					edges = append(edges, AEdge{A: a, B: z, Y: 1 / b.size})
					rs = append(rs, resistor{plain(b.a), plain(b.b), real(b.size)})
				}
			}
			var volts []complex128
			var err error
			if len(srcs) > 0 {
				if volts, err = SolvePhasor(len(c.nodes), edges, srcs); err != nil {
					t.Fatal(err)
				}
			}
			dead := NewNetwork(netlist(ground+1, rs)).Dead(State{})
			for _, w := range c.expect {
				want := w[len(w)-1]
				var got float64
				switch w[0] {
				case "volts":
					got = cmplx.Abs(voltsAcross(volts, c.node(w[1]), c.node(w[2])))
				case "ohms":
					got = float64(dead.Ohms(Node(plain(w[1])), Node(plain(w[2]))))
				case "amps":
					got = c.amps(t, w[1], volts, srcs)
				}
				checked++
				if want == "OL" {
					if !math.IsInf(got, 1) {
						t.Errorf("%v: %v, want OL", w, got)
					}
					continue
				}
				if x := number(t, want); math.Abs(got-x) > c.within*x+1e-4 {
					t.Errorf("%s: got %.6g (%s)", strings.Join(w, " "), got, c.source)
				}
			}
		})
	}
	if checked < 110 {
		t.Errorf("only %d values checked: data missing?", checked)
	}
}

func (c *printed) amps(t *testing.T, name string, volts []complex128, srcs []ASource) float64 {
	v := 0
	for _, b := range c.branches {
		if b.name[0] == 'V' {
			v++
		}
		if b.name != name {
			continue
		}
		if name[0] == 'V' {
			return cmplx.Abs(srcs[v-1].Amps(volts))
		}
		return cmplx.Abs(voltsAcross(volts, c.node(b.a), c.node(b.b)) / b.size)
	}
	t.Fatalf("no branch %s in %s", name, c.name)
	return 0
}

// Two-point resistances of well-known graphs, exact fractions: see the file.
func TestPublishedGraphs(t *testing.T) {
	var v *Solved
	var name string
	checked := 0
	for _, w := range published(t, "graphs.txt") {
		switch w[0] {
		case "graph":
			name = strings.Join(w[1:], " ")
		case "edges":
			var rs []resistor
			top := 0
			for _, e := range w[1:] {
				ends, ohms, ok := strings.Cut(e, ":")
				if !ok {
					ohms = "1"
				}
				a, b, _ := strings.Cut(ends, "-")
				r := resistor{int(number(t, a)), int(number(t, b)), number(t, ohms)}
				top = max(top, r.a, r.b)
				rs = append(rs, r)
			}
			v = NewNetwork(netlist(top+1, rs)).Dead(State{})
		case "ohms":
			checked++
			got := float64(v.Ohms(Node(number(t, w[1])), Node(number(t, w[2]))))
			if want := number(t, w[4]); math.Abs(got-want) > 1e-10 {
				t.Errorf("%s, %s to %s: %v, want %s", name, w[1], w[2], got, w[4])
			}
		}
	}
	if checked < 16 {
		t.Errorf("only %d values checked", checked)
	}
}

// Power and resistance of elements at other than rated volts.
func TestElementOhms(t *testing.T) {
	// 5500 W at 240 V is 10.473 Ω and takes 22.92 A (arithmetic); on 208 V it gives
	// 75 % (water heater maker's statement of down-rating: 4131 W).
	r := 240.0 * 240 / 5500
	v := NewNetwork(netlist(2, []resistor{{0, 1, r}})).Dead(State{})
	if got := float64(v.Ohms(0, 1)); math.Abs(got-10.473) > 0.0005 || math.Abs(240/got-22.92) > 0.005 {
		t.Errorf("5500 W 240 V: %v Ω, %v A; want 10.473 Ω, 22.92 A", got, 240/got)
	}
	volts, err := SolvePhasor(1, []AEdge{{0, Chassis, complex(1/r, 0)}}, []ASource{{0, Chassis, 208, 1e-9}})
	if err != nil {
		t.Fatal(err)
	}
	if w := math.Pow(cmplx.Abs(volts[0]), 2) / r; math.Abs(w-4131) > 0.5 {
		t.Errorf("5500 W element on 208 V: %v W, want 4131", w)
	}
	// Per cent of rated power by applied over rated volts, rounded: process-heat note,
	// Dec 2014.
	for _, c := range []struct{ applied, rated, percent float64 }{
		{575, 480, 144}, {440, 480, 84}, {240, 277, 75}, {230, 277, 69}, {208, 277, 56}, {277, 240, 133}, {230, 240, 92},
		{208, 240, 75}, {120, 240, 25}, {240, 120, 400}, {208, 120, 300}, {110, 120, 84}, {240, 480, 25}, {120, 480, 6},
	} {
		r := c.rated * c.rated / 100 // 100 W at rated volts
		volts, err := SolvePhasor(2, []AEdge{{0, 1, complex(1/r, 0)}, {1, Chassis, 1e9}}, []ASource{{0, Chassis, complex(c.applied, 0), 1e-9}})
		if err != nil {
			t.Fatal(err)
		}
		i := cmplx.Abs((volts[0] - volts[1]) / complex(r, 0))
		if w := i * i * r; math.Abs(w-c.percent) > 0.51 {
			t.Errorf("%v V on an element of %v V: %v %%, want %v", c.applied, c.rated, w, c.percent)
		}
	}
}

// An earthed element: both readings to the frame add to its ohms and tell where the
// fault is. 12.8 Ω, lifted at both ends, fault at fraction x (derived, Ohm).
func TestEarthedElementReadings(t *testing.T) {
	for _, c := range []struct{ x, atA, atB float64 }{{0, 0, 12.8}, {0.10, 1.28, 11.52}, {0.25, 3.2, 9.6}, {0.5, 6.4, 6.4}, {0.75, 9.6, 3.2}} {
		n := NewNetwork(netlist(2, []resistor{{0, 1, 12.8}}))
		f := Placed{Fault: Fault{Mode: Earthed, Part: 0, Elem: 0, Wire: None, End: None}, At: c.x}
		for end, want := range []float64{c.atA, c.atB} {
			got, err := n.Ohms(State{}, []Placed{f}, Node(end), Chassis)
			if err != nil || math.Abs(float64(got)-want) > 1e-5 {
				t.Errorf("x = %v, end %d to frame: %v, %v; want %v", c.x, end, got, err, want)
			}
		}
		// And between the ends the element reads as if sound: a meter sees one path.
		if got, _ := n.Ohms(State{}, []Placed{f}, 0, 1); math.Abs(float64(got)-12.8) > 1e-9 {
			t.Errorf("x = %v, end to end: %v, want 12.8", c.x, got)
		}
	}
}

// False continuity (derived, Ohm): with the breaker off and the neutral still bonded,
// a lead on the load side reads its lamps to the frame; with the neutral lifted, or
// with the plug out, it reads OL.
func TestFalseContinuity(t *testing.T) {
	b := plateWarmer()
	n := NewNetwork(b.u)
	read := func(s State, f ...Placed) float64 {
		r, err := n.Ohms(s, f, b.node("K1:T1"), Chassis)
		if err != nil {
			t.Fatal(err)
		}
		return float64(r)
	}
	bond := 3*float64(JointOhms) + float64(RunOhms) + float64(PanelOhms) + float64(RunOhms) + float64(FrameOhms)
	// K1:T1 - H1 - H2 - N: two lamps of 20 Ω in parallel but for the joints between
	// them; both halves of the heaters lead nowhere.
	if got, low, high := read(State{}), 10+0.2, 10+bond+0.1; got < low || got > high {
		t.Errorf("load side to frame, breaker off: %v Ω, want %v to %v", got, low, high)
	}
	if got := read(State{}.Lift(EndID(2*15 + 1))); !math.IsInf(got, 1) {
		t.Errorf("neutral lifted at X1: %v, want OL", got)
	}
	b.u.Sources[0].Isolator.Kind = Plug
	n = NewNetwork(b.u)
	if got := read(State{}); !math.IsInf(got, 1) {
		t.Errorf("plug out: %v, want OL", got)
	}
	if got, _ := n.Ohms(State{}, nil, b.node("X1:PE"), Chassis); math.Abs(float64(got-FrameOhms)) > 1e-9 {
		t.Errorf("plug out, earth terminal to frame: %v, want %v", got, FrameOhms)
	}
}

func TestFaultsThatHaveNoPlace(t *testing.T) {
	b := plateWarmer()
	n := NewNetwork(b.u)
	part := func(m Mode, p PartID, e int) Placed {
		return Placed{Fault: Fault{Mode: m, Part: p, Elem: e, Wire: None, End: None}}
	}
	for _, f := range []Placed{
		part(Welded, b.id("E1"), 0), part(OpenCircuit, 99, 0), part(OpenCircuit, b.id("E1"), 3), part(NoFault, 0, 0),
		part(Chafed, 0, 0), part(Mode(77), b.id("E1"), 0),
		{Fault: Fault{Mode: Broken, Part: None, Elem: None, Wire: 2, End: 2}},
		{Fault: Fault{Mode: Chafed, Part: None, Elem: None, Wire: 2, End: None}, Ohms: quantity.Ohms(math.NaN())},
	} {
		if _, err := n.Ohms(State{}, []Placed{f}, 0, Chassis); !errors.Is(err, ErrNoPlace) {
			t.Errorf("%+v: %v, want ErrNoPlace", f, err)
		}
		if c, ok := n.Change(State{}, f); ok || c.Idle() {
			t.Errorf("%+v gave change %+v", f, c)
		}
		if _, err := n.Live(State{}, []Placed{f}, nil); !errors.Is(err, ErrNoPlace) {
			t.Errorf("%+v live: %v, want ErrNoPlace", f, err)
		}
	}
}

// Several faults in one element, against the same circuit drawn out with a node at
// each of them; and an element burnt through beside its earth, which leaves one end on
// the frame and the other free.
func TestFaultsInOneElement(t *testing.T) {
	n := NewNetwork(netlist(2, []resistor{{0, 1, 10}}))
	at := func(m Mode, x float64, ohms quantity.Ohms) Placed {
		return Placed{Fault: Fault{Mode: m, Part: 0, Elem: 0, Wire: None, End: None}, Ohms: ohms, At: x}
	}
	twice := []Placed{at(Earthed, 0.7, 2), at(Earthed, 0.2, 1)}
	drawn := NewNetwork(netlist(5, []resistor{{0, 2, 2}, {2, 3, 5}, {3, 1, 3}, {2, 4, 1}, {3, 4, 2}})).Dead(State{})
	for _, p := range [][4]Node{{0, 1, 0, 1}, {0, Chassis, 0, 4}, {1, Chassis, 1, 4}} {
		got, err := n.Ohms(State{}, twice, p[0], p[1])
		if want := drawn.Ohms(p[2], p[3]); err != nil || !same(got, want, 1e-9) {
			t.Errorf("two earths, %d to %d: %v, %v; drawn out %v", p[0], p[1], got, err, want)
		}
	}
	short := []Placed{at(Earthed, 0.5, 1), at(ShortedTurns, 0, 0.4)}
	if got, _ := n.Ohms(State{}, short, 0, Chassis); math.Abs(float64(got)-3) > 1e-9 {
		t.Errorf("half of 4 Ω and 1 Ω: %v, want 3", got)
	}
	burnt := []Placed{at(OpenCircuit, 0, 0), at(Earthed, 0.3, 1)}
	if got, _ := n.Ohms(State{}, burnt, 0, Chassis); math.Abs(float64(got)-4) > 1e-9 {
		t.Errorf("burnt through behind an earth at 0.3: %v from A, want 4", got)
	}
	if got, _ := n.Ohms(State{}, burnt, 1, Chassis); !math.IsInf(float64(got), 1) {
		t.Errorf("burnt through behind an earth at 0.3: %v from B, want OL", got)
	}
	// Out of a meter's range, though the solver has a number for it.
	far := []Placed{at(Earthed, 0, 70e6)}
	if got, _ := n.Ohms(State{}, far, 0, Chassis); !math.IsInf(float64(got), 1) {
		t.Errorf("70 MΩ to frame: %v, want OL", got)
	}
	if v, err := n.DeadUnder(State{}, far, nil); err != nil || !same(v.Ohms(0, Chassis), 70e6, 0.02) {
		t.Errorf("70 MΩ to frame: %v, %v", v.Ohms(0, Chassis), err)
	}
}

func TestPhasorErrors(t *testing.T) {
	if _, err := SolvePhasor(2, []AEdge{{0, Chassis, 1}}, nil); !errors.Is(err, ErrSingular) {
		t.Errorf("floating node: %v, want ErrSingular", err)
	}
	if _, err := SolvePhasor(1, []AEdge{{0, 1, 1}}, nil); err == nil {
		t.Error("edge to a node that is not there was accepted")
	}
	if _, err := SolvePhasor(1, nil, []ASource{{0, Chassis, 1, 0}}); err == nil {
		t.Error("source without impedance was accepted")
	}
}
