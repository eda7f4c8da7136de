// Package machine is a table of rules over github.com/looplab/fsm: what may follow
// what, which safety facts each edge needs, sets and drops. It checks, walks and
// draws such tables.
package machine

import "halfsplit/flows/safety"

// State and Event are names of the form [a-z][a-z_]*.
type (
	State string
	Event string
)

// Rule is one edge. It may be taken only with all of Needs; it then sets Sets and
// drops Drops (drops first, so that a fact in both is set).
type Rule struct {
	From  State
	On    Event
	To    State
	Needs safety.Facts
	Sets  safety.Facts
	Drops safety.Facts
}
