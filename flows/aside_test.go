package flows_test

import (
	"strings"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/safety"
)

// places brings a job to every state in which a person may be asked something.
func places(t testing.TB, d *flows.Dialog) map[string]*desk {
	all := map[string]*desk{}
	at := func(name string, do func(k *desk)) {
		k := newDesk(t, d)
		k.truth = earthedElement(t, "E1")
		do(k)
		all[name] = k
	}
	at("intake", func(k *desk) { k.say("plate warmer") })
	at("make_safe", func(k *desk) { k.toCard() })
	at("make_safe half", func(k *desk) { k.toCard(); k.say("abcde") })
	at("prove", func(k *desk) { k.toCard(); k.say("abcdefghi"); k.say("j 121 0 0") })
	at("isolate", func(k *desk) { k.toIsolate() })
	at("open_here", func(k *desk) { k.toIsolate(); k.follow("open_here") })
	at("prove_here", func(k *desk) { k.toIsolate(); k.follow("open_here"); k.say("a") })
	at("check_neutral", func(k *desk) { k.toIsolate(); k.say("lifted 9 at X1") })
	at("verdict", func(k *desk) { k.toIsolate(); k.follow("verdict") })
	at("repair", func(k *desk) { k.toIsolate(); k.follow("verdict"); k.say("yes") })
	at("land", func(k *desk) { k.toMended(); k.state("land") })
	at("permit", func(k *desk) { k.toMended(); k.toState("permit") })
	at("close_up", func(k *desk) { k.toMended(); k.toState("close_up") })
	at("switch_on", func(k *desk) { k.toMended(); k.toState("close_up"); k.say("abcde"); k.say("yes") })
	at("verify", func(k *desk) {
		k.toMended()
		k.toState("close_up")
		k.say("abcde")
		k.say("yes")
		k.say("held")
		k.say("held")
	})
	at("intake dead", func(k *desk) { k.say("plate warmer, a part does not work") })
	at("intake looks", func(k *desk) { k.say("plate warmer, it's dead") })
	at("isolate dead", func(k *desk) { k.truth = named(t, "element E3 open"); k.complains(t) })
	at("verdict dead", func(k *desk) { k.truth = named(t, "element E3 open"); k.complains(t); k.follow("verdict") })
	at("repair limit", func(k *desk) {
		k.truth = named(t, "high limit F1 never closes")
		k.complains(t)
		k.follow("verdict")
		k.say("yes")
	})
	at("leave_safe", func(k *desk) { k.toIsolate(); k.follow("verdict"); k.say("yes"); k.say("age"); k.say("no part") })
	for name, k := range all {
		if want := strings.Fields(name)[0]; string(k.j.State) != want {
			t.Fatalf("%s: in %s:\n%s", name, k.j.State, k.text)
		}
	}
	return all
}

func (k *desk) toMended() {
	k.t.Helper()
	k.toIsolate()
	k.follow("verdict")
	k.say("yes")
	k.say("grease")
	k.say("replaced")
	k.truth = nil
}

// toState lands wires, reads and closes until the job is in a state.
func (k *desk) toState(want string) {
	k.t.Helper()
	for range 60 {
		if string(k.j.State) == want {
			return
		}
		switch k.j.Asked.Ask {
		case "ask_land", "ask_all_landed":
			k.say(k.wiresNamed())
		case "ask_insulation":
			k.say("200 Mohm")
		default:
			k.answerOne()
		}
	}
	k.t.Fatalf("still in %s:\n%s", k.j.State, k.text)
}

func (k *desk) wiresNamed() string {
	u, err := k.d.Unit(k.j)
	if err != nil {
		k.t.Fatal(err)
	}
	var names []string
	for _, a := range k.j.Asked.Acts {
		names = append(names, u.EndPoint(a.End).Short())
	}
	return strings.Join(names, ", ")
}

// fork is a copy of a desk: another thing is said from the same job.
func (k *desk) fork() *desk {
	c := *k
	c.trail = append([]flows.Logged(nil), k.trail...)
	c.timers = map[string]int64{}
	return &c
}

// Interruptions keep what was established: they set no fact, change no wire, and leave
// the same question open or say what is expected.
func TestInterruptionsKeepFacts(t *testing.T) {
	d := flows.New(newShelf(t))
	for name, k := range places(t, d) {
		for _, text := range []string{"why", "why that one", "where", "where is k1", "wheres k1", "picture", "repeat", "what?", "status", "what is off",
			"note the left panel screw is stripped", "k", "not sure", "im confused", "can i jump the limit", "boss says lift 9", "help", "it works now",
			"can i reset it", "asdf qwerty", "banana 17 ???", "same", "photo", "hello", "stuck", "senior"} {
			c := k.fork()
			if text == "it works now" && name == "verify" {
				continue // there it is the answer
			}
			c.say(text)
			if got := c.j.Facts; got != k.j.Facts {
				t.Errorf("%s: %q changed facts: set %v, dropped %v", name, text, got&^k.j.Facts, k.j.Facts&^got)
			}
			if c.j.Circuit != k.j.Circuit || len(c.j.Seen) != len(k.j.Seen) || c.j.State != k.j.State {
				t.Errorf("%s: %q changed wires, readings or state (%s)", name, text, c.j.State)
			}
			if c.text == "" {
				t.Errorf("%s: %q got no answer", name, text)
			}
			if c.j.Asked == nil {
				t.Errorf("%s: %q left nothing open", name, text)
			}
		}
		// A pause comes back to the same question with the same facts, except for a
		// switch-on that was broken off and a cover that may be off.
		c := k.fork()
		c.say("pause")
		c.state("paused")
		c.say("resume")
		switch {
		case name == "switch_on":
			c.state("close_up")
		case name == "open_here" || name == "prove_here":
			if c.j.Facts.Has(safety.HereDead) {
				t.Errorf("%s: a pause proves a compartment", name)
			}
		case name == "prove":
			if c.j.State != flows.Prove || c.j.Facts&safety.Proof != 0 {
				t.Errorf("prove: a pause keeps half a proof: %s %v", c.j.State, c.j.Facts)
			}
		case c.j.State != k.j.State || c.j.Facts != k.j.Facts:
			t.Errorf("%s: a pause led to %s, facts lost %v", name, c.j.State, k.j.Facts&^c.j.Facts)
		}
		// A stop drops everything and is left in two steps.
		c = k.fork()
		c.say("stop")
		c.state("stopped")
		if c.j.Facts != 0 {
			t.Errorf("%s: stop keeps %v", name, c.j.Facts)
		}
		c.say("13")
		c.state("stopped")
		c.say("false alarm")
		c.state("false_alarm")
		c.say("sure")
		if c.j.State != flows.MakeSafe && c.j.State != flows.HandedOver || c.j.Facts&^safety.Qualified != 0 {
			t.Errorf("%s: after a false alarm in %s with %v", name, c.j.State, c.j.Facts)
		}
		// A shock is cleared by a senior only.
		c = k.fork()
		c.say("i got shocked")
		c.state("stopped_grave")
		c.say("false alarm")
		c.state("stopped_grave")
		c.rights.Roles = []flows.Role{flows.Senior}
		c.say("clear")
		if c.j.State == flows.StoppedGrave {
			t.Errorf("%s: a senior cannot clear it:\n%s", name, c.text)
		}
		// Switched on unasked: recorded, what it made untrue is dropped, no lecture.
		if name != "switch_on" && name != "verify" && !strings.HasPrefix(name, "intake") {
			c = k.fork()
			c.say("i switched it on and it tripped again")
			c.state("make_safe")
			if c.j.Facts&(safety.Isolated|safety.Locked|safety.Proof|safety.CauseProved) != 0 {
				t.Errorf("%s: switched on, yet %v", name, c.j.Facts)
			}
			if c.j.Circuit.Lifted != k.j.Circuit.Lifted {
				t.Errorf("%s: switched on, and wires moved by themselves", name)
			}
		}
		// Handing over is always possible.
		c = k.fork()
		c.say("senior")
		c.say("hand over")
		c.state("handed_over")
		if len([]rune(c.text)) > 1600 || !strings.Contains(c.text, "ASK:") {
			t.Errorf("%s: handed over with\n%s", name, c.text)
		}
		brief, err := d.Brief(c.j)
		if err != nil || len([]rune(brief)) > 900 {
			t.Errorf("%s: brief of %d characters, %v", name, len([]rune(brief)), err)
		}
		c.refold()
	}
}

func TestDangerWordsAskNowOrDescribing(t *testing.T) {
	k := newDesk(t, nil)
	k.toIsolate()
	facts := k.j.Facts
	k.say("there was a burning smell yesterday")
	if k.j.State == flows.AskDanger {
		k.tap("describing")
	}
	k.state("isolate")
	if k.j.Facts != facts {
		t.Errorf("describing dropped %v", facts&^k.j.Facts)
	}
	k.say("smell gas")
	if k.j.State == flows.AskDanger {
		k.tap("now")
	}
	k.state("stopped")
	k.says2("touch no switch")
	k.refold()
}

func TestLateAndDoubledAnswers(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	sent := k.at
	first := k.meter(k.j.Asked.Tests[0])
	// Sent before the question was posted: asked about, not used.
	k.at += 5000
	k.posted = k.at
	k.hear(flows.Input{Text: first, SentAt: sent})
	if len(k.j.Seen) != 0 {
		t.Fatal("a late reading was used unasked")
	}
	k.says2("is that your answer")
	k.say("no")
	if len(k.j.Seen) != 0 || k.j.Asked.Pending != "" {
		t.Fatal("refused, yet used")
	}
	k.at += 5000
	k.posted = k.at
	k.hear(flows.Input{Text: first, SentAt: sent})
	k.say("yes")
	if len(k.j.Seen) != 1 {
		t.Fatal("confirmed, yet not used")
	}
	// The same text again, sent before the next question was posted.
	k.at += 10
	k.hear(flows.Input{Text: first, SentAt: k.at - 5000})
	if len(k.j.Seen) != 1 {
		t.Fatal("a doubled reading was used")
	}
	// A choice for an earlier prompt changes nothing.
	old := k.j.Asked.ID - 1
	k.hear(flows.Input{Choice: "yes", Prompt: old, SentAt: k.at})
	k.says2("closed")
	if len(k.j.Seen) != 1 {
		t.Fatal("an old choice was used")
	}
	k.refold()

	// On a card a late answer sets nothing and cannot be confirmed.
	k = newDesk(t, nil)
	k.toCard()
	k.at += 5000
	k.posted = k.at
	k.hear(flows.Input{Text: "abcdefghi", SentAt: k.at - 1})
	if k.j.Facts != 0 {
		t.Fatalf("a late tick set %v", k.j.Facts)
	}
	k.say("yes")
	if k.j.Facts != 0 {
		t.Fatalf("a confirmed late tick set %v", k.j.Facts)
	}
}

func TestUndoChangesReadingsOnly(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	before := k.j.Judged
	k.answerOne()
	facts, lifted := k.j.Facts, k.j.Circuit
	k.say("undo")
	if k.j.Facts != facts || k.j.Circuit != lifted {
		t.Error("undo changed facts or wires")
	}
	if !k.j.Seen[0].Void {
		t.Error("the reading still counts")
	}
	if len(k.j.Judged.Left) != len(before.Left) {
		t.Errorf("left %d, before %d", len(k.j.Judged.Left), len(before.Left))
	}
	k.say("undo")
	k.says2("no reading to take back")
	// From the verdict it goes back to readings.
	k.follow("verdict")
	k.say("undo")
	if k.j.State == flows.Verdict && k.j.Facts.Has(safety.CauseProved) {
		// The rest of the readings may still convict; then it stands.
		t.Logf("still proved without the last reading")
	}
	k.follow("verdict")
	k.say("yes")
	k.say("age")
	k.say("replaced")
	k.refold()
}

func TestCannotDropsTheTest(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	key := k.j.Asked.Tests[0].Key
	k.say("can't reach that")
	k.asked("ask_reading")
	for _, test := range k.j.Asked.Tests {
		if test.Key == key {
			t.Error("the same test is asked again")
		}
	}
	if k.j.Cants != 1 {
		t.Errorf("%d cants", k.j.Cants)
	}
	// A point that is not there and was not asked for is out; the question stays.
	c := k.fork()
	open := c.j.Asked.Tests[0].Key
	c.say("no 14")
	u, _ := c.d.Unit(c.j)
	last := c.j.Refused[len(c.j.Refused)-1]
	if last.Node == nil || *last.Node != u.FindPoint("14")[0] || c.j.Asked.Tests[0].Key != open {
		t.Errorf("no 14: refused %+v, asked %s", last, c.j.Asked.Tests[0].Key)
	}
	// After three, a senior is offered once, and the work goes on.
	k.say("cannot get there")
	k.say("no access")
	k.says2("write senior")
	k.refold()
}

func TestVolunteeredReading(t *testing.T) {
	// The trap: a load wire reads low to frame in a sound unit too, through a lamp to
	// the bonded neutral (common practice, no source).
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "K1") // a fault elsewhere
	k.toIsolate()
	k.say("14 to frame 13")
	if len(k.j.Seen) != 1 || k.j.Seen[0].Test.B != circuit.Chassis {
		t.Fatalf("seen %+v; said:\n%s", k.j.Seen, k.text)
	}
	i, j := strings.Index(k.text, "lamp H1"), strings.Index(k.text, "Cleared")
	if i < 0 || j >= 0 && j < i {
		t.Errorf("the sound path is not named before any conclusion:\n%s", k.text)
	}
	k.says2("bonded to ground")
	k.refold()
	// Before dead is proved it is a note.
	k = newDesk(t, nil)
	k.toCard()
	k.say("14 to frame 13")
	if len(k.j.Seen) != 0 {
		t.Error("ohms before dead is proved were taken")
	}
}

func TestDoubtsAreAskedBack(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	for _, text := range []string{"1", "nothing", "1,200", "12 m", "208 V", "13, 14, 15, 16, 17", "0..3", "-5"} {
		c := k.fork()
		c.say(text)
		if len(c.j.Seen) != 0 {
			t.Errorf("%q was taken as %v", text, c.j.Seen[0].Got)
		}
		if c.j.Asked == nil {
			t.Errorf("%q: nothing is open", text)
		}
	}
	// Jumping readings mean something may be live.
	c := k.fork()
	c.say("jumping around")
	c.state("prove")
	if c.j.Facts.Has(safety.KnownBefore) {
		t.Error("the proof of dead survives a jumping reading")
	}
}

func TestNoPartLeavesSafe(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	k.follow("verdict")
	k.say("yes")
	k.say("age")
	k.say("no part on the van")
	k.state("leave_safe")
	if k.j.Circuit.Lifted.Len() == 0 {
		t.Fatal("nothing is off; the test tests nothing")
	}
	k.say("abcd")
	k.state("leave_safe")
	k.says2("Each end by its name")
	u, _ := k.d.Unit(k.j)
	var names []string
	for _, e := range k.j.Circuit.Lifted.Each() {
		names = append(names, u.EndPoint(circuit.EndID(e)).Short())
	}
	k.say("capped " + strings.Join(names, ", "))
	if !k.j.Facts.Has(safety.EndsSafe) {
		t.Fatalf("ends: %v; said\n%s", k.j.Facts, k.text)
	}
	k.say("bcd")
	k.state("done")
	if k.j.Closed == nil || len(k.j.Closed.Off) != len(names) {
		t.Fatalf("closed %+v", k.j.Closed)
	}
	k.says2("must not be switched on")
	k.say("hello?")
	k.says2("closed")
	k.refold()
}

func TestTripAfterRepairStartsOver(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toMended()
	k.toState("close_up")
	k.say("abcde")
	k.say("yes")
	k.say("held")
	k.say("tripped")
	k.state("make_safe")
	if k.j.Facts&(safety.CauseProved|safety.Readings|safety.Isolated) != 0 {
		t.Errorf("facts %v", k.j.Facts)
	}
	k.says2("no second try")
	k.refold()
}

func TestSkeletonUnit(t *testing.T) {
	k := newDesk(t, nil)
	k.say("some bain marie, trips as soon as i flip the switch")
	k.asked("ask_unit")
	k.say("not listed")
	k.asked("ask_plate")
	k.say("dunno")
	k.asked("ask_plate")
	k.say("208 V single phase, hard-wired, neutral comes in")
	k.say("both")
	k.say("2 elements, 1 lamp to neutral")
	k.say("4")
	if k.j.Opened == nil || len(k.j.Opened.Source) == 0 {
		t.Fatalf("not opened:\n%s", k.text)
	}
	k.say("not reset, nothing read")
	k.state("make_safe")
	k.say("abcdefghi")
	k.say("j " + strings.Repeat("121 ", 1) + strings.Repeat("0 ", k.pairs()) + "121 l")
	k.state("isolate")
	u, err := k.d.Unit(k.j)
	if err != nil || !u.Skeleton {
		t.Fatalf("unit %v, %v", u, err)
	}
	k.rights.Roles = []flows.Role{flows.Senior}
	k.say("status")
	if strings.Contains(k.text, "%") {
		t.Errorf("a skeleton states odds:\n%s", k.text)
	}
	k.refold()
	// Another dialog folds and goes on with nothing but the trail.
	other := k.fork()
	other.d = flows.New(newShelf(t))
	other.say("status")
}

func (k *desk) pairs() int {
	n := 0
	for _, f := range k.j.Asked.Fields {
		if strings.HasPrefix(f, "volts:") {
			n++
		}
	}
	return n
}

func TestTimers(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	if k.timers["proof_old"]-k.at != 30*60*1000 || k.timers["offer_senior"]-k.at != 45*60*1000 {
		t.Fatalf("timers %v at %d", k.timers, k.at)
	}
	c := k.fork()
	c.timers["proof_old"] = k.timers["proof_old"]
	c.fire("proof_old")
	c.state("prove")
	if c.j.Facts.Has(safety.KnownBefore) || !c.j.Facts.Has(safety.Locked) {
		t.Errorf("facts %v", c.j.Facts)
	}
	c.say("121 0 0 0 0 0 0 0 121 l")
	c.state("isolate")
	// Work in between puts it off.
	c = k.fork()
	c.timers = map[string]int64{"proof_old": k.timers["proof_old"]}
	c.at += 20 * 60 * 1000
	c.answerOne()
	c.at = k.timers["proof_old"] - 1
	c.fire("proof_old")
	if c.j.State == flows.Prove || c.timers["proof_old"] <= c.at {
		t.Errorf("state %s, timer %d at %d", c.j.State, c.timers["proof_old"], c.at)
	}
	c = k.fork()
	c.timers = map[string]int64{}
	c.at += 45 * 60 * 1000
	c.fire("offer_senior")
	c.says2("Three quarters of an hour")
}

func TestSeniorAndOtherHands(t *testing.T) {
	k := newDesk(t, nil)
	k.truth = earthedElement(t, "E1")
	k.toIsolate()
	facts := k.j.Facts
	k.by, k.rights = "boss", flows.Rights{Name: "S", Roles: []flows.Role{flows.Senior}, May: flows.MayDead}
	for _, text := range []string{"13", "lift 9", "tripped again", "undo", "lifted 14 at K1", "14 to frame 13", "can't", "hand over"} {
		k.say(text)
		if k.j.Facts != facts || len(k.j.Seen) != 0 || k.j.Circuit.Lifted.Len() != 0 || k.j.State != flows.Isolate {
			t.Fatalf("%q of a senior elsewhere changed the job:\n%s", text, k.text)
		}
	}
	k.say("status")
	k.says2("Odds:")
	// The technician sees no odds.
	k.by, k.rights = "tech", tech
	k.say("status")
	if strings.Contains(k.text, "%") {
		t.Errorf("a technician sees odds:\n%s", k.text)
	}
	// Another technician starts from the top.
	k.by = "tech2"
	k.say("13")
	k.state("make_safe")
	if k.j.Facts&(safety.Proof|safety.Locked|safety.KitReady) != 0 {
		t.Errorf("another pair of hands works on %v", k.j.Facts)
	}
	if len(k.j.Seen) != 0 {
		t.Error("its first message was taken as a reading")
	}
	// A reviewer only watches.
	k.rights.Roles = []flows.Role{flows.Reviewer}
	k.by = "r"
	k.say("abcdefghi")
	if k.j.Facts.Has(safety.KitReady) {
		t.Error("a reviewer ticked")
	}
	k.refold()
}

func TestEarlierReadingsAreEvidence(t *testing.T) {
	k := newDesk(t, nil)
	k.say("plate warmer, breaker goes as soon as I flip the switch")
	k.say("reset twice, 14 to frame 13, nothing lifted")
	if len(k.j.Seen) != 1 || k.j.Tell("resets") != "2" {
		t.Errorf("seen %v, resets %q; said:\n%s", k.j.Seen, k.j.Tell("resets"), k.text)
	}
	k = newDesk(t, nil)
	k.say("plate warmer, breaker goes as soon as I flip the switch")
	k.say("reset twice, 14 to frame 13")
	if len(k.j.Seen) != 0 {
		t.Error("taken without knowing what was lifted")
	}
	k.says2("what was lifted")
}
