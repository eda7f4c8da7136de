package safety

import (
	"math"
	"time"

	"halfsplit/flows/quantity"
)

// Limits of the gates. † marks common practice, no source.
const (
	// DeadBelow is the settled reading below which a pair is dead †.
	DeadBelow quantity.Volts = 3
	// LiveFrom is the reading from which a pair is live: back off †. Between the two a
	// low-impedance mode tells a coupled voltage from a real one: a coupled one falls to
	// near nothing across about 3 kΩ (instrument articles).
	LiveFrom quantity.Volts = 30
	// FrameLimit is the greatest resistance from frame to ground pin or known ground †.
	FrameLimit quantity.Ohms = 0.2
	// SoundShare is the least share of the computed sound value from leg to leg and leg
	// to neutral, read on the load side †.
	SoundShare = 0.9
	// ClearAbove is what each leg and neutral to frame must be above on a multimeter †.
	ClearAbove quantity.Ohms = 1e6
	// TripVeto is the computed chance of a trip, in per mille, from which a switch-on is
	// vetoed. A lower one never permits anything.
	TripVeto = 50
	// ProofLasts is the longest pause after which a proof of dead still holds †.
	ProofLasts = 30 * time.Minute
	// SilenceLasts is the longest silence in a live test or a switch-on before somebody
	// is asked to phone the site †.
	SilenceLasts = 5 * time.Minute
	// InsulationVolts is the dc test voltage for units on up to 500 V (IEC 60364-6 table
	// 6A, from memory).
	InsulationVolts quantity.Volts = 500
	// BigHeater is the power above which a heating unit has the lower insulation limit
	// (EN 50699 and EN 50678 for class I heating above 3.5 kW, from memory).
	BigHeater quantity.Watts = 3500
)

// Finding is what a voltage between two conductors means for proving dead.
type Finding uint8

// The findings.
const (
	NotRead  Finding = iota // not a number: nothing is proved
	IsDead                  // below DeadBelow
	LowVolts                // find it in low-impedance mode
	IsLive                  // back off
)

// FindingOf says what a settled reading between two conductors means. The sign of a
// dc reading does not matter. An infinite reading is live; one that is no number
// proves nothing.
func FindingOf(v quantity.Volts) Finding {
	abs := quantity.Volts(math.Abs(float64(v)))
	switch {
	case math.IsNaN(float64(v)):
		return NotRead
	case abs < DeadBelow:
		return IsDead
	case abs < LiveFrom:
		return LowVolts
	}
	return IsLive
}

// InsulationLimit returns the least insulation resistance at 500 V dc that permits a
// switch-on: 1 MΩ, or 0.3 MΩ for a heating unit rated above 3.5 kW.
func InsulationLimit(heater bool, rated quantity.Watts) quantity.Ohms {
	if heater && rated > BigHeater {
		return 0.3e6
	}
	return 1e6
}

// Pairs returns every pair of conductors that must be proved dead, n(n-1)/2 of them,
// in the order of the list: the first with each later one, then the second, and so
// on. The list includes PE. Source: GS38; 29 CFR 1910.333(b)(2)(iv)(B).
func Pairs(conductors []string) [][2]string {
	var pairs [][2]string
	for i, a := range conductors {
		for _, b := range conductors[i+1:] {
			pairs = append(pairs, [2]string{a, b})
		}
	}
	return pairs
}
