package circuit

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/flows/quantity"
)

// Lint looks at a unit as an electrician would, once Parse found every line right by
// itself: ratings that do not belong together, loads that are never fed or fed with
// other volts than they are made for, legs joined in some switch position, contactors
// that do not come to rest, limits that stop nothing, and what a person on site needs
// to find his way. Problems are sorted by place and written like those of Parse.
//
// Every position that a part can take is tried, all together where there are few, else
// one and two at a time from rest and from use. A file marked partial is not asked for
// what it may leave out, one marked skeleton not for names and places either.
func Lint(n *Network) []Problem {
	c := &linter{reader: &reader{file: n.unit.File}, n: n, u: n.unit, lines: LinesOf(n.unit)}
	c.ratings()
	c.names()
	c.sweep = newSweep(n.unit)
	c.shorts()
	c.restless()
	if len(c.sweep.joined) == 0 && len(c.sweep.restless) == 0 { // else few states are left to judge by
		c.volts()
		c.amps()
		c.idle()
		c.limits()
		c.moves()
	}
	slices.SortStableFunc(c.problems, func(x, y Problem) int {
		return cmp.Or(cmp.Compare(x.Line, y.Line), cmp.Compare(x.Col, y.Col))
	})
	return slices.Compact(c.problems)
}

// linter collects what is wrong with the physics of a unit.
type linter struct {
	*reader
	n     *Network
	u     *Unit
	lines *Lines
	sweep *sweep
	dark  bool // a part that is never energised was named: others may be so because of it
	named Bits // limits that were named already
}

// Limits of what belongs together. Common practice, no source, but for PullIn.
const (
	overVolts  = 1.10 // of the rating: IEC 60947-4-1 cl. 8.2.1.2 (coils), from memory
	underVolts = 0.80 // 240 V parts on 208 V, 87 %, are common
	overPlate  = 1.10 // of the amperes on the plate
	underPlate = 0.70
	deadVolts  = 0.05 // of the rating: not energised
	faintAmps  = 1e-3 // a wire that carries less leads nowhere
)

func (c *linter) hasCoil(p PartID) bool {
	return slices.ContainsFunc(c.u.Parts[p].Elems, func(e Elem) bool { return e.Coil })
}

// isTransformer reports whether the windings of a kind of part are coupled: the rated
// volts of the part are then those of the first.
func isTransformer(k Kind) bool { return strings.HasSuffix(string(k), "transformer") }

// rated returns the element that the rated volts of a part stand for: its coil, the
// first winding of a motor or transformer, its only resistance; None if there is none.
func rated(p *Part) int {
	first, count := None, 0
	for i, e := range p.Elems {
		switch {
		case e.Coil:
			return i
		case e.Role != Resist || e.Name == "capacitor":
			continue
		case first == None:
			first = i
		}
		count++
	}
	if p.Volts == 0 || count > 1 && p.Kind != KindMotor && !isTransformer(p.Kind) {
		return None
	}
	return first
}

func shown(x float64) string { return quantity.DecimalOf(x, 3).String() }

func listed(all []string) string {
	switch n := len(all); n {
	case 0:
		return ""
	case 1:
		return all[0]
	default:
		return strings.Join(all[:n-1], ", ") + " and " + all[n-1]
	}
}

// setting says in words how a state differs from rest: "with S1 on and TH1 hot".
func (c *linter) setting(s State, in Bits) string {
	var all []string
	for p, part := range c.u.Parts {
		switch at := s.Position(c.u, PartID(p)); {
		case in.Has(p):
			all = append(all, part.Tag+" in")
		case len(part.Positions) > 0 && at != part.Rest && at < len(part.Positions):
			all = append(all, part.Tag+" "+part.Positions[at])
		}
	}
	if all == nil {
		return "with everything at rest"
	}
	return "with " + listed(all)
}

// ratings compares what the file says of one part with itself.
func (c *linter) ratings() {
	for i := range c.u.Parts {
		p := &c.u.Parts[i]
		at := rated(p)
		if at == None {
			continue
		}
		e := &p.Elems[at]
		ohm := e.Ohms.Nominal
		place := func() spot {
			for k, g := range c.u.Good {
				if g.A == e.A && g.B == e.B || g.A == e.B && g.B == e.A {
					return c.lines.good(k)
				}
			}
			for _, key := range []string{"ohms", "run ohms"} {
				if text, at := c.lines.of(PartID(i), key); text != "" {
					return at
				}
			}
			return c.lines.part(PartID(i))
		}
		if e.Coil {
			if p.Volts == 0 {
				continue
			}
			if s := coilSpread(p.Volts, p.Kind == KindRelay); ohm < s.Lo/2 || ohm > s.Hi*2 {
				c.complain(place(), "its real ohms, or the volts printed on the coil",
					"%s Ω for a coil of %s V: such coils have %s to %s Ω", shown(float64(ohm)), shown(float64(p.Volts)),
					shown(float64(s.Lo)), shown(float64(s.Hi)))
			}
			continue
		}
		if p.Watts == 0 {
			continue
		}
		by := p.Volts * p.Volts / quantity.Volts(p.Watts) // V²/P
		says := fmt.Sprintf("%s V and %s W", shown(float64(p.Volts)), shown(float64(p.Watts)))
		switch p.Kind {
		case KindElement:
			if float64(by) < 0.91*float64(e.Ohms.Lo) || float64(by) > 1.1*float64(e.Ohms.Hi) {
				c.complain(place(), "ohms, volts and watts that belong together",
					"%s Ω do not belong to %s, which is %s Ω", shown(float64(ohm)), says, shown(float64(by)))
			}
		case KindLamp: // a filament is about a twelfth when cold
			if r := float64(by) / float64(ohm); r < 4 || r > 25 {
				c.complain(place(), "ohms as read on a cold lamp, and its volts and watts",
					"%s Ω cold do not belong to a lamp of %s, which is %s Ω hot and about a twelfth of that cold", shown(float64(ohm)), says, shown(float64(by)))
			}
		case KindMotor:
			if float64(ohm) > float64(by) {
				c.complain(place(), "ohms, volts and watts that belong together",
					"a winding of %s Ω cannot draw %s", shown(float64(ohm)), says)
			}
		}
	}
}

// names looks for what a person in front of the unit needs: covers and looks.
func (c *linter) names() {
	if c.u.Skeleton {
		return
	}
	for i, cover := range c.u.Covers {
		if len(cover.Hides) == 0 {
			c.complain(c.lines.cover(i), "hides: and the parts behind it, or leave it out", "cover %s hides nothing", cover.Name)
		}
	}
	if len(c.u.Covers) == 0 {
		c.complain(c.lines.b.key("parts"), "covers: {left panel: {off: 3 min, on: 3 min, hides: [X1, K1]}}", "no cover is named, so every terminal would be in reach")
	}
	if len(c.u.Hazards) == 0 && slices.ContainsFunc(c.u.Parts, func(p Part) bool { return p.Kind == KindElement || p.Kind == KindMotor }) {
		c.complain(c.lines.b.key("hazards"), "hazards: [hot surfaces, ...]", "no hazard is known of a unit that heats or moves")
	}
	for i := range c.u.Parts {
		p := &c.u.Parts[i]
		at := c.lines.part(PartID(i))
		if len(c.u.Covers) > 0 && p.Cover == None && !openToHands(p.Kind) {
			c.complain(at, p.Tag+" among what a cover hides", "%s %s is behind no cover", p.Kind, p.Tag)
		}
		if p.Looks == "" {
			c.complain(at, "looks like: and what a person sees, such as grey block with two silver screws", "it is not said what %s %s looks like", p.Kind, p.Tag)
			continue
		}
		for _, o := range c.u.Parts[:i] {
			if o.Looks == p.Looks && o.At == p.At && o.Cover == p.Cover {
				c.complain(at, "at: or looks like: by which they can be told apart", "%s looks like %s and is at the same place", p.Tag, o.Tag)
				break
			}
		}
	}
	for i := range c.u.Terms {
		t := &c.u.Terms[i]
		if p := &c.u.Parts[t.Part]; p.Kind == KindTerminal && !c.u.Partial && !c.used(TermID(i)) {
			c.complain(c.lines.part(t.Part), "its wires, or leave the point out", "nothing lands on %s", c.u.TermName(TermID(i)))
		}
	}
}

// openToHands lists the kinds of part that are in reach without a cover off.
func openToHands(k Kind) bool {
	return k == KindLamp || k == KindDoor || strings.HasPrefix(string(k), "plug")
}

// used reports whether a wire, a leg or a bond is on a terminal.
func (c *linter) used(t TermID) bool {
	for _, e := range c.u.Parts[c.u.Terms[t].Part].Elems {
		if e.Role == Bond && (e.A == t || e.B == t) {
			return true
		}
	}
	for _, s := range c.u.Sources {
		if slices.ContainsFunc(s.Feeds, func(f Feed) bool { return f.Term == t }) {
			return true
		}
	}
	return len(c.u.Terms[t].Ends) > 0
}

// shorts complains of conductors of the supply that closed contacts join.
func (c *linter) shorts() {
	for _, j := range c.sweep.joined {
		s, in := j.state, j.in
		for p := range c.u.Parts { // what makes no difference need not be named
			id := PartID(p)
			less, fewer := s.Move(c.u, id, c.u.Parts[p].Rest), in.Without(p)
			if (less != s || fewer != in) && c.sweep.joins(less, fewer, j.a, j.b) {
				s, in = less, fewer
			}
		}
		at := c.lines.feed(j.a.source, j.a.feed)
		for p := range c.u.Parts {
			if in.Has(p) || s.At.Of(PartID(p), c.u.Parts[p].Rest) != c.u.Parts[p].Rest {
				at = c.lines.part(PartID(p))
				break
			}
		}
		c.complain(at, "the wires as they really run, or in which positions the contacts are closed",
			"closed contacts join %s and %s %s", c.legName(j.a), c.legName(j.b), c.setting(s, in))
	}
}

func (c *linter) legName(f feedID) string {
	src := &c.u.Sources[f.source]
	if len(c.u.Sources) > 1 && src.Feeds[f.feed].Leg != "PE" {
		return src.Name + " " + src.Feeds[f.feed].Leg
	}
	return src.Feeds[f.feed].Leg
}

// restless complains of contactors that buzz or race.
func (c *linter) restless() {
	named := Bits("")
	for _, r := range c.sweep.restless {
		var who []string
		first := PartID(None)
		for _, p := range r.parts.Each() {
			who = append(who, c.u.Parts[p].Tag)
			if first == None {
				first = PartID(p)
			}
		}
		if first == None || named.Has(int(first)) {
			continue
		}
		named = named.With(int(first))
		at := c.lines.part(first)
		if r.races {
			c.complain(at, "an interlock that lets only one pull in", "which of %s pulls in depends on which is faster, %s", listed(who), c.setting(r.state, ""))
			continue
		}
		c.complain(at, "the wires of its coil as they really run, or at which position its contacts are closed",
			"%s drops out and pulls in again without end, %s", listed(who), c.setting(r.state, ""))
	}
}

// volts compares what reaches each load with what it is made for: coils first, since
// what hangs on a contactor that does not pull in is never energised because of that.
func (c *linter) volts() {
	if c.sweep.good == 0 {
		return
	}
	for _, coils := range []bool{true, false} {
		before := len(c.problems)
		for i := range c.u.Parts {
			if c.hasCoil(PartID(i)) == coils {
				c.fed(PartID(i))
			}
		}
		if coils && len(c.problems) > before {
			c.dark = true
			return
		}
	}
}

// fed looks at the volts of one part.
func (c *linter) fed(id PartID) {
	p := &c.u.Parts[id]
	peaks := c.sweep.volts[id]
	for k := range p.Elems {
		e := &p.Elems[k]
		switch {
		case e.Role != Resist || e.Name == "capacitor" || !c.wiredAtBoth(e) || c.u.Partial:
		case p.Volts == 0 && p.Kind != KindElement:
		case float64(peaks[k].most) < asleep(p):
			c.dark = true
			c.complain(c.lines.part(id), "the wires that feed it, or in which positions the contacts are closed",
				"%s %s is never energised in any position", p.Kind, elemName(p, k))
		}
	}
	k := rated(p)
	if k == None || p.Volts == 0 || !c.wiredAtBoth(&p.Elems[k]) {
		return
	}
	most, v := float64(peaks[k].most), float64(p.Volts)
	if most < asleep(p) {
		return
	}
	key := "volts"
	switch {
	case p.Elems[k].Coil:
		key = "coil"
	case isTransformer(p.Kind):
		key = "primary"
	}
	_, at := c.lines.of(id, key)
	floating := ""
	if c.floats(p, &p.Elems[k]) {
		floating = "; neither end leads to the neutral"
	}
	write := "its wires as they really run, or its real volts"
	switch {
	case most > overVolts*v:
		c.complain(at, write, "%s %s is made for %s V but gets %s V %s%s", p.Kind, p.Tag, shown(v), shown(most), c.setting(peaks[k].state, ""), floating)
	case p.Elems[k].Coil && most < PullIn*v:
		c.complain(at, write, "the coil of %s %s is made for %s V but gets %s V at most: it does not pull in%s", p.Kind, p.Tag, shown(v), shown(most), floating)
	case most < underVolts*v:
		c.complain(at, write, "%s %s is made for %s V but gets %s V at most%s", p.Kind, p.Tag, shown(v), shown(most), floating)
	}
}

// asleep is the volts below which a part counts as not energised.
func asleep(p *Part) float64 {
	if isTransformer(p.Kind) { // its rated volts are those of its primary only
		return 0.5
	}
	return math.Max(deadVolts*float64(p.Volts), 0.5)
}

func elemName(p *Part, k int) string {
	if p.Elems[k].Name == "" {
		return p.Tag
	}
	return p.Tag + " (" + p.Elems[k].Name + ")"
}

func (c *linter) wiredAtBoth(e *Elem) bool { return c.used(e.A) && (e.B == None || c.used(e.B)) }

// floats reports whether a load made for leg to neutral has no end that leads to one.
func (c *linter) floats(p *Part, e *Elem) bool {
	made := false
	var neutral []Node
	for _, s := range c.u.Sources {
		made = made || about(p.Volts, s.LegToNeutral) && !about(p.Volts, s.LegToLeg)
		for _, f := range s.Feeds {
			if f.Leg == "N" {
				neutral = append(neutral, Node(f.Term))
			}
		}
	}
	if !made || neutral == nil {
		return false
	}
	got := c.n.flood(neutral, func(d *edge) bool {
		return d.kind == jointEdge || d.kind == elemEdge && c.n.elem(d).Role != Resist
	})
	return !slices.Contains(got, Node(e.A)) && !slices.Contains(got, Node(e.B))
}

// amps compares the load with the nameplate, the breaker and the fuses.
func (c *linter) amps() {
	w := c.sweep
	if w.good == 0 {
		return
	}
	heaviest := quantity.Amps(0)
	for i, s := range c.u.Sources {
		for l, leg := range s.Legs {
			if leg == "N" || leg == "PE" {
				continue
			}
			most := w.legs[i][l]
			heaviest = max(heaviest, most.most)
			if s.Breaker.Amps > 0 && most.most > s.Breaker.Amps {
				c.complain(c.lines.b.sourceSpot(i, "breaker"), "the breaker and the watts as they really are",
					"%s draws %s A %s, more than the breaker of %s A", leg, shown(float64(most.most)), c.setting(most.state, ""), shown(float64(s.Breaker.Amps)))
				break
			}
		}
	}
	if plate := c.u.Plate.Amps; plate > 0 && heaviest > 0 {
		at := c.lines.plate("amps")
		switch {
		case float64(heaviest) > overPlate*float64(plate):
			c.complain(at, "the amperes of the plate, and the watts of each load as they are", "the loads draw %s A, the nameplate says %s A", shown(float64(heaviest)), shown(float64(plate)))
		case float64(heaviest) < underPlate*float64(plate) && !c.u.Partial && !c.dark && len(c.u.Sources) == 1:
			c.complain(at, "the amperes of the plate, the loads that are missing, or partial: yes", "the loads draw %s A at most, the nameplate says %s A", shown(float64(heaviest)), shown(float64(plate)))
		}
	}
	for i := range c.u.Parts {
		if p := &c.u.Parts[i]; isTransformer(p.Kind) && p.Watts > 0 {
			for k := range p.Elems {
				va := float64(w.volts[i][k].most) * float64(w.amps[i][k].most)
				if strings.HasPrefix(p.Elems[k].Name, "secondary") && va > overPlate*float64(p.Watts) {
					_, at := c.lines.of(PartID(i), "va")
					c.complain(at, "its real VA, and the loads it really feeds", "%s %s of %s VA feeds %s VA %s", p.Kind, p.Tag, shown(float64(p.Watts)), shown(va), c.setting(w.amps[i][k].state, ""))
				}
			}
		}
		if c.u.Parts[i].Kind != KindFuse {
			continue
		}
		text, at := c.lines.of(PartID(i), "amps")
		rating, why := readQuantity(text, amps, true)
		if most := w.amps[i][0]; why == "" && float64(most.most) > rating {
			c.complain(at, "the fuse and the watts as they really are", "fuse %s of %s A carries %s A %s", c.u.Parts[i].Tag, shown(rating), shown(float64(most.most)), c.setting(most.state, ""))
		}
	}
}

// idle complains of legs and wires in which no current ever runs.
func (c *linter) idle() {
	w := c.sweep
	if w.good == 0 || c.u.Partial || c.dark {
		return
	}
	for i, s := range c.u.Sources {
		for k, f := range s.Feeds {
			l := slices.Index(s.Legs, f.Leg)
			if l < 0 || f.Leg == "PE" || f.Leg == "N" && s.live() > 2 {
				continue // the neutral of three equal loads carries nothing
			}
			if w.legs[i][l].most < faintAmps {
				c.dark = true
				c.complain(c.lines.feed(i, k), "the loads on it, or the legs that are really brought", "%s carries no current in any position", f.Leg)
			}
		}
	}
	if c.dark {
		return
	}
	for i := range c.u.Wires {
		if wire := &c.u.Wires[i]; !wire.Fixed && w.wires[i] < faintAmps {
			c.complain(c.lines.wire(WireID(i)), "where it really goes, or what is missing behind it",
				"no current runs in the wire %s - %s in any position: it leads nowhere", c.u.TermName(wire.Ends[0]), c.u.TermName(wire.Ends[1]))
		}
	}
}

// limits complains of high limits that leave the heat on.
func (c *linter) limits() {
	on := inUse(c.u)
	before, ok := c.sweep.at(on)
	if !ok || c.dark {
		return
	}
	all := on
	var limits []string
	heats := slices.ContainsFunc(c.u.Parts, func(p Part) bool { return p.Kind == KindElement })
	for i := range c.u.Parts {
		p := &c.u.Parts[i]
		if p.Kind != KindLimit || len(p.Positions) < 2 {
			continue
		}
		limits = append(limits, p.Tag)
		tripped := 1 - min(p.Rest, 1)
		all = all.Move(c.u, PartID(i), tripped)
		after, ok := c.sweep.at(on.Move(c.u, PartID(i), tripped))
		if !ok {
			continue
		}
		stops := false
		for k := range c.u.Parts {
			load := c.u.Parts[k].Kind == KindElement || !heats
			stops = stops || load && before.on(c.u, k) && !after.on(c.u, k)
		}
		if !stops {
			what := "heating element"
			if !heats {
				what = "load"
			}
			c.named = c.named.With(i)
			c.complain(c.lines.part(PartID(i)), "the wires through its contact as they really run", "no %s goes off when high limit %s trips", what, p.Tag)
		}
	}
	after, ok := c.sweep.at(all)
	if limits == nil || !ok {
		return
	}
	for k := range c.u.Parts {
		if p := &c.u.Parts[k]; p.Kind == KindElement && before.on(c.u, k) && after.on(c.u, k) {
			c.complain(c.lines.part(PartID(k)), "the wires as they really run, or the limit that protects it", "element %s stays on with %s tripped", p.Tag, listed(limits))
		}
	}
}

// moves complains of switches, limits and the like that make no difference.
func (c *linter) moves() {
	if c.u.Partial || c.dark {
		return
	}
	for i := range c.u.Parts {
		p, id := &c.u.Parts[i], PartID(i)
		if len(p.Positions) < 2 || c.hasCoil(id) || c.named.Has(i) {
			continue
		}
		for a := range p.Positions {
			for b := a + 1; b < len(p.Positions); b++ {
				if !c.sweep.same(id, a, b) {
					continue
				}
				c.complain(c.lines.part(id), "the wires of its contacts as they really run, or in which positions they are closed",
					"%s %s does the same %s as %s: no load tells the difference", p.Kind, p.Tag, p.Positions[a], p.Positions[b])
			}
		}
	}
}
