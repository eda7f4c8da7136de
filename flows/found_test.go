package flows

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
)

// A second way of being at fault that comes to a fifth of the item's share is named beside
// the first; a smaller one is not.
func TestFoundName(t *testing.T) {
	src, err := os.ReadFile("../testdata/units/plate-warmer.yaml")
	require.NoError(t, err)
	u, problems := circuit.Parse("plate-warmer.yaml", src)
	require.Empty(t, problems)
	var e1, coil []circuit.Fault
	for _, f := range circuit.AllFaults(u) {
		switch f.Name(u) {
		case "element E1 earthed", "element E1 shorted turns":
			e1 = append(e1, f)
		case "contactor K1 coil shorted", "contactor K1 coil earthed":
			coil = append(coil, f)
		}
	}
	require.Len(t, e1, 2)
	require.Len(t, coil, 2)
	name := func(list []circuit.Fault, shares ...int) string {
		var all []isolate.ModeShare
		for i, f := range list {
			all = append(all, isolate.ModeShare{Fault: f, PerMille: shares[i]})
		}
		return foundName(u, Judgement{Item: u.Item(list[0]), Fault: list[0], Modes: closeModes(all)})
	}
	require.Equal(t, e1[0].Name(u), name(e1, 801, 199))
	require.Equal(t, "element E1 earthed or with shorted turns", name(e1, 800, 200))
	require.Equal(t, "contactor K1 coil shorted or coil earthed", name([]circuit.Fault{coil[0], coil[1]}, 600, 400))
	require.Equal(t, "element E1 earthed", foundName(u, Judgement{Item: u.Item(e1[0]), Fault: e1[0]}), "a trail of an earlier release holds no modes")
}
