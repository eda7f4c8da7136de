package circuit

import (
	"slices"
	"strings"

	"halfsplit/flows/quantity"
)

// checkCircuit looks at the circuit as a whole. It is called when every line of the
// file is right by itself. A partial file may leave parts unwired.
func (b *building) checkCircuit() {
	b.checkPlate()
	b.checkJoined()
	b.checkGround()
	if !b.u.Partial {
		b.checkWired()
		b.checkFeeds()
	}
	b.checkLoads()
}

// at is the place of a top key.
func (b *building) key(name string) spot {
	for _, f := range b.root.got {
		if f.key == name {
			return f.spot
		}
	}
	return spot{line: 1, col: 1}
}

// live counts the live legs of a source.
func (s Source) live() int {
	n := 0
	for _, leg := range s.Legs {
		if leg[0] == 'L' {
			n++
		}
	}
	return n
}

// pairVolts are the voltages that a source gives between two of its conductors.
func (s Source) pairVolts() []quantity.Volts {
	var all []quantity.Volts
	if s.live() > 1 {
		all = append(all, s.LegToLeg)
	}
	if slices.Contains(s.Legs, "N") {
		all = append(all, s.LegToNeutral)
	}
	return all
}

// about says whether a rating is made for a supply voltage: within -20 and +25 %, so
// that 240 V parts on 208 V pass.
func about(rated, supplied quantity.Volts) bool {
	return supplied > 0 && rated >= 0.8*supplied && rated <= 1.25*supplied
}

func (b *building) checkPlate() {
	plate := b.u.Plate
	neutral, ground, most := false, false, 0
	fits := false
	for i, s := range b.u.Sources {
		neutral = neutral || slices.Contains(s.Legs, "N")
		ground = ground || slices.Contains(s.Legs, "PE")
		most = max(most, s.live())
		fits = fits || slices.ContainsFunc(s.pairVolts(), func(v quantity.Volts) bool { return about(plate.Volts, v) })
		if s.Breaker.Poles > 0 && s.Breaker.Poles < s.live() {
			b.complain(b.sourceSpot(i, "breaker"), "as many poles as live legs, as in breaker: 2 x 20 A",
				"a breaker of %d poles for %d live legs", s.Breaker.Poles, s.live())
		}
	}
	at := b.key("nameplate")
	switch {
	case plate.Neutral && !neutral:
		b.complain(at, "N among the legs of a source, or neutral: no", "the nameplate has a neutral, but no source brings one")
	case !plate.Neutral && neutral:
		b.complain(at, "neutral: yes, or the legs without N", "a source brings a neutral, but the nameplate has none")
	}
	if plate.Phases == 3 && most < 3 {
		b.complain(at, "legs: [L1, L2, L3, ...], or phases: 1", "the nameplate has three phases, but no source brings three legs")
	}
	if plate.Phases == 1 && most > 2 {
		b.complain(at, "phases: 3, or two legs at most", "the nameplate has one phase, but a source brings three legs")
	}
	if !fits {
		b.complain(at, "the volts of the plate and the system that feeds it", "no source gives the %g V of the nameplate", float64(plate.Volts))
	}
	if !ground {
		b.complain(b.key("sources"), "PE among the legs of the source that brings it", "no source brings PE")
	}
}

// sourceSpot is the place of a key of source i, or of the source.
func (b *building) sourceSpot(i int, key string) spot {
	v, _ := b.root.get("sources")
	if i >= len(v.fields) {
		return v.spot
	}
	for _, f := range v.fields[i].fields {
		if f.key == key {
			return f.value.spot
		}
	}
	return v.fields[i].spot
}

// islands joins terminals into groups and remembers which conductor each group is.
type islands struct {
	up      []int
	names   []string // by root: the conductor, "" if none
	clashes [][2]string
}

func (s *islands) root(i int) int {
	for s.up[i] != i {
		s.up[i] = s.up[s.up[i]]
		i = s.up[i]
	}
	return i
}

// join makes one group of two. It returns the two conductors, in the order of their
// names, if they differ for the first time; the group then keeps the first.
func (s *islands) join(i, j int) (x, y string, clash bool) {
	i, j = s.root(i), s.root(j)
	if i == j {
		return "", "", false
	}
	x, y = s.names[i], s.names[j]
	s.up[j] = i
	if x == "" {
		s.names[i] = y
	}
	x, y = min(x, y), max(x, y)
	if x == "" || x == y || slices.Contains(s.clashes, [2]string{x, y}) {
		return "", "", false
	}
	s.clashes = append(s.clashes, [2]string{x, y})
	return x, y, true
}

// checkJoined complains of wires that join two conductors of the supply.
func (b *building) checkJoined() {
	s := islands{up: make([]int, len(b.u.Terms)), names: make([]string, len(b.u.Terms))}
	for i := range s.up {
		s.up[i] = i
	}
	for i, src := range b.u.Sources {
		for j, f := range src.Feeds {
			name := f.Leg
			if name != "PE" && len(b.u.Sources) > 1 {
				name = src.Name + " " + name
			}
			root := s.root(int(f.Term))
			if was := s.names[root]; was != "" && was != name {
				b.complain(b.feedSpots[i][j], "another terminal", "%s and %s land on the same terminal %s", was, name, b.u.TermName(f.Term))
			}
			s.names[root] = name
		}
	}
	for _, p := range b.u.Parts {
		if p.Kind == KindGround && s.names[p.Terms[0]] == "" {
			s.names[p.Terms[0]] = "PE"
		}
	}
	for i, p := range b.u.Parts {
		for _, e := range p.Elems {
			if e.Role != Bond || e.B == None {
				continue
			}
			if x, y, clash := s.join(int(e.A), int(e.B)); clash {
				b.complain(b.partSpots[i], "the points that are really joined", "%s of %s joins %s and %s", e.Name, p.Tag, x, y)
			}
		}
	}
	for i, w := range b.u.Wires {
		if x, y, clash := s.join(int(w.Ends[0]), int(w.Ends[1])); clash {
			b.complain(b.wireSpots[i], "the terminals it really runs between", "this wire joins %s and %s", x, y)
		}
	}
}

// checkGround complains if there are ground studs but PE does not reach one.
func (b *building) checkGround() {
	stud := func(t TermID) bool { return b.u.Parts[b.u.Terms[t].Part].Kind == KindGround }
	if !slices.ContainsFunc(b.u.Parts, func(p Part) bool { return p.Kind == KindGround }) || b.u.Partial {
		return
	}
	for i, s := range b.u.Sources {
		for j, f := range s.Feeds {
			if f.Leg != "PE" {
				continue
			}
			if got := b.reach(f.Term, nil, func(e Elem) bool { return e.Role == Bond && e.B != None }); !slices.ContainsFunc(got, stud) {
				b.complain(b.feedSpots[i][j], "a wire from "+b.u.TermName(f.Term)+" to the ground stud, green ?",
					"PE lands on %s, but no wire leads from there to a ground stud", b.u.TermName(f.Term))
			}
		}
	}
}

// reach returns the terminals that can be reached from t through wires and through the
// elements that pass, except the one skipped.
func (b *building) reach(t TermID, skip *Elem, pass func(Elem) bool) []TermID {
	seen := make([]bool, len(b.u.Terms))
	seen[t] = true
	todo := []TermID{t}
	for i := 0; i < len(todo); i++ {
		at := b.u.Terms[todo[i]]
		add := func(o TermID) {
			if o != None && !seen[o] {
				seen[o] = true
				todo = append(todo, o)
			}
		}
		for _, end := range at.Ends {
			w, side := end.Wire()
			add(b.u.Wires[w].Ends[1-side])
		}
		elems := b.u.Parts[at.Part].Elems
		for k := range elems {
			e := &elems[k]
			if e == skip || !pass(*e) {
				continue
			}
			if e.A == todo[i] {
				add(e.B)
			}
			if e.B == todo[i] {
				add(e.A)
			}
		}
	}
	return todo
}

// wired says whether a wire or a leg lands on terminal t.
func (b *building) wired(t TermID) bool {
	if len(b.u.Terms[t].Ends) > 0 {
		return true
	}
	for _, s := range b.u.Sources {
		for _, f := range s.Feeds {
			if f.Term == t {
				return true
			}
		}
	}
	return false
}

// checkWired complains of parts, coils and contacts that no wire or only one reaches.
func (b *building) checkWired() {
	for i, p := range b.u.Parts {
		var bare []string
		for _, t := range p.Terms {
			if !b.wired(t) {
				bare = append(bare, p.Tag+":"+b.u.Terms[t].Name)
			}
		}
		at := b.partSpots[i]
		if p.Kind == KindGround && len(b.problems) > 0 {
			continue // the wire that is missing was named already
		}
		if len(bare) == len(p.Terms) {
			b.complain(at, "its wires, or partial: yes", "no wire lands on %s %s", p.Kind, p.Tag)
			continue
		}
		closes := false
		for _, e := range p.Elems {
			if e.Role == Bond {
				continue
			}
			x, y := b.wired(e.A), b.wired(e.B)
			closes = closes || e.Role == Contact && x && y
			missing := e.A
			if x {
				missing = e.B
			}
			switch {
			case x && y, b.otherElem(p, e, missing):
			case e.Turns != 0 && b.tapped(p, e):
			case e.Role == Resist && e.Coil:
				b.complain(at, "the wires of its coil A1 and A2, or partial: yes", "no wire lands on %s: the coil of %s is not wired", b.u.TermName(missing), p.Tag)
			case e.Role == Resist, x, y:
				b.complain(at, "its wire, or partial: yes", "no wire lands on %s", b.u.TermName(missing))
			}
		}
		hasContact := slices.ContainsFunc(p.Elems, func(e Elem) bool { return e.Role == Contact })
		if hasContact && !closes && len(b.problems) == 0 {
			b.complain(at, "the wires of the contacts that are used, or partial: yes", "no contact of %s %s is wired on both sides", p.Kind, p.Tag)
		}
	}
}

// otherElem says whether another element of the part reaches terminal t, or makes use
// of the far side of e: one side of a change-over contact may be left free.
func (b *building) otherElem(p Part, e Elem, t TermID) bool {
	far := e.A
	if far == t {
		far = e.B
	}
	for _, o := range p.Elems {
		if o.A == e.A && o.B == e.B {
			continue
		}
		if o.A == t || o.B == t {
			return true
		}
		if e.Role == Contact && (o.A == far && b.wired(o.B) || o.B == far && b.wired(o.A)) {
			return true
		}
	}
	return false
}

// tapped says whether the side of a transformer that winding e belongs to is wired at
// two of its terminals, as a primary is of which not all taps are used.
func (b *building) tapped(p Part, e Elem) bool {
	n := 0
	for _, t := range p.Terms {
		if b.u.Terms[t].Name[0] == b.u.Terms[e.A].Name[0] && b.wired(t) {
			n++
		}
	}
	return n >= 2
}

// checkFeeds complains of live legs and neutrals from which nothing leads on.
func (b *building) checkFeeds() {
	for i, s := range b.u.Sources {
		for j, f := range s.Feeds {
			term := b.u.Terms[f.Term]
			if f.Leg != "PE" && len(term.Ends) == 0 && b.u.Parts[term.Part].Kind == KindTerminal {
				b.complain(b.feedSpots[i][j], "the wires that leave it, or partial: yes", "%s lands on %s, but no wire leaves it",
					f.Leg, b.u.TermName(f.Term))
			}
		}
	}
}

// conductors names what can be reached from t without passing a load.
func (b *building) conductors(t TermID, pass func(Elem) bool, skip *Elem) []Feed {
	var all []Feed
	got := b.reach(t, skip, pass)
	for _, s := range b.u.Sources {
		for _, f := range s.Feeds {
			if f.Leg != "PE" && slices.Contains(got, f.Term) {
				all = append(all, f)
			}
		}
	}
	for _, p := range b.u.Parts {
		for k := range p.Elems {
			e := &p.Elems[k]
			if e.Turns == 0 || b.primary(*e) {
				continue
			}
			for _, x := range []TermID{e.A, e.B} {
				if e != skip && slices.Contains(got, x) {
					all = append(all, Feed{Leg: b.u.TermName(x), Term: x})
				}
			}
		}
	}
	return all
}

// primary says whether a winding is on the side that the supply feeds.
func (b *building) primary(e Elem) bool { return b.u.Terms[e.A].Name[0] == 'H' }

// checkLoads complains of loads that cannot be energised as rated.
func (b *building) checkLoads() {
	for i, p := range b.u.Parts {
		at := b.partSpots[i]
		b.checkRating(p, at)
		for k := range p.Elems {
			e := &p.Elems[k]
			if e.Name == "capacitor" && !slices.ContainsFunc(b.u.Hazards, func(h string) bool { return strings.Contains(h, "capacitor") }) {
				b.complain(b.key("hazards"), "capacitor among the hazards, and how long it takes to discharge", "motor %s has a capacitor, but the hazards do not say so", p.Tag)
			}
			if e.Role != Resist || !b.wired(e.A) || !b.wired(e.B) || e.Turns != 0 && !b.primary(*e) {
				continue
			}
			x, y := b.conductors(e.A, through, e), b.conductors(e.B, through, e)
			if len(x) == 1 && len(y) == 1 {
				b.checkAcross(p, *e, x[0], y[0], at)
				continue
			}
			if b.u.Partial {
				continue
			}
			for _, t := range []TermID{e.A, e.B} {
				if len(b.conductors(t, func(e Elem) bool { return e.B != None }, e)) == 0 {
					b.complain(at, "the wires that feed it, or partial: yes", "%s leads to no leg and no neutral", b.u.TermName(t))
				}
			}
		}
	}
}

// checkAcross looks at a load whose ends lead to one conductor each.
func (b *building) checkAcross(p Part, e Elem, x, y Feed, at spot) {
	if x == y {
		b.complain(at, "the wires as they really run", "both ends of %s lead to %s only: it is never energised", p.Tag, x.Leg)
		return
	}
	for _, s := range b.u.Sources {
		if !slices.Contains(s.Feeds, x) || !slices.Contains(s.Feeds, y) {
			continue
		}
		v := s.LegToLeg
		if x.Leg == "N" || y.Leg == "N" {
			v = s.LegToNeutral
		}
		if p.Volts > 0 && v > 1.25*p.Volts {
			b.complain(at, "the wires as they really run, or its real volts", "%s is rated %g V but wired between %s and %s, %g V",
				p.Tag, float64(p.Volts), x.Leg, y.Leg, float64(v))
		}
	}
	for _, v := range b.secondaries(x.Term, y.Term) {
		if p.Volts > 0 && v > 1.25*p.Volts {
			b.complain(at, "the wires as they really run, or its real volts", "%s is rated %g V but wired between %s and %s, %.0f V",
				p.Tag, float64(p.Volts), x.Leg, y.Leg, float64(v))
		}
	}
}

// secondaries are the volts of the transformers whose secondary lies between x and y;
// None stands for any terminal.
func (b *building) secondaries(x, y TermID) []quantity.Volts {
	var all []quantity.Volts
	for _, p := range b.u.Parts {
		for _, e := range p.Elems {
			if e.Turns == 0 || b.primary(e) {
				continue
			}
			if x == None || e.A == x && e.B == y || e.A == y && e.B == x {
				all = append(all, e.Turns)
			}
		}
	}
	return all
}

// checkRating complains of a load made for leg to neutral where no neutral is brought.
func (b *building) checkRating(p Part, at spot) {
	if p.Volts == 0 {
		return
	}
	if slices.ContainsFunc(b.secondaries(None, None), func(v quantity.Volts) bool { return about(p.Volts, v) }) {
		return
	}
	var miss *Source
	for i := range b.u.Sources {
		s := &b.u.Sources[i]
		if slices.ContainsFunc(s.pairVolts(), func(v quantity.Volts) bool { return about(p.Volts, v) }) {
			return
		}
		if about(p.Volts, s.LegToNeutral) && !slices.Contains(s.Legs, "N") && !strings.HasSuffix(s.System, "delta") {
			miss = s
		}
	}
	if miss != nil && !b.inStar(p) {
		b.complain(at, "N among the legs of source "+miss.Name+", or its real volts",
			"%s is rated %g V, which is leg to neutral here, but no source brings a neutral", p.Tag, float64(p.Volts))
	}
}

// inStar says whether a load is one of three or more that meet in a point that no
// conductor reaches: then each has the volts of leg to neutral without a neutral.
func (b *building) inStar(p Part) bool {
	for k := range p.Elems {
		e := &p.Elems[k]
		if e.Role != Resist {
			continue
		}
		for _, t := range []TermID{e.A, e.B} {
			got := b.reach(t, e, through)
			meet := 0
			for _, o := range b.u.Parts {
				for i := range o.Elems {
					if x := &o.Elems[i]; x != e && x.Role == Resist && (slices.Contains(got, x.A) || slices.Contains(got, x.B)) {
						meet++
					}
				}
			}
			if meet >= 2 && len(b.conductors(t, through, e)) == 0 {
				return true
			}
		}
	}
	return false
}

// through passes what is no load.
func through(e Elem) bool { return e.Role != Resist && e.B != None }
