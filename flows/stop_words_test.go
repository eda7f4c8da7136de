package flows_test

import "testing"

// Stop is stop in any wording, also beside a reading; a word that only has it inside is
// not.
func TestStopInAnyWording(t *testing.T) {
	for _, text := range []string{"stop please", "STOP NOW", "ok stop", "13 ohm. stop", "halt", "stop everything"} {
		k := newDesk(t, nil)
		k.truth = earthedElement(t, "E1")
		k.toIsolate()
		k.say(text)
		k.state("stopped")
		k.refold()
	}
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	k.say("how do i stop the fan")
	k.state("isolate")
}
