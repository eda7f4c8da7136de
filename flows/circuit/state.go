package circuit

// State is what is connected and how it is set. It is comparable and is the key of
// every cache. The zero State is: every isolator open (or plug out), every part at
// rest, nothing lifted, every cover on.
type State struct {
	On     Bits   // index of Unit.Sources that are switched on
	Held   Bits   // contactors (by PartID) that were pulled in before: history for seal-in circuits
	At     Places // position of each part, by PartID; past the end: at rest
	Lifted Bits   // EndIDs off their terminals
	Off    Bits   // covers that are off
}

// Bits is an immutable set of small non-negative integers that can be compared with
// ==. The zero value is empty.
type Bits string

// Places is an immutable list of positions, one byte per part holding position+1,
// zero meaning at rest; trailing zeros are cut off, so that equal lists compare equal.
type Places string
