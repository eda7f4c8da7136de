// Package unitgen invents unit files for tests and rehearsals: appliances of 8 to 40
// parts that hang together as real ones do, on a plug or hard-wired, of one to three
// legs, with and without loads to neutral, with none to three contactors worked from a
// leg, a neutral or a transformer, and wires that run from block to part or from stud to
// stud. They are texts as a person would write them; the format is described in
// testdata/units/README.md.
package unitgen

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
)

// Text returns the text of an invented unit. The same seed always gives the same text.
// Energised with every switch on, doors shut and everything cold it is sound: no
// breaker trips and its contactors come to rest.
func Text(seed uint64) string {
	d := &drawing{rng: rand.New(rand.NewPCG(seed, 0x756e6974)), tags: map[string]int{}, amps: map[string]float64{}}
	d.size = 8 + d.rng.IntN(33)
	d.supply()
	d.entry()
	d.control()
	d.heat()
	d.rest()
	return d.text(seed)
}

// system is a way of feeding a unit.
type system struct {
	name   string
	legs   []string // live ones
	leg    float64  // volts to neutral
	across float64  // volts from leg to leg, 0 with one leg
	plug   bool
	hasN   bool
}

// net is the terminals that wires join, in the order in which they are wired up.
type net struct {
	colour string
	ends   []string
	hub    int // index in ends of where it spreads from: the block behind a cord
}

// cover hides what sits behind it.
type cover struct {
	name  string
	hides []string
}

// drawing is a unit file under construction.
type drawing struct {
	rng  *rand.Rand
	size int // parts wanted
	sys  system

	parts   []string
	nets    []*net
	tags    map[string]int
	covers  []cover
	hazards []string
	amps    map[string]float64 // at most, by leg
	heated  bool

	legs     []*net // as brought in, one for each of sys.legs
	neutral  *net   // nil without
	earth    *net
	hot, ret *net    // of the controls, behind the main switch
	volts    float64 // of the controls
	burden   float64 // volt-amperes that the controls may still take
	ctlLegs  []string
	armed    *net // hot, behind limit and door
}

func (d *drawing) chance(p float64) bool { return d.rng.Float64() < p }

func pick[T any](d *drawing, from ...T) T { return from[d.rng.IntN(len(from))] }

func (d *drawing) newNet(colour string) *net {
	n := &net{colour: colour}
	d.nets = append(d.nets, n)
	return n
}

// part adds a part behind a cover ("" for none) and returns its tag.
func (d *drawing) part(letter, behind, body string, args ...any) string {
	d.tags[letter]++
	tag := fmt.Sprint(letter, d.tags[letter])
	d.parts = append(d.parts, fmt.Sprintf("  %s: {%s, at: %s, looks like: part marked %s}", tag, fmt.Sprintf(body, args...), place(behind), tag))
	if behind != "" {
		i := slices.IndexFunc(d.covers, func(c cover) bool { return c.name == behind })
		if i < 0 {
			i = len(d.covers)
			d.covers = append(d.covers, cover{name: behind})
		}
		d.covers[i].hides = append(d.covers[i].hides, tag)
	}
	return tag
}

func place(behind string) string {
	if behind == "" {
		return "outside"
	}
	return "behind the " + behind
}

func (n *net) join(tag, terminal string) { n.ends = append(n.ends, tag+":"+terminal) }

// between puts a two-terminal part between two nets.
func (d *drawing) between(a, b *net, letter, behind, body string, args ...any) string {
	tag := d.part(letter, behind, body, args...)
	a.join(tag, "1")
	b.join(tag, "2")
	return tag
}

// behind puts a contact behind a net and returns the net on its far side.
func (d *drawing) behind(a *net, letter, cover, body string, args ...any) *net {
	far := d.newNet(a.colour)
	d.between(a, far, letter, cover, body, args...)
	return far
}

const (
	panel   = "left panel"
	front   = "front panel"
	chamber = "chamber floor"
	back    = "back panel"
)

func (d *drawing) supply() {
	d.sys = pick(d,
		system{"120/208 wye", []string{"L1"}, 120, 0, true, true},
		system{"120/208 wye", []string{"L1", "L2"}, 120, 208, true, false},
		system{"120/240 split phase", []string{"L1", "L2"}, 120, 240, true, true},
		system{"120/208 wye", []string{"L1", "L2"}, 120, 208, false, true},
		system{"120/208 wye", []string{"L1", "L2"}, 120, 208, false, false},
		system{"120/240 split phase", []string{"L1", "L2"}, 120, 240, false, true},
		system{"120/208 wye", []string{"L1", "L2", "L3"}, 120, 208, false, true},
		system{"120/208 wye", []string{"L1", "L2", "L3"}, 120, 208, false, false},
		system{"230 single phase", []string{"L1"}, 230, 0, true, true},
	)
	d.hazards = []string{"hot surfaces up to 90 °C"}
}

// entry brings the supply in: a plug, a terminal block, or one behind the other.
func (d *drawing) entry() {
	colours := []string{"black", "red", "blue"}
	for i := range d.sys.legs {
		d.legs = append(d.legs, d.newNet(colours[i]))
	}
	all := slices.Clone(d.legs)
	names := slices.Clone(d.sys.legs)
	if d.sys.hasN {
		d.neutral = d.newNet("white")
		all, names = append(all, d.neutral), append(names, "N")
	}
	d.earth = d.newNet("green")
	all, names = append(all, d.earth), append(names, "PE")
	if d.sys.plug {
		tag := d.part("W", "", "kind: plug and cord, pins: [%s]", strings.Join(names, ", "))
		for i, n := range all {
			n.join(tag, fmt.Sprint(i+1))
		}
	}
	if !d.sys.plug || d.chance(0.6) {
		tag := d.part("X", panel, "kind: terminal block, points: [%s]", strings.Join(names, ", "))
		for i, n := range all {
			n.hub = len(n.ends)
			n.join(tag, names[i])
		}
	}
	d.earth.join(d.part("G", panel, "kind: ground stud"), "1")
}

// control makes the main switch and, at times, a transformer behind it.
func (d *drawing) control() {
	from, to := d.legs[0], d.neutral
	d.ctlLegs, d.volts = []string{"L1"}, d.sys.leg
	if d.neutral == nil || len(d.legs) > 1 && d.chance(0.4) {
		to = d.legs[1]
		d.ctlLegs, d.volts = []string{"L1", "L2"}, d.sys.across
	}
	if d.chance(0.3) {
		from = d.behind(from, "F", panel, "kind: fuse, amps: 10")
	}
	d.hot, d.ret = d.newNet("orange"), to
	if d.chance(0.3) { // both sides
		d.ret = d.newNet("grey")
		tag := d.part("S", front, "kind: switch, poles: 2")
		from.join(tag, "1")
		d.hot.join(tag, "2")
		to.join(tag, "3")
		d.ret.join(tag, "4")
	} else {
		d.between(from, d.hot, "S", front, "kind: switch")
	}
	d.burden = 300
	if d.chance(0.35) {
		d.draw(40/d.volts+0.1, d.ctlLegs...)
		tag := d.part("T", panel, "kind: control transformer, va: 75, primary: %v V, secondary: 24 V", d.volts)
		d.hot.join(tag, "H1")
		d.ret.join(tag, "H2")
		d.hot, d.ret = d.newNet("yellow"), d.newNet("grey")
		d.hot.join(tag, "X1")
		d.ret.join(tag, "X2")
		if d.chance(0.5) {
			d.hot = d.behind(d.hot, "F", panel, "kind: fuse, amps: 3")
		}
		if d.chance(0.5) {
			d.ret.join("G1", "1")
		}
		d.volts, d.burden, d.ctlLegs = 24, 40, nil
	}
	d.armed = d.hot
	d.armed = d.behind(d.armed, "FL", chamber, "kind: high limit, reset: manual, opens at: 110 °C")
	if d.chance(0.4) {
		d.armed = d.behind(d.armed, "SD", "", "kind: door switch")
	}
}

// draw notes the current of a load.
func (d *drawing) draw(amps float64, legs ...string) {
	for _, l := range legs {
		d.amps[l] += amps
	}
}

// room says whether n more parts fit.
func (d *drawing) room(n int) bool { return len(d.parts)+n <= d.size }

// heat makes contactors with elements behind them, or heats through a relay where there
// is little room.
func (d *drawing) heat() {
	for range 1 + d.rng.IntN(3) {
		least := 4
		if len(d.legs) == 3 {
			least = 6
		}
		if d.heated && !d.room(least) {
			return
		}
		d.zone()
		d.heated = true
	}
}

// zone is one contactor, its thermostat, and what it feeds.
func (d *drawing) zone() {
	call := d.armed
	if d.chance(0.8) {
		call = d.behind(call, "TH", front, "kind: thermostat, opens at: 85 °C")
	}
	coil := d.part("K", panel, "kind: contactor, poles: %d, coil: %v V%s", len(d.legs), d.volts, d.coilOhms())
	call.join(coil, "A1")
	d.ret.join(coil, "A2")
	d.burden -= 6
	d.draw(6/d.volts, d.ctlLegs...)
	var out []*net
	for i, leg := range d.legs {
		far := d.newNet(leg.colour)
		leg.join(coil, fmt.Sprint("L", i+1))
		far.join(coil, fmt.Sprint("T", i+1))
		out = append(out, far)
	}
	if d.chance(0.4) && d.room(3) && d.burden > 5 {
		d.pilot(call, d.ret, d.volts, nil)
	}
	switch {
	case len(out) == 3 && d.chance(0.7):
		d.delta(out)
	case len(out) == 3:
		d.wye(out)
	case len(out) == 2:
		for i := range 1 + d.rng.IntN(3) {
			if i == 0 || d.room(2) {
				d.heater(out[0], out[1], d.sys.across, d.sys.legs)
			}
		}
	default:
		for i := range 1 + d.rng.IntN(2) {
			if i == 0 || d.room(2) {
				d.heater(out[0], d.neutral, d.sys.leg, d.sys.legs)
			}
		}
	}
	if d.neutral != nil && d.chance(0.5) && d.room(2) { // work lamps behind the contactor
		i := d.rng.IntN(len(out))
		for range 1 + d.rng.IntN(2) {
			d.lamp(out[i], d.neutral, d.sys.leg, d.sys.legs[i:i+1])
		}
	}
}

// coilOhms gives the coil's resistance in every other file.
func (d *drawing) coilOhms() string {
	if d.chance(0.5) {
		return ""
	}
	middle := map[float64]float64{24: 12, 120: 180, 208: 650, 230: 700, 240: 750}[d.volts]
	return fmt.Sprintf(", ohms: %.0f", middle*(0.8+0.4*d.rng.Float64()))
}

// watts of one element: less on a plug.
func (d *drawing) watts() float64 {
	if d.sys.plug {
		return 150 + 10*float64(d.rng.IntN(15))
	}
	return 400 + 50*float64(d.rng.IntN(20))
}

// heater is one element, at times behind its own thermostat.
func (d *drawing) heater(a, b *net, volts float64, legs []string) {
	w := d.watts()
	d.draw(w/volts, legs...)
	if d.chance(0.3) && d.room(2) {
		a = d.behind(a, "TH", front, "kind: thermostat, opens at: 90 °C")
	}
	d.between(a, b, "E", chamber, "kind: element, volts: %v, watts: %v", volts, w)
}

func (d *drawing) delta(out []*net) {
	w := d.watts()
	d.draw(math.Sqrt(3)*w/d.sys.across, d.sys.legs...)
	for i := range 3 {
		d.between(out[i], out[(i+1)%3], "E", chamber, "kind: element, volts: %v, watts: %v", d.sys.across, w)
	}
}

func (d *drawing) wye(out []*net) {
	w := d.watts()
	d.draw(w/d.sys.leg, d.sys.legs...)
	star := d.newNet("brown")
	for i := range 3 {
		d.between(out[i], star, "E", chamber, "kind: element, volts: %v, watts: %v", d.sys.leg, w)
	}
}

func (d *drawing) lamp(a, b *net, volts float64, legs []string) {
	w := pick(d, 25.0, 40, 60)
	d.draw(w/volts, legs...)
	d.between(a, b, "H", chamber, "kind: lamp, type: filament, volts: %v, watts: %v", volts, w)
}

func (d *drawing) pilot(a, b *net, volts float64, legs []string) {
	d.draw(0.1, legs...)
	d.burden -= 2
	kind := "led"
	if volts > 100 {
		kind = pick(d, "neon", "led", "filament")
	}
	if kind == "filament" {
		d.between(a, b, "H", front, "kind: lamp, type: filament, volts: %v, watts: 6", volts)
		return
	}
	d.between(a, b, "H", front, "kind: lamp, type: %s, volts: %v", kind, volts)
}

// rest fills the unit up with what runs beside the heat.
func (d *drawing) rest() {
	if d.neutral != nil {
		// Everything that is brought in is used.
		d.pilot(d.legs[0], d.neutral, d.sys.leg, d.sys.legs[:1])
	}
	volts, legs := d.sys.leg, d.sys.legs[:1]
	run, back := d.legs[0], d.neutral
	if d.neutral == nil {
		volts, legs, back = d.sys.across, d.sys.legs[:2], d.legs[1]
	}
	for d.room(1) {
		switch d.rng.IntN(9) {
		case 0, 1:
			d.pilot(d.hot, d.ret, d.volts, d.ctlLegs)
		case 2:
			if d.room(2) {
				on := d.behind(run, "S", front, "kind: switch")
				d.lamp(on, back, volts, legs)
				if d.room(1) && d.chance(0.5) {
					d.lamp(on, back, volts, legs)
				}
			}
		case 3:
			d.fan(run, back, volts, legs)
		case 4:
			if d.room(2) && d.burden > 25 {
				d.burden -= 20
				d.draw(20/d.volts, d.ctlLegs...)
				low := d.behind(d.hot, "B", chamber, "kind: float switch")
				d.between(low, d.ret, "Y", chamberBack(d), "kind: water valve, volts: %v, ohms: %.0f", d.volts, 350*d.volts/120*d.volts/120)
			}
		case 5:
			if d.room(2) && d.burden > 12 {
				d.burden -= 10
				d.draw(10/d.volts, d.ctlLegs...)
				out := d.behind(d.hot, "TM", front, "kind: timer, contact: closed when run out")
				d.between(out, d.ret, "BZ", front, "kind: buzzer, volts: %v", d.volts)
			}
		case 6:
			if d.room(2) && d.burden > 5 {
				d.relay(run, back, volts, legs)
			}
		case 7:
			if d.room(2) && d.burden > 25 {
				d.burden -= 20
				d.draw(20/d.volts, d.ctlLegs...)
				on := d.behind(d.hot, "S", front, "kind: switch")
				d.between(on, d.ret, "Y", chamber, "kind: solenoid, volts: %v, ohms: %.0f", d.volts, 350*d.volts/120*d.volts/120)
			}
		case 8:
			if d.heated && d.room(5) && d.chance(0.5) && d.burden > 12 {
				d.zone()
			}
		}
		if d.burden < 5 && d.chance(0.3) {
			return
		}
	}
}

func chamberBack(d *drawing) string { return pick(d, chamber, back) }

// fan runs as long as the unit is fed, or with a switch of its own.
func (d *drawing) fan(a, b *net, volts float64, legs []string) {
	w := pick(d, 25.0, 35, 60)
	d.draw(2*w/volts, legs...)
	if d.chance(0.6) && d.room(2) {
		a = d.behind(a, "S", front, "kind: switch")
	}
	if d.chance(0.7) {
		d.between(a, b, "M", back, "kind: motor, type: shaded pole, volts: %v, watts: %v", volts, w)
		return
	}
	if !slices.Contains(d.hazards, "capacitor of the fan") {
		d.hazards = append(d.hazards, "capacitor of the fan")
	}
	tag := d.part("M", back, "kind: motor, type: psc, volts: %v, watts: %v, capacitor: 4 uF", volts, w)
	a.join(tag, "R")
	b.join(tag, "C")
}

// relay works a fan or a lamp, lit while it is energised or while it is not.
func (d *drawing) relay(a, b *net, volts float64, legs []string) {
	d.burden -= 3
	d.draw(3/d.volts, d.ctlLegs...)
	tag := d.part("R", panel, "kind: relay, coil: %v V, poles: 1", d.volts)
	d.hot.join(tag, "A1")
	d.ret.join(tag, "A2")
	out := d.newNet("brown")
	a.join(tag, "11")
	out.join(tag, pick(d, "12", "14"))
	d.lamp(out, b, volts, legs)
}

// text writes the file.
func (d *drawing) text(seed uint64) string {
	most := 0.0
	for _, l := range d.sys.legs {
		most = max(most, d.amps[l])
	}
	breaker := 100
	for _, size := range []int{15, 20, 30, 40, 50, 60, 70, 80} {
		if most <= 0.8*float64(size) {
			breaker = size
			break
		}
	}
	yes := map[bool]string{true: "yes", false: "no"}
	plate, phases := d.sys.across, 1
	if plate == 0 {
		plate = d.sys.leg
	}
	if len(d.sys.legs) == 3 {
		phases = 3
	}
	names, lands, leaves := slices.Clone(d.sys.legs), []string{}, "[PE]"
	if d.sys.hasN {
		names, leaves = append(names, "N"), "[N, PE]"
	}
	names = append(names, "PE")
	entry := "X1"
	if d.sys.plug {
		entry, leaves = "W1", "[]"
	}
	for _, n := range names {
		lands = append(lands, fmt.Sprintf("%s: %s:%s", n, entry, n))
	}
	isolator := "{kind: disconnect, name: disconnect on the wall, lockable: yes, leaves connected: " + leaves + "}"
	if d.sys.plug {
		isolator = "{kind: plug, name: cord and plug at the back, leaves connected: []}"
	}
	var s strings.Builder
	out := func(format string, args ...any) { fmt.Fprintf(&s, format+"\n", args...) }
	out("unit: Invented unit %d", seed)
	out("about: Invented by chance, with %d parts.", len(d.parts))
	out("nameplate: {volts: %v, phases: %d, neutral: %s, hertz: 60, amps: %.1f}", plate, phases, yes[d.sys.hasN], max(most, 0.1))
	out("sources:\n  main:\n    system: %s", d.sys.name)
	out("    legs: [%s]\n    lands on: {%s}", strings.Join(names, ", "), strings.Join(lands, ", "))
	if d.sys.hasN {
		out("    neutral bonded: at the panel\n    neutral shared: no")
	}
	out("    breaker: %d x %d A\n    isolator: %s", len(d.sys.legs), breaker, isolator)
	out("hazards: [%s]", strings.Join(d.hazards, ", "))
	if d.covers != nil {
		out("covers:")
		for _, c := range d.covers {
			out("  %s: {off: %d min, on: %d min, hides: [%s]}", c.name, 2+d.rng.IntN(5), 2+d.rng.IntN(5), strings.Join(c.hides, ", "))
		}
	}
	out("parts:\n%s", strings.Join(d.parts, "\n"))
	out("wires:")
	number := 0
	for _, n := range d.nets {
		for _, w := range d.run(n) {
			number++
			no := fmt.Sprint(number)
			if n.colour == "green" || d.chance(0.15) {
				no = "?"
			}
			out("  - %s - %s  %s %s", w[0], w[1], n.colour, no)
		}
	}
	return s.String()
}

// run wires up a net: from its first terminal to each other, from stud to stud, or as
// it comes, with at most four wires on a terminal where that can be.
func (d *drawing) run(n *net) [][2]string {
	const most = 4
	var out [][2]string
	style := d.rng.IntN(3)
	wires := make([]int, len(n.ends))
	for i := 1; i < len(n.ends); i++ {
		from := i - 1
		switch {
		case style == 0:
			from = min(n.hub, i-1)
		case style == 2 && i > n.hub:
			from = n.hub + d.rng.IntN(i-n.hub)
		}
		if wires[from] >= most {
			from = i - 1
		}
		wires[from]++
		wires[i]++
		out = append(out, [2]string{n.ends[from], n.ends[i]})
	}
	return out
}
