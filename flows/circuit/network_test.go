package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"halfsplit/flows/quantity"
	"halfsplit/testdata/units"
)

// resistor is one line of a netlist: ohms between two numbered nodes.
type resistor struct {
	a, b int
	ohms float64
}

// netlist makes a unit of one part whose terminals are the nodes and whose elements
// are the resistors, so that a published circuit can be read by the product's solver.
func netlist(nodes int, rs []resistor) *Unit {
	u := &Unit{Name: "netlist", Parts: []Part{{Tag: "R", Kind: KindElement, Cover: None}}}
	for i := range nodes {
		u.Terms = append(u.Terms, Terminal{Part: 0, Name: fmt.Sprint(i)})
		u.Parts[0].Terms = append(u.Parts[0].Terms, TermID(i))
	}
	for _, r := range rs {
		u.Parts[0].Elems = append(u.Parts[0].Elems, Elem{
			A: TermID(r.a), B: TermID(r.b), Ohms: Spread{Nominal: quantity.Ohms(r.ohms)},
		})
	}
	return u
}

// bench builds units by hand, part by part and wire by wire.
type bench struct {
	u  *Unit
	at map[string]TermID
}

func newBench() *bench { return &bench{u: &Unit{}, at: map[string]TermID{}} }

// part adds a part whose terminals are named; elements name terminals by index.
func (b *bench) part(tag string, kind Kind, terms []string, elems ...Elem) PartID {
	id := PartID(len(b.u.Parts))
	p := Part{Tag: tag, Kind: kind, Cover: None}
	for _, t := range terms {
		tid := TermID(len(b.u.Terms))
		b.at[tag+":"+t] = tid
		p.Terms = append(p.Terms, tid)
		b.u.Terms = append(b.u.Terms, Terminal{Part: id, Name: t})
	}
	for _, e := range elems {
		e.A, e.B = p.Terms[e.A], p.Terms[e.B]
		p.Elems = append(p.Elems, e)
	}
	b.u.Parts = append(b.u.Parts, p)
	return id
}

func (b *bench) wire(from, to string) WireID {
	w := WireID(len(b.u.Wires))
	ends := [2]TermID{TermID(b.node(from)), TermID(b.node(to))}
	for i, t := range ends {
		b.u.Terms[t].Ends = append(b.u.Terms[t].Ends, EndID(int(w)*2+i))
	}
	b.u.Wires = append(b.u.Wires, Wire{Ends: ends})
	return w
}

func (b *bench) node(name string) Node {
	t, ok := b.at[name]
	if !ok {
		panic("no terminal " + name)
	}
	return Node(t)
}

func ohm(r float64) Spread { return Spread{Nominal: quantity.Ohms(r)} }

// plateWarmer is a plate warmer with two drawers on 120/208 V, all of its wires drawn:
// three on one contactor screw, two lamps and a fan to neutral.
func plateWarmer() *bench {
	b := newBench()
	b.part("X1", KindTerminal, []string{"L1", "L2", "N", "PE"})
	s1 := b.part("S1", KindSwitch, []string{"1", "2"}, Elem{A: 0, B: 1, Role: Contact, Closed: 2})
	f1 := b.part("F1", KindLimit, []string{"1", "2"}, Elem{A: 0, B: 1, Role: Contact, Closed: 1})
	k1 := b.part("K1", KindContact, []string{"A1", "A2", "L1", "T1", "L2", "T2"},
		Elem{Name: "coil", A: 0, B: 1, Ohms: ohm(520), Lively: complex(500, 2000), Coil: true},
		Elem{Name: "pole 1", A: 2, B: 3, Role: Contact, Closed: 2},
		Elem{Name: "pole 2", A: 4, B: 5, Role: Contact, Closed: 2})
	stat := Elem{A: 0, B: 1, Role: Contact, Closed: 1}
	b.part("T1", KindStat, []string{"1", "2"}, stat)
	b.part("T2", KindStat, []string{"1", "2"}, stat)
	heater := Elem{A: 0, B: 1, Ohms: ohm(208 * 208 / 700.0)}
	b.part("E1", KindElement, []string{"1", "2"}, heater)
	b.part("E2", KindElement, []string{"1", "2"}, heater)
	lamp := Elem{A: 0, B: 1, Ohms: ohm(20), Lively: complex(240, 0)}
	b.part("H1", KindLamp, []string{"1", "2"}, lamp)
	b.part("H2", KindLamp, []string{"1", "2"}, lamp)
	b.part("M1", KindMotor, []string{"1", "2"}, Elem{A: 0, B: 1, Ohms: ohm(45), Lively: complex(150, 300)})
	for _, w := range [][2]string{
		{"X1:L1", "K1:L1"}, {"X1:L1", "S1:1"}, {"S1:2", "F1:1"}, {"F1:2", "K1:A1"},
		{"X1:L2", "K1:L2"}, {"X1:L2", "K1:A2"},
		{"K1:T1", "H1:1"}, {"K1:T1", "T1:1"}, {"K1:T1", "T2:1"}, {"H1:1", "H2:1"},
		{"T1:2", "E1:1"}, {"T2:2", "E2:1"}, {"E1:2", "K1:T2"}, {"E2:2", "K1:T2"},
		{"H1:2", "H2:2"}, {"H2:2", "X1:N"}, {"S1:2", "M1:1"}, {"M1:2", "X1:N"},
	} {
		b.wire(w[0], w[1])
	}
	b.u.Name = "Plate warmer, two drawers"
	two := []string{"off", "on"}
	b.u.Parts[s1].Positions, b.u.Parts[s1].ByHand = two, true
	b.u.Parts[f1].Positions = []string{"closed", "open"}
	b.u.Parts[k1].Positions, b.u.Parts[k1].Volts = two, 208
	for i := range b.u.Parts {
		if b.u.Parts[i].Kind == KindStat {
			b.u.Parts[i].Positions, b.u.Parts[i].ByHand = []string{"cold", "hot"}, true
		}
	}
	b.u.Sources = []Source{{
		Name: "main", System: "120/208 wye", Legs: []string{"L1", "L2", "N", "PE"}, Bonded: "at the panel",
		Breaker:      Breaker{Poles: 2, Amps: 20},
		Isolator:     Isolator{Kind: Disconnect, Opens: []string{"L1", "L2"}, Leaves: []string{"N", "PE"}},
		Feeds:        []Feed{{"L1", b.at["X1:L1"]}, {"L2", b.at["X1:L2"]}, {"N", b.at["X1:N"]}, {"PE", b.at["X1:PE"]}},
		LegToNeutral: 120, LegToLeg: 208, AngleDeg: []float64{0, 120, 0, 0}, Impedance: 0.1,
	}}
	return b
}

func (b *bench) id(tag string) PartID {
	for i := range b.u.Parts {
		if b.u.Parts[i].Tag == tag {
			return PartID(i)
		}
	}
	return None
}

// faults lists every fault that the unit can have, with a few sizes each.
func (b *bench) faults() []Placed {
	var all []Placed
	for p := range b.u.Parts {
		part := &b.u.Parts[p]
		for i, el := range part.Elems {
			add := func(m Mode, at float64, ohms ...quantity.Ohms) {
				for _, r := range ohms {
					all = append(all, Placed{Fault: Fault{Mode: m, Part: PartID(p), Elem: i, Wire: None, End: None}, Ohms: r, At: at})
				}
			}
			if el.B == None { // a bond to the frame
				add(OpenCircuit, 0, 0)
				continue
			}
			for _, x := range []float64{0, 0.03, 0.5, 1} {
				add(Earthed, x, 0, 0.3, 12, 4700, 2e6)
			}
			add(EarthedTerm, 0, 0, 1, 5e4, 2e7)
			add(EarthedTerm, 1, 0, 1, 5e4, 2e7)
			if el.Role == Contact {
				add(Welded, 0, 0, 0.4)
				add(NeverCloses, 0, 0)
				continue
			}
			add(OpenCircuit, 0, 0)
			add(ShortedTurns, 0, 0, 0.01, 0.6, 0.95)
			add(ShortCircuit, 0, 0, 0.2, 900)
		}
	}
	for w := range b.u.Wires {
		add := func(m Mode, end int, ohms ...quantity.Ohms) {
			for _, r := range ohms {
				all = append(all, Placed{Fault: Fault{Mode: m, Part: None, Elem: None, Wire: WireID(w), End: end}, Ohms: r})
			}
		}
		add(Chafed, None, 0, 2, 800, 3e6)
		for end := range 2 {
			add(Broken, end, 0)
			add(HighOhms, end, 0.001, 0.5, 30, 1e5)
		}
	}
	return all
}

// anyState is a random state of the unit: some ends lifted, parts in any position.
func anyState(u *Unit, r *rand.Rand) State {
	var s State
	for p := range u.Parts {
		if k := len(u.Parts[p].Positions); k > 0 {
			s = s.Move(u, PartID(p), r.IntN(k))
		}
	}
	for e := range 2 * len(u.Wires) {
		if r.IntN(12) == 0 {
			s = s.Lift(EndID(e))
		}
	}
	return s
}

// parsed reads a unit file of testdata/units.
func parsed(t testing.TB, name string) *bench {
	t.Helper()
	src, err := units.Files.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	u, problems := Parse(name, src)
	for _, p := range problems {
		t.Error(p)
	}
	if u == nil {
		t.FailNow()
	}
	b := &bench{u: u, at: map[string]TermID{}}
	for i, x := range u.Terms {
		b.at[u.Parts[x.Part].Tag+":"+x.Name] = TermID(i)
	}
	return b
}

// line is a made-up line of ovens: decks with a contactor, three elements, two
// thermostats, a limit, a lamp and a fan each, on one supply.
func line(decks int) *bench {
	b := newBench()
	b.part("X1", KindTerminal, []string{"L1", "L2", "N", "PE"})
	for d := range decks {
		tag := func(s string) string { return fmt.Sprint(s, d+1) }
		on := Elem{A: 0, B: 1, Role: Contact, Closed: 2}
		cold := Elem{A: 0, B: 1, Role: Contact, Closed: 1}
		two := []string{"off", "on"}
		pair := []string{"1", "2"}
		b.u.Parts[b.part(tag("S"), KindSwitch, pair, on)].Positions = two
		b.u.Parts[b.part(tag("F"), KindLimit, pair, cold)].Positions = two
		k := b.part(tag("K"), KindContact, []string{"A1", "A2", "L1", "T1", "L2", "T2"},
			Elem{A: 0, B: 1, Ohms: ohm(520), Lively: complex(500, 2000), Coil: true},
			Elem{A: 2, B: 3, Role: Contact, Closed: 2}, Elem{A: 4, B: 5, Role: Contact, Closed: 2})
		b.u.Parts[k].Positions, b.u.Parts[k].Volts = two, 208
		for _, s := range []string{"TA", "TB"} {
			b.u.Parts[b.part(tag(s), KindStat, pair, cold)].Positions = two
		}
		for _, s := range []string{"EA", "EB", "EC"} {
			b.part(tag(s), KindElement, pair, Elem{A: 0, B: 1, Ohms: ohm(20 + float64(d))})
		}
		b.part(tag("H"), KindLamp, pair, Elem{A: 0, B: 1, Ohms: ohm(20), Lively: 240})
		b.part(tag("M"), KindMotor, pair, Elem{A: 0, B: 1, Ohms: ohm(45), Lively: complex(150, 300)})
		for _, w := range [][2]string{
			{"X1:L1", tag("K") + ":L1"}, {"X1:L2", tag("K") + ":L2"}, {"X1:L1", tag("S") + ":1"}, {tag("S") + ":2", tag("F") + ":1"},
			{tag("F") + ":2", tag("K") + ":A1"}, {tag("K") + ":A2", tag("K") + ":L2"},
			{tag("K") + ":T1", tag("TA") + ":1"}, {tag("K") + ":T1", tag("TB") + ":1"}, {tag("TA") + ":2", tag("EA") + ":1"},
			{tag("TB") + ":2", tag("EB") + ":1"}, {tag("EB") + ":1", tag("EC") + ":1"}, {tag("EA") + ":2", tag("K") + ":T2"},
			{tag("EB") + ":2", tag("K") + ":T2"}, {tag("EC") + ":2", tag("EB") + ":2"}, {tag("K") + ":T1", tag("H") + ":1"},
			{tag("H") + ":2", tag("M") + ":2"}, {tag("S") + ":2", tag("M") + ":1"}, {tag("M") + ":2", "X1:N"},
		} {
			b.wire(w[0], w[1])
		}
	}
	warmer := plateWarmer().u.Sources[0]
	warmer.Feeds = []Feed{{"L1", 0}, {"L2", 1}, {"N", 2}, {"PE", 3}}
	b.u.Name, b.u.Sources = "line of ovens", []Source{warmer}
	return b
}

// shuffled is a random unit: parts of random kinds wired at random.
func shuffled(r *rand.Rand, parts int) *bench {
	b := newBench()
	b.part("X1", KindTerminal, []string{"L1", "L2", "N", "PE"})
	names := []string{"X1:L1", "X1:L2", "X1:N"}
	for i := range parts {
		tag := fmt.Sprint("P", i)
		elem := Elem{A: 0, B: 1, Ohms: ohm(math.Pow(10, 4*r.Float64()))}
		if r.IntN(3) == 0 {
			elem = Elem{A: 0, B: 1, Role: Contact, Closed: uint32(1 + r.IntN(2))}
		}
		p := b.part(tag, KindElement, []string{"1", "2"}, elem)
		if elem.Role == Contact {
			b.u.Parts[p].Positions = []string{"off", "on"}
		}
		for _, end := range []string{":1", ":2"} {
			b.wire(names[r.IntN(len(names))], tag+end)
		}
		names = append(names, tag+":1", tag+":2")
	}
	warmer := plateWarmer().u.Sources[0]
	warmer.Feeds = []Feed{{"L1", 0}, {"L2", 1}, {"N", 2}, {"PE", 3}}
	b.u.Name, b.u.Sources = "shuffled", []Source{warmer}
	return b
}
