package flows

import (
	"slices"
	"strings"

	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
)

// Tick is one line of a card: a thing done and seen by the person on site.
type Tick struct {
	Name   string // as in Prompt.Fields after "tick:"
	Letter string // what is typed for it
	On     machine.Event
	Sets   safety.Facts
	words  []string // any of them, all words of it present, names the tick
}

// safeTicks are the ticks before the tester goes on, in the order of safety rule 2.
func safeTicks() []Tick {
	return lettered([]Tick{
		{Name: "nobody", On: OnTickNobodyHurt, Sets: safety.NobodyHurt, words: []string{"nobody hurt", "no one hurt", "noone hurt", "everyone fine"}},
		{Name: "kit", On: OnTickKit, Sets: safety.KitReady, words: []string{"gloves on", "kit ready", "tester ready", "glasses on"}},
		{Name: "sources", On: OnTickSources, Sets: safety.SourcesRead, words: []string{"sources read", "hazards read", "sources", "hazards"}},
		{Name: "kitchen", On: OnTickKitchen, Sets: safety.KitchenTold, words: []string{"kitchen told", "told kitchen", "told the kitchen", "told them", "kitchen knows"}},
		{Name: "switch", On: OnTickUnitOff, Sets: safety.UnitOff, words: []string{"switch off", "switched off", "unit off", "rocker off"}},
		{Name: "isolated", On: OnTickIsolated, Sets: safety.Isolated, words: []string{"disconnect open", "disconnect off", "isolated", "breaker off", "isolator open", "unplugged", "plug out"}},
		{Name: "locked", On: OnTickLocked, Sets: safety.Locked, words: []string{"locked", "lock on", "locked and tagged", "tagged"}},
		{Name: "released", On: OnTickReleased, Sets: safety.Released, words: []string{"stored energy", "energy released", "energy gone", "discharged"}},
		{Name: "tried", On: OnTickTried, Sets: safety.TriedStart, words: []string{"tried to start", "tried start", "tried it", "try start", "tried to switch"}},
		{Name: "cover", On: OnTickCover, Sets: safety.CoverOpened, words: []string{"cover off", "panel off", "cover open", "panel open", "opened"}},
		{Name: "guarded", On: OnGuarded, Sets: safety.Guarded, words: []string{"guarded", "guard on", "covered up", "insulated"}},
	})
}

// closeTicks are the ticks before the switch, in the order of 29 CFR
// 1910.333(b)(2)(v).
func closeTicks() []Tick {
	return lettered([]Tick{
		{Name: "tools", On: OnToolsOff, Sets: safety.ToolsOff, words: []string{"tools", "jumpers off", "counted"}},
		{Name: "covers", On: OnCoversOn, Sets: safety.CoversOn, words: []string{"covers on", "cover on", "panel on", "panels on"}},
		{Name: "people", On: OnPeopleClear, Sets: safety.PeopleClear, words: []string{"everyone clear", "people clear", "told and clear", "all clear"}},
		{Name: "lock", On: OnLockOff, Sets: safety.LockOff, words: []string{"lock off", "lock removed", "unlocked"}},
		{Name: "looks", On: OnLooksRight, Sets: safety.LooksRight, words: []string{"looks right", "looks good", "looked", "visual"}},
	})
}

// leaveTicks are the ticks before a unit is left out of service.
func leaveTicks() []Tick {
	return lettered([]Tick{
		{Name: "ends", On: OnEndsSafe, Sets: safety.EndsSafe, words: []string{"capped", "ends capped", "tied back"}},
		{Name: "tools", On: OnToolsOff, Sets: safety.ToolsOff, words: []string{"tools", "jumpers off", "counted"}},
		{Name: "covers", On: OnCoversOn, Sets: safety.CoversOn, words: []string{"covers on", "cover on", "panel on", "panels on"}},
		{Name: "site", On: OnSiteLocked, Sets: safety.SiteLocked, words: []string{"site lock", "site's lock", "their lock", "out of service", "sign on"}},
	})
}

// tickLetters leaves out k, which people write for "okay".
const tickLetters = "abcdefghijlmnopqrstuvwxyz"

func lettered(list []Tick) []Tick {
	for i := range list {
		list[i].Letter = tickLetters[i : i+1]
	}
	return list
}

// Ticks returns every tick of the cards, with the letters under which they are asked
// for: the card that makes safe, the one before the switch, the one before leaving.
func Ticks() (safe, closing, leaving []Tick) { return safeTicks(), closeTicks(), leaveTicks() }

// openTicks are those of list whose fact is not set.
func openTicks(list []Tick, have safety.Facts) []Tick {
	var open []Tick
	for _, t := range list {
		if !have.Has(t.Sets) {
			open = append(open, t)
		}
	}
	return open
}

func tickFields(list []Tick) []string {
	names := make([]string, len(list))
	for i, t := range list {
		names[i] = "tick:" + t.Name
	}
	return names
}

func tickChoices(list []Tick) []Choice {
	all := make([]Choice, len(list))
	for i, t := range list {
		all[i] = Choice{Word: t.Letter, Value: "tick:" + t.Name}
	}
	return all
}

// ticked is what a text says about a list of ticks.
type ticked struct {
	names   []string // in the order of the list
	rest    string   // of the text: numbers, other words
	blanket bool     // "done", "all": names nothing
	denied  bool     // it says that something is not so
}

// readTicks finds ticks in a text: by letters ("abc", "a b c"), by their name, or in
// words.
func readTicks(text string, list []Tick) ticked {
	var out ticked
	if isBlanket(text) {
		return ticked{blanket: true}
	}
	var rest, letters []string
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == ';' || r == '·' || r == '&' || r == '/' }) {
		switch {
		case strings.HasPrefix(w, "tick:"):
			letters = append(letters, w)
		case lettersOf(w, list) != nil:
			letters = append(letters, w)
		case slices.Contains([]string{"and", "tick", "ticks", "ticked", "plus", "then"}, w):
		default:
			rest = append(rest, w)
		}
	}
	out.rest = strings.Join(rest, " ")
	if hasWords(rest) && denied(out.rest) {
		out.denied = true
		return out
	}
	var found []string
	for _, t := range list {
		if has(out.rest, t.words...) || has(out.rest, t.Name) {
			found = append(found, t.Name)
		}
	}
	// One letter among other words is more likely an article than a tick.
	if !hasWords(rest) || len(found) > 0 || len(strings.Join(letters, "")) > 2 {
		for _, w := range letters {
			if name, ok := strings.CutPrefix(w, "tick:"); ok {
				found = append(found, name)
				continue
			}
			found = append(found, lettersOf(w, list)...)
		}
	}
	for _, t := range list {
		if slices.Contains(found, t.Name) {
			out.names = append(out.names, t.Name)
		}
	}
	return out
}

// lettersOf reads a word as letters of ticks, each once and in ascending order; nil if
// it is none. Words of the language that look like that are left out.
func lettersOf(w string, list []Tick) []string {
	switch w {
	case "hi", "be", "ad", "ah", "eh":
		return nil
	}
	var names []string
	last := rune(0)
	for _, r := range w {
		i := slices.IndexFunc(list, func(t Tick) bool { return t.Letter == string(r) })
		if i < 0 || r <= last {
			return nil
		}
		last = r
		names = append(names, list[i].Name)
	}
	return names
}

// hasWords reports whether any of the tokens is a word rather than a number.
func hasWords(tokens []string) bool {
	return slices.ContainsFunc(tokens, func(w string) bool {
		return !strings.ContainsAny(w, "0123456789") && strings.ContainsAny(w, "abcdefghijklmnopqrstuvwxyz") && w != "v" && w != "ol" && w != "ohm" && w != "ohms" && w != "volts"
	})
}

func isBlanket(text string) bool {
	switch text {
	case "done", "all", "all done", "all of it", "all of them", "everything", "yes", "y", "ok", "yes all", "tick all", "all ticked", "ticked",
		"all good", "it's done", "its done", "all ok", "done all", "yep", "sorted", "safe", "it's safe", "its safe", "all safe", "its dead", "it's dead", "dead":
		return true
	}
	return false
}
