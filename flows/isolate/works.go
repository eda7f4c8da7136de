package isolate

import (
	"errors"

	"halfsplit/flows/circuit"
)

// workingShare is the share of its sound power from which a load counts as working to a
// person who looks at it. Common practice, no source.
const workingShare = 0.5

// working returns, for each variant, the parts that work with the unit switched on:
// loads by their power, contactors and relays by whether they pull in. It is computed
// when first asked for: only complaints of parts that do not work need it.
func (m *Model) working() []circuit.Bits {
	m.worksOnce.Do(func() {
		on, _, _ := switchedOn(m.unit)
		sound, err := m.net.Live(on, nil, nil)
		if err != nil {
			sound = nil
		}
		m.works = make([]circuit.Bits, len(m.vars))
		for i := range m.vars {
			live, err := m.net.Live(on, []circuit.Placed{m.vars[i].Placed}, nil)
			if err != nil && !errors.Is(err, circuit.ErrNoPlace) {
				continue // it buzzes or races: nothing is said to work
			}
			m.works[i] = m.loadsOf(sound, live)
		}
	})
	return m.works
}

// loadsOf lists the parts that work in a solution, by comparison with the sound unit.
func (m *Model) loadsOf(sound, live *circuit.Live) circuit.Bits {
	var out circuit.Bits
	if sound == nil || live == nil {
		return out
	}
	for p, part := range m.unit.Parts {
		if hasCoil(part) {
			if live.In.Has(p) {
				out = out.With(p)
			}
			continue
		}
		for e, el := range part.Elems {
			if el.Role != circuit.Resist {
				continue
			}
			was := float64(sound.Amps(circuit.PartID(p), e))
			is := float64(live.Amps(circuit.PartID(p), e))
			if was > 0 && is*is >= workingShare*was*was {
				out = out.With(p)
			}
		}
	}
	return out
}

// Loads lists the parts that a person can see working or not: those that work in a sound
// unit switched on, contactors and relays last.
func (m *Model) Loads() []circuit.PartID {
	on, _, _ := switchedOn(m.unit)
	sound, err := m.net.Live(on, nil, nil)
	if err != nil {
		return nil
	}
	all := m.loadsOf(sound, sound)
	var loads, coils []circuit.PartID
	for p, part := range m.unit.Parts {
		switch {
		case !all.Has(p):
		case hasCoil(part):
			coils = append(coils, circuit.PartID(p))
		default:
			loads = append(loads, circuit.PartID(p))
		}
	}
	return append(loads, coils...)
}

// WorkingUnder lists the parts that work with the unit switched on under a fault of one
// specimen; for rehearsals.
func WorkingUnder(net *circuit.Network, f []circuit.Placed, act *circuit.Actual) (circuit.Bits, error) {
	m := &Model{net: net, unit: net.Unit()}
	on, _, _ := switchedOn(m.unit)
	sound, err := net.Live(on, nil, act)
	if err != nil {
		return "", err
	}
	live, err := net.Live(on, f, act)
	if errors.Is(err, circuit.ErrBuzz) || errors.Is(err, circuit.ErrRace) {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	return m.loadsOf(sound, live), nil
}
