// Package isolate finds the fault: which causes are still possible after the
// readings so far (belief), which reading would tell most per minute (plan), and
// what a reading means on this circuit (explanation). Belief and plan are pure and
// know no circuit; Model joins them to one.
package isolate

import (
	"errors"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// Kind is what sort of reading a test is. All are dead tests in ohms.
type Kind uint8

// The kinds of test.
const (
	ToFrame Kind = iota // one probe on bare frame
	Across              // a part, end to end
	Along               // a wire, end to end
	Between             // any two other points
)

// ActKind is something done by hand before a reading.
type ActKind uint8

// The acts.
const (
	OpenCover ActKind = iota
	CloseCover
	Lift // take a wire end off its terminal, cap it
	Land // put it back
	Move // set a switch or thermostat
)

// Act is one such step. Only the fields its kind needs are set; the others are None.
type Act struct {
	Kind  ActKind        `json:"kind"`
	Cover int            `json:"cover"`
	End   circuit.EndID  `json:"end"`
	Part  circuit.PartID `json:"part"`
	To    int            `json:"to"`
}

// Test is one reading between two points in one state of the unit.
type Test struct {
	Key  string         `json:"key"` // equal for the same points in the same state
	Kind Kind           `json:"kind"`
	A    circuit.Node   `json:"a"`
	B    circuit.Node   `json:"b"` // circuit.Chassis for ToFrame
	Part circuit.PartID `json:"part"`
	Elem int            `json:"elem"`
	Wire circuit.WireID `json:"wire"`
	In   circuit.State  `json:"in"`
}

// Choice is what to do next: acts in order, then one or more readings at one place in
// one state, asked together.
type Choice struct {
	Acts    []Act
	Tests   []Test
	Minutes float64 // acts, readings, and putting back what the acts took apart
	Gain    float64 // bits about which item is to blame, expected
	Target  *circuit.Fault
	// Target is set when the tests are to confirm this fault on the isolated part.
	Rivals []Rival // the next best, best first, at most five
}

// Rival is a choice that was not taken.
type Rival struct {
	Keys    []string `json:"keys"`
	Minutes float64  `json:"minutes"`
	Gain    float64  `json:"gain"`
}

// Observation is a reading with the test it answers.
type Observation struct {
	Seq  int
	Test Test
	Got  quantity.Reading
	Void bool // undone, or replaced by a later one
}

// Complaint is what the unit does wrong, as far as it bears on the odds.
type Complaint uint8

// The complaints.
const (
	AnyComplaint Complaint = iota
	TripsAtOnce            // the breaker goes the moment the unit is switched on
	DoesNotWork            // one or more parts do not work, with the unit switched on
)

// When is the act at which the breaker goes.
type When uint8

// The acts at which it may go.
const (
	WhenUnknown When = iota
	AtSwitch         // it holds until the unit's own switch is moved
	AtBreaker        // it goes as soon as the breaker or disconnect is closed, unit's switch off
)

// Case is what is known of the job apart from readings at points.
type Case struct {
	Complaint Complaint
	// Dead and Works are the parts told not to work and to work, with the unit switched
	// on: loads that do not heat, light or turn; contactors that do not pull in. They
	// bear on DoesNotWork only. A dead unit is one whose every load is in Dead.
	Dead, Works []circuit.PartID
	// CoilOff is set once a trial with a coil lead off was reported: +1 it held,
	// -1 it tripped.
	CoilOff int
	// When says at which act it trips: told by the person, so it may be wrong.
	When When
	// Leads is what the shorted leads read, subtracted from low readings; negative
	// if it is not known.
	Leads quantity.Ohms
	// NewParts are items replaced in this job: their earlier readings do not count.
	NewParts []circuit.Item
}

// Bans are tests, points and acts the person on site cannot do.
type Bans struct {
	Keys   []string       // tests
	Nodes  []circuit.Node // points out of reach or not there
	Ends   []circuit.EndID
	Covers []int
	Parts  []circuit.PartID // cannot be moved
}

// Odds is one repair item with its share of the belief.
type Odds struct {
	Item     circuit.Item
	PerMille int
	Fault    circuit.Fault // its likeliest fault
}

// Belief is the state of knowledge after a set of readings.
type Belief struct {
	Odds    []Odds // every item that can explain the complaint, likeliest first
	Unknown int    // per mille: "something this unit file does not know"
	Left    []circuit.Item
	Cleared []circuit.Item
	// Group is the fewest items, likeliest first and at most three, that together pass the
	// threshold; nil if it takes more. Where Next then finds nothing telling, they are an
	// ambiguity group: no available test can tell them apart.
	Group   []circuit.Item
	Misfit  []int // Seq of readings that what is left does not explain
	Wet     bool  // several unrelated branches are low at once
	Verdict Verdict

	weights []float64
	readers []Observation
	about   Case
}

// Verdict says how far the top of the belief has come.
type Verdict uint8

// The verdicts.
const (
	Open    Verdict = iota // go on
	Suspect                // beyond the threshold, to be confirmed by a direct test
	Proved                 // beyond the threshold and confirmed
	Beyond                 // not in this unit file: call a senior
)

// Path is one way the meter's current takes in a sound unit.
type Path struct {
	Share   float64 // of the current, 0..1
	Ohms    quantity.Ohms
	Through []circuit.PartID // parts with resistance on the way, in order from the probe
	Wires   []circuit.WireID
	Neutral bool // it ends on the frame through the neutral and its bond
}

// Explanation is what one reading means.
type Explanation struct {
	Sound   quantity.Ohms // what a sound unit reads at these points in this state; +Inf: OL
	Lo, Hi  quantity.Ohms // band of a sound unit, tolerances and meter included
	Paths   []Path        // of Sound, largest share first; nil if OL
	Fits    Fit
	False   bool // low to frame, and a sound unit is too: proves nothing about ground
	Honest  []Act
	HonestR quantity.Ohms // what a sound unit reads after Honest; +Inf: OL
	// Honest is the least effort that leaves the probe point without a sound path
	// to the frame; nil if none of up to three lifts does, or none is needed.
}

// Fit compares a reading with a sound unit.
type Fit uint8

// The fits.
const (
	AsSound Fit = iota
	TooLow
	TooHigh
	Leaky // between 100 Ω and 1 MΩ to frame where a sound unit is OL: damp or dirt
)

// Errors of Next and Confirm.
var (
	ErrNothingTelling = errors.New("no available test would tell anything more")
	ErrNothingSafe    = errors.New("what would tell more cannot be done here")
)
