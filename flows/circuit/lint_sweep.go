package circuit

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"halfsplit/flows/quantity"
)

// Bounds of a sweep: up to so many combinations of positions all are tried, above it so
// many of those that move one or two parts.
const (
	sweepAll  = 512
	sweepSome = 3000
)

// stiff is the impedance in ohms that a supply has in a sweep: ratings are those without
// sag, and what a weak supply does is not the fault of the file.
const stiff quantity.Ohms = 1e-3

// sweep is the energised unit in many combinations of the positions of its parts.
type sweep struct {
	n        *Network
	seen     map[State]sight // states that settle and join nothing
	order    []State
	good     int
	volts    [][]voltPeak // by part and element
	amps     [][]ampPeak
	legs     [][]ampPeak // by source and leg
	wires    []quantity.Amps
	joined   []joining
	restless []unrest
}

// voltPeak and ampPeak are the greatest values and the first state that shows them.
type voltPeak struct {
	most  quantity.Volts
	state State
}

type ampPeak struct {
	most  quantity.Amps
	state State
}

// sight is the volts across every resistance, in the order of parts and elements.
type sight []float64

// feedID is an entry of Source.Feeds.
type feedID struct{ source, feed int }

// joining is two conductors of the supply joined in a state, contactors in.
type joining struct {
	a, b  feedID
	state State
	in    Bits
}

// unrest is contactors that do not settle in a state.
type unrest struct {
	state State
	parts Bits
	races bool
}

// inUse has every part set to the position that closes most of its contacts if a person
// sets it, and at rest if not, with every source on.
func inUse(u *Unit) State {
	s := State{}
	for i := range u.Sources {
		s = s.SwitchOn(i)
	}
	for i := range u.Parts {
		p := &u.Parts[i]
		if !p.ByHand || slices.ContainsFunc(p.Elems, func(e Elem) bool { return e.Coil }) {
			continue
		}
		best, most := p.Rest, -1
		for pos := range p.Positions {
			closes := 0
			for k := range p.Elems {
				if p.Elems[k].Role == Contact && closed(&p.Elems[k], pos) {
					closes++
				}
			}
			if closes > most {
				best, most = pos, closes
			}
		}
		s = s.Move(u, PartID(i), best)
	}
	return s
}

// settings lists the states of a sweep, those that move fewest parts from rest first.
func settings(u *Unit) []State {
	on := State{}
	for i := range u.Sources {
		on = on.SwitchOn(i)
	}
	var movable []PartID
	count := 1
	for i := range u.Parts {
		p := &u.Parts[i]
		if len(p.Positions) > 1 && !slices.ContainsFunc(p.Elems, func(e Elem) bool { return e.Coil }) {
			movable = append(movable, PartID(i))
			count = min(count*len(p.Positions), sweepAll+1)
		}
	}
	all := []State{on}
	if count <= sweepAll {
		for _, p := range movable {
			for _, s := range all {
				for pos := range u.Parts[p].Positions {
					if pos != u.Parts[p].Rest {
						all = append(all, s.Move(u, p, pos))
					}
				}
			}
		}
	} else {
		seen := map[State]bool{on: true}
		add := func(s State) {
			if !seen[s] && len(all) < sweepSome {
				seen[s] = true
				all = append(all, s)
			}
		}
		bases := []State{on, inUse(u)}
		add(bases[1])
		for _, base := range bases {
			for _, p := range movable {
				for pos := range u.Parts[p].Positions {
					add(base.Move(u, p, pos))
				}
			}
		}
		for _, base := range bases {
			for i, p := range movable {
				for pos := range u.Parts[p].Positions {
					for _, q := range movable[i+1:] {
						for other := range u.Parts[q].Positions {
							add(base.Move(u, p, pos).Move(u, q, other))
						}
					}
				}
			}
		}
	}
	moved := func(s State) int {
		n := 0
		for _, b := range []byte(s.At) {
			if b != 0 {
				n++
			}
		}
		return n
	}
	slices.SortStableFunc(all, func(x, y State) int { return cmp.Compare(moved(x), moved(y)) })
	return all
}

func newSweep(of *Unit) *sweep {
	strong := *of
	strong.Sources = slices.Clone(of.Sources)
	for i := range strong.Sources {
		strong.Sources[i].Impedance = stiff
	}
	u, n := of, NewNetwork(&strong)
	w := &sweep{n: n, seen: map[State]sight{}, wires: make([]quantity.Amps, len(u.Wires))}
	for i := range u.Parts {
		w.volts = append(w.volts, make([]voltPeak, len(u.Parts[i].Elems)))
		w.amps = append(w.amps, make([]ampPeak, len(u.Parts[i].Elems)))
	}
	for i := range u.Sources {
		w.legs = append(w.legs, make([]ampPeak, len(u.Sources[i].Legs)))
	}
	for _, s := range settings(u) {
		w.try(s)
	}
	return w
}

// try energises the unit in one state.
func (w *sweep) try(s State) {
	l, err := w.n.Live(s, nil, nil)
	switch {
	case errors.Is(err, ErrBuzz) || errors.Is(err, ErrRace):
		// A contactor that joins two legs drops itself out: that is the cause then.
		for i := range w.n.unit.Parts {
			if w.coil(PartID(i)) && w.join(s, Bits("").With(i)) {
				return
			}
		}
		w.restless = append(w.restless, unrest{state: s, parts: w.restlessOnes(s), races: errors.Is(err, ErrRace)})
	case err == nil && !w.join(s, l.In):
		w.note(s, l)
	}
}

func (w *sweep) coil(p PartID) bool {
	return slices.ContainsFunc(w.n.unit.Parts[p].Elems, func(e Elem) bool { return e.Coil })
}

// restlessOnes are the contactors without whose coil the others would settle, or all
// those with a coil if it takes more than one.
func (w *sweep) restlessOnes(s State) Bits {
	var who, all Bits
	for i := range w.n.unit.Parts {
		for k, e := range w.n.unit.Parts[i].Elems {
			if !e.Coil {
				continue
			}
			all = all.With(i)
			f := Placed{Fault: Fault{Mode: OpenCircuit, Part: PartID(i), Elem: k, Wire: None, End: None}}
			if _, err := w.n.Live(s, []Placed{f}, nil); err == nil {
				who = who.With(i)
			}
		}
	}
	if who == "" {
		return all
	}
	return who
}

// join records the conductors that are joined in a state, each pair once, and reports
// whether there are any.
func (w *sweep) join(s State, in Bits) bool {
	found := false
	var all []feedID
	for i := range w.n.unit.Sources {
		for k := range w.n.unit.Sources[i].Feeds {
			all = append(all, feedID{i, k})
		}
	}
	for i, a := range all {
		net := w.n.Reach(w.hold(s, in), Node(w.term(a)))
		for _, b := range all[i+1:] {
			if _, got := slices.BinarySearch(net, Node(w.term(b))); !got || w.alike(a, b) {
				continue
			}
			found = true
			if !slices.ContainsFunc(w.joined, func(j joining) bool { return j.a == a && j.b == b }) {
				w.joined = append(w.joined, joining{a, b, s, in})
			}
		}
	}
	return found
}

// joins reports whether two conductors are joined in a state.
func (w *sweep) joins(s State, in Bits, a, b feedID) bool {
	_, got := slices.BinarySearch(w.n.Reach(w.hold(s, in), Node(w.term(a))), Node(w.term(b)))
	return got
}

// alike reports whether two feeds are of one conductor: PE of two sources is.
func (w *sweep) alike(a, b feedID) bool {
	x, y := w.n.unit.Sources[a.source].Feeds[a.feed].Leg, w.n.unit.Sources[b.source].Feeds[b.feed].Leg
	return x == y && (x == "PE" || a.source == b.source)
}

func (w *sweep) term(f feedID) TermID { return w.n.unit.Sources[f.source].Feeds[f.feed].Term }

// hold is the state with contactors held in.
func (w *sweep) hold(s State, in Bits) State {
	for _, p := range in.Each() {
		s = s.Move(w.n.unit, PartID(p), 1)
	}
	return s
}

// note keeps the greatest values of a settled state.
func (w *sweep) note(s State, l *Live) {
	u := w.n.unit
	w.good++
	var seen sight
	for i := range u.Parts {
		for k := range u.Parts[i].Elems {
			e := &u.Parts[i].Elems[k]
			if e.B == None {
				continue
			}
			v := l.Volts(Node(e.A), Node(e.B))
			if e.Role == Resist {
				seen = append(seen, float64(v))
				if v > w.volts[i][k].most {
					w.volts[i][k] = voltPeak{v, s}
				}
			}
			if a := l.Amps(PartID(i), k); a > w.amps[i][k].most {
				w.amps[i][k] = ampPeak{a, s}
			}
		}
	}
	for i := range u.Sources {
		for k := range u.Sources[i].Legs {
			if a := l.LegAmps(i, k); a > w.legs[i][k].most {
				w.legs[i][k] = ampPeak{a, s}
			}
		}
	}
	for i := range u.Wires {
		for _, t := range u.Wires[i].Ends {
			drop := l.Volts(w.n.Wire(WireID(i)), Node(t))
			w.wires[i] = max(w.wires[i], quantity.Amps(float64(drop)/float64(JointOhms)))
		}
	}
	w.seen[s] = seen
	w.order = append(w.order, s)
}

// at returns what was seen in a state, looking now if the sweep did not pass it; false
// if it does not settle or joins two legs.
func (w *sweep) at(s State) (sight, bool) {
	if v, ok := w.seen[s]; ok {
		return v, true
	}
	l, err := w.n.Live(s, nil, nil)
	if err != nil || w.join(s, l.In) {
		return nil, false
	}
	w.note(s, l)
	return w.seen[s], true
}

// on reports whether a part has volts across a resistance.
func (v sight) on(u *Unit, part int) bool {
	at := 0
	for i := range u.Parts {
		for k := range u.Parts[i].Elems {
			e := &u.Parts[i].Elems[k]
			if e.B == None || e.Role != Resist {
				continue
			}
			if i == part && v[at] > asleep(&u.Parts[i]) {
				return true
			}
			at++
		}
	}
	return false
}

// same reports whether two positions of a part made no difference in any pair of states
// that differ in nothing else, of which there is at least one.
func (w *sweep) same(p PartID, a, b int) bool {
	pairs := 0
	for _, s := range w.order {
		if s.Position(w.n.unit, p) != a {
			continue
		}
		x := w.seen[s]
		y, ok := w.seen[s.Move(w.n.unit, p, b)]
		if !ok {
			continue
		}
		pairs++
		for i := range x {
			if math.Abs(x[i]-y[i]) > 0.02*math.Max(x[i], y[i])+0.2 {
				return false
			}
		}
	}
	return pairs > 0
}
