package circuit

// TermName returns the short name of a terminal: "K1:T2"; "frame" for the chassis.
func (u *Unit) TermName(t TermID) string {
	if t < 0 || int(t) >= len(u.Terms) {
		return "frame"
	}
	return u.Parts[u.Terms[t].Part].Tag + ":" + u.Terms[t].Name
}

// WireName returns what a person calls the wire: its number, or where it has none (or
// shares it with another wire) its colour and both ends: "brown wire K1:T1 to H1:1".
func (u *Unit) WireName(w WireID) string {
	if w < 0 || int(w) >= len(u.Wires) {
		return "no wire"
	}
	wire := u.Wires[w]
	ends := u.TermName(wire.Ends[0]) + " to " + u.TermName(wire.Ends[1])
	switch {
	case wire.Number != "" && u.numberIsUnique(w):
		return wire.Number
	case wire.Number != "":
		return wire.Number + " " + ends
	case wire.Colour != "":
		return wire.Colour + " wire " + ends
	}
	return "wire " + ends
}

func (u *Unit) numberIsUnique(w WireID) bool {
	for i, other := range u.Wires {
		if WireID(i) != w && other.Number == u.Wires[w].Number {
			return false
		}
	}
	return true
}

// wireInFull names a wire for a transcript: "wire 14 (K1:T1 - E1:1)", "brown wire
// (K1:T1 - H1:1)".
func (u *Unit) wireInFull(w WireID) string {
	wire := u.Wires[w]
	name := "wire"
	if wire.Number != "" {
		name = "wire " + wire.Number
	} else if wire.Colour != "" {
		name = wire.Colour + " wire"
	}
	return name + " (" + u.TermName(wire.Ends[0]) + " - " + u.TermName(wire.Ends[1]) + ")"
}
