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
	KindControl  Kind = "control transformer"
	KindTrafo    Kind = "transformer"
	KindSolenoid Kind = "solenoid"
	KindValve    Kind = "water valve"
	KindBuzzer   Kind = "buzzer"
	KindTimer    Kind = "timer"
	KindFloat    Kind = "float switch"
	KindPlug     Kind = "plug and cord"
	KindTerminal Kind = "terminal block"
	KindGround   Kind = "ground stud" // a screw in the frame; its one element is a bond to Chassis
)

// Kinds returns every kind, in the order above.
func Kinds() []Kind {
	return []Kind{KindElement, KindLamp, KindMotor, KindContact, KindRelay, KindSwitch, KindStat,
		KindLimit, KindDoor, KindFuse, KindControl, KindTrafo,
		KindSolenoid, KindValve, KindBuzzer, KindTimer, KindFloat, KindPlug, KindTerminal, KindGround}
}
