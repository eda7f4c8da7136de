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
	case e.False && e.Fits == isolate.TooHigh:
		s.say("mean.false_high", append(kv, "path", s.pathText(e.Paths))...)
	case e.False:
		s.say("mean.false_low", append(kv, "path", s.pathText(e.Paths))...)
	case e.Fits == isolate.Leaky && s.b.engine().Accounts(s.believe(), o):
		s.say("mean.low_frame", kv...)
	case e.Fits == isolate.Leaky:
		s.say("mean.leaky", kv...)
	case e.Fits == isolate.TooLow && o.Test.B == circuit.Chassis:
		s.say("mean.low_frame", kv...)
	case e.Fits == isolate.TooLow:
		s.say("mean.low", kv...)
	case e.Fits == isolate.TooHigh && !low && o.Test.B != circuit.Chassis:
		s.say("mean.open", kv...)
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

// pathText says the ways of the current in a sound unit: the one that carries most part
// by part with its ohms and wires, the next by its parts, the rest counted.
func (s *step) pathText(paths []isolate.Path) string {
	u := s.unit()
	if len(paths) == 0 {
		return "by wires and closed contacts alone"
	}
	p := paths[0]
	var wires []string
	for _, w := range p.Wires {
		if !u.Wires[w].Fixed {
			wires = append(wires, wireShort(u, w))
		}
	}
	text := s.partsText(p)
	if len(wires) > 0 {
		text = also(text, strings.Join(wires, " → "))
	}
	if p.Neutral {
		text += ", neutral, bonded to ground" + bondedAt(u)
	}
	text += ": " + p.Ohms.String()
	if len(paths) > 1 {
		others := s.partsText(paths[1]) + " " + paths[1].Ohms.String()
		if n := len(paths) - 2; n > 0 {
			others += fmt.Sprintf(", and %d more", n)
		}
		text += fmt.Sprintf(" for %.0f %% of the current; also %s", 100*p.Share, others)
	}
	return text
}

// partsText names the parts with resistance on a way, with their ohms.
func (s *step) partsText(p isolate.Path) string {
	u := s.unit()
	var via []string
	for _, id := range p.Through {
		via = append(via, string(u.Parts[id].Kind)+" "+u.Parts[id].Tag+partOhms(u, id))
	}
	if len(via) == 0 {
		return "wires alone"
	}
	return strings.Join(via, " → ")
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
	case b.Verdict == isolate.Proved:
	case n == 0:
		s.say("progress.none_left")
	case len(b.Group) > 1 && len(b.Group) == n:
		s.say("progress.group", "items", itemsNamed(u, b.Group, "or", 4))
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
