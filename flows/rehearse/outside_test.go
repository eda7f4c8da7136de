package rehearse

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"halfsplit/flows/circuit"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// resistor joins two points of a specimen; 0 is the frame.
type resistor struct {
	a, b int
	ohms float64
}

// specimenOf spells a specimen in a state as resistors, from the unit and not from
// circuit.Network, and numbers its points: terminals from 1, wires after them, then
// whatever else is needed. An earthed element is two resistors with a tap.
func specimenOf(t *Truth, s circuit.State) (list []resistor, points int) {
	u := t.World.Unit()
	points = 1 + len(u.Terms) + len(u.Wires)
	more := func() int { points++; return points - 1 }
	term := func(id circuit.TermID) int { return 1 + int(id) } // None is the frame
	wire := func(w int) int { return 1 + len(u.Terms) + w }
	put := func(a, b int, ohms float64) {
		if a != b && !math.IsInf(ohms, 1) {
			list = append(list, resistor{a, b, math.Max(ohms, 1e-6)})
		}
	}
	of := func(p, e int) (earths []circuit.Placed, other *circuit.Placed) {
		for i, f := range t.Faults {
			if int(f.Part) != p || f.Elem != e || f.Wire != circuit.None {
				continue
			}
			if f.Mode == circuit.Earthed {
				earths = append(earths, f)
			} else {
				other = &t.Faults[i]
			}
		}
		return earths, other
	}
	for p, part := range u.Parts {
		for e, el := range part.Elems {
			r := float64(el.Ohms.Nominal)
			switch {
			case p < len(t.Actual.Elems) && t.Actual.Elems[p][e] > 0:
				r = float64(t.Actual.Elems[p][e])
			case r == 0 && el.Ohms.Hi > 0:
				r = float64(el.Ohms.Lo+el.Ohms.Hi) / 2
			case r == 0 && el.Role == circuit.Contact:
				r = float64(circuit.ContactOhms)
			case r == 0 && el.Role == circuit.Bond:
				r = float64(circuit.BondOhms)
			}
			if el.Role == circuit.Contact && el.Closed>>s.Position(u, circuit.PartID(p))&1 == 0 {
				r = math.Inf(1)
			}
			a, b := term(el.A), term(el.B)
			earths, other := of(p, e)
			if other != nil {
				switch other.Mode {
				case circuit.EarthedTerm:
					at := a
					if other.At >= 0.5 {
						at = b
					}
					put(at, 0, float64(other.Ohms))
				case circuit.ShortCircuit:
					r = float64(other.Ohms)
				case circuit.ShortedTurns:
					r *= float64(other.Ohms)
				case circuit.OpenCircuit, circuit.NeverCloses:
					r = math.Inf(1)
				}
			}
			if len(earths) == 1 {
				tap, at := more(), earths[0].At
				put(a, tap, at*r)
				put(tap, b, (1-at)*r)
				put(tap, 0, float64(earths[0].Ohms))
				continue
			}
			put(a, b, r)
		}
	}
	for w := range u.Wires {
		for side, end := range u.Wires[w].Ends {
			id := circuit.WireID(w).Ends()[side]
			if s.Lifted.Has(int(id)) {
				continue
			}
			r := float64(circuit.JointOhms)
			if int(id) < len(t.Actual.Joints) && t.Actual.Joints[id] > 0 {
				r = float64(t.Actual.Joints[id])
			}
			for _, f := range t.Faults {
				if int(f.Wire) == w && f.End == side && f.Mode == circuit.HighOhms {
					r += float64(f.Ohms)
				}
				if int(f.Wire) == w && f.End == side && f.Mode == circuit.Broken {
					r = math.Inf(1)
				}
			}
			put(wire(w), term(end), r)
		}
		for _, f := range t.Faults {
			if int(f.Wire) == w && f.Mode == circuit.Chafed {
				put(wire(w), 0, float64(f.Ohms))
			}
		}
	}
	// The supply, isolated: neutral and earth stay joined at the panel, unless on a plug.
	for _, src := range u.Sources {
		star, bar := more(), more()
		earth := 0
		if slices.Contains(src.Legs, "PE") {
			earth = bar
		}
		if src.Bonded != "" {
			put(star, earth, float64(circuit.PanelOhms))
		}
		run := float64(circuit.RunOhms)
		if src.Breaker.Amps > 20 {
			run *= 20 / float64(src.Breaker.Amps)
		}
		for _, f := range src.Feeds {
			if f.Leg != "N" && f.Leg != "PE" || src.Isolator.Kind == circuit.Plug || slices.Contains(src.Isolator.Opens, f.Leg) {
				continue
			}
			at := star
			if f.Leg == "PE" {
				at = bar
			}
			put(at, term(f.Term), run)
		}
	}
	return list, points
}

// point is the number of a node of the unit in specimenOf.
func point(n circuit.Node) int { return 1 + int(n) }

// byNodes reads a specimen by nodal analysis: the conductance matrix of what hangs
// together with one probe, the other probe grounded, one ampere in.
func byNodes(t *Truth, s circuit.State, a, b circuit.Node) (float64, error) {
	list, points := specimenOf(t, s)
	return nodal(list, points, point(a), point(b))
}

func nodal(list []resistor, points, from, to int) (float64, error) {
	if from == to {
		return 0, nil
	}
	reach := make([]bool, points)
	reach[from] = true
	for grown := true; grown; {
		grown = false
		for _, r := range list {
			if reach[r.a] != reach[r.b] {
				reach[r.a], reach[r.b], grown = true, true, true
			}
		}
	}
	if !reach[to] {
		return math.Inf(1), nil
	}
	row := make([]int, points)
	n := 0
	for i := range row {
		row[i] = -1
		if reach[i] && i != to {
			row[i] = n
			n++
		}
	}
	g := mat.NewSymDense(n, nil)
	for _, r := range list {
		i, j := row[r.a], row[r.b]
		if i >= 0 {
			g.SetSym(i, i, g.At(i, i)+1/r.ohms)
		}
		if j >= 0 {
			g.SetSym(j, j, g.At(j, j)+1/r.ohms)
		}
		if i >= 0 && j >= 0 {
			g.SetSym(i, j, g.At(i, j)-1/r.ohms)
		}
	}
	amps := mat.NewVecDense(n, nil)
	amps.SetVec(row[from], 1)
	var chol mat.Cholesky
	if !chol.Factorize(g) {
		return 0, fmt.Errorf("conductances of %d points are not positive definite", n)
	}
	var volts mat.VecDense
	if err := chol.SolveVecTo(&volts, amps); err != nil {
		return 0, err
	}
	return volts.AtVec(row[from]), nil
}

// The simulated meter computed by another solver, written here from the unit alone:
// every job ends the same way after the same readings. The solver itself gives two
// resistors in parallel and a balanced bridge by hand.
func TestTruthFromOutside(t *testing.T) {
	r, err := nodal([]resistor{{0, 1, 20}, {0, 1, 30}}, 2, 0, 1)
	require.NoError(t, err)
	assert.InDelta(t, 12, r, 1e-9)
	r, err = nodal([]resistor{{0, 1, 10}, {0, 2, 10}, {1, 3, 10}, {2, 3, 10}, {1, 2, 7}}, 4, 0, 3)
	require.NoError(t, err)
	assert.InDelta(t, 10, r, 1e-9)

	u := warmer(t)
	worst, readings := 0.0, 0
	both := func(k *Truth, s circuit.State, a, b circuit.Node) (float64, error) {
		x, err := byNodes(k, s, a, b)
		if err != nil {
			return 0, err
		}
		y, err := byCircuit(k, s, a, b)
		if x < overRange || y < overRange {
			worst = math.Max(worst, math.Abs(x-y)/math.Max(x, 1e-3))
			readings++
		}
		return x, err
	}
	inside, err := Run(Config{Unit: u, Seeds: []uint64{7}, Each: 1, Workers: 2, Silent: true})
	require.NoError(t, err)
	outside, err := Run(Config{Unit: u, Seeds: []uint64{7}, Each: 1, Workers: 1, Silent: true, Tech: func(t *Tech) { t.truth.Solve = both }})
	require.NoError(t, err)
	require.Greater(t, len(outside), 30)
	require.Len(t, inside, len(outside))
	for i, r := range outside {
		assert.Equal(t, inside[i].Verdict, r.Verdict, r.Name)
		assert.Equal(t, inside[i].Readings, r.Readings, r.Name)
		assert.Equal(t, inside[i].Why, r.Why, r.Name)
	}
	t.Logf("%d jobs, %d readings, worst relative difference %.1e", len(outside), readings, worst)
	assert.Less(t, worst, 1e-6)
}

// A sample of what the simulated meter showed, by ngspice from the same list of
// resistors: the technician would have typed the same text.
func TestMeterAgainstNgspice(t *testing.T) {
	path, err := exec.LookPath("ngspice")
	if err != nil {
		if os.Getenv("HALFSPLIT_REQUIRE_PEERS") == "1" {
			t.Fatal("ngspice is not installed")
		}
		t.Skip("ngspice is not installed")
	}
	type sample struct {
		list []resistor
		a, b int
		ohms float64
	}
	var taken []sample
	seen := 0
	record := func(k *Truth, s circuit.State, a, b circuit.Node) (float64, error) {
		r, err := byCircuit(k, s, a, b)
		if seen++; err == nil && r < overRange && a != b && seen%3 == 0 {
			list, _ := specimenOf(k, s)
			taken = append(taken, sample{list, point(a), point(b), r})
		}
		return r, err
	}
	_, err = Run(Config{Unit: warmer(t), Seeds: []uint64{8}, Each: 1, Workers: 1, Faults: "wire", Silent: true, Tech: func(k *Tech) { k.truth.Solve = record }})
	require.NoError(t, err)
	require.Greater(t, len(taken), 60)
	taken = taken[:60]
	var deck, out bytes.Buffer
	deck.WriteString("readings\n")
	for k, x := range taken {
		name := func(i int) string {
			if i == x.b {
				return "0"
			}
			return fmt.Sprintf("c%d_%d", k, i)
		}
		fmt.Fprintf(&deck, "I%d 0 %s 1\n", k, name(x.a))
		for i, r := range x.list {
			fmt.Fprintf(&deck, "R%d_%d %s %s %.17g\n", k, i, name(r.a), name(r.b), r.ohms)
		}
		for i := range 400 { // nothing may float in ngspice
			if slices.ContainsFunc(x.list, func(r resistor) bool { return r.a == i || r.b == i }) && i != x.b {
				fmt.Fprintf(&deck, "L%d_%d %s 0 1e15\n", k, i, name(i))
			}
		}
	}
	deck.WriteString(".control\nset numdgt=14\nop\n")
	for k, x := range taken {
		fmt.Fprintf(&deck, "print v(c%d_%d)\n", k, x.a)
	}
	deck.WriteString("quit 0\n.endc\n.end\n")
	file := filepath.Join(t.TempDir(), "readings.cir")
	text := strings.ReplaceAll(deck.String(), "\nL", "\nRL")
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	cmd := exec.Command(path, "-b", file)
	cmd.Stdout, cmd.Stderr = &out, &out
	require.NoError(t, cmd.Run(), out.String())
	got := make(map[string]float64)
	for line := range strings.Lines(out.String()) {
		if name, value, ok := strings.Cut(line, " = "); ok {
			if v, err := strconv.ParseFloat(strings.TrimSpace(value), 64); err == nil {
				got[strings.TrimSpace(name)] = v
			}
		}
	}
	for k, x := range taken {
		v, ok := got[fmt.Sprintf("v(c%d_%d)", k, x.a)]
		require.True(t, ok, "ngspice printed no reading %d\n%s", k, out.String()[:min(2000, out.Len())])
		assert.InEpsilon(t, x.ohms, v, 1e-4)
		assert.Equal(t, show(x.ohms), show(v))
	}
}
