package flows_test

import (
	"encoding/json"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows"
)

// A trail judged by this engine comes out the same, also by a dialog that was made
// afresh and from stored JSON; one that was judged otherwise is reported at its place, and
// the fold does not mind.
func TestRederive(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	k.follow("verdict")
	fresh := flows.New(newShelf(t))
	diff, err := fresh.Rederive(k.trail)
	require.NoError(t, err)
	require.Empty(t, diff)

	judged := slices.IndexFunc(k.trail, func(l flows.Logged) bool { _, ok := l.Event.(flows.Judged); return ok })
	require.GreaterOrEqual(t, judged, 0)
	other := slices.Clone(k.trail)
	e := other[judged].Event.(flows.Judged)
	e.Items = slices.Clone(e.Items)
	e.Items[0].PerMille += 7
	other[judged].Event = e
	diff, err = fresh.Rederive(other)
	require.NoError(t, err)
	require.Len(t, diff, 1)
	require.Equal(t, other[judged].Seq, diff[0].Seq)
	require.Equal(t, diff[0].Is.Items[0].PerMille+7, diff[0].Was.Items[0].PerMille)

	raw, err := json.Marshal(e)
	require.NoError(t, err)
	var back flows.Judged
	require.NoError(t, json.Unmarshal(raw, &back))
	require.Equal(t, e, back)
}
