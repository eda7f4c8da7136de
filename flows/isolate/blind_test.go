package isolate

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/circuit"
)

// parallel is two elements in parallel whose far wires are never lifted, behind a switch.
const parallel = `unit: Two in parallel
nameplate: {volts: 240, phases: 1, neutral: no}
sources:
  main:
    system: 120/240 split phase
    legs: [L1, L2, PE]
    lands on: {L1: X1:L1, L2: X1:L2, PE: X1:PE}
    isolator: {kind: disconnect, name: on the wall, lockable: yes, leaves connected: [PE]}
hazards: [hot surfaces]
parts:
  X1: {kind: terminal block, points: [L1, L2, PE]}
  G1: {kind: ground stud}
  S1: {kind: switch}
  E1: {kind: element, volts: 240, watts: 1000}
  E2: {kind: element, volts: 240, watts: 500}
wires:
  - X1:L1 - S1:1  black 1
  - S1:2 - E1:1   black 2
  - E1:2 - X1:L2  red 3
  - E1:1 - E2:1   black 4 FIXED
  - E1:2 - E2:2   red 5 FIXED
  - X1:PE - G1    green ?
`

// What no dead test sees on the plate warmer is so by the kind of the part: the limit
// cannot be opened by hand, so that it is welded does not show.
func TestBlindnessOfTheWarmer(t *testing.T) {
	m := warmer(t)
	blind, alike := Blindness(m.Network())
	require.Empty(t, alike)
	var names []string
	for _, b := range blind {
		require.Equal(t, ByKind, b.Why, b.Fault.Name(m.Unit()))
		names = append(names, b.Fault.Name(m.Unit()))
	}
	require.Equal(t, []string{"high limit F1 welded"}, names)
	require.Empty(t, BlindProblems(m.Network()))
}

// With all wires to be lifted everything is told apart. With the wires between two
// elements fixed, an earth on one looks like an earth on the other: 57.6 and 115.2 Ω in
// parallel, both ends low to the frame. Which of them is burnt through is seen from what
// is left: 115.2 or 57.6 Ω where 38.4 Ω is sound.
func TestBlindnessOfPartsInParallel(t *testing.T) {
	free := modelOf(t, "t.yaml", strings.ReplaceAll(parallel, " FIXED", ""))
	blind, alike := Blindness(free.Network())
	require.Empty(t, blind)
	require.Empty(t, alike)

	m := modelOf(t, "t.yaml", strings.ReplaceAll(parallel, "FIXED", "fixed"))
	blind, alike = Blindness(m.Network())
	require.Empty(t, blind)
	require.NotEmpty(t, alike)
	e1, e2 := circuit.PartItem(part(t, m, "E1")), circuit.PartItem(part(t, m, "E2"))
	g := alike[0]
	require.Equal(t, []circuit.Item{e1, e2}, g.Items)
	for _, f := range g.Faults {
		require.NotEqual(t, circuit.OpenCircuit, f.Mode)
	}
	problems := BlindProblems(m.Network())
	require.NotEmpty(t, problems)
	at := slices.Index(strings.Split(parallel, "\n"), "  E1: {kind: element, volts: 240, watts: 1000}") + 1
	require.Equal(t, at, problems[0].Line)
	require.Contains(t, problems[0].Found, "element E2")
}

// A tolerance of 1 to 50,000 Ω hides shorted turns, one of 15 to 80 Ω does not.
func TestBlindnessByTolerance(t *testing.T) {
	vague := strings.Replace(strings.ReplaceAll(parallel, " FIXED", ""), "watts: 1000", "ohms: 1-50000", 1)
	m := modelOf(t, "t.yaml", vague)
	blind, _ := Blindness(m.Network())
	require.Len(t, blind, 1)
	require.Equal(t, ByTolerance, blind[0].Why)
	require.Equal(t, "element E1 shorted turns", blind[0].Fault.Name(m.Unit()))

	narrow := strings.Replace(vague, "1-50000", "15-80", 1)
	blind, _ = Blindness(modelOf(t, "t.yaml", narrow).Network())
	require.Empty(t, blind)
}
