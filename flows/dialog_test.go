package flows_test

import (
	"fmt"
	"os"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/safety"
)

func earthedElement(t testing.TB, tag string) []circuit.Placed {
	u := plateWarmer(t)
	for p, part := range u.Parts {
		if part.Tag == tag {
			return []circuit.Placed{{Fault: circuit.Fault{Mode: circuit.Earthed, Part: circuit.PartID(p), Elem: 0, Wire: circuit.None, End: circuit.None}, Ohms: 0.4, At: 0.004}}
		}
	}
	t.Fatal("no part ", tag)
	return nil
}

func TestWholeJob(t *testing.T) {
	k := newDesk(t, nil)
	defer k.show()
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	k.follow("verdict")
	k.say("yes")
	k.asked("ask_mended")
	k.say("grease")
	k.say("replaced")
	k.truth = nil
	for i := 0; i < 60 && k.j.State != flows.CloseUp; i++ {
		switch k.j.Asked.Ask {
		case "ask_land", "ask_all_landed":
			u, _ := k.d.Unit(k.j)
			text := ""
			for _, a := range k.j.Asked.Acts {
				text += u.EndPoint(a.End).Short() + ", "
			}
			k.say(text)
		case "ask_insulation":
			k.say("200 Mohm")
		default:
			k.answerOne()
		}
	}
	k.state("close_up")
	k.say("abcde")
	k.asked("ask_site")
	k.say("yes")
	k.asked("ask_switch_on")
	k.say("held")
	k.say("held")
	k.asked("ask_works")
	k.say("yes, 4.5 A and 4.4 A")
	k.state("done")
	k.refold()
}

// show prints the job if asked to.
func (k *desk) show() {
	if os.Getenv("SHOW") != "" {
		u, _ := k.d.Unit(k.j)
		fmt.Println(flows.Transcript(u, k.trail...))
		fmt.Println(k.says, "messages")
	}
}

// A fault that is still there after the repair does not get past the permit readings
// (29 CFR 1910.334(b)(2)); nothing is switched on.
func TestPermitCatchesWhatIsLeft(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	k.follow("verdict")
	k.say("yes")
	k.say("age, replaced") // but the fault is still there
	for i := 0; i < 40 && k.j.Facts.Has(safety.Mended); i++ {
		switch k.j.Asked.Ask {
		case "ask_land", "ask_all_landed":
			k.say(k.wiresNamed())
		default:
			k.answerOne()
		}
		if k.j.State == flows.CloseUp || k.j.State == flows.SwitchOn {
			t.Fatalf("in %s with the fault still there:\n%s", k.j.State, k.text)
		}
	}
	k.state("isolate")
	k.refold()
}

// Without a tester for the 500 V test that a new element calls for, it is left safe.
func TestNoInsulationTester(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toMended()
	for i := 0; i < 40 && k.j.Asked.Ask != "ask_insulation"; i++ {
		if k.j.Asked.Ask == "ask_land" {
			k.say(k.wiresNamed())
			continue
		}
		k.answerOne()
	}
	k.asked("ask_insulation")
	low := k.fork()
	low.say("0.2 Mohm")
	if low.j.Facts.Has(safety.Insulated) {
		t.Error("0.2 MΩ passed")
	}
	just := k.fork()
	just.say("1 Mohm")
	if !just.j.Facts.Has(safety.Insulated) {
		t.Errorf("1 MΩ failed:\n%s", just.text)
	}
	k.say("no tester")
	k.asked("ask_hand_over")
	if k.j.Facts.Has(safety.Insulated) {
		t.Fatal("insulated without a test")
	}
	k.say("leave safe")
	k.state("leave_safe")
	k.refold()
}

// One dialog serves several jobs at a time.
func TestSeveralJobsAtOnce(t *testing.T) {
	d := flows.New(newShelf(t))
	for _, tag := range []string{"E1", "E2", "H1", "E3"} {
		t.Run(tag, func(t *testing.T) {
			t.Parallel()
			k := newDesk(t, d)
			k.truth = earthedElement(t, tag)
			k.toIsolate()
			k.follow("verdict")
		})
	}
}
