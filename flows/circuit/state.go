package circuit

// State is what is connected and how it is set. It is comparable and is the key of
// every cache. The zero State is: every isolator open (or plug out), every part at
// rest, nothing lifted, every cover on.
type State struct {
	On     Bits   `json:"on"`     // index of Unit.Sources that are switched on
	Held   Bits   `json:"held"`   // contactors (by PartID) that were pulled in before: history for seal-in circuits
	At     Places `json:"at"`     // position of each part, by PartID; past the end: at rest
	Lifted Bits   `json:"lifted"` // EndIDs off their terminals
	Off    Bits   `json:"off"`    // covers that are off
}

// Bits is an immutable set of small non-negative integers that can be compared with
// ==. The zero value is empty. Bit i%8 of byte i/8 says that i is a member; trailing
// zero bytes are cut off, so that equal sets are equal strings.
type Bits string

// Places is an immutable list of positions, one byte per part holding position+1,
// zero meaning at rest; trailing zeros are cut off, so that equal lists compare equal.
type Places string

// Lift returns the state with wire end e off its terminal.
func (s State) Lift(e EndID) State {
	s.Lifted = s.Lifted.With(int(e))
	return s
}

// Land returns the state with wire end e on its terminal.
func (s State) Land(e EndID) State {
	s.Lifted = s.Lifted.Without(int(e))
	return s
}

// Move returns the state with part p at position pos. Moving a part to its rest
// position forgets that it was ever moved, so that equal circuits have equal states.
// A part or position that the unit does not have changes nothing.
func (s State) Move(u *Unit, p PartID, pos int) State {
	if p < 0 || int(p) >= len(u.Parts) || pos < 0 || pos >= len(u.Parts[p].Positions) {
		return s
	}
	if pos == u.Parts[p].Rest {
		pos = None
	}
	s.At = s.At.With(p, pos)
	return s
}

// Position returns the index in Parts[p].Positions at which part p stands; 0 for a
// part without positions.
func (s State) Position(u *Unit, p PartID) int {
	if p < 0 || int(p) >= len(u.Parts) {
		return 0
	}
	return s.At.Of(p, u.Parts[p].Rest)
}

// SwitchOn returns the state with source i of the unit switched on, SwitchOff with it
// off.
func (s State) SwitchOn(i int) State {
	s.On = s.On.With(i)
	return s
}

// SwitchOff returns the state with source i of the unit off.
func (s State) SwitchOff(i int) State {
	s.On = s.On.Without(i)
	return s
}

// Uncover returns the state with cover c off, Cover with it on again.
func (s State) Uncover(c int) State {
	s.Off = s.Off.With(c)
	return s
}

// Cover returns the state with cover c on.
func (s State) Cover(c int) State {
	s.Off = s.Off.Without(c)
	return s
}

// Ends returns the two EndIDs of wire w.
func (w WireID) Ends() [2]EndID { return [2]EndID{EndID(2 * w), EndID(2*w + 1)} }

// Wire returns the wire that e is an end of, and which end of it: 0 or 1.
func (e EndID) Wire() (WireID, int) { return WireID(e / 2), int(e % 2) }
