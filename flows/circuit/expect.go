package circuit

import (
	"math"
	"slices"
	"strings"

	"halfsplit/flows/quantity"
)

// Expected is one value that a sound unit shows: ohms with the power off, volts and
// amperes with it on. Lo and Hi are the values of a unit all of whose resistances are at
// one end of their tolerances; for ohms, +Inf is OL.
type Expected struct {
	Table   Table
	Setting string // how the parts stand, as far as they are not at rest: "S1 on"; empty at rest
	What    string // "E1", "K1 pole 1", "14", "L1"
	From    string // points, as in Point.Short
	To      string
	Off     string // what is off its terminals: "its wires", "14 at K1:T1", "neutral", two joined by a comma; empty: nothing
	Unit    quantity.Unit
	Lo      float64
	Nominal float64
	Hi      float64
}

// Table is what a value is listed under.
type Table uint8

// The tables: ohms of parts and wires end to end, from the free end of a wire to the
// frame, between legs and to the frame, from each point to the frame; volts and amperes
// of loads and legs.
const (
	PartOhms Table = iota
	WireOhms
	FreeEnd
	LegOhms
	PointOhms
	LoadVolts
	LoadAmps
	LegAmps
)

// String returns the name of the table, as in CSV.
func (t Table) String() string {
	return [...]string{"part", "wire", "wire free", "leg", "point", "load volts", "load amps", "leg amps"}[t]
}

// What is off, in Expected.Off.
const (
	OffWires   = "its wires"
	OffNeutral = "neutral"
)

// expecting is a sheet of expected values under way.
type expecting struct {
	n         *Network
	u         *Unit
	low, high *Actual
	out       []Expected
}

func newExpecting(n *Network) *expecting {
	x := &expecting{n: n, u: n.unit, low: &Actual{}, high: &Actual{}}
	for i := range x.u.Parts {
		var lo, hi []quantity.Ohms
		for _, e := range x.u.Parts[i].Elems {
			lo, hi = append(lo, e.Ohms.Lo), append(hi, e.Ohms.Hi)
		}
		x.low.Elems, x.high.Elems = append(x.low.Elems, lo), append(x.high.Elems, hi)
	}
	return x
}

// ExpectDead lists what an ohmmeter reads on a sound unit with the power off, in state
// s: parts end to end with their wires off and in circuit, wires end to end and from
// their free first end to the frame, every point to the frame; and the legs against each
// other and the frame in s, with each part moved that a hand can move, and with all of
// them set for use. Where a neutral is brought, all is listed with it landed and lifted.
//
// A reading rises with every single resistance (Rayleigh's monotonicity law), so that no
// sound unit reads outside Lo to Hi. Meter, leads and warm parts come on top.
func ExpectDead(n *Network, s State) []Expected {
	x := newExpecting(n)
	s.On, s.Held = "", ""
	lifted := s
	for _, e := range x.neutralEnds() {
		lifted = lifted.Lift(e)
	}
	both := []State{s}
	if lifted != s {
		both = append(both, lifted)
	}
	x.parts(s, both)
	x.wires(both)
	x.points(both)
	for _, t := range x.byHand(s) {
		x.legs(t)
		if lifted != s {
			t.Lifted = lifted.Lifted
			x.legs(t)
		}
	}
	return x.out
}

// neutralEnds are the wire ends on the terminals where a neutral lands.
func (x *expecting) neutralEnds() []EndID {
	var out []EndID
	for _, s := range x.u.Sources {
		for _, f := range s.Feeds {
			for _, e := range x.u.Terms[f.Term].Ends {
				if w, _ := e.Wire(); f.Leg == "N" && !x.u.Wires[w].Fixed {
					out = append(out, e)
				}
			}
		}
	}
	return out
}

// ohms adds a reading between two points in a state.
func (x *expecting) ohms(e Expected, s State, a, b Node) {
	e.Unit = quantity.Ohm
	for _, v := range []struct {
		act *Actual
		to  *float64
	}{{x.low, &e.Lo}, {nil, &e.Nominal}, {x.high, &e.Hi}} {
		solved, err := x.n.DeadUnder(s, nil, v.act)
		if err != nil {
			return
		}
		if *v.to = float64(solved.Ohms(a, b)); *v.to > float64(OLAbove) {
			*v.to = math.Inf(1)
		}
	}
	e.Setting = x.u.Setting(s)
	e.From, e.To = x.u.PointIn(a, s).Short(), x.u.PointIn(b, s).Short()
	var off []string
	if e.Off != "" {
		off = append(off, e.Off)
	}
	if ends := x.neutralEnds(); ends != nil && !slices.ContainsFunc(ends, func(e EndID) bool { return !s.Lifted.Has(int(e)) }) && e.Off != OffWires {
		off = append(off, OffNeutral)
	}
	e.Off = strings.Join(off, ", ")
	x.out = append(x.out, e)
}

// Setting says how the parts stand that are not at rest: "S1 on, K1 pulled in".
func (u *Unit) Setting(s State) string {
	var all []string
	for p, part := range u.Parts {
		if at := s.Position(u, PartID(p)); len(part.Positions) > at && at != part.Rest {
			all = append(all, part.Tag+" "+part.Positions[at])
		}
	}
	return strings.Join(all, ", ")
}

func (x *expecting) parts(s State, both []State) {
	for i := range x.u.Parts {
		p := &x.u.Parts[i]
		alone := s
		for _, t := range p.Terms {
			for _, e := range x.u.Terms[t].Ends {
				alone = alone.Lift(e)
			}
		}
		for k := range p.Elems {
			e := &p.Elems[k]
			if e.Role == Bond || e.B == None {
				continue
			}
			what := strings.TrimSpace(p.Tag + " " + e.Name)
			x.ohms(Expected{Table: PartOhms, What: what, Off: OffWires}, alone, Node(e.A), Node(e.B))
			for _, t := range both {
				x.ohms(Expected{Table: PartOhms, What: what}, t, Node(e.A), Node(e.B))
			}
		}
	}
}

func (x *expecting) wires(both []State) {
	for i := range x.u.Wires {
		w, wire := WireID(i), &x.u.Wires[i]
		name := wire.Number
		if name == "" {
			name = wire.Colour
		}
		from := x.u.TermName(wire.Ends[0])
		what := strings.TrimSpace(name + " " + from + " - " + x.u.TermName(wire.Ends[1]))
		x.ohms(Expected{Table: WireOhms, What: what}, both[0], Node(wire.Ends[0]), Node(wire.Ends[1]))
		if wire.Fixed {
			continue
		}
		end := w.Ends()[0]
		off := strings.TrimSpace(name + " at " + from)
		for _, s := range both {
			x.ohms(Expected{Table: FreeEnd, What: what, Off: off}, s.Lift(end), x.n.Wire(w), Chassis)
		}
	}
}

// points lists every net once, at its first terminal that wires land on.
func (x *expecting) points(both []State) {
	var seen []Node
	for t := range x.u.Terms {
		if slices.Contains(seen, Node(t)) || len(x.u.Terms[t].Ends) == 0 {
			continue
		}
		seen = append(seen, x.n.Reach(both[0], Node(t))...)
		for _, s := range both {
			x.ohms(Expected{Table: PointOhms, What: x.u.TermName(TermID(t))}, s, Node(t), Chassis)
		}
	}
}

// byHand lists a state, those that differ from it by one part moved by hand, and the one
// with all set for use and contactors held in.
func (x *expecting) byHand(s State) []State {
	out := []State{s}
	all := s
	use := inUse(x.u)
	for i := range x.u.Parts {
		p := &x.u.Parts[i]
		if !p.ByHand {
			continue
		}
		id := PartID(i)
		for pos := range p.Positions {
			if t := s.Move(x.u, id, pos); !slices.Contains(out, t) {
				out = append(out, t)
			}
		}
		if (&sweep{n: x.n}).coil(id) {
			all = all.Move(x.u, id, 1)
		} else {
			all = all.Move(x.u, id, use.Position(x.u, id))
		}
	}
	if !slices.Contains(out, all) {
		out = append(out, all)
	}
	return out
}

// legs lists the conductors where they land, against each other and the frame, and what
// lies behind the poles of each contactor.
func (x *expecting) legs(s State) {
	for i, src := range x.u.Sources {
		name := func(leg string) string {
			if len(x.u.Sources) > 1 {
				return src.Name + " " + leg
			}
			return leg
		}
		for k, a := range src.Feeds {
			if a.Leg == "PE" {
				continue
			}
			for _, b := range x.u.Sources[i].Feeds[k+1:] {
				if b.Leg != "PE" {
					x.ohms(Expected{Table: LegOhms, What: name(a.Leg) + " to " + name(b.Leg)}, s, Node(a.Term), Node(b.Term))
				}
			}
			x.ohms(Expected{Table: LegOhms, What: name(a.Leg) + " to ground"}, s, Node(a.Term), Chassis)
		}
	}
	for i := range x.u.Parts {
		p := &x.u.Parts[i]
		if p.Kind != KindContact {
			continue
		}
		var far []TermID
		for k := range p.Elems {
			if e := &p.Elems[k]; e.Role == Contact && len(x.u.Terms[e.B].Ends) > 0 && !closed(e, p.Rest) {
				far = append(far, e.B)
			}
		}
		for k, a := range far {
			for _, b := range far[k+1:] {
				x.ohms(Expected{Table: LegOhms, What: x.u.TermName(a) + " to " + x.u.Terms[b].Name}, s, Node(a), Node(b))
			}
			x.ohms(Expected{Table: LegOhms, What: x.u.TermName(a) + " to ground"}, s, Node(a), Chassis)
		}
	}
}

// InUse has every source on, every part that a hand sets where it closes most of its
// contacts, and the others at rest.
func InUse(u *Unit) State { return inUse(u) }

// ExpectLive lists what a sound unit shows when energised in state s: volts across each
// load and from its ends to the frame, amperes through it and in each leg. in holds the
// contactors and relays that are pulled in. The error is one of Network.Live.
func ExpectLive(n *Network, s State) (all []Expected, in Bits, err error) {
	x := newExpecting(n)
	mid, err := n.Live(s, nil, nil)
	if err != nil {
		return nil, "", err
	}
	lives := []*Live{mid}
	for _, act := range []*Actual{x.low, x.high} {
		l, err := n.Live(s, nil, act)
		if err != nil {
			return nil, "", err
		}
		lives = append(lives, l)
	}
	setting := x.u.Setting(s)
	add := func(e Expected, of func(l *Live) float64) {
		e.Setting, e.Nominal = setting, of(mid)
		e.Lo, e.Hi = e.Nominal, e.Nominal
		for _, l := range lives[1:] {
			e.Lo, e.Hi = min(e.Lo, of(l)), max(e.Hi, of(l))
		}
		x.out = append(x.out, e)
	}
	for i, src := range x.u.Sources {
		for k, leg := range src.Legs {
			if len(x.u.Sources) > 1 {
				leg = src.Name + " " + leg
			}
			add(Expected{Table: LegAmps, What: leg, Unit: quantity.Amp}, func(l *Live) float64 { return float64(l.LegAmps(i, k)) })
		}
	}
	for i := range x.u.Parts {
		p := &x.u.Parts[i]
		for k := range p.Elems {
			e := &p.Elems[k]
			if e.Role != Resist || e.B == None {
				continue
			}
			a, b := Node(e.A), Node(e.B)
			row := Expected{Table: LoadVolts, What: strings.TrimSpace(p.Tag + " " + e.Name), Unit: quantity.Volt}
			for _, pair := range [][2]Node{{a, b}, {a, Chassis}, {b, Chassis}} {
				row.From, row.To = x.u.PointOf(pair[0]).Short(), x.u.PointOf(pair[1]).Short()
				add(row, func(l *Live) float64 { return float64(l.Volts(pair[0], pair[1])) })
			}
			row.Table, row.Unit = LoadAmps, quantity.Amp
			row.From, row.To = x.u.PointOf(a).Short(), x.u.PointOf(b).Short()
			add(row, func(l *Live) float64 { return float64(l.Amps(PartID(i), k)) })
		}
	}
	return x.out, mid.In, nil
}
