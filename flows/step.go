package flows

import (
	"slices"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
	"halfsplit/flows/wording"
)

// longMessage is the number of characters beyond which a message is posted in two.
const longMessage = 900

// step is the work on one input. Events are applied as they come, so that what is
// decided next is decided on the job as it will be folded.
type step struct {
	d   *Dialog
	in  Input
	was Job
	j   Job
	b   *bench // nil before the unit is known
	out Result

	said    []Message // sentences of the message being put together
	cut     int       // where in said the open prompt begins
	posed   bool      // said holds the open prompt
	err     error
	opening *isolate.Act    // the cover that is to come off next
	belief  *isolate.Belief // of the readings as they are; nil if it has to be computed
}

// emit appends an event and applies it.
func (s *step) emit(e Event) bool {
	if s.err != nil {
		return false
	}
	at := max(s.in.At, s.j.Last)
	next, err := Apply(s.j, at, s.in.By, e)
	if err != nil {
		s.err = err
		return false
	}
	s.j = next
	s.out.Events = append(s.out.Events, e)
	return true
}

// tell records an answer.
func (s *step) tell(what, value string) { s.emit(Told{What: what, Value: value}) }

// unit is the unit of the job; it must be known.
func (s *step) unit() *circuit.Unit { return s.b.unit }

// phrase is one sentence with its holes, given as names and values in turn.
func phrase(code Code, kv ...string) Message {
	m := Message{Code: code}
	for i := 0; i+1 < len(kv); i += 2 {
		m.Args = append(m.Args, Arg{Name: kv[i], Value: kv[i+1]})
	}
	return m
}

// say adds a sentence to the message of this step.
func (s *step) say(code Code, kv ...string) { s.said = append(s.said, phrase(code, kv...)) }

// ask opens a prompt and poses it, if what has been established lets it be asked.
// If not, the question is not put: it says what is missing and goes back for that.
func (s *step) ask(p Prompt, why *isolate.Choice) {
	if s.err != nil {
		return
	}
	lack := MayAsk(s.j.State, s.j.Facts, p.Ask) | p.Needs&^s.j.Facts
	if lack != 0 {
		s.emit(Refused{Lack: lack & safety.All, Why: string(p.Ask), On: "ask"})
		s.lacking(lack)
		return
	}
	if a, ok := safety.AskOf(string(p.Ask)); ok {
		p.Needs |= a.Needs
	}
	p.ID = s.j.Seq + 1
	p.At = max(s.in.At, s.j.Last)
	e := Asked{Prompt: p}
	if why != nil {
		e.Worth, e.Cost, e.Rivals = why.Gain, why.Minutes, why.Rivals
	}
	if s.emit(e) {
		s.pose()
	}
}

// pose says the open prompt (again).
func (s *step) pose() {
	if s.j.Asked == nil {
		return
	}
	if !s.posed {
		s.cut = len(s.said)
	}
	s.posed = true
	s.said = append(s.said, s.promptText(*s.j.Asked)...)
}

// flush puts the sentences of this step into one message, or into two if it is long.
func (s *step) flush() {
	if s.err != nil || len(s.said) == 0 {
		return
	}
	parts := [][]Message{s.said}
	if s.posed && s.cut > 0 && s.cut < len(s.said) && len([]rune(s.text(s.said))) > longMessage {
		parts = [][]Message{s.said[:s.cut], s.said[s.cut:]}
	}
	for i, part := range parts {
		m := Message{Code: part[0].Code, Args: part[0].Args, Text: s.text(part)}
		said := Said{Code: m.Code, Args: m.Args, Text: m.Text, Lang: s.lang()}
		if len(part) > 1 {
			m.Parts = slices.Clone(part)
			for _, p := range part[1:] {
				said.More = append(said.More, Phrase{Code: p.Code, Args: p.Args})
			}
		}
		if i == len(parts)-1 && s.posed && s.j.Asked != nil {
			m.Prompt, m.Choices = true, s.j.Asked.Choices
		}
		if s.emit(said) {
			s.out.Say = append(s.out.Say, m)
		}
	}
	s.said = nil
}

func (s *step) text(part []Message) string {
	lines := make([]string, 0, len(part))
	for _, m := range part {
		lines = append(lines, textOf(s.lang(), m))
	}
	return strings.Join(lines, "\n")
}

func textOf(lang string, m Message) string {
	args := make([]wording.Arg, len(m.Args))
	for i, a := range m.Args {
		args[i] = wording.Arg(a)
	}
	text, _ := wording.Text(lang, string(m.Code), args...)
	return text
}

func (s *step) lang() string {
	if s.j.Opened != nil && s.j.Opened.Lang != "" {
		return s.j.Opened.Lang
	}
	return wording.English
}

// move takes the edge of the table for an event. If a gate does not let it by, that
// is recorded and nothing else changes. An edge that changes nothing is not recorded:
// the event that led to it is.
func (s *step) move(on machine.Event) bool {
	if s.err != nil {
		return false
	}
	o, err := Fire(s.j.State, s.j.Facts, on)
	if err != nil {
		s.emit(Refused{On: on, Why: "no such step from " + string(s.j.State)})
		return false
	}
	if o.Lack != 0 {
		s.emit(Refused{On: on, Lack: o.Lack})
		return false
	}
	sets, drops := o.Sets&^s.j.Facts, o.Drops&s.j.Facts&^o.Sets
	if o.To == s.j.State && sets == 0 && drops == 0 {
		return true
	}
	return s.emit(Moved{From: s.j.State, On: on, To: o.To, Sets: o.Sets, Drops: drops})
}

// may reports whether the table has an edge for an event that the facts let by.
func (s *step) may(on machine.Event) bool {
	o, err := Fire(s.j.State, s.j.Facts, on)
	return err == nil && o.Lack == 0
}

func (s *step) timer(name string, after int64) {
	t := Timer{Name: name}
	if after > 0 {
		t.Due = max(s.in.At, s.j.Last) + after
	}
	i := slices.IndexFunc(s.out.Timers, func(o Timer) bool { return o.Name == name })
	if i >= 0 {
		s.out.Timers[i] = t
		return
	}
	s.out.Timers = append(s.out.Timers, t)
}
