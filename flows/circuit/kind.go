package circuit

// Kind is the kind of a part, as written in unit files.
type Kind string

// The kinds the solver knows so far.
const (
	KindElement  Kind = "element"
	KindLamp     Kind = "lamp"
	KindMotor    Kind = "motor"
	KindContact  Kind = "contactor"
	KindRelay    Kind = "relay"
	KindSwitch   Kind = "switch"
	KindStat     Kind = "thermostat"
	KindLimit    Kind = "high limit"
	KindDoor     Kind = "door switch"
	KindFuse     Kind = "fuse"
	KindTerminal Kind = "terminal block"
)
