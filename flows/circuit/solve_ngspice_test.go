package circuit

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// ngspice runs a netlist in batch mode and returns the printed vectors by name.
func ngspice(t *testing.T, netlist string) map[string]float64 {
	t.Helper()
	path, err := exec.LookPath("ngspice")
	if err != nil {
		if os.Getenv("HALFSPLIT_REQUIRE_PEERS") == "1" {
			t.Fatal("ngspice is not installed")
		}
		t.Skip("ngspice is not installed")
	}
	file := filepath.Join(t.TempDir(), "net.cir")
	if err := os.WriteFile(file, []byte(netlist), 0o600); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	cmd := exec.Command(path, "-b", file)
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Run(); err != nil {
		t.Fatalf("ngspice: %v\n%s", err, out.String())
	}
	got := map[string]float64{}
	sc := bufio.NewScanner(&out)
	for sc.Scan() {
		name, value, ok := strings.Cut(sc.Text(), " = ")
		if !ok {
			continue
		}
		if x, err := strconv.ParseFloat(strings.TrimSpace(value), 64); err == nil {
			got[strings.TrimSpace(name)] = x
		}
	}
	return got
}

// deck collects many circuits side by side in one netlist: each reads one resistance
// as the volts of one ampere into its probe node, its other probe being ground.
type deck struct {
	lines  []string
	probes []string
	want   []float64
	about  []string
	count  int
}

// meter begins a circuit that is read between two of its nodes; node names the others.
func (d *deck) meter(a, b string, want float64, about string) (node func(string) string) {
	k := d.count
	d.count++
	node = func(s string) string {
		if s == b {
			return "0"
		}
		return fmt.Sprintf("c%d_%s", k, s)
	}
	d.lines = append(d.lines, fmt.Sprintf("I%d 0 %s 1", k, node(a)))
	d.probes = append(d.probes, "v("+node(a)+")")
	d.want = append(d.want, want)
	d.about = append(d.about, about)
	return node
}

func (d *deck) resistor(a, b string, ohms float64) {
	if a != b {
		d.lines = append(d.lines, fmt.Sprintf("R%d %s %s %.17g", len(d.lines), a, b, ohms))
	}
}

func (d *deck) run(t *testing.T) {
	t.Helper()
	var s strings.Builder
	s.WriteString("readings\n" + strings.Join(d.lines, "\n") + "\n.control\nset numdgt=14\nop\n")
	for _, p := range d.probes {
		s.WriteString("print " + p + "\n")
	}
	s.WriteString("quit 0\n.endc\n.end\n")
	got := ngspice(t, s.String())
	worst := 0.0
	for i, p := range d.probes {
		x, ok := got[p]
		if !ok {
			t.Fatalf("ngspice printed no %s", p)
		}
		off := math.Abs(x-d.want[i]) / d.want[i]
		worst = math.Max(worst, off)
		if off > 1e-5 { // the leaks added on both sides differ
			t.Errorf("%s: %v Ω, ngspice %v", d.about[i], d.want[i], x)
		}
	}
	t.Logf("%d readings against ngspice, worst relative difference %.1e", len(d.probes), worst)
}

// Random resistor networks against ngspice (.op), one process.
func TestRandomNetworksAgainstNgspice(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 11))
	var d deck
	for len(d.probes) < 150 {
		nodes := 4 + r.IntN(20)
		rs, _ := anyNet(r, nodes)
		n := NewNetwork(netlist(nodes, rs))
		a, b := r.IntN(nodes), r.IntN(nodes)
		ohms := float64(n.Dead(State{}).Ohms(Node(a), Node(b)))
		if a == b || math.IsInf(ohms, 1) {
			continue
		}
		node := d.meter(fmt.Sprint(a), fmt.Sprint(b), ohms, fmt.Sprintf("%d to %d of %v", a, b, rs))
		for _, x := range rs {
			d.resistor(node(fmt.Sprint(x.a)), node(fmt.Sprint(x.b)), x.ohms)
		}
		for i := range nodes { // nothing may float in ngspice; to one common node, the frame
			d.resistor(node(fmt.Sprint(i)), node("frame"), 1/n.leak)
		}
	}
	d.run(t)
}

// spell writes the unit in a state and under faults as a netlist, from the unit and
// not from Network: an earthed element as two resistors with a tap.
func (d *deck) spell(u *Unit, s State, faults []Placed, node func(string) string) {
	const frame = "frame"
	term := func(t TermID) string { return node(fmt.Sprintf("t%d", t)) }
	is := func(m Mode, p PartID, e int, w WireID, end int) (Placed, bool) {
		for _, f := range faults {
			if f.Mode == m && f.Part == p && f.Elem == e && f.Wire == w && (f.End == end || end == 9) {
				return f, true
			}
		}
		return Placed{}, false
	}
	size := func(f Placed) float64 { return math.Max(float64(f.Ohms), 1e-6) }
	for t := range u.Terms {
		d.resistor(term(TermID(t)), node(frame), 1e12)
	}
	for p, part := range u.Parts {
		for e, el := range part.Elems {
			ohms := float64(el.Ohms.Nominal)
			if el.Role == Contact && ohms == 0 {
				ohms = 0.05
			}
			pos := part.Rest
			if k := s.At.Of(PartID(p), part.Rest); k != part.Rest {
				pos = k
			}
			shut := el.Role != Contact || el.Closed>>pos&1 == 1
			has := func(m Mode) (Placed, bool) { return is(m, PartID(p), e, None, 9) }
			if f, ok := has(ShortedTurns); ok {
				ohms = math.Max(ohms*float64(f.Ohms), 1e-6)
			}
			if f, ok := has(ShortCircuit); ok {
				ohms, shut = size(f), true
			}
			if f, ok := has(Welded); ok && !shut {
				shut = true
				if f.Ohms > 0 {
					ohms = size(f)
				}
			}
			if _, ok := has(NeverCloses); ok {
				shut = false
			}
			if _, ok := has(OpenCircuit); ok {
				shut = false
			}
			a, b := term(el.A), node(frame)
			if el.B != None {
				b = term(el.B)
			}
			if f, ok := has(EarthedTerm); ok {
				at := a
				if f.At >= 0.5 {
					at = b
				}
				d.resistor(at, node(frame), size(f))
			}
			f, earthed := has(Earthed)
			switch {
			case earthed && shut:
				tap := node(fmt.Sprintf("tap%d_%d", p, e))
				switch f.At { // ngspice loses digits over a joint of next to nothing
				case 0:
					tap = a
				case 1:
					tap = b
				}
				d.resistor(a, tap, f.At*ohms)
				d.resistor(tap, b, (1-f.At)*ohms)
				d.resistor(tap, node(frame), size(f))
			case earthed:
				at := a
				if f.At >= 0.5 {
					at = b
				}
				d.resistor(at, node(frame), size(f))
			case shut:
				d.resistor(a, b, ohms)
			}
		}
	}
	for w, wire := range u.Wires {
		mid := node(fmt.Sprintf("w%d", w))
		d.resistor(mid, node(frame), 1e12)
		if f, ok := is(Chafed, None, None, WireID(w), 9); ok {
			d.resistor(mid, node(frame), size(f))
		}
		for end, t := range wire.Ends {
			ohms := 0.01
			if f, ok := is(HighOhms, None, None, WireID(w), end); ok {
				ohms += float64(f.Ohms)
			}
			if _, ok := is(Broken, None, None, WireID(w), end); !ok && !s.Lifted.Has(2*w+end) {
				d.resistor(mid, term(t), ohms)
			}
		}
	}
	// The disconnect is open: neutral and earth run 0.1 Ω to the panel and are bonded
	// there; the unit's earth terminal is on its frame, by a wire in the file or not.
	for _, f := range u.Sources[0].Feeds {
		switch f.Leg {
		case "N":
			d.resistor(term(f.Term), node("star"), 0.1)
		case "PE":
			d.resistor(term(f.Term), node("bar"), 0.1)
			stud := false
			for _, part := range u.Parts {
				stud = stud || part.Kind == KindGround
			}
			if !stud {
				d.resistor(term(f.Term), node(frame), 0.05)
			}
		}
	}
	d.resistor(node("star"), node("bar"), 0.01)
}

// The plate warmers with the disconnect open, in random states under none to two
// faults, against ngspice, one process each.
func TestPlateWarmerAgainstNgspice(t *testing.T) {
	for _, b := range []*bench{plateWarmer(), parsed(t, "plate-warmer.yaml")} {
		t.Run(b.u.Name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(12, 12))
			n := NewNetwork(b.u)
			faults := b.faults()
			name := func(x Node) string {
				switch {
				case x == Chassis:
					return "frame"
				case int(x) >= len(b.u.Terms):
					return fmt.Sprintf("w%d", int(x)-len(b.u.Terms))
				}
				return fmt.Sprintf("t%d", x)
			}
			var d deck
			for len(d.probes) < 150 {
				s := anyState(b.u, r)
				f := []Placed{faults[r.IntN(len(faults))], faults[r.IntN(len(faults))]}[:r.IntN(3)]
				if len(f) == 2 && f[0].Part == f[1].Part && f[0].Wire == f[1].Wire {
					continue // two faults in one place: the writer above is too simple for it
				}
				for i := range f { // ngspice loses digits on joints of a microhm beside megohms
					switch f[i].Mode {
					case Earthed, Chafed, EarthedTerm, ShortCircuit:
						f[i].Ohms = max(f[i].Ohms, 0.001)
					case ShortedTurns:
						f[i].Ohms = max(f[i].Ohms, 0.01)
					}
				}
				x, y := Node(r.IntN(len(b.u.Terms)+len(b.u.Wires))), Node(r.IntN(len(b.u.Terms)+len(b.u.Wires)+20))
				if int(y) >= len(b.u.Terms)+len(b.u.Wires) {
					y = Chassis
				}
				v, err := n.DeadUnder(s, f, nil)
				if err != nil {
					t.Fatal(err)
				}
				ohms := float64(v.Ohms(x, y))
				if x == y || ohms > 1e7 { // above, the leaks of both sides show
					continue
				}
				node := d.meter(name(x), name(y), ohms, fmt.Sprintf("%s to %s in %+v with %+v", name(x), name(y), s, f))
				d.spell(b.u, s, f, node)
			}
			d.run(t)
		})
	}
}

// The energised plate warmer, contactor in, against ngspice (.ac at 60 Hz): supply,
// coil, fan and a fault in an element.
func TestLiveAgainstNgspice(t *testing.T) {
	b := plateWarmer()
	n := NewNetwork(b.u)
	s := State{}.SwitchOn(0).Move(b.u, b.id("S1"), 1)
	f := Placed{Fault: Fault{Mode: Earthed, Part: b.id("E1"), Elem: 0, Wire: None, End: None}, Ohms: 3, At: 0.4}
	l, err := n.Live(s, []Placed{f}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !l.In.Has(int(b.id("K1"))) {
		t.Fatal("contactor is not in")
	}
	var d deck
	node := func(x string) string {
		if x == "frame" {
			return "0"
		}
		return x
	}
	d.spell(b.u, s.Move(b.u, b.id("K1"), 1), []Placed{f}, node)
	var lines []string
	z := map[string]complex128{}
	for _, tag := range []string{"K1", "H1", "H2", "M1"} {
		el := b.u.Parts[b.id(tag)].Elems[0]
		z[fmt.Sprintf(" t%d t%d ", el.A, el.B)] = el.Lively
	}
	for i, line := range d.lines { // loads as they are when energised
		for ends, ohms := range z {
			if strings.Contains(line, ends) {
				line = fmt.Sprintf("R%d%s%.17g", i, ends, real(ohms))
				if imag(ohms) != 0 {
					two := strings.Fields(ends)
					line = fmt.Sprintf("R%d %s m%d %.17g\nL%d m%d %s %.17g", i, two[0], i, real(ohms), i, i, two[1], imag(ohms)/(2*math.Pi*60))
				}
			}
		}
		lines = append(lines, line)
	}
	for i, feed := range b.u.Sources[0].Feeds[:2] {
		lines = append(lines,
			fmt.Sprintf("V%d e%d star ac 120 %v", i, i, b.u.Sources[0].AngleDeg[i]),
			fmt.Sprintf("RS%d e%d p%d 0.1", i, i, i),
			fmt.Sprintf("RP%d p%d t%d 0.1", i, i, feed.Term))
	}
	var deckText strings.Builder
	deckText.WriteString("energised\n" + strings.Join(lines, "\n") + "\n.control\nset numdgt=14\nac lin 1 60 60\n")
	for i := range b.u.Terms {
		fmt.Fprintf(&deckText, "print vm(t%d)\n", i)
	}
	deckText.WriteString("print mag(v0#branch)\nprint mag(v1#branch)\nquit 0\n.endc\n.end\n")
	got := ngspice(t, deckText.String())
	check := func(name string, want float64) {
		t.Helper()
		if x, ok := got[name]; !ok || math.Abs(x-want) > 1e-6*want+1e-6 {
			t.Errorf("%s: %v, ngspice %v (printed: %v)", name, want, x, ok)
		}
	}
	for i := range b.u.Terms {
		check(fmt.Sprintf("vm(t%d)", i), float64(l.Volts(Node(i), Chassis)))
	}
	check("mag(v0#branch)", float64(l.LegAmps(0, 0)))
	check("mag(v1#branch)", float64(l.LegAmps(0, 1)))
}
