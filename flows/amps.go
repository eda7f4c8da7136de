package flows

import (
	"math"
	"strings"

	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
)

// How far the amps of a leg may be from what the circuit gives before that is said: the
// greater of a share and a number. Tolerance of elements, mains and a clamp together;
// common practice, no source.
const (
	ampsShare = 0.2
	ampsLeast = 0.5
)

// legAmps is the current that a sound unit draws from a leg with everything on.
func (s *step) legAmps(leg string) (quantity.Amps, bool) {
	on, _ := isolate.InUse(s.unit())
	live, err := s.b.engine().Network().Live(on, nil, nil)
	if err != nil {
		return 0, false
	}
	total, found := 0.0, false
	for i, src := range s.unit().Sources {
		for k, l := range src.Legs {
			if l == leg {
				total += float64(live.LegAmps(i, k))
				found = true
			}
		}
	}
	return quantity.Amps(total), found
}

// compareAmps says where the amps of a leg differ much from those of a sound unit.
func (s *step) compareAmps(got []fieldValue) {
	if s.unit().Skeleton || s.unit().Partial {
		return // such a file does not know every load
	}
	var said []string
	for _, g := range got {
		leg := fieldName(g.field)
		sound, ok := s.legAmps(leg)
		if !ok || g.reading.Class != quantity.Value {
			continue
		}
		is, should := math.Abs(g.reading.Value()), float64(sound)
		kv := []string{"leg", leg, "got", g.reading.String(), "sound", quantity.Amps(math.Round(should*10) / 10).String()}
		code := Code("")
		switch band := math.Max(ampsShare*should, ampsLeast); {
		case is > should+band:
			code = "verify.amps_high"
		case is < should-band:
			code = "verify.amps_low"
		default:
			continue
		}
		s.say(code, kv...)
		said = append(said, textOf(s.lang(), phrase(code, kv...)))
	}
	s.tell("amps said", strings.Join(said, " "))
}

// nowTrips makes a trip the complaint: the unit did not trip before.
func (s *step) nowTrips(at string) {
	if s.j.Tell("complaint") != doesNotWork {
		return
	}
	s.tell("complaint", atOnce)
	when := "not known"
	switch at {
	case stepBreaker:
		when = "breaker"
	case stepUnit:
		when = "switch"
	}
	s.tell("when", when)
	s.belief = nil
}

// nowDead makes what does not work the complaint: it holds, so nothing trips any more.
func (s *step) nowDead(text string) {
	if s.b == nil {
		return
	}
	dead := s.loadsNamed(text)
	switch {
	case len(dead) > 0:
		s.tell("dead loads", partWords(dead, "not known"))
		s.tell("working loads", "none")
	case s.j.Tell("complaint") != doesNotWork:
		s.tell("dead loads", "not known")
		s.tell("working loads", "none")
	}
	if s.j.Tell("complaint") != doesNotWork {
		s.tell("complaint", doesNotWork)
	}
	s.belief = nil
}
