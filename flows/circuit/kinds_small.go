package circuit

import (
	"fmt"
	"slices"

	"halfsplit/flows/quantity"
)

// magnet is a coil without contacts, such as that of a valve: dead resistance from lo to
// hi at 120 V and in proportion to the square for other volts. Energised it takes two
// and a half times that, at a power factor of one half. Common practice, no source.
func (m *making) magnet(lo, hi quantity.Ohms, modes ...Mode) {
	m.rating()
	if m.part.Volts == 0 && !m.complained("volts") {
		m.need(m.fields, "volts", "volts: 120")
	}
	square := quantity.Ohms(1)
	if m.part.Volts > 0 {
		square = quantity.Ohms(m.part.Volts / 120 * m.part.Volts / 120)
	}
	s := m.ohmsOr("ohms", between(lo*square, hi*square))
	size := 2.5 * float64(s.Nominal)
	if rated := float64(m.squareOverPower()); rated > 0 && 0.5*rated > float64(s.Nominal) {
		size = 0.5 * rated
	}
	m.resist("", "1", "2", s, complex(0.5*size, 0.866*size), modes...)
}

// solenoid: 120 V 60-600 ohm, small and large. Common practice, no source.
func (m *making) solenoid() {
	m.magnet(60, 600, OpenCircuit, ShortCircuit, ShortedTurns, Earthed)
}

// valve: 120 V 200-500 ohm. Common practice, no source.
func (m *making) valve() {
	m.magnet(200, 500, OpenCircuit, ShortCircuit, ShortedTurns, Earthed)
}

// buzzer with a coil: 120 V 400-2500 ohm. Common practice, no source.
func (m *making) buzzer() {
	m.magnet(400, 2500, OpenCircuit, ShortCircuit)
}

// timer runs out by itself and is set by hand; one that is driven by a motor has it on
// M1 and M2: 120 V 1.5-6 kilohm, two watts. Common practice, no source.
func (m *making) timer() {
	m.part.Positions = []string{"run out", "running"}
	m.part.ByHand = true
	m.poles(1 << 1)
	v, ok := m.get("motor")
	if !ok {
		if v, ok := m.get("motor ohms"); ok {
			m.complain(v.spot, "motor: 120 V, or leave it out", "%s has motor ohms but no motor", m.what)
		}
		return
	}
	x, _ := m.quantity(v, "motor", volts, false, "motor: 120 V")
	m.part.Volts = quantity.Volts(x)
	square := max(m.part.Volts/120*m.part.Volts/120, 1e-3)
	s := m.ohmsOr("motor ohms", between(1500*quantity.Ohms(square), 6000*quantity.Ohms(square)))
	size := 2 * float64(s.Nominal)
	m.resist("motor", "M1", "M2", s, complex(0.6*size, 0.8*size), OpenCircuit, ShortedTurns)
}

// float switch: closed while the level is low, unless the file says otherwise.
func (m *making) float() {
	m.part.Positions = []string{"low", "full"}
	m.part.ByHand = true
	m.part.Protects = true
	m.poles(1 << 0)
}

// plug and cord: pins by the names of their conductors, and the ends of the cord in the
// unit numbered in the same order. A cord conductor has below 0.1 ohm (some 10 ft of
// 14 AWG, 2.5 ohm per 1000 ft, from memory of wire tables, and the pin).
func (m *making) plug() {
	const example = "pins: [L1, N, PE]"
	v, ok := m.need(m.fields, "pins", example)
	if !ok {
		return
	}
	var pins []string
	for _, p := range m.texts(v, "pins", example) {
		switch {
		case !slices.Contains(legNames, p.text):
			m.complain(p.spot, m.oneOf(p.text, legNames), "there is no pin %q", p.text)
		case slices.Contains(pins, p.text):
			m.complain(p.spot, "it once", "pin %s is given twice", p.text)
		default:
			pins = append(pins, p.text)
			m.term(p.text)
		}
	}
	for i, p := range pins {
		modes := []Mode{OpenCircuit, Earthed}
		if p == "PE" {
			modes = modes[:1]
		}
		m.part.Elems = append(m.part.Elems, Elem{Name: "conductor " + p, A: m.term(p), B: m.term(fmt.Sprint(i + 1)), Role: Bond,
			Ohms: Spread{0.03, 0.01, 0.1}, Modes: modes})
	}
}
