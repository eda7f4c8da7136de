package isolate

import (
	"math"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Facts of the trade. Each is common practice, no source.

func TestTradeCoilNear700IsSound(t *testing.T) {
	m := warmer(t)
	coil := lifted(open(m), end(t, m, "6", "K1:A1"))
	test := m.TestAt(term(t, m, "K1:A1"), term(t, m, "K1:A2"), coil)
	c := Case{Complaint: TripsAtOnce, Leads: 0.2}
	assert.Equal(t, AsSound, m.Explain(c, reads(t, 1, test, "700 ohm")).Fits)
	assert.Equal(t, TooLow, m.Explain(c, reads(t, 1, test, "2.1 ohm")).Fits)
	assert.Equal(t, TooHigh, m.Explain(c, reads(t, 1, test, "OL")).Fits)
	before := m.Believe(c, nil)
	after := m.Believe(c, []Observation{reads(t, 1, test, "700 ohm")})
	k1 := circuit.PartItem(part(t, m, "K1"))
	assert.Contains(t, before.Left, k1)
	assert.Contains(t, after.Cleared, k1, "a coil near 700 Ω clears the coil")
}

func TestTradeElementsOf65To69Ohm(t *testing.T) {
	m := warmer(t)
	on, _ := InUse(m.unit)
	for _, want := range []struct {
		ohms           quantity.Ohms
		amps, watts    float64
		ampsTo, wattTo float64
	}{{65, 3.2, 666, 0.05, 6}, {69, 3.0, 625, 0.05, 6}} {
		act := &circuit.Actual{Elems: make([][]quantity.Ohms, len(m.unit.Parts))}
		e1 := part(t, m, "E1")
		act.Elems[e1] = []quantity.Ohms{want.ohms}
		live, err := m.net.Live(on, nil, act)
		require.NoError(t, err)
		volts := live.Volts(term(t, m, "E1:1"), term(t, m, "E1:2"))
		amps := float64(live.Amps(e1, 0)) * 208 / float64(volts) // the whole 208 V, without the drop of the supply
		assert.InDelta(t, want.amps, amps, want.ampsTo, "%v", want.ohms)
		assert.InDelta(t, want.watts, amps*amps*float64(want.ohms), want.wattTo, "%v", want.ohms)
	}
}

func TestTradeTwoMegohmIsNotAShort(t *testing.T) {
	m := warmer(t)
	s := lifted(open(m), end(t, m, "14", "K1:T2"), end(t, m, "15", "K1:T2"), end(t, m, "16", "K1:T2"))
	for _, w := range []string{"15", "16"} {
		test := m.TestAt(m.net.Wire(wire(t, m, w)), circuit.Chassis, s)
		o := reads(t, 1, test, "2 M")
		e := m.Explain(Case{Complaint: TripsAtOnce, Leads: 0.2}, o)
		assert.Equal(t, AsSound, e.Fits, w)
		assert.False(t, e.False, w)
		b := m.Believe(Case{Complaint: TripsAtOnce, Leads: 0.2}, []Observation{o})
		assert.Contains(t, b.Cleared, circuit.WireItem(wire(t, m, w)))
		ol := m.Believe(Case{Complaint: TripsAtOnce, Leads: 0.2}, []Observation{reads(t, 1, test, "OL")})
		assert.Equal(t, ol.Odds, b.Odds, "it counts as much as OL")
	}
}

// studUnit has three branches on one load stud: a lamp of 12 Ω, an element behind an
// open thermostat, a lamp of 19 Ω.
const studUnit = `
unit: Three branches
about: One stud with three wires, for a check of the trade.
nameplate: {volts: 208, phases: 1, neutral: yes, hertz: 60, amps: 10}
sources:
  main:
    system: 120/208 wye
    legs: [L1, L2, N, PE]
    lands on: {L1: X1:L1, L2: X1:L2, N: X1:N, PE: X1:PE}
    neutral bonded: at the panel
    neutral shared: no
    breaker: 2 x 20 A
    isolator: {kind: disconnect, name: disconnect on the wall, lockable: yes, leaves connected: [N, PE]}
hazards: [hot surfaces]
parts:
  X1: {kind: terminal block, points: [L1, L2, N, PE]}
  G1: {kind: ground stud}
  S1: {kind: switch, poles: 1}
  K1: {kind: contactor, poles: 2, coil: 208 V, ohms: 700}
  TH1: {kind: thermostat, opens at: 90 °C}
  E1: {kind: element, volts: 208, watts: 650}
  H1: {kind: lamp, type: filament, volts: 120, watts: 100}
  H2: {kind: lamp, type: filament, volts: 120, watts: 63}
wires:
  - X1:L1 - K1:L1  black 1
  - X1:L1 - S1:1   black 2
  - S1:2 - K1:A1   blue 3
  - X1:L2 - K1:L2  red 4
  - K1:L2 - K1:A2  red 5
  - K1:T1 - TH1:1  black 11
  - TH1:2 - E1:1   black 12
  - K1:T2 - H1:1   red 14
  - K1:T2 - E1:2   red 15
  - K1:T2 - H2:1   red 16
  - H1:2 - X1:N    white 20
  - H2:2 - X1:N    white 21
  - X1:PE - G1     green ?
`

func TestTradeThreeWiresOfOneStud(t *testing.T) {
	m := modelOf(t, "stud.yaml", studUnit)
	c := Case{Complaint: TripsAtOnce, Leads: 0.2}
	s := lifted(open(m), end(t, m, "14", "K1:T2"), end(t, m, "15", "K1:T2"), end(t, m, "16", "K1:T2"))
	at := func(seq int, w, text string) Observation {
		return reads(t, seq, m.TestAt(m.net.Wire(wire(t, m, w)), circuit.Chassis, s), text)
	}
	obs := []Observation{at(1, "14", "12 ohm"), at(2, "15", "2M"), at(3, "16", "19 ohm")}
	for i, lamp := range map[int]string{0: "H1", 2: "H2"} {
		e := m.Explain(c, obs[i])
		assert.Equal(t, AsSound, e.Fits, "%s: a sound unit shows it too", lamp)
		assert.True(t, e.False, lamp)
		require.Len(t, e.Paths, 1, lamp)
		assert.True(t, e.Paths[0].Neutral, lamp)
		assert.Equal(t, []circuit.PartID{part(t, m, lamp)}, e.Paths[0].Through)
	}
	assert.InDelta(t, 12, float64(m.Explain(c, obs[0]).Sound), 0.6)
	assert.InDelta(t, 19, float64(m.Explain(c, obs[2]).Sound), 0.6)
	assert.Equal(t, AsSound, m.Explain(c, obs[1]).Fits)

	b := m.Believe(c, obs)
	for _, w := range []string{"15", "12"} {
		assert.Contains(t, b.Cleared, circuit.WireItem(wire(t, m, w)), "2 MΩ clears what closed contacts reach: %s", w)
	}
	earthed := func(b *Belief) float64 {
		sum := 0.0
		for i, w := range b.weights[:len(m.vars)] {
			if m.vars[i].Part == part(t, m, "E1") && m.vars[i].Mode == circuit.Earthed {
				sum += w
			}
		}
		return sum
	}
	assert.Less(t, earthed(b), 0.02, "E1 is not earthed; it may still have shorted turns")
	assert.Greater(t, earthed(m.Believe(c, nil)), 0.08)
	assert.Contains(t, b.Left, circuit.WireItem(wire(t, m, "1")))

	// With the thermostat open, 2 MΩ on 15 says nothing of what lies beyond it.
	hot := s.Move(m.unit, part(t, m, "TH1"), 1)
	beyond := reads(t, 1, m.TestAt(m.net.Wire(wire(t, m, "15")), circuit.Chassis, hot), "2M")
	b = m.Believe(c, []Observation{beyond})
	assert.NotContains(t, b.Cleared, circuit.WireItem(wire(t, m, "11")), "behind an open contact")
}

func TestTradeElementEarthedAtTheOtherEnd(t *testing.T) {
	m := warmer(t)
	c := Case{Complaint: TripsAtOnce, Leads: 0.2}
	s := lifted(open(m), end(t, m, "17", "E1:1"), end(t, m, "15", "E1:2"))
	one, two := term(t, m, "E1:1"), term(t, m, "E1:2")
	b := m.Believe(c, []Observation{
		reads(t, 1, m.TestAt(one, two, s), "65 ohm"),
		reads(t, 2, m.TestAt(one, circuit.Chassis, s), "65 ohm"),
	})
	e1 := part(t, m, "E1")
	require.NotEmpty(t, b.Odds)
	assert.Equal(t, circuit.PartItem(e1), b.Odds[0].Item)
	assert.Equal(t, circuit.Earthed, b.Odds[0].Fault.Mode)
	assert.Equal(t, Proved, b.Verdict)
	near, far := 0.0, 0.0
	for i, w := range b.weights[:len(m.vars)] {
		if m.vars[i].Part == e1 && m.vars[i].At > 0.85 {
			far += w
		} else {
			near += w
		}
	}
	assert.Greater(t, far, 20*near, "earthed at the end away from the probe")
}

func TestTradeCoilLeadOff(t *testing.T) {
	m := warmer(t)
	base := Case{Complaint: TripsAtOnce, When: AtSwitch, Leads: 0.2}
	held := base
	held.CoilOff = 1
	b := m.Believe(held, nil)
	sum := 0
	for _, o := range b.Odds {
		it := o.Item
		behind := it == circuit.PartItem(part(t, m, "K1"))
		for _, w := range []string{"6", "11", "12", "13", "14", "15", "16", "17", "18", "19"} {
			behind = behind || it == circuit.WireItem(wire(t, m, w))
		}
		for _, tag := range []string{"E1", "E2", "E3", "H1", "H2", "TH1", "TH2"} {
			behind = behind || it == circuit.PartItem(part(t, m, tag))
		}
		if it.Wire != circuit.None {
			w := m.unit.Wires[it.Wire]
			behind = behind || m.unit.TermName(w.Ends[0]) == "E2:2" || m.unit.TermName(w.Ends[0]) == "H2:2"
		}
		if behind {
			sum += o.PerMille
		}
	}
	assert.Greater(t, sum, 850, "one coil lead off and it holds: behind the contactor, or the coil and its wire")
	tripped := base
	tripped.CoilOff = -1
	b = m.Believe(tripped, nil)
	e1 := circuit.PartItem(part(t, m, "E1"))
	assert.Less(t, odds(b, e1), odds(m.Believe(base, nil), e1)/2, "it trips with the coil off: not behind the contactor")
}

func TestFalseContinuity(t *testing.T) {
	m := warmer(t)
	c := Case{Complaint: TripsAtOnce, Leads: 0.2}
	s := open(m)
	t2 := term(t, m, "K1:T2")
	e := m.Explain(c, reads(t, 1, m.TestAt(t2, circuit.Chassis, s), "10.4 ohm"))
	assert.Equal(t, AsSound, e.Fits)
	assert.True(t, e.False)
	// By hand: H1 and H2 of 120²/60/12 = 20 Ω each in parallel, 10 Ω, then wires and bond.
	assert.InDelta(t, 10.3, float64(e.Sound), 0.4)
	require.GreaterOrEqual(t, len(e.Paths), 2)
	var lamps []circuit.PartID
	sum := 0.0
	for _, p := range e.Paths {
		assert.True(t, p.Neutral)
		lamps = append(lamps, p.Through...)
		sum += p.Share
	}
	assert.ElementsMatch(t, []circuit.PartID{part(t, m, "H1"), part(t, m, "H2")}, lamps)
	assert.InDelta(t, 1, sum, 0.02)
	// One lift does it: the lamps' own neutral, at the block or at the lamp in reach.
	require.Len(t, e.Honest, 1)
	assert.Equal(t, Lift, e.Honest[0].Kind)
	w, _ := e.Honest[0].End.Wire()
	assert.Equal(t, "9", m.unit.Wires[w].Number)
	assert.True(t, m.IsNeutral(e.Honest[0].End))
	assert.GreaterOrEqual(t, float64(e.HonestR), 1e6)

	// With it lifted a sound unit is open, and nothing false is claimed.
	off := lifted(s, end(t, m, "9", "X1:N"))
	e = m.Explain(c, reads(t, 1, m.TestAt(t2, circuit.Chassis, off), "10.4 ohm"))
	assert.False(t, e.False)
	assert.Equal(t, TooLow, e.Fits)
	assert.True(t, math.IsInf(float64(e.Sound), 1))

	// Any sound path counts, not only lamps: the line side reads low through the fan and
	// the pilot lamp once the master switch is on.
	on := s.Move(m.unit, part(t, m, "S1"), 1)
	e = m.Explain(c, reads(t, 1, m.TestAt(term(t, m, "X1:L1"), circuit.Chassis, on), "32 ohm"))
	assert.True(t, e.False)
	var through []circuit.PartID
	for _, p := range e.Paths {
		through = append(through, p.Through...)
	}
	assert.Contains(t, through, part(t, m, "M1"))
}
