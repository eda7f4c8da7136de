package rehearse

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"halfsplit/flows"
	"halfsplit/flows/isolate"
)

// Talk counts what a clumsy technician did.
type Talk struct {
	Cannot  int `json:"cannot"`
	Late    int `json:"late_or_doubled"`
	Asked   int `json:"asked_why_where_repeat"`
	Typed   int `json:"readings_typed"`
	Unasked int `json:"unasked_switch_ons"`
	Pauses  int `json:"pauses"`
}

func (t Talk) plus(o Talk) Talk {
	return Talk{
		Cannot: t.Cannot + o.Cannot, Late: t.Late + o.Late, Asked: t.Asked + o.Asked,
		Typed: t.Typed + o.Typed, Unasked: t.Unasked + o.Unasked, Pauses: t.Pauses + o.Pauses,
	}
}

// How a clumsy technician talks, as chances for each message.
const (
	clumsyCannot  = 0.10
	clumsyLate    = 0.10
	clumsyAsks    = 0.10
	clumsyBalks   = 0.02  // at a step of safety
	clumsyPauses  = 0.01  // one in four never comes back
	clumsyTries   = 0.003 // switches on unasked
	clumsyUndoes  = 0.01
	clumsyGoesOn  = 0.6 // where a hand-over is offered
	clumsyOffers  = 4   // after so many he takes it
	clumsyMistook = 0.1 // says yes to "was that meant for this?"
)

// clumsy is a technician who misreads, cannot reach, asks back, answers what was asked
// before, and types a number as it comes.
type clumsy struct {
	*Tech
	talk   Talk
	rng    *rand.Rand
	first  bool
	sent   []utterance
	paused bool
	offers int
}

func newClumsy(t *Tech) *clumsy {
	return &clumsy{Tech: t, rng: rand.New(rand.NewPCG(t.rng.Uint64(), 7)), first: true}
}

func (c *clumsy) of(list ...string) string { return list[c.rng.IntN(len(list))] }

// next is what he writes next.
func (c *clumsy) next(j flows.Job) utterance {
	u := c.answer(j)
	if u.wait == 0 {
		u.wait = 5_000 + int64(c.rng.IntN(120_000))
	}
	if c.rng.Float64() < 0.01 {
		u.wait += 35 * 60_000 // away from the phone
	}
	if !u.late && !u.asks && u.text != "" {
		c.sent = append(c.sent, u)
	}
	c.talk.Typed += u.readings
	return u
}

func (c *clumsy) answer(j flows.Job) utterance {
	switch {
	case c.first:
		c.first = false
		return utterance{text: c.Complaint()}
	case c.paused:
		c.paused = false
		if c.rng.Float64() < 0.25 {
			return utterance{ends: true}
		}
		return utterance{text: c.of("resume", "back", "im back", "ready")}
	case j.Asked == nil:
		return utterance{text: "status", asks: true}
	}
	p := *j.Asked
	inside := len(p.Tests) > 0
	switch p.Ask {
	case "ask_hand_over", "ask_leave":
		return c.decides(p)
	case "ask_resume":
		return utterance{text: "resume"}
	case "ask_now":
		return utterance{text: "describing"}
	case "ask_unit", "ask_complaint", "ask_when", "ask_tried":
		return c.plain(j)
	}
	if p.Pending != "" {
		text := "no"
		if c.rng.Float64() < clumsyMistook {
			text = "yes"
			c.Misreads++
		}
		return utterance{text: text, asks: true} // it brings the question back
	}
	x := c.rng.Float64()
	under := func(chance float64) bool {
		x -= chance
		return x < 0
	}
	switch {
	case under(clumsyAsks):
		c.talk.Asked++
		return utterance{asks: true, text: c.of("why", "why that one", "where", "where is that", "repeat", "say again", "what", "status", "not sure", "picture", "k")}
	case under(clumsyLate) && len(c.sent) > 0:
		return c.lateAgain(j)
	case inside && under(clumsyCannot):
		c.talk.Cannot++
		return utterance{text: c.cannot(p)}
	case !inside && under(clumsyBalks):
		c.talk.Cannot++
		return utterance{text: c.of("can't lock it", "no lock on this one", "cant find the disconnect", "can't do that")}
	case under(clumsyPauses):
		c.talk.Pauses++
		c.paused = true
		return utterance{text: c.of("pause", "brb", "going to the van", "lunch"), asks: true, wait: int64(1+c.rng.IntN(60)) * 60_000}
	case under(clumsyTries):
		c.talk.Unasked++
		return utterance{text: c.of("tripped again", "i reset it and it tripped"), energises: true}
	case inside && len(j.Seen) > 0 && under(clumsyUndoes):
		return utterance{text: c.of("undo", "scratch that", "that was wrong"), asks: true}
	}
	return c.plain(j)
}

// plain answers the prompt, its readings in whatever form.
func (c *clumsy) plain(j flows.Job) utterance {
	p := *j.Asked
	u := utterance{text: c.Answer(p, verdictOf(j)), readings: len(p.Tests), energises: p.Ask == "ask_switch_on"}
	if len(p.Tests) > 0 && p.Tried == 0 {
		list := strings.Split(u.text, ", ")
		comma := false
		for i := range list {
			list[i] = vary(list[i], c.rng)
			comma = comma || strings.Contains(list[i], ",")
		}
		sep := c.of(", ", "; ", " and ")
		if comma {
			sep = "; "
		}
		u.text = strings.Join(list, sep)
	}
	return u
}

// decides where a hand-over is offered.
func (c *clumsy) decides(p flows.Prompt) utterance {
	c.offers++
	has := func(word string) bool {
		return slices.ContainsFunc(p.Choices, func(x flows.Choice) bool { return x.Word == word })
	}
	switch {
	case has("go on") && c.offers < clumsyOffers && c.rng.Float64() < clumsyGoesOn:
		return utterance{text: "go on"}
	case has("leave safe") && c.rng.Float64() < 0.3:
		return utterance{text: "leave safe"}
	}
	return utterance{text: "hand over"}
}

// lateAgain sends an answer once more, or an earlier one, or taps an old choice: all
// before the open prompt was posted.
func (c *clumsy) lateAgain(j flows.Job) utterance {
	c.talk.Late++
	if j.Before != nil && len(j.Before.Choices) > 0 && j.Before.ID != j.Asked.ID && c.rng.IntN(4) == 0 {
		x := j.Before.Choices[c.rng.IntN(len(j.Before.Choices))]
		return utterance{choice: x.Value, prompt: j.Before.ID, late: true}
	}
	old := c.sent[max(0, len(c.sent)-1-c.rng.IntN(3))]
	return utterance{text: old.text, readings: old.readings, late: true}
}

// cannot says that a reading cannot be taken.
func (c *clumsy) cannot(p flows.Prompt) string {
	u := c.model.Unit()
	list := []string{"can't reach that", "cant get to it", "no access there", "cant get a probe on it", "it's out of reach"}
	for _, t := range p.Tests {
		if n := u.PointIn(t.A, t.In).Short(); n != "" {
			list = append(list, "can't reach "+n, "there is no "+n)
		}
	}
	for _, a := range p.Acts {
		if a.Kind == isolate.Lift {
			list = append(list, "screw is seized, can't lift it", "that wire won't come off")
		}
	}
	return c.of(list...)
}

// vary is a reading as some people type it.
func vary(text string, rng *rand.Rand) string {
	of := func(list ...string) string { return list[rng.IntN(len(list))] }
	if text == "OL" {
		return of("OL", "ol", "0L", "O.L", "o.l.", "open", "infinite")
	}
	number, unit := strings.TrimRight(text, " ohmkM"), ""
	switch {
	case strings.HasSuffix(text, "k"):
		unit = "k"
	case strings.HasSuffix(text, "M"):
		unit = "M"
	}
	x, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return text
	}
	forms := []string{text, strings.Replace(number, ".", ",", 1) + unit, number + " " + unit + "ohms"}
	if unit == "" && x >= 1.5 {
		forms = append(forms, number, number+"Ω")
	}
	if unit != "" && x < 100 && math.Mod(math.Round(x*10), 10) != 0 {
		tenths := math.Round(x * 10)
		forms = append(forms, strconv.Itoa(int(tenths)/10)+unit+strconv.Itoa(int(tenths)%10))
	}
	if unit == "M" {
		forms = append(forms, number+" meg")
	}
	if x >= 10 {
		round := strconv.Itoa(int(math.Round(x)))
		forms = append(forms, "about "+round+unit, round+" "+unit+"ohm")
		if unit == "" {
			forms = append(forms, round+"ish")
		}
	}
	return of(forms...)
}
