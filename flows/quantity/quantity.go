// Package quantity holds the kinds of number a technician's meter gives, reads
// what people type for them, and formats them for a reply.
//
// Nothing here decides what a reading means on a circuit.
package quantity

// Ohms is a resistance in ohms. +Inf is an open circuit.
type Ohms float64

// Volts is a voltage, rms for ac.
type Volts float64

// Amps is a current, rms for ac.
type Amps float64

// Watts is a real power.
type Watts float64

// Minutes is working time of a person.
type Minutes float64

// Unit says what a reading is a reading of.
type Unit uint8

// The units people read off a meter.
const (
	NoUnit Unit = iota
	Ohm
	Volt
	Amp
	Watt
)

// Decimal is the exact decimal number Coef × 10^Exp, as typed.
type Decimal struct {
	Coef int64 `json:"c"`
	Exp  int   `json:"e,omitempty"`
}

// Class is what sort of answer a reading is.
type Class uint8

// The classes of reading. Anything that cannot be put in one is asked back.
const (
	Unclear   Class = iota // never recorded: ask again
	Value                  // a number, or a range of numbers
	Open                   // OL on ohms: no path within the meter's range
	OverRange              // OL on volts or amps: the range was too small
	Short                  // "dead short", "beeps": low, no number given
	Unstable               // jumping around
)

// Bound tells a plain value from a one-sided one (">40M", "<0.1").
type Bound uint8

// The bounds.
const (
	Exact   Bound = iota
	AtLeast       // the true value is Lo or more
	AtMost        // the true value is Hi or less
)

// Reading is one thing read off a meter. For a Value, Lo and Hi are the ends of
// the closed interval that was typed, equal for a single number, in whole units
// (ohms, volts, amps), never in kilo or mega.
type Reading struct {
	Class Class   `json:"class"`
	Lo    Decimal `json:"lo,omitzero"`
	Hi    Decimal `json:"hi,omitzero"`
	Bound Bound   `json:"bound,omitempty"`
	Unit  Unit    `json:"unit,omitempty"`
	Rough bool    `json:"rough,omitempty"` // "about 70", "12ish"
	Text  string  `json:"text,omitempty"`  // as typed
}

// Want is what the question asked for: the unit, and the band in which an answer
// is expected. A zero band means nothing is known. It only settles doubts ("12 m",
// "1,200"); it never changes a clear answer.
type Want struct {
	Unit   Unit
	Lo, Hi float64
}

// Doubt is why a text was asked back. Options are the readings it may have meant,
// most likely first; it may be empty.
type Doubt struct {
	Code    DoubtCode
	Text    string // the part of the text that is in doubt
	Options []Reading
}

// DoubtCode names a reason for asking back. The sentence is in package wording.
type DoubtCode string

// Located is a reading with the words that came before it and say where it was
// taken ("14 to frame 13": Where is "14 to frame"). Where is empty when only a
// reading was given.
type Located struct {
	Where   string
	Reading Reading
}
