package machine

import "fmt"

// Problem is one thing wrong with a table.
type Problem struct {
	State State
	Event Event // empty if the state itself is wrong
	What  string
}

func (p *Problem) Error() string {
	if p.Event == "" {
		return fmt.Sprintf("state %q: %s", p.State, p.What)
	}
	return fmt.Sprintf("state %q, event %q: %s", p.State, p.Event, p.What)
}

// ambiguous lists what makes a table unusable.
func (m *Machine) ambiguous() []error {
	var bad []error
	for _, s := range m.states {
		if !wellFormed(string(s)) {
			bad = append(bad, &Problem{State: s, What: "malformed name"})
		}
	}
	for _, s := range m.states {
		l := m.at[s]
		for n, r := range l.rules {
			if !wellFormed(string(r.On)) {
				bad = append(bad, &Problem{State: s, Event: r.On, What: "malformed name"})
			}
			if l.byName[r.On] != n {
				bad = append(bad, &Problem{State: s, Event: r.On, What: "two rules for one event"})
			}
		}
	}
	return bad
}

// Check lists what is wrong with the table: double edges, malformed names, states
// that cannot be reached even with every fact, dead ends that are not final, final
// states that can be left, and edges that drop a fact in vain because they set it.
// The errors are *Problem values in table order.
func (m *Machine) Check() []error {
	bad := m.ambiguous()
	seen := map[State]bool{m.start: true}
	queue := []State{m.start}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		for _, r := range m.at[at].rules {
			if !seen[r.To] {
				seen[r.To] = true
				queue = append(queue, r.To)
			}
		}
	}
	for _, s := range m.states {
		leaves := false
		for _, r := range m.at[s].rules {
			leaves = leaves || r.To != s
		}
		switch final := m.Final(s); {
		case !seen[s]:
			bad = append(bad, &Problem{State: s, What: "cannot be reached"})
		case !leaves && !final:
			bad = append(bad, &Problem{State: s, What: "dead end that is not final"})
		case leaves && final:
			bad = append(bad, &Problem{State: s, What: "final, yet a rule leaves it"})
		}
	}
	return bad
}

func wellFormed(name string) bool {
	for i, c := range []byte(name) {
		switch {
		case c >= 'a' && c <= 'z':
		case i > 0 && (c == '_' || c >= '0' && c <= '9'):
		default:
			return false
		}
	}
	return name != ""
}
