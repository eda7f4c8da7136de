package isolate

import (
	"slices"

	"halfsplit/flows/circuit"
)

// ModeShare is one fault of an item with its share of the belief in that item.
type ModeShare struct {
	Fault    circuit.Fault `json:"fault"`
	PerMille int           `json:"permille"`
}

// Modes lists how an item may be at fault, likeliest first, with the share of each in what
// is held of the item. Shares below one per mille are left out.
func (m *Model) Modes(b *Belief, it circuit.Item) []ModeShare {
	var faults []circuit.Fault
	var sums []float64
	total := 0.0
	for i := range m.vars {
		if m.items[m.vars[i].item] != it || b.weights[i] <= 0 {
			continue
		}
		at := slices.Index(faults, m.vars[i].Fault)
		if at < 0 {
			at = len(faults)
			faults, sums = append(faults, m.vars[i].Fault), append(sums, 0)
		}
		sums[at] += b.weights[i]
		total += b.weights[i]
	}
	var out []ModeShare
	for i, f := range faults {
		if n := PerMille(sums[i] / total); n > 0 {
			out = append(out, ModeShare{Fault: f, PerMille: n})
		}
	}
	slices.SortStableFunc(out, func(a, b ModeShare) int { return b.PerMille - a.PerMille })
	return out
}
