package circuit

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/flows/quantity"
)

// making is one part under construction.
type making struct {
	*building
	fields
	id   PartID
	part *Part
}

// kindSpec is what the file may say about a kind of part besides the common keys, and
// how the part is made from it.
type kindSpec struct {
	kind Kind
	keys []string
	make func(*making)
}

// commonKeys may be given for every kind.
var commonKeys = []string{"kind", "at", "looks like", "note", "terminals"}

func kindSpecs() []kindSpec {
	return []kindSpec{
		{KindElement, []string{"volts", "watts", "ohms"}, (*making).element},
		{KindLamp, []string{"type", "volts", "watts", "ohms"}, (*making).lamp},
		{KindMotor, []string{"type", "volts", "watts", "ohms", "run ohms", "start ohms", "capacitor"}, (*making).motor},
		{KindContact, []string{"poles", "coil", "ohms", "contacts", "by hand"}, (*making).contactor},
		{KindRelay, []string{"poles", "coil", "ohms", "contacts", "by hand"}, (*making).relay},
		{KindSwitch, []string{"poles", "positions", "rest", "contacts"}, (*making).toggle},
		{KindStat, []string{"poles", "contact", "contacts", "knob", "opens at"}, (*making).thermostat},
		{KindLimit, []string{"poles", "contact", "contacts", "reset", "opens at"}, (*making).limit},
		{KindDoor, []string{"poles", "contact", "contacts"}, (*making).door},
		{KindFuse, []string{"amps"}, (*making).fuse},
		{KindControl, []string{"va", "primary", "secondary", "taps", "primary ohms", "secondary ohms"}, (*making).transformer},
		{KindTrafo, []string{"va", "primary", "secondary", "taps", "primary ohms", "secondary ohms"}, (*making).transformer},
		{KindSolenoid, []string{"volts", "watts", "ohms"}, (*making).solenoid},
		{KindValve, []string{"volts", "watts", "ohms"}, (*making).valve},
		{KindBuzzer, []string{"volts", "watts", "ohms"}, (*making).buzzer},
		{KindTimer, []string{"poles", "contact", "contacts", "motor", "motor ohms"}, (*making).timer},
		{KindFloat, []string{"poles", "contact", "contacts"}, (*making).float},
		{KindPlug, []string{"pins"}, (*making).plug},
		{KindTerminal, []string{"points", "joined"}, (*making).terminals},
		{KindGround, nil, (*making).ground},
	}
}

func (b *building) parts(v value) {
	specs := kindSpecs()
	var kinds []string
	for _, s := range specs {
		kinds = append(kinds, string(s.kind))
	}
	for _, p := range b.entries(v, "parts", "parts: and one part a line, K1: {kind: contactor, ...}") {
		id := PartID(len(b.u.Parts))
		b.u.Parts = append(b.u.Parts, Part{Tag: p.key, Cover: None})
		b.partSpots = append(b.partSpots, p.spot)
		b.broken = append(b.broken, true)
		if !isName(p.key) {
			b.complain(p.spot, "a tag of letters and digits, such as K1", "the tag %q has other characters than letters, digits, . _ / + or #", p.key)
			continue
		}
		if p.shape != mapping {
			b.complain(p.value.spot, p.key+": {kind: element, volts: 208, watts: 700}", "part %s is not a set of keys", p.key)
			continue
		}
		// The kind is needed before it is known which keys may be given.
		i := slices.IndexFunc(p.fields, func(f field) bool { return f.key == "kind" && f.shape == scalar })
		if i < 0 {
			b.complain(p.spot, "kind: one of "+strings.Join(kinds, ", "), "part %s has no kind", p.key)
			continue
		}
		kind := slices.Index(kinds, p.fields[i].text)
		if kind < 0 {
			b.complain(p.fields[i].value.spot, b.oneOf(p.fields[i].text, kinds), "there is no kind of part %q", p.fields[i].text)
			continue
		}
		before := len(b.problems)
		spec := specs[kind]
		f := b.keys(p.value, string(spec.kind)+" "+p.key, append(slices.Clone(commonKeys), spec.keys...)...)
		f.spot = p.spot
		m := &making{building: b, fields: f, id: id, part: &b.u.Parts[id]}
		m.part.Kind = spec.kind
		m.part.At, m.part.Looks, m.part.Note = b.words(f, "at"), b.words(f, "looks like"), b.words(f, "note")
		spec.make(m)
		// A complaint about a rating leaves the terminals as they are.
		b.broken[id] = len(m.part.Terms) == 0
		if len(b.problems) == before || len(m.part.Terms) > 0 {
			m.places()
		}
	}
}

// isName says whether s can be a tag or a terminal name.
func isName(s string) bool {
	if s == "" || len(s) > 24 {
		return false
	}
	for _, c := range s {
		if (c < '0' || c > '9') && (c < 'A' || c > 'Z') && (c < 'a' || c > 'z') && !strings.ContainsRune("._/+#", c) {
			return false
		}
	}
	return true
}

// places reads where the terminals are: terminals: {T2: bottom right screw}.
func (m *making) places() {
	v, ok := m.get("terminals")
	if !ok {
		return
	}
	for _, f := range m.entries(v, "terminals", "terminals: {T2: bottom right screw}") {
		var names []string
		at := TermID(None)
		for _, t := range m.part.Terms {
			names = append(names, m.u.Terms[t].Name)
			if m.u.Terms[t].Name == f.key {
				at = t
			}
		}
		if at == None {
			m.complain(f.spot, m.oneOf(f.key, names), "%s has no terminal %q", m.what, f.key)
			continue
		}
		if text, ok := m.text(f.value, f.key); ok && text != "?" {
			m.u.Terms[at].Where = text
		}
	}
}

// term returns the terminal of the given name, made if it is new.
func (m *making) term(name string) TermID {
	for _, t := range m.part.Terms {
		if m.u.Terms[t].Name == name {
			return t
		}
	}
	t := TermID(len(m.u.Terms))
	m.u.Terms = append(m.u.Terms, Terminal{Part: m.id, Name: name})
	m.part.Terms = append(m.part.Terms, t)
	return t
}

// resist adds a resistance between two terminals.
func (m *making) resist(name, x, y string, s Spread, lively complex128, modes ...Mode) {
	m.part.Elems = append(m.part.Elems, Elem{Name: name, A: m.term(x), B: m.term(y), Role: Resist, Ohms: s, Lively: lively, Modes: modes})
}

// sound closed contacts. Common practice, no source: below 0.2 ohm, doubtful above 1.
var closedContact = Spread{Nominal: 0.05, Lo: 0.01, Hi: 0.2}

// around gives nominal with a share below and above it.
func around(nominal quantity.Ohms, below, above quantity.Ohms) Spread {
	return Spread{Nominal: nominal, Lo: nominal * (1 - below), Hi: nominal * (1 + above)}
}

// between gives a range; nominal is its middle, the geometric one if it is wide.
func between(lo, hi quantity.Ohms) Spread {
	s := Spread{Nominal: (lo + hi) / 2, Lo: lo, Hi: hi}
	if hi > 3*lo {
		s.Nominal = quantity.Ohms(math.Sqrt(float64(lo * hi)))
	}
	return s
}

// ohmsOr reads "66", "60-72 ohm" or "2.2 kohm"; otherwise if the key is not there.
// A single value stands for itself ±10 %.
func (m *making) ohmsOr(key string, otherwise Spread) Spread {
	v, ok := m.get(key)
	if !ok || v.text == "?" {
		return otherwise
	}
	example := key + ": 66, or a range " + key + ": 60-72"
	text, ok := m.text(v, key)
	if !ok {
		return otherwise
	}
	from, to, isRange := strings.Cut(text, "-")
	if !isRange {
		if x, ok := m.quantity(v, key, ohms, true, example); ok {
			return around(quantity.Ohms(x), 0.1, 0.1)
		}
		return otherwise
	}
	// The unit may stand once, after the second number.
	_, unit, _ := splitNumber(to)
	if _, u, ok := splitNumber(from); ok && u == "" {
		from = strings.TrimSpace(from) + unit
	}
	lo, whyLo := readQuantity(from, ohms, true)
	hi, whyHi := readQuantity(to, ohms, true)
	switch {
	case whyLo != "" || whyHi != "":
		m.complain(v.spot, example, "%s: %q is not a range of ohms", key, text)
		return otherwise
	case lo >= hi:
		m.complain(v.spot, example, "%s: the range %q does not rise", key, text)
		return otherwise
	}
	return between(quantity.Ohms(lo), quantity.Ohms(hi))
}

// rating reads volts and watts, which may be missing.
func (m *making) rating() {
	if v, ok := m.get("volts"); ok && v.text != "?" {
		x, _ := m.quantity(v, "volts", volts, true, "volts: 208")
		m.part.Volts = quantity.Volts(x)
	}
	if v, ok := m.get("watts"); ok && v.text != "?" {
		x, _ := m.quantity(v, "watts", watts, true, "watts: 650")
		m.part.Watts = quantity.Watts(x)
	}
}

// squareOverPower is V²/P, zero if one of them is not known.
func (m *making) squareOverPower() quantity.Ohms {
	if m.part.Volts == 0 || m.part.Watts == 0 {
		return 0
	}
	return quantity.Ohms(float64(m.part.Volts) * float64(m.part.Volts) / float64(m.part.Watts))
}

// derivable complains where neither ohms nor volts and watts are given.
func (m *making) derivable() {
	mistyped := slices.ContainsFunc(m.near, func(k string) bool { return k == "volts" || k == "watts" || k == "ohms" })
	if v, ok := m.get("ohms"); (!ok || v.text == "?") && m.squareOverPower() == 0 && !mistyped && !m.complained("volts", "watts") {
		m.complain(m.spot, "volts: and watts: from its plate, or ohms: measured on a good one",
			"the ohms of %s cannot be derived", m.what)
	}
}

// complained says whether there is already a problem at one of the given keys.
func (m *making) complained(keys ...string) bool {
	for _, k := range keys {
		v, ok := m.get(k)
		if ok && slices.ContainsFunc(m.problems, func(p Problem) bool { return p.Line == v.line && p.Col == v.col }) {
			return true
		}
	}
	return false
}

// element: V²/P with the power tolerance of commercial elements, which is +5/-10 % of
// the power and so -5/+11 % of the resistance. Common practice, no source.
func (m *making) element() {
	m.rating()
	derived := around(m.squareOverPower(), 0.05, 0.11)
	s := m.ohmsOr("ohms", derived)
	m.resist("", "1", "2", s, 0, Earthed, OpenCircuit, ShortedTurns)
	m.derivable()
}

// lamp: a filament has about a twelfth of its hot resistance when cold. A LED or neon
// indicator has electronics or a gap in it: a meter reads OL both ways, and lit it takes
// a few milliamperes. Common practice, no source.
func (m *making) lamp() {
	kind := "filament"
	if v, ok := m.get("type"); ok {
		kind = m.choice(v, "the type of lamp", "filament", "led", "neon")
	}
	m.rating()
	if kind == "led" || kind == "neon" {
		m.indicator(kind)
		return
	}
	hot := m.squareOverPower()
	s := m.ohmsOr("ohms", around(hot/12, 0.35, 0.35))
	if hot == 0 {
		hot = 12 * s.Nominal
	}
	m.resist("", "1", "2", s, complex(float64(hot), 0), OpenCircuit, ShortCircuit)
	m.derivable()
}

func (m *making) indicator(kind string) {
	if v, ok := m.get("ohms"); ok {
		m.complain(v.spot, "nothing: a meter reads OL both ways", "a %s lamp has no ohms that a meter could read", kind)
	}
	if m.part.Volts == 0 && !m.complained("volts") {
		m.need(m.fields, "volts", "volts: 120")
	}
	lit := float64(m.squareOverPower())
	if lit == 0 {
		lit = math.Max(float64(m.part.Volts), 1) / 0.005
	}
	m.resist("", "1", "2", overRange, complex(lit, 0), OpenCircuit, ShortCircuit)
}

// overRange is the resistance of what no hand-held meter sees as a number.
var overRange = Spread{Nominal: 300e6, Lo: 100e6, Hi: 900e6}

// coilSpread is the dead resistance of a coil by its volts: for contactors 24 V 6-20,
// 120 V 80-400, 208 and 240 V 300-1500 ohm; for small relays 24 V 70-250, 120 V
// 1.5-4.5 kilohm. Common practice, no source. Other volts follow the square of the
// ratio.
func coilSpread(v quantity.Volts, small bool) Spread {
	square := func(base quantity.Volts) quantity.Ohms { return quantity.Ohms(v / base * v / base) }
	switch {
	case small && v < 60:
		return between(70*square(24), 250*square(24))
	case small:
		return between(1500*square(120), 4500*square(120))
	case v < 60:
		return between(6*square(24), 20*square(24))
	case v < 180:
		return between(80*square(120), 400*square(120))
	case v <= 250:
		return between(300, 1500)
	}
	return between(300*square(230), 1500*square(230))
}

// coil adds a coil on A1 and A2. Closed, it takes some ten times its dead resistance,
// mostly inductive (power factor 0.3). Common practice, no source.
func (m *making) coil(small bool) {
	s := between(6, 1500)
	if v, ok := m.need(m.fields, "coil", "coil: 208 V"); ok {
		if x, ok := m.quantity(v, "coil", volts, false, "coil: 208 V"); ok {
			m.part.Volts = quantity.Volts(x)
			s = coilSpread(m.part.Volts, small)
		}
	}
	s = m.ohmsOr("ohms", s)
	z := 10 * float64(s.Nominal)
	m.resist("coil", "A1", "A2", s, complex(0.3*z, math.Sqrt(1-0.3*0.3)*z), OpenCircuit, ShortCircuit, Earthed)
	m.part.Elems[len(m.part.Elems)-1].Coil = true
}

func (m *making) contactor() {
	m.part.Positions = []string{"at rest", "pulled in"}
	m.part.ByHand = m.truth(m.fields, "by hand", true)
	poles := m.whole(m.fields, "poles", 1, 4, 0)
	if poles == 0 && !m.complained("poles") {
		m.need(m.fields, "poles", "poles: 2")
		poles = 1
	}
	for _, side := range []string{"L", "T"} {
		for i := range poles {
			m.term(fmt.Sprint(side, i+1))
		}
	}
	m.coil(false)
	for i := range poles {
		m.contact(m.poleName(i, poles), fmt.Sprint("L", i+1), fmt.Sprint("T", i+1), 1<<1, Welded, NeverCloses)
	}
	m.contacts(Welded, NeverCloses)
}

// relay: terminals after EN 50005, from memory: pole i has the common i1, i2 closed at
// rest and i4 closed when energised.
func (m *making) relay() {
	m.part.Positions = []string{"at rest", "energised"}
	m.part.ByHand = m.truth(m.fields, "by hand", false)
	m.coil(true)
	if m.contacts(Welded, NeverCloses) {
		return
	}
	for i := range m.whole(m.fields, "poles", 1, 6, 1) {
		for _, c := range []struct {
			end    int
			closed uint32
		}{{2, 1 << 0}, {4, 1 << 1}} {
			x, y := fmt.Sprintf("%d1", i+1), fmt.Sprintf("%d%d", i+1, c.end)
			m.contact("contact "+x+"-"+y, x, y, c.closed, Welded, NeverCloses)
		}
	}
}

func (m *making) poleName(i, poles int) string {
	if poles == 1 && m.part.Kind != KindContact {
		return ""
	}
	return fmt.Sprint("pole ", i+1)
}

// contact adds a contact that is closed in the positions whose bits are set.
func (m *making) contact(name, x, y string, closed uint32, modes ...Mode) {
	m.part.Elems = append(m.part.Elems, Elem{Name: name, A: m.term(x), B: m.term(y), Role: Contact,
		Ohms: closedContact, Closed: closed, Modes: modes})
}

// contacts reads contacts: {1-2: closed at rest, C-NO: [low, high]}; false if the key
// is not there.
func (m *making) contacts(modes ...Mode) bool {
	v, ok := m.get("contacts")
	if !ok {
		return false
	}
	const example = "contacts: {13-14: open at rest, C-NO: [low, high]}"
	for _, f := range m.entries(v, "contacts", example) {
		x, y, ok := strings.Cut(f.key, "-")
		if !ok || !isName(x) || !isName(y) || x == y {
			m.complain(f.spot, example, "the contact %q is not two terminals with a hyphen", f.key)
			continue
		}
		closed, ok := m.closed(f.value)
		if ok {
			m.contact("contact "+f.key, x, y, closed, modes...)
		} else {
			m.term(x)
			m.term(y)
		}
	}
	if len(m.part.Terms) == 0 {
		m.complain(v.spot, example, "no contact of %s can be read", m.what)
	}
	return true
}

// closed reads in which positions a contact is closed: a list of positions, or in
// words "closed at rest", "open at rest", "closed when hot", "open when low or high".
func (m *making) closed(v value) (uint32, bool) {
	positions := m.part.Positions
	example := "closed at rest, open at rest, or closed when " + strings.Join(positions, " or ")
	var names []value
	inverted := false
	switch v.shape {
	case list:
		names = m.texts(v, "a contact", "["+strings.Join(positions, ", ")+"]")
	case scalar:
		text := v.text
		state, rest, ok := strings.Cut(text, " ")
		inverted = state == "open"
		if rest = strings.TrimSpace(rest); rest == "at rest" {
			rest = "when " + positions[m.part.Rest]
		}
		when, isWhen := strings.CutPrefix(rest, "when ")
		if !ok || state != "open" && state != "closed" || !isWhen {
			m.complain(v.spot, example, "the contact of %s cannot be %q", m.what, text)
			return 0, false
		}
		for name := range strings.SplitSeq(when, " or ") {
			names = append(names, value{spot: v.spot, shape: scalar, text: strings.TrimSpace(name)})
		}
	default:
		m.complain(v.spot, example, "a contact of %s does not say when it is closed", m.what)
		return 0, false
	}
	var mask uint32
	for _, n := range names {
		i := slices.Index(positions, n.text)
		if i < 0 {
			m.complain(n.spot, m.oneOf(n.text, positions), "%s has no position %q", m.what, n.text)
			return 0, false
		}
		mask |= 1 << i
	}
	if inverted {
		mask = 1<<len(positions) - 1 - mask
	}
	return mask, true
}

// poles makes poles on terminals 1-2, 3-4, ... all closed in the same positions, or
// the contacts that the file gives.
func (m *making) poles(closed uint32) {
	modes := []Mode{Welded, NeverCloses, EarthedTerm}
	if m.contacts(modes...) {
		return
	}
	if v, ok := m.get("contact"); ok {
		if mask, ok := m.closed(v); ok {
			closed = mask
		}
	}
	n := m.whole(m.fields, "poles", 1, 6, 1)
	for i := range n {
		m.contact(m.poleName(i, n), fmt.Sprint(2*i+1), fmt.Sprint(2*i+2), closed, modes...)
	}
}

// toggle is a switch that is set by hand: rocker, toggle, rotary.
func (m *making) toggle() {
	m.part.ByHand = true
	m.part.Positions = []string{"off", "on"}
	_, given := m.get("positions")
	if v, ok := m.get("positions"); ok {
		var names []string
		for _, p := range m.texts(v, "positions", "positions: [off, low, high]") {
			if slices.Contains(names, p.text) {
				m.complain(p.spot, "another name", "position %q is given twice", p.text)
				continue
			}
			names = append(names, p.text)
		}
		if len(names) < 2 || len(names) > 16 {
			m.complain(v.spot, "positions: [off, low, high]", "a switch with %d positions", len(names))
			given = false
		} else {
			m.part.Positions = names
		}
	}
	if v, ok := m.get("rest"); ok {
		if m.part.Rest = slices.Index(m.part.Positions, v.text); m.part.Rest < 0 {
			m.part.Rest = 0
			m.complain(v.spot, m.oneOf(v.text, m.part.Positions), "%s has no position %q", m.what, v.text)
		}
	}
	if _, ok := m.get("contacts"); given && !ok && (len(m.part.Positions) != 2 || !slices.Contains(m.part.Positions, "on")) {
		m.complain(m.spot, "contacts: {1-2: [low, high], 3-4: [high]}", "it is not said which contact of %s is closed in which position", m.what)
	}
	m.poles(1 << max(0, slices.Index(m.part.Positions, "on")))
}

// thermostat is closed when cold unless the file says otherwise. With a knob it can be
// opened by hand by turning it down.
func (m *making) thermostat() {
	m.opensAt()
	m.part.Positions = []string{"cold", "hot"}
	m.part.ByHand = m.truth(m.fields, "knob", true)
	m.poles(1 << 0)
}

// limit is closed when cold. A manual limit that has tripped stays open until its
// button is pressed; it is never reset before its cause is known, so it is not ByHand.
func (m *making) limit() {
	m.opensAt()
	m.part.Positions = []string{"cold", "tripped"}
	m.part.Protects = true
	if v, ok := m.need(m.fields, "reset", "reset: manual or reset: auto"); ok {
		m.choice(v, "reset", "manual", "auto")
	}
	m.poles(1 << 0)
}

// opensAt checks the temperature, which the circuit does not need.
func (m *making) opensAt() {
	if v, ok := m.get("opens at"); ok && v.text != "?" {
		m.quantity(v, "opens at", celsius, false, "opens at: 120 °C")
	}
}

func (m *making) door() {
	m.part.Positions = []string{"shut", "open"}
	m.part.ByHand = true
	m.part.Protects = true
	m.poles(1 << 0)
}

// fuse can be taken out by hand, which opens its circuit.
func (m *making) fuse() {
	if v, ok := m.get("amps"); ok && v.text != "?" {
		m.quantity(v, "amps", amps, true, "amps: 10")
	}
	m.part.Positions = []string{"in", "out"}
	m.part.ByHand = true
	m.contact("", "1", "2", 1<<0, OpenCircuit)
}

// terminals is a terminal block: separate screws with nothing between them unless the
// file says that some are joined.
func (m *making) terminals() {
	const example = "points: [L1, L2, N, PE]"
	v, ok := m.need(m.fields, "points", example)
	if !ok {
		return
	}
	for _, p := range m.texts(v, "points", example) {
		switch {
		case !isName(p.text):
			m.complain(p.spot, example, "the point %q has other characters than letters, digits, . _ / + or #", p.text)
		case slices.ContainsFunc(m.part.Terms, func(t TermID) bool { return m.u.Terms[t].Name == p.text }):
			m.complain(p.spot, "another name", "point %q is given twice", p.text)
		default:
			m.term(p.text)
		}
	}
	m.joined()
}

func (m *making) joined() {
	const example = "joined: [1-2, 2-3]"
	v, ok := m.get("joined")
	if !ok {
		return
	}
	for _, j := range m.texts(v, "joined", example) {
		x, y, _ := strings.Cut(j.text, "-")
		var at [2]TermID
		found := 0
		for _, t := range m.part.Terms {
			if name := m.u.Terms[t].Name; name == x || name == y {
				at[min(found, 1)] = t
				found++
			}
		}
		if found != 2 {
			m.complain(j.spot, example, "%q is not two points of %s", j.text, m.what)
			continue
		}
		m.part.Elems = append(m.part.Elems, Elem{Name: "link " + j.text, A: at[0], B: at[1], Role: Bond, Ohms: Spread{0.01, 0.001, 0.05}})
	}
}

// ground is a screw in the frame.
func (m *making) ground() {
	m.part.Elems = append(m.part.Elems, Elem{A: m.term("1"), B: None, Role: Bond, Ohms: Spread{0.01, 0.001, 0.05}})
}

// motor: shaded pole 120 V 15-80 ohm; PSC 120 V run winding 5-40 ohm. Common practice,
// no source. Start winding of a PSC motor three to five times the run winding: common
// in refrigeration texts. Other volts follow the square of the ratio.
func (m *making) motor() {
	m.rating()
	square := quantity.Ohms(1)
	if m.part.Volts > 0 {
		square = quantity.Ohms(m.part.Volts / 120 * m.part.Volts / 120)
	} else if !m.complained("volts") {
		m.need(m.fields, "volts", "volts: 120")
	}
	kind := ""
	if v, ok := m.need(m.fields, "type", "type: shaded pole or type: psc"); ok {
		kind = m.choice(v, "the type of motor", "shaded pole", "psc")
	}
	if kind == "psc" {
		m.splitCapacitor(square)
		return
	}
	for _, key := range []string{"run ohms", "start ohms", "capacitor"} {
		if v, ok := m.get(key); ok && kind != "" {
			m.complain(v.spot, "type: psc, or leave it out", "a %s motor has no %q", kind, key)
		}
	}
	s := m.ohmsOr("ohms", between(15*square, 80*square))
	m.resist("winding", "1", "2", s, m.running(s), Earthed, OpenCircuit, ShortedTurns)
}

// running is the impedance of a motor under way: V²·pf/P with power factor 0.6, and
// without watts four times the dead resistance. Common practice, no source.
func (m *making) running(s Spread) complex128 {
	size := 0.6 * float64(m.squareOverPower())
	if size < float64(s.Nominal) {
		size = 4 * float64(s.Nominal)
	}
	return complex(0.6*size, 0.8*size)
}

func (m *making) splitCapacitor(square quantity.Ohms) {
	if v, ok := m.get("ohms"); ok {
		m.complain(v.spot, "run ohms: and start ohms:", "a psc motor has two windings")
	}
	run := m.ohmsOr("run ohms", between(5*square, 40*square))
	start := m.ohmsOr("start ohms", Spread{4 * run.Nominal, 3 * run.Lo, 5 * run.Hi})
	farad := 5e-6
	if v, ok := m.get("capacitor"); ok && v.text != "?" {
		if x, ok := m.quantity(v, "capacitor", microfar, false, "capacitor: 5 uF"); ok {
			farad = x * 1e-6
		}
	}
	for _, t := range []string{"C", "R", "S"} {
		m.term(t)
	}
	modes := []Mode{Earthed, OpenCircuit, ShortedTurns}
	m.resist("run winding", "C", "R", run, m.running(run), modes...)
	m.resist("start winding", "C", "S", start, m.running(start), modes...)
	// A charged capacitor passes no direct current: the meter sees its leakage.
	m.resist("capacitor", "R", "S", Spread{50e6, 10e6, 500e6}, complex(0, -1/(2*math.Pi*60*farad)), ShortCircuit, OpenCircuit)
}
