package flows

import (
	"slices"
	"strings"

	"halfsplit/flows/circuit"
)

// askLooks asks, before any cover of a dead unit, for what is seen from outside: one short
// question with what this unit has.
func (s *step) askLooks() {
	s.ask(Prompt{Ask: "ask_looks", Choices: []Choice{{Word: "all fine", Value: "all fine"}, {Word: "not seen", Value: "not seen"}}}, nil)
}

// looksOf lists what can stand between a dead unit and its supply and be seen without a
// cover.
func looksOf(u *circuit.Unit) []string {
	list := []string{"breaker on, every pole"}
	add := func(text string) {
		if !slices.Contains(list, text) {
			list = append(list, text)
		}
	}
	for _, src := range u.Sources {
		switch src.Isolator.Kind {
		case circuit.Disconnect:
			add("closed: " + src.Isolator.Name)
		case circuit.Plug:
			add("plug right in, not hot, not brown: " + src.Isolator.Name)
		}
	}
	hidden := false
	for i, p := range u.Parts {
		inReach := p.Cover == circuit.None
		about := strings.ToLower(p.Looks + " " + p.Note + " " + p.At)
		switch {
		case p.Kind == circuit.KindFuse && inReach:
			add("fuse whole: " + partName(u, circuit.PartID(i)))
		case p.Kind == circuit.KindLimit && inReach:
			add("limit button not popped: " + partName(u, circuit.PartID(i)))
		case p.Kind == circuit.KindLimit:
			hidden = true
		case p.Kind == circuit.KindDoor:
			add("door shut")
		case has(about, "emergency", "mushroom"):
			add("emergency stop out: " + p.Tag)
		case has(about, "lid", "tilt"):
			add("lid down: " + p.Tag)
		case p.Kind == circuit.KindSwitch && p.Cover == circuit.None:
			add("its own switch on: " + p.Tag)
		}
	}
	if hidden {
		add("limit button not popped, if one is in reach without a cover")
	}
	return list
}

// answerLooks takes what was seen. Something that is off, open or tripped is a cause to be
// asked about, not a part: nothing is reset or switched on for it here. It reports whether
// the next question was put.
func (s *step) answerLooks(text string) bool {
	yes, known := yesNo(text)
	switch {
	case known && yes, has(text, "all fine", "all good", "all ok", "all okay", "all right", "all as", "everything is fine", "everything fine", "everything ok", "everything on", "nothing wrong", "looks fine", "looks good", "all on"),
		text == "fine", text == "good":
		s.tell("looks", "as they should be")
	case exactly(text) == sayUnsure, has(text, "not seen", "can't see", "cant see", "cannot see", "not sure", "no idea"):
		s.tell("looks", "not seen")
	case has(text, "breaker") && has(text, "tripped", "popped", "middle", "trips", "thrown"):
		s.tell("looks", strings.TrimSpace(s.in.Text))
		s.tell("complaint", tripsUnsaid)
		s.say("looks.tripped")
		s.askIntake()
		return true
	case has(text, "off", "out", "open", "opened", "blown", "popped", "tripped", "not", "pulled", "unplugged", "pressed", "loose", "brown", "in", "up", "burnt", "no"):
		s.tell("looks", strings.TrimSpace(s.in.Text))
		s.offer("looks.cause", "text", quoted(s.in.Text))
		return true
	}
	return false
}
