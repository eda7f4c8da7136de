package flows_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/testdata/units"
)

// shelf holds the plate warmer.
type shelf struct {
	entries []flows.Entry
	units   map[circuit.Hash]*circuit.Unit
}

func (s shelf) Entries() []flows.Entry { return s.entries }
func (s shelf) Unit(h circuit.Hash) (*circuit.Unit, bool) {
	u, ok := s.units[h]
	return u, ok
}

func plateWarmer(t testing.TB) *circuit.Unit {
	t.Helper()
	files, err := units.Library()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f.Name == "plate-warmer.yaml" {
			u, problems := circuit.Parse(f.Name, f.Source)
			if len(problems) > 0 {
				t.Fatal(problems)
			}
			return u
		}
	}
	t.Fatal("no plate warmer")
	return nil
}

func newShelf(t testing.TB) shelf {
	u := plateWarmer(t)
	return shelf{
		entries: []flows.Entry{{Hash: u.Hash, Name: u.Name, Words: []string{"plate warmer", "warmer"}}},
		units:   map[circuit.Hash]*circuit.Unit{u.Hash: u},
	}
}

var tech = flows.Rights{Name: "T", Roles: []flows.Role{flows.Tech}, May: flows.MayDead}

// desk plays a job: it hears, steps and folds as the engine does, and checks at each
// step that the fold is exact and that nothing is asked that a gate forbids.
type desk struct {
	t      testing.TB
	d      *flows.Dialog
	j      flows.Job
	at     int64
	trail  []flows.Logged
	last   flows.Result
	text   string // said last
	posted int64
	prompt int
	by     flows.PersonID
	rights flows.Rights
	timers map[string]int64
	net    *circuit.Network
	truth  []circuit.Placed
	says   int
	odd    bool // something was typed that must not be taken for an unfinished sentence
}

func newDesk(t testing.TB, d *flows.Dialog) *desk {
	if d == nil {
		d = flows.New(newShelf(t))
	}
	return &desk{t: t, d: d, by: "tech", rights: tech, at: 1_000_000, timers: map[string]int64{}}
}

func (k *desk) apply(e flows.Event, by flows.PersonID) {
	k.t.Helper()
	j, err := flows.Apply(k.j, k.at, by, e)
	if err != nil {
		k.t.Fatal(err)
	}
	k.j = j
	k.trail = append(k.trail, flows.Logged{Seq: j.Seq, At: k.at, By: by, Event: e})
}

func (k *desk) step(in flows.Input) {
	k.t.Helper()
	before, err := json.Marshal(k.j)
	if err != nil {
		k.t.Fatal(err)
	}
	res, err := k.d.Step(k.j, in)
	if err != nil {
		k.t.Fatalf("%+v: %v", in, err)
	}
	if now, _ := json.Marshal(k.j); string(now) != string(before) {
		k.t.Fatal("Step changed the job it was given")
	}
	said := 0
	facts := k.j.Facts
	for _, e := range res.Events {
		if a, ok := e.(flows.Asked); ok {
			if lack := flows.MayAsk(k.j.State, k.j.Facts, a.Prompt.Ask); lack != 0 {
				k.t.Fatalf("%s asked in %s without %v", a.Prompt.Ask, k.j.State, lack)
			}
		}
		if m, ok := e.(flows.Moved); ok {
			out, err := flows.Fire(k.j.State, k.j.Facts, m.On)
			if err != nil || out.Lack != 0 || out.To != m.To {
				k.t.Fatalf("%+v is not in the table: %v", m, err)
			}
		}
		if s, ok := e.(flows.Said); ok {
			if s.Text != res.Say[said].Text {
				k.t.Fatalf("said %q, message %q", s.Text, res.Say[said].Text)
			}
			said++
			if !k.odd && strings.ContainsAny(s.Text, "{}!") {
				k.t.Fatalf("unfinished text: %q", s.Text)
			}
			if strings.Contains(s.Text, ": .") || strings.Contains(s.Text, "{") && !k.odd {
				k.t.Fatalf("a list with nothing in it: %q", s.Text)
			}
			if !k.odd && strings.Contains(s.Text, "no such") {
				k.t.Fatalf("a thing that is not there is named: %q", s.Text)
			}
		}
		k.apply(e, in.By)
	}
	_ = facts
	if said != len(res.Say) {
		k.t.Fatalf("%d said, %d messages", said, len(res.Say))
	}
	for _, tm := range res.Timers {
		k.timers[tm.Name] = tm.Due
	}
	k.last = res
	k.text = ""
	for _, m := range res.Say {
		k.text += m.Text + "\n"
	}
	k.says += len(res.Say)
	if k.j.Asked != nil && k.j.Asked.ID != k.prompt {
		k.prompt, k.posted = k.j.Asked.ID, k.at
	}
}

// say sends a text after the open prompt was posted, and returns the answer.
func (k *desk) say(text string) string {
	k.t.Helper()
	k.at += 10_000
	return k.hear(flows.Input{Text: text, SentAt: k.at})
}

func (k *desk) hear(in flows.Input) string {
	k.t.Helper()
	k.odd = k.odd || strings.ContainsAny(in.Text, "{}!") || strings.Contains(in.Text, "no such")
	in.At, in.By, in.Rights, in.Posted = k.at, k.by, k.rights, k.posted
	k.apply(flows.Heard{Text: in.Text, Choice: in.Choice, Prompt: in.Prompt, Sent: in.SentAt, Photo: in.Photo, Rights: in.Rights}, in.By)
	k.step(in)
	return k.text
}

func (k *desk) tap(value string) string {
	k.t.Helper()
	k.at += 10_000
	return k.hear(flows.Input{Choice: value, Prompt: k.prompt, SentAt: k.at})
}

func (k *desk) fire(timer string) string {
	k.t.Helper()
	if due := k.timers[timer]; due > k.at {
		k.at = due
	}
	k.apply(flows.Timed{Name: timer}, "")
	k.step(flows.Input{At: k.at, Timer: timer})
	return k.text
}

// refold folds the trail anew and compares.
func (k *desk) refold() {
	k.t.Helper()
	var j flows.Job
	for _, r := range k.trail {
		var err error
		if j, err = flows.Apply(j, r.At, r.By, r.Event); err != nil {
			k.t.Fatal(err)
		}
	}
	if !reflect.DeepEqual(j, k.j) {
		k.t.Fatal("the trail folds to another job")
	}
}

func (k *desk) state(want string) {
	k.t.Helper()
	if string(k.j.State) != want {
		k.t.Fatalf("state %s, want %s; said:\n%s", k.j.State, want, k.text)
	}
}

func (k *desk) asked(want string) {
	k.t.Helper()
	if k.j.Asked == nil || string(k.j.Asked.Ask) != want {
		k.t.Fatalf("asked %+v, want %s; said:\n%s", k.j.Asked, want, k.text)
	}
}

// toIsolate brings a job to the first reading.
func (k *desk) toIsolate() {
	k.t.Helper()
	k.say("plate warmer, breaker goes as soon as I flip the switch")
	k.say("cook did it 3 times, nothing yet")
	k.say("abcdefghi")
	k.say("j 121 0 0 0 0 0 0 0 121 l 0.2")
	k.state("isolate")
}

// meter reads what the truth gives.
func (k *desk) meter(t isolate.Test) string {
	k.t.Helper()
	if k.net == nil {
		u, err := k.d.Unit(k.j)
		if err != nil {
			k.t.Fatal(err)
		}
		k.net = circuit.NewNetwork(u)
	}
	r, err := k.net.Ohms(t.In, k.truth, t.A, t.B)
	if err != nil {
		k.t.Fatal(err)
	}
	if r > 4e7 {
		return "OL"
	}
	return (r + 0.2).String()
}

// follow answers readings, covers and neutral checks until the job leaves the states
// of isolating, and says how many readings it took.
func (k *desk) follow(until string) {
	k.t.Helper()
	for range 40 {
		if string(k.j.State) == until {
			return
		}
		k.answerOne()
	}
	k.t.Fatalf("still in %s:\n%s", k.j.State, k.text)
}

func (k *desk) answerOne() {
	k.t.Helper()
	p := k.j.Asked
	if p == nil {
		k.t.Fatalf("nothing asked in %s:\n%s", k.j.State, k.text)
	}
	switch p.Ask {
	case "ask_cover_here":
		k.say("a 121 0 0 121")
	case "ask_proof_here":
		k.say("121 0 0 121")
	case "ask_neutral":
		k.say("0 0")
	case "ask_hand_over":
		k.say("go on")
	default:
		if len(p.Tests) == 0 {
			k.t.Fatalf("cannot answer %s:\n%s", p.Ask, k.text)
		}
		var list []string
		for _, t := range p.Tests {
			list = append(list, k.meter(t))
		}
		k.say(strings.Join(list, ", "))
	}
}
