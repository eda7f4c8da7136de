package flows

import (
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
)

// shortList is how many lines a list of loads may have; beyond that they are named by tag
// or place.
const shortList = 12

// loads are the parts that a person sees working or not, contactors and relays apart.
func (s *step) loads() (seen, coils []circuit.PartID) {
	for _, p := range s.b.engine().Loads() {
		if slices.ContainsFunc(s.unit().Parts[p].Elems, func(e circuit.Elem) bool { return e.Coil }) {
			coils = append(coils, p)
		} else {
			seen = append(seen, p)
		}
	}
	return seen, coils
}

// partsIn reads a recorded list of parts: "3, 12". "none" and "not known" are empty.
func partsIn(list string) []circuit.PartID {
	var parts []circuit.PartID
	for _, w := range strings.Split(list, ", ") {
		if n, err := strconv.Atoi(w); err == nil {
			parts = append(parts, circuit.PartID(n))
		}
	}
	return parts
}

func partWords(parts []circuit.PartID, none string) string {
	if len(parts) == 0 {
		return none
	}
	words := make([]string, len(parts))
	for i, p := range parts {
		words[i] = strconv.Itoa(int(p))
	}
	return strings.Join(words, ", ")
}

// tags lists parts by their tags.
func tags(u *circuit.Unit, parts []circuit.PartID) string {
	var list []string
	for _, p := range parts {
		if p >= 0 && int(p) < len(u.Parts) {
			list = append(list, string(u.Parts[p].Kind)+" "+u.Parts[p].Tag)
		}
	}
	return joined(list, "and")
}

// allDead says that every load a person can see was told to be dead.
func (s *step) allDead() bool {
	dead := partsIn(s.j.Tell("dead loads"))
	seen, _ := s.loads()
	for _, p := range seen {
		if !slices.Contains(dead, p) {
			return false
		}
	}
	return len(seen) > 0
}

// askDead asks which loads do not work, by letter where the list is short.
func (s *step) askDead() {
	seen, _ := s.loads()
	if len(seen) == 0 {
		s.tell("dead loads", "not known")
		s.askIntake()
		return
	}
	p := Prompt{Ask: "ask_dead"}
	if len(seen) <= shortList {
		for i, id := range seen {
			word := "load:" + strconv.Itoa(int(id))
			p.Fields = append(p.Fields, word)
			p.Choices = append(p.Choices, Choice{Word: tickLetters[i : i+1], Value: word})
		}
	}
	p.Choices = append(p.Choices, Choice{Word: "all", Value: "all"})
	s.ask(p, nil)
}

// loadLines lists the loads with their letters.
func (s *step) loadLines(p Prompt) string {
	var lines []string
	for i, f := range p.Fields {
		_, arg, _ := strings.Cut(f, ":")
		if n, err := strconv.Atoi(arg); err == nil && i < len(tickLetters) {
			lines = append(lines, tickLetters[i:i+1]+"  "+partName(s.unit(), circuit.PartID(n)))
		}
	}
	if len(lines) == 0 {
		seen, _ := s.loads()
		var names []string
		for _, id := range seen {
			names = append(names, s.unit().Parts[id].Tag)
		}
		return strings.Join(names, ", ")
	}
	return strings.Join(lines, "\n")
}

// kindWords are what people call a load by what it does.
func kindWords(k circuit.Kind) []string {
	switch k {
	case circuit.KindElement:
		return []string{"heat", "heats", "heating", "heater", "heaters", "element", "elements", "cold", "warm", "hot"}
	case circuit.KindLamp:
		return []string{"lamp", "lamps", "light", "lights", "bulb", "bulbs", "pilot", "lit", "lighting"}
	case circuit.KindMotor:
		return []string{"fan", "fans", "motor", "motors", "blower", "turning", "turn", "spinning", "spin", "running"}
	case circuit.KindValve:
		return []string{"valve", "water", "fills", "filling"}
	case circuit.KindBuzzer:
		return []string{"buzzer", "buzz", "beeper"}
	}
	return []string{string(k)}
}

// placeWords are the words of where a part sits that tell it from others.
func placeWords(p circuit.Part) []string {
	return slices.DeleteFunc(wordsOf(strings.ToLower(p.At)), func(w string) bool {
		return slices.Contains([]string{"the", "of", "at", "in", "on", "under", "behind", "side", "round", "a", "and", "beside"}, w)
	})
}

// loadsNamed are the loads that a text names: by tag, by place, or by kind where only one
// is of it or the text means all of them.
func (s *step) loadsNamed(text string) []circuit.PartID {
	u := s.unit()
	seen, _ := s.loads()
	var byTag, byPlace, byKind []circuit.PartID
	anyKind := false
	for _, id := range seen {
		anyKind = anyKind || has(text, kindWords(u.Parts[id].Kind)...)
	}
	for _, id := range seen {
		part := u.Parts[id]
		kind := has(text, kindWords(part.Kind)...)
		place := placeWords(part)
		there := len(place) > 0
		for _, w := range place {
			there = there && has(text, w)
		}
		switch {
		case has(text, part.Tag, strings.ToLower(part.Tag)):
			byTag = append(byTag, id)
		case there && (kind || !anyKind):
			byPlace = append(byPlace, id)
		case kind:
			byKind = append(byKind, id)
		}
	}
	switch {
	case len(byTag) > 0:
		return byTag
	case len(byPlace) > 0:
		return byPlace
	case len(byKind) == 1:
		return byKind
	case has(text, "lamps", "lights", "bulbs", "elements", "heaters", "fans", "both", "all", "no heat", "not heating", "doesn't heat", "doesnt heat", "does not heat", "won't heat"):
		return byKind
	}
	return nil
}

// saysWorks says that a clause speaks of what works.
func saysWorks(clause string) bool {
	return has(clause, "works", "work", "working", "fine", "ok", "okay", "good", "heats", "heating", "hot", "warm", "lit", "runs", "running", "turns", "comes on", "lights up", "is on", "are on") && !saysNot(clause)
}

func saysNot(clause string) bool {
	return denied(clause) || has(clause, "doesn't", "doesnt", "don't", "dont", "won't", "wont", "aren't", "arent", "stopped", "dead", "cold", "out", "off", "broken", "neither")
}

func saysRest(clause string) bool {
	return has(clause, "the rest", "rest", "others", "other ones", "everything else", "all else", "the other", "only that", "only it", "just that", "only this", "only those")
}

// gatherLoads takes what a text says of loads and contactors before or beside the
// question for them. A guess from the complaint is confirmed by that question.
func (s *step) gatherLoads(text string, asked Code) {
	s.clicks(text)
	if asked == "ask_dead" || s.j.Tell("dead loads") != "" {
		return
	}
	if s.j.Tell("guess") == "" {
		for _, said := range []string{text, plain(s.j.Tell("reported"))} {
			if said == "" || complaintIn(said) != doesNotWork {
				continue
			}
			dead, works := s.sorted(said)
			seen, _ := s.loads()
			switch {
			case len(dead) > 0 && slices.ContainsFunc(clauses(said), saysRest):
				s.takeLoads(dead, rest(seen, dead))
			case len(dead) > 0 && len(works) > 0 && len(dead)+len(works) == len(seen):
				s.takeLoads(dead, works)
			case len(dead) > 0:
				s.tell("guess", partWords(dead, ""))
			case isDeadUnit(said):
				s.takeLoads(seen, nil)
			default:
				continue
			}
			break
		}
	}
}

// sorted splits the loads that a text names into dead and working ones, clause by clause.
func (s *step) sorted(text string) (dead, works []circuit.PartID) {
	text = strings.NewReplacer(" but ", ", ", " while ", ", ").Replace(text)
	pieces := clauses(text)
	if len(pieces) > 1 && !slices.ContainsFunc(pieces, saysWorks) {
		pieces = append(pieces, text) // "fan and lamps don't run": what is said last is said of both
	}
	for _, c := range pieces {
		named := s.loadsNamed(c)
		if saysWorks(c) {
			works = append(works, named...)
		} else if c == text || !saysRest(c) {
			dead = append(dead, named...)
		}
	}
	slices.Sort(dead)
	slices.Sort(works)
	dead = slices.Compact(dead)
	works = slices.DeleteFunc(slices.Compact(works), func(p circuit.PartID) bool { return slices.Contains(dead, p) })
	return dead, works
}

func rest(all, but []circuit.PartID) []circuit.PartID {
	return slices.DeleteFunc(slices.Clone(all), func(p circuit.PartID) bool { return slices.Contains(but, p) })
}

// takeLoads records which loads are dead and which work, with the contactors that were
// seen.
func (s *step) takeLoads(dead, works []circuit.PartID) {
	s.tell("dead loads", partWords(dead, "not known"))
	s.tell("working loads", partWords(works, "none"))
	s.belief = nil
	u := s.unit()
	if len(dead) > 0 && len(works) == 0 && s.allDead() {
		s.say("dead.all")
		return
	}
	if len(dead) > 0 {
		working := tags(u, works)
		if working == "" {
			working = "not told"
		}
		s.say("dead.taken", "dead", tags(u, dead), "works", working)
	}
}

// clicks takes whether a contactor was seen or heard to pull in. Which one must be clear.
func (s *step) clicks(text string) {
	_, coils := s.loads()
	for _, c := range clauses(strings.ReplaceAll(text, " but ", ", ")) {
		if !has(c, "click", "clicks", "clicked", "clicking", "pulls in", "pull in", "pulled in", "pulling in", "clunk", "clunks") {
			continue
		}
		var which []circuit.PartID
		for _, id := range coils {
			if has(c, s.unit().Parts[id].Tag, strings.ToLower(s.unit().Parts[id].Tag)) {
				which = append(which, id)
			}
		}
		if len(which) == 0 && len(coils) == 1 {
			which = coils
		}
		what := "clicks"
		if has(c, "no click", "not click", "doesn't click", "doesnt click", "does not click", "didn't click", "never clicks", "without a click", "no clunk", "not clicking",
			"doesn't pull in", "doesnt pull in", "does not pull in", "not pull in", "not pulling in", "won't pull in", "wont pull in", "never pulls in", "without click") {
			what = "no click"
		}
		if len(which) > 0 && s.j.Tell(what) == "" {
			s.tell(what, partWords(which, ""))
		}
	}
}

// answerDead takes letters of the list, or loads by name with what is said of them.
func (s *step) answerDead(text string) {
	seen, _ := s.loads()
	guess := partsIn(s.j.Tell("guess"))
	switch text {
	case "all", "all dead", "everything", "all of them", "none works", "none of them", "none of them work", "whole unit", "the whole unit", "a to z":
		s.takeLoads(seen, nil)
		return
	case "yes", "y", "yep", "yeah", "correct", "that one", "that's it", "thats it", "only that", "just that", "only that one", "the rest works", "rest works", "others work", "the others work", "rest is fine", "the rest is fine":
		if len(guess) > 0 {
			s.takeLoads(guess, rest(seen, guess))
		}
		return
	}
	if n, ok := strings.CutPrefix(text, "load:"); ok {
		if dead := partsIn(n); len(dead) > 0 {
			s.takeLoads(dead, rest(seen, dead))
		}
		return
	}
	if exactly(text) == sayUnsure || has(text, "not seen any", "nothing seen", "did not look") {
		s.takeLoads(guess, nil)
		return
	}
	head, unseen, marked := strings.Cut(strings.NewReplacer("not seen", "\n", "unseen", "\n", "unknown", "\n", "?", "\n", "don't know", "\n", "not sure", "\n").Replace(text), "\n")
	if marked && strings.Trim(unseen, " :,.") == "" {
		return // "c not seen": which of the letters before it are meant is not clear
	}
	dead, plainly := s.loadLetters(head)
	if plainly {
		skip, _ := s.loadLetters(strings.Trim(unseen, " :,"))
		s.takeLoads(dead, rest(rest(seen, dead), skip))
		return
	}
	if isDeadUnit(text) && len(s.loadsNamed(text)) == 0 && !strings.ContainsAny(text, ",0123456789") && len(wordsOf(text)) <= 5 {
		s.takeLoads(seen, nil)
		return
	}
	dead, works := s.sorted(text)
	switch {
	case len(dead) == 0 && len(works) > 0 && !slices.ContainsFunc(clauses(text), saysRest):
		s.takeLoads(rest(seen, works), works)
	case len(dead) == 0:
	case len(works) == 0, slices.ContainsFunc(clauses(text), saysRest):
		s.takeLoads(dead, rest(seen, dead))
	default:
		s.takeLoads(dead, works)
	}
}

// loadLetters reads letters of the open list: "b", "b and d", "bd", "b, d are dead". Plainly
// is false if other words are in it.
func (s *step) loadLetters(text string) (parts []circuit.PartID, plainly bool) {
	if s.j.Asked == nil {
		return nil, false
	}
	for _, w := range wordsOf(text) {
		if slices.Contains([]string{"and", "is", "are", "dead", "cold", "out", "only", "not", "working", "don't", "work", "doesn't", "just", "both"}, w) {
			continue
		}
		for _, r := range w {
			i := strings.IndexRune(tickLetters, r)
			if i < 0 || i >= len(s.j.Asked.Fields) {
				return nil, false
			}
			_, arg, _ := strings.Cut(s.j.Asked.Fields[i], ":")
			parts = append(parts, partsIn(arg)...)
		}
	}
	slices.Sort(parts)
	return slices.Compact(parts), len(parts) > 0
}
