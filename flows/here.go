package flows

import (
	"slices"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// askHere asks to open another cover and to prove dead behind it, in one card.
func (s *step) askHere() {
	fields := []string{"known", "here:frame", "here:between", "again"}
	if s.j.State == ProveHere {
		s.ask(Prompt{Ask: "ask_proof_here", Fields: fields}, nil)
		return
	}
	list := coverTick()
	p := Prompt{Ask: "ask_cover_here", Fields: append(tickFields(list), fields...), Choices: tickChoices(list)}
	if s.opening != nil {
		p.Acts = []isolate.Act{*s.opening}
	} else if b := s.j.Before; b != nil {
		p.Acts = coversIn(b.Acts)
	}
	s.ask(p, nil)
}

func coversIn(acts []isolate.Act) []isolate.Act {
	var out []isolate.Act
	for _, a := range acts {
		if a.Kind == isolate.OpenCover {
			out = append(out, a)
		}
	}
	return out
}

// coverTick is the line of the card for another cover.
func coverTick() []Tick {
	return []Tick{{Name: "cover", Letter: "a", On: OnOpenedHere, words: []string{"cover off", "panel off", "drawer off", "drawer out", "opened", "it's off", "its off"}}}
}

// answerHere takes the tick and the four values.
func (s *step) answerHere(text string) {
	t := readTicks(text, coverTick())
	if s.cardRefused(t) {
		return
	}
	if s.j.Asked == nil {
		s.goOn()
		return
	}
	acts := s.j.Asked.Acts
	opened := slices.Contains(t.names, "cover")
	hasValues := isValues(t.rest, []string{"known", "here:frame", "here:between", "again"})
	if s.j.State == OpenHere {
		if !opened {
			if hasValues {
				s.say("here.tick_first", "letter", coverTick()[0].Letter)
				s.pose()
				return
			}
			s.unknown()
			return
		}
		s.do(acts)
		if !s.move(OnOpenedHere) {
			s.goOn()
			return
		}
	}
	fields := []string{"known", "here:frame", "here:between", "again"}
	if !hasValues {
		if !opened {
			s.unknown()
			return
		}
		s.goOn()
		return
	}
	got, doubt := readFields(t.rest, fields)
	if doubt != nil {
		s.say(doubtCode(doubt), doubtArgs(doubt)...)
		s.goOn()
		return
	}
	for _, g := range got {
		v := max(g.reading.Value(), -g.reading.Value())
		switch {
		case g.reading.Class != quantity.Value:
			s.say("prove.unclear", "field", fieldName(g.field), "value", g.reading.String())
			s.goOn()
			return
		case g.field == "known" || g.field == "again":
			if v < voltsKnown {
				s.say("prove.tester", "value", g.reading.String())
				s.goOn()
				return
			}
		case safety.FindingOf(quantity.Volts(v)) == safety.IsLive:
			s.backOff("prove.live", OnLiveFound, g)
			return
		case safety.FindingOf(quantity.Volts(v)) != safety.IsDead:
			s.say("prove.low_volts", "pair", fieldName(g.field), "value", g.reading.String())
			s.goOn()
			return
		}
	}
	if len(got) < len(fields) {
		s.say("here.all_four")
		s.goOn()
		return
	}
	on := OnHereDead
	switch s.j.Came {
	case Confirm:
		on = OnHereConfirm
	case Repair:
		on = OnHereRepair
	case Land:
		on = OnHereLand
	case Permit:
		on = OnHerePermit
	}
	s.move(on)
	s.goOn()
}

// askNeutral asks for what safety rule 8 wants before the neutral comes off.
func (s *step) askNeutral() {
	s.ask(Prompt{Ask: "ask_neutral", Fields: []string{"volts:N-PE", "clamp"}}, nil)
}

// Limits before a neutral is lifted: as for dead, and no current that a clamp shows.
const clampDead = 0.05

func (s *step) answerNeutral(text string) {
	if has(text, "shared", "serves", "other circuit") && !denied(text) {
		s.move(OnNeutralShared)
		s.say("neutral.shared")
		s.goOn()
		return
	}
	fields := []string{"volts:N-PE", "clamp"}
	if s.j.Asked != nil && len(s.j.Asked.Fields) > 0 {
		fields = s.j.Asked.Fields
	}
	if !isValues(text, fields) {
		if isBlanket(text) {
			s.say("neutral.typed")
			s.pose()
			return
		}
		s.unknown()
		return
	}
	got, doubt := readFields(text, fields)
	if doubt != nil {
		s.say(doubtCode(doubt), doubtArgs(doubt)...)
		s.pose()
		return
	}
	for _, g := range got {
		v := max(g.reading.Value(), -g.reading.Value())
		limit := float64(safety.DeadBelow)
		if g.field == "clamp" {
			limit = clampDead
		}
		switch {
		case g.reading.Class != quantity.Value:
			s.say("prove.unclear", "field", fieldName(g.field), "value", g.reading.String())
			s.pose()
			return
		case v >= limit:
			s.tell("neutral", "live")
			s.backOff("neutral.live", OnNeutralLive, g)
			return
		}
		fields = slices.DeleteFunc(slices.Clone(fields), func(f string) bool { return f == g.field })
	}
	if len(fields) > 0 {
		s.ask(Prompt{Ask: "ask_neutral", Fields: fields}, nil)
		return
	}
	on := OnNeutralDead
	switch s.j.Came {
	case Confirm:
		on = OnNeutralConfirm
	case Permit:
		on = OnNeutralPermit
	}
	s.move(on)
	s.goOn()
}

// before does what has to come before acts: another cover is opened and proved first,
// the neutral is checked before it is lifted. It reports whether acts may be asked for
// as they are.
func (s *step) before(acts []isolate.Act) bool {
	for _, a := range acts {
		if a.Kind == isolate.OpenCover && !s.j.Circuit.Off.Has(a.Cover) {
			s.opening = &a
			if s.move(OnCoverWanted) {
				s.askHere()
				return false
			}
			s.err = &ErrUnexpected{State: s.j.State, Event: OnCoverWanted}
			return false
		}
	}
	if s.liftsNeutral(acts) && !s.j.Facts.Has(safety.NeutralDead) {
		if s.move(OnNeutralWanted) {
			s.askNeutral()
		} else {
			s.err = &ErrUnexpected{State: s.j.State, Event: OnNeutralWanted}
		}
		return false
	}
	return true
}

// liftsNeutral reports whether acts lift the neutral at the unit's own terminals.
func (s *step) liftsNeutral(acts []isolate.Act) bool {
	model := s.b.engine()
	return slices.ContainsFunc(acts, func(a isolate.Act) bool {
		return a.Kind == isolate.Lift && !s.j.Circuit.Lifted.Has(int(a.End)) && model.IsNeutral(a.End)
	})
}

// neutralOff lists the neutral's ends that are off.
func (s *step) neutralOff() []circuit.EndID {
	var off []circuit.EndID
	for _, e := range s.b.engine().NeutralEnds() {
		if s.j.Circuit.Lifted.Has(int(e)) {
			off = append(off, e)
		}
	}
	return off
}
