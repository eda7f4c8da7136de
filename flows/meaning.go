package flows

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
)

// explainAll says what readings mean on this circuit, before anything is concluded.
func (s *step) explainAll(list []isolate.Observation) {
	for _, o := range list {
		s.explain(o)
	}
}

func (s *step) explain(o isolate.Observation) {
	u := s.unit()
	e := s.b.engine().Explain(caseOf(s.j), o)
	kv := []string{"where", testShort(u, o.Test), "got", o.Got.String(), "sound", soundText(e)}
	low := o.Got.Class == quantity.Value || o.Got.Class == quantity.Short
	switch {
	case e.False && e.Fits == isolate.AsSound:
		s.say("mean.false", append(kv, "path", s.pathText(e.Paths))...)
		s.honest(o, e)
	case e.False:
		s.say("mean.false_off", append(kv, "path", s.pathText(e.Paths))...)
		s.honest(o, e)
	case e.Fits == isolate.Leaky:
		s.say("mean.leaky", kv...)
	case e.Fits == isolate.TooLow && o.Test.B == circuit.Chassis:
		s.say("mean.low_frame", kv...)
	case e.Fits == isolate.TooLow:
		s.say("mean.low", kv...)
	case e.Fits == isolate.TooHigh:
		s.say("mean.high", kv...)
	case o.Test.B == circuit.Chassis && low:
		s.say("mean.megohms", kv...)
	case o.Test.B == circuit.Chassis:
		s.say("mean.clear", kv...)
	default:
		s.say("mean.sound", kv...)
	}
}

// honest names what has to come off for a reading that proves something.
func (s *step) honest(o isolate.Observation, e isolate.Explanation) {
	if len(e.Honest) == 0 {
		return
	}
	var names []string
	for _, a := range e.Honest {
		names = append(names, actName(s.unit(), a))
	}
	s.say("mean.honest", "acts", strings.Join(names, "; "), "sound", e.HonestR.String())
	_ = o
}

// soundText is what a sound unit reads, with its band where it is wide.
func soundText(e isolate.Explanation) string {
	if math.IsInf(float64(e.Sound), 0) || e.Sound >= 1e7 {
		return "OL"
	}
	if e.Lo > 0 && !math.IsInf(float64(e.Hi), 0) && (e.Hi-e.Lo) > 0.3*e.Sound && e.Sound > 2 {
		return fmt.Sprintf("about %v (%v to %v)", e.Sound, e.Lo, e.Hi)
	}
	return "about " + e.Sound.String()
}

// pathText says the ways of the current in a sound unit, part by part with its ohms.
func (s *step) pathText(paths []isolate.Path) string {
	u := s.unit()
	var all []string
	for i, p := range paths {
		if i == 2 {
			all = append(all, fmt.Sprintf("and %d smaller ways", len(paths)-2))
			break
		}
		text := p.Ohms.String() + ": "
		if len(paths) > 1 {
			text = fmt.Sprintf("%.0f %% of the current, %s", 100*p.Share, text)
		}
		var via []string
		for _, id := range p.Through {
			via = append(via, string(u.Parts[id].Kind)+" "+u.Parts[id].Tag+partOhms(u, id))
		}
		var wires []string
		for _, w := range p.Wires {
			wires = append(wires, wireShort(u, w))
		}
		if len(via) > 0 {
			text += "through " + strings.Join(via, " and ")
		}
		if len(wires) > 0 {
			if len(via) > 0 {
				text += ", "
			}
			text += "by " + strings.Join(wires, " → ")
		}
		if p.Neutral {
			text += ", to neutral, which is bonded to ground" + bondedAt(u)
		}
		all = append(all, text)
	}
	return strings.Join(all, "; ")
}

func bondedAt(u *circuit.Unit) string {
	for _, src := range u.Sources {
		if src.Bonded != "" && slices.Contains(src.Legs, "N") {
			return " " + strings.TrimSpace(src.Bonded)
		}
	}
	return ""
}

// partOhms is the sound resistance of the part's first resistance: " (24 Ω)".
func partOhms(u *circuit.Unit, p circuit.PartID) string {
	for _, e := range u.Parts[p].Elems {
		if e.Role == circuit.Resist && e.Ohms.Nominal > 0 {
			return " (" + e.Ohms.Nominal.String() + ")"
		}
	}
	return ""
}

// sayProgress says what was cleared just now, what is left and what is off.
func (s *step) sayProgress(b *isolate.Belief, was *Judged) {
	u := s.unit()
	var fresh []circuit.Item
	for _, it := range b.Cleared {
		if was == nil || !slices.Contains(was.Cleared, it) {
			fresh = append(fresh, it)
		}
	}
	if len(fresh) > 0 {
		s.say("progress.cleared", "items", itemsNamed(u, fresh, "and", 4))
	}
	switch n := len(b.Left); {
	case b.Verdict == isolate.Proved || n == 0:
	case n <= 4:
		s.say("progress.left", "items", itemsNamed(u, b.Left, "or", 4))
	default:
		s.say("progress.left_many", "n", fmt.Sprint(n), "items", itemsNamed(u, topItems(b, 3), "and", 3))
	}
	if off := endsNamed(u, endsOf(s.j.Circuit.Lifted)); off != "" {
		s.say("progress.off", "off", off)
	}
	if s.isSenior() {
		s.say("progress.odds", "odds", oddsText(u, s.j.Judged))
	}
}

func topItems(b *isolate.Belief, n int) []circuit.Item {
	var items []circuit.Item
	for _, o := range b.Odds {
		if len(items) == n {
			break
		}
		items = append(items, o.Item)
	}
	return items
}

// oddsText is for seniors and reviewers: names with per cent. A skeleton states none.
func oddsText(u *circuit.Unit, j *Judged) string {
	if j == nil || u.Skeleton {
		return "not stated"
	}
	var list []string
	for i, it := range j.Items {
		if i == 5 {
			break
		}
		list = append(list, fmt.Sprintf("%s %.1f %%", it.Fault.Name(u), float64(it.PerMille)/10))
	}
	list = append(list, fmt.Sprintf("not in this file %.1f %%", float64(j.Unknown)/10))
	return strings.Join(list, ", ")
}
