package machine

import (
	"fmt"
	"strings"

	"halfsplit/flows/safety"
)

// Mermaid draws the edges that draw accepts as a Mermaid state diagram, in table
// order, with the facts that an edge needs (?) and sets (+); what it drops would fill
// the page. Edges with the same ends and the same facts share a line. A nil draw
// accepts every edge.
func (m *Machine) Mermaid(draw func(Rule) bool) string {
	type line struct {
		from, to State
		facts    string
	}
	var lines []line
	events := make(map[line][]string)
	for _, s := range m.states {
		for _, r := range m.at[s].rules {
			if draw != nil && !draw(r) {
				continue
			}
			l := line{r.From, r.To, r.marks()}
			if events[l] == nil {
				lines = append(lines, l)
			}
			events[l] = append(events[l], string(r.On))
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "stateDiagram-v2\n    [*] --> %s\n", m.start)
	for _, l := range lines {
		fmt.Fprintf(&b, "    %s --> %s: %s%s\n", l.from, l.to, strings.Join(events[l], " / "), l.facts)
	}
	for _, f := range m.finals {
		fmt.Fprintf(&b, "    %s --> [*]\n", f)
	}
	return b.String()
}

func (r Rule) marks() string {
	var b strings.Builder
	for _, part := range []struct {
		mark  string
		facts safety.Facts
	}{{"?", r.Needs}, {"+", r.Sets}} {
		for _, name := range part.facts.Groups() {
			b.WriteString(" " + part.mark + name)
		}
	}
	return b.String()
}
