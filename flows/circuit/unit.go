// Package circuit holds the circuit of a unit as its file describes it, the
// network that follows from it in any state and under any fault, and the solver
// that says what a meter would read. It knows nothing of dialogs or chats.
package circuit

import "halfsplit/flows/quantity"

// Hash names the content of a unit file: the SHA-256 of its bytes.
type Hash [32]byte

// PartID, TermID and WireID index the slices of a Unit, in the order of the file.
type (
	PartID int
	TermID int
	WireID int
)

// EndID is one end of a wire: 2*WireID for its first end, 2*WireID+1 for its second.
type EndID int

// Node is a point of the network: terminals first (Node(TermID)), then one node per
// wire (len(Terms)+WireID), then supply-side nodes. Chassis is the reference.
type Node int

// Chassis is the frame of the unit, to which every reading "to frame" refers.
const Chassis Node = -1

// None marks an absent part, terminal, wire or cover.
const None = -1

// Unit is a parsed unit file. It is immutable after Parse or Skeleton and may be
// shared between goroutines. Slices are in file order, and that order is index order.
type Unit struct {
	File     string // as given to Parse
	Source   []byte
	Hash     Hash
	Name     string
	About    string // a paragraph of description
	Partial  bool   // the file says it does not hold the whole circuit
	Skeleton bool   // built from four questions, not from a diagram: wide tolerances, no odds

	Plate   Nameplate
	Sources []Source
	Hazards []string
	Covers  []Cover
	Parts   []Part
	Terms   []Terminal
	Wires   []Wire
	Good    []GoodReading
	History []History
	Minutes map[string]quantity.Minutes // overrides of the cost table, by the table's own keys
}

// Nameplate is what the plate on the unit says.
type Nameplate struct {
	Volts   quantity.Volts
	Phases  int
	Neutral bool
	Hertz   float64
	Amps    quantity.Amps
}

// Source is one way in which the unit is fed.
type Source struct {
	Name         string
	System       string   // e.g. "120/208 wye", "120/240 split phase"
	Legs         []string // "L1", "L2", "L3", "N", "PE" as brought in
	Bonded       string   // where neutral is bonded to PE, brought in or not; empty if it is not known to be
	SharedN      bool     // the neutral also serves something else
	Breaker      Breaker
	Isolator     Isolator
	Feeds        []Feed
	LegToNeutral quantity.Volts // volts of each leg to neutral
	LegToLeg     quantity.Volts // zero with one leg
	AngleDeg     []float64      // phase angle of each entry of Legs that is a live leg, same order; N and PE 0
	Impedance    quantity.Ohms  // of each leg, supply side, at line frequency
}

// Breaker is what protects a source.
type Breaker struct {
	Poles int
	Amps  quantity.Amps
}

// IsolatorKind tells how a source is taken off.
type IsolatorKind uint8

// The ways of isolating.
const (
	NoIsolator  IsolatorKind = iota
	Disconnect               // a switch on the wall that can be locked
	BreakerLock              // the breaker in the panel, with a lock
	Plug                     // the cord, in the hand of the technician
)

// Isolator opens a source for work. Opens and Leaves name entries of Source.Legs.
type Isolator struct {
	Kind     IsolatorKind
	Name     string // "two-pole disconnect on the wall"
	Lockable bool
	Opens    []string
	Leaves   []string
}

// Feed says on which terminal of the unit a leg lands.
type Feed struct {
	Leg  string
	Term TermID
}

// Cover hides parts until it is off.
type Cover struct {
	Name    string
	Off, On quantity.Minutes // zero if the file does not say
	Hides   []PartID
}

// Part is one component.
type Part struct {
	Tag   string // "K1"
	Kind  Kind
	At    string // where it sits
	Looks string // what it looks like
	Note  string // a remark for whoever works on it
	Cover int    // index in Unit.Covers, None if in reach without
	Terms []TermID
	Elems []Elem

	Volts     quantity.Volts // rated; zero where it has no meaning
	Watts     quantity.Watts // of a transformer its VA
	Positions []string       // what it can be set to; nil if it has no positions
	Rest      int            // index in Positions at rest (cold, not pressed, not energised)
	ByHand    bool           // the technician can move it through Positions with power off
	Protects  bool           // a limit or interlock: never bridged, never left out
}

// Role is what an element of a part does electrically.
type Role uint8

// The roles.
const (
	Resist  Role = iota // a resistance: heating element, filament, winding, coil
	Contact             // closed in some positions, open in others
	Bond                // a fixed connection inside the part
)

// Elem is one two-terminal piece of physics inside a part.
type Elem struct {
	Name   string // "coil", "pole 1"; empty if the part has only one
	A, B   TermID // B is None for a bond to the frame: Node(None) is Chassis
	Role   Role
	Ohms   Spread // dead, cold, of a sound one; of a contact: closed
	Lively complex128
	// Lively is the impedance in ohms at line frequency when energised; zero: the
	// same as Ohms.Nominal. It differs for coils, motors, transformers and lamps.
	Closed uint32 // Contact only: bit i set if closed in position i
	Coil   bool   // drives the part's own contacts: position 1 when energised
	Turns  quantity.Volts
	// Turns is not zero for the winding of a transformer: its volts without load. The
	// windings of one part are wound one way, A to B, and coupled when energised;
	// Lively is then what lies in series with the coupling.
	Modes []Mode // how it fails
}

// Spread is a nominal resistance with the range in which sound ones lie (about
// plus and minus two standard deviations).
type Spread struct {
	Nominal, Lo, Hi quantity.Ohms
}

// Terminal is a connection point of a part; any number of wire ends share it.
type Terminal struct {
	Part  PartID
	Name  string  // "T1", as printed on it
	Where string  // "bottom left screw", if the file says
	Ends  []EndID // landed on it, in file order
}

// Wire is a conductor with two ends.
type Wire struct {
	Ends   [2]TermID
	Number string // printed on it; empty if not known
	Colour string // empty if not known
	Fixed  bool   // never to be lifted: protective earth, bonds, supply side
}

// GoodReading is a resistance measured on a sound unit between two terminals.
type GoodReading struct {
	A, B TermID
	Ohms quantity.Ohms
}

// History is how often a fault of a part was found before, by the words of the file.
type History struct {
	Part  PartID
	Mode  Mode
	Count int
}

// Problem is one thing wrong with a unit file. Line and Col start at 1.
type Problem struct {
	File      string
	Line, Col int
	Found     string // what was wrong
	Write     string // what to write instead
}
