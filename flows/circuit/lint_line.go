package circuit

// Lines says where in the text of its file the things of a unit stand. Lines and
// columns start at 1. What has no place of its own, as in a unit that was not read from
// a text, stands at 1:1.
type Lines struct {
	b    *building
	root value
}

// LinesOf reads the text of a unit once more for its places.
func LinesOf(u *Unit) *Lines {
	b := &building{reader: &reader{file: u.File}, u: &Unit{File: u.File}}
	root, ok := b.tree(u.Source)
	if ok {
		b.read(root)
	}
	return &Lines{b: b, root: root}
}

// Item returns the line and column of a part or wire.
func (l *Lines) Item(it Item) (line, col int) {
	at := spot{}
	switch {
	case it.Wire != None:
		at = l.wire(it.Wire)
	case it.Part != None:
		at = l.part(it.Part)
	}
	return max(at.line, 1), max(at.col, 1)
}

func (l *Lines) part(p PartID) spot {
	if p < 0 || int(p) >= len(l.b.partSpots) {
		return spot{}
	}
	return l.b.partSpots[p]
}

func (l *Lines) wire(w WireID) spot {
	if w < 0 || int(w) >= len(l.b.wireSpots) {
		return spot{}
	}
	return l.b.wireSpots[w]
}

// of returns the value of a key of a part, and its place; the place of the part and no
// text if the file does not give the key there.
func (l *Lines) of(p PartID, key string) (text string, at spot) {
	at = l.part(p)
	for _, f := range fieldsAt(l.root, at) {
		if f.key == key {
			return f.value.text, f.value.spot
		}
	}
	return "", at
}

// fieldsAt finds the keys of the field whose name stands at the given place.
func fieldsAt(v value, at spot) []field {
	for _, f := range v.fields {
		if f.spot == at {
			return f.value.fields
		}
		if got := fieldsAt(f.value, at); got != nil {
			return got
		}
	}
	for _, item := range v.items {
		if got := fieldsAt(item, at); got != nil {
			return got
		}
	}
	return nil
}

// plate is the place of a key of the nameplate.
func (l *Lines) plate(key string) spot {
	for _, f := range l.root.fields {
		if f.key != "nameplate" {
			continue
		}
		for _, k := range f.value.fields {
			if k.key == key {
				return k.value.spot
			}
		}
		return f.spot
	}
	return spot{}
}

// good is the place of a good reading.
func (l *Lines) good(i int) spot {
	if v, ok := l.b.root.get("good readings"); ok && i < len(v.items) {
		return v.items[i].spot
	}
	return l.b.key("good readings")
}

// cover is the place of a cover.
func (l *Lines) cover(i int) spot {
	if v, ok := l.b.root.get("covers"); ok && i < len(v.fields) {
		return v.fields[i].spot
	}
	return l.b.key("covers")
}

// feed is the place where a source says on which terminal a leg lands.
func (l *Lines) feed(source, i int) spot {
	if source < len(l.b.feedSpots) && i < len(l.b.feedSpots[source]) {
		return l.b.feedSpots[source][i]
	}
	return l.b.key("sources")
}
