// Package flows is the dialog: what is asked next, what an answer changes, what is
// said. It is pure: no clock, no chance, no I/O. A job's state is a fold of Apply
// over its events; Step computes the events that a message brings.
package flows

import (
	"errors"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/machine"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// PersonID names a person as the bot does.
type PersonID string

// Role is what a person may be to a shop.
type Role string

// The roles.
const (
	Tech     Role = "tech"
	Senior   Role = "senior"
	Reviewer Role = "reviewer"
	Keeper   Role = "keeper"
)

// Rights are what the shop lets a person do. May is the level of safety rule 1.
type Rights struct {
	Name  string         `json:"name"`
	Roles []Role         `json:"roles"`
	May   Level          `json:"may"`
	LiveV quantity.Volts `json:"live_v,omitempty"`
	Phone string         `json:"phone,omitempty"`
}

// Level says how far into a unit a person may go.
type Level uint8

// The levels.
const (
	MayNothing Level = iota
	MayLook          // no covers
	MayDead          // open covers, prove dead, use an ohmmeter
	MayLive          // up to Rights.LiveV
)

// Input is one thing that reached a job. Times are ms UTC.
type Input struct {
	At     int64 // stamped by the engine, never before an earlier one of the job
	SentAt int64 // when it was sent, as far as known; zero if not
	By     PersonID
	Rights Rights
	Text   string
	Choice string // value of a Choice taken; empty if typed
	Prompt int    // Prompt.ID a choice belongs to; zero if typed
	Photo  string // hash of a blob that came with it; empty if none
	Timer  string // name of the timer that fired; empty for a message
	Posted int64  // when the open prompt was posted; zero if it was not yet
}

// Result is what one input brings.
type Result struct {
	Events []Event
	Say    []Message
	Timers []Timer
	Figure *Figure
}

// Timer asks for an Input with this Timer name at Due (ms UTC); Due zero removes it.
type Timer struct {
	Name string
	Due  int64
}

// Code names a sentence; its text is in package wording.
type Code string

// Arg is a named value in a sentence.
type Arg struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// Message is something to say. The n-th Message of a Result and its n-th Said event
// hold the same text.
type Message struct {
	Code    Code
	Args    []Arg
	Parts   []Message // several sentences in one message, in order
	Text    string    // final, in the language of the job
	Choices []Choice
	Prompt  bool // it carries the open prompt
}

// Choice is one offered answer: Word may be typed instead.
type Choice struct {
	Word  string `json:"word"`
	Value string `json:"value"`
}

// Figure is what a picture of the present knowledge would show.
type Figure struct {
	State   circuit.State
	Cleared []circuit.Item
	Left    []circuit.Item
	Probes  [2]circuit.Node
}

// Prompt is the one open question. ID is the Seq of its asked event in the trail.
//
// Fields names what a card wants, in the order in which it is wanted; an answer may
// give any part of it, and the next prompt lists what is still missing:
//
//	tick:NAME        one thing done and seen. Answered by its letter (the Word of
//	                 the Choice whose Value is "tick:NAME") or by the name. Letters
//	                 stay the same while the card is open.
//	known, again     volts of the known source, before and after the pairs
//	volts:L1-L2      volts of a pair
//	clamp            amps in the neutral
//	leads            ohms of the shorted leads; may be left out
//	landed:END       wire end END (a number, see circuit.EndID) is back on; answered
//	                 by the wire's name
//	cause, repair    what is behind the fault, and mended, replaced or no part; words,
//	                 both in one message or one after the other
//	capped:END       wire end END is capped, tied back and tagged; by the wire's name
//	here:frame, here:between
//	                 highest volts in a compartment, to the frame and between two
//	insulation       ohms at 500 V; or "no tester"
//	amps:L1          amps of a leg; may be left out
//	load:PART        part PART (a number, see circuit.PartID) does not work; answered by
//	                 its letter; "all" for a dead unit
//
// The names of ticks are those of Ticks. A prompt with Tests wants one reading for
// each, in order, after Acts were done.
type Prompt struct {
	ID      int             `json:"id"`
	Ask     Code            `json:"ask"`
	Tests   []isolate.Test  `json:"tests,omitempty"`
	Acts    []isolate.Act   `json:"acts,omitempty"`
	Needs   safety.Facts    `json:"needs"`
	Wants   []quantity.Want `json:"wants,omitempty"`
	Fields  []string        `json:"fields,omitempty"` // names of typed values or ticks, in order
	Choices []Choice        `json:"choices,omitempty"`
	Target  *circuit.Fault  `json:"target,omitempty"`
	Pending string          `json:"pending,omitempty"` // typed before this was posted: confirm before use
	Honest  bool            `json:"honest,omitempty"`  // the point of a reading that a sound unit shows too, again without that path
	Repeat  int             `json:"repeat,omitempty"`  // Seq of the reading that is to be repeated
	Checks  []int           `json:"checks,omitempty"`  // of the permit readings, the kind of each of Tests
	Tried   int             `json:"tried,omitempty"`   // times asked back in a row
	Reason  *Phrase         `json:"reason,omitempty"`  // why a decision is asked for
	At      int64           `json:"at"`
}

// Event is one decision for the trail. The types are in events.go.
type Event interface{ Kind() string }

// Errors of Apply and Step.
var (
	// ErrTrail means that a trail does not fold: an event that cannot follow.
	ErrTrail = errors.New("trail does not fold")
)

// ErrUnexpected says that an event has no rule in a state.
type ErrUnexpected struct {
	State machine.State
	Event machine.Event
}

func (e *ErrUnexpected) Error() string {
	return "event " + string(e.Event) + " is not expected in state " + string(e.State)
}
