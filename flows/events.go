package flows

import (
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/machine"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// The events of a trail. Their JSON is stored for ever: fields are only added.
type (
	// Heard is one incoming message, stored before anything is computed from it.
	Heard struct {
		Text   string   `json:"text,omitempty"`
		Choice string   `json:"choice,omitempty"`
		Prompt int      `json:"prompt,omitempty"`
		Sent   int64    `json:"sent,omitempty"`
		Photo  string   `json:"photo,omitempty"`
		Keys   []string `json:"keys,omitempty"`
		Place  string   `json:"place,omitempty"` // adapter and conversation
		Rights Rights   `json:"rights,omitzero"` // of the person, as they were when it came
		Posted int64    `json:"posted,omitempty"`
	}
	// Opened freezes what the job is judged by. It comes once the unit is known.
	Opened struct {
		Unit   circuit.Hash `json:"unit"`
		Source []byte       `json:"source,omitempty"` // of a skeleton unit only
		Policy Policy       `json:"policy"`
		Engine string       `json:"engine"`
		Safety string       `json:"safety"`
		Lang   string       `json:"lang"`
	}
	// Told is an answer of intake, repair or closing: a name and what was said.
	Told struct {
		What  string `json:"what"`
		Value string `json:"value"`
	}
	// Asked opens a prompt and closes any earlier one.
	Asked struct {
		Prompt Prompt          `json:"prompt"`
		Worth  float64         `json:"worth,omitempty"` // bits expected, of a reading
		Cost   float64         `json:"cost,omitempty"`  // minutes
		Rivals []isolate.Rival `json:"rivals,omitempty"`
	}
	// Read is one reading.
	Read struct {
		Prompt int              `json:"prompt,omitempty"` // zero: volunteered
		Test   isolate.Test     `json:"test"`
		Got    quantity.Reading `json:"got"`
	}
	// Corrected voids a reading, or replaces it by the next Read.
	Corrected struct {
		Seq int    `json:"seq"`
		Why string `json:"why,omitempty"`
	}
	// Did is a physical act reported by a person, or done as asked.
	Did struct {
		Act isolate.Act `json:"act"`
	}
	// Moved is a transition of the table.
	Moved struct {
		From  machine.State `json:"from"`
		On    machine.Event `json:"on"`
		To    machine.State `json:"to"`
		Sets  safety.Facts  `json:"sets,omitempty"`
		Drops safety.Facts  `json:"drops,omitempty"`
	}
	// Refused is something a person could not or would not do, or a gate did not let by.
	Refused struct {
		Key   string          `json:"key,omitempty"` // of the test, if it was one
		Keys  []string        `json:"keys,omitempty"`
		Node  *circuit.Node   `json:"node,omitempty"`
		End   *circuit.EndID  `json:"end,omitempty"`
		Ends  []circuit.EndID `json:"ends,omitempty"`
		Cover *int            `json:"cover,omitempty"`
		Part  *circuit.PartID `json:"part,omitempty"`
		On    machine.Event   `json:"on,omitempty"` // of the gate
		Lack  safety.Facts    `json:"lack,omitempty"`
		Why   string          `json:"why,omitempty"`
	}
	// Said is what the bot said: one message. Code and Args are its first sentence,
	// More the others.
	Said struct {
		Code Code     `json:"code"`
		Args []Arg    `json:"args,omitempty"`
		More []Phrase `json:"more,omitempty"`
		Text string   `json:"text"`
		Lang string   `json:"lang"`
	}
	// Judged is what the engine held after the readings so far.
	Judged struct {
		Items   []Judgement     `json:"items"`
		Unknown int             `json:"unknown"`
		Cleared []circuit.Item  `json:"cleared,omitempty"`
		Left    []circuit.Item  `json:"left,omitempty"`
		Group   []circuit.Item  `json:"group,omitempty"`
		Misfit  []int           `json:"misfit,omitempty"`
		Verdict isolate.Verdict `json:"verdict"`
		Engine  string          `json:"engine"`
	}
	// Led says who leads from here on.
	Led struct {
		Who  PersonID `json:"who"`
		Mode string   `json:"mode"`
	}
	// Noted keeps a note or a photo.
	Noted struct {
		Text string `json:"text,omitempty"`
		Blob string `json:"blob,omitempty"`
	}
	// Timed is a timer that fired.
	Timed struct {
		Name string `json:"name"`
	}
	// Failed says that a message could not be worked on.
	Failed struct {
		Code string `json:"code"`
	}
	// Closed ends the job.
	Closed struct {
		Outcome string          `json:"outcome"`
		Off     []circuit.EndID `json:"off,omitempty"` // ends left off, capped and tagged
	}
)

// Phrase is one sentence of a message.
type Phrase struct {
	Code Code  `json:"code"`
	Args []Arg `json:"args,omitempty"`
}

// Judgement is one item's share of the belief.
type Judgement struct {
	Item     circuit.Item  `json:"item"`
	PerMille int           `json:"permille"`
	Fault    circuit.Fault `json:"fault"`
	// Modes are the ways the item may be at fault, likeliest first; of the first item of a
	// list only.
	Modes []isolate.ModeShare `json:"modes,omitempty"`
}

// Policy is the table of limits a job is judged by.
type Policy struct {
	Version string `json:"version"`
}

// Kind names, as stored.
func (Heard) Kind() string     { return "heard" }
func (Opened) Kind() string    { return "opened" }
func (Told) Kind() string      { return "told" }
func (Asked) Kind() string     { return "asked" }
func (Read) Kind() string      { return "read" }
func (Corrected) Kind() string { return "corrected" }
func (Did) Kind() string       { return "did" }
func (Moved) Kind() string     { return "moved" }
func (Refused) Kind() string   { return "refused" }
func (Said) Kind() string      { return "said" }
func (Judged) Kind() string    { return "judged" }
func (Led) Kind() string       { return "led" }
func (Noted) Kind() string     { return "noted" }
func (Timed) Kind() string     { return "timed" }
func (Failed) Kind() string    { return "failed" }
func (Closed) Kind() string    { return "closed" }
