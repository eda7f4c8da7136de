package flows

import (
	"slices"
	"strconv"
	"strings"
)

// resetWords say that a piece of text is about trying again after a trip.
var resetWords = []string{"reset", "resets", "resetted", "resetting", "did it", "tried it", "tries", "flipped it back", "put it back on", "switched it back on", "turned it back on", "went back on"}

// pastWords say that a piece of text is about what came before.
var pastWords = []string{"washed", "hosed", "cleaned", "cleaning", "wet", "steam", "storage", "stored", "rain", "moved", "repaired", "repair", "serviced", "replaced", "fitted", "installed",
	"nobody", "no one", "noone", "somebody", "someone", "electrician", "last man", "last guy", "was in it", "were in it", "been in it", "nothing before", "nothing read", "nothing yet", "nothing was", "nothing has", "read", "measured", "readings", "lifted", "yesterday",
	"last week", "last night", "new cook", "dropped", "spilled", "leak", "leaked", "jumper"}

// resetsIn reads how often something was switched on again: "reset once", "3 times". At
// once is no number. Where bare is set, a number alone is one. It is -1 if the text does
// not say.
func resetsIn(text string, bare bool) int {
	text = strings.NewReplacer("at once", "", "all at once", "").Replace(text)
	for _, c := range clauses(text) {
		if n := countIn(c); n >= 0 && (bare || has(c, resetWords...)) {
			return n
		}
	}
	return -1
}

// aboutResets says that a clause is about resets and nothing else.
func aboutResets(clause string) bool {
	return has(clause, resetWords...) || countIn(clause) >= 0 && len(wordsOf(clause)) <= 3
}

// onlyWhen says that a clause answers at which act the breaker goes, and nothing else.
func onlyWhen(clause string) bool {
	switch clause {
	case "switch", "the switch", "breaker", "the breaker", "at once", "later", "residual", "yes", "y", "on the switch", "with the switch", "unit's switch", "disconnect":
		return true
	}
	return whenIn(clause) != "" && !has(clause, resetWords...) && !has(clause, pastWords...)
}

// answerTried takes what was done before, how often it was reset, and readings. What
// belongs to another question is taken for that.
func (s *step) answerTried(text string, asked Code) {
	if text == "" {
		return
	}
	all := clauses(text)
	n := resetsIn(text, true)
	if n >= 0 {
		s.tell("resets", strconv.Itoa(n))
	}
	if asked == "ask_resets" {
		if n < 0 && has(text, "not known", "unknown", "no idea", "don't know", "dont know", "not sure", "unsure", "dunno", "can't say") {
			s.tell("resets", "not known")
		}
		if !slices.ContainsFunc(all, func(c string) bool { return has(c, pastWords...) && !aboutResets(c) }) {
			return
		}
	}
	when := 0
	var past []string
	for _, c := range all {
		switch {
		case onlyWhen(c):
			when++
			s.tellWhen(c)
		case len(all) == 1 && isNothing(c):
			past = append(past, c)
		case aboutResets(c) && !has(c, pastWords...):
		default:
			past = append(past, c)
		}
	}
	if len(past) == 0 {
		return
	}
	history := strings.TrimSpace(s.in.Text)
	if before := s.j.Tell("history"); before != "" && before != history {
		history = before + "; " + history
	}
	s.tell("history", history)
	if n < 0 && s.j.Tell("resets") == "" && len(all) == 1 {
		switch {
		case has(text, "no idea", "don't know", "dont know", "not sure", "dunno", "not known", "unsure"):
			s.tell("resets", "not known")
		case len(wordsOf(text)) <= 2 && has(text, "no", "none", "nothing", "nope"):
			s.tell("resets", "0")
		}
	}
	s.noteWet(text)
	s.earlier(text)
}

// isNothing says that there is nothing to tell.
func isNothing(text string) bool {
	switch text {
	case "no", "none", "nothing", "nope", "never", "n", "nothing at all", "not at all":
		return true
	}
	return false
}

func (s *step) noteWet(text string) {
	if has(text, "washed", "hosed", "cleaned", "wet", "steam", "storage", "rain", "flooded") &&
		!has(text, "not washed", "not cleaned", "nothing washed", "not wet", "nobody washed") && s.j.Tell("wet") != "yes" {
		s.tell("wet", "yes")
	}
}

// tellWhen records at which act it goes, if a text says so.
func (s *step) tellWhen(text string) {
	w := whenIn(text)
	switch {
	case w != "":
	case has(text, "switch"):
		w = "switch"
	case has(text, "breaker", "disconnect", "plug"):
		w = "breaker"
	}
	if w != "" && w != s.j.Tell("when") {
		s.tell("when", w)
	}
}

// gatherHistory takes what a message says about the past, although another question is
// open.
func (s *step) gatherHistory(text string) {
	if s.j.Tell("resets") == "" {
		if n := resetsIn(text, false); n >= 0 {
			s.tell("resets", strconv.Itoa(n))
		}
	}
	var past []string
	for _, c := range clauses(text) {
		if has(c, pastWords...) && !onlyWhen(c) {
			past = append(past, c)
		}
	}
	if len(past) == 0 {
		return
	}
	told := strings.Join(past, ", ")
	if before := s.j.Tell("history"); before == "" {
		s.tell("history", told)
	} else if !strings.Contains(plain(before), plain(told)) {
		s.tell("history", before+"; "+told)
	}
	s.noteWet(text)
	if s.j.Tell("complaint") == "does not work" {
		return // a number may be part of a place: "drawer 2 to the left"
	}
	s.earlier(text)
}
