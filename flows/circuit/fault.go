package circuit

import "halfsplit/flows/quantity"

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

// Fault says where and how the unit fails, without its size. Comparable.
// For faults of parts, Wire and End are None; for faults of wires, Part and Elem are None.
type Fault struct {
	Mode Mode
	Part PartID
	Elem int
	Wire WireID
	End  int // 0 or 1; None where it has no meaning
}

// Placed is a fault with its size: Ohms is the fault's own resistance (to the frame
// for Earthed and Chafed, remaining resistance for ShortCircuit and Welded, added
// resistance for HighOhms, remaining share of the sound value 0..1 for ShortedTurns);
// At is the fraction of the element's length from terminal A, 0..1, for Earthed.
type Placed struct {
	Fault
	Ohms quantity.Ohms
	At   float64
}
