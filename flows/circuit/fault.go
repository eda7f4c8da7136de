package circuit

import (
	"fmt"

	"halfsplit/flows/quantity"
)

// Mode is one way in which a part or wire fails.
type Mode uint8

// The failure modes. Their names in unit files and transcripts are in modeNames.
const (
	NoFault      Mode = iota
	Earthed           // element or winding touches the frame somewhere along its length
	OpenCircuit       // element, lamp, winding or coil burnt through
	ShortedTurns      // part of the resistance is bypassed
	ShortCircuit      // lamp, coil: ends joined
	Welded            // contact stays closed
	NeverCloses       // contact stays open
	Chafed            // wire touches the frame
	Broken            // wire parted, at the given end
	HighOhms          // loose or burnt joint at the given end
	EarthedTerm       // terminal or its insulation tracks to the frame
)

// modeNames are the words of unit files, transcripts and trails, by Mode. They are
// stored, so a name is never changed.
var modeNames = [...]string{
	NoFault:      "sound",
	Earthed:      "earthed",
	OpenCircuit:  "open",
	ShortedTurns: "shorted turns",
	ShortCircuit: "shorted",
	Welded:       "welded",
	NeverCloses:  "never closes",
	Chafed:       "chafed",
	Broken:       "broken",
	HighOhms:     "high resistance",
	EarthedTerm:  "terminal earthed",
}

// String returns the name of the mode, as written in unit files.
func (m Mode) String() string {
	if int(m) < len(modeNames) {
		return modeNames[m]
	}
	return fmt.Sprintf("mode %d", uint8(m))
}

// ParseMode returns the mode of the given name; false if there is none.
func ParseMode(name string) (Mode, bool) {
	for i, n := range modeNames {
		if n == name {
			return Mode(i), true
		}
	}
	return NoFault, false
}

// MarshalText writes the name of the mode.
func (m Mode) MarshalText() ([]byte, error) {
	if int(m) >= len(modeNames) {
		return nil, fmt.Errorf("circuit: there is no failure mode %d", uint8(m))
	}
	return []byte(modeNames[m]), nil
}

// UnmarshalText reads the name of a mode.
func (m *Mode) UnmarshalText(text []byte) error {
	got, ok := ParseMode(string(text))
	if !ok {
		return fmt.Errorf("circuit: there is no failure mode %q", text)
	}
	*m = got
	return nil
}

// Fault says where and how the unit fails, without its size. Comparable.
// For faults of parts, Wire and End are None; for faults of wires, Part and Elem are None.
type Fault struct {
	Mode Mode   `json:"mode"`
	Part PartID `json:"part"`
	Elem int    `json:"elem"`
	Wire WireID `json:"wire"`
	End  int    `json:"end"` // 0 or 1; None where it has no meaning
}

// Placed is a fault with its size: Ohms is the fault's own resistance (to the frame
// for Earthed and Chafed, remaining resistance for ShortCircuit and Welded, added
// resistance for HighOhms, remaining share of the sound value 0..1 for ShortedTurns);
// At is the fraction of the element's length from terminal A, 0..1, for Earthed.
// EarthedTerm is at terminal A of the element for At below one half, else at B.
type Placed struct {
	Fault
	Ohms quantity.Ohms
	At   float64
}

// Item is what is repaired or replaced as one thing: a part or a wire. The other
// field is None. Comparable.
type Item struct {
	Part PartID `json:"part"`
	Wire WireID `json:"wire"`
}

// PartItem returns the item that is part p.
func PartItem(p PartID) Item { return Item{Part: p, Wire: None} }

// WireItem returns the item that is wire w.
func WireItem(w WireID) Item { return Item{Part: None, Wire: w} }

// AllFaults returns every fault that the unit can have, in the order of the file:
// the modes of each element of each part, then for each wire that is not fixed
// chafed, broken at either end and high resistance at either end.
func AllFaults(u *Unit) []Fault {
	var all []Fault
	for p, part := range u.Parts {
		for e, elem := range part.Elems {
			for _, m := range elem.Modes {
				all = append(all, Fault{Mode: m, Part: PartID(p), Elem: e, Wire: None, End: None})
			}
		}
	}
	for w, wire := range u.Wires {
		if wire.Fixed {
			continue
		}
		at := func(m Mode, end int) Fault {
			return Fault{Mode: m, Part: None, Elem: None, Wire: WireID(w), End: end}
		}
		all = append(all, at(Chafed, None), at(Broken, 0), at(Broken, 1), at(HighOhms, 0), at(HighOhms, 1))
	}
	return all
}

// Item returns the repair item that the fault belongs to. A broken end or a bad joint
// at an end belongs to its wire.
func (u *Unit) Item(f Fault) Item {
	if f.Wire != None {
		return WireItem(f.Wire)
	}
	return PartItem(f.Part)
}

// Name returns the item as in transcripts: "element E1", "wire 14 (K1:T1 - E1:1)".
func (i Item) Name(u *Unit) string {
	switch {
	case i.Wire >= 0 && int(i.Wire) < len(u.Wires):
		return u.wireInFull(i.Wire)
	case i.Part >= 0 && int(i.Part) < len(u.Parts):
		return string(u.Parts[i.Part].Kind) + " " + u.Parts[i.Part].Tag
	}
	return "nothing"
}

// Name returns the fault as in transcripts: "element E1 earthed", "contactor K1 pole
// 2 welded", "wire 14 (K1:T1 - E1:1) broken at E1:1".
func (f Fault) Name(u *Unit) string {
	name := u.Item(f).Name(u)
	if f.Wire == None && f.Part >= 0 && int(f.Part) < len(u.Parts) {
		if elems := u.Parts[f.Part].Elems; f.Elem >= 0 && f.Elem < len(elems) && elems[f.Elem].Name != "" {
			name += " " + elems[f.Elem].Name
		}
	}
	name += " " + f.Mode.String()
	if f.Wire >= 0 && int(f.Wire) < len(u.Wires) && (f.End == 0 || f.End == 1) {
		name += " at " + u.TermName(u.Wires[f.Wire].Ends[f.End])
	}
	return name
}

// kindRates are relative failure rates by kind of part and mode: only their ratios
// mean anything. The ratios of modes within switches, thermal switches, relays, coils
// and motors follow the failure mode distributions of MIL-HDBK-338B, from memory and
// not checked against the print; everything else, and all ratios between kinds, is
// common practice, no source: what heats, moves or gets wet fails, transformers and
// relays seldom do.
var kindRates = []struct {
	kind Kind
	role Role
	coil bool
	mode Mode
	rate float64
}{
	{KindElement, Resist, false, Earthed, 27},
	{KindElement, Resist, false, OpenCircuit, 30},
	{KindElement, Resist, false, ShortedTurns, 3},
	{KindLamp, Resist, false, OpenCircuit, 36},
	{KindLamp, Resist, false, ShortCircuit, 2},
	{KindMotor, Resist, false, Earthed, 7},
	{KindMotor, Resist, false, OpenCircuit, 9},
	{KindMotor, Resist, false, ShortedTurns, 4},
	{KindMotor, Resist, false, ShortCircuit, 2}, // its capacitor
	{KindContact, Resist, true, OpenCircuit, 2.5},
	{KindContact, Resist, true, ShortCircuit, 1},
	{KindContact, Resist, true, Earthed, 0.3},
	{KindContact, Contact, false, Welded, 3},
	{KindContact, Contact, false, NeverCloses, 4},
	{KindRelay, Resist, true, OpenCircuit, 1},
	{KindRelay, Resist, true, ShortCircuit, 0.5},
	{KindRelay, Resist, true, Earthed, 0.1},
	{KindRelay, Contact, false, Welded, 1},
	{KindRelay, Contact, false, NeverCloses, 2.2},
	{KindSwitch, Contact, false, Welded, 1.5},
	{KindSwitch, Contact, false, NeverCloses, 4},
	{KindSwitch, Contact, false, EarthedTerm, 0.5},
	{KindStat, Contact, false, Welded, 2.5},
	{KindStat, Contact, false, NeverCloses, 5},
	{KindStat, Contact, false, EarthedTerm, 0.5},
	{KindLimit, Contact, false, Welded, 0.3},
	{KindLimit, Contact, false, NeverCloses, 6},
	{KindLimit, Contact, false, EarthedTerm, 0.3},
	{KindDoor, Contact, false, Welded, 1.5},
	{KindDoor, Contact, false, NeverCloses, 8},
	{KindDoor, Contact, false, EarthedTerm, 1},
	{KindFuse, Contact, false, OpenCircuit, 2},
	{KindControl, Resist, false, OpenCircuit, 1},
	{KindControl, Resist, false, ShortCircuit, 0.3},
	{KindControl, Resist, false, ShortedTurns, 0.4},
	{KindControl, Resist, false, Earthed, 0.3},
	{KindTrafo, Resist, false, OpenCircuit, 1},
	{KindTrafo, Resist, false, ShortCircuit, 0.3},
	{KindTrafo, Resist, false, ShortedTurns, 0.4},
	{KindTrafo, Resist, false, Earthed, 0.3},
	{KindSolenoid, Resist, false, OpenCircuit, 4},
	{KindSolenoid, Resist, false, ShortedTurns, 1.5},
	{KindSolenoid, Resist, false, ShortCircuit, 0.5},
	{KindSolenoid, Resist, false, Earthed, 1},
	{KindValve, Resist, false, OpenCircuit, 5},
	{KindValve, Resist, false, ShortedTurns, 1.5},
	{KindValve, Resist, false, ShortCircuit, 0.5},
	{KindValve, Resist, false, Earthed, 3}, // it gets wet
	{KindBuzzer, Resist, false, OpenCircuit, 2},
	{KindBuzzer, Resist, false, ShortCircuit, 0.3},
	{KindTimer, Contact, false, Welded, 2},
	{KindTimer, Contact, false, NeverCloses, 4},
	{KindTimer, Contact, false, EarthedTerm, 0.3},
	{KindTimer, Resist, false, OpenCircuit, 3},
	{KindTimer, Resist, false, ShortedTurns, 0.5},
	{KindFloat, Contact, false, Welded, 3},
	{KindFloat, Contact, false, NeverCloses, 6},
	{KindFloat, Contact, false, EarthedTerm, 2},
	{KindPlug, Bond, false, OpenCircuit, 4},
	{KindPlug, Bond, false, Earthed, 3},
}

// Rate is the relative failure rate of mode m of element e in a part of kind k; zero
// if that part does not fail so. Only ratios mean anything; see kindRates for where
// they come from.
func Rate(k Kind, e Elem, m Mode) float64 {
	for _, r := range kindRates {
		if r.kind == k && r.role == e.Role && r.coil == e.Coil && r.mode == m {
			return r.rate
		}
	}
	return 0
}

// Relative failure rates of a wire, on the scale of Rate, for a wire that is neither
// hot nor moved. Common practice, no source.
const (
	rateChafed   = 1.0
	rateBroken   = 0.4 // each end
	rateHighOhms = 0.8 // each end
	hotOrMoving  = 4.0 // factor for an end on a part that heats or moves
	crossing     = 2.0 // factor on chafing for a wire that passes from one compartment to another
)

// WireRate is the relative failure rate of mode m of wire w, on the scale of Rate. For
// Broken and HighOhms it is that of both ends together; WireEndRate tells them apart.
func WireRate(u *Unit, w WireID, m Mode) float64 {
	if m == Chafed {
		return WireEndRate(u, w, m, None)
	}
	return WireEndRate(u, w, m, 0) + WireEndRate(u, w, m, 1)
}

// WireEndRate is the relative failure rate of mode m of wire w at the given end, 0 or
// 1; end None for Chafed. Wires to parts that heat or move fail more often, and wires
// that pass from one compartment to another chafe more often.
func WireEndRate(u *Unit, w WireID, m Mode, end int) float64 {
	if w < 0 || int(w) >= len(u.Wires) || u.Wires[w].Fixed {
		return 0
	}
	stress := [2]float64{1, 1}
	var cover [2]int
	for i, t := range u.Wires[w].Ends {
		part := u.Parts[u.Terms[t].Part]
		cover[i] = part.Cover
		switch part.Kind {
		case KindElement, KindLamp, KindMotor, KindDoor, KindPlug:
			stress[i] = hotOrMoving
		}
	}
	switch {
	case m == Chafed:
		rate := rateChafed * max(stress[0], stress[1])
		if cover[0] != cover[1] {
			rate *= crossing
		}
		return rate
	case (m == Broken || m == HighOhms) && (end == 0 || end == 1):
		if m == Broken {
			return rateBroken * stress[end]
		}
		return rateHighOhms * stress[end]
	}
	return 0
}
