package quantity

// The reasons for asking back.
const (
	// NotANumber: nothing in the text, or not all of it, can be read as a reading.
	// It is also the answer to a range written downwards ("14 - 13") and to "10L".
	NotANumber DoubtCode = "not a number"
	// Nothing: "nothing", "no reading", "no beep". On ohms that is said of zero and
	// of an open circuit, on volts of zero and of a blank display.
	Nothing DoubtCode = "nothing"
	// BareOne: "1" with no unit: the number one, or the sign that older meters with
	// three and a half digits show when the range is too small.
	BareOne DoubtCode = "bare one"
	// MilliOrMega: "12 m", or a capital M on volts, amps or watts.
	MilliOrMega DoubtCode = "milli or mega"
	// Thousand: "1,200": one and two tenths, or twelve hundred.
	Thousand DoubtCode = "thousand"
	// WrongUnit: a unit, or a word such as "beeps", that cannot answer the question.
	// Options holds the reading in the unit that was typed, where it is one of ours.
	WrongUnit DoubtCode = "wrong unit"
	// Negative: ohms below zero. The meter sees a voltage: something is still live or
	// charged, or the test leads were compensated wrongly.
	Negative DoubtCode = "negative"
	// Count: another number of readings than was asked for. Options holds those that
	// were understood, in the order typed.
	Count DoubtCode = "count"
)
