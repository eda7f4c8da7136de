package flows

import (
	"fmt"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/safety"
	"halfsplit/flows/wording"
)

// longBrief is the number of characters a brief keeps to: ten seconds of reading.
const longBrief = 900

// Brief is what a senior reads first, in the order of design §9: the ask; safe,
// locked, proved; unit, volts, complaint and when; resets, washed, who; what is off;
// the key reading and what it does not prove; what is left; not looked at; next step;
// photos. It has no odds.
func (d *Dialog) Brief(j Job) (string, error) {
	b, err := d.bench(j)
	if err != nil {
		return "", err
	}
	s := &step{d: d, j: j, was: j, b: b}
	return s.text(s.briefPhrases()), nil
}

// Report is the job report of a closed job.
func (d *Dialog) Report(j Job) (string, error) {
	b, err := d.bench(j)
	if err != nil {
		return "", err
	}
	s := &step{d: d, j: j, was: j, b: b}
	return s.text(s.reportPhrases()), nil
}

// Figure is what a picture of the present knowledge would show; nil before the unit is
// known.
func (d *Dialog) Figure(j Job) (*Figure, error) {
	b, err := d.bench(j)
	if err != nil || b == nil {
		return nil, err
	}
	return (&step{d: d, j: j, b: b}).figure(), nil
}

func (s *step) figure() *Figure {
	if s.b == nil {
		return nil
	}
	f := &Figure{State: s.j.Circuit, Probes: [2]circuit.Node{circuit.Chassis, circuit.Chassis}}
	if s.j.Judged != nil {
		f.Cleared, f.Left = s.j.Judged.Cleared, s.j.Judged.Left
	}
	if p := s.j.Asked; p != nil && len(p.Tests) > 0 {
		f.State = after(s.unit(), s.j.Circuit, p.Acts)
		f.Probes = [2]circuit.Node{p.Tests[0].A, p.Tests[0].B}
	}
	return f
}

func (s *step) briefPhrases() []Message {
	var out []Message
	add := func(code Code, kv ...string) { out = append(out, phrase(code, kv...)) }
	ask := "brief.ask_general"
	if s.j.Verdict != nil {
		ask = "brief.ask_found"
	}
	if s.b == nil {
		add("brief.no_unit", "complaint", orNot(s.j.Tell("reported")))
		return out
	}
	u := s.unit()
	switch ask {
	case "brief.ask_found":
		add("brief.ask_found", "fault", foundName(u, *s.j.Verdict))
	default:
		add("brief.ask_general")
	}
	add("brief.safe", "safe", safeWords(s.j))
	add("brief.unit", "unit", u.Name, "supply", supplyName(u), "complaint", orNot(s.j.Tell("complaint")), "when", whenWords(u, s.j))
	if s.j.Tell("complaint") == doesNotWork && s.j.Tell("resets") == "" {
		add("brief.before", "history", shortened(orNot(s.j.Tell("history")), 120))
	} else {
		add("brief.history", "resets", orNot(s.j.Tell("resets")), "history", shortened(orNot(s.j.Tell("history")), 120))
	}
	off := offNow(u, s.j.Circuit)
	if off == "" {
		off = "nothing"
	}
	add("brief.off", "off", off)
	if o, ok := s.keyReading(); ok {
		e := s.b.engine().Explain(caseOf(s.j), o)
		kv := []string{"reading", testShort(u, o.Test) + " " + o.Got.String(), "off", offOrNothing(u, o.Test.In), "sound", soundText(e)}
		if e.False && e.Fits == isolate.AsSound {
			add("brief.key_false", kv...)
		} else {
			add("brief.key", kv...)
		}
	}
	if j := s.j.Judged; j != nil {
		add("brief.left", "items", leftText(u, leftByOdds(j), "or", 3))
		add("brief.not_looked", "items", s.notLooked())
	}
	add("brief.next", "next", s.nextStep())
	phone := s.j.Phone
	if phone == "" {
		phone = "not known"
	}
	add("brief.end", "readings", fmt.Sprint(s.j.Readings), "minutes", fmt.Sprint((s.j.Last-s.j.Began)/60_000),
		"photos", fmt.Sprint(s.j.Photos), "phone", phone)
	for len([]rune(s.text(out))) > longBrief {
		i := len(out) - 2
		for ; i > 0; i-- {
			if out[i].Code == "brief.not_looked" || out[i].Code == "brief.history" {
				break
			}
		}
		if i <= 0 {
			break
		}
		out = append(out[:i:i], out[i+1:]...)
	}
	return out
}

func orNot(text string) string {
	if text == "" {
		return "not asked"
	}
	return text
}

func shortened(text string, most int) string {
	if r := []rune(text); len(r) > most {
		return strings.TrimSpace(string(r[:most])) + "…"
	}
	return text
}

// whenWords says when it trips, or which loads are dead and which work.
func whenWords(u *circuit.Unit, j Job) string {
	if j.Tell("complaint") == doesNotWork {
		dead, works := tags(u, partsIn(j.Tell("dead loads"))), tags(u, partsIn(j.Tell("working loads")))
		switch {
		case dead == "":
			return "which loads is not known"
		case works == "":
			return "dead: " + dead
		}
		return "dead: " + dead + "; working: " + works
	}
	switch j.Tell("when") {
	case "switch":
		return "as the unit's switch is moved"
	case "breaker":
		return "as the breaker is closed"
	}
	return "moment not known"
}

func safeWords(j Job) string {
	var list []string
	switch {
	case j.Facts.Has(safety.Isolated | safety.Locked):
		list = append(list, "isolated, locked and tagged")
	case j.Facts.Has(safety.Isolated):
		list = append(list, "isolated, not locked")
	default:
		list = append(list, "NOT isolated by the record")
	}
	if j.Facts.Has(safety.ProvedDead) {
		list = append(list, "proved dead")
	} else {
		list = append(list, "not proved dead")
	}
	return strings.Join(list, ", ")
}

// leftByOdds are the items that are left, likeliest first, three at most.
func leftByOdds(j *Judged) []circuit.Item {
	var items []circuit.Item
	for _, it := range j.Items {
		if len(items) == 3 {
			break
		}
		for _, l := range j.Left {
			if l == it.Item {
				items = append(items, l)
			}
		}
	}
	return items
}

// keyReading is the last reading that a sound unit would not show, or the last one.
func (s *step) keyReading() (isolate.Observation, bool) {
	var last *isolate.Observation
	for i := len(s.j.Seen) - 1; i >= 0; i-- {
		o := s.j.Seen[i]
		if o.Void {
			continue
		}
		if last == nil {
			last = &s.j.Seen[i]
		}
		if e := s.b.engine().Explain(caseOf(s.j), o); e.Fits != isolate.AsSound {
			return o, true
		}
	}
	if last == nil {
		return isolate.Observation{}, false
	}
	return *last, true
}

// notLooked lists the covers that were never off in this job.
func (s *step) notLooked() string {
	var list []string
	for c := range s.unit().Covers {
		if !s.j.Circuit.Off.Has(c) {
			list = append(list, "behind "+coverName(s.unit(), c))
		}
	}
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, ", ")
}

func (s *step) nextStep() string {
	switch {
	case s.j.Facts.Has(safety.Mended):
		return "the readings before it is switched on"
	case s.j.Verdict != nil && s.j.Facts.Has(safety.CauseProved):
		return "put it right"
	}
	p := s.j.Asked
	if p == nil {
		p = s.j.Before
	}
	if p != nil && len(p.Tests) > 0 {
		return s.pointsOf(*p)
	}
	if s.j.Judged != nil && s.j.Facts.Has(safety.AtWork) {
		if c, err := s.b.engine().Next(s.believe(), s.j.Circuit, bansOf(s.j)); err == nil {
			return fmt.Sprintf("%s, %.0f min", s.pointsOf(Prompt{Tests: c.Tests}), max(c.Minutes, 1))
		}
		return "nothing telling is left in this file"
	}
	return "make safe and prove dead"
}

func (s *step) reportPhrases() []Message {
	var out []Message
	add := func(code Code, kv ...string) { out = append(out, phrase(code, kv...)) }
	if s.b == nil {
		add("report.no_unit")
		return out
	}
	u := s.unit()
	add("report.head", "unit", u.Name, "complaint", orNot(s.j.Tell("complaint")))
	if v := s.j.Verdict; v != nil {
		add("report.fault", "fault", foundName(u, *v), "readings", s.evidence())
		add("report.cause", "cause", orNot(s.j.Tell("cause")))
		switch {
		case s.j.Tell("repair") != "":
			add("report.repair", "how", s.j.Tell("repair"), "item", v.Item.Name(u))
		default:
			add("report.part", "item", v.Item.Name(u))
		}
	} else {
		add("report.not_found")
	}
	add("report.readings", "n", fmt.Sprint(s.j.Readings))
	if s.j.Closed != nil {
		off := "nothing"
		if len(s.j.Closed.Off) > 0 {
			off = endsNamed(u, s.j.Closed.Off)
		}
		add("report.left", "outcome", s.j.Closed.Outcome, "off", off)
	}
	if s.j.Tell("insulation") != "" {
		add("report.insulation", "value", s.j.Tell("insulation"))
	}
	if s.j.Tell("amps said") != "" {
		add("report.amps", "text", s.j.Tell("amps said"))
	}
	if s.j.Closed != nil && s.j.Closed.Outcome == "restored" {
		if s.j.Tell("complaint") == doesNotWork {
			add("report.customer_works")
		} else {
			add("report.customer_on")
		}
	} else {
		add("report.customer_off")
	}
	add("report.local")
	return out
}

// Text returns the sentence of a code, for what is said outside a job.
func Text(lang string, code Code, args ...Arg) string {
	if lang == "" {
		lang = wording.English
	}
	return textOf(lang, Message{Code: code, Args: args})
}
