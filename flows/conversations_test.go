package flows_test

import (
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/tools/txtar"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
	"halfsplit/testdata/units"
)

// conversationsLeast is how many conversations there are at least.
const conversationsLeast = 40

// TestConversations plays the conversations of testdata/conversations. Their format is
// described in testdata/conversations/README.md.
func TestConversations(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "testdata", "conversations", "*.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < conversationsLeast {
		t.Errorf("%d conversations, at least %d wanted", len(files), conversationsLeast)
	}
	lib := library(t)
	d := flows.New(lib)
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txtar"), func(t *testing.T) {
			t.Parallel()
			a, err := txtar.ParseFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if len(strings.TrimSpace(string(a.Comment))) < 20 {
				t.Error("no header says what it shows")
			}
			p := &play{desk: newDesk(t, d), t: t, lib: lib}
			for _, f := range a.Files {
				switch f.Name {
				case "case":
					p.setUp(string(f.Data))
				case "script":
					p.run(string(f.Data))
				default:
					t.Errorf("no use for a section %q", f.Name)
				}
			}
			p.refold()
			if p.checks == 0 {
				t.Error("the script checks nothing")
			}
		})
	}
}

// library is a shelf with every unit of testdata/units.
func library(t testing.TB) shelf {
	t.Helper()
	files, err := units.Library()
	if err != nil {
		t.Fatal(err)
	}
	s := shelf{units: map[circuit.Hash]*circuit.Unit{}}
	for _, f := range files {
		u, problems := circuit.Parse(f.Name, f.Source)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		words, _, _ := strings.Cut(strings.ToLower(u.Name), ",")
		s.entries = append(s.entries, flows.Entry{Hash: u.Hash, Name: u.Name, Words: []string{words, strings.TrimSuffix(f.Name, ".yaml"), strings.ReplaceAll(strings.TrimSuffix(f.Name, ".yaml"), "-", " ")}})
		s.units[u.Hash] = u
	}
	return s
}

// play is one conversation being played.
type play struct {
	*desk
	t      *testing.T
	lib    shelf
	unit   *circuit.Unit
	checks int
}

// setUp reads the case: unit, fault, level.
func (p *play) setUp(text string) {
	p.t.Helper()
	for line := range strings.Lines(text) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), ":")
		value = strings.TrimSpace(value)
		switch key {
		case "":
		case "unit":
			for _, e := range p.lib.entries {
				if e.Words[1] == value {
					p.unit = p.lib.units[e.Hash]
				}
			}
			if p.unit == nil && value != "none" {
				p.t.Fatalf("no unit %q", value)
			}
		case "fault":
			p.hide(value)
		case "level":
			p.rights.May = map[string]flows.Level{"look": flows.MayLook, "dead": flows.MayDead, "live": flows.MayLive}[value]
		default:
			p.t.Fatalf("case: no use for %q", line)
		}
	}
}

// hide puts faults into the unit: "element E1 earthed, 0.4 ohm, at 0.004; ...", or
// "none".
func (p *play) hide(text string) {
	p.t.Helper()
	p.truth = nil
	for _, one := range strings.Split(text, ";") {
		if one = strings.TrimSpace(one); one == "none" {
			continue
		}
		var placed circuit.Placed
		fields := strings.Split(one, ", ")
		found := false
		for _, f := range circuit.AllFaults(p.unit) {
			if f.Name(p.unit) == fields[0] {
				placed.Fault, found = f, true
			}
		}
		if !found {
			p.t.Fatalf("no fault %q", fields[0])
		}
		for _, f := range fields[1:] {
			if at, ok := strings.CutPrefix(f, "at "); ok {
				placed.At = p.number(at)
				continue
			}
			placed.Ohms = quantity.Ohms(p.number(strings.TrimSuffix(f, " ohm")))
		}
		p.truth = append(p.truth, placed)
	}
}

func (p *play) number(text string) float64 {
	p.t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		p.t.Fatal(err)
	}
	return x
}

// people of a conversation.
var people = map[string]flows.Rights{
	"tech2":    {Name: "T2", Roles: []flows.Role{flows.Tech}, May: flows.MayDead},
	"senior":   {Name: "S", Roles: []flows.Role{flows.Senior}, May: flows.MayLive, LiveV: 480},
	"reviewer": {Name: "R", Roles: []flows.Role{flows.Reviewer}, May: flows.MayLook},
}

func (p *play) run(script string) {
	n := 0
	for line := range strings.Lines(script) {
		n++
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		p.line(n, line)
		p.neutralKept(n, line)
		if p.t.Failed() {
			p.t.Fatalf("line %d, in %s; said last:\n%s", n, p.j.State, p.text)
		}
	}
}

// neutralKept checks that no prompt asks for a neutral to come off before it was found
// dead (safety rule 8 of the project; 29 CFR 1910.333(b)(2)).
func (p *play) neutralKept(n int, line string) {
	if p.j.Asked == nil || p.j.Facts.Has(safety.NeutralDead) {
		return
	}
	u, err := p.d.Unit(p.j)
	if err != nil || u == nil {
		return
	}
	for _, a := range p.j.Asked.Acts {
		if a.Kind == isolate.Lift && !p.j.Circuit.Lifted.Has(int(a.End)) && neutralOf(u).IsNeutral(a.End) {
			p.t.Errorf("line %d %q: the neutral is to come off and was not checked", n, line)
		}
	}
}

var (
	modelsMu sync.Mutex
	models   = map[circuit.Hash]*isolate.Model{}
)

func neutralOf(u *circuit.Unit) *isolate.Model {
	modelsMu.Lock()
	defer modelsMu.Unlock()
	if models[u.Hash] == nil {
		models[u.Hash] = isolate.New(circuit.NewNetwork(u))
	}
	return models[u.Hash]
}

// line plays one line of a script.
func (p *play) line(n int, line string) {
	if key, value, ok := strings.Cut(line, ":"); ok && !strings.Contains(key, " ") {
		value = strings.TrimSpace(value)
		if p.check(key, value) {
			p.checks++
			return
		}
		if p.hears(key, value) {
			return
		}
	}
	if re, ok := strings.CutPrefix(line, "bot~ "); ok {
		p.checks++
		if !regexp.MustCompile(`(?s)` + re).MatchString(p.said()) {
			p.t.Errorf("line %d: the answer has no %q", n, re)
		}
		return
	}
	if re, ok := strings.CutPrefix(line, "bot!~ "); ok {
		p.checks++
		if regexp.MustCompile(`(?s)` + re).MatchString(p.said()) {
			p.t.Errorf("line %d: the answer has %q", n, re)
		}
		return
	}
	switch line {
	case "safe":
		p.safe()
	case "dead":
		p.saysDead()
	case "meter":
		p.answerOne()
	case "land":
		p.say(p.wiresNamed())
	default:
		if state, ok := strings.CutPrefix(line, "meter until "); ok {
			p.until(state)
			return
		}
		p.t.Fatalf("line %d: no use for %q", n, line)
	}
}

// said is the last answer, with plain blanks.
func (p *play) said() string { return strings.ReplaceAll(p.text, "\u00a0", " ") }

// hears plays what reaches the job. It reports whether the key is that of one.
func (p *play) hears(key, value string) bool {
	switch key {
	case "tech":
		p.say(value)
	case "tech2", "senior", "reviewer":
		by, rights := p.by, p.rights
		p.by, p.rights = flows.PersonID(key), people[key]
		p.say(value)
		p.by, p.rights = by, rights
	case "tap":
		p.tap(value)
	case "photo":
		p.at += 10_000
		p.hear(flows.Input{Text: value, SentAt: p.at, Photo: "sha256:00"})
	case "late": // sent before the open prompt could be seen
		p.at += 5_000
		p.posted = p.at
		p.hear(flows.Input{Text: value, SentAt: p.at - 1_000})
	case "wait":
		d, err := time.ParseDuration(value)
		if err != nil {
			p.t.Fatal(err)
		}
		p.at += d.Milliseconds()
	case "timer":
		p.fire(value)
	case "fault":
		p.hide(value)
	default:
		return false
	}
	return true
}

// check compares what the job holds. It reports whether the key is that of a check.
func (p *play) check(key, value string) bool {
	switch key {
	case "state":
		p.same("state", string(p.j.State), value)
	case "asked":
		got := "nothing"
		if p.j.Asked != nil {
			got = string(p.j.Asked.Ask)
		}
		p.same("asked", got, value)
	case "facts":
		for _, f := range strings.Fields(value) {
			fact, err := safety.Parse([]string{f[1:]})
			if err != nil {
				p.t.Fatal(err)
			}
			if p.j.Facts.Has(fact) != (f[0] == '+') {
				p.t.Errorf("facts: %s does not hold", f)
			}
		}
	case "told":
		what, want, _ := strings.Cut(value, "=")
		p.same("told "+what, p.j.Tell(strings.TrimSpace(what)), strings.TrimSpace(want))
	case "seen":
		n := 0
		for _, o := range p.j.Seen {
			if !o.Void {
				n++
			}
		}
		p.same("readings that count", strconv.Itoa(n), value)
	case "off":
		p.same("ends off", strconv.Itoa(p.j.Circuit.Lifted.Len()), value)
	case "found":
		got := "nothing"
		if p.j.Verdict != nil {
			got = p.j.Verdict.Item.Name(p.unit)
		}
		p.same("found", got, value)
	case "closed":
		got := "open"
		if p.j.Closed != nil {
			got = p.j.Closed.Outcome
		}
		p.same("closed", got, value)
	case "order":
		one, other, _ := strings.Cut(value, " | ")
		i, j := strings.Index(p.said(), one), strings.Index(p.said(), other)
		if i < 0 || j < 0 || i > j {
			p.t.Errorf("%q is not said before %q", one, other)
		}
	default:
		return false
	}
	return true
}

func (p *play) same(what, got, want string) {
	if got != want {
		p.t.Errorf("%s: %q, want %q", what, got, want)
	}
}

// safe makes safe and proves dead, in two messages.
func (p *play) safe() {
	if p.j.State == flows.MakeSafe && p.j.Asked.Ask == "ask_safe_card" {
		letters := ""
		for _, c := range p.j.Asked.Choices {
			letters += c.Word
		}
		p.say(letters)
	}
	var values []string
	for _, f := range p.j.Asked.Fields {
		switch {
		case f == "tick:cover":
			values = append([]string{"j"}, values...)
		case f == "tick:guarded":
			values = append(values, "l")
		case f == "known" || f == "again":
			values = append(values, "121")
		case f == "leads":
			values = append(values, "0.2")
		default:
			values = append(values, "0")
		}
	}
	p.say(strings.Join(values, " "))
}

// saysDead types the letters of the loads that the hidden fault leaves dead.
func (p *play) saysDead() {
	works, err := isolate.WorkingUnder(circuit.NewNetwork(p.unit), p.truth, nil)
	if err != nil {
		p.t.Fatal(err)
	}
	letters, names := "", []string{}
	for _, id := range neutralOf(p.unit).Loads() {
		if !works.Has(int(id)) {
			names = append(names, p.unit.Parts[id].Tag)
		}
	}
	for i, f := range p.j.Asked.Fields {
		id, err := strconv.Atoi(strings.TrimPrefix(f, "load:"))
		if err != nil {
			p.t.Fatal(f)
		}
		if !works.Has(id) {
			letters += p.j.Asked.Choices[i].Word
		}
	}
	if letters == "" {
		letters = strings.Join(names, ", ")
	}
	p.say(letters)
}

// until answers whatever is asked, readings by the simulated meter, until the job is in a
// state, or a question is asked.
func (p *play) until(state string) {
	for range 80 {
		if string(p.j.State) == state || p.j.Closed != nil || string(p.j.Asked.Ask) == state {
			return
		}
		switch p.j.Asked.Ask {
		case "ask_land", "ask_all_landed":
			p.say(p.wiresNamed())
		case "ask_insulation":
			p.say("200 Mohm")
		default:
			p.answerOne()
		}
	}
	p.t.Errorf("in %s, not in %s", p.j.State, state)
}
