package circuit

import (
	"crypto/sha256"
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/quantity"
)

// topKeys are the keys of a unit file, in the order in which they are usually written.
var topKeys = []string{"unit", "about", "partial", "skeleton", "nameplate", "sources", "hazards", "covers", "parts",
	"wires", "good readings", "history", "minutes", "repeat"}

// minuteKeys are the acts of the cost table whose minutes a unit file may override.
var minuteKeys = []string{"probe", "next probe", "lift", "land", "switch", "neutral", "prove", "cover"}

// Parse reads a unit file. file is its name, used in problems and kept in Unit.File;
// nothing is opened.
//
// All problems that the text has are found in one run, sorted by place; with any
// problem the unit is nil. Checks of the circuit as a whole (loads without a supply,
// legs joined, coils not wired) are made once every line by itself is right, since
// they would otherwise repeat what is wrong with one line.
//
// The format is YAML without anchors, aliases, tags and second documents; every scalar
// is read as its text, so 014 and 1E2 are names. It is described, key by key, in
// testdata/units/README.md. Its heart is the wire list of the trade, one wire a line,
// both ends, colour and number, ? for what is not known:
//
//	wires:
//	  - K1:T1 - E1:1   red 14
//	  - K1:T1 - H1:1   brown ?
func Parse(file string, src []byte) (*Unit, []Problem) {
	r := &reader{file: file}
	b := &building{reader: r, u: &Unit{File: file, Source: slices.Clone(src), Hash: sha256.Sum256(src)}}
	if root, ok := r.tree(src); ok {
		b.read(root)
	}
	if len(r.problems) == 0 {
		b.checkCircuit()
	}
	if len(r.problems) > 0 {
		return nil, r.all()
	}
	return b.u, nil
}

// building is a unit under construction, with the places its things came from.
type building struct {
	*reader
	u         *Unit
	root      fields
	partSpots []spot
	broken    []bool // by PartID: the part has a problem of its own, its terminals are not known
	wireSpots []spot
	feedSpots [][]spot // by source and feed
}

func (b *building) read(root value) {
	f := b.keys(root, "the file", topKeys...)
	b.root = f
	if v, ok := b.need(f, "unit", "unit: the name of the unit, first line"); ok {
		b.u.Name, _ = b.text(v, "unit")
	}
	b.u.About = b.words(f, "about")
	b.u.Partial = b.truth(f, "partial", false)
	b.u.Skeleton = b.truth(f, "skeleton", false)
	if v, ok := b.need(f, "nameplate", "nameplate: {volts: 208, phases: 1, neutral: yes, hertz: 60, amps: 14}"); ok {
		b.nameplate(v)
	}
	if v, ok := b.need(f, "parts", "parts: and one part a line, K1: {kind: contactor, ...}"); ok {
		b.parts(v)
	}
	if v, ok := b.need(f, "wires", "wires: and one wire a line, - K1:T1 - E1:1  red 14"); ok {
		b.wires(v)
	}
	if v, ok := b.need(f, "sources", "sources: and every way in which the unit is fed, with system, legs and isolator"); ok {
		b.sources(v)
	}
	b.fixWires()
	if v, ok := b.need(f, "hazards", "hazards: [hot surfaces up to 95 °C], or hazards: [none known]"); ok {
		b.hazards(v)
	}
	if v, ok := f.get("covers"); ok {
		b.covers(v)
	}
	if v, ok := f.get("good readings"); ok {
		b.goodReadings(v)
	}
	if v, ok := f.get("history"); ok {
		b.history(v)
	}
	if v, ok := f.get("minutes"); ok {
		b.minutes(v)
	}
}

func (b *building) nameplate(v value) {
	f := b.keys(v, "nameplate", "volts", "phases", "neutral", "hertz", "amps")
	if v.shape != mapping {
		return
	}
	p := &b.u.Plate
	if v, ok := b.need(f, "volts", "volts: 208, as on the plate"); ok {
		x, _ := b.quantity(v, "volts", volts, true, "volts: 208")
		p.Volts = quantity.Volts(x)
	}
	if _, ok := b.need(f, "phases", "phases: 1 or phases: 3"); ok {
		p.Phases = b.whole(f, "phases", 1, 3, 1)
		if v, _ := f.get("phases"); p.Phases == 2 {
			b.complain(v.spot, "phases: 1 for two legs of a wye or split phase, or phases: 3", "phases cannot be 2")
		}
	}
	if _, ok := b.need(f, "neutral", "neutral: yes or neutral: no"); ok {
		p.Neutral = b.truth(f, "neutral", false)
	}
	if v, ok := f.get("hertz"); ok && v.text != "?" {
		p.Hertz, _ = b.quantity(v, "hertz", hertz, true, "hertz: 60, or ?")
	}
	if v, ok := f.get("amps"); ok && v.text != "?" {
		x, _ := b.quantity(v, "amps", amps, true, "amps: 14, or ?")
		p.Amps = quantity.Amps(x)
	}
}

func (b *building) hazards(v value) {
	for _, h := range b.texts(v, "hazards", "hazards: [hot oil, steam]") {
		if h.text != "none known" && h.text != "" {
			b.u.Hazards = append(b.u.Hazards, h.text)
		}
	}
	if v.shape == list && len(v.items) == 0 {
		b.complain(v.spot, "hazards: [none known], if you looked", "hazards is empty")
	}
}

func (b *building) covers(v value) {
	for _, c := range b.entries(v, "covers", "covers: and one a line, left panel: {off: 3 min, on: 3 min, hides: [X1, K1]}") {
		f := b.keys(c.value, "cover "+c.key, "off", "on", "hides")
		if c.shape != mapping {
			continue
		}
		cover := Cover{Name: c.key, Off: b.span(f, "off"), On: b.span(f, "on")}
		index := len(b.u.Covers)
		if v, ok := b.need(f, "hides", "hides: [X1, K1]"); ok {
			for _, tag := range b.texts(v, "hides", "hides: [X1, K1]") {
				p, ok := b.partNamed(tag.text, tag.spot)
				switch {
				case !ok:
				case b.u.Parts[p].Cover == index:
					b.complain(tag.spot, "it once", "%s is hidden twice by cover %s", tag.text, c.key)
				case b.u.Parts[p].Cover != None:
					b.complain(tag.spot, "the part under the cover that must come off last", "%s is already hidden by cover %s",
						tag.text, b.u.Covers[b.u.Parts[p].Cover].Name)
				default:
					b.u.Parts[p].Cover = index
					cover.Hides = append(cover.Hides, p)
				}
			}
		}
		b.u.Covers = append(b.u.Covers, cover)
	}
}

// span reads minutes that may be unknown.
func (b *building) span(f fields, key string) quantity.Minutes {
	v, ok := f.get(key)
	if !ok || v.text == "?" {
		return 0
	}
	x, _ := b.quantity(v, key, minutes, false, key+": 3 min, or ? if not known")
	return quantity.Minutes(x)
}

func (b *building) goodReadings(v value) {
	const example = "K1:A1 - K1:A2  520 ohm"
	if v.shape != list {
		b.complain(v.spot, "good readings: and one a line, - "+example, "good readings is not a list")
		return
	}
	for _, item := range v.items {
		if item.shape != scalar {
			b.complain(item.spot, example, "a good reading is not a single line")
			continue
		}
		w := pieces(item.text)
		if len(w) < 4 || w[1].text != "-" {
			b.complain(item.spot, example, "a good reading is two terminals and ohms")
			continue
		}
		x, okX := b.end(item, w[0])
		y, okY := b.end(item, w[2])
		ohm, why := readQuantity(strings.TrimSpace(item.text[w[3].at:]), ohms, false)
		switch {
		case why != "":
			b.complain(item.at(w[3].at), example, "ohms: %q %s", item.text[w[3].at:], why)
		case okX && okY && x == y:
			b.complain(item.at(w[2].at), "the other terminal", "a reading from %s to itself", w[0].text)
		case okX && okY:
			b.u.Good = append(b.u.Good, GoodReading{A: x, B: y, Ohms: quantity.Ohms(ohm)})
			b.override(x, y, quantity.Ohms(ohm))
		}
	}
}

// override puts a good reading end to end of a resistance in place of what was derived.
func (b *building) override(x, y TermID, ohm quantity.Ohms) {
	elems := b.u.Parts[b.u.Terms[x].Part].Elems
	for i, e := range elems {
		if e.Role == Resist && (e.A == x && e.B == y || e.A == y && e.B == x) {
			elems[i].Lively *= complex(float64(ohm/e.Ohms.Nominal), 0)
			elems[i].Ohms = around(ohm, 0.1, 0.1)
		}
	}
}

func (b *building) history(v value) {
	for _, h := range b.entries(v, "history", "history: {E1: {earthed: 2}}") {
		p, ok := b.partNamed(h.key, h.spot)
		for _, m := range b.entries(h.value, "the history of "+h.key, "history: {E1: {earthed: 2}}") {
			mode, known := ParseMode(m.key)
			n, err := strconv.Atoi(m.text)
			switch {
			case m.shape != scalar || err != nil || n < 1 || n > 100000:
				b.complain(m.value.spot, m.key+": 2, how often it was found", "the count cannot be %q", m.text)
			case !ok:
			case !known || !b.canFail(p, mode):
				b.complain(m.spot, b.oneOf(m.key, b.modesOf(p)), "%s cannot fail as %q", h.key, m.key)
			default:
				b.u.History = append(b.u.History, History{Part: p, Mode: mode, Count: n})
			}
		}
	}
}

func (b *building) canFail(p PartID, m Mode) bool {
	return b.broken[p] || slices.Contains(b.modesOf(p), m.String())
}

func (b *building) modesOf(p PartID) []string {
	var names []string
	for _, e := range b.u.Parts[p].Elems {
		for _, m := range e.Modes {
			if !slices.Contains(names, m.String()) {
				names = append(names, m.String())
			}
		}
	}
	return names
}

func (b *building) minutes(v value) {
	f := b.keys(v, "minutes", minuteKeys...)
	for _, m := range f.got {
		if m.shape == absent {
			continue
		}
		x, ok := b.quantity(m.value, m.key, minutes, false, m.key+": 1.5 min")
		if ok {
			if b.u.Minutes == nil {
				b.u.Minutes = make(map[string]quantity.Minutes)
			}
			b.u.Minutes[m.key] = quantity.Minutes(x)
		}
	}
}

// partNamed finds a part by its tag, with a complaint if there is none.
func (b *building) partNamed(tag string, at spot) (PartID, bool) {
	var tags []string
	for i, p := range b.u.Parts {
		if p.Tag == tag {
			return PartID(i), true
		}
		tags = append(tags, p.Tag)
	}
	write := b.oneOf(tag, tags)
	if nearest(tag, tags) == "" {
		write = "the tag of a part of this file, or add " + tag + " under parts"
	}
	b.complain(at, write, "there is no part %q", tag)
	return None, false
}
