package isolate

import (
	"math"
	"sync"

	"halfsplit/flows/quantity"
)

// expected is what the circuit says a meter would show: the resistance in ohms (+Inf
// for none) and the standard deviation of its logarithm, in octaves.
type expected struct {
	ohms   float64
	spread float64
	plan   [2]int32 // 1 + index in planTable with the leads known and not known; -1: no path; 0: not set
}

// planned fills in the indices for planning.
func (e expected) planned() expected {
	if e.ohms >= noPath {
		e.plan = [2]int32{-1, -1}
		return e
	}
	i := int(math.Round((scale(e.ohms) - scale(0)) * midSteps))
	i = min(max(i, 0), midCount-1)
	for n, leads := range []float64{leadsKnown, leadsUnknown} {
		k := int(math.Round(math.Log2(e.sdAt(leads)/sdFirst) / math.Log2(sdRatio)))
		e.plan[n] = int32(min(max(k, 0), sdCount-1)*midCount+i) + 1
	}
	return e
}

// scale maps ohms to octaves, with low ohms drawn together.
func scale(ohms float64) float64 { return math.Log2(ohms + floor) }

// sdAt returns the standard deviation in octaves of a reading of e, given that of the
// leads in ohms.
func (e expected) sdAt(leads float64) float64 {
	l := leads / (e.ohms + floor) / math.Ln2
	return math.Sqrt(e.spread*e.spread + l*l + spreadLeast*spreadLeast)
}

// binWidth is the width in octaves to which a density is turned into a probability,
// so that a number and "OL" weigh alike.
const binWidth = 0.25

// span is the width of the scale in octaves, from floor to rangeTop.
var span = math.Log2(rangeTop) - math.Log2(floor)

// flat is the probability of any one number when nothing is known.
var flat = 0.6 * binWidth / span

// flatOL is that of OL when nothing is known.
const flatOL = 0.4

// sight is a reading as the likelihood sees it.
type sight struct {
	kind sightKind
	at   float64 // octaves
	half float64 // half width in octaves of what was typed
}

type sightKind uint8

const (
	sawNothing sightKind = iota // tells nothing
	sawNumber
	sawOL
	sawAbove // at or above at
	sawBelow // at or below at
)

// see turns a reading into a sight, with the leads (negative: not known) taken off.
func see(r quantity.Reading, leads quantity.Ohms) sight {
	if leads < 0 {
		leads = leadsTypical
	}
	ohms := func(d quantity.Decimal) float64 {
		return scale(math.Max(0, d.Float64()-float64(leads)))
	}
	switch r.Class {
	case quantity.Open, quantity.OverRange:
		return sight{kind: sawOL}
	case quantity.Short:
		return sight{kind: sawBelow, at: scale(beepBelow)}
	case quantity.Value:
		switch {
		case r.Bound == quantity.AtLeast && r.Lo.Float64() >= clearFrom:
			return sight{kind: sawOL}
		case r.Bound == quantity.AtLeast:
			return sight{kind: sawAbove, at: ohms(r.Lo)}
		case r.Bound == quantity.AtMost:
			return sight{kind: sawBelow, at: ohms(r.Hi)}
		}
		lo, hi := ohms(r.Lo), ohms(r.Hi)
		s := sight{kind: sawNumber, at: (lo + hi) / 2, half: (hi - lo) / 2}
		if r.Rough {
			s.half += 0.2
		}
		if s.at-s.half >= scale(clearFrom) {
			return sight{kind: sawOL}
		}
		return s
	}
	return sight{}
}

// chance is the probability of what was seen if the meter shows e, without misreading.
func chance(s sight, e expected, leads float64) float64 {
	if s.kind == sawNothing {
		return 1
	}
	top, bottom := scale(clearFrom), scale(noPath)
	if e.ohms >= noPath {
		// Insulation: clear, or damp and dirt below that. What the circuit computes for
		// it is only the stray leak that keeps the solution finite.
		damp := insulDamp * binWidth / (top - bottom)
		switch s.kind {
		case sawOL:
			return olOnSound
		case sawNumber:
			if s.at >= bottom {
				return damp
			}
			// Damp enough to read less is rarer with every octave.
			return damp * math.Exp2(-1.5*(bottom-s.at))
		case sawAbove:
			return 0.99
		default:
			return 0.005
		}
	}
	sd := e.sdAt(leads)
	mid := scale(e.ohms)
	switch s.kind {
	case sawNumber:
		sd = math.Sqrt(sd*sd + s.half*s.half)
		z := (s.at - mid) / sd
		return math.Min(1, binWidth/(sd*math.Sqrt(2*math.Pi))*math.Exp(-z*z/2))
	case sawOL:
		return 0.0005 // a probe that made no contact
	case sawAbove:
		return below((mid - s.at) / sd)
	default:
		return below((s.at - mid) / sd)
	}
}

// chanceFlat is the probability of what was seen when nothing is known.
func chanceFlat(s sight) float64 {
	switch s.kind {
	case sawNumber:
		return flat
	case sawOL:
		return flatOL
	case sawNothing:
		return 1
	default:
		return 0.3
	}
}

// below is the standard normal distribution function.
func below(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// Outcomes of planned tests: half octaves, then damp, OL and misread.
const (
	planWidth    = 0.5
	planBins     = 55
	outDamp      = planBins
	outOL        = planBins + 1
	outMisread   = planBins + 2
	planOutcomes = planBins + 3
)

// Planning looks up distributions in a table over the middle of a reading, in steps of
// a sixteenth of an octave, and its standard deviation, in steps of a quarter.
const (
	midSteps = 16
	midCount = planBins*midSteps/2 + 1
	sdCount  = 20
	sdFirst  = 0.08
	sdRatio  = 1.25
)

var planTable = sync.OnceValue(func() []Outcomes {
	table := make([]Outcomes, 0, sdCount*midCount)
	sd := sdFirst
	for range sdCount {
		for i := range midCount {
			table = append(table, spreadOver(scale(0)+float64(i)/midSteps, sd))
		}
		sd *= sdRatio
	}
	return table
})

var planSound = Outcomes{{outDamp, insulDamp}, {outOL, 1 - insulDamp - misread}, {outMisread, misread}}

// outcomes is the distribution of what the meter will show, for planning: leads is 0
// with the shorted leads read, 1 without. The result is shared and must not be changed.
func (e expected) outcomes(table []Outcomes, leads int) Outcomes {
	if e.plan[leads] < 0 {
		return planSound
	}
	return table[e.plan[leads]-1]
}

// spreadOver is the distribution of a reading of the given middle and standard
// deviation, in octaves.
func spreadOver(mid, sd float64) Outcomes {
	base := scale(0)
	first := max(0, int((mid-3*sd-base)/planWidth))
	last := min(planBins-1, int((mid+3*sd-base)/planWidth))
	var out Outcomes
	sum := 0.0
	prev := below((base + float64(first)*planWidth - mid) / sd)
	if first == 0 {
		prev = 0
	}
	for b := first; b <= last; b++ {
		next := below((base + float64(b+1)*planWidth - mid) / sd)
		if p := next - prev; p > 1e-3 {
			out = append(out, Mass{b, p})
			sum += p
		}
		prev = next
	}
	for i := range out {
		out[i].P *= (1 - misread) / sum
	}
	return append(out, Mass{outMisread, misread})
}

// coarse maps an outcome to one of few, for tests answered together.
func coarse(outcome int) int {
	switch {
	case outcome >= planBins:
		return coarseOf - 1 - (planOutcomes - 1 - outcome)
	default:
		return min(outcome/4, coarseOf-4)
	}
}

// coarseOf is the number of coarse outcomes.
const coarseOf = 12
