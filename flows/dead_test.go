package flows_test

import (
	"strconv"
	"strings"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
)

// complains types what does not work under the truth, by the letters that are offered.
func (k *desk) complains(t testing.TB) bool {
	t.Helper()
	u := plateWarmer(t)
	works, err := isolate.WorkingUnder(circuit.NewNetwork(u), k.truth, nil)
	if err != nil {
		t.Fatal(err)
	}
	k.say("plate warmer, something in it does not work")
	k.asked("ask_dead")
	letters := ""
	for i, f := range k.j.Asked.Fields {
		n, err := strconv.Atoi(strings.TrimPrefix(f, "load:"))
		if err != nil {
			t.Fatal(f)
		}
		if !works.Has(n) {
			letters += k.j.Asked.Choices[i].Word
		}
	}
	if letters == "" {
		return false // nobody would call
	}
	k.say(letters)
	if k.j.Asked.Ask == "ask_looks" {
		k.say("all fine")
	}
	k.say("nothing before, nothing read")
	k.say("abcdefghi")
	k.say("j 121 0 0 0 0 0 0 0 121 l 0.2")
	k.state("isolate")
	return true
}

// Opens, broken wires, bad joints and contacts that never close are found from what does
// not work, mended, checked and switched on, in the dialog. Nobody is convicted wrongly.
func TestDoesNotWork(t *testing.T) {
	u := plateWarmer(t)
	d := flows.New(newShelf(t))
	jobs, found, wrong, readings := 0, 0, 0, 0
	opens := 0
	for _, f := range circuit.AllFaults(u) {
		p := circuit.Placed{Fault: f}
		switch f.Mode {
		case circuit.OpenCircuit, circuit.Broken, circuit.NeverCloses:
		case circuit.HighOhms:
			p.Ohms = 400
		default:
			continue
		}
		if opens++; testing.Short() && opens%8 != 1 {
			continue
		}
		k := newDesk(t, d)
		k.truth = []circuit.Placed{p}
		if !k.complains(t) {
			continue
		}
		jobs++
		for n := 0; n < 60 && k.j.State != flows.Verdict && k.j.Closed == nil; n++ {
			if k.j.Asked.Ask == "ask_hand_over" {
				k.say("hand over")
				continue
			}
			k.answerOne()
		}
		readings += k.j.Readings
		if k.j.State != flows.Verdict {
			t.Logf("%s: %s", f.Name(u), k.j.State)
			continue
		}
		if k.j.Verdict.Item != u.Item(f) {
			wrong++
			t.Errorf("%s: %s convicted", f.Name(u), k.j.Verdict.Item.Name(u))
			continue
		}
		found++
		if strings.Contains(k.text, "Evidence: .") || !strings.Contains(k.text, "Does that explain why this does not work") {
			t.Errorf("%s: verdict reads\n%s", f.Name(u), k.text)
		}
		k.say("yes")
		k.say("age, replaced")
		k.truth = nil
		k.toState("close_up")
		k.say("abcde")
		k.say("yes")
		k.say("held")
		k.say("held")
		k.asked("ask_works")
		k.says2("above all")
		k.say("yes")
		k.state("done")
		k.says2("dead or cold")
		k.refold()
	}
	t.Logf("%d jobs, %d found, %d wrong, %.1f readings a job", jobs, found, wrong, float64(readings)/float64(jobs))
	if wrong > 0 || jobs < 10 || found < jobs*9/10 {
		t.Errorf("%d jobs, %d found, %d wrong", jobs, found, wrong)
	}
}

// A limit found open is a symptom: nothing is reset without its cause.
func TestLimitIsASymptom(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = named(t, "high limit F1 never closes")
	k.complains(t)
	k.follow("verdict")
	k.says2("It opened for a reason")
	k.say("yes")
	k.say("reset, not known")
	k.asked("ask_hand_over")
	if k.j.State != flows.Repair {
		t.Fatalf("in %s", k.j.State)
	}
	k.say("go on")
	k.say("reset it, the fan was stuck with grease")
	if k.j.State == flows.Repair {
		t.Fatalf("a reset with its cause is not taken:\n%s", k.text)
	}
	k.refold()
}

// A supply that is gone is not in the file: it is said, and nobody is convicted.
func TestOnlyTheSupplyIsLeft(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = nil // everything in the unit is sound
	k.say("plate warmer, it's dead")
	k.say("all fine")
	k.say("nothing before")
	k.say("abcdefghi")
	k.say("j 121 0 0 0 0 0 0 0 121 l 0.2")
	for n := 0; n < 60 && k.j.Asked.Ask != "ask_hand_over"; n++ {
		if k.j.State == flows.Verdict {
			t.Fatalf("convicted:\n%s", k.text)
		}
		k.answerOne()
	}
	k.says2("ahead of the unit")
	k.refold()
}

// named is a fault by its name, without size.
func named(t testing.TB, name string) []circuit.Placed {
	t.Helper()
	u := plateWarmer(t)
	for _, f := range circuit.AllFaults(u) {
		if f.Name(u) == name {
			return []circuit.Placed{{Fault: f}}
		}
	}
	t.Fatalf("no fault %q", name)
	return nil
}
