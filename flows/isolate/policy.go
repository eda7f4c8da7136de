package isolate

import "halfsplit/flows/quantity"

// The policy by which the belief is judged, one table.
const (
	// convictAt is the share of the belief from which an item is a suspect to be
	// confirmed.
	convictAt = 0.97
	// groupMost is the most items that are named together when no reading splits them.
	groupMost = 3
	// confirmRatio is how much likelier a confirming reading must be with the item at
	// fault than with any other fault of the unit.
	confirmRatio = 20
	// unknownPrior is the share of "something this unit file does not know" before any
	// reading; unknownPartial that for a file marked partial.
	unknownPrior   = 0.02
	unknownPartial = 0.06
	// unknownLimit is where guessing stops and a person is called.
	unknownLimit = 0.30
	// unknownSound is the chance that a reading looks sound although the fault is one
	// that the file does not know; otherwise it may be anything.
	unknownSound = 0.6
	// misread is the chance that a reading is wrong for no reason the circuit knows:
	// wrong points, wrong range, wrong key. Repeats at the same points in the same
	// state share one such chance.
	misread = 0.02
	// stillOn is the chance that a wire next to the probe that should be off was not.
	// It is the commonest error on site (common practice, no source).
	stillOn = 0.015
	// toldWrong is the chance that what a person says of the complaint is not so.
	toldWrong = 0.04
	// trialWrong is the same for the outcome of a trial: held or tripped.
	trialWrong = 0.01
	// clearBelow is the share under which an item counts as cleared; so does one that is
	// below clearSoon and has lost seven eighths of the share it had before any reading.
	clearBelow = 0.002
	clearSoon  = 0.02
	clearLost  = 1.0 / 8
	// least is the gain in bits below which a test is not worth asking for.
	least = 0.02
)

// The meter, and how vague low ohms are.
const (
	// floor is added to a resistance before its logarithm is taken, in ohms.
	floor = 0.5
	// leadsKnown and leadsUnknown are the standard deviations, in ohms, of what leads
	// and probe contact add, once the shorted leads were read and when they were not.
	leadsKnown   = 0.25
	leadsUnknown = 1.0
	// leadsTypical is subtracted when the leads were not read, in ohms.
	leadsTypical quantity.Ohms = 0.2
	// spreadLeast is the least standard deviation of a reading, in octaves: meter,
	// temperature, how a sound part ages.
	spreadLeast = 0.08
	// spreadFault is added for a reading that a fault shapes, in octaves: sizes and
	// positions between those on the grid.
	spreadFault = 0.25
	// noPath is the resistance from which there is no path but insulation, in ohms.
	noPath = 3e5
	// rangeTop is the end of a meter's range, in ohms (about 40 to 60 MΩ).
	rangeTop = 4e7
	// clearFrom is the resistance from which a reading counts like OL: on a meter of 1 to
	// 3 V it is dirt, moisture or fingers, not a fault that draws current (common
	// practice, no source).
	clearFrom = 1e6
	// olOnSound is the chance that sound insulation reads OL or above clearFrom; insulDamp
	// that it reads between noPath and clearFrom.
	olOnSound = 0.96
	insulDamp = 0.03
	// beepBelow is the resistance under which "beeps" or "short" is said, in ohms.
	beepBelow = 30
)

// Cost is the working time of each act, in minutes. Source: our own trial, invented
// to start with; a unit file may override each by its key.
type Cost struct {
	Probe, More, Lift, Land, Move, Neutral, Prove, Cover float64
}

// Minutes is the working time of acts and of a number of readings at one place after
// them, by the cost table: lifts with landing, covers off and on with the proof of dead
// behind them, the check of the neutral before it is lifted.
func (m *Model) Minutes(acts []Act, readings int) float64 {
	total := 0.0
	opensN := false
	for _, a := range acts {
		switch a.Kind {
		case OpenCover:
			total += m.coverCost(a.Cover) + m.cost.Prove
		case Lift:
			total += m.cost.Lift + m.cost.Land
			opensN = opensN || m.IsNeutral(a.End)
		case Move:
			total += 2 * m.cost.Move
		}
	}
	if opensN {
		total += m.cost.Neutral
	}
	if readings > 0 {
		total += m.cost.Probe + float64(readings-1)*m.cost.More
	}
	return total
}

// costOf returns the cost table with the overrides of a unit file.
func costOf(over map[string]quantity.Minutes) Cost {
	c := Cost{
		Probe:   0.5, // first reading at a place
		More:    0.3, // each further one there
		Lift:    1.5,
		Land:    1.0,
		Move:    0.2,
		Neutral: 1.0, // volts and amps on the neutral before it is lifted
		Prove:   1.5, // a compartment just opened
		Cover:   4.0, // where the unit file gives no minutes
	}
	for _, o := range []struct {
		key string
		at  *float64
	}{
		{"probe", &c.Probe}, {"next probe", &c.More}, {"lift", &c.Lift}, {"land", &c.Land},
		{"switch", &c.Move}, {"neutral", &c.Neutral}, {"prove", &c.Prove}, {"cover", &c.Cover},
	} {
		if m, ok := over[o.key]; ok {
			*o.at = float64(m)
		}
	}
	return c
}
