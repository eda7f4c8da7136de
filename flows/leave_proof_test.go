package flows_test

import "testing"

// Leaving with a proof of dead that has lapsed leads through a new proof to leaving, and
// not in circles.
func TestLeaveWithAnOldProof(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	k.fire("proof_old")
	k.state("prove")
	k.say("stuck")
	k.say("leave safe")
	k.state("prove")
	k.say("208 0 0 0 0 0 0 0 208 l")
	k.state("leave_safe")
	k.refold()
}
