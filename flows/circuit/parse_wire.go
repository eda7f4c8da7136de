package circuit

import (
	"slices"
	"strings"
)

// colours are the words for wire colours. Colour words and two-colour forms follow
// IEC 60757 and North American usage.
var colours = []string{"black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "purple", "grey", "gray",
	"white", "pink", "turquoise", "tan", "clear", "bare", "gold", "silver"}

// wireExample is how a wire is written.
const wireExample = "K1:T1 - E1:1  red 14"

// piece is a run of text without spaces and where it starts in its line, in bytes.
type piece struct {
	text string
	at   int
}

// pieces cuts a line at its spaces.
func pieces(line string) []piece {
	var all []piece
	at := 0
	for _, word := range strings.Fields(line) {
		i := at + strings.Index(line[at:], word)
		all = append(all, piece{word, i})
		at = i + len(word)
	}
	return all
}

func (b *building) wires(v value) {
	if v.shape != list {
		b.complain(v.spot, "wires: and one wire a line, - "+wireExample, "wires is not a list")
		return
	}
	for _, item := range v.items {
		if item.shape != scalar {
			b.complain(item.spot, wireExample, "a wire is not a single line")
			continue
		}
		b.wire(item)
	}
}

// wire reads one line: end, hyphen, end, colour, number, and perhaps the word fixed.
func (b *building) wire(v value) {
	w := pieces(v.text)
	if len(w) < 2 || w[1].text != "-" {
		at := v.spot
		if len(w) > 1 {
			at = v.at(w[1].at)
		}
		b.complain(at, wireExample, "no hyphen with spaces around it after the first end of a wire")
		return
	}
	if len(w) < 3 {
		b.complain(v.spot, wireExample, "a wire to nowhere: the second end is missing")
		return
	}
	x, okX := b.end(v, w[0])
	y, okY := b.end(v, w[2])
	wire := Wire{Ends: [2]TermID{x, y}}
	ok := okX && okY
	switch {
	case len(w) == 3:
		b.complain(v.spot, w[0].text+" - "+w[2].text+"  ? ?, or its colour and number", "a wire without colour and number")
		ok = false
	case len(w) == 4:
		b.complain(v.at(w[3].at), "colour, then number, ? for what is not known, as in "+wireExample,
			"a wire with %q only", w[3].text)
		ok = false
	case len(w) == 6 && w[5].text == "fixed":
		wire.Fixed = true
		fallthrough
	case len(w) == 5:
		colour, isColour := b.colour(v, w[3], w[4])
		wire.Colour, wire.Number = colour, known(w[4].text)
		ok = ok && isColour
	default:
		b.complain(v.at(w[5].at), "two ends, one colour, one number; a colour of two as white/red", "%q after the number of a wire", w[5].text)
		ok = false
	}
	if ok && x == y {
		b.complain(v.at(w[2].at), "the terminal of its other end", "a wire from %s to itself", w[0].text)
		ok = false
	}
	if !ok {
		return
	}
	for i, other := range b.u.Wires {
		same := other.Ends == wire.Ends || other.Ends == [2]TermID{y, x}
		if same && other.Colour == wire.Colour && other.Number == wire.Number {
			b.complain(v.spot, "it once, or its own number if there are two", "the same wire as in line %d", b.wireSpots[i].line)
			return
		}
	}
	id := WireID(len(b.u.Wires))
	b.u.Wires = append(b.u.Wires, wire)
	b.wireSpots = append(b.wireSpots, v.spot)
	for i, t := range wire.Ends {
		b.u.Terms[t].Ends = append(b.u.Terms[t].Ends, id.Ends()[i])
	}
}

// known is the text, empty for "?".
func known(s string) string {
	if s == "?" {
		return ""
	}
	return s
}

// colour checks a colour word: one of the list, or two joined by / or -.
func (b *building) colour(v value, colour, number piece) (string, bool) {
	if colour.text == "?" {
		return "", true
	}
	isColour := func(s string) bool {
		two := strings.FieldsFunc(s, func(c rune) bool { return c == '/' || c == '-' })
		return len(two) >= 1 && len(two) <= 2 && !slices.ContainsFunc(two, func(c string) bool { return !slices.Contains(colours, c) })
	}
	switch lower := strings.ToLower(colour.text); {
	case isColour(lower):
		return lower, true
	case isColour(strings.ToLower(number.text)):
		b.complain(v.at(colour.at), number.text+" "+colour.text, "the number of a wire before its colour")
	default:
		b.complain(v.at(colour.at), b.oneOf(lower, colours), "there is no colour %q", colour.text)
	}
	return "", false
}

// end resolves "K1:T1" to a terminal, with a complaint at its place if there is none.
// A part with one terminal may be written by its tag alone.
func (b *building) end(v value, p piece) (TermID, bool) {
	tag, name, hasName := strings.Cut(p.text, ":")
	part, ok := b.partNamed(tag, v.at(p.at))
	if !ok || b.broken[part] {
		return None, false
	}
	terms := b.u.Parts[part].Terms
	var names []string
	for _, t := range terms {
		names = append(names, b.u.Terms[t].Name)
	}
	switch {
	case !hasName && len(terms) == 1:
		return terms[0], true
	case !hasName || name == "":
		b.complain(v.at(p.at), tag+":"+strings.Join(names, " or "+tag+":"), "%s without the terminal", tag)
		return None, false
	}
	if i := slices.Index(names, name); i >= 0 {
		return terms[i], true
	}
	write := tag + ":" + strings.Join(names, ", "+tag+":")
	if n := nearest(name, names); n != "" && len(names) > 2 {
		write = tag + ":" + n + " (it has " + strings.Join(names, ", ") + ")"
	}
	b.complain(v.at(p.at+len(tag)+1), write, "%s %s has no terminal %q", b.u.Parts[part].Kind, tag, name)
	return None, false
}

// fixWires marks the wires that are never lifted: those on a ground stud or on a
// terminal where PE lands, green ones, and those marked fixed in the file.
func (b *building) fixWires() {
	var earth []TermID
	for _, s := range b.u.Sources {
		for _, f := range s.Feeds {
			if f.Leg == "PE" {
				earth = append(earth, f.Term)
				for _, e := range b.u.Parts[b.u.Terms[f.Term].Part].Elems { // the far end of a cord
					if e.Role == Bond && e.A == f.Term && e.B != None {
						earth = append(earth, e.B)
					}
				}
			}
		}
	}
	for i := range b.u.Wires {
		w := &b.u.Wires[i]
		for _, t := range w.Ends {
			if slices.Contains(earth, t) || b.u.Parts[b.u.Terms[t].Part].Kind == KindGround {
				w.Fixed = true
			}
		}
		switch w.Colour {
		case "green", "green/yellow", "green-yellow", "yellow/green", "yellow-green", "bare":
			w.Fixed = true
		}
	}
}
