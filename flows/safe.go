package flows

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/machine"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// voltsKnown is what a tester has to read at least on a known source to be relied on.
// Common practice, no source.
const voltsKnown = 50

// Times in ms after which the engine is to call.
const (
	proofAge    = int64(safety.ProofLasts / time.Millisecond)
	nudgeAfter  = 10 * 60 * 1000
	silence     = int64(safety.SilenceLasts / time.Millisecond)
	seniorAfter = 45 * 60 * 1000
)

// askCard asks for the ticks that are missing, and with the last of them to open the
// cover and prove dead, in one card.
func (s *step) askCard() {
	if s.j.Facts.Has(safety.NobodyHurt) && !s.j.Facts.Has(safety.Qualified) {
		if s.in.Rights.May < MayDead {
			s.checkLevel()
			return
		}
		s.move(OnLevelOK)
	}
	open := openTicks(safeTicks()[:9], s.j.Facts)
	if len(open) > 0 {
		s.ask(Prompt{Ask: "ask_safe_card", Fields: tickFields(open), Choices: tickChoices(open)}, nil)
		return
	}
	if s.j.Facts.Has(safety.CoverOpened) && s.move(OnTickCover) { // it is off already: on to the proof
		s.goOn()
		return
	}
	cover := safeTicks()[9:10]
	p := Prompt{Ask: "ask_cover", Fields: append(tickFields(cover), s.proofFields()...), Choices: tickChoices(safeTicks()[9:])}
	if c := coverOfFeed(s.unit()); c != circuit.None && !s.j.Circuit.Off.Has(c) {
		p.Acts = []isolate.Act{openCover(c)}
	}
	s.ask(p, nil)
}

func openCover(c int) isolate.Act {
	return isolate.Act{Kind: isolate.OpenCover, Cover: c, End: circuit.None, Part: circuit.None, To: circuit.None}
}

// proofFields are the values of a proof of dead, in the order in which they are read.
func (s *step) proofFields() []string {
	fields := []string{"known"}
	for _, p := range pairsOf(s.unit()) {
		fields = append(fields, "volts:"+p)
	}
	fields = append(fields, "again", "tick:guarded")
	if s.j.Tell("leads") == "" {
		fields = append(fields, "leads")
	}
	return fields
}

// pairsOf names every pair of conductors of every source, PE among them, and the load
// side of every contactor, which may be fed from elsewhere (safety rule 4).
func pairsOf(u *circuit.Unit) []string {
	var all []string
	for i, src := range u.Sources {
		for _, pair := range safety.Pairs(src.Legs) {
			name := pair[0] + "-" + pair[1]
			if i > 0 {
				name = src.Name + " " + name
			}
			all = append(all, name)
		}
	}
	for _, p := range u.Parts {
		if p.Kind == circuit.KindContact {
			all = append(all, p.Tag+"-load")
		}
	}
	return all
}

// answerCard takes ticks, and values that came with them.
func (s *step) answerCard(text string) {
	list := safeTicks()
	t := readTicks(text, list)
	if s.cardRefused(t) {
		return
	}
	values := t.rest
	if !isValues(values, s.proofFields()) {
		values = ""
	}
	if len(t.names) == 0 && values == "" {
		s.unknown()
		return
	}
	waits := s.tick(t.names, list)
	if s.err != nil || s.j.State == LookOnly {
		return
	}
	if s.j.State == Prove {
		s.proving(s.proofFields(), values, slices.Contains(t.names, "guarded"))
		return
	}
	if len(waits) > 0 {
		s.say("safe.order", "waits", strings.Join(waits, ", "))
	} else if values != "" {
		s.say("safe.values_wait")
	}
	s.askCard()
}

// cardRefused answers a blanket "done" and a denial. It reports whether it did.
func (s *step) cardRefused(t ticked) bool {
	switch {
	case t.blanket && (s.j.State == Prove || s.j.State == ProveHere):
		s.say("prove.typed")
	case t.blanket:
		s.say("safe.blanket")
	case t.denied:
		s.keepNote()
		s.say("safe.denied")
	default:
		return false
	}
	s.repose()
	return true
}

// tick sets the facts of the named ticks in order; those that wait for an earlier one
// are returned by their letters.
func (s *step) tick(names []string, list []Tick) (waits []string) {
	for _, t := range list {
		if !slices.Contains(names, t.Name) || s.j.Facts.Has(t.Sets) {
			continue
		}
		if t.Sets == safety.Guarded {
			continue // comes after the values
		}
		if !s.may(t.On) {
			waits = append(waits, t.Letter)
			continue
		}
		if t.On == OnTickCover && s.j.Asked != nil {
			s.do(s.j.Asked.Acts)
		}
		s.move(t.On)
		if t.On == OnTickNobodyHurt {
			if s.in.Rights.May < MayDead {
				s.checkLevel()
				return nil
			}
			s.move(OnLevelOK)
		}
	}
	return waits
}

// do records acts as done.
func (s *step) do(acts []isolate.Act) {
	for _, a := range acts {
		s.emit(Did{Act: recorded(s.unit(), a)})
	}
}

// askProof asks for the values that are missing.
func (s *step) askProof() { s.askValues("ask_proof", s.proofLeft(s.proofFields())) }

// proofLeft leaves out what has been established.
func (s *step) proofLeft(fields []string) []string {
	return slices.DeleteFunc(slices.Clone(fields), func(f string) bool {
		switch {
		case f == "known":
			return s.j.Facts.Has(safety.KnownBefore)
		case strings.HasPrefix(f, "volts:"):
			return s.j.Facts.Has(safety.PairsDead)
		case f == "again":
			return s.j.Facts.Has(safety.KnownAfter)
		case f == "tick:guarded":
			return s.j.Facts.Has(safety.Guarded)
		}
		return false
	})
}

func (s *step) askValues(ask Code, fields []string) {
	p := Prompt{Ask: ask, Fields: fields}
	for _, f := range fields {
		switch f {
		case "tick:guarded":
			p.Choices = append(p.Choices, tickChoices(safeTicks()[10:11])...)
		}
	}
	if !slices.ContainsFunc(fields, func(f string) bool { return f != "tick:guarded" && f != "leads" }) {
		p.Ask = "ask_guarded"
	}
	s.ask(p, nil)
}

// answerProof takes typed values and the last tick.
func (s *step) answerProof(text string) {
	t := readTicks(text, safeTicks())
	if s.cardRefused(t) {
		return
	}
	guarded := slices.Contains(t.names, "guarded")
	fields := s.proofFields()
	if s.j.Asked != nil && len(s.j.Asked.Fields) > 0 {
		fields = s.j.Asked.Fields
	}
	if !isValues(t.rest, fields) {
		if !guarded {
			s.unknown()
			return
		}
		t.rest = ""
	}
	s.proving(fields, t.rest, guarded)
}

// proving works on the values of a proof. Fields are those that are open, in order;
// the facts are set in that order and no value is taken twice.
func (s *step) proving(fields []string, text string, guarded bool) {
	fields = slices.DeleteFunc(slices.Clone(fields), func(f string) bool { return f == "tick:cover" })
	got, doubt := readFields(text, fields)
	if doubt != nil {
		s.say(doubtCode(doubt), doubtArgs(doubt)...)
		s.askValues("ask_proof", fields)
		return
	}
	left := slices.Clone(fields)
	drop := func(f string) { left = slices.DeleteFunc(left, func(o string) bool { return o == f }) }
	for _, g := range got {
		v := g.reading.Value()
		if v < 0 {
			v = -v
		}
		number := g.reading.Class == quantity.Value
		switch {
		case g.field == "leads":
			if number {
				s.tell("leads", g.reading.Hi.String())
			}
			drop("leads")
		case !number:
			s.say("prove.unclear", "field", fieldName(g.field), "value", g.reading.String())
			s.askValues("ask_proof", left)
			return
		case g.field == "known" || g.field == "again":
			on := OnKnownBefore
			if g.field == "again" {
				on = OnKnownAfter
			}
			if v < voltsKnown {
				s.move(OnTesterFailed)
				s.say("prove.tester", "value", g.reading.String())
				s.askProof()
				return
			}
			if !s.move(on) {
				s.say("prove.order", "field", fieldName(g.field))
				s.askValues("ask_proof", left)
				return
			}
			drop(g.field)
		case safety.FindingOf(quantity.Volts(v)) == safety.IsLive:
			s.backOff("prove.live", OnLiveFound, g)
			return
		case safety.FindingOf(quantity.Volts(v)) != safety.IsDead:
			s.move(OnLowVoltsFound)
			s.say("prove.low_volts", "pair", fieldName(g.field), "value", g.reading.String())
			s.askProof()
			return
		default:
			drop(g.field)
		}
		if !s.j.Facts.Has(safety.PairsDead) && s.j.Facts.Has(safety.KnownBefore) && !slices.ContainsFunc(left, isPair) {
			s.move(OnPairsDead)
		}
	}
	if guarded && s.j.Facts.Has(safety.KnownAfter) && s.move(OnGuarded) {
		drop("tick:guarded")
	}
	if !s.j.Facts.Has(safety.ProvedDead) {
		s.askValues("ask_proof", left)
		return
	}
	s.proved()
}

func isPair(f string) bool { return strings.HasPrefix(f, "volts:") }

// backOff drops what a live reading made untrue.
func (s *step) backOff(code Code, on machine.Event, g fieldValue) {
	s.move(on)
	s.say(code, "pair", fieldName(g.field), "value", g.reading.String())
	s.goOn()
}

// proved goes on to where the job was when the proof was called for.
func (s *step) proved() {
	on := OnProved
	switch {
	case s.j.Facts.Has(safety.CauseProved|safety.Mended) && len(s.landable()) == 0:
		on = OnProvedPermit
	case s.j.Facts.Has(safety.CauseProved | safety.Mended):
		on = OnProvedLand
	case s.j.Facts.Has(safety.CauseProved):
		on = OnProvedRepair
	}
	if !s.move(on) {
		s.goOn()
		return
	}
	s.timer("proof_old", proofAge)
	if s.j.Tell("offer timer") == "" {
		s.tell("offer timer", "set")
		s.timer("offer_senior", seniorAfter)
	}
	s.say("prove.dead")
	if s.j.Tell("leaving") == "yes" && s.move(OnLeave) {
		s.tell("leaving", "")
	}
	s.goOn()
}

// fieldValue is a reading typed for a field of a card.
type fieldValue struct {
	field   string
	reading quantity.Reading
}

// readFields reads values for the fields of a card: by name ("L1-L2 0"), or in the
// order asked, as many as there are.
func readFields(text string, fields []string) ([]fieldValue, *quantity.Doubt) {
	var open []string
	for _, f := range fields {
		if !strings.HasPrefix(f, "tick:") && !strings.HasPrefix(f, "landed:") {
			open = append(open, f)
		}
	}
	if text == "" || len(open) == 0 {
		return nil, nil
	}
	if named, doubt := readNamed(text, open); named != nil || doubt != nil {
		return named, doubt
	}
	wants := make([]quantity.Want, len(open))
	for i, f := range open {
		wants[i] = wantOf(f)
	}
	list, doubt := quantity.ParseList(text, wants)
	readings := make([]quantity.Reading, len(list))
	for i, l := range list {
		readings[i] = l.Reading
	}
	if doubt != nil {
		if doubt.Code != quantity.Count || len(doubt.Options) == 0 || len(doubt.Options) > len(open) {
			return nil, doubt
		}
		readings = doubt.Options
	}
	out := make([]fieldValue, 0, len(readings))
	for i, r := range readings {
		out = append(out, fieldValue{field: open[i], reading: r})
	}
	return out, nil
}

// isValues reports whether a text holds numbers for the fields and nothing that could
// be about something else.
func isValues(text string, fields []string) bool {
	if !strings.ContainsAny(text, "0123456789") {
		return false
	}
	var names []string
	for _, f := range fields {
		for _, w := range fieldWords(f) {
			names = append(names, wordsOf(w)...)
		}
	}
	fillers := []string{"v", "mv", "volt", "volts", "vac", "vdc", "ac", "dc", "a", "amp", "amps", "ma", "ohm", "ohms", "all", "rest", "others", "other", "zero", "zeros",
		"ol", "source", "known", "again", "before", "after", "then", "and", "pairs", "the", "is", "are", "to", "leads", "each", "clamp", "highest", "still", "about"}
	for _, w := range wordsOf(text) {
		if !strings.ContainsAny(w, "0123456789") && strings.Trim(w, ".-:'") != "" && !slices.Contains(fillers, w) && !slices.Contains(names, w) {
			return false
		}
	}
	return true
}

// readNamed reads "L1-L2 0, N-PE 0": nil if the text names no field.
func readNamed(text string, open []string) ([]fieldValue, *quantity.Doubt) {
	type place struct {
		at, end int
		field   string
	}
	var found []place
	for _, f := range open {
		for _, word := range fieldWords(f) {
			for at := 0; ; {
				i := strings.Index(text[at:], word)
				if i < 0 {
					break
				}
				i += at
				at = i + len(word)
				if wholeWord(text, i, at) {
					found = append(found, place{i, at, f})
				}
			}
		}
	}
	slices.SortStableFunc(found, func(a, b place) int {
		if a.at != b.at {
			return a.at - b.at
		}
		return b.end - a.end
	})
	var out []fieldValue
	for i, p := range found {
		if i > 0 && p.at < found[i-1].end {
			continue
		}
		to := len(text)
		if i+1 < len(found) {
			to = max(found[i+1].at, p.end)
		}
		value := strings.Trim(text[p.end:to], " ,:=;?")
		if value == "" || value == "source" {
			continue
		}
		value = strings.TrimPrefix(value, "source ")
		r, doubt := quantity.Parse(value, wantOf(p.field))
		if doubt != nil {
			return nil, doubt
		}
		out = append(out, fieldValue{field: p.field, reading: r})
	}
	slices.SortStableFunc(out, func(a, b fieldValue) int { return slices.Index(open, a.field) - slices.Index(open, b.field) })
	return slices.CompactFunc(out, func(a, b fieldValue) bool { return a.field == b.field }), nil
}

func wholeWord(text string, from, to int) bool {
	inWord := func(i int) bool {
		c := text[i]
		return c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-'
	}
	return (from == 0 || !inWord(from-1)) && (to == len(text) || !inWord(to))
}

// fieldWords are what is typed for a field.
func fieldWords(f string) []string {
	_, name, found := strings.Cut(f, ":")
	if !found {
		name = f
	}
	name = strings.ToLower(name)
	words := []string{name}
	switch f {
	case "known":
		words = append(words, "known source", "source")
	case "again":
		words = append(words, "known again", "source again", "known source again")
	case "leads":
		words = append(words, "shorted leads")
	case "clamp":
		words = append(words, "clamp n", "amps")
	}
	if a, b, ok := strings.Cut(name, "-"); ok {
		words = append(words, b+"-"+a, a+" to "+b, a+" "+b)
	}
	return words
}

// fieldName is how a field is shown.
func fieldName(f string) string {
	switch f {
	case "known":
		return "known source"
	case "again":
		return "known source again"
	case "leads":
		return "shorted leads"
	case "clamp":
		return "clamp on the neutral"
	case "here:frame":
		return "highest to frame"
	case "here:between":
		return "highest between two"
	case "insulation":
		return "500 V insulation test"
	}
	_, name, found := strings.Cut(f, ":")
	if !found {
		return f
	}
	return name
}

func wantOf(f string) quantity.Want {
	switch {
	case f == "leads":
		return quantity.Want{Unit: quantity.Ohm, Lo: 0, Hi: 2}
	case f == "clamp" || strings.HasPrefix(f, "amps:"):
		return quantity.Want{Unit: quantity.Amp, Lo: 0, Hi: 100}
	case f == "insulation":
		return quantity.Want{Unit: quantity.Ohm, Lo: 1e4, Hi: 1e12}
	}
	return quantity.Want{Unit: quantity.Volt, Lo: 0, Hi: 1000}
}

// factsNamed lists facts for a person.
func factsNamed(f safety.Facts) string {
	names := (f & safety.All).Names()
	for i, n := range names {
		names[i] = strings.ReplaceAll(n, "_", " ")
	}
	return strings.Join(names, ", ")
}

func doubtCode(d *quantity.Doubt) Code {
	return Code("doubt." + strings.ReplaceAll(string(d.Code), " ", "_"))
}

func doubtArgs(d *quantity.Doubt) []string {
	var options []string
	for _, r := range d.Options {
		options = append(options, r.String())
	}
	return []string{"text", quoted(d.Text), "options", joined(options, "or"), "count", fmt.Sprint(len(d.Options))}
}
