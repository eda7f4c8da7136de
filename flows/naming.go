package flows

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
)

// itemsNamed lists items for a person: "E1, E2 or wire 14"; of more than most, the
// rest is counted.
func itemsNamed(u *circuit.Unit, items []circuit.Item, joint string, most int) string {
	names := make([]string, 0, len(items))
	for i, it := range items {
		if i == most && len(items) > most+1 {
			names = append(names, fmt.Sprintf("%d more", len(items)-most))
			break
		}
		names = append(names, it.Name(u))
	}
	return joined(names, joint)
}

// leftText is itemsNamed for what is left, which may be nothing.
func leftText(u *circuit.Unit, items []circuit.Item, joint string, most int) string {
	if len(items) == 0 {
		return "nothing in this unit file"
	}
	return itemsNamed(u, items, joint, most)
}

// joined writes a list: "a", "a or b", "a, b or c".
func joined(names []string, joint string) string {
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0]
	}
	last := len(names) - 1
	return strings.Join(names[:last], ", ") + " " + joint + " " + names[last]
}

// endsOf lists the members of a set of wire ends in file order.
func endsOf(b circuit.Bits) []circuit.EndID {
	var all []circuit.EndID
	for _, i := range b.Each() {
		all = append(all, circuit.EndID(i))
	}
	return all
}

// endName names a wire end by its wire and the terminal it belongs on: "14 at K1:T1".
func endName(u *circuit.Unit, e circuit.EndID) string {
	w, side := e.Wire()
	if w < 0 || int(w) >= len(u.Wires) {
		return "no such wire"
	}
	return wireShort(u, w) + " at " + u.TermName(u.Wires[w].Ends[side])
}

// wireShort is colour and number, or what WireName says where there is no number.
func wireShort(u *circuit.Unit, w circuit.WireID) string {
	name := u.WireName(w)
	if c := u.Wires[w].Colour; c != "" && u.Wires[w].Number != "" && !strings.Contains(name, c) {
		return c + " " + name
	}
	return name
}

func endsNamed(u *circuit.Unit, ends []circuit.EndID) string {
	names := make([]string, len(ends))
	for i, e := range ends {
		names[i] = endName(u, e)
	}
	return strings.Join(names, ", ")
}

// nodeShort is what a person calls a point in an answer: "14", "K1:T2", "frame".
func nodeShort(u *circuit.Unit, n circuit.Node) string {
	switch {
	case n == circuit.Chassis:
		return "frame"
	case n < 0:
		return "no point"
	case int(n) < len(u.Terms):
		return u.TermName(circuit.TermID(n))
	case int(n) < len(u.Terms)+len(u.Wires):
		return wireShort(u, circuit.WireID(int(n)-len(u.Terms)))
	}
	return "supply"
}

// testShort names a test in an answer: "red 14 to frame", "E1 end to end".
func testShort(u *circuit.Unit, t isolate.Test) string {
	switch t.Kind {
	case isolate.ToFrame:
		return nodeShort(u, t.A) + " to frame"
	case isolate.Across:
		if t.Part >= 0 && int(t.Part) < len(u.Parts) {
			return partElem(u, t.Part, t.Elem) + ", " + nodeShort(u, t.A) + " to " + nodeShort(u, t.B)
		}
	case isolate.Along:
		if t.Wire >= 0 && int(t.Wire) < len(u.Wires) {
			return "wire " + strings.TrimPrefix(wireShort(u, t.Wire), "wire ") + " end to end"
		}
	}
	return nodeShort(u, t.A) + " to " + nodeShort(u, t.B)
}

// partElem is the tag of a part and, where it has several pieces, which: "K1 coil".
func partElem(u *circuit.Unit, p circuit.PartID, elem int) string {
	part := u.Parts[p]
	if elem >= 0 && elem < len(part.Elems) && len(part.Elems) > 1 && part.Elems[elem].Name != "" {
		return part.Tag + " " + part.Elems[elem].Name
	}
	return part.Tag
}

// partName is how a part is shown the first time: "K1 (grey block, left wall)".
func partName(u *circuit.Unit, p circuit.PartID) string {
	if p < 0 || int(p) >= len(u.Parts) {
		return "no such part"
	}
	part := u.Parts[p]
	var about []string
	if part.Looks != "" {
		about = append(about, part.Looks)
	} else {
		about = append(about, string(part.Kind))
	}
	if part.At != "" {
		about = append(about, part.At)
	}
	return part.Tag + " (" + strings.Join(about, ", ") + ")"
}

// actName says one act as an instruction.
func actName(u *circuit.Unit, a isolate.Act) string {
	switch a.Kind {
	case isolate.OpenCover:
		return coverName(u, a.Cover) + " off"
	case isolate.CloseCover:
		return coverName(u, a.Cover) + " on"
	case isolate.Lift:
		return "take off " + endName(u, a.End) + endWhere(u, a.End)
	case isolate.Land:
		return "put back " + endName(u, a.End)
	case isolate.Move:
		if a.Part >= 0 && int(a.Part) < len(u.Parts) {
			p := u.Parts[a.Part]
			to := a.To
			if to < 0 {
				to = p.Rest
			}
			switch {
			case to < 0 || to >= len(p.Positions):
				return partName(u, a.Part)
			case p.Kind == circuit.KindStat && closedAt(p, to):
				return "turn " + partName(u, a.Part) + " up until it clicks closed"
			case p.Kind == circuit.KindStat:
				return "turn " + partName(u, a.Part) + " down until it clicks open"
			}
			return "set " + partName(u, a.Part) + " to " + p.Positions[to]
		}
	}
	return "no such act"
}

// closedAt says whether any contact of a part is closed in a position.
func closedAt(p circuit.Part, position int) bool {
	return slices.ContainsFunc(p.Elems, func(e circuit.Elem) bool {
		return e.Role == circuit.Contact && position < 32 && e.Closed&(1<<position) != 0
	})
}

// endWhere says where the terminal of an end is: " (grey block, left wall, bottom left
// screw)"; empty if the file says nothing.
func endWhere(u *circuit.Unit, e circuit.EndID) string {
	w, side := e.Wire()
	if w < 0 || int(w) >= len(u.Wires) {
		return ""
	}
	return termWhere(u, u.Wires[w].Ends[side])
}

func termWhere(u *circuit.Unit, t circuit.TermID) string {
	if t < 0 || int(t) >= len(u.Terms) {
		return ""
	}
	term := u.Terms[t]
	p := u.Parts[term.Part]
	var about []string
	for _, part := range []string{p.Looks, p.At, term.Where} {
		if part != "" {
			about = append(about, part)
		}
	}
	if len(about) == 0 {
		return ""
	}
	return " (" + strings.Join(about, ", ") + ")"
}

func coverName(u *circuit.Unit, c int) string {
	if c < 0 || c >= len(u.Covers) {
		return "the cover"
	}
	return u.Covers[c].Name
}

// offNow lists what the bot keeps: ends off, covers off, parts moved.
func offNow(u *circuit.Unit, s circuit.State) string {
	list := endsNamed(u, endsOf(s.Lifted))
	for _, c := range s.Off.Each() {
		list = also(list, coverName(u, c))
	}
	return list
}

func also(list, more string) string {
	if list == "" {
		return more
	}
	return list + ", " + more
}

// coverOfFeed is the cover behind which the supply comes in; None if there is none.
func coverOfFeed(u *circuit.Unit) int {
	for _, src := range u.Sources {
		for _, f := range src.Feeds {
			if f.Term >= 0 && int(f.Term) < len(u.Terms) {
				return u.Parts[u.Terms[f.Term].Part].Cover
			}
		}
	}
	return circuit.None
}

// state returns s with the acts done.
func after(u *circuit.Unit, s circuit.State, acts []isolate.Act) circuit.State {
	for _, a := range acts {
		switch a.Kind {
		case isolate.OpenCover:
			s = s.Uncover(a.Cover)
		case isolate.CloseCover:
			s = s.Cover(a.Cover)
		case isolate.Lift:
			s = s.Lift(a.End)
		case isolate.Land:
			s = s.Land(a.End)
		case isolate.Move:
			s = s.Move(u, a.Part, a.To)
		}
	}
	return s
}

// recorded is an act as it is stored: a part put back to rest is stored as To -1, so
// that the fold need not know which position that is.
func recorded(u *circuit.Unit, a isolate.Act) isolate.Act {
	if a.Kind == isolate.Move && a.Part >= 0 && int(a.Part) < len(u.Parts) && u.Parts[a.Part].Rest == a.To {
		a.To = circuit.None
	}
	return a
}
