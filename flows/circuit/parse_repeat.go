package circuit

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// A repeat writes alike pieces of a unit once:
//
//	repeat:
//	  deck: [1, 2, 3]
//	  name: [top, middle, bottom]
//	  parts:
//	    E<deck>1: {kind: element, volts: 208, watts: 900, at: <name> deck}
//	  wires:
//	    - K<deck>:T1 - E<deck>1:1  black <deck>01
//
// Every key but those of repeated is a placeholder with its values, all lists of one
// length; <deck> stands for its value in tags, wires and texts. What is repeated is put
// behind what the file has of its own, one value after the other, before anything is
// read: the rest of the package sees a unit without repeats. Every place keeps line and
// column of the template, and says for which repetition it is.

// repeated are the keys of the file that a repeat may hold.
var repeated = []string{"covers", "parts", "wires", "good readings", "history"}

// mostRepeats is how often a piece may be repeated.
const mostRepeats = 24

const repeatExample = "repeat: {deck: [1, 2, 3], parts: ..., wires: ...}, with <deck> in tags, wires and texts"

// placeholder is a name with its values.
type placeholder struct {
	field
	values []string
	used   bool
}

// cut is where a value stands in a text in place of its placeholder: bytes at to
// at+size of the text, from to from+was of the text as it is in the file.
type cut struct{ at, size, from, was int }

// inRaw returns the byte of the text in the file that byte i comes from.
func inRaw(cuts []cut, i int) int {
	off := 0
	for _, c := range cuts {
		switch {
		case i < c.at:
			return i + off
		case i < c.at+c.size:
			return c.from
		}
		off = c.from + c.was - c.at - c.size
	}
	return i + off
}

// repeats puts what is repeated into the other keys of the file.
func (r *reader) repeats(root *value) {
	i := slices.IndexFunc(root.fields, func(f field) bool { return f.key == "repeat" })
	if i < 0 {
		return
	}
	blocks := []value{root.fields[i].value}
	switch v := root.fields[i].value; v.shape {
	case absent:
		return
	case list:
		blocks = v.items
	}
	for _, b := range blocks {
		if b.shape != mapping {
			r.complain(b.spot, repeatExample, "a repeat is not a set of keys")
			continue
		}
		r.repeat(root, b)
	}
}

func (r *reader) repeat(root *value, block value) {
	var holders []*placeholder
	var sections []field
	for _, f := range r.entries(block, "repeat", repeatExample) {
		if slices.Contains(repeated, f.key) {
			sections = append(sections, f)
		} else if p, ok := r.placeholder(f); ok {
			holders = append(holders, p)
		} else {
			return
		}
	}
	switch {
	case len(holders) == 0:
		r.complain(block.spot, repeatExample, "a repeat does not say what changes from one to the next")
		return
	case len(sections) == 0:
		r.complain(block.spot, repeatExample, "a repeat holds nothing to be repeated")
		return
	}
	for _, p := range holders[1:] {
		if len(p.values) != len(holders[0].values) {
			r.complain(p.value.spot, "as many values as "+holders[0].key+" has, "+strconv.Itoa(len(holders[0].values)),
				"%s has %d values, %s has %d", p.key, len(p.values), holders[0].key, len(holders[0].values))
			return
		}
	}
	for i := range holders[0].values {
		x := expansion{reader: r, holders: holders, turn: i, of: holders[0].key + " " + holders[0].values[i]}
		for _, s := range sections {
			x.section(root, s)
		}
	}
	for _, p := range holders {
		if !p.used {
			r.complain(p.field.spot, "<"+p.key+"> in tags and wires, or one of: "+strings.Join(repeated, ", "), "%q is repeated over but <%s> is used nowhere", p.key, p.key)
		}
	}
}

// placeholder reads deck: [1, 2, 3].
func (r *reader) placeholder(f field) (*placeholder, bool) {
	if n := nearest(f.key, repeated); f.shape != list {
		write := f.key + ": [1, 2, 3], or one of: " + strings.Join(repeated, ", ")
		if n != "" {
			write = n
		}
		r.complain(f.spot, write, "%q in a repeat is not a list of values", f.key)
		return nil, false
	}
	if !isPlaceholder(f.key) {
		r.complain(f.spot, "a word of letters, such as deck", "a placeholder cannot be called %q", f.key)
		return nil, false
	}
	p := &placeholder{field: f}
	for _, v := range r.texts(f.value, f.key, f.key+": [1, 2, 3]") {
		switch {
		case v.text == "" || strings.ContainsAny(v.text, "<>"):
			r.complain(v.spot, "a number or a word", "a value of %s cannot be %q", f.key, v.text)
			return nil, false
		case len(p.values) == mostRepeats:
			r.complain(v.spot, "at most "+strconv.Itoa(mostRepeats)+" values", "too many values of %s", f.key)
			return nil, false
		}
		p.values = append(p.values, v.text)
	}
	if len(p.values) != len(f.items) {
		return nil, false // complained of already
	}
	if len(p.values) == 0 {
		r.complain(f.value.spot, f.key+": [1, 2, 3]", "%s has no values", f.key)
		return nil, false
	}
	return p, true
}

func isPlaceholder(s string) bool {
	return s != "" && !strings.ContainsFunc(s, func(c rune) bool { return (c < 'a' || c > 'z') && (c < 'A' || c > 'Z') })
}

// expansion is one repetition.
type expansion struct {
	*reader
	holders []*placeholder
	turn    int
	of      string
}

// section puts one key of a repeat behind what the file has under that key.
func (x *expansion) section(root *value, s field) {
	shape := mapping
	if s.key == "wires" || s.key == "good readings" {
		shape = list
	}
	if s.shape != shape {
		if x.turn == 0 && s.shape != absent {
			x.complain(s.value.spot, repeatExample, "%s of a repeat is not written as %s of the file is", s.key, s.key)
		}
		return
	}
	i := slices.IndexFunc(root.fields, func(f field) bool { return f.key == s.key })
	if i < 0 {
		i = len(root.fields)
		root.fields = append(root.fields, field{spot: s.spot, key: s.key, value: value{spot: s.value.spot, shape: shape}})
	}
	into := &root.fields[i].value
	if into.shape == absent || into.shape == list && len(into.items) == 0 {
		into.shape = shape
	}
	if into.shape != shape {
		return // complained of when it is read
	}
	for _, f := range s.fields {
		if !x.varies(value{spot: f.spot, text: f.key}, s.key) {
			continue
		}
		into.fields = append(into.fields, x.field(f))
	}
	for _, item := range s.items {
		if !x.varies(item, s.key) {
			continue
		}
		into.items = append(into.items, x.value(item))
	}
}

// varies says whether an entry is another one for each value; once, it complains of
// those that are not.
func (x *expansion) varies(entry value, what string) bool {
	if entry.shape != absent && entry.shape != scalar || len(x.holders[0].values) == 1 {
		return true
	}
	if slices.ContainsFunc(x.holders, func(p *placeholder) bool { return strings.Contains(entry.text, "<"+p.key+">") }) {
		return true
	}
	if x.turn == 0 {
		x.complain(entry.spot, "<"+x.holders[0].key+"> in it, or the line outside the repeat", "%q under %s of a repeat is the same every time", entry.text, what)
	}
	return false
}

func (x *expansion) field(f field) field {
	key := value{spot: f.spot, text: f.key}
	x.fill(&key)
	return field{spot: key.spot, key: key.text, value: x.value(f.value)}
}

func (x *expansion) value(v value) value {
	x.fill(&v)
	v.items, v.fields = slices.Clone(v.items), slices.Clone(v.fields)
	for i := range v.items {
		v.items[i] = x.value(v.items[i])
	}
	for i := range v.fields {
		v.fields[i] = x.field(v.fields[i])
	}
	return v
}

// fill marks a value with the repetition and puts values in place of placeholders.
func (x *expansion) fill(v *value) {
	v.of = x.of
	if !strings.Contains(v.text, "<") {
		return
	}
	v.raw = v.text
	var out strings.Builder
	for at := 0; at < len(v.raw); {
		rest := v.raw[at:]
		end := strings.IndexByte(rest, '>')
		if rest[0] != '<' || end < 0 || !isPlaceholder(rest[1:end]) {
			out.WriteByte(rest[0])
			at++
			continue
		}
		name := rest[1:end]
		i := slices.IndexFunc(x.holders, func(p *placeholder) bool { return p.key == name })
		if i < 0 {
			if x.turn == 0 {
				var known []string
				for _, p := range x.holders {
					known = append(known, "<"+p.key+">")
				}
				where := *v
				where.of = ""
				x.complain(where.at(out.Len()), strings.Join(known, " or "), "there is no placeholder <%s> in this repeat", name)
			}
			out.WriteString(rest[:end+1])
		} else {
			text := x.holders[i].values[x.turn]
			x.holders[i].used = true
			v.cuts = append(v.cuts, cut{at: out.Len(), size: len(text), from: at, was: end + 1})
			out.WriteString(text)
		}
		at += end + 1
	}
	v.text = out.String()
}

// all are the problems, sorted by place. Those that every repetition has are one.
func (r *reader) all() []Problem {
	order := make([]int, len(r.problems))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int {
		p, q := r.problems[x], r.problems[y]
		return cmp.Or(cmp.Compare(p.Line, q.Line), cmp.Compare(p.Col, q.Col))
	})
	type same struct {
		Problem
		found string
		of    []string
	}
	var groups []same
	for _, i := range order {
		p, s := r.problems[i], r.said[i]
		k := slices.IndexFunc(groups, func(g same) bool {
			return g.Line == p.Line && g.Col == p.Col && g.Write == p.Write && g.found == s.found
		})
		if k < 0 {
			k = len(groups)
			groups = append(groups, same{Problem: p, found: s.found})
		}
		if s.of != "" && !slices.Contains(groups[k].of, s.of) {
			groups[k].of = append(groups[k].of, s.of)
		}
	}
	var out []Problem
	for _, g := range groups {
		if g.Found = g.found; g.of != nil {
			g.Found += " (" + strings.Join(g.of, ", ") + ")"
		}
		out = append(out, g.Problem)
	}
	return out
}
