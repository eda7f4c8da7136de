package circuit

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"halfsplit/flows/quantity"
)

// core is one transformer of a network.
type core struct {
	part  PartID
	edges []int // of its windings
}

// wound is the current in a winding: what enters at A and what leaves at B. They
// differ where the winding touches the frame.
type wound struct {
	edge    int
	in, out complex128
}

// noLoad is the current of an unloaded transformer of 40 VA as a share of its rated
// one: a tenth in phase for the iron, a quarter magnetising; of larger ones less, by the
// cube root of VA. The knee of the iron is left out. Common practice, no source.
const noLoad = complex(0.1, -0.25)

// small is what the shares of a 40 VA transformer are multiplied by for another size.
func small(va float64) float64 { return math.Cbrt(40 / va) }

// addCores collects the transformers.
func (n *Network) addCores() {
	for p := range n.unit.Parts {
		c := core{part: PartID(p)}
		for i, el := range n.unit.Parts[p].Elems {
			if e := n.elems[p][i]; el.Turns != 0 && e >= 0 {
				c.edges = append(c.edges, e)
			}
		}
		if c.edges != nil {
			n.cores = append(n.cores, c)
		}
	}
}

// wraps reports whether a fault is in the winding of a transformer.
func (n *Network) wraps(f Placed) bool {
	return f.Wire == None && f.Part >= 0 && int(f.Part) < len(n.unit.Parts) && f.Elem >= 0 &&
		f.Elem < len(n.unit.Parts[f.Part].Elems) && n.unit.Parts[f.Part].Elems[f.Elem].Turns != 0
}

// outsideCores leaves out the earths on windings, which split them: they are dealt
// with in sections. A short from end to end stays: it lies beside the winding.
func (n *Network) outsideCores(faults []Placed) []Placed {
	if !slices.ContainsFunc(faults, func(f Placed) bool { return f.Mode == Earthed && n.wraps(f) }) {
		return faults
	}
	return slices.DeleteFunc(slices.Clone(faults), func(f Placed) bool { return f.Mode == Earthed && n.wraps(f) })
}

// section is a piece of a winding between its ends, or between an end and a point that
// touches the frame. Its volts from first to last are turns·e + z·i, with e the share
// of its rated flux that the core has and i the current through it.
type section struct {
	edge        int
	core        int
	turns       float64
	z           complex128
	first, last Node    // Chassis: not an end of the winding
	before      float64 // ohms to the frame of the point that it begins at, 0 if it is an end
	after       float64 // of the point that it stops at
}

// sections cuts the windings of all transformers where faults divide them. Shorted
// turns are a section of their own, closed on itself: they load the core.
func (t *supply) sections() []section {
	var all []section
	for c, core := range t.net.cores {
		for _, e := range core.edges {
			all = append(all, t.cut(c, e)...)
		}
	}
	return all
}

func (t *supply) cut(c, edge int) []section {
	e := &t.net.edges[edge]
	z, turns := t.z[edge], float64(t.net.elem(e).Turns)
	var out []section
	var taps []tap
	open := false
	for _, f := range t.f {
		if f.Wire != None || f.Part != e.part || f.Elem != e.elem {
			continue
		}
		switch f.Mode {
		case OpenCircuit:
			open = true
		case Earthed:
			taps = append(taps, tap{at: within(f.At), g: 1 / least(float64(f.Ohms))})
		case ShortedTurns:
			share := math.Max(math.Min(float64(f.Ohms), 1), 1e-6)
			if gone := 1 - share; gone > 0 {
				out = append(out, section{edge: edge, core: c, turns: gone * turns, z: fewer(z, gone), first: Chassis, last: Chassis})
			}
			z, turns = fewer(z, share), share*turns
		}
	}
	slices.SortStableFunc(taps, func(x, y tap) int { return cmp.Compare(x.at, y.at) })
	if open && len(taps) > 1 {
		taps = taps[:1] // burnt through beyond the first of them
	}
	at, before := 0.0, 0.0
	for i := range len(taps) + 1 {
		s := section{edge: edge, core: c, first: Chassis, last: Chassis, before: before}
		until := 1.0
		if i < len(taps) {
			until, s.after = taps[i].at, 1/taps[i].g
		}
		if i == 0 {
			s.first = e.a
		}
		if i == len(taps) {
			if open {
				break
			}
			s.last = e.b
		}
		// Two points may fall together: no section is without impedance.
		share := math.Max(until-at, 1e-9)
		s.turns, s.z = (until-at)*turns, complex(share, 0)*z
		out = append(out, s)
		at, before = until, s.after
	}
	return out
}

// fewer is the series impedance of a share of the turns: the copper goes with their
// number, the leakage with its square.
func fewer(z complex128, share float64) complex128 {
	return complex(share*real(z), share*share*imag(z))
}

// energise returns the volts of every node and the currents in windings, given the
// admittances of everything else, the leaks, and the amperes that the supply injects.
//
// A transformer is no set of two-terminal admittances of one sign, and star-mesh
// elimination would lose its exactness over negative ones. So the network is solved
// without the windings, once for the supply and once for one ampere through each
// section of a winding; the currents in them then follow from a small dense system:
// the volts that the network leaves across each section are turns·e + z·i, and the
// ampere-turns of each core are what its iron takes.
func (t *supply) energise(y, leak, amps []complex128) ([]complex128, []wound, error) {
	n := t.net
	volts := n.phasors(y, leak, amps)
	if len(n.cores) == 0 {
		return volts, nil, nil
	}
	all := t.sections()
	k := len(all)
	alone := make([][]complex128, k) // volts of the nodes for one ampere out of first and into last
	m := make([][]complex128, k+len(n.cores))
	for i := range m {
		m[i] = make([]complex128, len(m)+1)
	}
	for j, s := range all {
		if s.first == Chassis && s.last == Chassis {
			continue
		}
		one := make([]complex128, n.nodes)
		if s.first != Chassis {
			one[s.first]--
		}
		if s.last != Chassis {
			one[s.last]++
		}
		alone[j] = n.phasors(y, leak, one)
	}
	for i, s := range all {
		// A short beside the winding is in y. Volts of the section, left over: 0 =
		// volts - turns·e - z·i - what the points on the frame add.
		m[i][len(m)] = -voltsAcross(volts, s.first, s.last)
		for j := range all {
			if alone[j] != nil {
				m[i][j] += voltsAcross(alone[j], s.first, s.last)
			}
		}
		m[i][i] -= s.z + complex(s.before+s.after, 0)
		if s.after != 0 && i+1 < k && all[i+1].before == s.after && all[i+1].edge == s.edge {
			m[i][i+1] += complex(s.after, 0)
			m[i+1][i] += complex(s.after, 0)
		}
		m[i][k+s.core] = complex(-s.turns, 0)
		m[k+s.core][i] = complex(-s.turns, 0)
	}
	for c, core := range n.cores {
		// VA drawn at rated flux, over the square of one: ampere-turns per e.
		va := math.Max(float64(n.unit.Parts[core.part].Watts), 1e-6)
		m[k+c][k+c] = complex(va*small(va), 0) * noLoad
	}
	for _, row := range m {
		scale(row)
	}
	x, err := gauss(m)
	if err != nil {
		return nil, nil, err
	}
	var currents []wound
	for i, s := range all {
		for at, v := range alone[i] {
			volts[at] += x[i] * v
		}
		w := wound{edge: s.edge}
		if s.first != Chassis {
			w.in = x[i]
		}
		if s.last != Chassis {
			w.out = x[i]
		}
		if w.in != 0 || w.out != 0 {
			currents = append(currents, w)
		}
	}
	return volts, currents, nil
}

// scale divides a row by its largest entry, so that pivots can be compared.
func scale(row []complex128) {
	most := 0.0
	for _, v := range row[:len(row)-1] {
		most = math.Max(most, cmplx.Abs(v))
	}
	if most == 0 {
		return
	}
	for i := range row {
		row[i] /= complex(most, 0)
	}
}

// transformer: windings H1-H2 (and on to further taps of the primary) and X1-X2, as
// marked in IEEE C57.12.70, from memory. A meter sees two windings that have nothing to
// do with each other.
func (m *making) transformer() {
	va, from, to := 0.0, 0.0, 0.0
	read := func(key string, size measure, example string, into *float64) {
		if v, ok := m.need(m.fields, key, example); ok {
			*into, _ = m.quantity(v, key, size, true, example)
		}
	}
	read("va", voltamps, "va: 40, as on its plate", &va)
	read("primary", volts, "primary: 208 V", &from)
	read("secondary", volts, "secondary: 24 V", &to)
	taps := m.taps(from)
	if va == 0 || from == 0 || to == 0 {
		for _, t := range []string{"H1", "H2", "X1", "X2"} {
			m.term(t)
		}
		return
	}
	m.part.Volts, m.part.Watts = quantity.Volts(from), quantity.Watts(va)

	// A 40 VA 208 V primary has 40-100 ohm, that is 4 to 9 % of its rated volts over
	// its rated current; larger ones have less, by the cube root of VA. The secondary
	// has the same share. Common practice, no source.
	share := quantity.Ohms(small(va))
	of := func(v float64) quantity.Ohms { return quantity.Ohms(v * v / va) }
	pu := func(v float64) Spread {
		const base = 208 * 208 / 40.0
		return between(40.0/base*share*of(v), 100.0/base*share*of(v))
	}
	primary := m.ohmsOr("primary ohms", pu(from))
	secondary := m.ohmsOr("secondary ohms", pu(to))
	drop := primary.Nominal/of(from) + secondary.Nominal/of(to)

	modes := []Mode{Earthed, OpenCircuit, ShortCircuit, ShortedTurns}
	winding := func(name, x, y string, s Spread, turns float64) {
		// Leakage a third of the copper. Common practice, no source.
		m.resist(name, x, y, s, complex(float64(s.Nominal), float64(s.Nominal)/3), modes...)
		m.part.Elems[len(m.part.Elems)-1].Turns = quantity.Volts(turns)
	}
	name := "primary"
	if len(taps) > 0 {
		name = "primary H1-H2"
	}
	winding(name, "H1", "H2", primary, from)
	last, below := "H2", from
	for _, t := range taps {
		k := quantity.Ohms((t.volts - below) / from)
		winding("primary "+last+"-"+t.name, last, t.name, Spread{k * primary.Nominal, k * primary.Lo, k * primary.Hi}, t.volts-below)
		last, below = t.name, t.volts
	}
	// Rated volts are those at full load: without load there is more.
	winding("secondary", "X1", "X2", secondary, to*(1+float64(drop)))
}

// primaryTap is a further terminal of a primary and its volts against H1.
type primaryTap struct {
	name  string
	volts float64
}

// taps reads taps: {H3: 240 V}, volts against H1, rising.
func (m *making) taps(from float64) []primaryTap {
	const example = "taps: {H3: 240 V}, volts against H1, rising"
	v, ok := m.get("taps")
	if !ok {
		return nil
	}
	var all []primaryTap
	below := from
	for _, f := range m.entries(v, "taps", example) {
		x, ok := m.quantity(f.value, "taps", volts, false, example)
		switch {
		case !isName(f.key) || f.key == "H1" || f.key == "H2" || f.key[0] != 'H':
			m.complain(f.spot, example, "a tap cannot be called %q", f.key)
		case !ok:
		case x <= below:
			m.complain(f.value.spot, example, "%g V at %s is not above the %g V before it", x, f.key, below)
		default:
			all = append(all, primaryTap{f.key, x})
			below = x
		}
	}
	return all
}
