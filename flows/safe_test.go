package flows_test

import (
	"strings"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/isolate"
	"halfsplit/flows/safety"
)

func (k *desk) toCard() {
	k.t.Helper()
	k.say("plate warmer, breaker goes as soon as I flip the switch")
	k.say("cook did it 3 times, nothing yet")
	k.asked("ask_safe_card")
}

func (k *desk) says2(want string) {
	k.t.Helper()
	if !strings.Contains(k.text, want) {
		k.t.Fatalf("want %q in:\n%s", want, k.text)
	}
}

func TestIntakeAsksOnlyWhatIsMissing(t *testing.T) {
	for _, c := range []struct {
		texts []string
		asked string
	}{
		{[]string{"hi"}, "ask_unit"},
		{[]string{"plate warmer"}, "ask_complaint"},
		{[]string{"plate warmer", "at once"}, "ask_when"},
		{[]string{"plate warmer pops the breaker at once"}, "ask_when"},
		{[]string{"plate warmer, breaker goes as soon as I flip the switch"}, "ask_tried"},
		{[]string{"it trips instantly", "a"}, "ask_when"},
		{[]string{"plate warmer keeps tripping"}, "ask_complaint"},
		{[]string{"plate warmer doesn't heat"}, "ask_dead"},
		{[]string{"plate warmer, top shelf doesn't heat, rest works"}, "ask_tried"},
		{[]string{"plate warmer, it's dead"}, "ask_looks"},
		{[]string{"plate warmer, it's dead", "all fine"}, "ask_tried"},
		{[]string{"plate warmer trips after an hour"}, "ask_hand_over"},
		{[]string{"plate warmer trips the gfci"}, "ask_hand_over"},
		{[]string{"plate warmer", "at once", "breaker"}, "ask_tried"},
		{[]string{"plate warmer", "at once", "not sure"}, "ask_tried"},
	} {
		k := newDesk(t, nil)
		for _, text := range c.texts {
			k.say(text)
		}
		if k.j.Asked == nil || string(k.j.Asked.Ask) != c.asked {
			t.Errorf("%q: asked %+v, want %s; said:\n%s", c.texts, k.j.Asked, c.asked, k.text)
		}
	}
	// Another complaint is not worked on; with consent it is handed over.
	k := newDesk(t, nil)
	k.say("plate warmer is too hot")
	k.says2("two complaints")
	k.say("hand over")
	k.state("handed_over")
	k.says2("ASK:")
	k.refold()
}

func TestCardInPartsAndOutOfOrder(t *testing.T) {
	k := newDesk(t, nil)
	k.toCard()
	if got := k.j.Tell("resets"); got != "3" {
		t.Errorf("resets %q", got)
	}
	// A blanket done sets nothing.
	for _, text := range []string{"done", "all done", "yes", "all"} {
		k.say(text)
		if k.j.Facts != 0 {
			t.Fatalf("%q set %v", text, k.j.Facts)
		}
	}
	k.says2("letter")
	// Out of order: what waits for an earlier tick is not set.
	k.say("f g")
	if k.j.Facts != 0 {
		t.Fatalf("out of order set %v", k.j.Facts)
	}
	k.say("a b c")
	k.say("kitchen told, f")
	if want := safety.NobodyHurt | safety.Qualified | safety.KitReady | safety.SourcesRead | safety.KitchenTold; k.j.Facts != want {
		t.Fatalf("facts %v, want %v", k.j.Facts, want)
	}
	if n := len(k.j.Asked.Fields); n != 5 {
		t.Errorf("asks again for %v", k.j.Asked.Fields)
	}
	// A denial ticks nothing.
	k.say("e but f is not open yet")
	if k.j.Facts.Has(safety.Isolated) || k.j.Facts.Has(safety.UnitOff) {
		t.Fatalf("a denial set %v", k.j.Facts)
	}
	k.tap("tick:switch")
	if !k.j.Facts.Has(safety.UnitOff) {
		t.Fatal("a tap on a tick did nothing")
	}
	k.say("fghi")
	k.asked("ask_cover")
	k.say("j")
	k.state("prove")
	k.say("121 0 0 0")
	if !k.j.Facts.Has(safety.KnownBefore) || k.j.Facts.Has(safety.PairsDead) {
		t.Fatalf("facts %v", k.j.Facts)
	}
	k.say("N-PE 0, L2-PE 0, L2-N 0")
	k.say("K1-load 0.1")
	if !k.j.Facts.Has(safety.PairsDead) {
		t.Fatalf("pairs: %v; said %s", k.j.Facts, k.text)
	}
	k.say("121")
	k.asked("ask_guarded")
	k.say("l")
	k.state("isolate")
	k.refold()
}

func TestProofFindsWhatIsNotDead(t *testing.T) {
	prove := func(values string) *desk {
		k := newDesk(t, nil)
		k.toCard()
		k.say("abcdefghi")
		k.say("j " + values + " l")
		return k
	}
	k := prove("121 208 0 0 0 0 0 0 121")
	k.state("make_safe")
	k.says2("back off")
	if k.j.Facts.Has(safety.Isolated) || k.j.Facts.Has(safety.SourcesRead) {
		t.Errorf("live found keeps %v", k.j.Facts)
	}
	k = prove("121 0 0 0 0 0 12 0 121")
	k.state("prove")
	k.says2("low impedance")
	if k.j.Facts.Has(safety.KnownBefore) {
		t.Error("low volts keep the proof")
	}
	k.say("121 0 0 0 0 0 0 0 121 l")
	k.state("isolate")
	k = prove("0 0 0 0 0 0 0 0 0")
	k.state("prove")
	k.says2("cannot be relied on")
	k = prove("121 0 0 0 0 0 0 0 0")
	k.state("prove")
	if k.j.Facts.Has(safety.KnownBefore) {
		t.Error("a tester that failed afterwards keeps its proof")
	}
	k = prove("121 0 0 0 0 0 0 0 ol")
	k.state("prove")
	if k.j.Facts.Has(safety.KnownAfter) {
		t.Error("OL on volts counts as a known source")
	}
	// Just below and at the limits (design §8, rule 4; common practice, no source).
	for _, c := range []struct {
		value, state string
	}{{"2.9", "isolate"}, {"3", "prove"}, {"29.9", "prove"}, {"30", "make_safe"}} {
		k := prove("121 0 0 0 0 0 " + c.value + " 0 121")
		k.state(c.state)
	}
}

func TestPersonBelowLevelDoesNotOpen(t *testing.T) {
	k := newDesk(t, nil)
	k.rights.May = flows.MayLook
	k.say("plate warmer, breaker goes as soon as I flip the switch")
	k.say("not reset, nothing before")
	k.state("look_only")
	k.asked("ask_look")
	k.say("scorch mark at the cord grommet")
	k.asked("ask_hand_over")
	k.say("hand over")
	k.state("handed_over")
	k.refold()
	// Nor after the first tick, should the rights have changed since.
	k = newDesk(t, nil)
	k.toCard()
	k.rights.May = flows.MayLook
	k.say("abcdefghi")
	k.state("look_only")
	if k.j.Facts.Has(safety.KitReady) {
		t.Errorf("facts %v", k.j.Facts)
	}
}

func TestCannotOnSafetyNeverLeadsOn(t *testing.T) {
	k := newDesk(t, nil)
	k.toCard()
	k.say("abcdef")
	had := k.j.Facts
	k.say("can't lock it, no lock here")
	k.says2("tag it")
	if k.j.Facts != had {
		t.Fatalf("can't set %v", k.j.Facts&^had)
	}
	k.asked("ask_safe_card")
	k.say("can't do that")
	k.asked("ask_hand_over")
	if k.j.Facts != had {
		t.Fatalf("can't set %v", k.j.Facts&^had)
	}
	k.say("go on")
	k.asked("ask_safe_card")
	if k.j.Asked.Fields[0] != "tick:locked" {
		t.Errorf("asks for %v", k.j.Asked.Fields)
	}
}

func TestNeutralIsCheckedBeforeItIsLifted(t *testing.T) {
	// In every job with a fault, a prompt that lifts a neutral comes only with the fact.
	u := plateWarmer(t)
	for _, tag := range []string{"E1", "E3", "H1", "M1", "K1"} {
		k := newDesk(t, nil)
		k.truth = earthedElement(t, tag)
		k.toIsolate()
		for range 30 {
			if k.j.State == flows.Verdict || k.j.State == flows.HandedOver {
				break
			}
			k.answerOne()
			p := k.j.Asked
			if p == nil {
				break
			}
			for _, a := range p.Acts {
				if a.Kind != isolate.Lift {
					continue
				}
				w, _ := a.End.Wire()
				for _, end := range u.Wires[w].Ends {
					if u.Terms[end].Name == "N" && u.Parts[u.Terms[end].Part].Tag == "X1" {
						if !k.j.Facts.Has(safety.NeutralDead) {
							t.Fatalf("%s: asked to lift the neutral unchecked:\n%s", tag, k.text)
						}
					}
				}
			}
		}
	}
	// The check itself: volts or amps on it keep it on.
	k := newDesk(t, nil)
	k.toIsolate()
	k.say("lifted 9 at X1")
	k.asked("ask_neutral")
	k.say("done")
	k.says2("Type the two numbers")
	k.say("0.4 1.2")
	k.state("make_safe")
	k.says2("in use")
	k.refold()
}
