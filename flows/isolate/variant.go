package isolate

import (
	"math"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// A variant is a fault of one size at one place: what the belief is held over, so that
// size and place are integrated and never fixed.
type variant struct {
	circuit.Placed
	item int // index in Model.items
	rate float64
	on   float64 // chance that the breaker goes at once with the unit's switch on
	off  float64 // the same with the unit's own switches at rest
	coil float64 // the same as on, with a contactor coil disconnected
}

// Sizes of fault resistances in ohms, dense where a breaker goes at once.
var (
	frameSizes = []quantity.Ohms{0.03, 0.1, 0.25, 0.5, 0.9, 1.5, 2.5, 4, 7, 15, 40, 150, 1000, 10e3, 100e3}
	shortSizes = []quantity.Ohms{0.03, 0.1, 0.25, 0.5, 0.9, 1.5, 2.5, 4, 8}
	turnShares = []quantity.Ohms{0.005, 0.01, 0.02, 0.04, 0.08, 0.15, 0.3, 0.5, 0.7}
	jointSizes = []quantity.Ohms{0.3, 0.6, 1.2, 2.5, 5, 10, 20, 40, 80, 160, 320, 640, 1300, 2600}
)

// Places along an element at which it may touch the frame. Half of all earths are taken
// to be at the ends, where heat, terminals and moisture are (common practice, no source).
// Near an end what counts is ohms, not length: a coil of 700 Ω takes a breaker only from
// its first turns.
var (
	nearEnd = []float64{0, 0.3, 0.7, 1.4} // ohms from either end
	inside  = []float64{0.035, 0.055, 0.09, 0.15, 0.25, 0.4}
)

// placesOn lists the fractions of the length of an element of the given ohms at which it
// may be earthed, with the share of earths near each.
func placesOn(ohms float64) (at, share []float64) {
	add := func(x, w float64) {
		at = append(at, x, 1-x)
		share = append(share, w/2, w/2)
	}
	for _, d := range nearEnd {
		if x := d / ohms; x < inside[0]*0.8 {
			add(x, 0.5/float64(len(nearEnd)))
		} else if d == 0 {
			add(0, 0.5)
		}
	}
	for _, x := range inside {
		add(x, 0.5/float64(len(inside)))
	}
	return at, share
}

// spreadFaults returns the variants of a fault: sizes even over the logarithm. ohms is
// the sound resistance of the element, for faults of one.
func spreadFaults(f circuit.Fault, ohms float64) []variant {
	var out []variant
	add := func(size quantity.Ohms, at, share float64) {
		out = append(out, variant{Placed: circuit.Placed{Fault: f, Ohms: size, At: at}, rate: share})
	}
	even := func(sizes []quantity.Ohms, at, share float64) {
		for _, s := range sizes {
			add(s, at, share/float64(len(sizes)))
		}
	}
	switch f.Mode {
	case circuit.Earthed:
		at, share := placesOn(math.Max(ohms, 1))
		for i := range at {
			even(frameSizes, at[i], share[i])
		}
	case circuit.EarthedTerm:
		even(frameSizes, 0, 0.5)
		even(frameSizes, 1, 0.5)
	case circuit.Chafed:
		even(frameSizes, 0, 1)
	case circuit.ShortCircuit:
		even(shortSizes, 0, 1)
	case circuit.ShortedTurns:
		even(turnShares, 0, 1)
	case circuit.HighOhms:
		even(jointSizes, 0, 1)
	case circuit.Welded:
		add(0.05, 0, 1)
	default:
		add(0, 0, 1)
	}
	return out
}

// goesAtOnce is the chance that a breaker goes at once at the given multiple of its
// rating: hardly below 4, surely above 14, even on the logarithm between. Source: the
// instantaneous bands of IEC 60898-1 (3 to 20 times by type) and the spread named in
// common practice, 5 to 15 times; a moulded-case breaker differs from one to the next.
func goesAtOnce(multiple float64) float64 {
	const hardly, surely = 4, 14
	if multiple <= 0 || math.IsNaN(multiple) {
		return 0
	}
	x := math.Log(multiple/hardly) / math.Log(surely/hardly)
	return math.Min(math.Max(x, 0), 1)
}

// explains is the chance of the complaint under variant i.
func (m *Model) explains(i int, c Case) float64 {
	v := &m.vars[i]
	p := 1.0
	switch c.Complaint {
	case DoesNotWork:
		works := m.working()[i]
		p = (1 - v.off) * (1 - v.on)
		for _, part := range c.Dead {
			if works.Has(int(part)) {
				p *= toldWrong
			}
		}
		for _, part := range c.Works {
			if !works.Has(int(part)) {
				p *= toldWrong
			}
		}
	case TripsAtOnce:
		atBreaker := v.off
		atSwitch := (1 - v.off) * v.on
		switch c.When {
		case AtBreaker:
			p = (1-toldWrong)*atBreaker + toldWrong*atSwitch
		case AtSwitch:
			p = (1-toldWrong)*atSwitch + toldWrong*atBreaker
		default:
			p = atBreaker + atSwitch
		}
	}
	switch {
	case c.CoilOff > 0:
		p *= (1-trialWrong)*(1-v.coil) + trialWrong*v.coil
	case c.CoilOff < 0:
		p *= (1-trialWrong)*v.coil + trialWrong*(1-v.coil)
	}
	return p
}

// switchedOn is the state in which every source is on and everything that can be set
// by hand is set to where it closes most contacts; atRest has the sources on and
// everything at rest; coilOff is switchedOn with the first wire of every contactor
// coil off.
func switchedOn(u *circuit.Unit) (on, atRest, coilOff circuit.State) {
	for i := range u.Sources {
		on = on.SwitchOn(i)
	}
	atRest = on
	for p := range u.Parts {
		part := &u.Parts[p]
		if !part.ByHand || hasCoil(*part) {
			continue // a contactor is pulled in by its coil, not by hand
		}
		best, most := part.Rest, -1
		for pos := range part.Positions {
			closed := 0
			for _, e := range part.Elems {
				if e.Role == circuit.Contact && e.Closed&(1<<pos) != 0 {
					closed++
				}
			}
			if closed > most {
				best, most = pos, closed
			}
		}
		on = on.Move(u, circuit.PartID(p), best)
		least, fewest := part.Rest, math.MaxInt
		for pos := range part.Positions {
			closed := 0
			for _, e := range part.Elems {
				if e.Role == circuit.Contact && e.Closed&(1<<pos) != 0 {
					closed++
				}
			}
			if closed < fewest {
				least, fewest = pos, closed
			}
		}
		if part.Kind == circuit.KindSwitch {
			atRest = atRest.Move(u, circuit.PartID(p), least)
		}
	}
	coilOff = on
	for _, part := range u.Parts {
		for _, e := range part.Elems {
			if e.Coil {
				for _, end := range u.Terms[e.A].Ends {
					coilOff = coilOff.Lift(end)
				}
			}
		}
	}
	return on, atRest, coilOff
}

// InUse returns two energised states of a unit: with everything that can be set by hand
// set as for use, and with its own switches at rest.
func InUse(u *circuit.Unit) (on, atRest circuit.State) {
	on, atRest, _ = switchedOn(u)
	return on, atRest
}

// GoesAtOnce is the chance that a breaker goes at once at a multiple of its rating.
func GoesAtOnce(multiple float64) float64 { return goesAtOnce(multiple) }
