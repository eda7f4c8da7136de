// Package machine is a table of rules over github.com/looplab/fsm: what may follow
// what, which safety facts each edge needs, sets and drops. It checks, walks and
// draws such tables.
package machine

import (
	"context"
	"errors"
	"fmt"

	"github.com/looplab/fsm"

	"halfsplit/flows/safety"
)

// State and Event are names of the form [a-z][a-z_0-9]*.
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

// Lack returns the facts that the rule needs and have does not hold.
func (r Rule) Lack(have safety.Facts) safety.Facts { return r.Needs &^ have }

// After returns the facts once the rule was taken with have.
func (r Rule) After(have safety.Facts) safety.Facts { return have&^r.Drops | r.Sets }

// Machine is a checked table. It holds no position and may be shared.
type Machine struct {
	start  State
	finals []State
	rules  []Rule
	states []State // in table order, start first
	at     map[State]*leaving
}

// leaving is the part of the table that leaves one state.
type leaving struct {
	rules  []Rule
	byName map[Event]int
	descs  []fsm.EventDesc
}

// Outcome is what an event brought. If Lack is not empty the gate refused it: To is
// the state it came from, and the facts are unchanged.
type Outcome struct {
	To    State
	Facts safety.Facts
	Sets  safety.Facts // of the rule
	Drops safety.Facts // of the rule
	Lack  safety.Facts
}

// NoRule is the error of an event that has no rule in a state.
type NoRule struct {
	At State
	On Event
}

func (e *NoRule) Error() string { return fmt.Sprintf("no rule for %q in state %q", e.On, e.At) }

// UnknownState is the error of a state that the table does not have.
type UnknownState struct{ At State }

func (e *UnknownState) Error() string { return fmt.Sprintf("no state is called %q", e.At) }

// New builds a machine. A table that is ambiguous or has malformed names is an error
// that joins *Problem values; what else may be wrong with it, Check reports.
func New(start State, finals []State, rules []Rule) (*Machine, error) {
	m := &Machine{
		start:  start,
		finals: append([]State(nil), finals...),
		rules:  append([]Rule(nil), rules...),
		at:     make(map[State]*leaving),
	}
	m.add(start)
	for _, r := range m.rules {
		from := m.add(r.From)
		m.add(r.To)
		if _, twice := from.byName[r.On]; !twice {
			from.byName[r.On] = len(from.rules)
		}
		from.rules = append(from.rules, r)
		from.descs = append(from.descs, fsm.EventDesc{Name: string(r.On), Src: []string{string(r.From)}, Dst: string(r.To)})
	}
	for _, f := range m.finals {
		m.add(f)
	}
	if bad := m.ambiguous(); len(bad) > 0 {
		return nil, fmt.Errorf("table: %w", errors.Join(bad...))
	}
	return m, nil
}

func (m *Machine) add(s State) *leaving {
	l, ok := m.at[s]
	if !ok {
		l = &leaving{byName: make(map[Event]int)}
		m.at[s] = l
		m.states = append(m.states, s)
	}
	return l
}

// Start returns the first state.
func (m *Machine) Start() State { return m.start }

// States returns every state in table order, the first state first.
func (m *Machine) States() []State { return append([]State(nil), m.states...) }

// Rules returns the rules that leave at, in table order.
func (m *Machine) Rules(at State) []Rule {
	if l, ok := m.at[at]; ok {
		return append([]Rule(nil), l.rules...)
	}
	return nil
}

// All returns every rule in table order.
func (m *Machine) All() []Rule { return append([]Rule(nil), m.rules...) }

// Events returns the events that have a rule in state at, in table order.
func (m *Machine) Events(at State) []Event {
	l, ok := m.at[at]
	if !ok {
		return nil
	}
	list := make([]Event, len(l.rules))
	for i, r := range l.rules {
		list[i] = r.On
	}
	return list
}

// Final reports whether a job ends in at.
func (m *Machine) Final(at State) bool {
	for _, f := range m.finals {
		if f == at {
			return true
		}
	}
	return false
}

// Rule returns the rule for on in state at.
func (m *Machine) Rule(at State, on Event) (Rule, bool) {
	l, ok := m.at[at]
	if !ok {
		return Rule{}, false
	}
	n, ok := l.byName[on]
	if !ok {
		return Rule{}, false
	}
	return l.rules[n], true
}

// Step returns what event on brings in state at with those facts. Its error is an
// *UnknownState or a *NoRule. A gate that refuses is no error: see Outcome.
func (m *Machine) Step(at State, facts safety.Facts, on Event) (Outcome, error) {
	l, ok := m.at[at]
	if !ok {
		return Outcome{}, &UnknownState{At: at}
	}
	n, ok := l.byName[on]
	if !ok {
		return Outcome{}, &NoRule{At: at, On: on}
	}
	rule := l.rules[n]
	if lack := rule.Lack(facts); lack != 0 {
		return Outcome{To: at, Facts: facts, Lack: lack}, nil
	}
	// The machine is new for each step, since a kept one can jam, and made of the one
	// rule found: every further rule of the state costs it another 0.2 µs.
	f := fsm.NewFSM(string(at), l.descs[n:n+1], nil)
	if err := f.Event(context.Background(), string(on)); err != nil {
		var same fsm.NoTransitionError // an edge to the same state is not a failure
		if !errors.As(err, &same) || same.Err != nil {
			return Outcome{}, fmt.Errorf("step %s from %s: %w", on, at, err)
		}
	}
	return Outcome{To: State(f.Current()), Facts: rule.After(facts), Sets: rule.Sets, Drops: rule.Drops}, nil
}
