package safety_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/safety"
)

// Phrases as people on site type them. Common practice, no source.
var phrases = []struct {
	text string
	kind safety.Kind
	sure safety.Certainty
}{
	// At once.
	{"I got shocked", safety.Shock, safety.Now},
	{"i just got a shock off the frame", safety.Shock, safety.Now},
	{"got a nasty electric shock", safety.Shock, safety.Now},
	{"it shocked me", safety.Shock, safety.Now},
	{"the cook was electrocuted", safety.Shock, safety.Now},
	{"he got zapped", safety.Shock, safety.Now},
	{"I've been shocked", safety.Shock, safety.Now},
	{"it bit me", safety.Shock, safety.Now},
	{"got a belt off it", safety.Shock, safety.Now},
	{"i got electricuted", safety.Shock, safety.Now},
	{"SHOCK!!", safety.Shock, safety.Now},
	{"he's down", safety.Injury, safety.Now},
	{"hes down", safety.Injury, safety.Now},
	{"He’s down, help", safety.Injury, safety.Now},
	{"my mate is down and not moving", safety.Injury, safety.Now},
	{"man down", safety.Injury, safety.Now},
	{"she's unconscious", safety.Injury, safety.Now},
	{"he's not breathing", safety.Injury, safety.Now},
	{"the chef collapsed", safety.Injury, safety.Now},
	{"call an ambulance", safety.Injury, safety.Now},
	{"i burned my hand", safety.Injury, safety.Now},
	{"cut my finger", safety.Injury, safety.Now},
	{"i'm hurt", safety.Injury, safety.Now},
	{"someone is hurt here", safety.Injury, safety.Now},
	{"smell gas", safety.Gas, safety.Now},
	{"I smell gas", safety.Gas, safety.Now},
	{"it smells of gas in here", safety.Gas, safety.Now},
	{"strong gas smell", safety.Gas, safety.Now},
	{"there is a gas leak", safety.Gas, safety.Now},
	{"it's on fire", safety.Fire, safety.Now},
	{"its on fire", safety.Fire, safety.Now},
	{"fire!", safety.Fire, safety.Now},
	{"there's a fire behind the oven", safety.Fire, safety.Now},
	{"the cord caught fire", safety.Fire, safety.Now},
	{"flames coming out the back", safety.Fire, safety.Now},
	{"there's smoke coming from the box", safety.Fire, safety.Now},
	{"it's smoking now", safety.Fire, safety.Now},
	{"it started smoking", safety.Fire, safety.Now},
	{"arc flash", safety.Arc, safety.Now},
	{"it arced when i touched it", safety.Arc, safety.Now},
	{"contactor is arcing", safety.Arc, safety.Now},
	{"big blue flash", safety.Arc, safety.Now},
	{"sparks flying everywhere", safety.Arc, safety.Now},
	{"there was a loud bang", safety.Bang, safety.Now},
	{"it went bang", safety.Bang, safety.Now},
	{"the capacitor exploded", safety.Bang, safety.Now},
	{"something blew up", safety.Bang, safety.Now},
	{"kitchen is flooding", safety.Flood, safety.Now},
	{"water pouring in under the unit", safety.Flood, safety.Now},
	{"standing in water here", safety.Flood, safety.Now},
	{"i felt a tingle", safety.Tingle, safety.Now},
	{"saw a spark", safety.Spark, safety.Now},
	{"it tripped and now it's on fire", safety.Fire, safety.Now},
	{"no reading. he's down", safety.Injury, safety.Now},
	{"not just smoke, it's on fire", safety.Fire, safety.Now},
	{"burnt terminal yesterday. now it's on fire", safety.Fire, safety.Now},
	{"no, it's on fire", safety.Fire, safety.Now},

	// It may only describe.
	{"burnt terminal", safety.Fire, safety.Maybe},
	{"burning smell yesterday", safety.Fire, safety.Maybe},
	{"smells like burning", safety.Fire, safety.Maybe},
	{"won't fire", safety.Fire, safety.Maybe},
	{"the burner wont fire up", safety.Fire, safety.Maybe},
	{"shock absorber", safety.Shock, safety.Maybe},
	{"fired up", safety.Fire, safety.Maybe},
	{"fired it up and it tripped", safety.Fire, safety.Maybe},
	{"smoke alarm tested", safety.Fire, safety.Maybe},
	{"it was on fire last week", safety.Fire, safety.Maybe},
	{"the cook got shocked yesterday", safety.Shock, safety.Maybe},
	{"i was shocked at the mess", safety.Shock, safety.Maybe},
	{"could it catch fire", safety.Fire, safety.Maybe},
	{"what if i get a shock", safety.Shock, safety.Maybe},
	{"arc marks on the contacts", safety.Arc, safety.Maybe},
	{"signs of arcing at T1", safety.Arc, safety.Maybe},
	{"breaker goes with a bang", safety.Bang, safety.Maybe},
	{"flooded last month", safety.Flood, safety.Maybe},
	{"wire 14 is burnt", safety.Fire, safety.Maybe},
	{"spark plug", safety.Spark, safety.Maybe},
	{"he went down to the panel", safety.Injury, safety.Maybe},
	{"smoked the last one", safety.Fire, safety.Maybe},
	{"water leaking on the floor", safety.Flood, safety.Maybe},

	// Nothing of the kind.
	{"13, ol, ol", safety.NoDanger, safety.Unsaid},
	{"plate warmer, breaker goes as soon as I flip the switch", safety.NoDanger, safety.Unsaid},
	{"nobody hurt, no gas, no smoke, no water", safety.NoDanger, safety.Unsaid},
	{"no gas, smoke or fire", safety.NoDanger, safety.Unsaid},
	{"no smell of gas", safety.NoDanger, safety.Unsaid},
	{"nobody got shocked", safety.NoDanger, safety.Unsaid},
	{"it's not on fire", safety.NoDanger, safety.Unsaid},
	{"no smoke here", safety.NoDanger, safety.Unsaid},
	{"gas fryer next to it", safety.NoDanger, safety.Unsaid},
	{"breaker is down", safety.NoDanger, safety.Unsaid},
	{"unit is down", safety.NoDanger, safety.Unsaid},
	{"contactor is not responding", safety.Injury, safety.Maybe},
	{"meter isn't responding", safety.NoDanger, safety.Unsaid},
	{"k1 is on, board is down", safety.NoDanger, safety.Unsaid},
	{"burner 2 reads 18 ohm", safety.NoDanger, safety.Unsaid},
	{"it works now", safety.NoDanger, safety.Unsaid},
	{"tripped again", safety.NoDanger, safety.Unsaid},
	{"the search coil is fine", safety.NoDanger, safety.Unsaid},
	{"can i jump the limit", safety.NoDanger, safety.Unsaid},
	{"a bit of grease on it", safety.NoDanger, safety.Unsaid},
	{"put the cover down", safety.NoDanger, safety.Unsaid},
	{"k", safety.NoDanger, safety.Unsaid},
	{"", safety.NoDanger, safety.Unsaid},
}

func TestDanger(t *testing.T) {
	for _, p := range phrases {
		kind, sure := safety.Danger(p.text)
		if kind != p.kind || sure != p.sure {
			t.Errorf("%q: got %v %d, want %v %d", p.text, kind, sure, p.kind, p.sure)
		}
	}
	require.GreaterOrEqual(t, len(phrases), 80)
}

func TestKinds(t *testing.T) {
	for _, k := range []safety.Kind{safety.Fire, safety.Shock, safety.Injury} {
		require.True(t, k.Grave() && k.Stops(), "%v", k)
	}
	for _, k := range []safety.Kind{safety.Gas, safety.Arc, safety.Bang, safety.Flood} {
		require.True(t, !k.Grave() && k.Stops(), "%v", k)
	}
	for _, k := range []safety.Kind{safety.NoDanger, safety.Spark, safety.Tingle} {
		require.False(t, k.Grave() || k.Stops(), "%v", k)
	}
}

func TestStop(t *testing.T) {
	for _, text := range []string{"stop", "STOP", "Stop!", "stop stop stop", "please stop", "stop now", "ok stop",
		"stop. something is wrong", "stop it", "halt", "stop everything", "STOP, now"} {
		require.True(t, safety.Stop(text), "%q", text)
	}
	for _, text := range []string{"", "the stop button is broken", "it won't stop", "e-stop pulled out", "emergency stop is out",
		"full stop lamp", "stop by the office later", "nonstop", "how do i stop the fan", "stopped at 12 ohm"} {
		require.False(t, safety.Stop(text), "%q", text)
	}
}

// What is dangerous now stays so, whatever stands before it in its own sentence or
// around it, however it is written; nothing panics.
func FuzzDanger(f *testing.F) {
	for _, p := range phrases {
		f.Add(p.text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		kind, sure := safety.Danger(text)
		if (kind == safety.NoDanger) != (sure == safety.Unsaid) {
			t.Fatalf("%q: %v with certainty %d", text, kind, sure)
		}
		for _, loud := range []string{"it's on fire", "I got shocked", "he's down", "smell gas"} {
			if _, sure := safety.Danger(text + ". " + loud); sure != safety.Now {
				t.Fatalf("%q hides %q", text, loud)
			}
			if _, sure := safety.Danger(loud + "! " + text); sure != safety.Now {
				t.Fatalf("%q hides %q", text, loud)
			}
		}
		if k2, s2 := safety.Danger("  " + strings.ReplaceAll(text, " ", "   ") + " "); k2 != kind || s2 != sure {
			t.Fatalf("%q: blanks change %v %d to %v %d", text, kind, sure, k2, s2)
		}
		if safety.Stop(text) && !safety.Stop(text+" . stop") {
			t.Fatalf("%q: a second stop takes the first back", text)
		}
	})
}
