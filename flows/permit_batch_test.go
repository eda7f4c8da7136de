package flows

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/circuit"
	"halfsplit/flows/safety"
)

// A unit that takes many readings before a switch-on is asked for a few at a time, and
// the legs count as sound only when all of them were read.
func TestPermitInPortions(t *testing.T) {
	src, err := os.ReadFile("../testdata/units/deck-oven.yaml")
	require.NoError(t, err)
	u, problems := circuit.Parse("deck-oven.yaml", src)
	require.Empty(t, problems)
	b := &bench{unit: u}
	landed, ready, _, _ := b.engine().Permit(circuit.State{})
	require.Greater(t, len(landed), checksAtOnce)
	j := Job{Opened: &Opened{Unit: u.Hash}, State: Permit, Circuit: ready,
		Facts: safety.AtWork | safety.CauseProved | safety.Mended}
	s := &step{d: New(nil), j: j, was: j, b: b}
	s.askPermit()
	require.NoError(t, s.err)
	require.NotNil(t, s.j.Asked)
	require.LessOrEqual(t, len(s.j.Asked.Tests), 7)
	require.Len(t, s.j.Asked.Wants, len(s.j.Asked.Tests))
	require.Len(t, s.j.Asked.Checks, len(s.j.Asked.Tests))
	require.False(t, s.j.Facts.Has(safety.LegsSound))
}
