package flows_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// "Can't reach K1" is about the reading on K1 that was asked for, whichever of its
// terminals that was: it is not asked for again.
func TestCannotReachAPartByItsTag(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	require.Len(t, k.j.Asked.Tests, 1)
	was := k.j.Asked.Tests[0]
	u, err := k.d.Unit(k.j)
	require.NoError(t, err)
	tag := u.Parts[u.Terms[was.A].Part].Tag
	k.say("can't reach " + strings.ToLower(tag))
	for _, test := range k.j.Asked.Tests {
		require.NotEqual(t, was.Key, test.Key)
	}
	k.refold()
}
