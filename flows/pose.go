package flows

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// promptText is how a prompt is put. It follows from the prompt and the job alone, so
// that the same question can be put again.
func (s *step) promptText(p Prompt) []Message {
	if p.Pending != "" {
		return []Message{phrase("late.confirm", "text", quoted(p.Pending)), phrase("late.question", "question", s.oneLine(p))}
	}
	var out []Message
	add := func(code Code, kv ...string) { out = append(out, phrase(code, kv...)) }
	switch p.Ask {
	case "ask_unit":
		add("ask.unit", "units", s.unitList())
	case "ask_complaint":
		add("ask.complaint")
	case "ask_when":
		add("ask.when")
	case "ask_dead":
		if len(p.Fields) == 0 {
			add("ask.dead_names", "loads", s.loadLines(p))
		} else {
			add("ask.dead", "loads", s.loadLines(p))
		}
		if guess := partsIn(s.j.Tell("guess")); len(guess) > 0 {
			add("ask.dead_guess", "loads", tags(s.unit(), guess))
		}
	case "ask_looks":
		add("ask.looks", "list", strings.Join(looksOf(s.unit()), " · "))
	case "ask_tried":
		if s.j.Tell("complaint") == doesNotWork {
			add("ask.tried_dead")
		} else {
			add("ask.tried")
		}
	case "ask_resets":
		add("ask.resets")
	case "ask_history":
		add("ask.tried_dead")
	case "ask_plate":
		add("ask.plate")
	case "ask_switching":
		add("ask.switching")
	case "ask_loads":
		add("ask.loads")
	case "ask_load_wires":
		add("ask.load_wires")
	case "ask_look":
		add("ask.look")
	case "ask_safe_card":
		s.card(add, "card.safe", p, safeTicks())
		if s.j.Facts&safety.ToCover == 0 && p.Tried == 0 {
			add("card.local")
		}
	case "ask_cover":
		add("card.cover", "letter", safeTicks()[9].Letter, "cover", s.actsText(p.Acts, "the cover over the incoming terminals off"))
		add("card.values", "fields", fieldList(p.Fields))
		add("card.guard", "letter", safeTicks()[10].Letter, "live", s.staysLive())
		add("card.leads")
	case "ask_proof":
		add("card.values", "fields", fieldList(p.Fields))
		if slices.Contains(p.Fields, "tick:guarded") {
			add("card.guard", "letter", safeTicks()[10].Letter, "live", s.staysLive())
		}
	case "ask_guarded":
		add("card.guard", "letter", safeTicks()[10].Letter, "live", s.staysLive())
	case "ask_cover_here":
		add("card.cover_here", "letter", coverTick()[0].Letter, "cover", s.actsText(p.Acts, "the cover off"))
		add("card.values", "fields", fieldList(p.Fields))
	case "ask_proof_here":
		add("card.proof_here", "fields", fieldList(p.Fields))
	case "ask_neutral":
		add("ask.neutral", "fields", fieldList(p.Fields))
		if s.sharedNeutral() {
			add("ask.neutral_shared")
		}
	case "ask_reading", "ask_confirm", "ask_lift_neutral", "ask_frame_bonded", "ask_legs_sound", "ask_legs_clear":
		out = append(out, s.readingText(p)...)
	case "ask_explains":
		out = append(out, s.verdictText()...)
	case "ask_mended":
		if slices.Contains(p.Fields, "repair") {
			if s.resettable() {
				add("ask.repair_reset", "item", s.itemName())
			} else {
				add("ask.repair", "item", s.itemName())
			}
		}
		if slices.Contains(p.Fields, "cause") {
			add("ask.cause")
		}
	case "ask_land":
		add("ask.land", "n", strconv.Itoa(len(p.Acts)), "ends", s.endList(p.Acts))
		if off := s.neutralOff(); len(off) > 0 {
			add("ask.land_neutral", "ends", endsNamed(s.unit(), off))
		}
	case "ask_insulation":
		add("ask.insulation", "limit", quantity.Ohms(s.insulationLeast()).String())
	case "ask_all_landed":
		add("ask.all_landed", "n", strconv.Itoa(len(p.Acts)), "ends", s.endList(p.Acts))
	case "ask_tools", "ask_covers", "ask_people", "ask_lock", "ask_looks_right":
		s.card(add, "card.close", p, closeTicks())
	case "ask_site":
		add("ask.site")
	case "ask_switch_on":
		if len(p.Fields) == 1 && p.Fields[0] == stepUnit {
			add("ask.switch_unit")
		} else {
			add("ask.switch_breaker", "source", s.isolators())
		}
	case "ask_works":
		kv := []string{"legs", strings.Join(liveLegs(s.unit()), ", "), "amps", s.unit().Plate.Amps.String()}
		if dead := tags(s.unit(), partsIn(s.j.Tell("dead loads"))); s.j.Tell("complaint") == doesNotWork && dead != "" {
			add("ask.works_dead", append(kv, "loads", dead)...)
		} else {
			add("ask.works", kv...)
		}
	case "ask_ends_safe", "ask_leave_tools", "ask_leave_covers", "ask_site_lock":
		s.card(add, "card.leave", p, leaveTicks())
		if p.Ask == "ask_ends_safe" && s.j.Circuit.Lifted.Len() > 0 {
			add("card.leave_ends", "ends", endsNamed(s.unit(), endsOf(s.j.Circuit.Lifted)))
		}
	case "ask_hand_over", "ask_leave":
		add("ask.hand_over", "choices", choiceWords(p.Choices))
	case "ask_now":
		add("ask.now", "text", s.dangerText())
	case "ask_resume":
		add("ask.resume")
	case "ask_false_alarm":
		add("ask.false_alarm")
	case "ask_false_alarm_sure":
		add("ask.false_alarm_sure")
	}
	if p.Tried > 1 && len(p.Choices) > 0 {
		add("say.or_tap", "choices", choiceWords(p.Choices))
	}
	return out
}

// longPrompt is the number of characters from which a prompt that is put again is cut
// down to what is still wanted.
const longPrompt = 240

// remind says what of the open prompt is still wanted: all of it if that is short.
func (s *step) remind() {
	p := *s.j.Asked
	full := s.promptText(p)
	if p.Pending != "" || len([]rune(s.text(full))) <= longPrompt {
		s.pose()
		return
	}
	if !s.posed {
		s.cut = len(s.said)
	}
	s.posed = true
	s.said = append(s.said, s.shortText(p)...)
}

// shortText is a long prompt in one or two lines: what is still wanted of it.
func (s *step) shortText(p Prompt) []Message {
	var out []Message
	add := func(code Code, kv ...string) { out = append(out, phrase(code, kv...)) }
	var lines []string
	for _, t := range s.cardTicks(p) {
		if slices.Contains(p.Fields, "tick:"+t.Name) {
			lines = append(lines, t.Letter+" "+t.words[0])
		}
	}
	if len(lines) > 0 {
		add("short.ticks", "ticks", strings.Join(lines, ", "))
	}
	switch values := fieldList(valueFields(p.Fields)); {
	case len(p.Tests) > 0:
		add("short.readings", "points", s.pointsOf(p), "n", strconv.Itoa(len(p.Tests)))
	case values != "":
		add("short.values", "fields", values)
	case p.Ask == "ask_land" || p.Ask == "ask_all_landed":
		var ends []circuit.EndID
		for _, a := range p.Acts {
			ends = append(ends, a.End)
		}
		add("short.ends", "ends", endsNamed(s.unit(), ends))
	case p.Ask == "ask_ends_safe" && s.j.Circuit.Lifted.Len() > 0:
		add("short.ends", "ends", endsNamed(s.unit(), endsOf(s.j.Circuit.Lifted)))
	case len(lines) == 0 && len(p.Choices) > 0:
		add("short.question", "question", s.oneLine(p))
		add("short.choices", "choices", choiceWords(p.Choices))
	case len(lines) == 0:
		add("short.question", "question", s.oneLine(p))
	}
	add("short.repeat")
	return out
}

// cardTicks are the ticks that a prompt may hold.
func (s *step) cardTicks(p Prompt) []Tick {
	switch p.Ask {
	case "ask_safe_card", "ask_cover", "ask_proof", "ask_guarded":
		return safeTicks()
	case "ask_cover_here":
		return coverTick()
	case "ask_tools", "ask_covers", "ask_people", "ask_lock", "ask_looks_right":
		return closeTicks()
	case "ask_ends_safe", "ask_leave_tools", "ask_leave_covers", "ask_site_lock":
		return leaveTicks()
	}
	return nil
}

// valueFields are the fields of a card that take a number.
func valueFields(fields []string) []string {
	return slices.DeleteFunc(slices.Clone(fields), func(f string) bool {
		switch name, _, _ := strings.Cut(f, ":"); name {
		case "known", "again", "volts", "clamp", "here":
			return false
		}
		return true
	})
}

// oneLine is the question in few words, to ask whether something was meant for it.
func (s *step) oneLine(p Prompt) string {
	if len(p.Tests) > 0 {
		return s.pointsOf(p)
	}
	p.Pending = ""
	if lines := s.promptText(p); len(lines) > 0 {
		text := textOf(s.lang(), lines[0])
		first, _, _ := strings.Cut(text, "\n")
		return first
	}
	return string(p.Ask)
}

func (s *step) dangerText() string {
	what := s.j.Tell("danger")
	if what == "" {
		return "danger"
	}
	return what
}

func choiceWords(list []Choice) string {
	words := make([]string, len(list))
	for i, c := range list {
		words[i] = "“" + c.Word + "”"
	}
	return joined(words, "or")
}

func (s *step) unitList() string {
	var list []string
	for i, e := range s.d.shelf.Entries() {
		list = append(list, letter(i)+" "+e.Name)
	}
	return strings.Join(list, "\n")
}

// card says the lines of a card that are open.
func (s *step) card(add func(Code, ...string), head Code, p Prompt, list []Tick) {
	add(head)
	for _, t := range list {
		if slices.Contains(p.Fields, "tick:"+t.Name) {
			add("card.line", "letter", t.Letter, "text", s.tickText(head, t))
		}
	}
}

// tickText is a line of a card, with what the unit file says about it.
func (s *step) tickText(card Code, t Tick) string {
	u := s.unit()
	code := Code("tick." + t.Name)
	if card == "card.leave" && t.Name == "covers" {
		code = "tick.leave_covers"
	}
	covers := "every cover"
	if names := coversOff(u, s.j.Circuit); names != "" {
		covers = names
	}
	hazards := "none listed"
	if len(u.Hazards) > 0 {
		hazards = strings.Join(u.Hazards, "; ")
	}
	return textOf(s.lang(), phrase(code, "volts", u.Plate.Volts.String(), "sources", sourcesText(u), "hazards", hazards,
		"isolators", s.isolators(), "lock", lockText(s.lang(), u), "covers", covers, "off", offOrNothing(u, s.j.Circuit)))
}

func coversOff(u *circuit.Unit, st circuit.State) string {
	var names []string
	for _, c := range st.Off.Each() {
		names = append(names, coverName(u, c))
	}
	return strings.Join(names, ", ")
}

// sourcesText lists the sources with what their isolators do not open.
func sourcesText(u *circuit.Unit) string {
	var list []string
	for _, src := range u.Sources {
		text := src.Name + " " + src.System
		if len(src.Isolator.Leaves) > 0 {
			text += " (" + strings.Join(src.Isolator.Leaves, ", ") + " stay connected)"
		}
		list = append(list, text)
	}
	return strings.Join(list, "; ")
}

func (s *step) isolators() string {
	var list []string
	for _, src := range s.unit().Sources {
		name := src.Isolator.Name
		if name == "" {
			name = "breaker of " + src.Name
		}
		list = append(list, name)
	}
	return strings.Join(list, "; ")
}

// lockText says how the isolators are kept open.
func lockText(lang string, u *circuit.Unit) string {
	code := Code("tick.lock_plain")
	for _, src := range u.Sources {
		switch {
		case src.Isolator.Kind == circuit.Plug:
			code = "tick.lock_plug"
		case !src.Isolator.Lockable && code == "tick.lock_plain":
			code = "tick.lock_none"
		}
	}
	return textOf(lang, phrase(code))
}

// staysLive lists what stays connected in the box although it is isolated.
func (s *step) staysLive() string {
	var list []string
	for _, src := range s.unit().Sources {
		for _, l := range src.Isolator.Leaves {
			if !slices.Contains(list, l) {
				list = append(list, l)
			}
		}
	}
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, ", ")
}

func (s *step) sharedNeutral() bool {
	return slices.ContainsFunc(s.unit().Sources, func(src circuit.Source) bool { return src.SharedN })
}

// fieldList is the values of a card, each with a blank.
func fieldList(fields []string) string {
	var list []string
	for _, f := range fields {
		switch {
		case strings.HasPrefix(f, "tick:") || f == "leads":
			continue
		case f == "clamp":
			list = append(list, fieldName(f)+"\u00a0__\u00a0A")
		default:
			list = append(list, fieldName(f)+"\u00a0__\u00a0V")
		}
	}
	return strings.Join(list, " · ")
}

func (s *step) actsText(acts []isolate.Act, otherwise string) string {
	if len(acts) == 0 {
		return otherwise
	}
	var list []string
	for _, a := range acts {
		list = append(list, actName(s.unit(), a))
	}
	return strings.Join(list, "; ")
}

func (s *step) endList(acts []isolate.Act) string {
	var list []string
	for _, a := range acts {
		if a.Kind == isolate.Land {
			list = append(list, endName(s.unit(), a.End)+endWhere(s.unit(), a.End))
		}
	}
	return strings.Join(list, "\n")
}

// readingText poses readings: what comes off first, where the probes go, how many
// numbers.
func (s *step) readingText(p Prompt) []Message {
	u := s.unit()
	var out []Message
	add := func(code Code, kv ...string) { out = append(out, phrase(code, kv...)) }
	switch {
	case p.Repeat != 0:
		add("read.repeat")
	case p.Honest:
		add("read.honest")
	case p.Target != nil:
		add("read.confirm", "fault", s.suspicion(*p.Target))
	case s.noTrip(p) && s.j.Tell("permit from") == "":
		add("permit.no_trip")
	case s.noTrip(p):
	case p.Ask == "ask_frame_bonded":
		add("permit.frame")
	case p.Ask == "ask_legs_sound":
		add("permit.legs")
	case p.Ask == "ask_legs_clear":
		add("permit.clear")
	}
	open := s.notDone(p.Acts)
	if len(open) > 0 {
		var list []string
		for _, a := range open {
			list = append(list, actName(u, a))
		}
		add("read.first", "acts", strings.Join(list, "; "))
		if slices.ContainsFunc(open, func(a isolate.Act) bool { return a.Kind == isolate.Lift }) {
			add("read.tape")
		}
		if s.liftsNeutral(open) {
			add("read.neutral")
		}
	}
	in := after(u, s.j.Circuit, p.Acts)
	frame := !slices.ContainsFunc(p.Tests, func(t isolate.Test) bool { return t.B != circuit.Chassis })
	var lines, shown []string // shown are the parts described in full already
	for _, a := range open {
		if a.Kind == isolate.Lift {
			p := u.EndPoint(a.End)
			shown = append(shown, p.Looks+p.Place)
		}
	}
	point := func(n circuit.Node) string {
		long := pointLong(u, n, in)
		short := u.PointIn(n, in).Short()
		place := u.PointIn(n, in).Looks + u.PointIn(n, in).Place
		if slices.Contains(shown, place) && place != "" {
			long = pointNear(u, n, in)
		}
		shown = append(shown, place)
		if long == "" {
			return short
		}
		return short + " (" + long + ")"
	}
	for i, t := range p.Tests {
		line := point(t.A)
		if !frame {
			line += " to " + point(t.B)
		}
		if t.Kind == isolate.Across && t.Part >= 0 && int(t.Part) < len(u.Parts) {
			if name := partElem(u, t.Part, t.Elem); name != u.Parts[t.Part].Tag {
				line = name + ": " + line
			}
		}
		if len(p.Tests) > 1 {
			line = fmt.Sprintf("%d) %s", i+1, line)
		}
		lines = append(lines, line)
	}
	n := strconv.Itoa(len(p.Tests))
	switch {
	case frame:
		add("read.frame", "points", strings.Join(lines, "\n"), "n", n)
	default:
		add("read.between", "points", strings.Join(lines, "\n"), "n", n)
	}
	add("read.phone")
	return out
}

// pointLong describes a point by looks, place, position and mark.
func pointLong(u *circuit.Unit, n circuit.Node, in circuit.State) string {
	if n == circuit.Chassis {
		return "bare metal"
	}
	return u.PointIn(n, in).String()
}

// pointNear describes a further point of a part that was described already.
func pointNear(u *circuit.Unit, n circuit.Node, in circuit.State) string {
	p := u.PointIn(n, in)
	if p.Free {
		return "now off"
	}
	return p.Position
}

// suspicion names a fault for a technician: the item and what may be wrong with it.
func (s *step) suspicion(f circuit.Fault) string { return f.Name(s.unit()) }

// notDone are the acts that are not in effect yet.
func (s *step) notDone(acts []isolate.Act) []isolate.Act {
	var open []isolate.Act
	for _, a := range acts {
		if after(s.unit(), s.j.Circuit, []isolate.Act{a}) != s.j.Circuit {
			open = append(open, a)
		}
	}
	return open
}

func (s *step) verdictText() []Message {
	if s.j.Verdict == nil {
		return []Message{phrase("ask.explains")}
	}
	out := []Message{
		phrase("verdict.found", "fault", foundName(s.unit(), *s.j.Verdict), "part", s.foundWhere()),
		phrase("verdict.evidence", "readings", s.evidence()),
	}
	if s.symptom() {
		out = append(out, phrase("verdict.symptom"))
	}
	dead := tags(s.unit(), partsIn(s.j.Tell("dead loads")))
	switch {
	case s.j.Tell("second fault") != "":
		return append(out, phrase("ask.second"))
	case s.j.Tell("complaint") == doesNotWork && dead != "":
		return append(out, phrase("ask.explains_dead", "loads", dead))
	}
	return append(out, phrase("ask.explains"))
}

// noTrip says that a prompt asks for the readings before a switch-on of a unit that never
// tripped.
func (s *step) noTrip(p Prompt) bool {
	switch p.Ask {
	case "ask_frame_bonded", "ask_legs_sound", "ask_legs_clear":
		return s.j.Tell("complaint") == doesNotWork && s.j.Tell("second fault") == "" && s.j.Tell("tripped after repair") == ""
	}
	return false
}

// modeClose is the share of an item, in per mille, from which a second way of being at
// fault is named beside the likeliest.
const modeClose = 200

// closeModes keeps the likeliest mode and those that come close to it.
func closeModes(all []isolate.ModeShare) []isolate.ModeShare {
	var out []isolate.ModeShare
	for i, m := range all {
		if i == 0 || m.PerMille >= modeClose {
			out = append(out, m)
		}
	}
	return out
}

// foundName names what was found: the fault, or the item with its ways of being at fault
// where they come close: "element E1 earthed or shorted turns".
func foundName(u *circuit.Unit, j Judgement) string {
	if len(j.Modes) < 2 {
		return j.Fault.Name(u)
	}
	item := j.Item.Name(u)
	var ways []string
	for _, m := range j.Modes {
		way := strings.TrimSpace(strings.TrimPrefix(m.Fault.Name(u), item))
		if way == circuit.ShortedTurns.String() {
			way = "with " + way
		}
		ways = append(ways, way)
	}
	return item + " " + joined(ways, "or")
}

// foundWhere says where the convicted item sits.
func (s *step) foundWhere() string {
	u := s.unit()
	it := s.j.Verdict.Item
	if it.Part >= 0 && int(it.Part) < len(u.Parts) {
		return partName(u, it.Part)
	}
	ends := it.Wire.Ends()
	return u.EndPoint(ends[0]).String() + " to " + u.EndPoint(ends[1]).String()
}

func (s *step) itemName() string {
	if it, ok := convicted(s.j); ok {
		return it.Name(s.unit())
	}
	return "it"
}
