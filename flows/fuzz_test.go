package flows_test

import (
	"math/rand/v2"
	"strings"
	"testing"

	"halfsplit/flows"
)

// typed is a stock of what people write, from which random jobs are made.
var typed = []string{
	"abcdefghi", "j 121 0 0 0 0 0 0 0 121 l", "a", "b c", "j", "l", "121", "0 0", "0 0 0 0 0 0 0", "121 0 0 121", "a 121 0 0 121", "208 208 208",
	"yes", "no", "done", "all", "k", "ok", "why", "where", "where is e1", "picture", "repeat", "can't", "can't lift 14", "no 14", "not sure", "undo", "undo that",
	"note x", "photo", "pause", "resume", "status", "stuck", "senior", "hand over", "go on", "leave safe", "stop", "false alarm", "sure", "not sure",
	"i got shocked", "smell gas", "burnt terminal", "now", "describing", "clear", "it works now", "tripped again", "i switched it on", "can i jump the limit",
	"boss says lift 9", "same", "13", "13, ol, ol", "ol", "OL", "2.3M", "1", "nothing", "beeps", "0.3", "65", "12ish", "700", "jumping around", "-3", "180k",
	"14 to frame 13", "K1:T1 to frame 1", "14: 13, 15: ol", "lifted 9 at X1", "lifted 14 at K1", "landed 14", "landed 9, 10", "14, 15, 17 landed", "all landed",
	"grease", "water", "mended", "replaced", "no part", "no tester", "200M", "held", "tripped", "not now", "plate warmer", "trips at once", "switch", "breaker",
	"3 times", "not listed", "208 V", "both", "3 elements", "4", "coil lead off and it held", "does not work", "it's dead", "top shelf doesn't heat", "bd", "b, not seen e", "all fine", "plug is out",
	"breaker has tripped", "contactor clicks", "no click", "drawer 2 cold, rest works", "can i check 14 to 16", "can i check 5 to frame", "check it", "reset, not known",
	"reset it, grease", "reset it twice", "hosed down yesterday", "nobody in it",
	"leads 0.2", "abcde", "capped 17", "bcd", "asdf", "", "   ", "🙂", "Ω½", "{where}", "999999999999999999999",
}

// Random talk never breaks a job: every step answers, every trail folds, nothing is
// asked that a gate forbids (the desk checks that at each step).
func TestRandomTalk(t *testing.T) {
	d := flows.New(newShelf(t))
	runs := 25
	if testing.Short() {
		runs = 10
	}
	for seed := range runs {
		r := rand.New(rand.NewPCG(uint64(seed), 7))
		k := newDesk(t, d)
		k.truth = earthedElement(t, []string{"E1", "E2", "E3", "H1", "K1"}[seed%5])
		switch seed % 4 {
		case 0:
		case 1:
			k.truth = named(t, []string{"element E3 open", "high limit F1 never closes", "lamp H1 open"}[seed%3])
			k.complains(t)
		default:
			k.toIsolate()
		}
		for range 40 {
			if r.IntN(12) == 0 {
				k.rights.Roles = []flows.Role{[]flows.Role{flows.Tech, flows.Senior, flows.Reviewer}[r.IntN(3)]}
			}
			switch p := k.j.Asked; {
			case p != nil && len(p.Choices) > 0 && r.IntN(4) == 0:
				k.tap(p.Choices[r.IntN(len(p.Choices))].Value)
			case p != nil && len(p.Tests) > 0 && r.IntN(2) == 0:
				var list []string
				for _, test := range p.Tests {
					list = append(list, k.meter(test))
				}
				k.say(strings.Join(list, ", "))
			case r.IntN(20) == 0:
				k.fire([]string{"proof_old", "nudge", "offer_senior", "silence", "none"}[r.IntN(5)])
			case r.IntN(15) == 0:
				k.at += 1000
				k.hear(flows.Input{Text: typed[r.IntN(len(typed))], SentAt: k.at - 900_000})
			default:
				k.say(typed[r.IntN(len(typed))])
			}
			if k.j.Closed != nil && r.IntN(3) == 0 {
				break
			}
		}
		k.refold()
		u, err := d.Unit(k.j)
		if err != nil {
			t.Fatal(err)
		}
		if text := flows.Transcript(u, k.trail...); !strings.HasPrefix(text, "# ") || !strings.Contains(text, "## Report") {
			t.Fatal("no transcript")
		}
		if _, err := d.Brief(k.j); err != nil {
			t.Fatal(err)
		}
		if _, err := d.Report(k.j); err != nil {
			t.Fatal(err)
		}
		if _, err := d.Figure(k.j); err != nil {
			t.Fatal(err)
		}
	}
}

// FuzzText puts any text to a job at several places.
func FuzzText(f *testing.F) {
	for _, text := range typed {
		f.Add(text, uint8(0))
		f.Add(text, uint8(3))
	}
	d := flows.New(newShelf(f))
	at := stations(f, d)
	f.Fuzz(func(t *testing.T, text string, place uint8) {
		k := at[int(place)%len(at)].fork()
		k.t = t
		k.say(text)
		if k.text == "" && k.j.Closed == nil {
			t.Fatalf("%q got no answer in %s", text, k.j.State)
		}
		k.refold()
	})
}

func stations(t testing.TB, d *flows.Dialog) []*desk {
	var at []*desk
	add := func(do func(k *desk)) {
		k := newDesk(t, d)
		k.truth = earthedElement(t, "E1")
		do(k)
		at = append(at, k)
	}
	add(func(k *desk) {})
	add(func(k *desk) { k.say("plate warmer") })
	add(func(k *desk) { k.toCard() })
	add(func(k *desk) { k.toCard(); k.say("abcdefghi"); k.say("j") })
	add(func(k *desk) { k.toIsolate() })
	add(func(k *desk) { k.toIsolate(); k.follow("open_here") })
	add(func(k *desk) { k.toIsolate(); k.say("lifted 9 at X1") })
	add(func(k *desk) { k.toIsolate(); k.follow("verdict") })
	add(func(k *desk) { k.toMended() })
	add(func(k *desk) { k.toMended(); k.toState("permit") })
	add(func(k *desk) { k.toMended(); k.toState("close_up") })
	add(func(k *desk) { k.toIsolate(); k.say("stop") })
	add(func(k *desk) { k.say("plate warmer, a part does not work") })
	add(func(k *desk) { k.say("plate warmer, it's dead") })
	add(func(k *desk) { k.truth = named(t, "element E3 open"); k.complains(t) })
	return at
}
