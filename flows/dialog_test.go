package flows_test

import (
	"fmt"
	"os"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
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
