package circuit

import (
	"slices"
	"strings"
	"unicode"
)

// Point is how a node is named to a person who stands in front of the unit. Fields are
// empty where the file does not say.
type Point struct {
	Looks    string // "two-pole contactor, grey block", else kind and tag: "contactor K1"
	Place    string // "left wall"
	Position string // "bottom right screw"
	Mark     string // printed on it: "T2"
	Colour   string // of the wire
	Number   string // of the wire
	Tag      string // "K1", as in the diagram
	Term     string // "K1:T2"; both ends, "K1:T2 to H1:1", for a wire taken as a whole
	Free     bool   // the end of a wire that is off its terminal
	wire     bool
}

// NodeOf returns the node of wire w: its free end while an end is lifted.
func (u *Unit) NodeOf(w WireID) Node { return Node(len(u.Terms) + int(w)) }

// WireOf returns the wire of a node; None if the node is a terminal, the frame or on
// the supply side.
func (u *Unit) WireOf(n Node) WireID {
	if n < Node(len(u.Terms)) || int(n) >= len(u.Terms)+len(u.Wires) {
		return None
	}
	return WireID(int(n) - len(u.Terms))
}

// TermOf returns the terminal of a node; None if it is none.
func (u *Unit) TermOf(n Node) TermID {
	if n < 0 || int(n) >= len(u.Terms) {
		return None
	}
	return TermID(n)
}

// PointOf names a node: a terminal, a wire taken as a whole, or the frame.
func (u *Unit) PointOf(n Node) Point {
	if t := u.TermOf(n); t != None {
		return u.terminalPoint(t)
	}
	if w := u.WireOf(n); w != None {
		wire := u.Wires[w]
		return Point{Colour: wire.Colour, Number: wire.Number, wire: true,
			Term: u.TermName(wire.Ends[0]) + " to " + u.TermName(wire.Ends[1])}
	}
	if n == Chassis {
		return Point{Looks: "bare frame", Term: "frame"}
	}
	return Point{Looks: "the supply side", Term: "supply"}
}

// PointIn names a node in a state: a wire with one end lifted is named by that free
// end.
func (u *Unit) PointIn(n Node, s State) Point {
	if w := u.WireOf(n); w != None {
		first, second := s.Lifted.Has(int(w.Ends()[0])), s.Lifted.Has(int(w.Ends()[1]))
		if first != second {
			end := w.Ends()[0]
			if second {
				end = w.Ends()[1]
			}
			p := u.EndPoint(end)
			p.Free = true
			return p
		}
	}
	return u.PointOf(n)
}

// EndPoint names the end of a wire at its terminal.
func (u *Unit) EndPoint(e EndID) Point {
	w, side := e.Wire()
	if w < 0 || int(w) >= len(u.Wires) {
		return Point{}
	}
	p := u.terminalPoint(u.Wires[w].Ends[side])
	p.Colour, p.Number, p.wire = u.Wires[w].Colour, u.Wires[w].Number, true
	return p
}

func (u *Unit) terminalPoint(t TermID) Point {
	term := u.Terms[t]
	part := u.Parts[term.Part]
	p := Point{Looks: part.Looks, Place: part.At, Position: term.Where, Mark: term.Name, Tag: part.Tag, Term: u.TermName(t)}
	if p.Looks == "" {
		p.Looks = string(part.Kind) + " " + part.Tag
	}
	if part.Kind == KindGround {
		p.Mark = ""
	}
	return p
}

// String is the long English form, in the order looks, place, position and mark,
// colour, number: "two-pole contactor, left wall, bottom right screw (T2), wire red,
// 14". A free end is "wire red, 14, now off K1:T2 (two-pole contactor, left wall)".
func (p Point) String() string {
	var wire []string
	if p.wire {
		wire = append(wire, strings.TrimSpace("wire "+p.Colour))
		if p.Number != "" {
			wire = append(wire, p.Number)
		}
	}
	var place []string
	for _, s := range []string{p.Looks, p.Place} {
		if s != "" {
			place = append(place, s)
		}
	}
	if p.Free {
		return strings.Join(wire, ", ") + ", now off " + p.Term + " (" + strings.Join(place, ", ") + ")"
	}
	switch {
	case p.Position != "" && p.Mark != "":
		place = append(place, p.Position+" ("+p.Mark+")")
	case p.Position != "":
		place = append(place, p.Position)
	case p.Mark != "":
		place = append(place, "terminal "+p.Mark)
	}
	if p.wire && p.Looks == "" {
		return strings.Join(append(wire, p.Term), ", ")
	}
	return strings.Join(append(place, wire...), ", ")
}

// Short is the form for lists: "14 at K1:T2", "red at K1:T2", "K1:T2", "frame", and for
// a whole wire "14" or "red K1:T2 to H1:1".
func (p Point) Short() string {
	if !p.wire {
		return p.Term
	}
	name := p.Number
	if name == "" {
		name = p.Colour
	}
	if name == "" {
		name = "wire"
	}
	switch {
	case p.Looks == "" && p.Number != "":
		return name
	case p.Looks == "":
		return name + " " + p.Term
	}
	return name + " at " + p.Term
}

// Words that people put around a name and that say nothing about which point it is.
var fillers = []string{"wire", "wires", "terminal", "at", "on", "of", "the", "to", "screw", "lead", "end", "lug", "spade",
	"point", "number", "no", "nr", "pin", "stud", "from", "a", "probe", "leg", "bare", "side"}

// Words for the frame, and for the terminal where the neutral lands.
var (
	frameWords   = []string{"frame", "chassis", "ground", "gnd", "earth", "pe", "case", "body", "cabinet", "metal"}
	neutralWords = []string{"neutral", "n", "neut"}
)

// FindPoint understands what a technician types for a point ("14", "wire 14 at k1",
// "K1:T2", "t2", "frame", "ground", "neutral", "L1", "red 14") and returns the nodes it
// may mean, best first; nil if it means none. Every word must fit a candidate. For a
// wire the first candidate is its own node, then the terminals it lands on.
func (u *Unit) FindPoint(words string) []Node {
	var tokens []string
	for _, word := range strings.Fields(strings.ToLower(words)) {
		// "k1-t2" is written for "k1:t2"; any other mark only parts two words.
		word = strings.Trim(word, ".,;:!?()#'\"")
		if full := strings.Replace(word, "-", ":", 1); strings.Count(full, ":") == 1 && (full == word || u.isUsed(full)) {
			tokens = append(tokens, full)
			continue
		}
		tokens = append(tokens, strings.FieldsFunc(word, func(c rune) bool {
			return !unicode.IsLetter(c) && !unicode.IsDigit(c) && !strings.ContainsRune("._/+", c)
		})...)
	}
	tokens = slices.DeleteFunc(tokens, func(t string) bool {
		return slices.Contains(fillers, t) && !u.isUsed(t) || strings.Trim(t, "._/+") == ""
	})
	if len(tokens) == 0 {
		return nil
	}
	type candidate struct {
		node  Node
		score int
	}
	var all []candidate
	try := func(n Node, score func(string) int) {
		sum := 0
		for _, t := range tokens {
			s := score(t)
			if s == 0 {
				return
			}
			sum += s
		}
		all = append(all, candidate{n, sum})
	}
	try(Chassis, func(t string) int {
		if slices.Contains(frameWords, t) {
			return 9
		}
		return 0
	})
	for t := range u.Terms {
		try(Node(t), func(word string) int { return u.termScore(TermID(t), word) })
	}
	for w := range u.Wires {
		try(u.NodeOf(WireID(w)), func(word string) int { return u.wireScore(WireID(w), word) })
	}
	slices.SortStableFunc(all, func(x, y candidate) int { return y.score - x.score })
	var nodes []Node
	for _, c := range all {
		nodes = append(nodes, c.node)
	}
	return nodes
}

// isUsed says whether a word is a tag, a terminal, "tag:terminal" or a wire number of
// the unit.
func (u *Unit) isUsed(word string) bool {
	return slices.ContainsFunc(u.Parts, func(p Part) bool { return strings.EqualFold(p.Tag, word) }) ||
		slices.ContainsFunc(u.Terms, func(t Terminal) bool {
			return strings.EqualFold(t.Name, word) || strings.EqualFold(u.Parts[t.Part].Tag+":"+t.Name, word)
		}) ||
		slices.ContainsFunc(u.Wires, func(w Wire) bool { return strings.EqualFold(w.Number, word) })
}

// termScore is how well a word fits terminal t; zero if it does not.
func (u *Unit) termScore(t TermID, word string) int {
	term := u.Terms[t]
	part := u.Parts[term.Part]
	tag, name := strings.ToLower(part.Tag), strings.ToLower(term.Name)
	for _, s := range u.Sources {
		for _, f := range s.Feeds {
			leg := strings.ToLower(f.Leg)
			if f.Term == t && (word == leg || leg == "n" && slices.Contains(neutralWords, word) || leg == "pe" && slices.Contains(frameWords, word)) {
				return 7
			}
		}
	}
	switch {
	case word == tag+name, word == tag+":"+name:
		return 8
	case word == tag, word == name:
		return 5
	case name == "n" && slices.Contains(neutralWords, word):
		return 5
	case word == string(part.Kind) || slices.Contains(strings.Fields(string(part.Kind)), word):
		return 2
	}
	for _, e := range term.Ends {
		w, _ := e.Wire()
		if u.isWireWord(w, word) {
			return 3
		}
	}
	if slices.Contains(strings.Fields(strings.ToLower(part.Looks+" "+part.At+" "+term.Where)), word) {
		return 1
	}
	return 0
}

func (u *Unit) isWireWord(w WireID, word string) bool {
	wire := u.Wires[w]
	return word == strings.ToLower(wire.Number) && word != "" || word == wire.Colour && word != "" ||
		slices.Contains(strings.FieldsFunc(wire.Colour, func(c rune) bool { return c == '/' || c == '-' }), word)
}

// wireScore is how well a word fits wire w; zero if it does not.
func (u *Unit) wireScore(w WireID, word string) int {
	wire := u.Wires[w]
	if u.isWireWord(w, word) {
		if word == strings.ToLower(wire.Number) {
			return 10
		}
		return 4
	}
	for _, t := range wire.Ends {
		tag, name := strings.ToLower(u.Parts[u.Terms[t].Part].Tag), strings.ToLower(u.Terms[t].Name)
		switch word {
		case tag + name, tag + ":" + name:
			return 4
		case tag, name:
			return 2
		}
	}
	return 0
}
