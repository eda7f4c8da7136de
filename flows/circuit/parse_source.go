package circuit

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/quantity"
)

// legNames are the conductors a source may bring. Terminal marks: IEC 60445.
var legNames = []string{"L1", "L2", "L3", "N", "PE"}

// systemExample lists the systems that can be written.
const systemExample = "120/208 wye, 277/480 wye, 120/240 split phase, 230 single phase or 480 delta"

// defaultImpedance is what one leg has on the supply side at line frequency. Common
// practice, no source: some 25 m of 12 AWG and a small transformer; less in proportion
// behind a breaker above 20 A.
const defaultImpedance quantity.Ohms = 0.2

func (b *building) sources(v value) {
	example := "sources: and one a line, main: {system: 120/208 wye, legs: [L1, L2, N, PE], ...}"
	all := b.entries(v, "sources", example)
	if len(all) == 0 && v.shape == mapping {
		b.complain(v.spot, example, "there is no source")
	}
	for _, s := range all {
		b.source(s)
	}
}

func (b *building) source(at field) {
	what := "source " + at.key
	f := b.keys(at.value, what, "system", "legs", "lands on", "neutral bonded", "neutral shared", "breaker", "isolator", "impedance")
	if at.shape != mapping {
		return
	}
	f.spot = at.spot
	s := Source{Name: at.key}
	if v, ok := b.need(f, "system", "system: "+systemExample); ok {
		b.system(v, &s)
	}
	if v, ok := b.need(f, "legs", "legs: [L1, L2, N, PE], every conductor it brings"); ok {
		b.legs(v, &s)
	}
	if s.live() < 2 {
		s.LegToLeg = 0
	}
	var spots []spot
	if v, ok := b.need(f, "lands on", "lands on: {L1: X1:L1, N: X1:N, PE: X1:PE}, where each leg meets the unit"); ok {
		spots = b.feeds(v, &s, what)
	}
	hasN := slices.Contains(s.Legs, "N")
	if hasN {
		if v, ok := b.need(f, "neutral bonded", "neutral bonded: at the panel, neutral bonded: no, or ? if nobody looked"); ok {
			s.Bonded, _ = b.text(v, "neutral bonded")
			switch s.Bonded {
			case "?": // the rule where a neutral is brought; assuming a bond is the safe side for reading to frame
				s.Bonded = "at the panel, not checked"
			case "no":
				s.Bonded = ""
			}
		}
		s.SharedN = b.truth(f, "neutral shared", false)
	} else if v, ok := f.get("neutral bonded"); ok && s.Legs != nil {
		b.complain(v.spot, "N among the legs, or no neutral bonded", "the neutral is bonded but %s brings no N", what)
	} else if s.System != "" && !strings.HasSuffix(s.System, "delta") {
		// The star point is earthed at the service all the same (NEC 250.24(A), as restated
		// in code articles): what touches the frame draws current.
		s.Bonded = "at the panel"
	}
	if v, ok := f.get("breaker"); ok && v.text != "?" {
		b.breaker(v, &s)
	}
	s.Impedance = defaultImpedance * quantity.Ohms(s.Breaker.thicker())
	if v, ok := f.get("impedance"); ok {
		if x, ok := b.quantity(v, "impedance", ohms, false, "impedance: 0.2 ohm"); ok {
			s.Impedance = quantity.Ohms(x)
		}
	}
	if v, ok := b.need(f, "isolator", "isolator: {kind: disconnect, name: two-pole disconnect on the wall, lockable: yes, leaves connected: [N, PE]}"); ok {
		b.isolator(v, &s, what)
	}
	b.u.Sources = append(b.u.Sources, s)
	b.feedSpots = append(b.feedSpots, spots)
}

// system reads the supply system and derives volts and angles. A three-phase leg set
// turns L1, L2, L3.
func (b *building) system(v value, s *Source) {
	text, ok := b.text(v, "system")
	if !ok {
		return
	}
	numbers, words, _ := strings.Cut(text, " ")
	words = strings.TrimSpace(words)
	var xs []float64
	for n := range strings.SplitSeq(numbers, "/") {
		x, err := strconv.ParseFloat(n, 64)
		if err != nil || !finite(x) || x < 5 || x > 1000 {
			b.complain(v.spot, "system: "+systemExample, "the system %q does not start with its volts", text)
			return
		}
		xs = append(xs, x)
	}
	root3 := math.Sqrt(3)
	near := func(got, want float64) bool { return math.Abs(got/want-1) < 0.03 }
	switch {
	case words == "wye" && len(xs) == 2 && near(xs[1], xs[0]*root3):
		s.LegToNeutral, s.LegToLeg = quantity.Volts(xs[0]), quantity.Volts(xs[1])
	case words == "split phase" && len(xs) == 2 && near(xs[1], xs[0]*2):
		s.LegToNeutral, s.LegToLeg = quantity.Volts(xs[0]), quantity.Volts(xs[1])
	case words == "single phase" && len(xs) == 1:
		s.LegToNeutral = quantity.Volts(xs[0])
	case words == "delta" && len(xs) == 1:
		s.LegToNeutral, s.LegToLeg = quantity.Volts(xs[0]/root3), quantity.Volts(xs[0])
	case (words == "wye" || words == "split phase") && len(xs) == 2:
		b.complain(v.spot, "system: "+systemExample, "%s and %s V do not belong to a %s system",
			strconv.FormatFloat(xs[0], 'f', -1, 64), strconv.FormatFloat(xs[1], 'f', -1, 64), words)
		return
	default:
		b.complain(v.spot, "system: "+systemExample, "the system %q is not known", text)
		return
	}
	s.System = text
}

// legs reads the conductors and gives each live leg its angle.
func (b *building) legs(v value, s *Source) {
	const example = "legs: [L1, L2, N, PE]"
	words := strings.TrimLeft(s.System, "0123456789./ ")
	most := map[string]int{"wye": 3, "split phase": 2, "single phase": 1, "delta": 3, "": 3}[words]
	live := 0
	bad := false
	for _, leg := range b.texts(v, "legs", example) {
		switch {
		case !slices.Contains(legNames, leg.text):
			b.complain(leg.spot, "one of: "+strings.Join(legNames, ", "), "there is no leg %q", leg.text)
			bad = true
			continue
		case slices.Contains(s.Legs, leg.text):
			b.complain(leg.spot, "it once", "leg %s is given twice", leg.text)
			continue
		case leg.text == "N" && words == "delta":
			b.complain(leg.spot, "legs without N, or a wye system", "a delta system has no neutral")
		case leg.text[0] == 'L':
			if live++; live == most+1 {
				b.complain(leg.spot, "the legs this system has, or another system", "%s has %d live legs at most", s.System, most)
			}
		}
		s.Legs = append(s.Legs, leg.text)
		angle := 0.0
		switch {
		case leg.text == "L2" && words == "split phase":
			angle = 180
		case leg.text == "L2":
			angle = -120
		case leg.text == "L3":
			angle = 120
		}
		s.AngleDeg = append(s.AngleDeg, angle)
	}
	switch {
	case bad || s.Legs == nil:
		s.Legs, s.AngleDeg = nil, nil // nothing more can be said about them
	case live == 0:
		b.complain(v.spot, example, "legs has no live leg")
	case live == 1 && !slices.Contains(s.Legs, "N"):
		b.complain(v.spot, example, "one live leg without N cannot feed anything")
	case words == "single phase" && !slices.Contains(s.Legs, "N"):
		b.complain(v.spot, "N among the legs", "a single phase system comes with N")
	}
}

func (b *building) feeds(v value, s *Source, what string) []spot {
	const example = "lands on: {L1: X1:L1, N: X1:N, PE: X1:PE}"
	var spots []spot
	var landed []string
	got := b.entries(v, "lands on", example)
	for _, f := range got {
		landed = append(landed, f.key)
		if !slices.Contains(s.Legs, f.key) && s.Legs != nil {
			b.complain(f.spot, b.oneOf(f.key, s.Legs), "%s brings no leg %q", what, f.key)
			continue
		}
		text, ok := b.text(f.value, "lands on")
		if !ok {
			continue
		}
		if t, ok := b.end(f.value, piece{text: text}); ok {
			for _, other := range s.Feeds {
				if other.Term == t {
					b.complain(f.value.spot, "another terminal", "%s and %s land on the same terminal %s", other.Leg, f.key, text)
				}
			}
			s.Feeds = append(s.Feeds, Feed{Leg: f.key, Term: t})
			spots = append(spots, f.spot)
		}
	}
	for _, leg := range s.Legs {
		if v.shape == mapping && !slices.Contains(landed, leg) {
			b.complain(v.spot, leg+": and the terminal, as in "+example, "lands on does not say where %s of %s lands", leg, what)
		}
	}
	return spots
}

func (b *building) breaker(v value, s *Source) {
	const example = "breaker: 2 x 20 A, poles and rating, or ?"
	text, ok := b.text(v, "breaker")
	if !ok {
		return
	}
	poles, rating, ok := strings.Cut(text, "x")
	n, err := strconv.Atoi(strings.TrimSpace(poles))
	x, why := readQuantity(strings.TrimSpace(rating), amps, false)
	if !ok || err != nil || n < 1 || n > 4 || why != "" {
		b.complain(v.spot, example, "the breaker %q is not poles x amps", text)
		return
	}
	s.Breaker = Breaker{Poles: n, Amps: quantity.Amps(x)}
}

func (b *building) isolator(v value, s *Source, what string) {
	f := b.keys(v, "isolator", "kind", "name", "lockable", "leaves connected")
	if v.shape != mapping {
		return
	}
	iso := &s.Isolator
	if v, ok := b.need(f, "kind", "kind: disconnect, kind: breaker or kind: plug"); ok {
		switch b.choice(v, "the kind of isolator", "disconnect", "breaker", "plug") {
		case "disconnect":
			iso.Kind = Disconnect
		case "breaker":
			iso.Kind = BreakerLock
		case "plug":
			iso.Kind = Plug
		}
	}
	if v, ok := b.need(f, "name", "name: two-pole disconnect on the wall, as the technician will find it"); ok {
		iso.Name, _ = b.text(v, "name")
	}
	if _, ok := f.get("lockable"); ok || iso.Kind != Plug {
		if _, ok := b.need(f, "lockable", "lockable: yes or lockable: no"); ok {
			iso.Lockable = b.truth(f, "lockable", false)
		}
	}
	left, ok := b.need(f, "leaves connected", "leaves connected: [N, PE], what stays connected when it is open; [] for a plug")
	if !ok {
		return
	}
	for _, leg := range b.texts(left, "leaves connected", "leaves connected: [N, PE]") {
		if !slices.Contains(s.Legs, leg.text) {
			if s.Legs != nil {
				b.complain(leg.spot, b.oneOf(leg.text, s.Legs), "%s brings no leg %q", what, leg.text)
			}
			continue
		}
		iso.Leaves = append(iso.Leaves, leg.text)
	}
	for _, leg := range s.Legs {
		if !slices.Contains(iso.Leaves, leg) {
			iso.Opens = append(iso.Opens, leg)
		}
	}
	switch {
	case iso.Kind == Plug && len(iso.Leaves) > 0:
		b.complain(left.spot, "leaves connected: []", "a plug leaves nothing connected")
	case (iso.Kind == Disconnect || iso.Kind == BreakerLock) && slices.Contains(iso.Opens, "PE"):
		b.complain(left.spot, "leaves connected: [N, PE] or [PE]", "a switch or breaker does not open PE")
	}
	if i := slices.IndexFunc(iso.Leaves, func(l string) bool { return l[0] == 'L' }); i >= 0 {
		b.complain(left.spot, "an isolator that opens every live leg; if there is none upstream, the breaker in the panel",
			"the isolator leaves %s live", iso.Leaves[i])
	}
}
